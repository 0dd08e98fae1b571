"""Solid and tube with every kind of end, drilled or not, go through every command: an answer, never a bug."""

from __future__ import annotations

import itertools
import json

import pytest

from barfem.cli.main import main
from tests.check.bar_files import without_advice

BAR = """format = 1
name = "a bar to try ends on"
[material]
grade = "51CrV4"
condition = "QT EN 10089"
bent = "before-hardening"
[section]
{section}
[centreline]
points = [[-250, -500, 0], [0, -500, 0], [0, 500, 0], [-250, 500, 0]]
bend_radius = 60.0
[ends]
holes = [{{ name = "1", from_tip = 25.0{drill} }}, {{ name = "2", from_tip = 50.0{drill} }}]
{flat}
[[mounts]]
from_middle = -380.0
radial_stiffness = 5000.0
axial_stiffness = 200.0
length = 40.0
[[mounts]]
from_middle = 380.0
radial_stiffness = 5000.0
length = 40.0
[links]
length = 140.0
direction = [0, 0, -1]
[travel]
pickup = 15.0
direction = [0, 0, 1]
"""
SECTIONS = {"round": 'shape = "round"\ndiameter = 24.0', "tube": 'shape = "tube"\ndiameter = 24.0\nwall = 4.0'}
SIZES = "length = 95.0, transition = 25.0, normal = [0, 1, 0] }"
FLATS = {
    "round to the tip": "",
    "forged": f'flat = {{ kind = "forged", thickness = 11.0, width = 40.0, {SIZES}',
    "forged cosine": f'flat = {{ kind = "forged", thickness = 11.0, width = 40.0, outline = "cosine", {SIZES}',
    "forged straight": f'flat = {{ kind = "forged", thickness = 11.0, width = 40.0, outline = "straight", {SIZES}',
    "pressed": f'flat = {{ kind = "pressed", thickness = 8.0, width = 33.0, {SIZES}',
}
DRILLED = {"plain": "", "drilled": ", diameter = 8.3"}
NOT_LONG = {("tube", "pressed", "drilled")}
KINDS = [
    pytest.param(kind, id="-".join(kind), marks=[] if kind in NOT_LONG else [pytest.mark.long])
    for kind in itertools.product(SECTIONS, FLATS, DRILLED)
]


@pytest.fixture
def bar_file(tmp_path, request):
    section, flat, drilled = request.param
    path = tmp_path / "bar.toml"
    path.write_text(BAR.format(section=SECTIONS[section], flat=FLATS[flat], drill=DRILLED[drilled]), encoding="utf-8")
    return path


@pytest.mark.parametrize("bar_file", KINDS, indirect=True)
def test_every_kind_of_end_is_judged_reported_compared_sized_and_swept(bar_file, tmp_path, capsys, unpictured):
    found = tmp_path / "found.json"
    with without_advice():
        status = main(["check", str(bar_file), "--json", str(found)])
    error = capsys.readouterr().err
    if "pressed" in bar_file.read_text() and '"round"' in bar_file.read_text():
        assert status == 2 and "a pressed flat is a flattened tube" in error
        return
    assert status in (0, 1), error
    for setting in json.loads(found.read_text(encoding="utf-8"))["settings"]:
        kinds = {place["kind"] for place in setting["places"]}
        assert ("flat" in kinds) == ("flat =" in bar_file.read_text())
        assert ("hole" in kinds) == ("diameter = 8.3" in bar_file.read_text())
        assert setting["peak"]["von_mises_MPa"] > 50.0
    assert main(["compare", str(bar_file), "--section", "round 20"]) in (0, 1), capsys.readouterr().err
    assert main(["sweep", str(bar_file), "travel.pickup=10,15"]) in (0, 1), capsys.readouterr().err
    assert main(["report", str(bar_file), "--out", str(tmp_path / "bar.html")]) in (0, 1), capsys.readouterr().err
    only = ["--hole", "1", "--shape", "round"]
    assert main(["size", str(bar_file), *only]) in (0, 1), capsys.readouterr().err


ONCE_BROKEN = [pytest.param(("tube", "forged", "drilled"), marks=pytest.mark.long), ("tube", "forged", "plain")]


@pytest.mark.parametrize("bar_file", ONCE_BROKEN, indirect=True, ids=["drilled", "plain"])
def test_a_tube_with_forged_flats_as_a_solid_and_as_a_report(bar_file, tmp_path, capsys, request):
    if "diameter = 8.3" not in bar_file.read_text():  # its pictures and its solid are those of the other
        request.getfixturevalue("unpictured")
    else:
        with without_advice():
            assert main(["check", str(bar_file), "--model", "solid"]) in (0, 1), capsys.readouterr().err
    assert main(["report", str(bar_file), "--out", str(tmp_path / "bar.html")]) in (0, 1), capsys.readouterr().err
