"""Roll stiffness of an axle, about the road, in N m/deg: springs, bar, both together, and with the tyres in series."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import ClassVar

from barfem.car.car import Axle, Car
from barfem.model.frozen import frozen
from barfem.model.plain import json_key

__all__ = [
    "AxleStiffness",
    "axle_stiffness",
    "in_series",
    "roll_gradients_deg_per_g",
    "roll_stiffness_Nm_per_rad",
]

PER_DEG = math.pi / 180.0


def roll_stiffness_Nm_per_rad(*, wheel_rate_N_per_mm: float, track_mm: float) -> float:
    """K = k_w t^2 / 2: k_w the force at each wheel over its own travel, wheels moving equal and opposite."""
    return 0.5 * wheel_rate_N_per_mm * track_mm**2 / 1000.0


def in_series(one: float, two: float) -> float:
    """Stiffness of two in series; either may be infinite."""
    if math.isinf(one) or math.isinf(two):
        return min(one, two)
    return one * two / (one + two) if one + two > 0.0 else 0.0


@frozen
class AxleStiffness:
    """Rates at rest. `bar_rate_roll_N_per_mm` is at the pickups, both ends moving opposite."""

    wheel_rate_spring_N_per_mm: float
    ride_rate_N_per_mm: float
    bar_rate_roll_N_per_mm: float
    bar_roll_rate_at_wheel_N_per_mm: float
    springs_Nm_per_deg: float = field(metadata=json_key("roll_stiffness_springs_Nm_per_deg"))
    bar_Nm_per_deg: float = field(metadata=json_key("roll_stiffness_bar_Nm_per_deg"))
    with_tyres_Nm_per_deg: float = field(metadata=json_key("roll_stiffness_with_tyres_Nm_per_deg"))

    _json_also: ClassVar[Mapping[str, str]] = {"roll_stiffness_suspension_Nm_per_deg": "suspension_Nm_per_deg"}

    @property
    def suspension_Nm_per_deg(self) -> float:
        return self.springs_Nm_per_deg + self.bar_Nm_per_deg


def axle_stiffness(axle: Axle, *, bar_rate_N_per_mm: float) -> AxleStiffness:
    """Rates and roll stiffness of an axle whose bar has the roll rate `bar_rate_N_per_mm` at its pickups."""
    spring = axle.spring
    in_roll = spring.rate_at_rest_N_per_mm * spring.roll_ratio**2
    bar = 0.0 if axle.bar is None else bar_rate_N_per_mm * axle.bar.roll_motion_ratio**2
    springs_deg, bar_deg, tyres_deg = (
        roll_stiffness_Nm_per_rad(wheel_rate_N_per_mm=rate, track_mm=axle.track_mm) * PER_DEG
        for rate in (in_roll, bar, axle.tyre_rate_N_per_mm)
    )
    return AxleStiffness(
        wheel_rate_spring_N_per_mm=spring.wheel_rate_N_per_mm,
        ride_rate_N_per_mm=in_series(spring.wheel_rate_N_per_mm, axle.tyre_rate_N_per_mm),
        bar_rate_roll_N_per_mm=bar_rate_N_per_mm if axle.bar is not None else 0.0,
        bar_roll_rate_at_wheel_N_per_mm=bar,
        springs_Nm_per_deg=springs_deg,
        bar_Nm_per_deg=bar_deg,
        with_tyres_Nm_per_deg=in_series(springs_deg + bar_deg, tyres_deg),
    )


def roll_gradients_deg_per_g(car: Car, front: AxleStiffness, rear: AxleStiffness) -> dict[str, float | None]:
    """Roll over lateral acceleration by hand, m_s g d / (K - m_s g d): tyres in series, and tyres taken as rigid.

    Both leave out what the tyres give under the transfer that goes past the springs; None where K is too small.
    """
    taken = car.overturning_Nm_per_rad * PER_DEG
    stiffness = {
        "tyres_in_series": front.with_tyres_Nm_per_deg + rear.with_tyres_Nm_per_deg,
        "rigid_tyres": front.suspension_Nm_per_deg + rear.suspension_Nm_per_deg,
    }
    return {
        name: car.overturning_Nm_per_rad / (total - taken) if total > taken else None
        for name, total in stiffness.items()
    }
