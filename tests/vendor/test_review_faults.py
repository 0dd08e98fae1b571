"""Each rule of the review that no other test plants: a fault of known size, its number worked out beside it, and the
same bar without it, which the rule does not accuse."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from barfem.check.api import check_bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.solve.beam import all_settings
from barfem.vendor.review import review_bar
from barfem.vendor.review_making import making
from barfem.vendor.review_use import in_use
from barfem.vendor.rules import RULES
from tests.model.bar_data import FLAT, U_BAR, changed
from tests.vendor.test_review import PAPER, PLANTED, found, tables

COLD = {"process": "cold"}


def tube(**changes: Any) -> dict[str, Any]:
    """The plain U as a tube of 24 x 4 that says what its flats are."""
    out = tables(**changes)
    out["section"] = {"shape": "tube", "diameter": 24.0, "wall": 4.0} | out.get("section_more", {})
    out.pop("section_more", None)
    out["material"] = {**out["material"], "bent": "before-hardening"}
    return out


def ends(**right: Any) -> dict[str, Any]:
    """Flats whose right one has a hole axis of its own."""
    holes = [{"name": "1", "from_tip": 30.0, "diameter": 12.0}]
    return {"holes": holes, "flat": {**FLAT, "normal": [0, 0, 1]}, "right": {"flat": right}}


# fault, rule, severity, number by hand
MORE = {
    # 24 mm: R 40 is 1.667 D, R 55 is 2.29 D
    "tube, sharp cold bend": (tube(centreline__bend_radius=40.0, bending=COLD), "radius_cold_tube", "stop", 40 / 24),
    "tube, tight cold bend": (tube(centreline__bend_radius=55.0, bending=COLD), "radius_cold_tube", "ask", 55 / 24),
    "tube, tight bend on a mandrel": (
        tube(centreline__bend_radius=40.0, bending={"process": "cold-mandrel"}), "radius_mandrel_tube", "ask", 40 / 24),
    "tube flattened in its bends": (tube(section_more={"ovality": 9.0}), "ovality", "ask", 9.0),
    # axes at 10 deg to each other: (0, sin 10, cos 10) against (0, 0, 1)
    "hole axes apart": (
        tables(ends=ends(normal=[0, 0.173648, 0.984808])), "holes_parallel", "note", 10.0),
    "hole axes no mirror images": (
        tables(ends=ends(normal=[0, 0.173648, 0.984808])), "holes_mirrored", "note", 10.0),
    "peened, and no word of it": (
        tables(material__surface="shot-peened", drawing={k: v for k, v in PAPER.items() if k != "peening"}),
        "peening", "ask", None),
    "round ends drilled": (
        tables(ends={"holes": [{"name": "1", "from_tip": 30.0, "diameter": 8.0}]}), "hole_axis", "ask", None),
    "decarburisation open": (tables(drawing={**PAPER, "notes": []}), "decarburisation", "ask", None),
    "which way round, unmarked": (
        tables(
            centreline__points=[[-250, -500, 0], [0, -500, 0], [0, 500, 0], [-280, 500, 0]],
            drawing={k: v for k, v in PAPER.items() if k != "marking"},
        ),
        "orientation", "ask", None),
    "an empty box": (tables(drawing={k: v for k, v in PAPER.items() if k != "company"}), "drawing", "ask", None),
    "no tolerance": (
        tables(drawing={k: v for k, v in PAPER.items() if k != "general_tolerance"}), "tolerances", "ask", None),
}  # fmt: skip


@pytest.mark.parametrize("fault", MORE)
def test_a_planted_fault_is_found_with_its_number(fault):
    data, rule, severity, number = MORE[fault]
    each = found(data)[rule]
    assert each.severity == severity and each.source and each.where
    if number is None:
        assert each.what
    else:
        assert each.number == pytest.approx(number, abs=1e-3)


@pytest.mark.parametrize("rule", sorted({rule for _, rule, _, _ in MORE.values()} - {"orientation"}))
def test_the_bar_without_the_fault_is_not_accused_of_it(rule):
    assert rule not in found(tables())


def test_strain_over_the_elongation_stops_and_most_of_it_asks():
    """24 mm on R 48: the outer fibre is strained by 24 / 96 = 25 %. Of 30 % that is 0.833, of 20 % 1.25."""
    bar = bar_from_dict(tables(bending=COLD, material__bent="after-hardening", material__stress_relieved=True))
    for elongation, severity, share in ((30.0, "ask", 25 / 30), (20.0, "stop", 25 / 20), (40.0, None, None)):
        steel = replace(bar.steel, elongation_percent=elongation)
        texts = [each for each in making(replace(bar, steel=steel), RULES) if each.rule == "fibre_strain"]
        assert {each.severity for each in texts} == ({severity} if severity else set())
        assert all(each.number == pytest.approx(share) for each in texts)


def test_what_the_reader_refuses_the_review_need_not_find():
    with pytest.raises(InputError, match="runs beyond"):
        bar_from_dict(tables(ends__flat={**FLAT, "normal": [0, 0, 1], "length": 210.0}))
    with pytest.raises(InputError, match="slide sideways"):
        bar_from_dict(tables(mounts=[{**each, "axial_stiffness": 0.0} for each in U_BAR["mounts"]]))


def test_a_straight_too_short_for_the_clamp():
    """Between the bends of R 48 there are 1000 - 2 x 48 = 904 mm: a clamp of 1000 mm has 0.904 of its length."""
    each = found(tables(bending={"clamp_length": 1000.0}))["straight_over_clamp"]
    assert (each.severity, each.number) == ("ask", pytest.approx(0.904))
    assert found(tables(bending={"clamp_length": 2000.0}))["straight_over_clamp"].severity == "stop"


def used(*changes: tuple[str, Any]) -> dict[str, Any]:
    """Findings of the whole review by rule, the worst first."""
    out: dict[str, Any] = {}
    for each in review_bar(bar_from_dict(changed(*changes))).findings:
        out.setdefault(each.rule, each)
    return out


def test_a_link_that_lies_along_its_arm():
    """At rest the arm runs along -x; a link at 15 deg to it asks, and at 90 deg does not."""
    lean = (-0.9659, 0.0, -0.2588)
    shallow = used(("links.direction", list(lean)), ("travel.pickup", 3.0))
    assert shallow["link_angle"].severity in ("ask", "stop")
    assert shallow["link_angle"].number == pytest.approx(15.0, abs=3.0)  # less what 3 mm of travel turn
    assert "link_angle" not in used(("travel.pickup", 3.0))


def test_a_joint_that_turns_too_far():
    """110 mm of travel turn 230 mm of arm by asin(110/230) = 28.6 deg; the joint comes 230 (1 - cos 28.6) = 28 mm
    nearer, by which the link of 140 mm leans asin(28/140) = 11.5 deg the other way: 40.1 deg for stiff arms, of which
    their bending takes some. At 40 mm they are 10.0 and 1.4 deg."""
    far = used(("travel.pickup", 110.0))
    assert far["joint_angle"].severity == "ask" and 28.6 < far["joint_angle"].number < 40.1
    assert "joint_angle" not in used(("travel.pickup", 40.0))


def test_a_link_that_meets_the_bar():
    """Along the arm to its root: a link of 230 mm at 5 deg over the bar comes to the middle of the U, at
    230 sin 5 = 20 mm from its axis, less 12 of the bar and 6 of the link: about 2 mm."""
    near = used(("links.direction", [0.9962, 0.0, 0.0872]), ("links.length", 230.0), ("travel.pickup", 1.0))
    assert near["link_clearance"].severity in ("ask", "stop")
    assert "link_clearance" not in used(("travel.pickup", 1.0))


def test_every_rule_has_a_planted_fault():
    """The rules' own table: whoever adds one is asked for a fault here or in test_review.py."""
    elsewhere = {
        "wall_outside", "keep_out", "stress", "fibre_strain", "straight_over_clamp", "link_angle", "joint_angle",
        "link_clearance",
    }  # fmt: skip
    # A flat that is longer than its straight, and a bar that nothing holds sideways, are refused by the reader already.
    refused = {"flat_in_straight", "sideways"}
    planted = {rule for _, rule, _, _ in (*MORE.values(), *PLANTED.values())}
    assert set(RULES) == planted | elsewhere | refused


def test_a_hole_that_cannot_follow_its_travel_is_a_stop_and_hides_no_other_finding():
    """Hole 2 beside the bend on short links: 54 mm are beyond its links' reach, at hole 1 they are not."""
    short = (
        ("ends.holes.1.from_tip", 170.0),
        ("travel.pickup", 54.0),
        ("links.length", 60.0),
        ("keep_out", {"boxes": [{"name": "sump", "low": [-60, -200, -90], "high": [120, 200, 40]}]}),
    )
    review = review_bar(bar_from_dict(changed(*short)))
    stops = {each.where: each.what for each in review.stops if each.rule == "stress"}
    assert "no equilibrium found beyond" in stops["hole 2, roll"]
    assert "no equilibrium" not in stops["hole 1, roll"]
    assert {each.rule for each in review.stops} >= {"keep_out", "stress"}


def test_a_load_case_that_is_not_judged_and_cannot_be_moved_is_a_note():
    bar = bar_from_dict(changed())
    stuck = ((all_settings(bar, cases=("parallel",))[1], "no equilibrium found beyond 3 mm."),)
    (note,) = (
        each
        for each in in_use(bar, RULES, solution=None, stuck=stuck, checked=check_bar(bar))
        if "no equilibrium" in each.what
    )
    assert (note.severity, note.where) == ("note", "hole 2, parallel")


def test_a_bar_that_roll_does_not_work_is_reviewed_and_stopped():
    opposite = ("centreline.points", [[-250, -500, 0], [0, -500, 0], [0, 500, 0], [250, 500, 0]])
    review = review_bar(bar_from_dict(changed(opposite)))
    stops = [each for each in review.stops if each.rule == "stress"]
    assert len(stops) == 2 and all("do not work the bar" in each.what for each in stops)
