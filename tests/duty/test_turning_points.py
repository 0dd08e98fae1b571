"""Turning points of both travels at once: what is kept, and what the loss is bounded by."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.strength.duty.rainflow import count_cycles
from barfem.strength.duty.turning_points import _excursion, travel_turning_points
from tests.duty.examples import history, history_from_arrays


def along(given: object, angle_deg: float) -> np.ndarray:
    a = np.deg2rad(angle_deg)
    return given.left_mm * np.cos(a) + given.right_mm * np.sin(a)  # type: ignore[attr-defined]


def ranges(values: np.ndarray) -> np.ndarray:
    found = count_cycles(values)
    return np.sort(np.repeat(found.range, np.rint(2 * found.count).astype(int)))[::-1]


@pytest.mark.parametrize("angle", [-45.0, 0.0, 30.0, 45.0, -90.0])
@pytest.mark.parametrize("hysteresis", [0.0, 1.0])
def test_in_a_direction_of_the_fan_only_cycles_below_the_hysteresis_are_lost(angle: float, hysteresis: float) -> None:
    given = history()
    points = travel_turning_points(given, hysteresis_mm=hysteresis)
    before, after = ranges(along(given, angle)), ranges(along(points, angle))
    large = before[before >= hysteresis]
    np.testing.assert_allclose(after[: large.size], large, rtol=1e-12)
    if after.size > large.size:
        assert after[large.size] < hysteresis


@pytest.mark.parametrize("angle", np.arange(-90.0, 90.0, 7.0) + 3.3)
def test_between_directions_ranges_are_low_by_twice_the_excursion_at_most(angle: float) -> None:
    given = history()
    points = travel_turning_points(given, hysteresis_mm=0.0)
    before, after = ranges(along(given, angle)), ranges(along(points, angle))
    size = max(before.size, after.size)
    low = np.pad(before, (0, size - before.size)) - np.pad(after, (0, size - after.size))
    # Rainflow counting is stable: signals never further apart than e differ by 2 e in any range.
    assert points.excursion_mm > 0.0
    assert low.min() > -1e-9
    assert low.max() <= 2.0 * points.excursion_mm


def test_a_smooth_loop_loses_one_minus_cosine_of_half_a_step() -> None:
    turn = np.linspace(0.0, 20.0 * np.pi, 200_001)
    given = history_from_arrays(time_s=turn, left_mm=30.0 * np.cos(turn), right_mm=30.0 * np.sin(turn))
    points = travel_turning_points(given, hysteresis_mm=0.1)
    # Steps of 15 deg; the directions are measured halfway.
    assert points.excursion_mm == pytest.approx(30.0 * (1.0 - np.cos(np.deg2rad(7.5))), rel=2e-3)
    # 24 a turn, but for the last half turn, where no later move confirms the turn.
    assert points.sample.size == pytest.approx(240, abs=14)


@pytest.mark.parametrize(("angle", "sides"), [(0.0, (1, 0)), (-90.0, (0, 1)), (-45.0, (1, -1)), (45.0, (1, 1))])
def test_a_direction_is_that_of_left_and_right(angle: float, sides: tuple[int, int]) -> None:
    given = history(500, roll_mm=10.0, heave_mm=7.0)
    points = travel_turning_points(given, hysteresis_mm=0.0, directions_deg=[angle])
    travel = sides[0] * given.left_mm + sides[1] * given.right_mm
    step = np.diff(travel)
    turns = np.flatnonzero(step[1:] * step[:-1] < 0.0) + 1
    np.testing.assert_array_equal(points.sample, [0, *turns, given.samples - 1])


def test_what_is_left_out_is_measured_upward_and_downward() -> None:
    kept = np.array([0, 3, 5])
    for beyond, signal in ((2.0, [0, 3, 7, 5, 4, 1]), (1.5, [0, -1.5, 2, 5, 4, 1]), (0.0, [0, 3, 4, 5, 2, 1])):
        assert _excursion(np.array(signal, float), kept) == beyond


def test_a_level_end_is_kept() -> None:
    given = history_from_arrays(time_s=np.arange(6), left_mm=[0, 5, 1, 4, 4, 4], right_mm=np.zeros(6))
    points = travel_turning_points(given, hysteresis_mm=0.0, directions_deg=[0.0])
    assert points.sample[-1] == 5


def test_more_hysteresis_keeps_fewer_points() -> None:
    given = history()
    sizes = [travel_turning_points(given, hysteresis_mm=h).sample.size for h in (0.0, 0.5, 2.0, 8.0, 30.0)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-2] < 0.7 * sizes[0] and sizes[-1] < 0.2 * sizes[0]


def test_first_and_last_sample_stay_and_the_history_is_echoed() -> None:
    given = history(500)
    points = travel_turning_points(given, hysteresis_mm=3.0, directions_deg=[135.0, -45.0])
    assert points.directions_deg == (-45.0,)
    assert points.sample[0] == 0 and points.sample[-1] == 499
    np.testing.assert_array_equal(points.left_mm, given.left_mm[points.sample])
    assert (points.samples, points.duration_s, points.hysteresis_mm) == (500, given.duration_s, 3.0)


def test_a_hysteresis_that_cannot_be_is_refused() -> None:
    given = history(100)
    for value, word in ((-1.0, "not possible"), (np.nan, "not possible"), (1e3, "takes out all")):
        with pytest.raises(InputError, match=word):
            travel_turning_points(given, hysteresis_mm=value)
    with pytest.raises(InputError, match="no direction"):
        travel_turning_points(given, hysteresis_mm=0.0, directions_deg=[])
