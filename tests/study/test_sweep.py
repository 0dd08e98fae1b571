"""Sweeps: the keys, the combinations, rows that are what check says, rows that are no bars, and the files."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.show.csv_file import columns_csv
from barfem.show.sweep import parquet_bytes
from barfem.study.change import change
from barfem.study.sweep import NUMBERS, sweep
from barfem.study.sweep_keys import parse_key
from tests.model.bar_data import U_BAR, changed

BAR = bar_from_dict(changed(("travel.pickup", 15.0)))

PARSED: list[tuple[str, str, tuple[Any, ...]]] = [
    ("section.diameter=20:26:7", "section.diameter", (20.0, 21.0, 22.0, 23.0, 24.0, 25.0, 26.0)),
    ("a.b=20:20.3:4", "a.b", (20.0, 20.1, 20.2, 20.3)),
    ("a.b=5:5:1", "a.b", (5.0,)),
    ("a.b = 3.5, 4", "a.b", (3.5, 4)),
    ("a.b=0.9 in,1 in", "a.b", ("0.9 in", "1 in")),
    ("material.surface=ground,machined", "material.surface", ("ground", "machined")),
    ("a.b=true,false", "a.b", (True, False)),
    ('a.b="1","2"', "a.b", ("1", "2")),
    ("a.b=0.8 in:1in:3", "a.b", ("0.8 in", "0.9 in", "1 in")),
    ("a.b=-1e1lbf/in:1e1 lbf/in:2", "a.b", ("-10 lbf/in", "10 lbf/in")),
    ("a.b=[[0, 0, 1], [0, 0.1, 1]]", "a.b", ([0, 0, 1], [0, 0.1, 1])),
]


@pytest.mark.parametrize(("text", "key", "values"), PARSED)
def test_keys_and_values(text: str, key: str, values: tuple[Any, ...]) -> None:
    found = parse_key(text)
    assert (found.key, found.values) == (key, values)
    assert [type(value) for value in found.values] == [type(value) for value in values]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a.b",
        "a.b=",
        "=3",
        "a.b=1,,2",
        "a.b=1:x:3",
        "a.b=1:2:0",
        "a.b=1:2:1",
        "a.b=[1",
        "a.b=[]",
        "a.b=inf:2:3",
        "a.b=nan,20",
        "a.b=20 mm:22:3",
        "a.b=1 in:30 mm:3",
        "a.b=1 in:2 in:x",
    ],
)
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="Right would be"):
        parse_key(text)


def test_a_grid_is_what_check_says_of_every_combination() -> None:
    found = sweep(BAR, [parse_key("section.diameter=22,24"), parse_key("mounts.*.length=30,40")])
    assert found.points == 4 and found.rows == 8 and found.unsolved == 0
    columns = found.columns
    assert columns["point"] == [1, 1, 2, 2, 3, 3, 4, 4]
    assert columns["section.diameter"] == [22] * 4 + [24] * 4
    assert columns["mounts.*.length"] == [30, 30, 40, 40] * 2
    for point in (2, 3):
        at = columns["point"].index(point)
        values = {key: columns[key][at] for key in ("section.diameter", "mounts.*.length")}
        result = check_bar(change(BAR, values))
        for i, setting in enumerate(result.settings):
            assert columns["left"][at + i] == setting.left
            assert columns["rate_N_per_mm"][at + i] == pytest.approx(setting.rate_N_per_mm, rel=1e-9)
            assert columns["peak_von_mises_MPa"][at + i] == pytest.approx(setting.peak.von_mises_MPa, rel=1e-9)
            assert columns["passes"][at + i] == setting.passes
            assert columns["mass_kg"][at + i] == pytest.approx(result.mass_kg)


def test_paired_lists_go_together() -> None:
    found = sweep(
        BAR, [parse_key("section.diameter=22,24"), parse_key("travel.pickup=10,12")], paired=True, holes=["1"]
    )
    assert list(zip(found.columns["section.diameter"], found.columns["travel.pickup"], strict=True)) == [
        (22, 10),
        (24, 12),
    ]
    with pytest.raises(InputError, match="differ in length"):
        sweep(BAR, [parse_key("section.diameter=22,24"), parse_key("travel.pickup=10,12,14")], paired=True)


def test_combinations_that_are_no_bars_are_rows_that_say_so() -> None:
    # Links of 140 mm cannot follow 240 mm of travel; a bar of 98 mm cannot be bent to a radius of 48 mm.
    found = sweep(BAR, [parse_key("section.diameter=24,98"), parse_key("travel.pickup=15,240")], holes=["1"])
    columns = found.columns
    assert found.unsolved == 3 and columns["problem"][0] is None
    assert "travel" in columns["problem"][1] and "radius" in columns["problem"][2]
    assert all(math.isnan(columns["rate_N_per_mm"][i]) for i in (1, 2, 3))
    assert columns["passes"][1:] == [False, None, None]  # as the table's "NO" and "no bar"


REFUSED = [
    (["section.diametre=20,22"], "diametre"),
    (["section.diameter=20,22", "section.diameter=24"], "twice"),
    (["mounts.7.length=1,2"], 'no "7"'),
    (["section.diameter=0:0.5:3"], "diameter"),
    (["section.diameter=20:26:2000", "travel.pickup=1:2:2000"], "more than can be kept"),
]


@pytest.mark.parametrize(("keys", "message"), REFUSED)
def test_keys_that_make_no_bar_are_refused_before_any_work(keys: list[str], message: str) -> None:
    with pytest.raises(InputError, match=message):
        sweep(BAR, [parse_key(key) for key in keys])
    with pytest.raises(InputError, match="nothing varies"):
        sweep(BAR, [])


def test_files_hold_the_numbers_to_the_bit() -> None:
    found = sweep(
        BAR, [parse_key("section.diameter=24,98"), parse_key("material.surface=ground,machined")], holes=["1"]
    )
    rows = list(csv.DictReader(io.StringIO(columns_csv(found.columns))))
    assert [float(row["rate_N_per_mm"]) for row in rows[:2]] == found.columns["rate_N_per_mm"][:2]
    assert [row["rate_N_per_mm"] for row in rows[2:]] == ["", ""] and rows[0]["passes"] in ("true", "false")
    assert rows[1]["material.surface"] == "machined" and "nan" not in columns_csv(found.columns)
    pq = pytest.importorskip("pyarrow.parquet", reason="the extra `parquet` is not installed")
    table = pq.read_table(io.BytesIO(parquet_bytes(found))).to_pydict()
    assert list(table) == list(found.columns)
    assert table["peak_von_mises_MPa"][:2] == found.columns["peak_von_mises_MPa"][:2] and table["peak_von_mises_MPa"][
        2:
    ] == [None, None]
    assert table["section.diameter"] == [24.0, 24.0, 98.0, 98.0] and table["passes"][3] is None
    assert table["problem"] == found.columns["problem"]


@pytest.mark.long
def test_a_sweep_that_was_stopped_goes_on(tmp_path: Path) -> None:
    keys = [parse_key("section.diameter=22:25:40")]
    whole = sweep(BAR, keys, holes=["1"])
    file = tmp_path / "s.jsonl"

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep(BAR, keys, holes=["1"], save=file, progress=stop)
    seen: list[tuple[int, int]] = []
    again = sweep(BAR, keys, holes=["1"], save=file, progress=lambda done, total: seen.append((done, total)))
    assert dict(again.columns) == dict(whole.columns)
    assert seen == [(16, 40), (32, 40), (40, 40)]
    with pytest.raises(InputError, match="another run"):
        sweep(BAR, [parse_key("section.diameter=22:25.5:40")], holes=["1"], save=file)
    for name in NUMBERS:
        assert all(
            math.isfinite(value) or name == "goodman_safety_factor" or "life" in name for value in whole.columns[name]
        )


@pytest.fixture
def bar_file(tmp_path: Path) -> Path:
    import tomlkit

    file = tmp_path / "bar.toml"
    file.write_text(tomlkit.dumps(changed(("travel.pickup", 15.0), base=U_BAR)), encoding="utf-8")
    return file


def test_the_command(bar_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = bar_file.with_suffix(".csv")
    assert main(["sweep", str(bar_file), "section.diameter=22,98", "--hole", "1", "--out", str(out)]) == 0
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "1 of 2 could not be made" in text and "no bar" in text
    assert len(out.read_text().splitlines()) == 3
    assert main(["sweep", str(bar_file), "section.diameter=22,98", "--hole", "1", "--out", "-"]) == 0
    assert capsys.readouterr().out == out.read_text()


def test_a_long_key_is_broken_between_its_words(bar_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two keys on a screen of 80 columns: "radial_stiffnes", and an s below it."""
    words = ["section.diameter=22,23", "mounts.*.radial_stiffness=3000,5000", "--hole", "1"]
    assert main(["sweep", str(bar_file), *words]) == 0
    lines = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert any("radial_" in line for line in lines) and any("stiffness" in line for line in lines)


def test_the_margin_of_what_carries_nothing_is_no_number(bar_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sweep", str(bar_file), "travel.parallel=10,12", "--hole", "1"]) in (0, 1)
    text = capsys.readouterr().out
    assert "parallel" in text and "000 000 000" not in text


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["section.diameter=22", "--out", "x.xls"], "is no name of a CSV or Parquet file"),
        (["section.diameter"], "no key with values"),
        (["section.diametre=1,2"], "nearest known key"),
    ],
)
def test_the_command_refuses(
    options: list[str], message: str, bar_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sweep", str(bar_file), *options]) == 2
    assert message in capsys.readouterr().err


def test_one_bar_is_one_and_a_hole_that_is_named_twice_counts_once(
    bar_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sweep", str(bar_file), "section.diameter=0.9in:0.9in:1", "--hole", "1", "--hole", "1"]) == 0
    assert "1 bar, 1 row." in capsys.readouterr().out


def test_parquet_without_pyarrow_is_said_before_any_work(
    bar_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import shlex
    import sys

    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    assert main(["sweep", str(bar_file), "section.diameter=22,23", "--out", str(bar_file.with_suffix(".parquet"))]) == 2
    # The folder that README makes has no pip: a bare `pip install` would go to another Python.
    assert f"python3 -m pip --python {shlex.quote(sys.executable)} install pyarrow; or" in capsys.readouterr().err


def test_a_saved_run_says_what_it_is_of(tmp_path: Path) -> None:
    file = tmp_path / "s.jsonl"
    sweep(BAR, [parse_key("section.diameter=22,23")], holes=["1"], save=file)
    header = json.loads(file.read_text().splitlines()[0])
    assert header["study"] == "sweep" and header["points"] == 2 and header["name"] == "plain U"


def test_a_sweep_of_a_bar_that_its_blocks_alone_judge_says_that_its_safety_factors_are_not_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`check` and `size` say the same: a factor above one beside NO is no contradiction there."""
    text = (Path(__file__).parents[2] / "geometries" / "pickup-front-solid.toml").read_text("utf-8")
    cycles = "target_cycles = 200000           # of full articulation"
    assert cycles in text
    bar = tmp_path / "bar.toml"
    bar.write_text(text.replace(cycles, "blocks = [{ pickup = 20.0, cycles = 1000 }]\nrepeats = 10"), "utf-8")
    main(["sweep", str(bar), "section.diameter=20,22"])
    printed = " ".join(capsys.readouterr().out.split())
    assert "Safety factors are for 200 000 cycles of full travel, which are not judged." in printed
    main(["sweep", str(bar), "duty.target_cycles=100000,300000"])
    assert "Safety factor: at the target cycles." in " ".join(capsys.readouterr().out.split())
