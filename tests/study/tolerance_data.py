"""Bars with few bands, so that a study of them takes seconds; all of it invented."""

from __future__ import annotations

from typing import Any

from barfem.model.bar import Bar
from barfem.model.read import bar_from_dict
from tests.model.bar_data import U_BAR, changed

EVERY_KEY = (
    "diameter",
    "straight_length",
    "tip_position",
    "bend_radius",
    "bend_angle",
    "bend_rotation",
    "hole_position",
    "mount_position",
    "mount_stiffness",
    "E",
    "yield_ratio",
)

# The plain U of `bar_data` by the rows of its bender: 250 - 48 of arm, 1000 - 96 between, radius 48.
ROWS_BAR: dict[str, Any] = {
    **{key: value for key, value in U_BAR.items() if key != "centreline"},
    "bends": {
        "start_tip": "right",
        "start": [-250.0, -500.0, 0.0],
        "direction": [1, 0, 0],
        "first_bend_towards": [0, 1, 0],
        "rows": [[202.0, 0.0, 90.0, 48.0], [904.0, 0.0, 90.0, 48.0], [202.0]],
    },
}


def bands_alone(*, strength: list[float] | None = None, **given: Any) -> dict[str, Any]:
    """A [tolerances] table in which only the given keys vary."""
    off: dict[str, Any] = dict.fromkeys(EVERY_KEY, 0)
    return {**off, "tensile_strength": strength or [1350, 1350], **given}


def small_bar(*changes: tuple[str, Any], base: dict[str, Any] = U_BAR, **given: Any) -> Bar:
    """The plain U with one hole and modest travel, in which only the given bands vary."""
    return bar_from_dict(
        changed(
            ("ends.holes", [{"name": "1", "from_tip": 20.0}]),
            ("travel.pickup", 15.0),
            ("tolerances", bands_alone(**given)),
            *changes,
            base=base,
        )
    )


def toml_of(bar: Bar) -> str:
    import tomlkit

    return tomlkit.dumps(dict(bar.tables or {}))
