"""Each rule of the review, planted in a bar that has none of it: number, limit, severity, override."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from barfem.cli.main import main
from barfem.model.data_paths import geometries_dir
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from barfem.study.bands import bands_of
from barfem.vendor.keep_out import nearest_to_bodies
from barfem.vendor.maker_tables import keep_out_of
from barfem.vendor.orientation import orientation_of
from barfem.vendor.review import review_bar
from barfem.vendor.review_making import making
from barfem.vendor.review_paper import on_paper
from barfem.vendor.rules import RULES, rules_with
from tests.model.bar_data import FLAT, U_BAR

PAPER = {
    "number": "T-1", "revision": "A", "company": "c", "drawn_by": "d", "approved_by": "a", "date": "2026-11-28",
    "coating": "paint", "marking": "T-1 RIGHT", "mark_at": "right", "hardness": "43-48 HRC", "peening": "0.4 mm A",
    "general_tolerance": "ISO 2768-1 m", "profile_tolerance": 3.0, "tip_mismatch": 2.0,
    "notes": ["decarburisation at most 0.1 mm"],
}  # fmt: skip


def tables(**changes: Any) -> dict[str, Any]:
    """The plain U with flats, everything on its drawing said."""
    out = deepcopy(U_BAR)
    out["ends"] = {"holes": [{"name": "1", "from_tip": 30.0, "diameter": 12.0}], "flat": {**FLAT, "normal": [0, 0, 1]}}
    out["drawing"] = dict(PAPER)
    for key, value in changes.items():
        table, _, name = key.partition("__")
        if name:
            out.setdefault(table, {})[name] = value
        else:
            out[table] = value
    return out


def found(data: dict[str, Any]) -> dict[str, Any]:
    """Findings by rule, the first of each."""
    bar = bar_from_dict(data)
    rules = rules_with(data.get("review", {}).get("limits", {}))
    out: dict[str, Any] = {}
    for each in (*making(bar, rules), *on_paper(bar, rules)):
        out.setdefault(each.rule, each)
    return out


def test_a_bar_with_everything_said_has_notes_alone():
    assert {each.severity for each in found(tables()).values()} == {"note"}


def mounts(middle: float, length: float = 40.0) -> list[dict[str, float]]:
    return [
        {"from_middle": side * middle, "radial_stiffness": 5000.0, "axial_stiffness": 200.0, "length": length}
        for side in (-1.0, 1.0)
    ]


# The arcs of the U begin 452 mm from the middle.
PLANTED = {
    "bushing over the arc": (tables(mounts=mounts(440.0)), "bushing_gap", "stop", 452.0 - 460.0),
    "bushing near the arc": (tables(mounts=mounts(430.0)), "bushing_gap", "ask", 2.0),
    "sharp cold bend": (
        tables(centreline__bend_radius=33.6, bending={"process": "cold"}), "radius_cold_solid", "stop", 1.4),
    "tight cold bend": (
        tables(centreline__bend_radius=43.2, bending={"process": "cold"}), "radius_cold_solid", "ask", 1.8),
    "hot bend": (tables(centreline__bend_radius=30.0), "radius_hot", "ask", 1.25),
    "the maker's own least": (
        tables(bending={"min_radius_over_diameter": 2.5}), "radius_hot", "stop", 2.0),
    "unknown elongation": (tables(bending={"process": "cold"}), "fibre_strain", "ask", 0.25),
    "hole near the end": (
        tables(ends__holes=[{"name": "1", "from_tip": 17.0, "diameter": 12.0}]), "hole_to_end", "stop", 11 / 12),
    "hole near the side": (
        tables(ends__holes=[{"name": "1", "from_tip": 40.0, "diameter": 18.0}]), "hole_to_side", "stop", 11 / 18),
    "holes near each other": (
        tables(ends__holes=[{"name": n, "from_tip": t, "diameter": 12.0} for n, t in (("1", 30.0), ("2", 52.0))]),
        "hole_to_hole", "ask", 22 / 12),
    "hole in the transition": (
        tables(ends__holes=[{"name": "1", "from_tip": 66.0, "diameter": 12.0}]), "hole_in_flat", "stop", -2.0),
    "soft window": (tables(drawing={**PAPER, "hardness": "36-40 HRC"}), "hardness", "stop", None),
    "wide window": (tables(drawing={**PAPER, "hardness": "43-50 HRC"}), "hardness_window", "ask", 7.0),
    "plated": (tables(drawing={**PAPER, "coating": "electroplated zinc"}), "hydrogen", "ask", 1350.0),
    "two sideways stops": (
        tables(mounts=[{**each, "axial_stiffness": 2000.0} for each in mounts(380.0)]), "sideways_apart", "ask", 760.0),
}  # fmt: skip


@pytest.mark.parametrize("fault", PLANTED)
def test_planted_faults_are_found_with_their_number(fault):
    data, rule, severity, number = PLANTED[fault]
    each = found(data)[rule]
    assert each.severity == severity and each.source
    if number is not None:
        assert each.number == pytest.approx(number, abs=1e-6)


@pytest.mark.parametrize("field", ["hardness", "marking", "company", "general_tolerance", "profile_tolerance", "notes"])
def test_what_the_drawing_leaves_open_is_asked(field):
    paper = {key: value for key, value in PAPER.items() if key != field}
    asked = [each for each in found(tables(drawing=paper)).values() if each.severity == "ask"]
    assert asked, field


@pytest.mark.parametrize(
    ("table", "key", "wrong", "right"),
    [
        ("drawing", "profile_tolerance", 0.003, 3.0),
        ("drawing", "tip_mismatch", 2000.0, 2.0),
        ("drawing", "clocking_tolerance", 60.0, 1.0),
        ("bending", "clamp_length", 1.7, 44.0),
        ("bending", "end_allowance", 5000.0, 0.0),
    ],
)
def test_a_number_for_the_maker_that_slipped_by_its_unit_is_asked_about(table, key, wrong, right):
    def asked(value):
        given = {"drawing": PAPER, table: {**(PAPER if table == "drawing" else {}), key: value}}
        rule = found(tables(**given)).get("tolerances")
        return rule and rule.what

    assert asked(right) is None
    assert asked(wrong).startswith(f"{key} {wrong:g}: ") and "which unit" in asked(wrong)


def test_tube_bends_by_the_trade_formula():
    """24 x 4 at R 60: 4 x 60 / 72 = 3.333 mm outside (trade formula page): 0.833 of the wall, and R/D 2.5 passes."""
    data = tables(section={"shape": "tube", "diameter": 24.0, "wall": 4.0}, centreline__bend_radius=60.0)
    data["material"] = {**data["material"], "bent": "before-hardening"}
    assert "wall_outside" not in found(data)
    data["centreline"]["bend_radius"] = 40.0  # 40 / 52 = 0.769
    each = found(data)["wall_outside"]
    assert each.severity == "ask" and each.number == pytest.approx(40.0 / 52.0)
    # inside by the fibre at the wall's middle, as the check has it: 4 x 40 / 30; 4 x 52 / 40 was no rule's
    assert "3.08 mm outside, 5.33 mm inside" in each.what


def test_limits_are_overridden_and_wrong_ones_refused():
    data = tables(mounts=mounts(430.0), review={"limits": {"bushing_gap": {"ask": 1.0}}})
    assert "bushing_gap" not in found(data)
    for limits in ({"bushing_gapp": 1.0}, {"bushing_gap": "far"}, {"orientation": 3.0}, {"bushing_gap": {"halt": 1}}):
        with pytest.raises(InputError, match=r"\[review\] limits"):
            rules_with(limits)


@pytest.mark.parametrize(
    ("key", "given", "limit"),
    [
        ("bushing_gap", "0.25 in", 6.35), ("ovality", "6 %", 6.0), ("holes_parallel", "0.02 rad", 1.1459),
        ("hydrogen", "150 ksi", 1034.2), ("hole_to_end", 2, 2.0), ("hardness_window", 5.0, 5.0),
        ("ovality", False, None),
    ],
)  # fmt: skip
def test_limits_may_carry_the_unit_of_their_rule(key, given, limit):
    assert rules_with({key: {"ask": given}})[key].ask == (None if limit is None else pytest.approx(limit, rel=1e-4))


@pytest.mark.parametrize("given", ["8 mm", "8", "x", True, [8], float("nan"), float("inf")])
def test_a_wrong_limit_names_its_file_and_what_would_be_right(given):
    with pytest.raises(InputError) as caught:
        bar_from_dict(tables(review={"limits": {"ovality": {"ask": given}}}), source="front.toml")
    told = str(caught.value)
    assert told.startswith("front.toml: [review] limits: ovality: ask = ")
    assert (
        "Right would be: ovality = { stop = false, ask = 8.0 }, numbers of 0 or more in %, or false for none." in told
    )


@pytest.mark.parametrize(
    ("given", "told", "right"),
    [
        ({"bushing_gap": -5}, "bushing_gap: ask = -5 is below 0", "bushing_gap = { stop = 0.0, ask = 5.0 }"),
        ({"radius": {"stop": -1.5}}, "radius_cold_solid: stop = -1.5 is below 0", "{ stop = 1.5, ask = 2.0 }"),
        ({"ovality": {"ask": "-3 %"}}, "ovality: ask = '-3 %' is below 0", "numbers of 0 or more in %"),
    ],
)  # fmt: skip
def test_a_limit_below_zero_is_refused(given, told, right):
    """Below 0 a least gap, radius or share lets everything through, and a greatest one nothing."""
    with pytest.raises(InputError) as caught:
        bar_from_dict(tables(review={"limits": given}), source="front.toml")
    assert str(caught.value).startswith(f"front.toml: [review] limits: {told}")
    assert right in str(caught.value)


@pytest.mark.parametrize(
    ("key", "given", "told"),
    [
        ("diameter", 20.0, "a deviation of 20 mm makes another bar and is no tolerance. Right would be: at most 12 mm"),
        ("wall", 0.1, "this bar has no wall that could vary"),
    ],
)  # fmt: skip
def test_the_review_refuses_the_bands_that_the_study_of_tolerances_refuses(key, given, told):
    bar = bar_from_dict(tables(tolerances={key: given}), source="front.toml")
    said = []
    for go in (review_bar, bands_of):
        with pytest.raises(InputError) as caught:
            go(bar)
        said.append(str(caught.value))
    assert said[0] == said[1]
    assert said[0].startswith(f"front.toml: [tolerances] {key}: {told}")


@pytest.mark.parametrize(("window", "told"), [("45 HRC", "0.0"), ("45-46 HRC", "1.0"), ("43-46 HRC", None)])
def test_a_hardness_that_no_furnace_holds_is_asked_about(window, told):
    """It was ordered without a word, and of the bars that came each was too soft or too hard."""
    each = found(tables(drawing={**PAPER, "hardness": window})).get("hardness_window")
    if told is None:
        assert each is None
    else:
        assert each.severity == "ask" and f"{window} is {told} HRC wide" in each.what


@pytest.mark.parametrize("command", ["check", "drawing", "review", "package", "bends", "tolerance", "inspect", "size"])
@pytest.mark.parametrize(
    ("table", "told"),
    [
        ('[review]\nlimits = { radius = { stop = "tight" } }', "[review] limits: radius_cold_solid: stop = 'tight'"),
        ("[review]\nlimits = { bushing_gap = -5 }", "[review] limits: bushing_gap: ask = -5 is below 0"),
        ('[tolerances]\ndiameter = "h99"', '[tolerances] diameter: there is no table of diameters called "h99"'),
        ("[tolerances]\nbend_angle = 60", "[tolerances] bend_angle: a deviation of 60 deg makes another bar"),
    ],
)
def test_every_command_refuses_what_is_no_limit_and_no_band(capsys, tmp_path, command, table, told):
    """The check and the drawing took them without a word; the review and the package, sent next, refused them."""
    path = tmp_path / "front.toml"
    path.write_text((geometries_dir() / "pickup-front-solid.toml").read_text("utf-8") + "\n" + table + "\n", "utf-8")
    more = {"drawing": ["--out", str(tmp_path / "d.svg")], "package": ["--out", str(tmp_path / "to-the-bender")]}
    more |= {"inspect": ["--lot-size", "60"], "size": ["--rate", "30", "--hole", "soft"]}
    assert main([command, str(path), *more.get(command, [])]) == 2
    said = capsys.readouterr().err
    assert f"front.toml: {told}" in said and "Right would be" in said
    assert [each.name for each in tmp_path.iterdir()] == ["front.toml"]


def test_the_review_takes_a_bar_that_only_a_default_table_does_not_reach():
    """90 mm is beyond the tables of bright bars. That is for the study of tolerances: the file says nothing of it."""
    data = tables(section={"shape": "round", "diameter": 90.0}, centreline__bend_radius=135.0)
    data["ends"]["flat"] |= {"width": 120.0, "thickness": 60.0}
    bar = bar_from_dict(data)
    with pytest.raises(InputError, match="outside the table"):
        bands_of(bar)
    assert review_bar(bar).findings


def points(*corners: list[float], radius: float = 48.0, **more: Any) -> Any:
    return bar_from_dict(tables(centreline={"points": list(corners), "bend_radius": radius}, **more))


def test_orientation_of_known_shapes():
    """A flat U with vertical holes turns over onto itself and has no other hand. Tips of unequal height leave only the
    mirror plane of the car to a cranked one. A Z in space is handed and turns end for end onto itself."""
    flat = orientation_of(bar_from_dict(tables()))
    assert flat.two_fold and not flat.handed
    cranked = points(
        [-250, -500, 0], [0, -500, 0], [0, -200, 0], [0, -100, 40], [0, 100, 40], [0, 200, 0], [0, 500, 0],
        [-250, 500, 0],
    )  # fmt: skip
    found = orientation_of(cranked)
    assert not found.two_fold and not found.handed and found.can_be_turned
    twisted = points([-250, -500, 30], [0, -500, 0], [0, 500, 0], [-250, 500, -30], ends__flat=None)
    found = orientation_of(twisted)
    assert found.two_fold and found.handed
    uneven = points([-250, -500, 0], [0, -500, 0], [0, 500, 0], [-280, 500, 0])
    found = orientation_of(uneven)
    assert not found.two_fold and not found.handed  # planar: its own plane mirrors it
    # 30 mm longer on one side: the middle of the length, and the mounts with it, are 15 mm off, the turned bar 30 mm
    assert found.can_be_turned and found.turned_reach_mm == pytest.approx(30.0 * 2**0.5, abs=1.0)


def test_distance_from_bodies_by_hand():
    """The middle of the U runs along x = 0, z = 0, radius 12."""
    data = tables(
        keep_out={
            "boxes": [{"name": "box", "low": [20, -50, -10], "high": [80, 50, 10]}],
            "spheres": [{"name": "ball", "centre": [0, 0, 50], "radius": 30}],
            "cylinders": [{"name": "rod", "from": [-40, -100, 30], "to": [40, -100, 30], "radius": 25}],
            "gap": 10.0,
        }
    )
    bar = bar_from_dict(data)
    stations = np.linspace(0.0, bar.centreline.length_mm, 2001)
    line, _ = bar.centreline.evaluate(stations)
    near = nearest_to_bodies(
        bar, keep_out_of(bar), points_mm=line[None], stations_mm=stations, names=[("roll", "rest")]
    )
    assert {each.name: round(each.gap_mm, 3) for each in near} == {"box": 8.0, "ball": 8.0, "rod": -7.0}


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (
            'boxes = [{ name = "sump", low = [0, 0, 10], high = [9, 9, 0] }]',
            "high: z ends at 0 mm, below its start of 10 mm",
        ),
        ('cylinders = [{ name = "shaft", from = [1, 2, 3], to = [1, 2, 3], radius = 5 }]', "from and to are one place"),
        (
            'cylinders = [{ name = "shaft", from = [1, 2, 3], start = [1, 2, 3], to = [9, 2, 3], radius = 5 }]',
            "[keep_out] cylinders 1: from and start are both given",
        ),
    ],
)
def test_a_body_that_holds_nothing_is_refused(body, says, tmp_path, capsys):
    """Everything keeps clear of a box turned inside out: the review would pass whatever stands there."""
    path = tmp_path / "bar.toml"
    text = Path("geometries/pickup-front-solid.toml").read_text(encoding="utf-8")
    path.write_text(f"{text}\n[keep_out]\n{body}\n", encoding="utf-8")
    assert main(["review", str(path)]) == 2
    assert says in capsys.readouterr().err


def test_the_whole_review_of_a_bar_in_its_way(tmp_path, capsys):
    """A ball on the arm's way up: clear at rest, met in the sweep. The command says so and ends with 1."""
    text = Path("geometries/pickup-front-solid.toml").read_text(encoding="utf-8")
    path = tmp_path / "bar.toml"
    # 20 mm above the skin of the arm near its hole, which goes up by 24 mm
    ball = '[keep_out]\nspheres = [{ name = "ball", centre = [-351.3, -541.5, 61.0], radius = 20 }]\n'
    path.write_text(text + "\n" + ball, encoding="utf-8")
    assert main(["review", str(path), "--json", str(tmp_path / "r.json")]) == 1
    data = json.loads((tmp_path / "r.json").read_text())
    met = [each for each in data["findings"] if each["rule"] == "keep_out"]
    assert [each["severity"] for each in met] == ["stop"]
    # Its end goes up on one side at full travel and on the other at the cycle's other end.
    assert "full travel" in met[0]["what"] or "other end" in met[0]["what"]
    assert "STOP" in capsys.readouterr().out
    assert set(data["rules"]) == set(RULES)


def test_a_hole_setting_that_fails_stops():
    review = review_bar(read_bar("geometries/pickup-rear-unequal.toml"))
    assert [each for each in review.stops if each.rule == "stress"]


def test_the_printed_review_has_ordinary_spaces_within_its_numbers(capsys):
    """260 000 cycles, with the space that every screen and every maker's editor has."""
    assert main(["review", str(Path(__file__).parents[2] / "geometries" / "pickup-rear-tube.toml")]) == 1
    text = capsys.readouterr().out
    assert "000 cycles" in text and not [letter for letter in text if "\ue000" <= letter <= "\uf8ff"]


def test_a_note_answers_along_what_the_holes_of_round_ends_are_drilled():
    """Two holes square to each other through a round end were both to the drawing, and one bar could not be fitted."""
    round_ends = {"holes": [{"name": "1", "from_tip": 30.0, "diameter": 8.0}]}
    asked = found(tables(ends=round_ends))["hole_axis"]
    assert (asked.severity, asked.where) == ("ask", "right end and left end")
    noted = [*PAPER["notes"], "Hole axes across the arm, level as fitted."]
    assert "hole_axis" not in found(tables(ends=round_ends, drawing={**PAPER, "notes": noted}))
    assert "hole_axis" not in found(tables(ends={"holes": [{"name": "1", "from_tip": 30.0}]}))  # none is drilled
