"""What `barfem car` finds of a car, and its JSON: finite numbers or null, units in the names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from typing import Any, ClassVar

from barfem.car.bar_stress import StressAt
from barfem.car.car import AXLES, WHEELS, Car
from barfem.car.car_json import CarJson, by_wheel
from barfem.car.limits import CorneringLimits
from barfem.car.quantities import CarStates
from barfem.car.stiffness import AxleStiffness
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, plain
from barfem.model.shown import Shown
from barfem.study.json_values import flat

__all__ = ["CarResult", "Understeer"]


@frozen
class Understeer:
    a_y_g: float
    understeer_angle_deg: float | None
    understeer_gradient_deg_per_g: float | None


@frozen(kw_only=True, repr=False)
class CarResult(Shown, CarJson):
    """A car at one hole pair an axle: `holes` (left, right) of each, None without a bar; N, mm, deg, g, MPa."""

    car: Car = field(metadata=NOT_IN_JSON)
    holes: Mapping[str, tuple[str, str] | None]
    stiffness: tuple[AxleStiffness, AxleStiffness] = field(metadata=NOT_IN_JSON)
    whole_deg_per_g: float | None = field(metadata=NOT_IN_JSON)
    by_hand_deg_per_g: Mapping[str, float | None] = field(metadata=NOT_IN_JSON)
    states: CarStates = field(metadata=NOT_IN_JSON)
    names: tuple[str, ...] = field(metadata=NOT_IN_JSON)
    reasons: tuple[str | None, ...] = field(metadata=NOT_IN_JSON)
    stress: tuple[StressAt | None, StressAt | None] = field(metadata=NOT_IN_JSON)
    understeer: tuple[Understeer, ...]
    limits: CorneringLimits = field(metadata=NOT_IN_JSON)
    right_limits: CorneringLimits = field(metadata=NOT_IN_JSON)
    passes: bool
    why: tuple[str, ...]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    _json_also: ClassVar[Mapping[str, str]] = {
        **CarJson._json_also,
        "as_weighed": "as_weighed",
        "stiffness": "of_axles",
        "roll_gradient_deg_per_g": "roll_gradient_deg_per_g",
        "states": "every_state",
        "lift": "lift",
    }

    def records(self) -> list[dict[str, Any]]:
        """A row a state, flat: loads [N], roll [deg], shares, travels [mm], link forces [N], stress [MPa]."""
        return [flat(state) for state in plain(self.every_state)]

    @property
    def roll_gradient_deg_per_g(self) -> dict[str, float | None]:
        """Of the whole car, and by hand with tyres in series and with rigid ones."""
        return {"whole": self.whole_deg_per_g, **self.by_hand_deg_per_g}

    @property
    def of_axles(self) -> dict[str, AxleStiffness]:
        """Rates and roll stiffness by axle."""
        return dict(zip(AXLES, self.stiffness, strict=True))

    @property
    def every_state(self) -> list[dict[str, Any]]:
        """The states in the order of `names`."""
        return [self.state(number) for number in range(len(self.names))]

    @property
    def lift(self) -> dict[str, Any]:
        """Where a wheel lifts first, in left turns and in right turns."""
        return {**plain(self.limits), "right_turn": self.right_limits}

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
            key: {f"{axle}_{side}": parts[a][i, k] for a, axle in enumerate(AXLES) for k, side in enumerate(sides)}
            for key, parts in (("bar_end_displacement_mm", s.pickup_mm), ("link_forces_N", s.link_N))
        }
        return {
            "name": self.names[i],
            "a_y_g": s.problem.a_y_g[i],
            "a_x_g": s.problem.a_x_g[i],
            "reason": self.reasons[i],
            "roll_deg": s.roll_deg[i],
            "pitch_deg": s.pitch_deg[i],
            "wheel_loads_N": by_wheel(s.loads_N[i]),
            "transfer_front_N": s.transfer_N[i, 0],
            "transfer_rear_N": s.transfer_N[i, 1],
            "front_transfer_share": s.front_transfer_share[i],
            "front_transfer_moment_share": s.front_transfer_moment_share[i],
            "cross_weight": s.cross_weight[i],
            "left_share": s.left_share[i],
            "suspension_travel_mm": by_wheel(s.travel_mm[i]),
            "tyre_deflection_mm": by_wheel(s.tyre_deflection_mm[i]),
            **by_axle,
            "bar_force_at_wheel_N": by_wheel(s.bar_at_wheel_N[i]),
            "camber_to_road_deg": by_wheel(s.camber_deg[i]),
            "stops": [f"{name} {kind}" for kind, flags in (("bump", s.bump[i]), ("droop", s.droop[i]))
                      for name in _named(flags)] if here else None,
            "lifted": _named(s.lifted[i]) if here else None,
            "grip_used_front": s.grip_used[i, 0],
            "grip_used_rear": s.grip_used[i, 1],
            "slip_front_deg": s.slip_deg[i, 0],
            "slip_rear_deg": s.slip_deg[i, 1],
            "drive_limit_g": s.drive_limit_g[i],
            **{f"{axle}_bar": self._bar(a, i) for a, axle in enumerate(AXLES)},
            "closure": {
                "sum_N": s.closure[i, 0],
                "roll_moment_Nm": s.closure[i, 1],
                "pitch_moment_Nm": s.closure[i, 2],
            },
        }  # fmt: skip

    def _bar(self, axle: int, i: int) -> dict[str, Any]:
        found = self.stress[axle]
        if found is None or not self.states.found[i]:
            return {"peak_von_mises_MPa": None, "where": None, "yield_margin": None}
        return {
            "peak_von_mises_MPa": found.peak_von_mises_MPa[i],
            "where": found.where[i],
            "yield_margin": found.yield_margin[i],
        }


def _named(flags: Iterable[bool]) -> list[str]:
    return [name for name, there in zip(WHEELS, flags, strict=True) if there]
