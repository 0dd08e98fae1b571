"""Bars in the car: curves between solved points against the beam, rates against their rule, stress on the way."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from barfem.car.bar_curves import curves_of, every_pair, solve_points, unloaded
from barfem.car.bar_stress import BarStress
from barfem.car.car import AxleBar
from barfem.car.mirror import is_mirrored
from barfem.check.api import check_bar
from barfem.model.read import read_bar
from tests.car.cars import plain_car
from tests.often import often

GEOMETRIES = Path(__file__).parents[2] / "geometries"


def axle_bar(name: str) -> AxleBar:
    bar = read_bar(GEOMETRIES / f"{name}.toml")
    left, right = (tuple(hole.name for hole in end.holes) for end in (bar.left, bar.right))
    return AxleBar(
        axle="front", left_holes=left, right_holes=right, fitted=(0, 0), motion_ratio=0.6, roll_motion_ratio=0.6,
        sense=(1.0, 1.0), bar=bar,
    )  # fmt: skip


@cache
def curves(name):
    bar = axle_bar(name)
    return curves_of(bar, every_pair(bar, unequal=True))


@pytest.mark.parametrize(
    "name", often(["pickup-rear-tube", "coupe-rear-cranked", "pickup-rear-unequal"], {"pickup-rear-unequal"})
)
def test_between_solved_points_the_curve_is_the_beam(name):
    """Random travels of random pairs, unequal ones and mirrored ones among them: within 0.2 % of the greatest force."""
    found = curves(name)
    assert found.midpoint_error < 0.002
    rng = np.random.default_rng(20)
    u = rng.uniform(-1, 1, 5) * found.grid.u_mm[-1]
    m = rng.uniform(-1, 1, 5) * found.grid.m_mm[-1]
    q = np.stack([m + u / 2, m - u / 2], axis=1)
    chosen = [found.pairs[i] for i in rng.choice(len(found.pairs), 4, replace=False)]
    beam = solve_points(unloaded(found.axle_bar.bar), chosen, q)
    for number, pair in enumerate(chosen):
        direct = beam.pickup_force_N[number, 3:, ::-1]
        links = beam.link_force_N[number, 3:, ::-1]
        own = found.forces(np.full(5, found.index_of(pair)), q)
        greatest = np.abs(found.nodes[..., :2]).max()
        assert own.force_N == pytest.approx(direct, abs=0.002 * greatest)
        assert own.link_N == pytest.approx(links, abs=0.002 * greatest)


def test_slopes_are_those_of_the_forces():
    found = curves("pickup-rear-unequal")
    q, small = np.array([[9.0, -4.0]]), 1e-4
    pair = np.array([1])
    for side in (0, 1):
        step = np.eye(2)[side] * small
        difference = (found.forces(pair, q + step).force_N - found.forces(pair, q - step).force_N) / (2 * small)
        assert found.forces(pair, q).slope_N_per_mm[0, :, side] == pytest.approx(difference[0], rel=1e-6)


def test_rate_and_stress_at_the_bar_files_own_travel_are_those_of_the_check():
    """Both pickups at full travel: the link forces, peak stress and margin of `barfem check` at that state."""
    bar = axle_bar("pickup-rear-tube")
    found = curves_of(bar, [(1, 1)])
    result = check_bar(bar.bar)[0] if isinstance(check_bar(bar.bar), tuple) else check_bar(bar.bar)
    row = result.settings[1]
    travel = bar.bar.travel.up_mm
    q = np.array([[travel, -travel]])
    forces = found.forces(np.array([0]), q)
    assert forces.link_N[0, 0] == pytest.approx(row.link_force_left_N, rel=0.002)
    assert found.roll_rate_N_per_mm(0) == pytest.approx(row.rate_initial_N_per_mm, rel=0.002)
    stress = BarStress(found).at(np.array([0]), q)
    assert stress.peak_von_mises_MPa[0] == pytest.approx(row.peak.von_mises_MPa, rel=0.003)
    assert stress.yield_margin[0] == pytest.approx(row.yield_margin, rel=0.004)
    life = row.fatigue.life_at_survival_cycles
    assert stress.life_at_survival_cycles[0] == pytest.approx(life, rel=0.05)


def test_link_length_error_is_travel_of_the_end():
    """A link too long is pickup travel by as much; the beam with that very link gives the preload to 1 %."""
    name = "pickup-front-solid"
    bar = axle_bar(name)
    found = curves_of(bar, [(0, 0)])
    fitted = replace(bar.bar, left_link=replace(bar.bar.left_link, length_error_mm=3.0))
    beam = solve_points(fitted, [(0, 0)], np.zeros((1, 2)))
    own = found.forces(np.array([0]), np.array([[3.0, 0.0]]))
    assert own.link_N[0] == pytest.approx(beam.link_force_N[0, 3, ::-1], rel=0.01)


@pytest.mark.parametrize(("x", "warns"), [(0.1, False), (0.4, True)])
def test_a_link_that_leans_moves_the_end_further_and_says_so(x, warns, tmp_path):
    """By length / cosine of the lean (small swing of a link, any text): the beam with that very link has so much more
    preload than the travel of as much."""
    text = (GEOMETRIES / "coupe-front-bends.toml").read_text(encoding="utf-8")
    (tmp_path / "bar.toml").write_text(text.replace("direction = [0, 0, -1]", f"direction = [{x}, 0, -1]"), "utf-8")
    car = plain_car(front__bar={"file": str(tmp_path / "bar.toml"), "motion_ratio": 0.6})
    found = curves_of(car.front.bar, [(0, 0)])
    bar = car.front.bar.bar
    fitted = replace(unloaded(bar), left_link=replace(bar.left_link, length_error_mm=0.5))
    beam = solve_points(fitted, [(0, 0)], np.zeros((1, 2)))
    own = found.forces(np.array([0]), np.array([[0.5, 0.0]]))
    assert beam.link_force_N[0, 3, 1] / own.link_N[0, 0] == pytest.approx(np.hypot(1.0, x), rel=0.01)
    told = [text for text in car.warnings if "leans" in text]
    assert len(told) == warns and (not warns or ("22 deg" in told[0] and "8 % more" in told[0]))


def test_unequal_rates_follow_from_equal_ones():
    """F = k_t v (v . q): within 0.25 % of the beam on a bar whose holes lie on straight arms."""
    bar = axle_bar("pickup-front-solid")
    found = curves_of(bar, [(0, 0), (2, 2), (0, 2)])
    one, two = (0.5 * found.roll_rate_N_per_mm(i) for i in (0, 1))
    levers = 375.0 - np.array([24.0, 84.0]) * 375.0 / np.hypot(375.0, 55.0)  # tip to hole along the arm, in plan
    k_t = 2 / (1 / (one * levers[0] ** 2) + 1 / (two * levers[1] ** 2))
    v = 1 / levers
    rate = k_t * (v[0] + v[1]) ** 2 / 2
    assert found.roll_rate_N_per_mm(2) == pytest.approx(rate, rel=0.005)


def test_mirrored_bars_are_known():
    assert is_mirrored(read_bar(GEOMETRIES / "pickup-rear-tube.toml"))
    assert not is_mirrored(read_bar(GEOMETRIES / "pickup-rear-unequal.toml"))
    bar = read_bar(GEOMETRIES / "pickup-front-solid.toml")
    soft = replace(bar.mounts[0], radial_stiffness_N_per_mm=1000.0)
    assert not is_mirrored(replace(bar, mounts=(soft, bar.mounts[1])))
