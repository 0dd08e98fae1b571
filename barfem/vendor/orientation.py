"""Can the bar be fitted the wrong way round: turned end for end, mirrored, upside down.

A bar that maps onto itself under a half turn has ends that cannot be told apart: no marking is needed. One that is its
own mirror image has no other hand. A bar that lies in its mounts when it is turned over, with its holes near where the
other end's were, will be fitted so some day, unless its marking says which end and which side is which.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.lra import BendRow, reversed_rows, rows_from_centreline
from barfem.vendor.part import clocking_deg

__all__ = ["Orientation", "orientation_of"]

Array = NDArray[np.float64]
SAME_MM, SAME_DEG = 0.01, 0.01
FITS_MM = 5.0
"""How far a turned bar may lie from a bushing's middle and still be pushed in (common practice, no source)."""
REACH_MM = 50.0
"""How far a hole may lie from where the link's joint is and still be reached (common practice, no source)."""


@frozen
class Orientation:
    """What the part's symmetry says.

    `two_fold`: a half turn maps the part onto itself, ends exchanged. `handed`: it differs from its mirror image.
    `turned_fits_mm` and `turned_reach_mm`: turned over end for end in its mounts, how far it lies from them, and how
    far its holes lie from the other end's at most, once it has turned in its bushings to where they are nearest.
    """

    two_fold: bool
    handed: bool
    turned_fits_mm: float
    turned_reach_mm: float

    @property
    def can_be_turned(self) -> bool:
        """Whether it can be fitted turned over, and is then another bar."""
        return not self.two_fold and self.turned_fits_mm <= FITS_MM and self.turned_reach_mm <= REACH_MM


def orientation_of(bar: Bar) -> Orientation:
    """Symmetry of the part: centreline, flats, holes and their clocking."""
    rows = rows_from_centreline(bar.centreline)
    back = reversed_rows(rows)
    mirrored = [_mirror(row) for row in rows]
    right, left = _end(bar, "right", 1.0), _end(bar, "left", 1.0)
    mirror_right, mirror_left = _end(bar, "right", -1.0), _end(bar, "left", -1.0)
    two_fold = _alike_rows(rows, back) and _alike(right, left)
    own_mirror = (_alike_rows(mirrored, rows) and _alike(mirror_right, right) and _alike(mirror_left, left)) or (
        _alike_rows(mirrored, back) and _alike(mirror_right, left) and _alike(mirror_left, right)
    )
    fits, reach = _turned(bar)
    return Orientation(two_fold, not own_mirror, fits, reach)


def _mirror(row: BendRow) -> BendRow:
    return BendRow(row.length_mm, -row.rotation_deg, row.angle_deg, row.radius_mm)


def _alike_rows(one: Sequence[BendRow], other: Sequence[BendRow]) -> bool:
    for a, b in zip(one, other, strict=True):
        if abs(a.length_mm - b.length_mm) > SAME_MM or abs((a.radius_mm or 0.0) - (b.radius_mm or 0.0)) > SAME_MM:
            return False
        if abs((a.angle_deg or 0.0) - (b.angle_deg or 0.0)) > SAME_DEG:
            return False
        if abs((a.rotation_deg - b.rotation_deg + 180.0) % 360.0 - 180.0) > SAME_DEG:
            return False
    return True


def _end(bar: Bar, side: str, sign: float) -> tuple[list[float], float | None]:
    """Sizes and holes of an end, and its clocking; `sign` -1 of its mirror image."""
    end = bar.right if side == "right" else bar.left
    sizes = [end.strength_scale]
    if end.flat is not None:
        flat = end.flat
        sizes += [flat.thickness_mm, flat.width_mm, flat.length_mm, flat.transition_mm, float(flat.kind == "forged")]
    for hole in sorted(end.holes, key=lambda hole: hole.from_tip_mm):
        sizes += [hole.from_tip_mm, hole.diameter_mm or 0.0]
    angle, _ = clocking_deg(bar, end, adjacent=True)
    return sizes, None if angle is None else sign * angle


def _alike(one: tuple[list[float], float | None], other: tuple[list[float], float | None]) -> bool:
    if len(one[0]) != len(other[0]) or not np.allclose(one[0], other[0], atol=SAME_MM, rtol=0.0):
        return False
    if one[1] is None or other[1] is None:
        return one[1] is other[1]
    return abs((one[1] - other[1] + 90.0) % 180.0 - 90.0) <= SAME_DEG


def _turned(bar: Bar) -> tuple[float, float]:
    """The bar turned over end for end about its middle between the mounts: distance from mounts, and of its holes."""
    line = bar.centreline
    stations = sorted(mount.station_mm for mount in bar.mounts)
    mounts, _ = line.evaluate(stations)
    middle, axis = 0.5 * (mounts[0] + mounts[-1]), mounts[-1] - mounts[0]
    axis = axis / np.linalg.norm(axis)
    holes = [line.evaluate([hole.station_mm for hole in end.holes])[0] - middle for end in bar.ends]
    # End for end: along the axis reversed, and one direction across it, which free turning then makes any.
    across = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [1.0, 0.0, 0.0])
    across /= np.linalg.norm(across)
    third = np.cross(axis, across)

    def turned(points: Array) -> Array:
        return np.asarray(2.0 * np.outer(points @ across, across) - points)

    path, _ = line.evaluate(np.linspace(0.0, line.length_mm, 1201))
    there = turned(path - middle)
    off = float(max(np.linalg.norm(there - (mount - middle), axis=1).min() for mount in mounts))
    pairs = [(0, 1), (1, 0)]
    # (which hole of the turned bar) at (which of the bar as drawn): counted from the tip, as many as both ends have
    moved, wanted = [], []
    for source, target in pairs:
        count = min(len(holes[source]), len(holes[target]))
        moved.append(turned(holes[source])[:count])
        wanted.append(holes[target][:count])
    m, w = np.concatenate(moved), np.concatenate(wanted)
    a = (m @ across) + 1j * (m @ third)
    b = (w @ across) + 1j * (w @ third)
    total = complex(np.sum(np.conj(a) * b))
    turn = total / abs(total) if abs(total) > 1e-12 else 1.0 + 0.0j
    apart = np.sqrt(np.abs(a * turn - b) ** 2 + ((m - w) @ axis) ** 2)
    return off, float(apart.max())
