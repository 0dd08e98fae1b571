"""Bar files that are wrong: one message that names file, place and what would be right, exit status 2, no output.

Each row is a change to a good bar file's text; what must stand in the message was written down before any was run.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from barfem.cli.main import main

GOOD = """\
format = 1
name = "an invented bar"
[material]
grade = "51CrV4"
condition = "QT EN 10089"
surface = "ground"
[section]
shape = "round"
diameter = 24.0
[centreline]
points = [[-250, -500, 0], [0, -500, 0], [0, 500, 0], [-250, 500, 0]]
bend_radius = 48.0
[ends]
holes = [ { name = "1", from_tip = 20.0, diameter = 12.0 }, { name = "2", from_tip = 45.0, diameter = 12.0 } ]
flat = { kind = "forged", thickness = 12.0, width = 40.0, length = 95.0, transition = 25.0, normal = [0, 1, 0] }
[[mounts]]
from_middle = -380.0
radial_stiffness = 5000.0
axial_stiffness = 200.0
length = 40.0
[[mounts]]
from_middle = 380.0
radial_stiffness = 5000.0
length = 41.0
[links]
length = 140.0
direction = [0, 0, -1]
[travel]
pickup = 20.0
direction = [0, 0, 1]
[duty]
target_cycles = 200000
ratio = -1.0
[targets]
survival = 0.90
"""
POINTS = "points = [[-250, -500, 0], [0, -500, 0], [0, 500, 0], [-250, 500, 0]]"
NOT_NUMBERS = [
    "nan",
    "inf",
    "-inf",
    "1e400",
    "true",
    '"abc"',
    '"12 kg"',
    "[1]",
    "{ a = 1 }",
    '""',
    '"1/0 mm"',
    "9" * 400,
]
KEYS = {
    "diameter": "diameter = 24.0",
    "bend_radius": "bend_radius = 48.0",
    "from_tip": "from_tip = 20.0",
    "thickness": "thickness = 12.0",
    "radial_stiffness": "radial_stiffness = 5000.0",
    "from_middle": "from_middle = -380.0",
    "length": "length = 140.0",
    "pickup": "pickup = 20.0",
    "target_cycles": "target_cycles = 200000",
    "ratio": "ratio = -1.0",
    "survival": "survival = 0.90",
}

# what, old text, new text, words that the message must hold
CHANGES: list[tuple[str, str, str, tuple[str, ...]]] = [
    ("diameter below zero", "diameter = 24.0", "diameter = -24.0", ("diameter", "-24")),
    ("radius inside the bar", "bend_radius = 48.0", "bend_radius = 12.0", ("bend_radius", "12")),
    ("radii of another count", "bend_radius = 48.0", "bend_radius = [48.0]", ("bend_radius", "1 radius", "2")),
    ("arc longer than its straight", "bend_radius = 48.0", "bend_radius = 300.0", ("300", "250")),
    ("points coincide", "[0, -500, 0],", "[0, -500, 0], [0, -500, 0],", ("coincide",)),
    ("back on itself", "[0, 500, 0], [-250, 500, 0]", "[0, 500, 0], [0, 100, 0]", ("doubles back",)),
    ("two coordinates", "[0, -500, 0],", "[0, -500],", ("point 2", "2 entries")),
    ("left and right exchanged", POINTS, "points = [[0, 500, 0], [0, -500, 0]]", ("right tip", "left tip")),
    ("no points", POINTS, "points = []", ("two points",)),
    ("no centreline", f"[centreline]\n{POINTS}\nbend_radius = 48.0\n", "", ("[centreline]", "[arms]", "[bends]")),
    ("unknown key", "length = 140.0", "lenght = 140.0", ("lenght", "[links]", "length")),
    ("unknown table", "[duty]", "[dutty]", ("dutty", "duty")),
    ("unknown key of a hole", "from_tip = 20.0", "from_tip = 20.0, diam = 3", ("diam", "holes 1", "diameter")),
    ("key twice", "diameter = 24.0", "diameter = 24.0\ndiameter = 25.0", ("line 10",)),
    ("holes of one name", 'name = "2"', 'name = "1"', ("holes 2", "name")),
    ("holes run into each other", "from_tip = 45.0", "from_tip = 25.0", ("5 mm apart", "12 mm")),
    ("hole wider than the flat", "from_tip = 20.0, diameter = 12.0", "from_tip = 20.0, diameter = 45.0", ("45", "40")),
    ("hole past the middle", "from_tip = 45.0", "from_tip = 900.0", ("from_tip", "900")),
    ("no holes", GOOD[GOOD.index("holes =") : GOOD.index("flat =")], "holes = []\n", ("holes",)),
    ("flat into the bend", "length = 95.0", "length = 300.0", ("flat", "300", "202")),
    ("transition longer than the flat", "length = 95.0", "length = 20.0", ("transition", "25")),
    ("hole axis along the bar", "normal = [0, 1, 0]", "normal = [1, 0, 0]", ("normal",)),
    ("pressed end of a solid bar", '"forged"', '"pressed"', ("pressed", "solid")),
    ("wall of a solid bar", "diameter = 24.0", "diameter = 24.0\nwall = 4.0", ("wall", "round")),
    ("tube without wall", '"round"', '"tube"', ("wall",)),
    ("tube that is full", 'shape = "round"', 'shape = "tube"\nwall = 12.0', ("wall", "12", "24")),
    ("mounts at one place", "from_middle = -380.0", "from_middle = 380.0", ("mounts 1 and 2", "380")),
    ("mounts overlap", "from_middle = -380.0", "from_middle = 350.0", ("overlap",)),
    ("mount off the bar", "from_middle = -380.0", "from_middle = -800.0", ("from_middle", "-800")),
    ("mount over the tip", "from_middle = -380.0", "from_middle = -720.0", ("from_middle", "-720")),
    ("nothing holds axially", "axial_stiffness = 200.0\n", "", ("axial_stiffness",)),
    ("one mount", GOOD[GOOD.index("[[mounts]]\nfrom_middle = 3") : GOOD.index("[links]")], "", ("two or more",)),
    ("link along the arm", "direction = [0, 0, -1]", "direction = [1, 0, 0]", ("direction", "90 deg")),
    ("link without direction", "direction = [0, 0, -1]", "direction = [0, 0, 0]", ("direction", "zero")),
    ("link twice", "length = 140.0", "length = 140.0\npickup = [0, 0, 0]", ("pickup", "length")),
    ("pickup in the joint", "length = 140.0\ndirection = [0, 0, -1]", "pickup = [-230, 500, 0]", ("pickup", '"1"')),
    ("link gone", "length = 140.0", "length = 140.0\nlength_error = -140.0", ("length_error", "-140")),
    ("no travel", "pickup = 20.0", "pickup = 0.0", ("pickup", "above 0")),
    ("wheel without ratio", "pickup = 20.0", "wheel = 20.0", ("motion_ratio",)),
    ("up alone", "pickup = 20.0", "up = 20.0", ("up",)),
    ("ratio of one", "ratio = -1.0", "ratio = 1.0", ("ratio", "-1 <= ratio < 1")),
    ("ratio below", "ratio = -1.0", "ratio = -1.5", ("ratio", "-1.5")),
    ("certain survival", "survival = 0.90", "survival = 1.0", ("survival",)),
    ("survival of 90", "survival = 0.90", "survival = 90", ("survival", "90")),
    ("no blocks", "ratio = -1.0", "blocks = []", ("blocks", "empty")),
    ("block backwards", "ratio = -1.0", "blocks = [{ pickup = -5.0, cycles = 3 }]", ("blocks 1", "pickup", "-5")),
    ("unknown grade", '"51CrV4"', '"51CrV5"', ("grade", "51CrV4")),
    ("unknown condition", '"QT EN 10089"', '"QT"', ("condition", "QT EN 10089")),
    ("unknown surface", '"ground"', '"shiny"', ("surface", "shiny", "ground")),
    ("E in GPa", 'surface = "ground"', 'surface = "ground"\nE = 206', ("E", "206", "MPa")),
    ("yield above tensile", "[section]", "yield_strength = 1500\n[section]", ("yield_strength", "1350")),
    ("comma for point", "diameter = 24.0", 'diameter = "24,0 mm"', ("diameter", "24,0 mm")),
    ("other format", "format = 1", "format = 2", ("format", "2")),
]  # fmt: skip


def refusal(tmp_path: Path, capsys: Any, content: str | bytes) -> str:
    """The one message, after everything that holds for every refusal is checked."""
    path = tmp_path / "bar.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    status = main(["check", str(path), "--json", "-"])
    out, err = capsys.readouterr()
    assert (status, out) == (2, "")
    assert err.count("barfem: ") == 1
    assert "Traceback" not in err
    assert "bar.toml" in err
    assert "Right would be: " in err
    return str(err)


def test_the_good_file_is_good(tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "bar.toml"
    path.write_text(GOOD)
    assert main(["check", str(path), "--json", "-"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["settings"][0]["passes"]
    assert err == ""


@pytest.mark.parametrize(("old", "new", "words"), [row[1:] for row in CHANGES], ids=[row[0] for row in CHANGES])
def test_one_message_that_says_what_and_where(
    tmp_path: Path, capsys: Any, old: str, new: str, words: tuple[str, ...]
) -> None:
    assert old in GOOD
    message = refusal(tmp_path, capsys, GOOD.replace(old, new, 1))
    assert [word for word in words if word not in message] == []


@pytest.mark.parametrize("key", KEYS)
def test_what_is_no_number(tmp_path: Path, capsys: Any, key: str) -> None:
    """Not finite, of another type or dimension, too large for a float: each named with its key."""
    line = KEYS[key]
    for value in NOT_NUMBERS:
        message = refusal(tmp_path, capsys, GOOD.replace(line, f"{line.split('=')[0]}= {value}", 1))
        assert key in message, value


@pytest.mark.parametrize(
    "content",
    [b"", bytes(range(256)), GOOD.encode("utf-16"), GOOD.replace("invented", "erdachter, für").encode("latin-1"),
     GOOD + "\0", '{ "format": 1 }', GOOD.replace("\n", "\r")],
    ids=["empty", "binary", "utf-16", "latin-1", "nul byte", "json", "carriage returns"],
)  # fmt: skip
def test_what_is_no_text_or_no_toml(tmp_path: Path, capsys: Any, content: str | bytes) -> None:
    refusal(tmp_path, capsys, content)


@pytest.mark.parametrize("content", ["\ufeff" + GOOD, GOOD.replace("\n", "\r\n"), GOOD.rstrip()])
def test_other_ways_to_save_a_good_file(tmp_path: Path, capsys: Any, content: str) -> None:
    path = tmp_path / "bar.toml"
    path.write_bytes(content.encode())
    assert main(["check", str(path), "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["settings"]
