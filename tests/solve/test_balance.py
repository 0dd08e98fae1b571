"""Balance of forces and moments, energy against work, and rates against their own limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barfem.model.bar import Flat
from barfem.solve.beam import HoleSetting, all_settings, solve_bar, solve_bars
from tests.solve.rig import cranked_bar, u_bar

BARS = {
    "cranked, everything at work": lambda **rest: cranked_bar(**({"travel_mm": (45.0, 38.0)} | rest)),
    "U, rigid links, spread bushings": lambda **rest: u_bar(**({"holes_from_tip": ((10, 60), (10, 60))} | rest)),
    "U, flats, pickups, long travel": lambda **rest: u_bar(
        **(
            {
                "link": {"length_mm": None, "direction": None, "pickup_mm": (-235.0, 560.0, -110.0)},
                "travel_mm": 70.0,
                "holes_from_tip": ((15.0, 40.0), (15.0, 40.0)),
                "flat": Flat("forged", 12.0, 36.0, 70.0, 25.0, (0.0, 0.0, 1.0)),
            }
            | rest
        )
    ),
}


def unbalance(solution):
    """Largest sum of forces (N) and of moments about the origin (N·mm) on the bar, of all hole settings and states."""
    pull = -solution.link_force_N[..., None] * solution.link_direction
    force = pull.sum(axis=2) - solution.mount_force_N.sum(axis=2)
    middles, _ = solution.bar.centreline.evaluate([mount.station_mm for mount in solution.bar.mounts])
    moment = np.cross(solution.joint_mm, pull).sum(axis=2)
    moment -= (solution.mount_moment_Nmm + np.cross(middles, solution.mount_force_N)).sum(axis=2)
    return np.abs(force).max(), np.abs(moment).max()


@pytest.mark.parametrize("name", BARS)
def test_links_and_mounts_balance_in_every_state(name):
    bar = BARS[name]()
    solution = solve_bar(bar, all_settings(bar, cases=("roll", "one-wheel"), mixed=True))
    load = np.abs(solution.link_force_N).max()
    assert load > 300.0
    force, moment = unbalance(solution)
    # The solver stops at 1e-9 of the section force; the moment's arm is the bar, 600 mm.
    assert force < 1e-7 * load
    assert moment < 1e-6 * load * 600.0


@pytest.mark.parametrize("name", BARS)
@pytest.mark.parametrize("case", ["roll", "one-wheel"])
def test_energy_grows_by_the_work_at_the_pickups(name, case):
    """dU/dtravel, all springs included, equals the pickups' generalised force: 1e-6 by central difference."""
    bar = BARS[name]()
    step = 0.05
    up, down = bar.travel.up_mm, bar.travel.down_mm
    unit = np.array([0.0, 1.0]) if case == "one-wheel" else np.array([-down / up, 1.0])

    def moves(bar, setting):
        return np.array([(up - step) * unit, (up + step) * unit, -step * unit, step * unit])

    settings = [HoleSetting(1, 0, case), HoleSetting(0, 0, case)]
    solution = next(iter(solve_bars([(bar, settings)], more_moves=moves)))
    energy, force = solution.strain_energy_Nmm, solution.pickup_force_N @ unit
    assert np.allclose((energy[:, 4] - energy[:, 3]) / (2 * step), force[:, 1], rtol=1e-6, atol=0.0)
    # At rest the force is the preload's, small: against the force at travel.
    error = np.abs((energy[:, 6] - energy[:, 5]) / (2 * step) - force[:, 0])
    assert np.all(error < 1e-6 * np.abs(force[:, 1]))


@pytest.mark.parametrize("name", BARS)
@pytest.mark.parametrize("case", ["roll", "one-wheel"])
def test_rate_at_rest_is_the_limit_of_small_travel(name, case):
    bar = BARS[name]()
    h = 0.01
    unit = np.array([0.0, 1.0]) if case == "one-wheel" else np.array([-bar.travel.down_mm / bar.travel.up_mm, 1.0])
    settings = [HoleSetting(1, 0, case)]
    solution = next(iter(solve_bars([(bar, settings)], more_moves=lambda *_: np.array([-h * unit, h * unit]))))
    force = solution.pickup_force_N[0]
    slopes = (force[4] - force[3]) / (2 * h)
    moving = unit != 0.0
    secant = np.mean(np.abs(slopes[moving] / unit[moving]))
    assert solution.initial.rate_N_per_mm[0] == pytest.approx(secant, rel=2e-7)


def test_preload_shifts_the_rate_at_rest_through_the_swing_of_the_links():
    """A tight link is stiff sideways: the force in it at rest must enter the rate at rest, by tension / length."""
    short = {"length_mm": 60.0, "direction": (0.6, 0.0, -0.8)}
    rates = []
    for error in (0.0, -8.0):
        # One link short, the other long: the bar cannot turn away from it.
        bar = u_bar(link=short | {"length_error_mm": error}, right_link={"length_error_mm": -error}, travel_mm=10.0)
        solution = solve_bar(bar, [HoleSetting(0, 0)])
        rates.append(float(solution.initial.rate_N_per_mm[0]))
    assert np.abs(solution.link_force_N[0, 0]).min() > 100.0
    assert abs(rates[1] / rates[0] - 1.0) > 1e-3


def test_shares_of_the_deflection_follow_the_energy():
    """Clapeyron: the shares of a softer part rise by what its flexibility adds; all add to one."""
    stiff = u_bar(link={"axial_stiffness_N_per_mm": 1e9})
    soft = u_bar(link={"axial_stiffness_N_per_mm": 400.0})
    a, b = (solve_bar(bar, [HoleSetting(0, 0)]).initial for bar in (stiff, soft))
    assert a.shares.sum() == pytest.approx(1.0) and b.shares.sum() == pytest.approx(1.0)
    # Flexibilities in series: 1/k_soft = 1/k_stiff + 1/400, and that is the links' share.
    added = 1.0 / b.rate_N_per_mm[0] - 1.0 / a.rate_N_per_mm[0]
    assert added == pytest.approx(1.0 / 400.0, rel=1e-5)
    assert b.shares[0, 5] == pytest.approx(b.rate_N_per_mm[0] / 400.0, rel=1e-6)
    assert np.allclose(b.shares[0, :5] / b.shares[0, :5].sum(), a.shares[0, :5], rtol=1e-5, atol=1e-7)


def test_force_at_a_pickup_is_the_link_force_along_the_travel():
    bar = cranked_bar(travel_mm=30.0, travel_direction=(0.0, 0.6, 0.8))
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    # Tension pulls the pickup towards the joint; the car holds it back.
    hold = -solution.link_force_N[0, 1, :, None] * solution.link_direction[0, 1]
    right, left = hold[0] @ [0.0, -0.6, 0.8], hold[1] @ [0.0, 0.6, 0.8]
    assert solution.pickup_force_N[0, 1] == pytest.approx([right, left])
    # Left wheel up in bump pushes its end of the bar up: the left link is in compression, its car side pushes up.
    assert solution.link_force_N[0, 1, 1] < 0.0 < left
    assert solution.link_force_N[0, 1, 0] > 0.0 > right


@pytest.mark.parametrize("error", [0.0, 4.0])
def test_rigid_links_keep_their_length_and_elastic_ones_stretch_by_their_force(error):
    for stiffness in (None, 9000.0):
        bar = u_bar(link={"length_error_mm": error, "axial_stiffness_N_per_mm": stiffness}, travel_mm=50.0)
        solution = solve_bar(bar, all_settings(bar, cases=("roll", "one-wheel")))
        points, _ = bar.centreline.evaluate([bar.right.holes[0].station_mm, bar.left.holes[0].station_mm])
        rest = points + np.array([0.0, 0.0, -140.0])
        pickups = rest + solution.pickup_move_mm[..., None] * np.array([0.0, 0.0, 1.0])
        length = np.linalg.norm(solution.joint_mm - pickups, axis=-1)
        stretch = 0.0 if stiffness is None else solution.link_force_N / stiffness
        assert np.allclose(length, 140.0 + error + stretch, rtol=0.0, atol=1e-6)
        assert np.abs(solution.link_force_N[:, 1]).max() > 500.0


def test_one_wheel_is_roll_and_heave_together():
    """Linear, at rest: one end moved is half roll, half heave; free bushings leave heave without force but swing."""
    bar = u_bar(link={"length_mm": 1e5}, travel_mm=1e-3)
    solution = solve_bar(bar, [HoleSetting(0, 0, "roll"), HoleSetting(0, 0, "one-wheel")])
    rates = solution.initial.rate_N_per_mm
    # Nothing resists heave of a bar that turns freely in its bushings: rate per end k becomes k / 2.
    assert rates[1] == pytest.approx(rates[0] / 2.0, rel=1e-6)
    springs = {"torsional_stiffness_Nmm_per_rad": 1e5}
    held = u_bar(link={"length_mm": 1e5}, travel_mm=1e-3, mount=springs)
    both = solve_bar(held, [HoleSetting(0, 0, "roll"), HoleSetting(0, 0, "one-wheel")]).initial.rate_N_per_mm
    assert both[1] > both[0] / 2.0 * 1.02


def test_bracket_stiffness_is_in_series_with_the_bushing():
    plain = u_bar()
    series = [
        replace(m, radial_stiffness_N_per_mm=8000.0, bracket_stiffness_N_per_mm=40_000.0 / 3) for m in plain.mounts
    ]
    other = replace(plain, mounts=tuple(series))
    a, b = (solve_bar(bar, [HoleSetting(0, 0)]).rate_N_per_mm[0] for bar in (plain, other))
    assert b == pytest.approx(a, rel=1e-12)
