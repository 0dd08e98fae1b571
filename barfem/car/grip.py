"""Grip used, slip and the limit of traction, from wheel loads and two lines a tyre. Loads N, (n, 4) or (n, 2)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.car.car import GRAVITY, Car, Drive, Tyre

__all__ = ["axle_side_force_N", "drive_limit_g", "friction_N", "grip_used", "slip_rad"]

Array = NDArray[np.float64]


def friction_N(tyre: Tyre, load_N: Array) -> Array:
    """mu(F) F, a tyre's greatest force: mu = grip (1 - grip_loss (F / load - 1)), at least 0; NaN if unknown."""
    if tyre.grip is None or tyre.load_N is None:
        return np.full_like(load_N, np.nan)
    mu = tyre.grip * (1.0 - tyre.grip_loss * (load_N / tyre.load_N - 1.0))
    return np.asarray(np.maximum(mu, 0.0) * load_N)


def cornering_stiffness_N_per_rad(tyre: Tyre, load_N: Array) -> Array:
    """c1 F - c2 F^2, N/rad; NaN if unknown."""
    if tyre.c1_per_rad is None:
        return np.full_like(load_N, np.nan)
    return np.asarray(tyre.c1_per_rad * load_N - tyre.c2_per_N_rad * load_N**2)


def axle_side_force_N(car: Car, a_y_g: Array) -> Array:
    """(n, 2): static weight of each axle times a_y (no yaw acceleration)."""
    share = np.array([car.front_share, 1.0 - car.front_share])
    return np.asarray(car.weight_N * a_y_g[:, None] * share)


def _axle_long_force_N(car: Car, a_x_g: Array) -> Array:
    """(n, 2): mass x a_x, by the brakes' or the drive's share; NaN where [drive] is not given and a_x is not 0."""
    if car.drive is None:
        return np.where(a_x_g[:, None] == 0.0, 0.0, np.nan) * np.ones((1, 2))
    front = np.where(a_x_g < 0.0, car.drive.brake_front_share, car.drive.front_torque_share)
    return np.asarray(car.weight_N * a_x_g[:, None] * np.stack([front, 1.0 - front], axis=1))


def grip_used(car: Car, loads_N: Array, a_y_g: Array, a_x_g: Array) -> Array:
    """(n, 2): hypot(F_x, F_y) of an axle over what its two tyres could give; NaN if unknown."""
    if car.tyres is None:
        return np.full((len(loads_N), 2), np.nan)
    asked = np.hypot(_axle_long_force_N(car, a_x_g), axle_side_force_N(car, a_y_g))
    given = np.stack(
        [friction_N(tyre, loads_N[:, 2 * i : 2 * i + 2]).sum(axis=1) for i, tyre in enumerate(car.tyres)], axis=1
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(given > 0.0, asked / given, np.nan))


def slip_rad(car: Car, loads_N: Array, a_y_g: Array) -> Array:
    """(n, 2): axle side force over the sum of both tyres' cornering stiffness; NaN if unknown, or one is below 0."""
    if car.tyres is None:
        return np.full((len(loads_N), 2), np.nan)
    each = np.stack(
        [cornering_stiffness_N_per_rad(tyre, loads_N[:, 2 * i : 2 * i + 2]) for i, tyre in enumerate(car.tyres)], axis=1
    )  # (n, 2 axles, 2 wheels)
    stiffness = each.sum(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(
            np.where((stiffness > 0.0) & (each >= 0.0).all(axis=2), axle_side_force_N(car, a_y_g) / stiffness, np.nan)
        )


def drive_limit_g(car: Car, loads_N: Array) -> Array:
    """(n,): the forward acceleration at which the driven wheels spin; NaN if unknown.

    An open differential gives twice what the weaker wheel holds, a torque bias b gives (1 + b) times as much but never
    more than both hold, a locked one gives both. With all wheels driven the axle that spins first decides.
    """
    if car.tyres is None or car.drive is None:
        return np.full(len(loads_N), np.nan)
    limits = []
    for i, share in enumerate(_torque_shares(car.drive)):
        if share > 0.0:
            force = friction_N(car.tyres[i], loads_N[:, 2 * i : 2 * i + 2])
            both, bias = force.sum(axis=1), car.drive.torque_bias[i]
            held = both if np.isinf(bias) else np.minimum((1.0 + bias) * force.min(axis=1), both)
            limits.append(held / share)
    return np.asarray(np.min(limits, axis=0) / (car.total_mass_kg * GRAVITY))


def _torque_shares(drive: Drive) -> tuple[float, float]:
    return drive.front_torque_share, 1.0 - drive.front_torque_share
