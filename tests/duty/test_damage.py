"""From history to damage: against a plain recount, bounds of screening, signs, statuses, units of life."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from barfem.model.errors import BarfemError, InputError
from barfem.strength.duty.damage import history_damage, peak_over_history
from barfem.strength.duty.damage_result import HistoryDamage
from barfem.strength.duty.history import History
from barfem.strength.duty.interpolate import TravelResponse
from barfem.strength.duty.miner import DamageLines
from barfem.strength.duty.rainflow import count_cycles
from barfem.strength.duty.screening import level_table, screen, upper_damage
from barfem.strength.fatigue.assess import LifeStatus
from barfem.strength.fatigue.factors import strength_share
from tests.duty.examples import history, history_from_arrays, linear_response, lines, roll_response


def full_travel(given: History, response: TravelResponse) -> np.ndarray:
    return response.stress([given.left_mm.max()], [given.right_mm.min()])[0]


def run(given: History, response: TravelResponse, of: DamageLines | None = None, **options: object) -> HistoryDamage:
    peak, _ = peak_over_history(response, given)
    return history_damage(
        given,
        response,
        lines(response.places, peak=peak, at_1e6=200.0) if of is None else of,
        reference=full_travel(given, response),
        **options,  # type: ignore[arg-type]
    )


def by_hand(scalar: np.ndarray, at_1e6: float = 200.0) -> float:
    """Median damage of a one-component stress: Goodman, the sloping line, Haibach below; cycle by cycle."""
    k = 3.0 / np.log10(1116.0 / at_1e6)
    total = 0.0
    found = count_cycles(scalar)
    for size, mean, count in zip(found.range, found.mean, found.count, strict=True):
        stress = 0.5 * size / (1.0 - abs(mean) / 1450.0)
        slope = k if stress > at_1e6 else 2.0 * k - 1.0
        total += count * (stress / at_1e6) ** slope / 1e6
    return total


@pytest.mark.parametrize("part", ["along", "shear"])
def test_one_component_agrees_with_a_plain_recount(part: str) -> None:
    given = history()
    gain = np.array([9.0, 6.0, 3.0])
    none = np.zeros(3)
    response = roll_response(given, gain, none) if part == "along" else roll_response(given, none, gain / np.sqrt(3.0))
    result = run(given, response)
    assert result.governing == 0
    roll = 0.5 * (given.left_mm - given.right_mm)
    assert result.damage[0, 0] == pytest.approx(by_hand(9.0 * roll), rel=1e-9)
    assert result.repeats[0, 0] == pytest.approx(0.5 / by_hand(9.0 * roll), rel=1e-9)
    assert abs(result.left_out_share) < 1e-6
    assert result.out_of_line_share == pytest.approx(0.0, abs=1e-9)


@given(seed=st.integers(0, 10_000), heave=st.floats(0.0, 10.0))
@settings(deadline=None, max_examples=12)
def test_no_place_is_worse_than_its_upper_estimate(seed: int, heave: float) -> None:
    # The weaker half of the response at any angle, and all sizes: stress in proportion to one tensor at each place.
    rng = np.random.default_rng(seed)
    given = history(1_500, heave_mm=heave, seed=seed)
    places = 24
    angle = rng.uniform(-np.pi / 2, np.pi / 2, places)
    tensor = rng.normal(size=(places, 3)) * [1.0, 0.2, 0.6]
    pull = np.stack([np.cos(angle), np.sin(angle)], axis=1) * rng.uniform(0.5, 9.0, places)[:, None]
    response = linear_response(given, tensor[:, :, None] * pull[:, None, :])
    reference = tensor
    of = lines(places, peak=0.0, at_1e6=200.0)
    upper = screen(given, response, of, reference, strength_share=1.0)
    left, right = given.left_mm, given.right_mm
    weight = np.sqrt(tensor[:, 0] ** 2 - tensor[:, 0] * tensor[:, 1] + tensor[:, 1] ** 2 + 3.0 * tensor[:, 2] ** 2)
    for i in range(places):
        scalar = weight[i] * (pull[i, 0] * left + pull[i, 1] * right)
        assert by_hand(scalar) <= upper[i] * (1.0 + 1e-9)


def test_screening_finds_the_worst_of_many_and_says_what_it_discards() -> None:
    given = history(heave_mm=8.0)
    rng = np.random.default_rng(5)
    slope = np.zeros((300, 3, 2))
    slope[:, 0, 0], slope[:, 0, 1] = rng.uniform(2.0, 5.0, 300), -rng.uniform(2.0, 5.0, 300)
    response = linear_response(given, slope)
    result = run(given, response, survivals=(0.5,))
    plain = np.array([by_hand(slope[i, 0, 0] * given.left_mm + slope[i, 0, 1] * given.right_mm) for i in range(300)])
    assert result.damage[0, 0] == pytest.approx(plain[result.governing], rel=1e-9)
    # None that was left can be worse by over 1 %, and what is said of each holds.
    assert result.places.size < 30
    assert plain.max() <= result.discarded_share * result.damage[0, 0] <= 1.01 * result.damage[0, 0]
    rest = np.delete(np.arange(300), result.places)
    assert np.all(plain[rest] <= result.upper_damage[rest] * (1.0 + 1e-9))
    few = run(given, response, max_places=1)
    assert few.places.size == 1 and few.discarded_share > 1.01


def test_of_places_that_are_alike_one_is_counted() -> None:
    given = history(1_000)
    result = run(given, roll_response(given, np.full(40, 9.0), np.zeros(40)))
    assert result.places.size == 1
    assert result.discarded_share == pytest.approx(1.0, abs=0.01)


def test_reversed_torsion_is_not_rectified() -> None:
    # A sine of roll: the shear goes through zero, von Mises stress alone would see half the range twice as often.
    time = np.linspace(0.0, 20.0, 4_001)
    roll = 20.0 * np.sin(2.0 * np.pi * time)
    given = history_from_arrays(time_s=time, left_mm=roll, right_mm=-roll)
    result = run(given, roll_response(given, np.zeros(1), np.array([10.0])), hysteresis_mm=0.0)
    assert result.cycles.amplitude_MPa.max() == pytest.approx(200.0 * np.sqrt(3.0), rel=1e-5)
    # Twenty cycles; the residue of half cycles at both ends is counted as none or as one half more.
    assert result.cycles.count.sum() == pytest.approx(20.25, abs=0.26)


def test_a_stress_that_does_not_scale_as_one_tensor_is_told() -> None:
    given = history(heave_mm=10.0)
    slope = np.zeros((1, 3, 2))
    slope[0, 2] = [1.5, -1.5]  # torsion from roll
    slope[0, 0] = [4.0, 4.0]  # bending from heave
    result = run(given, linear_response(given, slope))
    # Bending at right angles to torsion: all of the larger part.
    assert result.out_of_line_share > 0.5


def test_damage_is_additive_over_repeats() -> None:
    given = history(1_000)
    response = roll_response(given, np.array([9.0]), np.array([2.0]))
    twice = history_from_arrays(
        time_s=0.002 * np.arange(2_000), left_mm=np.tile(given.left_mm, 2), right_mm=np.tile(given.right_mm, 2)
    )
    of = lines(1, peak=peak_over_history(response, given)[0], at_1e6=200.0)
    one, two = (run(h, response, of, residue="repeat") for h in (given, twice))
    np.testing.assert_allclose(two.damage[:, 0], 2.0 * one.damage[:, 0], rtol=1e-9)


def test_hysteresis_is_seen_in_the_recount_of_the_governing_place() -> None:
    given = history()
    response = roll_response(given, np.array([9.0, 8.9]), np.zeros(2))
    fine, coarse = run(given, response, hysteresis_mm=0.0), run(given, response, hysteresis_mm=15.0)
    assert abs(fine.left_out_share) < 1e-9
    assert coarse.left_out_share > 1e-5
    # The governing place itself is counted on every sample either way.
    assert coarse.damage[0, 0] == pytest.approx(fine.damage[0, 0], rel=1e-12)
    assert coarse.turning_points.sample.size < fine.turning_points.sample.size


def test_the_default_hysteresis_is_a_share_of_the_span() -> None:
    given = history(1_000)
    response = roll_response(given, np.array([9.0]), np.zeros(1))
    span = np.hypot(np.ptp(given.left_mm), np.ptp(given.right_mm))
    assert run(given, response).turning_points.hysteresis_mm == pytest.approx(0.005 * span)
    assert run(given, response, hysteresis_mm=0.3).turning_points.hysteresis_mm == 0.3


def test_a_stress_that_nobody_feels_raises_no_doubts() -> None:
    given = history(heave_mm=10.0)
    slope = np.zeros((1, 3, 2))
    slope[0, 2], slope[0, 0] = [1.5e-4, -1.5e-4], [4e-4, 4e-4]
    result = run(given, linear_response(given, slope))
    assert result.out_of_line_share == 0.0
    # A quadratic response of the same size: what interpolation misses is small against the endurance limit.
    left = np.linspace(given.left_mm.min(), given.left_mm.max(), 3)
    right = np.linspace(given.right_mm.min(), given.right_mm.max(), 3)
    stress = 1e-4 * (left[:, None, None, None] ** 2 + 0.0 * right[:, None, None]) * np.array([1.0, 0.0, 0.0])
    result = run(given, TravelResponse(left, right, stress))
    largest = float(np.abs(given.left_mm).max())
    assert result.interpolation_share < 1e-4 * largest**2 / (0.01 * 200.0)


def test_tendencies_and_survivals() -> None:
    given = history()
    weak = run(given, roll_response(given, np.array([9.0]), np.zeros(1)))
    strong = run(given, roll_response(given, np.array([8.5]), np.zeros(1)))
    assert strong.life_repeats[0] > weak.life_repeats[0]
    assert weak.life_repeats[0] > weak.life_repeats[1] > weak.life_repeats[2]
    np.testing.assert_allclose(weak.life_hours, weak.life_repeats * given.duration_s / 3600.0)
    np.testing.assert_allclose(weak.life_km(speed_km_per_h=90.0), weak.life_hours * 90.0)
    np.testing.assert_allclose(weak.life_km(distance_km=0.2), weak.life_repeats * 0.2)
    for wrong in ({}, {"distance_km": 1.0, "speed_km_per_h": 1.0}, {"distance_km": -1.0}):
        with pytest.raises(InputError, match="either the length"):
            weak.life_km(**wrong)


def test_below_the_endurance_limit_nothing_is_claimed() -> None:
    given = history()
    response = roll_response(given, np.array([1.0, 1.2]), np.zeros(2))
    result = run(given, response)
    assert result.governing == 1
    assert result.runout.all() and np.isnan(result.repeats).all() and np.all(result.damage == 0.0)


def test_the_place_that_governs_is_that_of_the_survival_that_is_judged() -> None:
    # A flat line (k = 8) and a steep one (k = 4) that cross: of weak bars the flat one's place breaks first, of median
    # ones the steep one's. One sine of roll, 200 MPa at either place, far above both limits.
    time = np.linspace(0.0, 20.0, 4_001)
    roll = 20.0 * np.sin(2.0 * np.pi * time)
    given = history_from_arrays(time_s=time, left_mm=roll, right_mm=-roll)
    exponent, life = np.array([8.0, 4.0]), np.array([24_000.0, 20_000.0])
    at_1e6 = 200.0 * (life / 1e6) ** (1.0 / exponent)
    of = lines(2, peak=200.0, at_1e3=at_1e6 * 10.0 ** (3.0 / exponent), at_1e6=at_1e6)
    response = roll_response(given, np.array([10.0, 10.0]), np.zeros(2))
    found = {share: run(given, response, of, survivals=(share, 0.5, 0.99)) for share in (0.5, 0.9)}
    for share, worst in ((0.5, 1), (0.9, 0)):
        by_place = life * strength_share(share) ** exponent
        assert int(np.argmin(by_place)) == worst  # Basquin's line by hand, of bars with that share of the strength
        assert found[share].governing == worst
        # Nineteen and a half whole cycles, and two halves of half the size; no other place has more than is said.
        assert 19.5 <= found[share].damage[0, 0] * by_place[worst] <= 20.0
        assert found[share].discarded_share <= 1.01


def test_a_few_cycles_above_the_limit_count_for_more_than_many_below_it() -> None:
    # Place 0 feels every cycle, none above its endurance limit; place 1 is stiff to heave alone, of which there is one.
    time = 0.01 * np.arange(4_000)
    roll, heave = 20.0 * np.sin(50.0 * time), np.where(np.abs(time - 20.0) < 1.0, 25.0 * np.sin(np.pi * time), 0.0)
    given = history_from_arrays(time_s=time, left_mm=heave + roll, right_mm=heave - roll)
    slope = np.zeros((3, 3, 2))
    slope[0, 0], slope[1, 0], slope[2, 0] = [4.0, -4.0], [5.5, 5.5], [4.0, -3.9]
    response = linear_response(given, slope)
    of = lines(3, peak=peak_over_history(response, given)[0], at_1e6=200.0)
    upper = screen(given, response, of, slope[..., 0], strength_share=0.9)
    assert upper[0] > 2.0 * upper[1]
    result = run(given, response, of, survivals=(0.9, 0.5))
    assert 1 in result.places and result.governing == 1
    assert not result.runout[0, 0] and result.repeats[0, 0] > 0.0
    # The others run out, and no damage is to be had of them.
    assert result.places.size == 2 and result.upper_damage[2] == 0.0


def test_a_runout_at_the_median_need_not_be_one_at_survival() -> None:
    time = np.linspace(0.0, 20.0, 4_001)
    roll = 20.0 * np.sin(2.0 * np.pi * time)
    given = history_from_arrays(time_s=time, left_mm=roll, right_mm=-roll)
    # 190 MPa lies below the 200 MPa of the median bar, above the 0.897 x 200 = 179 MPa of nine bars in ten.
    result = run(given, roll_response(given, np.array([9.5]), np.zeros(1)), survivals=(0.5, 0.9))
    np.testing.assert_array_equal(result.runout[:, 0], [True, False])
    assert np.isnan(result.repeats[0, 0]) and result.repeats[1, 0] > 0.0
    assert result.damage[0, 0] == 0.0 and result.damage[1, 0] > 0.0


def test_turning_points_are_looked_for_where_any_place_responds() -> None:
    given = history(1_000, heave_mm=8.0)
    slope = np.zeros((3, 3, 2))
    slope[:, 0] = [[4.5, -4.5], [7.0, 0.0], [0.0, 6.9]]
    result = run(given, linear_response(given, slope), hysteresis_mm=0.0)
    assert {-45.0, 0.0} <= {round(angle / 5.0) * 5.0 for angle in result.turning_points.directions_deg}
    assert {-90.0} <= {round(angle / 5.0) * 5.0 for angle in result.turning_points.directions_deg}
    # With the right directions and no hysteresis the turning points hold all damage, at the governing place and others.
    assert result.left_out_share == pytest.approx(0.0, abs=1e-9)
    for i, place in enumerate(result.places):
        exact = by_hand(slope[place, 0, 0] * given.left_mm + slope[place, 0, 1] * given.right_mm)
        assert result.damage[0, i] == pytest.approx(exact, rel=1e-6)


def test_where_nothing_does_harm_the_place_nearest_to_it_is_named() -> None:
    given = history()
    # Place 0 is weak against many small cycles, but place 1 comes nearer to its endurance limit.
    response = roll_response(given, np.array([1.0, 1.9, 0.2]), np.zeros(3))
    of = lines(3, at_1e6=np.array([200.0, 320.0, 200.0]))
    result = run(given, response, of)
    assert result.runout.all() and result.governing == 1
    assert result.places.size <= 2 and np.all(result.upper_damage == 0.0)


def test_above_yield_there_is_no_life() -> None:
    given = history()
    response = roll_response(given, np.array([9.0, 60.0]), np.zeros(2))
    result = run(given, response)
    assert result.governing == 1
    assert result.status[0] == LifeStatus.ABOVE_YIELD
    assert np.isnan(result.life_repeats).all()
    # The other place still has its life.
    assert result.status[1] == LifeStatus.STANDS and np.isfinite(result.repeats[0, 1])


def test_of_the_places_above_yield_the_most_stressed_is_counted() -> None:
    given = history()
    response = roll_response(given, np.append(np.linspace(60.0, 90.0, 20), 9.0), np.zeros(21))
    result = run(given, response)
    assert result.places.tolist() == [19, 20]
    assert result.status[0] == LifeStatus.ABOVE_YIELD and np.all(result.upper_damage[:20] == 0.0)


def test_travel_across_the_counted_direction_is_allowed_for() -> None:
    # A place that feels heave alone, of which there are 200 cycles, bounded by a count of roll, of which there is one.
    time = 0.01 * np.arange(4_000)
    roll, heave = 0.1 * np.sin(0.15 * time), 20.0 * np.sin(10.0 * np.pi * time)
    given = history_from_arrays(time_s=time, left_mm=heave + roll, right_mm=heave - roll)
    slope = np.zeros((1, 3, 2))
    slope[0, 0] = [5.0, 5.0]
    response = linear_response(given, slope)
    upper = upper_damage(response, lines(at_1e6=200.0), level_table(given, angle_deg=-45.0))
    assert upper[0] >= by_hand(5.0 * (given.left_mm + given.right_mm))


def test_a_soft_place_of_little_damage_is_not_screened_away() -> None:
    from dataclasses import replace

    given = history()
    gain = np.append(np.linspace(9.0, 5.0, 60), 0.5)
    response = roll_response(given, gain, np.zeros(61))
    of = lines(61, peak=peak_over_history(response, given)[0], at_1e6=200.0)
    soft = replace(of, yield_MPa=np.where(gain < 1.0, 5.0, 1300.0))
    assert run(given, response, of).governing == 0
    result = run(given, response, soft)
    assert result.governing == 60 and result.status[0] == LifeStatus.ABOVE_YIELD
    assert result.places[1] == 0


def test_travel_beyond_what_was_solved_is_refused() -> None:
    given = history()
    response = roll_response(given, np.array([9.0]), np.zeros(1))
    further = history_from_arrays(time_s=given.time_s, left_mm=1.2 * given.left_mm, right_mm=given.right_mm)
    with pytest.raises(InputError, match="outside of what was solved"):
        run(further, response, lines())


def test_shapes_that_do_not_fit_are_refused() -> None:
    given = history(100)
    response = roll_response(given, np.array([9.0]), np.zeros(1))
    with pytest.raises(BarfemError, match="1 places, 2 lines"):
        history_damage(given, response, lines(2), reference=np.ones((1, 3)))
    with pytest.raises(InputError, match="0 places"):
        history_damage(given, response, lines(1), reference=np.ones((1, 3)), max_places=0)


def test_one_side_alone_may_move() -> None:
    time = 0.01 * np.arange(500)
    given = history_from_arrays(time_s=time, left_mm=40.0 * np.sin(7.0 * time), right_mm=np.zeros(500))
    left = np.linspace(given.left_mm.min(), given.left_mm.max(), 3)
    response = TravelResponse(left, np.zeros(1), (10.0 * left)[:, None, None, None] * np.array([1.0, 0.0, 0.0]))
    result = run(given, response)
    assert result.damage[0, 0] == pytest.approx(by_hand(10.0 * given.left_mm), rel=1e-9)
