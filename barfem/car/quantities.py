"""What a solved car says: loads, transfer, travels, links, camber, grip, and how well its forces close."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.car.car import GRAVITY, Car
from barfem.car.grip import drive_limit_g, grip_used, slip_rad
from barfem.car.statics import ARM_MM, Equilibria, Problem, Suspension, solve
from barfem.model.frozen import frozen

__all__ = ["CarStates", "states_of"]

Array = NDArray[np.float64]
TOUCHES_MM = 1e-9


@frozen(kw_only=True)
class CarStates:
    """n states; wheels (n, 4) in the order of `WHEELS`. Where `found` is False every number is NaN.

    Transfers are half the change of (right - left) wheel load against a_y = 0 at the same a_x. `bar_at_wheel_N` presses
    the wheel down where > 0. `closure` is what is left of vertical force (N), rolling and pitching moment (N m) when
    wheel loads are held against weight and inertia of the whole car.
    """

    problem: Problem
    found: NDArray[np.bool_]
    roll_deg: Array
    pitch_deg: Array
    loads_N: Array
    transfer_N: Array  # (n, 2) front, rear
    front_transfer_share: Array
    front_transfer_moment_share: Array
    cross_weight: Array
    left_share: Array
    travel_mm: Array
    tyre_deflection_mm: Array
    pickup_mm: tuple[Array, Array]  # of each axle, (n, 2) left, right
    link_N: tuple[Array, Array]
    bar_at_wheel_N: Array
    camber_deg: Array
    bump: NDArray[np.bool_]
    droop: NDArray[np.bool_]
    lifted: NDArray[np.bool_]
    grip_used: Array  # (n, 2)
    slip_deg: Array  # (n, 2)
    drive_limit_g: Array
    closure: Array  # (n, 3)


def states_of(suspension: Suspension, problem: Problem, *, solved: Equilibria | None = None) -> CarStates:
    """Solve the cases (unless `solved`) and their reference at a_y = 0, and read everything off."""
    car = suspension.car
    result = solve(suspension, problem) if solved is None else solved
    level = Problem(np.zeros(len(problem)), problem.a_x_g, problem.front, problem.rear)
    unlike = np.stack([problem.a_x_g, problem.front, problem.rear], axis=1)
    _, first, back = np.unique(unlike, axis=0, return_index=True, return_inverse=True)
    reference = solve(suspension, level.part(first))
    level_N = np.where(reference.found[:, None], suspension.tyres_N(reference.x)[0], np.nan)[back.ravel()]

    x = np.where(result.found[:, None], result.x, np.nan)
    gone = ~result.found
    travel = suspension.travel_mm(x)
    loads = np.where(gone[:, None], np.nan, suspension.tyres_N(x)[0])
    transfer = 0.5 * ((loads - level_N)[:, 1::2] - (loads - level_N)[:, 0::2])
    at_rest = problem.a_y_g == 0.0
    transfer[at_rest & result.found] = 0.0
    moment = transfer * np.array([axle.track_mm for axle in car.axles])
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(at_rest, np.nan, transfer[:, 0] / transfer.sum(axis=1))
        moment_share = np.where(at_rest, np.nan, moment[:, 0] / moment.sum(axis=1))
    roll = x[:, 1] / ARM_MM
    pickups, links = [], []
    for i, curves in enumerate(suspension.bars):
        q = suspension.pickup_mm(i, travel)
        pickups.append(q)
        pair = problem.front if i == 0 else problem.rear
        links.append(np.zeros_like(q) if curves is None else _where_found(curves.forces, pair, q, result.found))
    bar_at_wheel = np.full_like(loads, np.nan)
    if result.found.any():
        bar_at_wheel[result.found] = suspension.bar_at_wheels_N(problem.part(result.found), travel[result.found])[0]
    total = loads.sum(axis=1)
    stops = [[axle.bump_stop, axle.droop_stop] for axle in car.axles]
    gaps = np.array([[np.inf if stop is None else stop.gap_mm for stop in stops[i // 2]] for i in range(4)])
    return CarStates(
        problem=problem,
        found=result.found,
        roll_deg=np.degrees(roll),
        pitch_deg=np.degrees(x[:, 2] / ARM_MM),
        loads_N=loads,
        transfer_N=transfer,
        front_transfer_share=share,
        front_transfer_moment_share=moment_share,
        cross_weight=(loads[:, 1] + loads[:, 2]) / total,
        left_share=(loads[:, 0] + loads[:, 2]) / total,
        travel_mm=travel,
        tyre_deflection_mm=_tyre_deflection(suspension, loads),
        pickup_mm=(pickups[0], pickups[1]),
        link_N=(links[0], links[1]),
        bar_at_wheel_N=bar_at_wheel,
        camber_deg=_camber_deg(car, x, travel),
        bump=travel - gaps[:, 0] > TOUCHES_MM,
        droop=-travel - gaps[:, 1] > TOUCHES_MM,
        lifted=loads <= 0.0,
        grip_used=grip_used(car, loads, problem.a_y_g, problem.a_x_g),
        slip_deg=np.degrees(slip_rad(car, loads, problem.a_y_g)),
        drive_limit_g=drive_limit_g(car, loads),
        closure=_closure(suspension, problem, loads, roll),
    )


def _where_found(forces, pair, q: Array, found: NDArray[np.bool_]) -> Array:  # type: ignore[no-untyped-def]
    out = np.full_like(q, np.nan)
    if found.any():
        out[found] = forces(pair[found], q[found]).link_N
    return out


def _tyre_deflection(suspension: Suspension, loads: Array) -> Array:
    """Compression beyond that of the car as weighed; a lifted tyre has lost all of that, a rigid one gives nothing."""
    rates = np.repeat([axle.tyre_rate_N_per_mm for axle in suspension.car.axles], 2)
    return np.asarray((loads - suspension.tyre_N) / rates)


def _camber_deg(car: Car, x: Array, travel: Array) -> Array:
    """Camber to the road: that at zero, what bump adds to the body's, and what the body or the rigid axle leans."""
    out = np.empty_like(travel)
    roll = np.degrees(x[:, 1] / ARM_MM)
    wheels = x[:, 3:7]
    for i, axle in enumerate(car.axles):
        left, right = 2 * i, 2 * i + 1
        if axle.suspension == "beam":
            lean, gain = np.degrees((wheels[:, left] - wheels[:, right]) / axle.track_mm), 0.0
        else:
            lean, gain = roll, axle.camber_gain_deg_per_mm
        out[:, left] = axle.camber_deg[0] + gain * travel[:, left] - lean
        out[:, right] = axle.camber_deg[1] + gain * travel[:, right] + lean
    return out


def _closure(suspension: Suspension, problem: Problem, loads: Array, roll_rad: Array) -> Array:
    """(n, 3): of the whole car, from wheel loads alone: sum (N), about the middle of the track, about the CG (N m)."""
    car = suspension.car
    total = loads.sum(axis=1) - car.weight_N
    inertia = car.total_mass_kg * GRAVITY * car.cg_height_mm
    sprung = car.sprung_mass_kg * GRAVITY
    rolling = loads @ suspension.y_mm + problem.a_y_g * inertia
    rolling += sprung * (car.roll_arm_mm * roll_rad - car.sprung_cg_left_mm)
    front = (1.0 - car.front_share) * car.wheelbase_mm
    x = np.array([front, front, front - car.wheelbase_mm, front - car.wheelbase_mm])
    pitching = -loads @ x - problem.a_x_g * inertia
    return np.stack([total, rolling / 1000.0, pitching / 1000.0], axis=1)
