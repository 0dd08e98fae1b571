"""Standard streams that are closed or full: one line that says so, exit 2, never a bug and never a half answer."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from barfem.cli.main import main
from tests.cli.test_messages import SOLID

RUN = f"exec {sys.executable} -m barfem"
ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
@pytest.mark.parametrize(
    ("command", "says"),
    [
        (f"{RUN} explain > /dev/full", "No space left on device"),
        (f"{RUN} --help > /dev/full", "No space left on device"),
        (f"{RUN} explain >&-", "standard output is closed"),
        (f"{RUN} check /dev/stdin <&-", "/dev/stdin"),
        (f"{RUN} check {'x' * 5000}.toml", "File name too long"),
        (f"{RUN} life --amplitude 9 --tensile 600 --yield 400 --json /dev/full", "No space left on device"),
    ],
)
def test_what_cannot_be_written_or_read_is_answered(command: str, says: str, tmp_path: Path) -> None:
    done = subprocess.run(["/bin/sh", "-c", command], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 2, done.stderr
    assert done.stderr.count("\n") == 1 and done.stderr.startswith("barfem: error: ") and says in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="a folder that is in use stays there")
@pytest.mark.parametrize("words", ["check {bar}", "check ../bar.toml", "new bar.toml --yes"])
def test_a_folder_that_was_deleted_under_the_command_is_what_is_named(words: str, tmp_path: Path) -> None:
    bar = tmp_path / "bar.toml"
    bar.write_text(SOLID, encoding="utf-8")
    command = f"mkdir gone && cd gone && rmdir ../gone && {RUN} {words.format(bar=bar)}"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        ["/bin/sh", "-c", command], cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=120
    )
    if "{bar}" in words:  # which needs no folder to run in
        assert done.returncode in (0, 1) and done.stderr == ""
    else:
        assert done.returncode == 2 and done.stderr == (
            "barfem: error: the folder in which barfem runs is gone. Right would be: one that is there (cd to it).\n"
        )


@pytest.mark.long
def test_questions_are_not_asked_where_standard_input_is_closed(tmp_path: Path) -> None:
    """`barfem new` takes its defaults, says that they are no drawing's, and writes the whole file."""
    done = subprocess.run(
        ["/bin/sh", "-c", f"{RUN} new front.toml <&-"], cwd=tmp_path, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0 and done.stderr == "" and "not from the drawing" in done.stdout
    assert main(["check", str(tmp_path / "front.toml")]) in (0, 1)


@contextmanager
def disk_of(size: int) -> Iterator[None]:
    """No file may grow beyond so many bytes, as on a disk that is full."""
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    compiles, sys.dont_write_bytecode = sys.dont_write_bytecode, True  # Python would keep half a compiled module
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        sys.dont_write_bytecode = compiles


@pytest.mark.long
def test_a_disk_that_is_full_under_save_is_said_and_the_run_goes_on_later(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("bar.toml").write_text(SOLID, encoding="utf-8")
    line = ["sweep", "bar.toml", "section.diameter=20:22:40", "--hole", "soft"]
    assert main([*line, "--out", "whole.csv"]) == 0
    with disk_of(8_000):
        assert main([*line, "--save", "kept.jsonl", "--out", "out.csv"]) == 2
    err = capsys.readouterr().err.strip().splitlines()[-1]
    assert err.startswith("barfem: error: --save: kept.jsonl could not be written: File too large")
    assert "goes on from it" in err and not Path("out.csv").exists()
    lines = Path("kept.jsonl").read_bytes().splitlines(keepends=True)
    kept = [json.loads(each)["chunk"] for each in lines[1:] if each.endswith(b"\n")]
    assert kept and len(kept) < 5, "some chunks were kept, not all"
    assert main([*line, "--save", "kept.jsonl", "--out", "out.csv"]) == 0
    assert Path("out.csv").read_bytes() == Path("whole.csv").read_bytes()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_full_device_under_save_names_the_option(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("bar.toml").write_text(SOLID, encoding="utf-8")
    assert main(["sweep", "bar.toml", "section.diameter=20,21", "--save", "/dev/full"]) == 2
    assert "--save: /dev/full could not be written: No space left on device" in capsys.readouterr().err
