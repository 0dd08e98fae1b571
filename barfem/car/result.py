"""What `barfem car` finds of a car, and its JSON: finite numbers or null, units in the names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_stress import StressAt
from barfem.car.car import AXLES, WHEELS, Car
from barfem.car.limits import Limits
from barfem.car.quantities import CarStates
from barfem.car.stiffness import AxleStiffness
from barfem.model.shown import Shown
from barfem.study.json_values import flat

__all__ = ["CONVENTIONS", "CarResult", "Understeer", "finite"]

Array = NDArray[np.float64]

CONVENTIONS = {
    "axes": "ISO 8855: x forward, y left, z up; left and right are the driver's",
    "a_y": "in g (9.81 m/s2), > 0 in a left turn",
    "a_x": "in g, > 0 forward, braking < 0",
    "roll": "> 0: right side down",
    "pitch": "> 0: nose down",
    "travel": "of the wheel, > 0 in bump, from the car as weighed",
    "camber": "> 0: top leans outward",
    "zero": "the car as weighed: at rest, driver aboard, tyres at pressure",
    "motion_ratio": "travel of the part / wheel travel",
    "roll_stiffness": "N m/deg of an axle, about the road: k_w t^2 / 2, wheels moving equal and opposite",
    "bar_rate_roll": "N/mm at a pickup, both ends moving opposite; one end held: half of it for equal holes",
    "load_transfer": "half the change of (right - left) wheel load against a_y = 0 at the same a_x",
    "front_transfer_share": "front / (front + rear), in loads",
    "cross_weight": "(front right + rear left) / total",
    "link_force": "> 0: tension",
    "bar_force_at_wheel": "> 0: presses the wheel down",
    "tyre_deflection": "> 0: more compressed than as weighed",
}


def finite(value: Any) -> Any:
    """A number for JSON: None where it is not finite."""
    number = float(value)
    return number if math.isfinite(number) else None


def _wheels(row: Array) -> dict[str, float | None]:
    return {name: finite(value) for name, value in zip(WHEELS, row, strict=True)}


@dataclass(frozen=True)
class Understeer:
    a_y_g: float
    understeer_angle_deg: float | None
    understeer_gradient_deg_per_g: float | None


@dataclass(frozen=True, kw_only=True, repr=False)
class CarResult(Shown):
    """A car at one hole pair an axle: `holes` (left, right) of each, None without a bar; N, mm, deg, g, MPa."""

    car: Car
    holes: Mapping[str, tuple[str, str] | None]
    stiffness: tuple[AxleStiffness, AxleStiffness]
    whole_deg_per_g: float | None
    by_hand_deg_per_g: Mapping[str, float | None]
    states: CarStates
    names: tuple[str, ...]
    reasons: tuple[str | None, ...]
    stress: tuple[StressAt | None, StressAt | None]
    understeer: tuple[Understeer, ...]
    limits: Limits
    right_limits: Limits
    passes: bool
    why: tuple[str, ...]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    def records(self) -> list[dict[str, Any]]:
        """A row a state, flat: loads [N], roll [deg], shares, travels [mm], link forces [N], stress [MPa]."""
        return [flat(self.state(i)) for i in range(len(self.names))]

    def to_json_dict(self) -> dict[str, Any]:
        """The result as JSON knows it."""
        car = self.car
        return {
            "format": 1,
            "name": car.name,
            "conventions": dict(CONVENTIONS),
            "as_weighed": {
                "total_mass_kg": car.total_mass_kg,
                "front_share": car.front_share,
                "left_share": car.left_share,
                "cross_weight": car.cross_weight,
                "cg_height_mm": car.cg_height_mm,
                "sprung_mass_kg": car.sprung_mass_kg,
                "sprung_cg_height_mm": car.sprung_cg_height_mm,
                "roll_arm_mm": car.roll_arm_mm,
            },
            "holes": {axle: None if pair is None else list(pair) for axle, pair in self.holes.items()},
            "stiffness": {axle: _stiffness(one) for axle, one in zip(AXLES, self.stiffness, strict=True)},
            "roll_gradient_deg_per_g": {"whole": self.whole_deg_per_g, **self.by_hand_deg_per_g},
            "states": [self.state(number) for number in range(len(self.names))],
            "understeer": [vars(point) for point in self.understeer],
            "lift": {
                "first_wheel": self.limits.first_wheel,
                "a_y_g": self.limits.lift_a_y_g,
                "no_equilibrium_a_y_g": self.limits.no_equilibrium_a_y_g,
                "right_turn": {
                    "first_wheel": self.right_limits.first_wheel,
                    "a_y_g": self.right_limits.lift_a_y_g,
                    "no_equilibrium_a_y_g": self.right_limits.no_equilibrium_a_y_g,
                },
            },
            "passes": self.passes,
            "why": list(self.why),
            "assumptions": list(self.assumptions),
            "warnings": list(self.warnings),
        }

    def state(self, i: int) -> dict[str, Any]:
        """State number `i`; every number null where there is no equilibrium, with the `reason`.

        Parameters
        ----------
        i
            In the order of `names`.
        """
        s = self.states
        here = bool(s.found[i])
        sides = ("left", "right")
        by_axle = {
            key: {
                f"{axle}_{side}": finite(parts[a][i, k]) for a, axle in enumerate(AXLES) for k, side in enumerate(sides)
            }
            for key, parts in (("bar_end_displacement_mm", s.pickup_mm), ("link_forces_N", s.link_N))
        }
        return {
            "name": self.names[i],
            "a_y_g": float(s.problem.a_y_g[i]),
            "a_x_g": float(s.problem.a_x_g[i]),
            "reason": self.reasons[i],
            "roll_deg": finite(s.roll_deg[i]),
            "pitch_deg": finite(s.pitch_deg[i]),
            "wheel_loads_N": _wheels(s.loads_N[i]),
            "transfer_front_N": finite(s.transfer_N[i, 0]),
            "transfer_rear_N": finite(s.transfer_N[i, 1]),
            "front_transfer_share": finite(s.front_transfer_share[i]),
            "front_transfer_moment_share": finite(s.front_transfer_moment_share[i]),
            "cross_weight": finite(s.cross_weight[i]),
            "left_share": finite(s.left_share[i]),
            "suspension_travel_mm": _wheels(s.travel_mm[i]),
            "tyre_deflection_mm": _wheels(s.tyre_deflection_mm[i]),
            **by_axle,
            "bar_force_at_wheel_N": _wheels(s.bar_at_wheel_N[i]),
            "camber_to_road_deg": _wheels(s.camber_deg[i]),
            "stops": [f"{name} {kind}" for kind, flags in (("bump", s.bump[i]), ("droop", s.droop[i]))
                      for name in _named(flags)] if here else None,
            "lifted": _named(s.lifted[i]) if here else None,
            "grip_used_front": finite(s.grip_used[i, 0]),
            "grip_used_rear": finite(s.grip_used[i, 1]),
            "slip_front_deg": finite(s.slip_deg[i, 0]),
            "slip_rear_deg": finite(s.slip_deg[i, 1]),
            "drive_limit_g": finite(s.drive_limit_g[i]),
            **{f"{axle}_bar": self._bar(a, i) for a, axle in enumerate(AXLES)},
            "closure": {
                "sum_N": finite(s.closure[i, 0]),
                "roll_moment_Nm": finite(s.closure[i, 1]),
                "pitch_moment_Nm": finite(s.closure[i, 2]),
            },
        }  # fmt: skip

    def _bar(self, axle: int, i: int) -> dict[str, Any]:
        found = self.stress[axle]
        if found is None or not self.states.found[i]:
            return {"peak_von_mises_MPa": None, "where": None, "yield_margin": None}
        return {
            "peak_von_mises_MPa": finite(found.peak_von_mises_MPa[i]),
            "where": found.where[i],
            "yield_margin": finite(found.yield_margin[i]),
        }


def _named(flags: Iterable[bool]) -> list[str]:
    return [name for name, there in zip(WHEELS, flags, strict=True) if there]


def _stiffness(one: AxleStiffness) -> dict[str, float]:
    return {
        "wheel_rate_spring_N_per_mm": one.wheel_rate_spring_N_per_mm,
        "ride_rate_N_per_mm": one.ride_rate_N_per_mm,
        "bar_rate_roll_N_per_mm": one.bar_rate_roll_N_per_mm,
        "bar_roll_rate_at_wheel_N_per_mm": one.bar_roll_rate_at_wheel_N_per_mm,
        "roll_stiffness_springs_Nm_per_deg": one.springs_Nm_per_deg,
        "roll_stiffness_bar_Nm_per_deg": one.bar_Nm_per_deg,
        "roll_stiffness_suspension_Nm_per_deg": one.suspension_Nm_per_deg,
        "roll_stiffness_with_tyres_Nm_per_deg": one.with_tyres_Nm_per_deg,
    }
