"""No bar is accepted for what nobody judged: readings that say nothing, points of no bar, a measured weakness."""

from __future__ import annotations

import re

import numpy as np
import pytest

from barfem.model.read import bar_from_dict
from barfem.vendor.inspect_fit import fit_function, form_errors
from barfem.vendor.inspect_rates import judge_rates
from barfem.vendor.inspect_reading import Reading
from barfem.vendor.inspect_shape import drawn_points, drawn_rows, point_names
from tests.model.bar_data import U_BAR, changed
from tests.vendor.bars import flat_bar
from tests.vendor.lots import bar_lines, judged, lot_text

DRAWING = {"profile_tolerance": 3.0, "tip_mismatch": 2.0, "hardness": "43-48 HRC"}


@pytest.fixture
def passing(monkeypatch):
    """As if every bar as received passed: the verdict is then the drawing's alone."""
    monkeypatch.setattr("barfem.vendor.inspect.check_received", lambda drawn, made, *_, **__: [None] * len(made))


def _without(text, pattern):
    return "".join(line for line in text.splitlines(keepends=True) if not re.search(pattern, line))


def _rows(bar):
    rows = drawn_rows(bar)
    values = [("length", rows.straight_mm), ("angle", rows.angle_deg), ("rotation", [0.0, *rows.rotation_deg])]
    return "".join(
        f"B-001,row,row {i + 1},,,,{value},{unit},,\n" for unit, several in values for i, value in enumerate(several)
    )


@pytest.mark.parametrize(
    ("gone", "rows", "ends", "why"),
    [
        (r",point,", False, ["right", "left"], "points of the same measuring frame were not measured"),
        (r",point,", True, ["right", "left"], "points of the same measuring frame were not measured"),
        (r",bend 2 start,", False, ["right", "left"], "a point of its arm or of the bend beside it"),
        (r",tip left,", False, ["left"], "a point of its arm or of the bend beside it"),
    ],
    ids=["no points", "rows", "a bend's point", "a tip"],
)
def test_a_hole_axis_that_cannot_be_judged_is_not_taken_for_good(tmp_path, passing, gone, rows, ends, why):
    """An axis says nothing without arm and bend beside it: however far it is off, that must not read as good."""
    bar = flat_bar(drawing=DRAWING)
    text = _without(lot_text(bar, ["none"], seed=2), gone) + (_rows(bar) if rows else "")
    (found,) = judged(bar, tmp_path, text).bars
    assert found.verdict == "accept with note" and not found.faults
    assert [each.split(",")[1] for each in found.why if why in each] == [f" {end} end" for end in ends]
    (whole,) = judged(bar, tmp_path, lot_text(bar, ["none"], seed=2)).bars
    assert whole.verdict == "accept"


def test_a_hole_drilled_askew_is_no_good_hole_though_it_is_clocked_right(tmp_path, passing):
    """20 deg along the bar, in the plane of its drawn axis and the arm: clocked as drawn, and no bolt goes through."""
    bar = flat_bar(drawing=DRAWING)
    lines = bar_lines(bar, "none", "B-001", np.random.default_rng(4), noise_mm=0.0)
    head = lot_text(bar, [], seed=4)
    (i,) = [i for i, line in enumerate(lines) if ",hole axis,right end," in line]
    tip, start = (np.array(line.split(",")[3:6], float) for line in lines[:2])
    along = (start - tip) / np.linalg.norm(start - tip)
    axis = np.array(lines[i].split(",")[3:6], float)
    for askew_deg, outside in ((0.8, []), (20.0, ["right end: hole axis leans 20.0 deg along the bar"])):
        x, y, z = np.cos(np.radians(askew_deg)) * axis + np.sin(np.radians(askew_deg)) * along
        lines[i] = f"B-001,hole axis,right end,{x:.6f},{y:.6f},{z:.6f},,,,"
        (found,) = judged(bar, tmp_path, head + "\n".join(lines) + "\n").bars
        assert [fault.words for fault in found.faults] == outside
        assert (found.verdict == "accept") == (not outside)


def test_points_of_no_bar_are_not_accepted_where_the_drawing_limits_no_form(tmp_path, passing):
    """One point lies 4 mm beside the plane of its U. Points that contradict each other look like coarse measuring."""
    bar = flat_bar(drawing={"hardness": "43-48 HRC"})
    good = lot_text(bar, ["none"], seed=6, noise_mm=0.1)
    (found,) = judged(bar, tmp_path, good).bars
    assert found.verdict == "accept"
    lines = good.splitlines(keepends=True)
    at = [i for i, line in enumerate(lines) if ",point," in line]
    points = np.array([lines[i].split(",")[3:6] for i in at], float)
    across = np.cross(points[1] - points[0], points[3] - points[2])
    x, y, z = points[2] + 4.0 * across / np.linalg.norm(across)
    lines[at[2]] = f"B-001,point,bend 1 end,{x:.4f},{y:.4f},{z:.4f},,,,\n"
    (found,) = judged(bar, tmp_path, "".join(lines)).bars
    assert found.verdict == "accept with note" and any("no rows explain the points" in each for each in found.why)


def test_a_measured_weakness_that_nothing_limits_is_not_put_down_to_what_was_not_measured(tmp_path):
    """Decarburised 0.9 mm deep, which this drawing does not limit: the bar fails by it, and no guess makes it fail."""
    tables = changed(("travel.pickup", 20.0), base=U_BAR)
    bar = bar_from_dict({**tables, "drawing": DRAWING})
    text = lot_text(bar, ["none"], seed=8)
    (good,) = judged(bar, tmp_path, text).bars
    assert good.verdict == "accept" and good.as_received.passes and good.missing
    deep = text + "B-001,record,decarburisation,,,,0.9,mm,,\n"
    (found,) = judged(bar, tmp_path, deep).bars
    assert not found.as_received.passes and found.verdict == "accept with note"
    assert found.why[-1].endswith("by what was measured")


@pytest.mark.parametrize(
    ("place", "words", "verdict", "why"),
    [
        ("coating", "pass", "accept", "within the drawing"),
        ("coating", "NOK", "rework", "coating: fail"),
        ("coating", "not ok", "rework", "coating: fail"),
        ("coating", "flakes off at bend 2", "accept with note", "neither pass nor fail"),
        ("coating", "60 um", "accept", "within the drawing"),
        ("peening", "none", "accept with note", "neither pass nor fail"),
        ("peening", "0.45 mm A, 200 %", "accept", "within the drawing"),
        ("peening", "0.20 mm A, 200 %", "reject", "peening: 0.2 instead of 0.4 to 0.5 mm A"),
        ("peening", "0.20 mm N", "accept", "within the drawing"),  # another strip says nothing of this one
    ],
)
def test_a_record_that_says_no_in_its_own_words_is_not_taken_for_good(tmp_path, passing, place, words, verdict, why):
    """Rejected for weak peening: with nothing known of its life, as here, a bar outside the drawing does not pass."""
    bar = flat_bar(drawing={**DRAWING, "peening": "0.40-0.50 mm A, 200 %"})
    text = lot_text(bar, ["none"], seed=2) + f'B-001,record,{place},,,,"{words}",,,\n'
    (found,) = judged(bar, tmp_path, text).bars
    assert found.verdict == verdict and any(why in each for each in found.why)


def test_a_bar_peened_too_weakly_is_received_unpeened(tmp_path):
    """What is not known to be there earns nothing: as a bar whose peening failed."""
    tables = changed(("material.surface", "machined"), ("material.peening", "shot"), base=U_BAR)
    bar = bar_from_dict({**tables, "drawing": {**DRAWING, "peening": "0.40-0.50 mm A"}})
    text = lot_text(bar, ["none"], seed=2)
    weak, failed, good = (
        judged(bar, tmp_path, text + f"B-001,record,peening,,,,{value},,,\n").bars[0].as_received
        for value in ("0.20 mm A", "fail", "0.45 mm A")
    )
    assert weak.settings == failed.settings
    assert good.safety_factor_at_target > 1.02 * weak.safety_factor_at_target


def test_a_size_just_outside_is_said_with_the_digits_that_put_it_there(tmp_path, passing):
    """4 um above a bright bar's 24 mm: "24.00 instead of 24.00 mm" would look like a slip of the program's."""
    bar = flat_bar(drawing=DRAWING)
    text = re.sub(r"diameter,middle,,,,[^,]*", "diameter,middle,,,,24.004", lot_text(bar, ["none"], seed=2))
    (found,) = judged(bar, tmp_path, text).bars
    assert [fault.words for fault in found.faults] == ["diameter, middle: 24.004 instead of 24.00 mm"]


def test_a_rate_that_nothing_explains_says_so(tmp_path):
    """A third above the computed one: no diameter, hole or case is near, and no sentence ends in a colon."""
    bar = flat_bar(drawing=DRAWING)
    (computed,) = judge_rates(bar, [([Reading("rate", "hole 1", 1.0, "", "one_end_held", 1)], bar)])[0]
    rate = 1.33 * 0.5 * (computed.judged.low + computed.judged.high)
    (found,) = judge_rates(bar, [([Reading("rate", "hole 1", rate, "", "one_end_held", 1)], bar)])[0]
    assert found.judged.passes is False and "no one cause known here" in found.explained


def test_what_the_measuring_cannot_tell_from_its_limit_is_said(tmp_path, passing):
    """The left tip 1.3 or 2.1 mm high, the mismatch 1.2 or 1.9 of 2 mm: at 0.1 mm a coordinate the second may be out.

    The standard errors are those of the same bar measured four hundred times.
    """
    bar = flat_bar(drawing={**DRAWING, "profile_tolerance": 8.0})
    text = lot_text(bar, [], seed=1).replace("units = mm", "uncertainty = 0.1 mm ; units = mm")
    rng = np.random.default_rng(9)
    drawn = drawn_points(bar)

    def high_by(mm):
        points = drawn.copy()
        points[-1, 2] += mm
        return points

    def notes(points):
        lines = "".join(
            f"B-001,point,{name},{x:.6f},{y:.6f},{z:.6f},,,,\n"
            for name, (x, y, z) in zip(point_names(2), points.tolist(), strict=True)
        )
        (found,) = judged(bar, tmp_path, text + lines).bars
        assert found.verdict == "accept"
        return [note for note in found.notes if "neither inside nor outside" in note]

    again = [fit_function(bar, high_by(2.1) + rng.normal(0.0, 0.1, drawn.shape)) for _ in range(400)]
    largest, mismatch = form_errors(bar, high_by(2.1), (None, None), 0.1)
    assert mismatch == pytest.approx(np.std([each.tip_mismatch_mm for each in again]), rel=0.12)
    assert largest == pytest.approx(np.std([each.largest_mm for each in again]), rel=0.12)
    assert notes(high_by(1.3)) == []
    assert [note.split(",")[0] for note in notes(high_by(2.1))] == [
        f"tip mismatch {abs(fit_function(bar, high_by(2.1)).tip_mismatch_mm):.2f} mm"
    ]
