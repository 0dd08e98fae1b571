"""Places that are alike but for rounding are named by a stated order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barfem.check.endurance import rank_by_life
from barfem.check.ranking import rank_regions
from barfem.check.solved import Solved, solve_states
from barfem.model.read import bar_from_dict
from barfem.strength.cycle import Cycle
from barfem.strength.recover import Recovery
from tests.check.bar_files import BUILT


@pytest.fixture(scope="module")
def symmetric() -> Solved:
    return solve_states(bar_from_dict(BUILT), cases=("roll",))


def nudged(recovery: Recovery, by: np.ndarray) -> Recovery:
    return replace(recovery, cycle_amplitude_MPa=recovery.cycle_amplitude_MPa * by)


def test_the_order_of_places_does_not_hang_on_rounding(symmetric: Solved) -> None:
    """A symmetric bar in reversed roll: places of either side are alike, and the right one is named."""
    recovery = symmetric.recovery
    random = np.random.default_rng(1)
    sides = np.flatnonzero((recovery.cycle_amplitude_MPa > 5.0).all(axis=0))  # tips are stressed by rounding alone
    assert (sides + sides[::-1] == len(recovery.regions) - 1).all()
    right, left = sides[sides < sides[::-1]], sides[::-1][sides < sides[::-1]]
    for _ in range(5):
        noise = 1.0 + 1e-8 * random.uniform(-1.0, 1.0, recovery.cycle_amplitude_MPa.shape)
        place = rank_regions(symmetric.bar, nudged(recovery, noise)).order.argsort(axis=1)
        assert (place[:, right] < place[:, left]).all()


def test_a_shorter_life_by_more_than_rounding_comes_first(symmetric: Solved) -> None:
    recovery = symmetric.recovery
    order = rank_regions(symmetric.bar, recovery).order
    second = order[0, 1]
    by = np.ones_like(recovery.cycle_amplitude_MPa)
    by[0, second] = 1.05 * recovery.cycle_amplitude_MPa[0, order[0, 0]] / recovery.cycle_amplitude_MPa[0, second]
    assert rank_regions(symmetric.bar, nudged(recovery, by)).order[0, 0] == second


def test_beyond_strength_the_greater_amplitude_is_the_worse(symmetric: Solved) -> None:
    """With a mean above tensile strength no safety factor is left to tell points apart."""
    regions = symmetric.recovery.regions
    straight = next(i for i, region in enumerate(regions) if region.kind == "straight")
    cycle = Cycle(
        regions=regions,
        region=np.full(3, straight),
        in_bore=np.zeros(3, bool),
        strength_scale=np.ones(3),
        from_inside_rad=np.zeros(3),
        radius_mm=np.full(3, 10.0),
        amplitude_MPa=np.array([300.0, 500.0, 400.0]),
        mean_MPa=np.full(3, 5000.0),
        torsion_share=np.zeros(3),
        max_MPa=np.full(3, 5500.0),
    )
    assert rank_by_life(symmetric.bar)(cycle).rank().argsort().tolist() == [0, 2, 1]
