"""How far measuring noise is told from a fault: bars as drawn, measured a hundred times by an arm that scatters."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.vendor.inspect_rows import explain_rows
from barfem.vendor.inspect_shape import drawn_rows, walk
from barfem.vendor.orientation import Orientation
from barfem.vendor.part import part_of
from tests.vendor.bars import handed_bar

BAR = handed_bar()
ROWS = drawn_rows(BAR)
TIMES = 120


def measured(noise_mm: float, *, angle_off: float = 0.0, seed: int = 1) -> list[np.ndarray]:
    vector = ROWS.vector.copy()
    vector[2 * ROWS.bends + 1] += angle_off
    points = walk(vector, ROWS.bends)[0]
    return list(points + np.random.default_rng(seed).normal(0.0, noise_mm, (TIMES, *points.shape)))


def test_noise_alone_names_a_row_once_in_a_thousand_bars() -> None:
    """Of 120 bars as drawn one at most is accused; ten per cent would be twelve."""
    fits = explain_rows(ROWS, measured(0.1), noise_mm=0.1)
    assert sum(bool(fit.differences) for fit in fits) <= 1


def test_the_noise_that_points_show_is_that_which_they_have() -> None:
    """Six points have 18 coordinates less 6 of lying anywhere; eight rows are fitted: four are left to tell 0.5 mm."""
    fits = explain_rows(ROWS, measured(0.5))
    noise = np.sqrt(np.mean([fit.noise_mm**2 for fit in fits]))
    assert noise == pytest.approx(0.5, rel=0.12)


def test_the_error_of_a_named_angle_is_how_far_it_scatters() -> None:
    """2 deg too much at bend 2, found alone in every bar: the standard error is the spread of what is found."""
    fits = explain_rows(ROWS, measured(0.1, angle_off=2.0), noise_mm=0.1)
    named = [fit.differences for fit in fits if len(fit.differences) == 1 and fit.differences[0].what == "angle"]
    assert len(named) > 0.9 * TIMES
    found = np.array([one.difference for (one,) in named])
    assert found.mean() == pytest.approx(2.0, abs=0.02)
    assert found.std(ddof=1) == pytest.approx(np.mean([one.se for (one,) in named]), rel=0.25)


@pytest.mark.parametrize(
    ("fits", "reach", "can"), [(4.9, 49.0, True), (5.1, 49.0, False), (4.9, 51.0, False), (0.0, 0.0, True)]
)
def test_a_bar_can_be_fitted_turned_over_where_mounts_and_links_reach(fits: float, reach: float, can: bool) -> None:
    """5 mm from a bushing's middle it can still be pushed in, 50 mm from the joint a link still reaches."""
    assert Orientation(False, True, fits, reach).can_be_turned is can
    assert not Orientation(True, True, fits, reach).can_be_turned  # onto itself: nothing is wrong way round


def test_the_other_hand_is_clocked_to_the_other_sense() -> None:
    """Mirrored in the car's middle plane the left end becomes the right one, and every angle turns round."""
    drawn = {(hole.name, hole.end): hole.clocking_deg for hole in part_of(BAR).holes}
    other = {(hole.name, hole.end): hole.clocking_deg for hole in part_of(BAR, hand="other").holes}
    swap = {"right": "left", "left": "right"}
    for (name, end), angle in drawn.items():
        mirrored = other[name, swap[end]]
        assert angle is not None and mirrored is not None
        assert (angle + mirrored + 90.0) % 180.0 - 90.0 == pytest.approx(0.0, abs=1e-9)
    assert any(abs(angle or 0.0) > 5.0 and abs(abs(angle or 0.0) - 90.0) > 5.0 for angle in drawn.values())
