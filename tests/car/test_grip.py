"""Grip, slip and the limit of traction from four wheel loads, by hand.

Friction that falls with load, axle forces by static weight and by the shares of brakes and drive, and what a
differential lets an axle hold: the usual sums of vehicle dynamics, worked here with numbers of our own.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from barfem.car.grip import drive_limit_g, friction_N, grip_used, slip_rad
from tests.car.cars import plain_car

LOADS = np.array([[1800.0, 4200.0, 1500.0, 3600.0]])  # a left turn: the right wheels carry
WEIGHT = (290.0 + 285.0 + 270.0 + 280.0) * 9.81  # g of the car file, 9.81 m/s2
FRONT_SHARE = 575.0 / 1125.0


def held(load: float) -> float:
    """1.15 at 3 000 N, 8 % of it lost for every 3 000 N more."""
    return 1.15 * (1.0 - 0.08 * (load - 3000.0) / 3000.0) * load


def test_friction_falls_with_load_and_is_never_negative() -> None:
    (tyre, _) = plain_car().tyres
    assert friction_N(tyre, np.array([3000.0, 4500.0])) == pytest.approx([3450.0, 1.15 * 0.96 * 4500.0])
    assert friction_N(tyre, np.array([3000.0 * 13.6]))[0] == 0.0


def test_an_axle_asks_of_its_tyres_what_it_turns_and_brakes_with() -> None:
    found = grip_used(plain_car(), LOADS, np.array([0.8]), np.array([-0.3]))[0]
    for i, (share, brakes) in enumerate([(FRONT_SHARE, 0.65), (1.0 - FRONT_SHARE, 0.35)]):
        asked = WEIGHT * math.hypot(0.8 * share, 0.3 * brakes)
        given = held(LOADS[0, 2 * i]) + held(LOADS[0, 2 * i + 1])
        assert found[i] == pytest.approx(asked / given, rel=1e-9)


def test_a_driven_axle_asks_for_its_share_of_the_torque() -> None:
    car = plain_car(drive={"driven": "all", "front_torque_share": 0.4, "brake_front_share": 0.65})
    front, rear = grip_used(car, LOADS, np.array([0.0]), np.array([0.3]))[0]
    assert front == pytest.approx(WEIGHT * 0.3 * 0.4 / (held(1800.0) + held(4200.0)), rel=1e-9)
    assert rear == pytest.approx(WEIGHT * 0.3 * 0.6 / (held(1500.0) + held(3600.0)), rel=1e-9)
    assert grip_used(plain_car(), LOADS, np.array([0.0]), np.array([0.3]))[0, 0] == 0.0  # rear-driven


@pytest.mark.parametrize(
    ("differential", "force"),
    [
        ("open", 2.0 * held(1500.0)),
        ({"torque_bias": 1.6}, 2.6 * held(1500.0)),
        ({"torque_bias": 4.0}, held(1500.0) + held(3600.0)),  # more than both hold is of no use
        ("locked", held(1500.0) + held(3600.0)),
    ],
)
def test_what_a_differential_lets_the_rear_axle_hold(differential, force) -> None:
    car = plain_car(drive__rear_differential=differential)
    assert drive_limit_g(car, LOADS)[0] == pytest.approx(force / WEIGHT, rel=1e-9)


@pytest.mark.parametrize(("share", "first"), [(0.3, "rear"), (0.6, "front")])
def test_with_all_wheels_driven_the_axle_that_spins_first_decides(share, first) -> None:
    car = plain_car(drive={"driven": "all", "front_torque_share": share})
    limits = {"front": 2.0 * held(1800.0) / share, "rear": 2.0 * held(1500.0) / (1.0 - share)}
    assert min(limits, key=limits.__getitem__) == first
    assert drive_limit_g(car, LOADS)[0] == pytest.approx(limits[first] / WEIGHT, rel=1e-9)


def test_slip_is_the_axles_side_force_over_both_tyres_stiffness() -> None:
    found = slip_rad(plain_car(), LOADS, np.array([0.5]))[0]
    for i, share in enumerate((FRONT_SHARE, 1.0 - FRONT_SHARE)):
        loads = LOADS[0, 2 * i : 2 * i + 2]
        stiffness = float((16.0 * loads - 1.1e-3 * loads**2).sum())
        assert found[i] == pytest.approx(0.5 * WEIGHT * share / stiffness, rel=1e-9)


def test_a_tyre_loaded_beyond_its_two_lines_has_no_slip_that_is_known() -> None:
    beyond = np.array([[100.0, 15_000.0, 1500.0, 3600.0]])  # 16 F < 1.1e-3 F^2 from 14 545 N
    front, rear = slip_rad(plain_car(), beyond, np.array([0.5]))[0]
    assert math.isnan(front) and rear > 0.0
