"""[[collars]]: collars and stop rings seated on the bar."""

from __future__ import annotations

from collections.abc import Sequence

from barfem.model.bar import Collar, Mount
from barfem.model.centreline import Centreline
from barfem.model.errors import InputError
from barfem.model.mounts import at_least_one, too_long
from barfem.model.schema import CollarTable

__all__ = ["mount_beside", "read_collars"]


def read_collars(tables: Sequence[CollarTable], *, centreline: Centreline) -> tuple[Collar, ...]:
    """The collars, from the right tip on.

    Raises
    ------
    InputError
        A collar off the bar, or a factor below 1.
    """
    middle = 0.5 * centreline.length_mm
    collars = []
    for number, table in enumerate(tables, start=1):
        where = f"[[collars]] {number}"
        reach = middle - 0.5 * table.length
        if reach < 0.0:
            raise too_long("collar", table.length, middle, where=where)
        if abs(table.from_middle) > reach:
            raise InputError(
                f"a collar at from_middle = {table.from_middle:g} mm with its length of {table.length:g} mm is off the "
                f"bar, whose tips lie {middle:.5g} mm from its middle.",
                where=f"{where}, from_middle",
                expected=f"from_middle between {-reach:.5g} and {reach:.5g} mm.",
            )
        factor = at_least_one(table.factor, where=f"{where}, factor")
        collars.append(Collar(middle + table.from_middle, table.from_middle, table.length, table.kind, factor))
    return tuple(sorted(collars, key=lambda collar: collar.station_mm))


def mount_beside(collar_from_middle_mm: float, mounts: Sequence[Mount]) -> int:
    """Number of the mount nearest to a collar: where mounts move, a stop ring or collar stays at its own."""
    away = [abs(mount.from_middle_mm - collar_from_middle_mm) for mount in mounts]
    return away.index(min(away))
