"""A plain bar as the tables of a bar file, and ways to change one thing of it."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

DELETE = object()

MATERIAL = {
    "grade": "custom",
    "E": 206_000,
    "nu": 0.3,
    "density": 7850,
    "yield_strength": 1200,
    "tensile_strength": 1350,
}

FLAT = {"kind": "forged", "thickness": 12.0, "width": 40.0, "length": 95.0, "transition": 25.0, "normal": [0, 1, 0]}

U_BAR: dict[str, Any] = {
    "format": 1,
    "name": "plain U",
    "material": MATERIAL,
    "section": {"shape": "round", "diameter": 24.0},
    "centreline": {"points": [[-250, -500, 0], [0, -500, 0], [0, 500, 0], [-250, 500, 0]], "bend_radius": 48.0},
    "ends": {"holes": [{"name": "1", "from_tip": 20.0}, {"name": "2", "from_tip": 45.0}]},
    "mounts": [
        {"from_middle": -380.0, "radial_stiffness": 5000.0, "axial_stiffness": 200.0, "length": 40.0},
        {"from_middle": 380.0, "radial_stiffness": 5000.0, "length": 40.0},
    ],
    "links": {"length": 140.0, "direction": [0, 0, -1]},
    "travel": {"pickup": 40.0, "direction": [0, 0, 1]},
}

TUBE = (
    ("section", {"shape": "tube", "diameter": 24.0, "wall": 4.0}),
    ("material.bent", "before-hardening"),
)


def changed(*changes: tuple[str, Any], base: dict[str, Any] = U_BAR) -> dict[str, Any]:
    """A copy of the bar's tables with each "table.key.1.key" set to a value, or taken away with DELETE."""
    data = deepcopy(base)
    for path, value in changes:
        *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
        table: Any = data
        for part in way:
            table = table.setdefault(part, {}) if isinstance(table, dict) else table[part]
        if value is DELETE:
            del table[last]
        else:
            table[last] = deepcopy(value)
    return data
