"""Bars measured in part, or with their ends under other names: what was not judged is said, and nothing is made up."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import tomlkit

from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.vendor.inspect import inspect_bars
from barfem.vendor.inspect_rates import judge_rates
from barfem.vendor.inspect_reading import read_inspection
from barfem.vendor.inspect_rows import explain_rows
from barfem.vendor.inspect_shape import Rows, point_names, walk
from barfem.vendor.inspect_sheet import asked_of
from tests.model.bar_data import U_BAR, changed
from tests.vendor.bars import handed_bar
from tests.vendor.lots import judged, lot_text, written

DRAWING = {"profile_tolerance": 3.0, "tip_mismatch": 2.0, "hardness": "43-48 HRC"}


@pytest.fixture
def no_whole_check(monkeypatch):
    monkeypatch.setattr("barfem.vendor.inspect.check_received", lambda drawn, made, *_, **__: [None] * len(made))


def _u(holes_left, **more):
    return bar_from_dict({**changed(("ends.left", {"holes": holes_left}), base=U_BAR), "drawing": DRAWING, **more})


def _holes(*from_tip):
    return [{"name": str(i + 1), "from_tip": at} for i, at in enumerate(from_tip)]


def _hole_lines(right, left):
    return "".join(
        f"B-001,hole from_tip,hole {i + 1} {side},,,,{at},mm,,\n"
        for side, places in (("right", right), ("left", left))
        for i, at in enumerate(places)
    )


def test_the_verdict_says_that_points_were_missing(tmp_path, capsys):
    """Four points of a bar, all where they are drawn: its form is not judged, and the last line says so."""
    tables = changed(("drawing", DRAWING), base=U_BAR)
    bar = written(tmp_path, tomlkit.dumps(tables), "bar.toml")
    lines = lot_text(bar_from_dict(tables), ["none"], seed=1).splitlines()
    short = [line for line in lines if not re.search("point,(bend 2 end|tip left)", line)]
    main(["inspect", str(bar), str(written(tmp_path, "\n".join(short) + "\n"))])
    said = " ".join(capsys.readouterr().out.split())
    assert "NOT judged on every bar: points" in said and "by least squares, not in function" in said


@pytest.mark.parametrize("tip", ["tip right", "tip left"])
def test_a_bend_that_is_off_is_named_though_a_tip_was_not_measured(tmp_path, no_whole_check, tip):
    """Bend 2 is 2 deg off. Without its tip an arm has no length, and all the other rows are as well known."""
    bar = handed_bar()
    lines = lot_text(bar, ["bend"], seed=3).splitlines()
    (found,) = judged(bar, tmp_path, "\n".join(x for x in lines if f"point,{tip}," not in x) + "\n").bars
    assert [(each.row, each.what) for each in found.row_differences] == [(2, "angle")]
    assert abs(found.row_differences[0].difference) == pytest.approx(2.0, abs=0.5)
    assert any(each.startswith(f"points {tip}: profile") for each in found.missing)


def test_with_points_missing_the_fewest_rows_are_still_named():
    """Six bends, the plane of the last 10 deg off, five points not measured; as exact as it can be measured."""
    straights, angles = [290.0, 200.0, 170.0, 120.0, 140.0, 70.0, 220.0], [50.0, 90.0, 90.0, 80.0, 40.0, 60.0]
    drawn, bent = (
        Rows(np.array(straights), np.array([30.0, -30.0, 70.0, 10.0, last]), np.array(angles), np.full(6, 50.0))
        for last in (-30.0, -20.0)
    )
    gone = [f"bend {place}" for place in ("1 start", "4 end", "5 start", "6 start", "6 end")]
    points = np.array(walk(bent.vector, 6)[0])
    points[[point_names(6).index(name) for name in gone]] = np.nan
    (fit,) = explain_rows(drawn, [points])
    assert [(each.row, each.what) for each in fit.differences] == [(6, "rotation")]
    assert fit.differences[0].difference == pytest.approx(10.0, abs=0.01)


def test_hole_places_tell_the_ends_that_points_cannot(tmp_path, no_whole_check):
    """A plain U with holes 20 and 45 mm from the right tip, 30 and 55 from the left, listed from its other tip."""
    bar = _u(_holes(30.0, 55.0))
    text = lot_text(bar, ["none"], seed=3)
    (named,) = judged(bar, tmp_path, text + _hole_lines((20.0, 45.1), (30.1, 55.0))).bars
    assert named.lie.order == "as named" and not named.faults
    (turned,) = judged(bar, tmp_path, text + _hole_lines((30.1, 55.0), (20.0, 45.1))).bars
    assert turned.lie.order == "ends exchanged" and turned.verdict == "accept"
    assert not any("cannot tell" in note for note in (*named.notes, *turned.notes))
    # One hole 1.5 mm off is drilled badly: no reading of the ends would mend it.
    (off,) = judged(bar, tmp_path, text + _hole_lines((21.5, 45.1), (30.1, 55.0))).bars
    assert off.lie.order == "as named" and [each.kind for each in off.faults] == ["wrong hole position"]


def test_a_hole_that_the_end_has_not_is_left_out_and_named(tmp_path, no_whole_check):
    """A handed bar listed from its other tip; hole 3 is drawn at the left end alone, and was measured there."""
    tables = dict(handed_bar().tables)
    left = {**tables["ends"]["left"], "holes": [*tables["ends"]["holes"], {"name": "3", "from_tip": 60.0}]}
    bar = bar_from_dict({**tables, "ends": {**tables["ends"], "left": left}})
    text = lot_text(bar, ["exchanged"], seed=3) + "B-001,hole from_tip,hole 3 left,,,,60.0,mm,,\n"
    (found,) = judged(bar, tmp_path, text).bars
    assert found.lie.order == "ends exchanged" and found.verdict == "accept"
    number = len(text.splitlines())
    assert any(note.startswith(f"line {number}: hole from_tip left out") for note in found.notes)


def test_axes_of_several_holes_of_an_end_are_read_and_the_worst_counts(tmp_path, no_whole_check):
    """The left axis 3 deg off at one hole; another line says hole 1 is as drawn."""
    bar = handed_bar()
    good, off = (lot_text(bar, [fault], seed=3, noise_mm=1e-6).splitlines() for fault in ("none", "clocked"))
    (second,) = [line for line in off if "hole axis,left end" in line]
    text = "\n".join(good).replace("hole axis,left end", "hole axis,hole 1 left")
    (found,) = judged(bar, tmp_path, text + "\n" + second.replace("left end", "hole 2 left") + "\n").bars
    assert [each.kind for each in found.faults] == ["clocking"] and "3.0 deg" in found.faults[0].words


def test_points_in_metres_are_told_by_their_unit_however_small_a_bend_is(tmp_path):
    """Two points 3 mm apart, as an arc of 2 deg has them, are 0.003 m apart: the unit is wrong, not the points."""
    rows = [[200.0, 0.0, 80.0, 48.0], [400.0, 90.0, 2.0, 80.0], [400.0, 90.0, 80.0, 48.0], [200.0]]
    start = {"start_tip": "right", "start": [-250, -500, 0], "direction": [1, 0, 0], "first_bend_towards": [0, 1, 0]}
    tables = changed(base=U_BAR)
    del tables["centreline"]
    bar = bar_from_dict({**tables, "bends": {**start, "rows": rows}})
    text = "\n".join(
        re.sub(r"(-?\d+\.\d+)", lambda number: f"{float(number[1]) / 1000:.6f}", line) if ",point," in line else line
        for line in lot_text(bar, ["none"], seed=1).splitlines()
    )
    with pytest.raises(InputError, match=r"0\.001 times as far apart as drawn"):
        read_inspection(written(tmp_path, text + "\n"), bar)


def test_a_rate_of_unlike_arms_says_which_end_was_held(tmp_path):
    """Left hole 125 mm out, right hole 230: a plain U turned from the right end is (125 / 230)^2 as stiff."""
    bar = _u(_holes(125.0, 150.0))
    lines = "B-001,rate,hole 1,,,,1.0,N/mm,one_end_held,\n"
    (file,) = [read_inspection(written(tmp_path, lot_text(bar, ["none"], seed=1) + lines), bar)]
    (rate,) = judge_rates(bar, [(file.bars[0].all_of("rate"), bar)])[0]
    left = 0.5 * (rate.judged.low + rate.judged.high)
    other = float(re.search(r"the other way round it is about ([\d.]+)", rate.explained)[1])
    assert other / left == pytest.approx((125.0 / 230.0) ** 2, rel=0.05)
    # A bar that is its own mirror image has one rate, though at 60 mm to one side it is stiffer than half of roll's.
    for even in (bar_from_dict(U_BAR), bar_from_dict({**U_BAR, "travel": {"pickup": 40.0, "one_wheel": 60.0}})):
        (same,) = judge_rates(even, [(file.bars[0].all_of("rate"), even)])[0]
        assert "other way round" not in same.explained


def test_the_other_case_of_unlike_arms_is_told_though_no_factor_of_two(tmp_path):
    """Arms of 150 mm left and 205 right: by hand roll is (1 + 150 / 205)^2 / 2 = 1.5 times the left end's."""
    bar = _u(_holes(20.0, 100.0))
    (path,) = [written(tmp_path, lot_text(bar, ["none"], seed=1) + "B-001,rate,hole 2,,,,1.0,N/mm,One-end-held,\n")]
    (reading,) = read_inspection(path, bar).bars[0].all_of("rate")
    (rolls,) = judge_rates(bar, [([replace(reading, case="roll")], bar)])[0]
    roll = 0.5 * (rolls.judged.low + rolls.judged.high)
    (held,) = judge_rates(bar, [([replace(reading, value=roll)], bar)])[0]
    assert roll / (0.5 * (held.judged.low + held.judged.high)) == pytest.approx(1.5, rel=0.05)
    assert "is it one_end_held or roll?" in held.explained


def _points_moved(text, move):
    """The text with its points' coordinates changed: `move` takes and returns them by place."""
    lines = [line.split(",") for line in text.splitlines()]
    points = {cells[2]: cells[3:6] for cells in lines if cells[1:2] == ["point"]}
    moved = move(points)
    rows = [[*c[:3], *moved[c[2]], *c[6:]] if c[1:2] == ["point"] else c for c in lines]
    return "\n".join(map(",".join, rows)) + "\n"


def _exchanged(points):
    return {**points, "bend 1 end": points["bend 2 start"], "bend 2 start": points["bend 1 end"]}


def _off_by_4(points):
    *xy, z = points["bend 1 end"]
    return {**points, "bend 1 end": [*xy, f"{float(z) + 4.0:.3f}"]}


def test_two_points_under_each_other_s_name_are_asked_about(tmp_path):
    """Lines exchanged in the file would make bends far off, and reject a good bar."""
    bar = handed_bar()
    text = _points_moved(lot_text(bar, ["none"], seed=3), _exchanged)
    with pytest.raises(InputError, match="bend 1 end and bend 2 start look exchanged"):
        read_inspection(written(tmp_path, text), bar)


def test_a_point_that_no_rows_explain_is_said_and_noise_is_not(tmp_path, no_whole_check):
    """A tangent point 4 mm off; rows alone cannot do that."""
    bar = handed_bar()
    (found,) = judged(bar, tmp_path, _points_moved(lot_text(bar, ["none"], seed=3), _off_by_4)).bars
    assert any(note.startswith("no rows explain the points: near bend 1") for note in found.notes)
    for each in judged(
        bar, tmp_path, lot_text(bar, ["none", "bend", "rotation", "long", "exchanged"] * 8, seed=3)
    ).bars:
        assert not any("no rows explain" in note for note in each.notes)


def test_each_file_has_its_own_uncertainty(tmp_path, no_whole_check):
    """0.3 mm of noise is no fault of bars whose file says so, whatever the file before it says of its own."""
    bar = bar_from_dict({**handed_bar().tables, "tolerances": {"straight_length": 0.3, "bend_angle": 0.1}})
    fine = lot_text(bar, ["none"] * 3, seed=1, noise_mm=0.01).replace("; units", "; uncertainty = 0.01 mm ; units")
    rough = lot_text(bar, ["none"] * 12, seed=2, noise_mm=0.3).replace("B-", "C-")
    rough = rough.replace("; units", "; uncertainty = 0.3 mm ; units")
    texts = [written(tmp_path, text, name) for text, name in ((fine, "fine.csv"), (rough, "rough.csv"))]
    found = inspect_bars(bar, [read_inspection(path, bar) for path in texts])
    assert sum(bool(each.row_differences) for each in found.bars) <= 1


def test_points_too_rough_for_the_drawings_limits_are_told(tmp_path, no_whole_check):
    """Two standard deviations beyond the limit: a bar that reads within it may as well lie outside."""

    def notes(uncertainty: str, mismatch: float = 2.0) -> list[str]:
        drawing = {"profile_tolerance": 3.0, "tip_mismatch": mismatch}
        bar = bar_from_dict({**handed_bar().tables, "drawing": drawing})
        text = lot_text(bar, ["none"], seed=1).replace("; units", f"; uncertainty = {uncertainty} ; units")
        (found,) = judged(bar, tmp_path, text).bars
        return [note for note in found.notes if "uncertainty" in note]

    assert notes("0.1 mm") == notes("0.7 mm") == []
    (rough,) = notes("0.8 mm")
    assert rough == (
        "uncertainty of the points 0.8 mm, two standard deviations 1.6 mm: more than the 1.5 mm that the drawing "
        "allows (half of [drawing] profile_tolerance 3), within which a bar may read by chance; measure finer"
    )
    assert "1 mm that the drawing allows ([drawing] tip_mismatch)" in notes("0.7 mm", mismatch=1.0)[0]


@pytest.mark.parametrize(
    ("general", "from_tip_mm", "diameter_mm", "faults"),
    [
        ("ISO 2768-1 m", 20.3, 12.3, ["wrong hole position", "wrong hole diameter"]),  # ±0.2 mm from 6 to 30 mm
        ("ISO 2768-1 c", 20.4, 12.4, []),  # ±0.5 mm
        ("ISO 2768-1 c", 20.6, 12.6, ["wrong hole position", "wrong hole diameter"]),
        ("ISO 13920 A", 20.9, 12.9, []),  # ±1 mm
        ("none", 20.3, 12.3, ["wrong hole position", "wrong hole diameter"]),  # as class m
    ],
)
def test_holes_are_judged_by_the_general_tolerance_of_the_drawing(tmp_path, general, from_tip_mm, diameter_mm, faults):
    """Bars within the class that the drawing orders were rejected by a finer one."""
    holes = [{"name": "1", "from_tip": 20.0, "diameter": 12.0}]
    bar = bar_from_dict(changed(("ends.holes", holes), ("drawing", {"number": "U-1", "general_tolerance": general})))
    text = "# barfem inspection, format 1\n# drawing = U-1 ; units = mm, N, deg, HRC\nbar,what,place,value,unit\n"
    text += f"A,hole from_tip,hole 1 right,{from_tip_mm},mm\nA,hole diameter,hole 1 right,{diameter_mm},mm\n"
    (found,) = judged(bar, tmp_path, text).bars
    assert [fault.kind for fault in found.faults] == faults
    # The sheet to fill in says the limits that are judged.
    asked = {each.what: each.limits for each in asked_of(bar)}
    off = {"m": 0.2, "c": 0.5, "A": 1.0, "e": 0.2}[general[-1]]
    assert asked["hole diameter"] == f"{12 - off:.2f} to {12 + off:.2f}"
    assert asked["hole from_tip"] == f"{20 - off:.2f} to {20 + off:.2f}"
