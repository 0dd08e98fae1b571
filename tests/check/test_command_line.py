"""`barfem check` on real files, end to end: exit status, what is printed, what is written, and 40 ways to be wrong."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from barfem.cli.main import main
from tests.check.bar_files import BUILT, checked_file, toml
from tests.model.bar_data import DELETE, changed
from tests.often import often

FAILING = (("travel.pickup", 38.0),)
PASSING = (("travel.pickup", 6.0), ("duty.target_cycles", 10_000))


@pytest.fixture
def bar_file(tmp_path):
    """Writes a changed bar as TOML and gives its path."""

    def write(*changes: tuple[str, Any], base: dict[str, Any] = BUILT, name: str = "bar.toml") -> Path:
        path = tmp_path / name
        path.write_text(toml(changed(*changes, base=base)), encoding="utf-8")
        return path

    return write


def test_a_bar_that_passes_ends_with_0(bar_file, capsys):
    ended = checked_file(bar_file(*PASSING), capsys)
    assert ended.status == 0 and ended.err == ""
    assert ended.json["passes"] is True and "VERDICT: passes" in ended.out


def test_a_bar_that_fails_ends_with_1_and_is_written_too(bar_file, capsys):
    ended = checked_file(bar_file(*FAILING), capsys)
    assert ended.status == 1
    assert ended.json["passes"] is False and "VERDICT: fails" in ended.out


def test_one_failing_hole_is_enough(bar_file, capsys):
    lives = [s["fatigue"]["life_at_survival_cycles"] for s in checked_file(bar_file(*FAILING), capsys).json["settings"]]
    between = math.sqrt(lives[0] * lives[-1])
    ended = checked_file(bar_file(*FAILING, ("duty.target_cycles", between)), capsys)
    passes = [setting["passes"] for setting in ended.json["settings"]]
    assert passes[0] and not passes[-1] and ended.status == 1


def test_json_of_the_file_is_json_of_standard_output(bar_file, capsys):
    path = bar_file(*FAILING)
    first = checked_file(path, capsys).json
    assert main(["check", str(path), "--json", "-"]) == 1
    out, err = capsys.readouterr()
    assert json.loads(out) == first and err == ""


def test_cases(bar_file, capsys):
    both = bar_file(("travel.one_wheel", 20.0), name="both.toml")
    roll_only = bar_file(name="roll.toml")

    def cases(path: Path, *options: str) -> set[str]:
        return {setting["case"] for setting in checked_file(path, capsys, *options).json["settings"]}

    assert cases(both) == {"roll", "one-wheel"} and cases(roll_only) == {"roll"}
    assert cases(both, "--case", "roll") == {"roll"} and cases(both, "--case", "one-wheel") == {"one-wheel"}
    assert cases(roll_only, "--case", "one-wheel") == {"one-wheel"}
    assert checked_file(both, capsys, "--case", "roll").json["not_judged"] == ["one-wheel"]
    assert "one-wheel" in checked_file(both, capsys, "--case", "roll").out.split("VERDICT")[1]


def test_mixed(bar_file, capsys):
    assert len(checked_file(bar_file(), capsys, "--mixed").json["settings"]) == 9


def test_timing_ends_in_json_on_standard_error(bar_file, capsys):
    ended = checked_file(bar_file(), capsys, "--timing")
    seconds = json.loads(ended.err.strip().splitlines()[-1])
    assert set(seconds) == {"read", "solve", "stress", "fatigue", "total"}
    assert 0.0 < seconds["solve"] <= seconds["total"] < 10.0


@pytest.mark.parametrize("options", [["--case", "bump"], ["--model", "shell"], ["--jsn", "x"], ["more.toml"]])
def test_options_that_cannot_be(bar_file, capsys, options):
    assert main(["check", str(bar_file()), *options]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err and "Traceback" not in err


@pytest.mark.long
def test_the_table_of_every_bar_fits_80_columns(bar_file, capsys):
    for changes in ((), PASSING, (("travel.one_wheel", 20.0),), (("name", "n" * 300),)):
        out = checked_file(bar_file(*changes), capsys, "--full").out
        assert max(len(line) for line in out.splitlines()) <= 80


POINTS = BUILT["centreline"]["points"]
MOUNT = BUILT["mounts"][0]
HOLE = BUILT["ends"]["holes"][0]

# What is changed, and what the message must name.
BROKEN: dict[str, tuple[tuple[tuple[str, Any], ...], tuple[str, ...]]] = {
    "another format": ((("format", 2),), ("format",)),
    "no name": ((("name", DELETE),), ("name",)),
    "an unknown key": ((("section.diametre", 20.0),), ("[section]", "diametre", '"diameter"')),
    "an unknown table": ((("springs", {"rate": 1}),), ("springs",)),
    "no section": ((("section", DELETE),), ("[section]",)),
    "no centreline": ((("centreline", DELETE),), ("[centreline]", "[arms]", "[bends]")),
    "two centrelines": ((("arms", {"width": 1e3, "length": 250, "bend_radius": 50}),), ("[arms]", "one centreline")),
    "text for a number": ((("section.diameter", "twenty"),), ("[section] diameter", "twenty")),
    "a unit of something else": ((("section.diameter", "20 N"),), ("[section] diameter", "20 N")),
    "a diameter in metres": ((("section.diameter", 0.02),), ("[section] diameter", "0.02")),
    "a negative diameter": ((("section.diameter", -20.0),), ("[section] diameter", "-20")),
    "not a number": ((("section.diameter", math.nan),), ("[section] diameter", "nan")),
    "an infinite travel": ((("travel.pickup", math.inf),), ("[travel] pickup", "inf")),
    "an unknown steel": ((("material", {"grade": "51CrV5", "condition": "QT"}),), ("[material] grade", "51CrV4")),
    "an unknown condition": ((("material", {"grade": "51CrV4", "condition": "raw"}),), ("[material] condition", "QT")),
    "an unknown surface": ((("material.surface", "shiny"),), ("[material] surface", "shiny", "polished")),
    "yield above tensile": ((("material.yield_strength", 1500.0),), ("[material] yield_strength", "1500", "1350")),
    "a wall too thick": (
        (("section", {"shape": "tube", "diameter": 20.0, "wall": 10.5}), ("material.bent", "before-hardening")),
        ("[section] wall", "10.5"),
    ),
    "a tube that does not say when it was bent": (
        (("section", {"shape": "tube", "diameter": 20.0, "wall": 3.0}),),
        ("[material] bent",),
    ),
    "points from the left tip": ((("centreline.points", POINTS[::-1]),), ("[centreline] points", "right tip")),
    "points that coincide": ((("centreline.points.2", POINTS[1]),), ("[centreline]", "2 and 3")),
    "arcs that overlap": ((("centreline.bend_radius", 560.0),), ("[centreline]", "560")),
    "a radius below the bar's": ((("centreline.bend_radius", 9.0),), ("bend_radius", "9 mm")),
    "too few radii": ((("centreline.bend_radius", [50.0]),), ("1 radius", "2")),
    "arms that cross": (
        (("centreline", DELETE), ("arms", {"width": 1e3, "length": 250, "splay": 70, "bend_radius": 50})),
        ("[arms]", "splay"),
    ),
    "rows that do not end": (
        (
            ("centreline", DELETE),
            ("bends", {"start_tip": "right", "start": [0, 0, 0], "direction": [1, 0, 0],
                       "first_bend_towards": [0, 1, 0], "rows": [[200, 0, 90, 50]]}),
        ),
        ("[bends] rows", "last row"),
    ),
    "a hole beyond the tip": ((("ends.holes.0.from_tip", -1.0),), ("[ends] holes 1, from_tip", "-1")),
    "a hole beyond the middle": ((("ends.holes.0.from_tip", 900.0),), ("[ends] holes 1, from_tip", "900")),
    "a hole as wide as the bar": ((("ends.holes.0.diameter", 20.0),), ("[ends] holes 1, diameter", "20")),
    "two holes of one name": ((("ends.holes.1.name", "1"),), ("[ends] holes 2, name", '"1"')),
    "holes that run together": ((("ends.holes.1.from_tip", 25.0),), ("[ends] holes", "run into")),
    "one mount": ((("mounts", [MOUNT]),), ("[[mounts]]", "two")),
    "a mount off the bar": ((("mounts.0.from_middle", -900.0),), ("[[mounts]] 1", "-900")),
    "mounts at one place": ((("mounts.1.from_middle", -380.0),), ("[[mounts]] 2", "same place")),
    "nothing that holds it sideways": (
        (("mounts.0.axial_stiffness", 0.0), ("mounts.1.axial_stiffness", 0.0)),
        ("axial_stiffness", "slide"),
    ),
    "a link that points nowhere": ((("links.direction", [0, 0, 0]),), ("[links] direction", "zero")),
    "a link square to its travel": ((("links.direction", [1, 0, 0]),), ("[links] direction", "square")),
    "a pickup and a length": ((("links.pickup", [0, 0, 0]),), ("[links]", "either")),
    "no travel": ((("travel", {"direction": [0, 0, 1]}),), ("[travel]", "no travel")),
    "wheel travel without its ratio": (
        (("travel", {"wheel": 60.0, "direction": [0, 0, 1]}),),
        ("[travel] motion_ratio",),
    ),
    "a ratio of one": ((("duty.ratio", 1.0),), ("[duty] ratio", "1")),
    "survival in percent": ((("targets.survival", 90.0),), ("[targets] survival", "90")),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_bar_file_gives_one_clear_message_and_status_2(bar_file, capsys, name):
    changes, says = BROKEN[name]
    path = bar_file(*changes)
    ended = checked_file(path, capsys)
    assert ended.status == 2, ended.err
    assert ended.out == "" and ended.json is None
    assert sorted(item.name for item in path.parent.iterdir()) == ["bar.toml"]
    (line,) = ended.err.splitlines()
    assert line.startswith("barfem: error: ") and "Traceback" not in line
    assert "bar.toml" in line and "Right would be: " in line
    for words in says:
        assert words in line, line


TEXTS = {
    "empty": (b"", "empty"),
    "no TOML": (b"format: 1\n", "line 1"),
    "an open string": (b'format = 1\nname = "bar\n', "line 2"),
    "a key twice": (b"format = 1\nformat = 1\n", "line 2"),
    "a decimal comma": (b"format = 1\nname = 'x'\n[section]\ndiameter = 20,5\n", "line 4"),
    "another encoding": (b'format = 1\nname = "\xe9"\n', "UTF-8"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00", "UTF-8"),
    "JSON": (b'{"format": 1}', "line 1"),
}


@pytest.mark.parametrize("name", TEXTS)
def test_a_file_that_is_no_bar_file(tmp_path, capsys, name):
    content, says = TEXTS[name]
    path = tmp_path / "bar.toml"
    path.write_bytes(content)
    ended = checked_file(path, capsys)
    assert ended.status == 2 and ended.out == "" and ended.json is None
    assert says in ended.err and "Traceback" not in ended.err and len(ended.err.splitlines()) == 1


def test_no_file_a_folder_and_a_result_in_the_way(tmp_path, bar_file, capsys):
    assert checked_file(tmp_path / "bar.tml", capsys).status == 2
    folder = tmp_path / "folder"
    folder.mkdir()
    assert checked_file(folder, capsys).status == 2
    old = tmp_path / "bar-result.json"
    old.write_text("old")
    path = bar_file(("section.diameter", -1.0))
    assert main(["check", str(path), "--json", str(old)]) == 2
    assert old.read_text() == "old"


UNSOLVED = {
    "a travel that no link follows": (("travel.pickup", 600.0),),
    "a travel that turns the arm over": (("travel.pickup", 400.0),),
    "a link along its arm": (("links.direction", [1, 0, 0]), ("travel.direction", [1, 0, 0])),
}


@pytest.mark.parametrize("name", often(UNSOLVED, {"a link along its arm"}))
def test_a_bar_that_cannot_be_solved_fails_and_its_hole_says_why(bar_file, capsys, name):
    path = bar_file(*UNSOLVED[name])
    ended = checked_file(path, capsys)
    assert ended.status == 1 and ended.out.splitlines()[-1].startswith("VERDICT:") and "nan" not in ended.out
    for setting in ended.json["settings"]:
        assert setting["passes"] is False and setting["peak"] is None
        (why,) = setting["why"]
        assert " mm" in why and "Right would be: " in why
