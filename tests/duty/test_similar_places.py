"""What a counted place says of those like it: never too little, and hardly too much."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from barfem.strength.duty.damage_result import PlaceCycles
from barfem.strength.duty.history import History
from barfem.strength.duty.interpolate import TravelResponse
from barfem.strength.duty.miner import DamageLines, damage_per_cycle, equivalent_amplitude
from barfem.strength.duty.one_place import cycles_at, damage_of
from barfem.strength.duty.similar_places import (
    bound_by_similarity,
    equivalent_bounds,
    largest_equivalent,
    similarity,
    thinned,
)
from barfem.strength.duty.von_mises import amplitude_and_mean, plane_von_mises, von_mises_coordinates
from barfem.strength.fatigue.criteria import CRITERIA
from barfem.strength.fatigue.mean_stress import MeanStress
from tests.duty.examples import history, linear_response, lines


def coordinates(response: TravelResponse, of: History) -> np.ndarray:
    at = of.extremes
    return von_mises_coordinates(response.stress(of.left_mm[at], of.right_mm[at]))


def counted(response: TravelResponse, of: History, place: int, reference: np.ndarray) -> PlaceCycles:
    return cycles_at(response, place, reference, left_mm=of.left_mm, right_mm=of.right_mm)


def bound(
    cycles: PlaceCycles, line: DamageLines, scale: np.ndarray, apart: np.ndarray, share: float = 1.0
) -> np.ndarray:
    return bound_by_similarity(cycles, line, scale=scale, apart_MPa=apart, reversals=2_000, strength_share=share)


def test_coordinates_are_those_of_the_norm() -> None:
    stress = np.random.default_rng(0).normal(size=(50, 3))
    np.testing.assert_allclose(np.linalg.norm(von_mises_coordinates(stress), axis=1), plane_von_mises(stress))


def test_mirror_images_far_sides_and_other_mixtures_are_alike() -> None:
    # Of one drive: bending and torsion; its mirror image; the far side of a section; pure torsion of the same size.
    tensor = np.array([[4.0, 0.4, 3.0], [-4.0, -0.4, 3.0], [-4.0, -0.4, -3.0], [0.0, 0.0, 0.0], [8.0, 0.8, 6.0]])
    tensor[3, 2] = plane_von_mises(tensor[0]) / np.sqrt(3.0)
    of = history(500)
    response = linear_response(of, tensor[:, :, None] * np.array([1.0, -1.0]))
    scale, apart = similarity(coordinates(response, of), 0, np.arange(5))
    np.testing.assert_allclose(scale, [1.0, 1.0, 1.0, 1.0, 2.0], rtol=1e-12)
    np.testing.assert_allclose(apart, 0.0, atol=1e-9)
    unlike = np.array([[[4.0, -4.0], [0.0, 0.0], [0.0, 0.0]], [[4.0, 4.0], [0.0, 0.0], [0.0, 0.0]]])
    scale, apart = similarity(coordinates(linear_response(of, unlike), of), 0, np.array([1]))
    # Roll says nothing of heave: half of the history's heave is left over, or more.
    assert apart[0] > 4.0 * np.abs(of.left_mm + of.right_mm).max() * 0.5


@pytest.mark.parametrize("method", [name for name in CRITERIA if name != "morrow"])
@pytest.mark.parametrize("residual", [0.0, 150.0, -150.0])
def test_thinned_cycles_do_hardly_more_harm_and_never_less(method: str, residual: float) -> None:
    rng = np.random.default_rng(3)
    cycles = PlaceCycles(rng.gamma(2.0, 60.0, 4_000) + 1.0, rng.gamma(2.0, 25.0, 4_000), rng.choice([0.5, 1.0], 4_000))
    line = lines(1, residual_MPa=residual, rule=MeanStress(method))
    few = thinned(cycles)
    assert few.count.size < 0.4 * cycles.count.size
    assert few.count.sum() == pytest.approx(cycles.count.sum(), rel=1e-12)
    for ours, theirs in ((few.amplitude_MPa, cycles.amplitude_MPa), (few.mean_MPa, cycles.mean_MPa)):
        assert ours @ few.count == pytest.approx(theirs @ cycles.count, rel=1e-9)
    exact = damage_of(cycles, line, (1.0,))[0]
    assert exact <= damage_of(few, line, (1.0,))[0] <= 1.006 * exact


def test_a_place_quite_like_a_counted_one_is_bounded_by_its_damage() -> None:
    of = history()
    tensor = np.array([[9.0, 0.5, 2.0], [-9.0, -0.5, 2.0], [8.1, 0.45, 1.8]])
    response = linear_response(of, tensor[:, :, None] * np.array([0.5, -0.5]))
    line = lines(3, at_1e6=200.0)
    cycles = counted(response, of, 0, tensor[0])
    scale, apart = similarity(coordinates(response, of), 0, np.arange(3))
    found = bound(thinned(cycles), line, scale, apart)
    exact = [damage_of(counted(response, of, i, tensor[i]), line.at(np.array([i])), (1.0,))[0] for i in range(3)]
    assert exact[1] == pytest.approx(exact[0], rel=1e-12)
    assert np.all(found >= exact) and np.all(found <= 1.006 * np.array(exact))
    # Weaker bars have more damage, and the place's own line counts.
    assert np.all(bound(cycles, line, scale, apart, share=0.9) > found)
    assert np.all(bound(cycles, lines(3, at_1e6=180.0), scale, apart) > found)


def test_the_bound_is_the_damage_at_what_the_stress_may_be_more() -> None:
    # One cycle of 300 MPa about 100 MPa, at a place of 1.1 times the stress give or take 20 MPa; by hand, Goodman:
    # 350 / (1 - 130 / 1450), and as extra cycles, half of 2 000 turning points, 20 / (1 - 130 / 1450).
    k = 3.0 / np.log10(1116.0 / 300.0)
    cycles = PlaceCycles(np.array([300.0]), np.array([100.0]), np.array([1.0]))
    large, small = (stress / (1.0 - 130.0 / 1450.0) for stress in (350.0, 20.0))
    theirs = 1e-6 * (large / 300.0) ** k + 1_000.0 * 1e-6 * (small / 300.0) ** (2.0 * k - 1.0)
    assert bound(cycles, lines(), np.array([1.1]), np.array([20.0]))[0] == pytest.approx(theirs, rel=1e-9)
    many = bound_by_similarity(
        cycles, lines(), scale=np.array([1.1]), apart_MPa=np.array([20.0]), reversals=10**9, strength_share=1.0
    )
    extra = 0.5e9 * 1e-6 * (small / 300.0) ** (2.0 * k - 1.0)
    assert many[0] == pytest.approx(1e-6 * (large / 300.0) ** k + extra, rel=1e-9)


@given(seed=st.integers(0, 10_000), heave=st.floats(0.0, 10.0))
@example(seed=317, heave=0.0)  # cycles at the bend of the line, where a chord lies below it
@settings(deadline=None, max_examples=15)
def test_no_place_is_worse_than_its_bound(seed: int, heave: float) -> None:
    # Stress in proportion to one tensor at each place, in directions of travel near that of the counted place and far.
    rng = np.random.default_rng(seed)
    of = history(1_000, heave_mm=heave, seed=seed)
    places = 12
    angle = -np.pi / 4 + rng.normal(size=places) * np.geomspace(1e-3, 1.0, places)
    tensor = rng.normal(size=(places, 3)) * [1.0, 0.2, 0.6]
    tensor /= plane_von_mises(tensor)[:, None]
    pull = np.stack([np.cos(angle), np.sin(angle)], axis=1) * rng.uniform(5.0, 8.0, places)[:, None]
    response = linear_response(of, tensor[:, :, None] * pull[:, None, :])
    line = lines(places, at_1e6=200.0)
    cycles = counted(response, of, 0, tensor[0])
    scale, apart = similarity(coordinates(response, of), 0, np.arange(places))
    found = bound(thinned(cycles), line, scale, apart)
    for i in range(places):
        own = counted(response, of, i, tensor[i])
        equivalent = equivalent_amplitude(
            line.at(np.array([i])), amplitude_MPa=own.amplitude_MPa, mean_MPa=own.mean_MPa
        )
        assert own.count @ damage_per_cycle(line.at(np.array([i])), equivalent) <= found[i] * (1.0 + 1e-9)


def test_no_cycle_is_larger_than_that_between_two_corners_of_the_hull() -> None:
    rng = np.random.default_rng(8)
    of = history(400, heave_mm=8.0)
    response = linear_response(of, rng.normal(size=(20, 3, 2)) * 5.0)
    line = lines(20, residual_MPa=100.0)
    at = of.extremes
    found = largest_equivalent(response.stress(of.left_mm[at], of.right_mm[at]), line)
    stress = response.stress(of.left_mm, of.right_mm)
    every = np.zeros(20)
    for one in stress:
        amplitude, mean = amplitude_and_mean(one, stress)
        every = np.maximum(every, equivalent_amplitude(line, amplitude_MPa=amplitude, mean_MPa=mean).max(axis=0))
    np.testing.assert_allclose(found, every, rtol=1e-9)
    least, most = equivalent_bounds(response.stress(of.left_mm[at], of.right_mm[at]), line)
    assert (least <= every * (1.0 + 1e-9)).all() and (every <= most * (1.0 + 1e-9)).all()
    assert (most < 1.5 * least).any()  # near enough to spare most places the rest


def test_where_nothing_is_alike_no_stress_is_no_reference() -> None:
    of = history(200)
    slope = np.zeros((2, 3, 2))
    slope[1, 0] = [5.0, -5.0]
    scale, apart = similarity(coordinates(linear_response(of, slope), of), 0, np.array([1]))
    assert scale[0] == 0.0 and apart[0] >= 5.0 * np.abs(of.left_mm - of.right_mm).max()
