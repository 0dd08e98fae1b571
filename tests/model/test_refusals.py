"""Every kind of broken bar file gives one message: the table and key, the value, and what would be right."""

from __future__ import annotations

import math
from typing import Any

import pytest

from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from tests.model.bar_data import DELETE, FLAT, TUBE, U_BAR, changed

POINTS = U_BAR["centreline"]["points"]
MOUNT = U_BAR["mounts"][0]
BENDS = {
    "start_tip": "right",
    "start": [-250, -500, 0],
    "direction": [1, 0, 0],
    "first_bend_towards": [0, 1, 0],
    "rows": [[202, 0, 90, 48], [904, 0, 90, 48], [202]],
}
ARMS = {"width": 1000.0, "length": 250.0, "bend_radius": 48.0}


def bends(**keys: Any) -> tuple[tuple[str, Any], ...]:
    return ("centreline", DELETE), ("bends", {**BENDS, **keys})


def arms(**keys: Any) -> tuple[tuple[str, Any], ...]:
    return ("centreline", DELETE), ("arms", {**ARMS, **keys})


def flat(**keys: Any) -> tuple[tuple[str, Any], ...]:
    merged = {**FLAT, **keys}
    return (("ends.flat", {key: value for key, value in merged.items() if value is not DELETE}),)


# What is changed, the place that is named, what the problem says, and what the remedy says.
REFUSALS: dict[str, tuple[tuple[tuple[str, Any], ...], str, tuple[str, ...], str]] = {
    # keys and kinds
    "misspelt key": ((("section.diametre", 24.0),), "[section] diametre", ("unknown key",), '"diameter"'),
    "misspelt key in a mount": ((("mounts.1.stiffnes", 1),), "[[mounts]] 2", ("stiffnes",), "radial_stiffness"),
    "misspelt key in a hole": ((("ends.holes.0.dia", 1),), "[ends] holes 1, dia", ("unknown",), '"diameter"'),
    "misspelt key of one side": ((("ends.left", {"hole": []}),), "[ends.left] hole", ("unknown",), '"holes"'),
    "key of another table": ((("travel.wall", 4),), "[travel] wall", ("unknown",), "[section]"),
    "misspelt table": ((("target", {"survival": 0.9}),), "target", ("unknown",), '"targets"'),
    "no format": ((("format", DELETE),), "format", ("missing",), "format = 1"),
    "another format": ((("format", 2),), "format", ("2",), "format = 1"),
    "format as text": ((("format", "1"),), "format", ("'1'",), "format = 1"),
    "no name": ((("name", DELETE),), "name", ("missing",), "name ="),
    "empty name": ((("name", " "),), "name", ("empty",), "text"),
    "name as a number": ((("name", 7),), "name", ("7",), '"7"'),
    "no section": ((("section", DELETE),), "[section]", ("missing",), "diameter"),
    "no material": ((("material", DELETE),), "[material]", ("missing",), "grade"),
    "no diameter": ((("section.diameter", DELETE),), "[section] diameter", ("missing",), "24.0"),
    "no holes": ((("ends", {}),), "[ends] holes", ("no holes",), "from_tip"),
    "an empty list of holes": ((("ends.holes", []),), "[ends] holes", ("no holes",), "from_tip"),
    "no links": ((("links", DELETE),), "[links]", ("missing",), "direction"),
    "no travel": ((("travel", DELETE),), "[travel]", ("missing",), "pickup"),
    "a number where a table is needed": ((("links", 140),), "[links]", ("140",), "length"),
    "one table where a list is needed": ((("mounts", MOUNT),), "[[mounts]]", ("a table",), "[[mounts]]"),
    "text as a number": ((("section.diameter", "thick"),), "[section] diameter", ("thick",), '"0.945 in"'),
    "a number in quotes": ((("section.diameter", "24"),), "[section] diameter", ("no unit",), "24.0"),
    "a decimal comma": ((("section.diameter", "24,5 mm"),), "[section] diameter", ("point",), "24.0"),
    "a unit that measures something else": ((("section.diameter", "12 kg"),), "[section] diameter", ("12 kg",), "in"),
    "an unknown unit": ((("section.diameter", "12 mmm"),), "[section] diameter", ("mmm",), "mm"),
    "pounds mass as a force": ((("mounts.0.radial_stiffness", "900 lb/in"),), "[[mounts]] 1", ("lbf",), "lbf/in"),
    "a torsional stiffness per no angle": (
        (("mounts.0.torsional_stiffness", "50 N*m"),),
        "[[mounts]] 1, torsional_stiffness",
        ("per rad or per deg",),
        "N*m/rad",
    ),
    "true as a number": ((("section.diameter", True),), "[section] diameter", ("true",), "24.0"),
    "not a number": ((("section.diameter", math.nan),), "[section] diameter", ("nan",), "24.0"),
    "infinite": ((("travel.pickup", math.inf),), "[travel] pickup", ("inf",), "24.0"),
    "beyond any bar": ((("centreline.points.0.0", 1e9),), "[centreline] points", ("point 1: x",), "[x, y, z]"),
    "a list as a number": ((("section.diameter", [24.0]),), "[section] diameter", ("[24.0]",), "24.0"),
    # material
    "unknown grade": ((("material", {"grade": "51CrV5"}),), "[material] grade", ("51CrV5",), "51CrV4"),
    "unknown surface": ((("material.surface", "pollished"),), "[material] surface", ("pollished",), "polished"),
    "custom without its numbers": ((("material.nu", DELETE),), "[material]", ("nu",), "nu = 0.3"),
    "custom with a condition": (
        (("material.condition", "+QT"),),
        "[material] condition",
        ("condition",),
        "no condition",
    ),
    "nu above a half": ((("material.nu", 0.6),), "[material] nu", ("0.6",), "0.2 to 0.4"),
    "E in GPa": ((("material.E", 206),), "[material] E", ("206",), "MPa"),
    # The example is of this key: the strength of a steel would be none of its modulus, nor a bar's length of a skin's.
    "E far out of range": ((("material.E", 1e308),), "[material] E", ("1e+308",), '206000 or "206 GPa"'),
    "E in quotes": ((("material.E", "206"),), "[material] E", ("no unit",), '206000 or "206 GPa"'),
    "E as a force": ((("material.E", "206 kN"),), "[material] E", ("206 kN",), '206000 or "206 GPa"'),
    "nu as text": ((("material.nu", "x"),), "[material] nu", ("x",), "0.2 to 0.4, such as 0.3"),
    "a skin a kilometre deep": ((("material.decarburised_depth", 1e6),), "decarburised_depth", ("1e+06",), "0.1 (mm)"),
    "residual stress as text": (
        (("material.peening", {"kind": "shot", "residual": "high"}),),
        "[material] peening, residual",
        ("high",),
        "-500.0 (MPa, negative",
    ),
    "negative E": ((("material.E", -206_000),), "[material] E", ("-206000",), "above 0"),
    "yield above tensile": ((("material.yield_strength", 1400),), "[material] yield", ("1400", "1350"), "tensile"),
    "bent is neither": ((("material.bent", "hot"),), "[material] bent", ("hot",), "'before-hardening'"),
    "bore of a solid bar": ((("material.bore_surface", "as-drawn"),), "[material] bore_surface", ("bore",), "tube"),
    "tube that does not say when it was bent": (TUBE[:1], "[material] bent", ("tube",), "after-hardening"),
    # section
    "wall as text": ((*TUBE, ("section.wall", "thin")), "[section] wall", ("thin",), "3.5 (mm)"),
    "zero diameter": ((("section.diameter", 0),), "[section] diameter", ("0 mm",), "above 0"),
    "negative diameter": ((("section.diameter", -24),), "[section] diameter", ("-24 mm",), "above 0"),
    "diameter in metres": ((("section.diameter", 0.024),), "[section] diameter", ("0.024 mm",), "in mm"),
    "unknown shape": ((("section.shape", "square"),), "[section] shape", ("square",), "'tube'"),
    "wall of a solid bar": ((("section.wall", 4.0),), "[section] wall", ("round",), '"tube"'),
    "tube without wall": ((("section.shape", "tube"),), "[section] wall", ("wall",), "wall = 4.0"),
    "wall too thick": ((*TUBE, ("section.wall", 12.0)), "[section] wall", ("12", "24"), "below 12 mm"),
    # centreline
    "no centreline": ((("centreline", DELETE),), "[centreline]", ("no centreline",), "[arms]"),
    "two centrelines": ((("arms", ARMS),), "[centreline] and [arms]", ("one centreline",), "exactly one"),
    "one point": ((("centreline.points", POINTS[:1]),), "[centreline]", ("two points",), "right tip"),
    "a point in a plane": ((("centreline.points.1", [0, 500]),), "[centreline] points", ("point 2",), "[x, y, z]"),
    "points that coincide": ((("centreline.points.2", POINTS[1]),), "[centreline]", ("2 and 3",), "each point once"),
    "doubling back": (
        (("centreline.points", [[0, -500, 0], [0, 500, 0], [0, 300, 0]]), ("centreline.bend_radius", 40)),
        "[centreline]",
        ("doubles back", "point 2"),
        "hairpin",
    ),
    "arcs that overlap": (
        (
            ("centreline.points", [[-700, -500, 0], *POINTS[1:3], [-700, 500, 0]]),
            ("centreline.bend_radius", [600, 500]),
        ),
        "[centreline]",
        ("bend 1", "bend 2", "600 + 500", "1000"),
        "at most 500 mm",
    ),
    "arc past the tip": ((("centreline.bend_radius", 260),), "[centreline]", ("past the tip", "260", "250"), "250 mm"),
    "radii too many": ((("centreline.bend_radius", [48, 48, 48]),), "[centreline]", ("3 radii", "2"), "or 2"),
    "no radius": ((("centreline.bend_radius", DELETE),), "[centreline] bend_radius", ("missing",), "48.0"),
    "negative radius": ((("centreline.bend_radius", [48, -4]),), "[centreline] bend_radius", ("-4",), "above 0"),
    "radius below the bar's": (
        (("centreline.bend_radius", 12),),
        "[centreline] bend_radius",
        ("bend 1", "12 mm"),
        "above 12 mm",
    ),
    "tips exchanged": ((("centreline.points", POINTS[::-1]),), "[centreline] points", ("-500",), "other way round"),
    "arms without width": (arms(width=0), "[arms] width", ("0 mm",), "above 0"),
    "arms without length": (arms(length=0), "[arms]", ("length = 0",), "rearward"),
    "arms that cross": (arms(splay=70), "[arms]", ("splay", "cross"), "splay below 63.4"),
    "crank inside out": (arms(crank={"z": 30, "inner": 420, "outer": 300}), "[arms]", ("420", "300"), "inner < outer"),
    "crank into the arms": (arms(crank={"z": 30, "inner": 420, "outer": 510}), "[arms]", ("510", "500"), "outer < 500"),
    "crank without outer": (arms(crank={"z": 30, "inner": 420}), "[arms] crank, outer", ("missing",), "outer = "),
    "row of three": (
        bends(rows=[[200, 0, 90], [200]]),
        "[bends] rows",
        ("row 1",),
        "[length, rotation, angle, radius]",
    ),
    "no last row": (bends(rows=BENDS["rows"][:2]), "[bends] rows, row 2", ("last row",), "[length] in the last"),
    "length alone in between": (bends(rows=[[200], [200]]), "[bends] rows, row 1", ("before the last",), "[length]"),
    "negative straight": (bends(rows=[[-2, 0, 90, 48], [9]]), "[bends] rows, row 1", ("-2 mm", "overlap"), "0 or more"),
    "negative angle": (bends(rows=[[200, 0, -90, 48], [200]]), "[bends] rows, row 1", ("-90",), "rotate by 180"),
    "rotation in the first row": (bends(rows=[[9, 5, 90, 48], [9]]), "[bends] rows, row 1", ("5 deg",), "towards"),
    "zero radius in a row": (bends(rows=[[9, 0, 90, 0], [9]]), "[bends] rows, row 1", ("radius 0",), "above zero"),
    "first bend along the bar": (
        bends(first_bend_towards=[2, 0, 0]),
        "[bends] first_bend_towards",
        ("plane",),
        "across",
    ),
    "no direction of the first straight": (bends(direction=[0, 0, 0]), "[bends] direction", ("zero",), "[x, y, z]"),
    "start tip in the middle": (bends(start_tip="middle"), "[bends] start_tip", ("middle",), "'left'"),
    "rows from the wrong tip": (bends(start_tip="left"), "[bends]", ("right tip",), "start_tip"),
    # ends
    "hole beyond the tip": ((("ends.holes.0.from_tip", -5),), "[ends] holes 1, from_tip", ("-5 mm",), "0 or more"),
    "hole beyond the middle": ((("ends.holes.1.from_tip", 740),), "[ends] holes 2, from_tip", ("740",), "729"),
    "two holes of one name": ((("ends.holes.1.name", "1"),), "[ends] holes 2, name", ('"1"',), "own name"),
    "hole name as a number": ((("ends.holes.0.name", 1),), "[ends] holes 1, name", ("1",), '"1"'),
    "hole wider than the bar": ((("ends.holes.0.diameter", 24),), "[ends] holes 1, diameter", ("24",), "less than 24"),
    "hole wider than the flat": ((*flat(), ("ends.holes.0.diameter", 40)), "[ends] holes 1", ("flat",), "than 40 mm"),
    "holes that run together": (
        (("ends.holes.0.diameter", 12), ("ends.holes.1", {"name": "2", "from_tip": 30, "diameter": 12})),
        "[ends] holes",
        ("10 mm apart", "run into"),
        "more than 12 mm",
    ),
    "left holes of one side beyond it": (
        (("ends.left", {"holes": [{"name": "1", "from_tip": 800}]}),),
        "[ends.left] holes 1, from_tip",
        ("800",),
        "729",
    ),
    "flat into the bend": (flat(length=210), "[ends] flat, length", ("210", "bend"), "at most 202"),
    "flat over half a straight bar": (
        (("centreline", {"points": [[0, -700, 0], [0, 700, 0]]}), *flat(length=720, normal=[1, 0, 0])),
        "[ends] flat, length",
        ("720", "middle"),
        "at most 700",
    ),
    "flat all transition": (flat(transition=95), "[ends] flat, transition", ("95",), "less than 95"),
    "flat along the bar": (flat(normal=[1, 0, 0]), "[ends] flat, normal", ("along",), "across the bar"),
    "flat without thickness": (flat(thickness=DELETE), "[ends] flat, thickness", ("no thickness",), "thickness = "),
    "flat of a slipped point": (
        flat(width=400),
        "[ends] flat, width",
        ("400 mm is 16.7 times",),
        "at most 10 diameters",
    ),
    "flat on edge": (flat(thickness=50), "[ends] flat, thickness", ("50", "40"), "below width"),
    "pressed solid bar": (flat(kind="pressed"), "[ends] flat, kind", ("solid",), "forged"),
    "pressed to less than a wall": (
        (*TUBE, *flat(kind="pressed", thickness=3)),
        "[ends] flat, thickness",
        ("3 mm",),
        "8 mm",
    ),
    "ends far stronger than the bar": ((("ends.strength_scale", 2),), "[ends] strength_scale", ("2",), "below 1"),
    # mounts
    "one mount": ((("mounts", [MOUNT]),), "[[mounts]]", ("1 mount",), "two"),
    "mount longer than the bar": (
        (("mounts.1.length", 2e3),),
        "[[mounts]] 2, length",
        ("mount of 2000",),
        "such as 40",
    ),
    "mount off the bar": ((("mounts.1.from_middle", 800),), "[[mounts]] 2, from_middle", ("800", "729"), "709"),
    "mount over the tip": ((("mounts.1.from_middle", 720),), "[[mounts]] 2, from_middle", ("length of 40",), "709"),
    "mount without place": ((("mounts.1.from_middle", DELETE),), "[[mounts]] 2", ("neither",), "from_middle = "),
    "mount at two places": ((("mounts.1.y", 380),), "[[mounts]] 2", ("both",), "one of them"),
    "mount at a y off the bar": (
        (("mounts.1", {"y": 900, "radial_stiffness": 5000}),),
        "[[mounts]] 2, y",
        ("900", "does not cross"),
        "-500 and 500",
    ),
    "mount at a y crossed more than once": (
        (
            ("centreline.points", [[-300, -400, 0], [0, -500, 0], [0, 500, 0], [-300, 400, 0]]),
            ("mounts.1", {"y": 450, "radial_stiffness": 5000}),
        ),
        "[[mounts]] 2, y",
        ("2 times",),
        "from_middle = ",
    ),
    "mount at the y of an arm": (
        (("mounts.1", {"y": 500, "radial_stiffness": 5000}),),
        "[[mounts]] 2, y",
        ("500", "runs along"),
        "from_middle",
    ),
    "mounts at one place": ((("mounts.1.from_middle", -380),), "[[mounts]] 2", ("same place", "1 and 2"), "own place"),
    "mounts that overlap": ((("mounts.1.from_middle", -350),), "[[mounts]] 2", ("overlap", "30 mm"), "at least 40"),
    "no axial stiffness": ((("mounts.0.axial_stiffness", 0),), "[[mounts]] axial_stiffness", ("slide",), "above 0"),
    "no radial stiffness": (
        (("mounts.0.radial_stiffness", 0), ("mounts.1.radial_stiffness", 0)),
        "[[mounts]] radial_stiffness",
        ("nothing holds",),
        "two mounts",
    ),
    "radial stiffness at one point": (
        (("mounts.0", {**MOUNT, "length": 0}), ("mounts.1.radial_stiffness", 0)),
        "[[mounts]] radial_stiffness",
        ("only one",),
        "two mounts",
    ),
    "negative stiffness": (
        (("mounts.0.radial_stiffness", -1),),
        "[[mounts]] 1, radial_stiffness",
        ("-1",),
        "0 or more",
    ),
    "bracket of no stiffness": ((("mounts.0.bracket_stiffness", 0),), "[[mounts]] 1, bracket", ("0 N/mm",), "above 0"),
    # links
    "link of no length": ((("links.length", 0),), "[links] length", ("0 mm",), "above 0"),
    "link that points nowhere": ((("links.direction", [0, 0, 0]),), "[links] direction", ("zero",), "any length"),
    "link both ways": ((("links.pickup", [-230, 500, -140]),), "[links]", ("pickup and", "length"), "either"),
    "link neither way": ((("links", {"axial_stiffness": 1e4}),), "[links] length", ("no pickup",), "pickup = "),
    "link without direction": ((("links.direction", DELETE),), "[links] direction", ("no direction",), "[0, 0, -1]"),
    "link square to its travel": (
        (("links.direction", [0, 1, 0]),),
        "[links] direction",
        ("square",),
        "[0.0, 0.0, 1.0]",
    ),
    "pickup on the joint": ((("links", {"pickup": [-230, 500, 0]}),), "pickup", ("joint centre",), "far end"),
    "pickup on the joint of one side": (
        (("links.right", {"pickup": [-230, -500, 0]}),),
        "[links.right] pickup",
        ('hole "1"',),
        "far end",
    ),
    "link shorter than its error": ((("links.length_error", -140),), "[links] length_error", ("nothing",), "small"),
    # travel, duty, targets
    "travel of nothing": ((("travel.pickup", 0),), "[travel] pickup", ("0 mm",), "above 0"),
    "negative travel": ((("travel.pickup", -40),), "[travel] pickup", ("-40 mm",), "above 0"),
    "travel not given": ((("travel.pickup", DELETE),), "[travel] pickup", ("no travel",), "pickup = 40.0"),
    "up alone": ((("travel", {"up": 40, "direction": [0, 0, 1]}),), "[travel]", ("up",), "down = "),
    "two travels": ((("travel.wheel", 65), ("travel.motion_ratio", 0.6)), "[travel]", ("both",), "pickup = "),
    "wheel without ratio": (
        (("travel", {"wheel": 65, "direction": [0, 0, 1]}),),
        "[travel] motion_ratio",
        ("without motion_ratio",),
        "pickup travel / wheel travel",
    ),
    "travel to nowhere": ((("travel.direction", [0, 0, 0]),), "[travel] direction", ("zero",), "any length"),
    "ratio of one": ((("duty.ratio", 1.0),), "[duty] ratio", ("1",), "ratio < 1"),
    "ratio below minus one": ((("duty.ratio", -1.5),), "[duty] ratio", ("-1.5",), "-1 <= ratio"),
    "no cycles": ((("duty.target_cycles", 0),), "[duty] target_cycles", ("0",), "above 0"),
    "blocks without a block": ((("duty.blocks", []),), "[duty] blocks", ("empty",), "cycles = "),
    "block without cycles": ((("duty.blocks", [{"pickup": 40}]),), "[duty] blocks 1, cycles", ("missing",), "cycles ="),
    "block of no travel": (
        (("duty.blocks", [{"pickup": 0, "cycles": 10}]),),
        "[duty] blocks 1, pickup",
        ("0 mm",),
        "above 0",
    ),
    "survival of all": ((("targets.survival", 1.0),), "[targets] survival", ("1",), "< 1"),
    "survival in percent": ((("targets.survival", 90),), "[targets] survival", ("90",), "0.9"),
    "negative margin": ((("targets.yield_margin", -0.1),), "[targets] yield_margin", ("-0.1",), "0 or more"),
    "safety factor of nothing": (
        (("targets.goodman_safety_factor", 0),),
        "[targets] goodman_safety_factor",
        ("0",),
        "above 0",
    ),
}


@pytest.mark.parametrize("case", REFUSALS)
def test_a_broken_bar_is_refused_with_place_value_and_remedy(case: str) -> None:
    changes, where, problem, remedy = REFUSALS[case]
    with pytest.raises(InputError) as caught:
        bar_from_dict(changed(*changes), source="geometries/broken.toml")
    error = caught.value
    assert error.file == "geometries/broken.toml"
    assert error.where is not None and where in error.where
    for fragment in problem:
        assert fragment in error.problem
    assert error.expected is not None and remedy in error.expected
    assert str(error).startswith("geometries/broken.toml: ") and "Right would be: " in str(error)
    assert "\n" not in str(error) and ".." not in str(error).replace("...", "")


def test_the_bar_they_are_broken_from_is_whole() -> None:
    assert bar_from_dict(changed()).warnings == ()
    for whole in (bends(), arms(), flat(), TUBE, (*TUBE, *flat(kind="pressed", thickness=8, width=34))):
        bar_from_dict(changed(*whole))


def test_a_further_mistake_is_counted_and_placed() -> None:
    with pytest.raises(InputError) as caught:
        bar_from_dict(changed(("section.diameter", -1), ("travel.pickup", "far")))
    assert "1 more to mend: [travel] pickup" in caught.value.problem


@pytest.mark.parametrize(
    ("content", "problem", "remedy"),
    [
        (b"", "empty", "format = 1"),
        (b" \n\n", "empty", "format = 1"),
        (b"format = 1\nname = 'x\n", 'Expected "\'"', "text in quotes"),
        (b"format = 1\ndiameter = 24,5\n", "line 2", "decimals with a point"),
        (b"format = 1\nformat = 1\n", "line 2", "each table and key once"),
        (b"[mounts]\ny = 1\n[mounts]\ny = 2\n", "line 3", "[[mounts]]"),
        (b'format = 1\nname = "\xfcber"\n', "line 2", "UTF-8"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not UTF-8", "UTF-8"),
    ],
)
def test_a_file_that_is_no_toml_is_refused_with_its_line(tmp_path, content: bytes, problem: str, remedy: str) -> None:
    path = tmp_path / "bar.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_bar(path)
    assert caught.value.file == str(path)
    assert problem in caught.value.problem
    assert caught.value.expected is not None and remedy in caught.value.expected


def test_a_missing_file_and_a_folder_are_refused(tmp_path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_bar(tmp_path / "none.toml")
    with pytest.raises(InputError, match="folder"):
        read_bar(tmp_path)


@pytest.mark.parametrize(
    ("key", "called"), [("material.steel", "grade"), ("material.finish", "surface"), ("section.OD", "diameter")]
)
def test_a_key_by_another_word_of_the_trade_is_told_its_own(key: str, called: str) -> None:
    """By its letters alone "steel" was told to be "stress_relieved"."""
    with pytest.raises(InputError, match=f'"{called}", as it is called here'):
        bar_from_dict(changed((key, "51CrV4")))
