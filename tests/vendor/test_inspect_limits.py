"""What a received bar is held against, number by number: each limit from both of its sides."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.vendor import inspect_judge
from barfem.vendor.inspect_fit import FittedPoints
from barfem.vendor.inspect_judge import (
    Findings,
    JudgedNumber,
    clocking,
    form,
    near_limits,
    rows_at_fault,
    strength,
    too_rough,
    worst_outcome,
    wrong_sign,
)
from barfem.vendor.inspect_reading import Reading, read_inspection
from barfem.vendor.inspect_received import drawn_bands
from barfem.vendor.inspect_rows import RowDifference, RowFit
from barfem.vendor.inspect_shape import drawn_rows
from tests.vendor.bars import handed_bar
from tests.vendor.lots import lot_text, written


def lying(largest_mm: float, mismatch_mm: float) -> FittedPoints:
    """Points of two bends, bend 2's end the farthest off."""
    return FittedPoints("function", np.array([0.1, 0.2, 0.1, 0.3, largest_mm, 0.0]), mismatch_mm)


def without_form(**material: object) -> Bar:
    """The same bar whose drawing limits neither profile nor mismatch: its rows are judged themselves."""
    tables = dict(handed_bar().tables or {})
    drawing = {
        key: value for key, value in tables["drawing"].items() if key not in ("profile_tolerance", "tip_mismatch")
    }
    return bar_from_dict({**tables, "drawing": drawing, "material": {**tables["material"], **material}})


@pytest.mark.parametrize(
    ("largest", "mismatch", "passes"),
    [
        (1.5, 2.0, [True, True]),  # a profile of 3.0 lies half to either side; a limit may be reached
        (1.51, 2.0, [False, True]),
        (1.5, -2.0, [True, True]),
        (1.5, 2.01, [True, False]),
        (1.5, -2.01, [True, False]),  # the left tip low is as bad as the left tip high
    ],
)
def test_profile_and_mismatch_of_the_tips(largest: float, mismatch: float, passes: list[bool]) -> None:
    judged = form(handed_bar(profile_tolerance=3.0, tip_mismatch=2.0), lying(largest, mismatch))
    assert [each.passes for each in judged] == passes
    assert judged[0].what.startswith("bend 2 end")


@pytest.mark.parametrize(("noise", "said"), [(0.74, False), (0.75, False), (0.76, True), (None, False)])
def test_points_are_too_rough_where_twice_their_deviation_is_more_than_the_narrowest_limit(noise, said) -> None:
    """Within 1.5 mm, half of the profile of 3.0, and a mismatch of 2.0: 0.75 mm twice."""
    assert bool(too_rough(form(handed_bar(), lying(1.0, 1.0)), noise)) is said


@pytest.mark.parametrize(("mismatch", "told"), [(1.82, False), (1.85, True), (2.15, True), (2.18, False)])
def test_a_number_is_told_from_its_limit_from_1_645_standard_errors_on(monkeypatch, mismatch, told) -> None:
    """95 % to one side: a limit of 2.0 and a standard error of 0.1 leave 1.8355 to 2.1645 open."""
    monkeypatch.setattr(inspect_judge, "form_errors", lambda *_: (0.01, 0.1))
    bar = handed_bar()
    notes = near_limits(bar, form(bar, lying(1.0, mismatch)), np.zeros((6, 3)), (None, None), 0.1)
    assert bool(notes) is told


def test_a_limit_is_reached_and_not_passed() -> None:
    """22 mm of 22.0 to 22.5 is good, and so is 22.5; a thousandth beyond either is not."""
    for measured, passes in ((21.999, False), (22.0, True), (22.5, True), (22.501, False)):
        assert JudgedNumber.by_limits("it", measured, "mm", 22.0, 22.5, "", "decide").passes is passes
    assert JudgedNumber.by_limits("it", 9.0, "mm", None, None, "", "decide").passes is None


@pytest.mark.parametrize(
    ("drawn", "measured", "wrong"),
    [
        (25.0, -25.0, True),
        (25.0, -29.0, True),
        (25.0, -31.0, False),  # farther than 5 deg from the drawn one negated: another rotation
        (6.0, -6.0, True),
        (4.0, -4.0, False),  # 8 deg off: as well 8 deg too far
        (180.0, -180.0, False),  # one rotation by two names
        (90.0, 270.0, True),
    ],
)
def test_a_rotation_of_the_wrong_sign(drawn: float, measured: float, wrong: bool) -> None:
    assert wrong_sign(RowDifference(2, "rotation", measured, drawn, 0.1)) is wrong
    assert not wrong_sign(RowDifference(2, "angle", measured, drawn, 0.1))


def test_rows_are_judged_by_their_own_bands_where_nothing_limits_the_form() -> None:
    """Two bends, one rotation between them: it is the first of its key and the second bend's."""
    bar = without_form()
    limits = drawn_bands(bar)
    for key, what, row, nominal in (
        ("bend_rotation", "rotation", 2, 25.0),
        ("bend_angle", "angle", 2, 80.0),
        ("straight_length", "length", 3, 240.0),
    ):
        low, high = limits.of(key, row - (2 if what == "rotation" else 1)) or (np.nan, np.nan)
        assert low < 0.0 < high
        for off, passes in ((1.01 * low, False), (0.99 * low, True), (0.99 * high, True), (1.01 * high, False)):
            rows, out = drawn_rows(bar), Findings()
            difference = RowDifference(row, what, nominal + off, nominal, 0.1)
            rows_at_fault(bar, limits, RowFit(rows, rows, (difference,), 0.1), [], out)
            (judged,) = out.judged
            assert judged.passes is passes and bool(out.faults) is not passes
            assert (judged.low, judged.high) == pytest.approx((nominal + low, nominal + high))


def test_ends_drawn_back_have_a_window_of_their_own() -> None:
    """Body 43 to 48 HRC, ends 30 to 36: 33 HRC is good at an end and soft in the middle, 45 HRC the other way round."""
    tables = dict(handed_bar().tables or {})
    bar = bar_from_dict({**tables, "drawing": {**tables["drawing"], "ends": "30-36 HRC"}})
    limits = drawn_bands(bar)
    kinds = {}
    for place in ("middle", "right end", "left end"):
        for value in (29.0, 33.0, 45.0, 50.0):
            out = Findings()
            strength(bar, limits, [Reading("hardness", place, value, "HRC", "", 1)], out)
            kinds[place, value] = [
                (fault.kind, one.outcome) for fault, one in zip(out.faults, out.judged, strict=False)
            ]
    soft, hard = [("soft", "reject")], [("hard", "decide")]
    assert [kinds["middle", value] for value in (29.0, 33.0, 45.0, 50.0)] == [soft, soft, [], hard]
    for end in ("right end", "left end"):
        assert [kinds[end, value] for value in (29.0, 33.0, 45.0, 50.0)] == [soft, [], hard, hard]


@pytest.mark.parametrize(
    ("value", "outcome"), [(40.0, "reject"), (50.0, "decide"), (55.0, "decide"), (58.0, "reject"), (21.0, "reject")]
)
def test_a_bar_too_hard_is_asked_about_and_one_beyond_all_tables_is_not_taken(value: float, outcome: str) -> None:
    """43 to 48 HRC: 50 may do by the bar as received; 58 is harder than ISO 18265 has a strength for, not tempered."""
    out, bar = Findings(), handed_bar()
    strength(bar, drawn_bands(bar), [Reading("hardness", "middle", value, "HRC", "", 1)], out)
    assert [one.outcome for one in out.judged] == [outcome] and len(out.faults) == 1


@pytest.mark.parametrize(("off", "passes"), [(0.9, True), (-1.0, True), (1.1, False), (-1.4, False)])
def test_a_clocking_without_a_tolerance_is_held_to_one_degree(off: float, passes: bool) -> None:
    judged, fault = clocking(handed_bar(), "left", 30.0 + off, 30.0, off)
    assert judged.high == 1.0 and judged.passes is passes and (fault is None) is passes
    wide = handed_bar(clocking_tolerance=2.0)
    assert clocking(wide, "left", 30.0 + off, 30.0, off)[0].passes


def test_what_bending_again_would_mend_is_reworked_only_where_rework_is_allowed() -> None:
    """A coating that failed is stripped and made again by whoever coats, whatever is said of bending."""
    bent, coated, cracked = (
        JudgedNumber(what, None, "", None, None, "", outcome, False)
        for what, outcome in (("tip mismatch", "rework"), ("coating: fail", "rework"), ("crack test: fail", "reject"))
    )
    assert worst_outcome([bent], rework=False) == "decide" and worst_outcome([bent], rework=True) == "rework"
    assert worst_outcome([coated], rework=False) == "rework"
    assert worst_outcome([bent, coated, cracked], rework=True) == "reject"
    assert worst_outcome([], rework=True) is None


@pytest.mark.parametrize(
    ("what", "value", "refused"),
    [
        ("diameter", 12.1, False),
        ("diameter", 11.9, True),  # drawn 24 mm: half of it is no bar of this drawing, nor is twice
        ("diameter", 47.9, False),
        ("diameter", 48.1, True),
        ("wall", 1.9, True),  # drawn 4 mm
        ("wall", 8.1, True),
        ("wall", 7.9, False),
    ],
)
def test_a_size_of_half_or_twice_the_drawn_one_is_another_unit(
    tmp_path, what: str, value: float, refused: bool
) -> None:
    text = lot_text(handed_bar(), ["none"], seed=1) + f"B-001,{what},right arm,,,,{value},mm,,\n"
    try:
        read_inspection(written(tmp_path, text), handed_bar())
    except InputError as error:
        assert refused and "is the unit right" in str(error)
    else:
        assert not refused
