"""Groups of bends that see each other, and their tables: solved once, kept, several at the same time.

Where a straight ends in a bend, a tube goes out of round, and is round again only some decay lengths on
(`decay_length`, about a quarter of d (d / t)^0.5): a second bend within that reach has another stress than by itself.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bent_wall import BentWall, wall_by_rule
from barfem.model.centreline import Segment
from barfem.model.frozen import frozen
from barfem.solve.solid.bend_tables import LONGEST, STRAIGHTEST, VERSION, BendShape, bend_shape
from barfem.solve.solid.cache import cached
from barfem.solve.solid.group_table import GroupBend, GroupShape, GroupTable, table_stations
from barfem.solve.solid.table import FACTORS, ORDER, decay_length

__all__ = [
    "REACH_DECAYS",
    "REACH_SOLID",
    "BendGroup",
    "GroupSource",
    "bend_groups",
    "kept_group",
    "reach",
    "solved_group",
]

Array = NDArray[np.float64]

REACH_DECAYS = 3.5
"""Decay lengths of ovalising within which bends of a tube are solved as one.

Measured on pairs of 90 and 60 degrees (R/d 1.5 and 3; t/d 0.08, 0.15, 0.25; same way, opposite, right angles), their
own fields against the pair's: peaks of either bend are up to 29 % off where they touch, 8.3 % at one decay length,
2.5 % at two, 0.9 % at three, 0.3 % at four.
"""

REACH_SOLID = 0.35
"""The same of solid bars, in diameters: 9 % where bends of R/d 1.2 touch at right angles, 0.3 % at 0.3 diameters."""


@frozen(eq=False)
class BendGroup:
    """Bends of a bar that see each other, in their order from the right tip.

    `shape` is the canonical one, to which the bar's own stands `backwards`, `mirrored` or both.
    """

    bends: tuple[Segment, ...]
    shape: GroupShape
    backwards: bool
    mirrored: bool

    @property
    def start_mm(self) -> float:
        return self.bends[0].start_station_mm

    @property
    def end_mm(self) -> float:
        return self.bends[-1].end_station_mm


@frozen(eq=False)
class GroupSource:
    """A group's table as the bar has it, or None and the reason `why`; `problem` is what the cache refused."""

    table: GroupTable | None
    why: str | None = None
    problem: str | None = None


def reach(wall_over_diameter: float | None) -> float:
    """Straight between two bends, in diameters, below which they see each other."""
    return REACH_SOLID if wall_over_diameter is None else REACH_DECAYS * decay_length(wall_over_diameter)


def bend_groups(bar: Bar) -> tuple[BendGroup, ...]:
    """Groups of two bends or more; none where bends keep closed forms (nearly straight ones)."""
    d = bar.section.diameter_mm
    far = reach(None if bar.section.wall_mm is None else bar.section.wall_mm / d) * d
    shapes = {bend.bend: bend_shape(bar, bend) for bend in bar.centreline.bends}
    groups: list[list[Segment]] = []
    for one, two in pairwise(bar.centreline.bends):
        if two.start_station_mm - one.end_station_mm >= far or not (
            _solved(shapes[one.bend]) and _solved(shapes[two.bend])
        ):
            continue
        if groups and groups[-1][-1] is one:
            groups[-1].append(two)
        else:
            groups.append([one, two])
    return tuple(_group(d, [shapes[bend.bend] for bend in bends], bends) for bends in groups)


def _solved(shape: BendShape) -> bool:
    length = shape.radius_over_diameter * np.radians(shape.angle_deg)
    return bool(0.5 < shape.radius_over_diameter <= STRAIGHTEST and length <= LONGEST)


def _group(diameter_mm: float, shapes: list[BendShape], bends: list[Segment]) -> BendGroup:
    first = shapes[0]
    parts = []
    for shape, bend in zip(shapes, bends, strict=True):
        walls = _walls(shape)
        parts.append(
            GroupBend(
                radius=round(shape.radius_over_diameter, 9),
                angle_deg=round(shape.angle_deg, 9),
                inward_deg=float(np.degrees(bend.inward_angle_rad)),
                wall_outside=round(walls.outside, 9),
                wall_inside=round(walls.inside, 9),
            )
        )
    gaps = tuple(round((b.start_station_mm - a.end_station_mm) / diameter_mm, 9) + 0.0 for a, b in pairwise(bends))
    wall = first.wall_over_diameter
    own = GroupShape(
        tuple(parts), gaps, None if wall is None else round(wall, 9), round(first.ovality, 9), round(first.nu, 9)
    )
    canonical, backwards, mirrored = own.canonical
    return BendGroup(tuple(bends), canonical, backwards, mirrored)


def _walls(shape: BendShape) -> BentWall:
    wall = shape.wall_over_diameter
    if wall is None:
        return BentWall(0.0, 0.0)
    rule: BentWall | Literal["thinned", "uniform"] = shape.bent
    if rule == "thinned":
        return wall_by_rule(wall=wall, diameter=1.0, radius=shape.radius_over_diameter)
    return BentWall(wall, wall) if rule == "uniform" else rule


@lru_cache(maxsize=64)
def solved_group(shape: GroupShape) -> GroupSource:
    """The table of a canonical shape, from the cache or solved."""
    return kept_group(shape, table_stations(shape), f"{shape!r}")


def kept_group(shape: GroupShape, stations: Array, key: str) -> GroupSource:
    """The table of a shape at stations (S,), from the cache under `key` or solved."""
    size = (len(stations), 2 * ORDER + 1, 3, 6)
    sizes: dict[str, tuple[int, ...]] = {"outside": size, "factors": (len(shape.bends), len(FACTORS))}
    if shape.wall_over_diameter is not None:
        sizes["bore"] = size

    def make() -> dict[str, np.ndarray]:
        from barfem.solve.solid.group_solve import solve_group

        table = solve_group(shape, stations=stations)
        made = {"outside": table.outside, "factors": table.factors}
        return made if table.bore is None else {**made, "bore": table.bore}

    try:
        found = cached(f"barfem bend group {VERSION}: {key}", sizes, make, what="bends that see each other")
    except (ValueError, np.linalg.LinAlgError) as error:
        return GroupSource(None, f"their field cannot be computed: {error}")
    arrays = found.arrays
    return GroupSource(
        GroupTable(shape, stations, arrays["outside"], arrays.get("bore"), arrays["factors"]), problem=found.problem
    )
