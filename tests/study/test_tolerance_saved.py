"""A study that is saved: it goes on where it was stopped, to the bit, and files of another run are refused and left."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from barfem.model.bar import Bar, Collar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.study.bands import bands_of
from barfem.study.sampling import ROWS_A_CHUNK, design_of
from barfem.study.sweep import sweep
from barfem.study.sweep_keys import parse_key
from barfem.study.tolerance import tolerance
from barfem.study.tolerance_result import ToleranceResult
from barfem.study.tolerance_work import ToleranceWork, place_names
from tests.study.once import solved_once
from tests.study.tolerance_data import small_bar, toml_of

__all__ = ["solved_once"]

pytestmark = pytest.mark.usefixtures("solved_once")

TWO_BANDS = {"diameter": 0.1, "mount_stiffness": "15 %"}


def study(bar: Bar, samples: int = 40, **more: Any) -> ToleranceResult:
    return tolerance(bar, samples=samples, **more)


@pytest.mark.long
def test_a_run_that_was_stopped_goes_on(tmp_path: Path) -> None:
    bar = small_bar(**TWO_BANDS)
    whole = study(bar, 60)
    file = tmp_path / "r.jsonl"

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study(bar, 60, save=file, progress=stop)
    kept = file.read_bytes()
    assert kept.count(b"\n") == 2  # a header and one chunk
    file.write_bytes(kept + kept.splitlines()[1][:100])  # and a line that a kill cut short
    seen: list[int] = []
    taken: list[int] = []
    again = study(bar, 60, save=file, progress=lambda done, total: seen.append(done), taken_up=taken.append)
    assert again.to_json_dict() == whole.to_json_dict()
    assert taken == [ROWS_A_CHUNK] and seen[0] == ROWS_A_CHUNK and seen[-1] == whole.bars == 60
    size = file.stat().st_size
    third = study(bar, 60, save=file)
    assert third.to_json_dict() == whole.to_json_dict() and file.stat().st_size == size


@pytest.mark.long
def test_a_killed_process_loses_nothing_that_was_done(tmp_path: Path) -> None:
    file, bar_file = tmp_path / "r.jsonl", tmp_path / "bar.toml"
    bar_file.write_text(toml_of(small_bar(**TWO_BANDS)), encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "barfem.cli.main",
        "tolerance",
        str(bar_file),
        "--exact",
        "--samples",
        "2000",
        "--save",
    ]
    process = subprocess.Popen([*command, str(file)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 60.0
        while time.monotonic() < until and (not file.exists() or file.read_bytes().count(b"\n") < 2):
            time.sleep(0.05)
    finally:
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
    lines = file.read_bytes().splitlines()
    assert len(lines) >= 2 and len(lines) < 120
    bar = bar_from_dict(__import__("tomllib").loads(bar_file.read_text()))
    bands = bands_of(bar)
    design = design_of(samples=2000, seed=1, variables=3)
    work = ToleranceWork(bar, tuple(v for band in bands for v in band.variables), design, place_names(bar))
    entry = json.loads(lines[1])
    assert entry["content"] == json.loads(json.dumps(work(entry["chunk"])))  # to the bit, from another process


REFUSED = [
    (lambda bar: replace(bar, section=replace(bar.section, diameter_mm=24.5)), {}, "another bar"),
    (lambda bar: replace(bar, collars=(Collar(100.0, -500.0, 8.0, "moulded"),)), {}, "another bar"),
    (lambda bar: replace(bar, targets=replace(bar.targets, mean_stress="gerber")), {}, "another bar"),
    (lambda bar: bar, {"seed": 2}, "seed"),
    (lambda bar: bar, {"samples": 60}, "bars"),
]


@pytest.mark.parametrize(("change", "more", "message"), REFUSED)
def test_a_file_of_another_run_is_refused_and_left(
    tmp_path: Path, change: Any, more: dict[str, Any], message: str
) -> None:
    bar, file = small_bar(**TWO_BANDS), tmp_path / "r.jsonl"
    study(bar, save=file)
    before = file.read_bytes()
    with pytest.raises(InputError, match=message):
        tolerance(change(bar), save=file, **{"samples": 40, **more})
    assert file.read_bytes() == before


def test_no_file_of_results_is_refused_and_left(tmp_path: Path) -> None:
    bar, file = small_bar(**TWO_BANDS), tmp_path / "notes.txt"
    file.write_text("mine\n")
    with pytest.raises(InputError, match="no file of barfem's results"):
        study(bar, save=file)
    assert file.read_text() == "mine\n"
    with pytest.raises(InputError, match="cannot be written"):
        study(bar, save=tmp_path / "no" / "r.jsonl")


def test_a_run_whose_input_is_wrong_leaves_no_file(tmp_path: Path) -> None:
    """A file that was there, if empty, stays."""
    new, old = tmp_path / "new.jsonl", tmp_path / "old.jsonl"
    old.touch()
    for file in (new, old):
        with pytest.raises(InputError, match="no hole"):
            sweep(small_bar(**TWO_BANDS), [parse_key("section.diameter=20,22")], holes=["none"], save=file)
    assert not new.exists() and old.exists()


def test_a_damaged_line_is_named(tmp_path: Path) -> None:
    bar, file = small_bar(**TWO_BANDS), tmp_path / "r.jsonl"
    study(bar, save=file)
    lines = file.read_bytes().splitlines(keepends=True)
    file.write_bytes(lines[0] + b"{rubbish}\n")
    with pytest.raises(InputError, match="line 2 is damaged"):
        study(bar, save=file)
