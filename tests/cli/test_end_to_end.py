"""`barfem check` on the demo bars, through the real reader, solver and judge."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

import barfem
from barfem.cli.main import main
from barfem.model.data_paths import demo_bars
from barfem.model.errors import InputError
from tests.often import often

ROOT = Path(__file__).parents[2]
BARS = demo_bars()
PASSING = ROOT / "geometries" / "pickup-front-solid.toml"


def finite(value: object) -> None:
    """No number of a loaded JSON is anything but finite (json.loads was told to refuse the rest)."""
    raise AssertionError(f"{value} is in the JSON")


@pytest.mark.parametrize("path", often(BARS, 2), ids=lambda path: path.stem)
def test_every_demo_bar_is_judged(path, capsys):
    status = main(["check", str(path), "--json", "-"])
    out, err = capsys.readouterr()
    result = json.loads(out, parse_constant=finite)
    assert err == "" and status == (0 if result["passes"] else 1)
    assert result["passes"] == all(setting["passes"] for setting in result["settings"])
    assert result["input_sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert not any("could not be computed" in warning for warning in result["warnings"])
    assert result["cautions"] and result["assumptions"]
    for setting in result["settings"]:
        peaks = [place["von_mises_MPa"] for place in setting["places"]]
        assert max(peaks) == pytest.approx(setting["peak"]["von_mises_MPa"], rel=2e-6)  # a tangent is two places
        margins = [place["yield_margin"] for place in setting["places"] if place["yield_margin"] is not None]
        assert min(margins) == pytest.approx(setting["yield_margin"], rel=1e-5)
        assert sum(setting["compliance"].values()) == pytest.approx(1.0, abs=1e-9)
        fatigue = setting["fatigue"]
        assert fatigue["life_cycles"] is not None or fatigue["runout"] or fatigue["reason"]
        assert setting["why"]


@pytest.mark.parametrize("path", often(BARS, 1), ids=lambda path: path.stem)
def test_every_demo_bar_prints_at_80_columns(path, capsys):
    main(["check", str(path), "--mixed", "--full"])
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    assert out.count("VERDICT") == 2


@pytest.mark.parametrize("path", often(BARS, 2), ids=lambda path: path.stem)
def test_every_demo_bar_is_one_screen_and_the_verdict_its_last_line(path, capsys):
    """At most 40 lines of 100 columns, for bars of up to four holes; the verdict stands above the prompt."""
    main(["check", str(path), "--case", "roll"])
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 40 and max(map(len, lines[:-1])) <= 100
    assert lines[-1].startswith("VERDICT: ") and sum("VERDICT" in line for line in lines) == 1
    text = " ".join(lines)
    assert "mm wide between cut ends" in text and "mounts at y" in text
    assert f"barfem check {path} --case roll --full" in text
    assert ("passes with" in text) == lines[-1].startswith("VERDICT: fails")


def test_some_demo_bar_passes_and_some_fails():
    verdicts = {barfem.check_bar(path).passes for path in BARS}
    assert verdicts == {True, False}
    assert barfem.check_bar(PASSING).passes


def test_a_case_asked_for_is_judged_alone_and_the_other_is_named(capsys, unadvised):
    main(["check", str(PASSING), "--case", "one-wheel", "--json", "-"])
    result = json.loads(capsys.readouterr().out)
    assert {setting["case"] for setting in result["settings"]} == {"one-wheel"}
    assert result["not_judged"] == ["roll"]
    main(["check", str(PASSING), "--case", "one-wheel"])
    assert "Not judged in this run: roll." in capsys.readouterr().out


def test_one_wheel_is_judged_too_where_the_bar_file_gives_it(tmp_path):
    text = PASSING.read_text(encoding="utf-8")
    assert "\none_wheel" not in text
    both = tmp_path / "both.toml"
    both.write_text(text.replace("[travel]", "[travel]\none_wheel = 10.0"), encoding="utf-8")
    assert {s.case for s in barfem.check_bar(PASSING).settings} == {"roll"}
    assert {s.case for s in barfem.check_bar(both).settings} == {"roll", "one-wheel"}


def test_mixed_adds_every_unequal_pair():
    equal, mixed = barfem.check_bar(PASSING), barfem.check_bar(PASSING, mixed=True)
    count = len(equal.settings)
    pairs = {(setting.left, setting.right) for setting in mixed.settings}
    assert len(pairs) == len(mixed.settings) == count**2
    assert {(s.left, s.right) for s in equal.settings} <= pairs


def test_a_bar_and_its_file_give_the_same_result():
    by_path, by_bar = barfem.check_bar(PASSING), barfem.check_bar(barfem.read_bar(PASSING))
    assert by_path.settings == by_bar.settings


def test_a_case_that_does_not_exist_is_refused():
    with pytest.raises(InputError, match="roll, one-wheel or parallel"):
        barfem.check_bar(PASSING, case="both")


def test_timing_adds_up(capsys, unadvised):
    main(["check", str(PASSING), "--timing"])
    seconds = json.loads(capsys.readouterr().err.splitlines()[-1])
    assert all(value > 0.0 for value in seconds.values())
    total = seconds.pop("total")
    assert sum(seconds.values()) <= total
