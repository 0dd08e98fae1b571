"""Bars of which the bender's rows were measured, not points: from either tip, of either hand, in part, in inches."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.vendor.inspect_rows import explain_rows
from barfem.vendor.inspect_shape import Rows, walk
from barfem.vendor.part import part_of
from tests.model.bar_data import U_BAR
from tests.vendor.bars import handed_bar
from tests.vendor.lots import HEAD, judged

# From the right tip; the radii are unlike, and no row tells them.
ROWS = [[202.0, 0.0, 90.0, 40.0], [904.0, 25.0, 80.0, 60.0], [240.0]]


@pytest.fixture(autouse=True)
def no_whole_check(monkeypatch):
    monkeypatch.setattr("barfem.vendor.inspect.check_received", lambda drawn, made, *_, **__: [None] * len(made))


@pytest.fixture(scope="module")
def bar():
    tables = dict(handed_bar().tables)
    return bar_from_dict({**tables, "bends": {**tables["bends"], "rows": ROWS}})


def _text(rows, *, units="mm, N, deg, HRC", length=1.0):
    lines = [f"# barfem inspection, format 1 ; units = {units}", HEAD]
    for number, (straight, *bend) in enumerate(rows, start=1):
        values = [("length", straight / length), *zip(("rotation", "angle"), bend[:2], strict=False)]
        lines += [f"B-001,row,row {number},,,,{value:.6f},{what},," for what, value in values if value == value]
    return "\n".join(lines) + "\n"


def _rows_of(bar, start, hand):
    return [
        [row.length_mm] if row.angle_deg is None else [row.length_mm, row.rotation_deg, row.angle_deg]
        for row in part_of(bar, start_tip=start, hand=hand).rows
    ]


@pytest.mark.parametrize(
    ("start", "hand", "kinds"),
    [
        ("right", "as-drawn", []),
        ("left", "as-drawn", ["ends exchanged"]),
        ("right", "other", ["other hand"]),
        ("left", "other", ["other hand"]),
    ],
)
def test_good_rows_from_any_tip_and_of_any_hand_have_no_other_fault(bar, tmp_path, start, hand, kinds):
    (found,) = judged(bar, tmp_path, _text(_rows_of(bar, start, hand))).bars
    assert [each.kind for each in found.faults] == kinds
    assert found.tip_mismatch_mm == pytest.approx(0.0, abs=1e-3)


def test_a_bend_that_is_off_is_named(bar, tmp_path):
    rows = [ROWS[0], [904.0, 25.0, 77.5], ROWS[2]]
    (found,) = judged(bar, tmp_path, _text(rows)).bars
    assert [each.words for each in found.faults] == ["bend 2: 77.5 instead of 80.0 deg, 2.5 deg underbent"]


def test_what_was_not_measured_of_the_rows_is_said_and_form_not_judged(bar, tmp_path):
    (found,) = judged(bar, tmp_path, _text([[202.0, 0.0, 90.0], [904.0]])).bars
    (said,) = [each for each in found.missing if each.startswith("points ")]
    assert "row 2 rotation" in said and "row 3 length" in said and "not judged" in said
    assert not any("off by" in each.what for each in found.judged) and found.tip_mismatch_mm is None


def test_lengths_of_rows_have_the_unit_of_the_file(bar, tmp_path):
    inch = _text(ROWS, units="in, lbf, deg, HRC", length=25.4)
    (found,) = judged(bar, tmp_path, inch).bars
    assert not found.faults and found.tip_mismatch_mm == pytest.approx(0.0, abs=1e-3)


def test_the_first_rotation_is_none(bar, tmp_path):
    with pytest.raises(InputError, match="12 deg in row 1"):
        judged(bar, tmp_path, _text([[202.0, 12.0, 90.0], *ROWS[1:]]))


def test_points_count_before_rows_and_that_is_said(bar, tmp_path):
    from tests.vendor.lots import lot_text

    text = lot_text(bar, ["none"], seed=4) + "B-001,row,row 1,,,,250.0,length,,\n"
    (found,) = judged(bar, tmp_path, text).bars
    assert not found.faults and any("the rows are left out" in note for note in found.notes)


@pytest.mark.parametrize("drawn", [25.0, -25.0, 155.0, -155.0, 91.0])
@pytest.mark.parametrize("form", [{}, {"profile_tolerance": 3.0, "tip_mismatch": 2.0}])
def test_a_rotation_of_the_wrong_sign_is_called_that_and_is_not_bent_back(tmp_path, drawn, form):
    """It was said to be 49.8 deg too far (204.9 instead of 155.1), and sent back to be bent again: it is scrap."""
    data = {key: value for key, value in deepcopy(U_BAR).items() if key != "centreline"}
    rows = [[200.0, 0.0, 80.0, 50.0], [150.0, drawn, 30.0, 60.0], [400.0, 170.0, 25.0, 60.0], [150.0, 35.0, 78.0, 50.0]]
    data["bends"] = {"start_tip": "right", "start": [-250, -500, 0], "direction": [1, 0, 0], "rows": [*rows, [190.0]]}
    data["bends"]["first_bend_towards"] = [0, 1, 0]
    data["mounts"][0]["from_middle"], data["mounts"][1]["from_middle"] = -230.0, 230.0
    bar = bar_from_dict({**data, "drawing": form, "inspection": {"rework": True}})
    rows[1] = [150.0, -drawn + 0.6, 30.0, 60.0]
    (one,) = judged(bar, tmp_path, _text([*rows, [190.0]])).bars
    (fault,) = one.faults
    assert fault.words == f"bend 2: rotation of the wrong sign ({-drawn + 0.6:.1f} instead of {drawn:.1f} deg)"
    assert fault.measured == pytest.approx(-drawn + 0.6, abs=0.05)
    assert one.verdict == "reject"


@pytest.mark.parametrize(
    ("shares", "told"),
    [
        (
            [-0.02, -0.02],
            "all bends are underbent by about 2.0 % of their angles: springback that was not allowed for?",
        ),
        ([0.02, 0.018], "all bends are overbent by about 1.9 % of their angles: too much allowed for springback?"),
        ([-0.03, 0.0], None),
        ([-0.02, 0.02], None),
        ([-0.001, -0.001], None),
    ],
)
def test_bends_that_are_all_off_by_one_share_look_like_springback(bar, tmp_path, shares, told):
    rows = [[202.0, 0.0, 90.0 * (1.0 + shares[0])], [904.0, 25.0, 80.0 * (1.0 + shares[1])], [240.0]]
    (one,) = judged(bar, tmp_path, _text(rows)).bars
    assert [note for note in one.notes if "springback" in note] == ([] if told is None else [told])


TANGENT = (40.0, 60.0 * np.tan(np.radians(40.0)))  # lengths of the tangents at both bends


@pytest.mark.parametrize("start", ["right", "left"])
@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([[202.0, 0.0, 90.0], [904.0, 25.0, 100.0], [240.0]], None),  # one alone may as well be overbent
        ([[202.0, 0.0, 60.0], [904.0, 25.0, 101.0], [240.0]], "angles are included angles: 60, 101 deg"),
        (
            [[202.0 + TANGENT[0], 0.0, 120.0], [904.0 + sum(TANGENT), 25.0, 80.0], [240.5 + TANGENT[1]]],
            "lengths are between intersections, not tangents: 242, 994.3, 290.8 mm",
        ),
        ([[7.953, 0.0, 120.0], [35.59, 25.0, 80.0], [9.449]], "lengths are as many inches: 7.953, 35.59, 9.449 mm"),
        ([[20.2, 0.0, 120.0], [90.4, 25.0, 80.0], [24.0]], "lengths are as many cm: 20.2, 90.4, 24 mm"),
    ],
)
def test_rows_in_another_convention_are_asked_about(tmp_path, start, rows, told):
    """Angles 100 deg off were an overbent bar, accepted with a note since it would pass every target."""
    tables = dict(handed_bar().tables)
    drawn = [[202.0, 0.0, 120.0, 40.0 / np.tan(np.radians(60.0))], ROWS[1], ROWS[2]]
    drawn[0][2] = 90.0 if told is None else 120.0
    flat = {side: {} for side in ("right", "left")}
    bar = bar_from_dict({**tables, "bends": {**tables["bends"], "rows": drawn}, "ends": {**tables["ends"], **flat}})
    if start == "left":
        (a, _, one), (b, turned, two), (c,) = rows
        rows = [[c, 0.0, two], [b, turned, one], [a]]
    if told is None:
        assert judged(bar, tmp_path, _text(rows)).bars
        return
    with pytest.raises(InputError) as refused:
        judged(bar, tmp_path, _text(rows))
    listed = told.partition(": ")[2].rpartition(" ")
    told = told if start == "right" else told.replace(listed[0], ", ".join(listed[0].split(", ")[::-1]))
    assert told in str(refused.value) and "bar B-001" in str(refused.value)


def test_rows_of_the_other_hand_may_be_rows_counted_the_other_way(bar, tmp_path):
    rows = [[202.0, 0.0, 90.0], [904.0, -25.0, 80.0], [240.0]]
    (one,) = judged(bar, tmp_path, _text(rows)).bars
    assert one.faults[0].words.endswith("unless its rotations are counted left-handed about the walking direction")


def test_rows_far_off_are_told_as_a_bender_can_bend_them():
    """A fit that strays over whole turns or through a straight bar told of rotations of 720 deg too far and of radii
    of -70 mm. Rows as measured, with the rotations summed up, as some machines count them."""
    drawn = Rows(
        np.array([203.2, 133.4, 27.06, 332.3, 53.78, 141.1, 258.3]),
        np.array([136.6, 180.0, 0.0, 180.0, -141.6]),
        np.array([81.26, 41.54, 41.54, 33.6, 33.6, 79.06]),
        np.full(6, 70.0),
    )
    for rotation, angle in (
        (np.cumsum(drawn.rotation_deg) % 360.0, drawn.angle_deg),
        (drawn.rotation_deg, np.array([156.8, 133.4, 27.1, 27.7, 53.8, 141.1])),
    ):
        came = replace(drawn, rotation_deg=rotation, angle_deg=angle)
        (fit,) = explain_rows(drawn, [walk(came.vector, 6)[0]])
        off = (rotation - drawn.rotation_deg + 180.0) % 360.0 - 180.0
        for each in fit.differences:
            assert abs(each.difference) < 180.5 and (each.what != "radius" or each.measured > 0.0)
        told = {each.row - 2: each.difference for each in fit.differences if each.what == "rotation"}
        assert sorted(told) == np.flatnonzero(np.abs(off) > 0.1).tolist()
        assert fit.every.angle_deg == pytest.approx(angle, abs=0.05)
