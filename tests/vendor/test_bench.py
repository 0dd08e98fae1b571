"""The test bench: forces and strains of a plain U by hand, where the gauge sits, and what `plan` names."""

from __future__ import annotations

import json

import numpy as np
import pytest

from barfem.check.bench import bench_rows, gauge_of
from barfem.cli.main import main
from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from tests.model.bar_data import U_BAR, changed


@pytest.fixture(scope="module")
def bar() -> Bar:
    return bar_from_dict(changed(("travel.pickup", 10.0), ("links.length", 400.0), base=U_BAR))


def test_the_middle_of_a_u_is_twisted_by_force_times_arm(bar):
    """T = F x arm, gamma = T c / (G J), J = pi d^4 / 32; half of it is the strain at 45 deg.

    The left tip, behind the axis, goes up and the right one down: seen from the right, where y points away, the left
    end turns clockwise, and the top of the bar moves forward, the farther the nearer to the left tip. A line from there
    towards the left tip and forward grows, and one that is turned the other way, right-handed about upward, shrinks.
    """
    gauge = gauge_of(bar)
    assert gauge.from_middle_mm == pytest.approx(0.0, abs=1e-6) and gauge.where == "straight 2, on top"
    row = next(row for row in bench_rows(bar, gauge) if row.hole == "1" and row.rig == "as in the car")
    twist = row.force_N * 230.0 * 12.0 / (bar.steel.G_MPa * np.pi * 24.0**4 / 32.0)
    share, along, plus, minus = row.strains[-1]
    assert share == 1.0 and plus == pytest.approx(-0.5e6 * twist, rel=0.01)
    assert minus == pytest.approx(-plus, rel=0.02) and abs(along) < 0.02 * abs(plus)
    assert row.strains[0][2] == pytest.approx(0.25 * plus, rel=0.02)


def test_one_end_held_needs_twice_the_stroke_for_the_same_force(bar):
    rows = {(row.hole, row.rig): row for row in bench_rows(bar, gauge_of(bar))}
    held, both = rows["1", "right end held"], rows["1", "as in the car"]
    assert both.left_mm == (10.0, -10.0) and both.right_mm == (-10.0, 10.0) and held.right_mm == (0.0, 0.0)
    assert held.left_mm == pytest.approx((20.0, -20.0), rel=1e-3)
    assert held.force_N == pytest.approx(both.force_N, rel=0.01)


@pytest.mark.parametrize(("left_arm", "twice_would_be"), [(150.0, 1.25), (350.0, 0.85)])
def test_with_unequal_arms_one_end_held_is_not_twice_the_stroke(left_arm, twice_would_be):
    """The middle turns by u / a_left + d / a_right in roll, by x / a_left with the right end held (levers, any text).

    So x = u + d a_left / a_right does the same to the bar. Twice the travel at the end of a short arm loads it by a
    quarter more than the car does, at that of a long arm by a sixth less: a test that shows nothing.
    """
    bar = bar_from_dict(
        changed(
            ("travel", {"up": 10.0, "down": 8.0, "direction": [0, 0, 1]}),
            ("duty", {"ratio": -0.5}),
            ("links.length", 400.0),
            ("centreline.points", [[-250, -500, 0], [0, -500, 0], [0, 500, 0], [-left_arm, 500, 0]]),
            base=U_BAR,
        )
    )
    rows = {row.rig: row for row in bench_rows(bar, gauge_of(bar)) if row.hole == "1"}
    both, held = rows["as in the car"], rows["right end held"]
    # the other end of the cycle: sides exchanged, each within its own bump and droop, half as far
    assert both.left_mm == (10.0, -4.0) and both.right_mm == (-8.0, 5.0)
    lever = (left_arm - 20.0) / 230.0
    assert held.left_mm == pytest.approx((10.0 + 8.0 * lever, -4.0 - 5.0 * lever), rel=0.03)
    assert 18.0 / held.left_mm[0] == pytest.approx(twice_would_be, rel=0.05)
    assert held.force_N == pytest.approx(both.force_N, rel=0.01)
    for here, there in zip(held.strains, both.strains, strict=True):
        assert here[2:] == pytest.approx(there[2:], rel=0.03)


@pytest.mark.parametrize(
    ("ratio", "words", "stroke"),
    [
        (-1.0, "left pickup up 10 mm, right pickup down 10 mm; the other end of the cycle is the same with", [10, 10]),
        (0.0, "left pickup up 10 mm, right pickup down 10 mm; the other end of the cycle is rest", [10, 0]),
    ],
)
def test_the_test_that_is_ordered_is_the_duty_that_is_judged(ratio, words, stroke, tmp_path, capsys):
    """A bar judged from rest to full travel and tested to both sides would be tested at twice the amplitude."""
    import tomlkit

    made = changed(("travel.pickup", 10.0), ("links.length", 400.0), ("duty", {"ratio": ratio}), base=U_BAR)
    path, out = tmp_path / "bar.toml", tmp_path / "plan.json"
    path.write_text(tomlkit.dumps(made), encoding="utf-8")
    assert main(["plan", str(path), "--json", str(out)]) == 0
    assert words in " ".join(capsys.readouterr().out.split())
    assert json.loads(out.read_text(encoding="utf-8"))["tested"]["stroke_mm"] == stroke


def test_a_bar_without_a_clear_straight_has_no_gauge():
    mounts = [
        {"from_middle": x, "radial_stiffness": 5e3, "axial_stiffness": 100, "length": 40} for x in range(-420, 421, 120)
    ]
    flat = {
        "kind": "forged",
        "thickness": 12.0,
        "width": 40.0,
        "length": 190.0,
        "transition": 25.0,
        "normal": [0, 1, 0],
    }
    crowded = bar_from_dict(changed(("mounts", mounts), ("ends.flat", flat), base=U_BAR))
    with pytest.raises(InputError, match="clear of bends"):
        gauge_of(crowded)


@pytest.mark.long
def test_plan_names_what_is_tested_and_writes_the_sheet(bar, tmp_path, capsys):
    import tomlkit

    path, sheet, out = tmp_path / "bar.toml", tmp_path / "sheet.pdf", tmp_path / "plan.json"
    path.write_text(tomlkit.dumps(json.loads(json.dumps(dict(bar.tables)))), encoding="utf-8")
    assert main(["plan", str(path), "--sheet", str(sheet), "--json", str(out)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    tested = json.loads(out.read_text(encoding="utf-8"))["tested"]
    assert f"Test plain U, hole {tested['holes']}, roll: left pickup up 10 mm" in printed and tested["place"] in printed
    first = sheet.read_bytes()
    assert first.startswith(b"%PDF") and main(["plan", str(path), "--sheet", str(sheet)]) == 0
    assert sheet.read_bytes() == first
    assert main(["plan", "--target", "1000", "--sheet", str(sheet)]) == 2
