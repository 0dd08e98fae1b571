"""What every result of a car says in its JSON beside its own fields: the car, the signs, wheels and sides by name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, ClassVar

from barfem.car.car import WHEELS, Car
from barfem.model.plain import Json

__all__ = ["CONVENTIONS", "CarJson", "by_side", "by_wheel"]

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

AS_WEIGHED = (
    "total_mass_kg",
    "front_share",
    "left_share",
    "cross_weight",
    "cg_height_mm",
    "sprung_mass_kg",
    "sprung_cg_height_mm",
    "roll_arm_mm",
)


class CarJson(Json):
    """A result of a `car`."""

    car: Car
    _json_also: ClassVar[Mapping[str, str]] = {"name": "car.name", "conventions": "conventions"}

    @property
    def conventions(self) -> dict[str, str]:
        """Axes, signs and units."""
        return dict(CONVENTIONS)

    @property
    def as_weighed(self) -> dict[str, float]:
        """Masses and heights of the car at rest."""
        return {name: getattr(self.car, name) for name in AS_WEIGHED}


def by_wheel(row: Iterable[Any] | None) -> dict[str, Any] | None:
    """Values in the order of `WHEELS` by their names."""
    return None if row is None else dict(zip(WHEELS, row, strict=True))


def by_side(pair: tuple[float, float] | None) -> dict[str, float] | None:
    """A value of the left and of the right link by name."""
    return None if pair is None else {"left": pair[0], "right": pair[1]}
