"""The dimensions of a bar that can differ from its drawing, one by one: what a band of [tolerances] goes over."""

from __future__ import annotations

import math
from collections.abc import Callable

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.lra import BendRow, rows_from_centreline
from barfem.study.tolerance_shape import across_lever_mm

__all__ = ["LEAST_LEVER", "Dimension", "dimensions_of"]

LEAST_LEVER = 0.05
"""Of an arm's straight, below which its tip is moved in its bend's plane only: so small a bend has hardly a plane."""


@frozen
class Dimension:
    """One dimension: its name, its number among those of its key, its nominal `size` (mm or deg).

    `share` says that it varies as a share of itself whatever its size is (stiffness, E).
    """

    where: str
    index: int
    size: float
    share: bool = False


def dimensions_of(bar: Bar, key: str) -> list[Dimension]:
    """The dimensions of `bar` that the key of [tolerances] goes over; none where the bar has nothing of the kind."""
    return _OF[key](bar)


def _diameter(bar: Bar) -> list[Dimension]:
    return [Dimension("diameter", 0, bar.section.diameter_mm)]


def _wall(bar: Bar) -> list[Dimension]:
    wall = bar.section.wall_mm
    return [] if wall is None else [Dimension("wall", 0, wall)]


def _flat(name: str) -> Callable[[Bar], list[Dimension]]:
    def of(bar: Bar) -> list[Dimension]:
        return [
            Dimension(f"{end.side} flat", i, float(getattr(end.flat, name)))
            for i, end in enumerate(bar.ends)
            if end.flat is not None
        ]

    return of


def _straights(bar: Bar) -> list[Dimension]:
    rows = rows_from_centreline(bar.centreline)
    return [Dimension(f"straight {i + 1}", i, row.length_mm) for i, row in enumerate(rows) if row.length_mm > 0.0]


def _tips(bar: Bar) -> list[Dimension]:
    rows = rows_from_centreline(bar.centreline)
    if len(rows) < 2:
        return []
    out = []
    for i, (side, length, row) in enumerate(
        (("right", rows[0].length_mm, rows[0]), ("left", rows[-1].length_mm, rows[-2]))
    ):
        if length > 0.0:
            out.append(Dimension(f"{side} arm, in the bend's plane", 2 * i, length))
            lever = across_lever_mm(
                straight_mm=length, radius_mm=row.radius_mm or 0.0, angle_rad=math.radians(row.angle_deg or 0.0)
            )
            if lever > LEAST_LEVER * length:
                out.append(Dimension(f"{side} arm, across the bend's plane", 2 * i + 1, length))
    return out


def _bends(bar: Bar) -> tuple[BendRow, ...]:
    return rows_from_centreline(bar.centreline)[:-1]


def _radii(bar: Bar) -> list[Dimension]:
    return [Dimension(f"bend {i + 1}", i, row.radius_mm or 0.0) for i, row in enumerate(_bends(bar))]


def _angles(bar: Bar) -> list[Dimension]:
    return [Dimension(f"bend {i + 1}", i, row.angle_deg or 0.0) for i, row in enumerate(_bends(bar))]


def _rotations(bar: Bar) -> list[Dimension]:
    bends = _bends(bar)
    return [Dimension(f"bend {i + 1} to {i + 2}", i, bends[i + 1].rotation_deg) for i in range(len(bends) - 1)]


def _holes(bar: Bar) -> list[Dimension]:
    """A joint at the very tip has no distance of its own: the straight's length moves it."""
    out, index = [], 0
    for end in bar.ends:
        for hole in end.holes:
            if hole.from_tip_mm > 0.0:
                out.append(Dimension(f"{end.side} hole {hole.name}", index, hole.from_tip_mm))
            index += 1
    return out


def _mounts(bar: Bar) -> list[Dimension]:
    return [Dimension(f"mount {i + 1}", i, max(abs(m.from_middle_mm), 1e-9)) for i, m in enumerate(bar.mounts)]


def _stiffness(bar: Bar) -> list[Dimension]:
    return [Dimension(f"mount {i + 1}", i, 1.0, share=True) for i in range(len(bar.mounts))]


def _depth(bar: Bar) -> list[Dimension]:
    return [Dimension("decarburised depth", 0, bar.steel.decarburised_depth_mm or 0.0)]


_OF: dict[str, Callable[[Bar], list[Dimension]]] = {
    "diameter": _diameter,
    "wall": _wall,
    "flat_thickness": _flat("thickness_mm"),
    "flat_width": _flat("width_mm"),
    "straight_length": _straights,
    "tip_position": _tips,
    "bend_radius": _radii,
    "bend_angle": _angles,
    "bend_rotation": _rotations,
    "hole_position": _holes,
    "mount_position": _mounts,
    "mount_stiffness": _stiffness,
    "E": lambda bar: [Dimension("E", 0, 1.0, share=True)],
    "yield_ratio": lambda bar: [Dimension("yield / tensile strength", 0, 1.0, share=True)],
    "decarburised_depth": _depth,
}
