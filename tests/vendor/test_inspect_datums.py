"""How a measured bar lies in its mounts, by hand: the mismatch of its tips, its sign, and which reading is believed."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.read import bar_from_dict
from barfem.vendor.inspect_fit import believed, fit_function
from barfem.vendor.inspect_shape import drawn_points
from tests.model.bar_data import U_BAR, changed

PLAIN = bar_from_dict(U_BAR)


def with_left_arm_turned(deg: float) -> np.ndarray:
    """The plain U's points with everything past the straight turned about it: z is up, the arms run to the rear."""
    points = drawn_points(PLAIN)
    turn = np.radians(deg)
    about_y = np.array([[np.cos(turn), 0.0, np.sin(turn)], [0.0, 1.0, 0.0], [-np.sin(turn), 0.0, np.cos(turn)]])
    points[4:] = points[4:] @ about_y.T
    return points


@pytest.mark.parametrize("deg", [2.0, -2.0])
def test_a_left_tip_above_the_right_one_is_a_mismatch_above_zero(deg: float) -> None:
    """An arm to the rear (x below zero) turned by + 2 deg about y lifts its hole: 230 mm x sin 2 deg = 8.03 mm."""
    points = with_left_arm_turned(deg)
    assert np.sign(points[-1, 2]) == np.sign(deg)
    found = fit_function(PLAIN, points)
    assert found.tip_mismatch_mm == pytest.approx(230.0 * np.sin(np.radians(deg)), rel=1e-3)


def test_tips_that_both_go_outwards_by_as_much_have_no_mismatch() -> None:
    """Pickups that rise outwards, each to its own side: a bar too wide by 6 mm lies 3 mm out at both ends alike."""
    leaning = bar_from_dict(changed(("travel.direction", [0.0, 0.6, 0.8])))
    points = drawn_points(leaning)
    points[:, 1] += np.where(points[:, 1] > 0.0, 3.0, -3.0)
    found = fit_function(leaning, points)
    assert found.tip_mismatch_mm == pytest.approx(0.0, abs=1e-9)
    # One tip alone, 6 mm out: 0.6 of that is along its travel.
    points = drawn_points(leaning)
    points[-2:, 1] += 6.0
    assert fit_function(leaning, points).tip_mismatch_mm == pytest.approx(3.6, abs=0.05)


def test_the_outermost_mounts_are_the_datum_and_not_one_between() -> None:
    """A bar cranked upwards in the middle and bent there by too much is still its own mirror image: no mismatch. Held
    by its right half's two mounts its left half would hang far below.
    """
    tables = changed(("centreline.points", [[-250, -500, 0], [0, -500, 0], [0, 0, 60], [0, 500, 0], [-250, 500, 0]]))
    near = {"from_middle": -150.0, "radial_stiffness": 5000.0, "length": 40.0}
    tables["mounts"] = [tables["mounts"][0], near, tables["mounts"][1]]
    bar = bar_from_dict(tables)
    points = drawn_points(bar)
    turn = np.radians(1.0)  # each half about the crank, about x: both ends go down
    for half, sense in ((slice(0, 4), 1.0), (slice(4, 8), -1.0)):
        c, s = np.cos(turn), sense * np.sin(turn)
        points[half] = points[half] @ np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]]).T
    assert points[0, 2] == pytest.approx(points[-1, 2]) and points[0, 2] < -8.0
    found = fit_function(bar, points)
    assert found.tip_mismatch_mm == pytest.approx(0.0, abs=1e-9)
    assert found.distance_mm[0] == pytest.approx(found.distance_mm[-1])


@pytest.mark.parametrize(
    ("rms_mm", "taken"),
    [
        ((0.3, 0.16, 9.0, 9.0), 0),  # better by less than half: what the names say
        ((0.3, 0.14, 9.0, 9.0), 1),
        ((9.0, 0.5, 0.3, 0.2), 2),  # of those within twice the best the first
        ((9.0, 0.41, 0.41, 0.2), 3),
        ((9.0, 9.0, 0.2, 0.2), 2),
    ],
)
def test_the_names_of_a_file_are_believed_unless_another_reading_is_plainly_better(rms_mm, taken) -> None:
    assert believed(rms_mm) == taken
