"""What a plan says of a whole lot: bars outside the drawing are bad bars, and a good lot is not turned down."""

from __future__ import annotations

import json
from math import comb

import pytest
import tomlkit

from barfem.cli.main import main
from barfem.model.bar import Bar
from barfem.model.read import bar_from_dict
from barfem.vendor.inspect_check import AsReceived
from barfem.vendor.inspect_fit import fit_function
from barfem.vendor.inspect_judge import form
from barfem.vendor.inspect_lot import lot_of, quantity_of
from barfem.vendor.inspect_rows import explain_rows
from barfem.vendor.inspect_shape import drawn_rows, walk
from barfem.vendor.sampling import Plan, bad_allowed, plan_lot
from tests.vendor.bars import handed_bar
from tests.vendor.lots import judged, lot_text, written

ATTRIBUTES = Plan(kind="attributes", lot=600, n=4, c=1, k=None, risks=((0.01, 0.99), (0.4, 0.09)), how="made up")
VARIABLES = Plan(kind="variables", lot=600, n=4, c=None, k=1.5, risks=((0.01, 0.99), (0.4, 0.09)), how="made up")


@pytest.fixture(autouse=True)
def without_the_whole_check(monkeypatch):
    """Every bar as received passes every target: what a plan says of bars that are usable and outside the drawing."""
    passes = AsReceived("1", "roll", 20.0, 1.0, 2.0, None, True, True, 0.0, ())
    monkeypatch.setattr("barfem.vendor.inspect.check_received", lambda drawn, made, *_, **__: [passes] * len(made))


@pytest.fixture(scope="module")
def bar() -> Bar:
    return handed_bar()


def _accepts(bar, tmp_path, text, plan):
    found = judged(bar, tmp_path, text)
    return lot_of(bar, found.bars, found.limits, plan).plan_accepts


@pytest.mark.parametrize("plan", [ATTRIBUTES, VARIABLES], ids=lambda plan: plan.kind)
def test_a_good_lot_is_taken(bar, tmp_path, plan):
    assert _accepts(bar, tmp_path, lot_text(bar, ["none"] * 8, seed=9), plan) is True


@pytest.mark.parametrize("plan", [ATTRIBUTES, VARIABLES], ids=lambda plan: plan.kind)
@pytest.mark.parametrize("fault", ["bend", "clocked", "mirrored"])
def test_a_lot_of_bars_outside_the_drawing_is_not_taken(bar, tmp_path, plan, fault):
    """Whether a person may still use each of them is another question: every single bar is outside."""
    assert _accepts(bar, tmp_path, lot_text(bar, [fault] * 6, seed=9), plan) is False


@pytest.mark.parametrize("line", ["hole from_tip,hole 1 left,,,,35.0,mm", "flat width,left end,,,,30.0,mm"])
def test_a_plan_by_variables_does_not_overlook_what_is_no_variable(line, tmp_path):
    """Holes 5 mm off, or flats 2 mm narrow, on every bar: there is no mean and s of them to be held against k."""
    bar = _flat_bar()
    good = lot_text(bar, ["none"] * 6, seed=9)
    assert _accepts(bar, tmp_path, good, VARIABLES) is True
    bad = good + "".join(f"B-00{i + 1},{line},,\n" for i in range(6))
    assert _accepts(bar, tmp_path, bad, VARIABLES) is False


def test_a_plan_by_variables_judges_no_number_that_fewer_bars_have_than_it_asks_for(bar, tmp_path):
    """Eight diameters and the points of one bar: its form has no s, and the lot was taken by it."""
    lines = lot_text(bar, ["none"] * 8, seed=9).splitlines()
    of_points = (",point,", ",hole axis,")
    one = [line for line in lines if line.startswith("B-001,") or not any(what in line for what in of_points)]
    found = judged(bar, tmp_path, "\n".join(one) + "\n")
    lot = lot_of(bar, found.bars, found.limits, VARIABLES)
    assert lot.plan_accepts is None and lot.verdict == "too few readings for the plan"
    assert {"tip_mismatch_mm", "largest_mm"} <= set(lot.too_few) and "diameter_mm" not in lot.too_few
    soft = "\n".join(line.replace("45.5,HRC", "38,HRC") for line in one) + "\n"
    assert "38,HRC" in soft and _accepts(bar, tmp_path, soft, VARIABLES) is False


def _flat_bar() -> Bar:
    tables = dict(handed_bar().tables)
    return bar_from_dict({**tables, "tolerances": {"flat_width": 0.5, "hole_position": 0.5}})


def test_a_plan_by_variables_is_not_decided_by_rows_that_are_not_judged(bar, tmp_path):
    """The drawing limits the form of points; straights are named, not judged, and may vary beyond their own band."""
    tables = dict(bar.tables)
    wide = {**tables["drawing"], "profile_tolerance": 40.0, "tip_mismatch": 40.0}
    tight = bar_from_dict({**tables, "drawing": wide, "tolerances": {"straight_length": 0.05}})
    assert _accepts(tight, tmp_path, lot_text(tight, ["none"] * 8, seed=9), VARIABLES) is True
    lot = judged(tight, tmp_path, lot_text(tight, ["none"] * 8, seed=9)).lot
    (first,) = [each for each in lot.quantities if each.name == "straight 1_mm"]
    assert first.share_outside > 0.0


def test_more_bars_than_the_plan_asks_for_do_not_turn_down_a_good_lot():
    """Of 200 bars two may be bad (1 %). By the plan one of 35 may be; of all 200 both are seen, and allowed."""
    plan = plan_lot("attributes", lot=200)
    assert (plan.n, plan.c) == (35, 1)
    assert [bad_allowed(plan, measured) for measured in (20, 35, 200)] == [1, 1, 2]
    # 120 of 200 with 2 bad: one bad at most has a chance of 1 - C(198, 118) / C(200, 120), less than the plan's.
    both = comb(198, 118) / comb(200, 120)
    assert 1.0 - both < plan.risks[0][1] and bad_allowed(plan, 120) == 2
    assert bad_allowed(plan_lot("attributes", lot=60), 60) == 0  # none of 60 may be bad at 1 %


def test_equal_readings_have_no_spread_and_no_index():
    """Twelve times 21.95 mm, as the reader has it from a drawing of 22: rounding of numbers is no spread of bars."""
    values = [22.0 + (21.95 - 22.0) + i % 2 * 4e-15 for i in range(12)]
    found = quantity_of("diameter_mm", [f"B-{i}" for i in range(12)], values, 21.87, 22.0, True)
    assert found.s == 0.0 and found.Ppk is None and found.Cpk is None


def test_a_reading_on_its_limit_is_within():
    values = [22.0 + (21.87 - 22.0), 21.9, 22.0 + 4e-15]
    assert quantity_of("diameter_mm", ["1", "2", "3"], values, 22.0 - 0.13, 22.0, False).share_outside == 0.0


def test_strength_by_hardness_has_the_limits_of_the_drawing_s_window(bar, tmp_path):
    """43 to 48 HRC, not the steel's own band. ISO 18265 table A.1, from memory: 42.7 HRC is 1350 MPa, 43.6 is 1385,
    47.7 is 1555, 49.1 is 1630; between them on a line."""
    found = judged(bar, tmp_path, lot_text(bar, ["none"] * 2, seed=1)).lot
    (strength,) = [each for each in found.quantities if each.name == "strength_MPa"]
    assert strength.lower == pytest.approx(1350.0 + 35.0 * 0.3 / 0.9, abs=1.0)
    assert strength.upper == pytest.approx(1555.0 + 75.0 * 0.3 / 1.4, abs=1.0)


@pytest.mark.parametrize(("fault", "outcome"), [("long", "decide"), ("bend", "rework"), ("rotation", "rework")])
def test_bending_again_mends_angles_and_no_length(fault, outcome, tmp_path):
    """A bend 2 deg off can be bent again; an arm 5 mm too long stays so, however it is bent."""
    bar = bar_from_dict({**handed_bar().tables, "inspection": {"rework": True}})
    found = judged(bar, tmp_path, lot_text(bar, [fault], seed=2)).bars[0]
    assert {each.outcome for each in found.judged if each.passes is False} == {outcome}


def test_a_length_and_an_angle_that_are_off_together(tmp_path):
    """The arm 5 mm too long is what bending again would leave; one of 0.8 mm would lie within half of 3 mm."""
    bar = bar_from_dict({**handed_bar().tables, "inspection": {"rework": True}})
    for long_mm, outcome in ((5.0, "decide"), (0.8, "rework")):
        vector = drawn_rows(bar).vector.copy()
        vector[0] += long_mm
        vector[5] += 2.0
        (rows,) = explain_rows(drawn_rows(bar), [walk(vector, 2)[0]], noise_mm=0.02)
        assert {(each.row, each.what) for each in rows.differences} == {(1, "length"), (2, "angle")}
        profile = form(bar, fit_function(bar, walk(vector, 2)[0]), rows)[0]
        assert profile.passes is False and profile.outcome == outcome


def test_a_lot_that_the_plan_cannot_judge_is_not_taken(bar, tmp_path, capsys):
    """Good bars every one, and too few for the plan: exit 1. More bars than the lot holds are no sample of it."""
    path = written(tmp_path, tomlkit.dumps(json.loads(json.dumps(dict(bar.tables)))), "bar.toml")
    lot = written(tmp_path, lot_text(bar, ["none"] * 9, seed=9))
    for size, status in (("60", 1), ("10", 0), ("8", 2)):
        assert main(["inspect", str(path), str(lot), "--lot-size", size]) == status
    assert "9 bars were measured of a lot of 8" in capsys.readouterr().err
    assert main(["inspect", str(path), str(lot)]) == 0
