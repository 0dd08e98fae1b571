"""Cars for tests: a plain one as a dict, and changes to it by keys such as "front.bar.motion_ratio"."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from barfem.car.car import Car
from barfem.car.model import CarModel, car_model
from barfem.car.read import car_from_dict

__all__ = ["PLAIN", "changed", "model_of", "plain_car"]

RATES = [
    {"hole": "1", "one_end_held": 12.0, "lever": 250.0},
    {"hole": "2", "one_end_held": 16.0, "lever": 220.0},
    {"hole": "3", "one_end_held": 21.0, "lever": 195.0},
]

PLAIN: dict[str, Any] = {
    "format": 1,
    "name": "a plain car of a test",
    "car": {
        "wheelbase": 2500.0,
        "corner_masses": {"front_left": 290.0, "front_right": 285.0, "rear_left": 270.0, "rear_right": 280.0},
        "cg_height": 500.0,
    },
    "front": {
        "track": 1480.0,
        "suspension": "independent",
        "unsprung_mass": 70.0,
        "unsprung_height": 290.0,
        "roll_centre_height": 40.0,
        "spring_rate": 55.0,
        "spring_motion_ratio": 0.92,
        "tyre_rate": 210.0,
        "bar": {"rates": RATES, "left": "2", "right": "2", "motion_ratio": 0.62, "links": "hang"},
    },
    "rear": {
        "track": 1450.0,
        "suspension": "independent",
        "unsprung_mass": 80.0,
        "unsprung_height": 300.0,
        "roll_centre_height": 90.0,
        "wheel_rate": 42.0,
        "tyre_rate": 220.0,
        "bar": {"rates": RATES, "left": "1", "right": "1", "motion_ratio": 0.55, "links": "hang"},
    },
    "drive": {"driven": "rear", "brake_front_share": 0.65},
    "tyres": {
        "grip": 1.15,
        "load": 3000.0,
        "grip_loss": 0.08,
        "cornering_stiffness": {"c1": 16.0, "c2": 1.1e-3},
    },
}


def changed(**changes: Any) -> dict[str, Any]:
    """The plain car with keys set; dots are written as two underscores, and None takes a key away."""
    data = deepcopy(PLAIN)
    for path, value in changes.items():
        *tables, key = path.split("__")
        table = data
        for name in tables:
            table = table.setdefault(name, {})
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
    return data


def plain_car(**changes: Any) -> Car:
    return car_from_dict(changed(**changes))


def model_of(**changes: Any) -> CarModel:
    return car_model(plain_car(**changes))
