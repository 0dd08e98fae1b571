"""Common and side tables: [ends] with [ends.left], [links] with [links.right], merged key by key.

A vector from the common table is the left side's: the right side takes it with y reversed. What a side's own table
gives is taken as written.
"""

from __future__ import annotations

from typing import Any

from barfem.model.bar import Side, Vector
from barfem.model.frozen import frozen
from barfem.model.schema import Table

__all__ = ["Given", "merged", "mirrored"]


@frozen
class Given:
    """A value, the table that gives it, and whether that is the common table."""

    value: Any
    table: str
    common: bool


def merged(common: Table, own: Table | None, *, name: str, side: Side) -> dict[str, Given]:
    """Every key given for one side, its own before the common; inline tables are merged key by key too."""
    out = {
        key: Given(value, f"[{name}]", True)
        for key, value in common.given().items()
        if value is not None and key not in ("left", "right")
    }
    for key, value in (own.given() if own is not None else {}).items():
        if value is not None:
            out[key] = Given(value, f"[{name}.{side}]", False)
    return out


def mirrored(vector: Vector, *, given: Given, side: Side) -> Vector:
    """The side's own vector: y reversed on the right if the common table gave it."""
    x, y, z = vector
    return (x, -y + 0.0, z) if side == "right" and given.common else (x, y, z)
