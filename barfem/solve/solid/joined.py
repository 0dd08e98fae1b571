"""Bends of a tube that follow one another the same way with hardly a straight between: nearly one longer bend.

Where a tube is bent on, its section ovalises on: two bends of 45 degrees that touch are one of 90, and the field of
either by itself gives too little (a fifth, in a thin tube). Such bends take a share of the field of one bend through
all of them, all where they touch and none from `JOINED_DIAMETERS` of straight on. Solid bars do not need it: by the
swept solid their fields stand within about one per cent however close they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.centreline import Segment
from barfem.solve.solid.bend_tables import BendShape, bend_shape

__all__ = ["JOINED_DIAMETERS", "Joined", "joined_bends"]

Array = NDArray[np.float64]

JOINED_DIAMETERS = 0.6
"""Straight between two bends from which on neither feels the other's ovalising (swept solid, t / d 0.083 and 0.125)."""


@dataclass(frozen=True, eq=False)
class Joined:
    """Bends that are nearly one.

    Attributes
    ----------
    bends
        In their order from the right tip.
    share
        Of the joined bend's field in theirs, 0 to 1; the rest is their own.
    shape
        Of the joined bend: its angle is the sum of theirs, its radius their lengths over that.
    """

    bends: tuple[Segment, ...]
    share: float
    shape: BendShape

    @property
    def start_mm(self) -> float:
        return self.bends[0].start_station_mm

    @property
    def end_mm(self) -> float:
        return self.bends[-1].end_station_mm

    def along(self, stations_mm: Array) -> Array:
        """Stations (n,) from the joined bend's first tangent, mm: straights between its bends have no length."""
        out = np.minimum(stations_mm - self.start_mm, 0.0) + np.maximum(stations_mm - self.end_mm, 0.0)
        for bend in self.bends:
            out = out + np.clip(stations_mm - bend.start_station_mm, 0.0, bend.length_mm)
        return np.asarray(out)

    def nearest(self, stations_mm: Array) -> NDArray[np.intp]:
        """Index (n,) of the bend each station lies in, or nearest to."""
        away = [
            np.maximum(bend.start_station_mm - stations_mm, stations_mm - bend.end_station_mm) for bend in self.bends
        ]
        return np.asarray(np.argmin(away, axis=0))


def joined_bends(bar: Bar) -> tuple[Joined, ...]:
    """The bends of a tube that are nearly one with their neighbours; none for a solid bar."""
    if bar.section.wall_mm is None:
        return ()
    groups: list[tuple[list[Segment], float]] = []
    for one, two in pairwise(bar.centreline.bends):
        share = _share(one, two, bar.section.diameter_mm)
        if share <= 0.0:
            continue
        if groups and groups[-1][0][-1] is one:
            bends, most = groups.pop()
            groups.append(([*bends, two], max(most, share)))
        else:
            groups.append(([one, two], share))
    return tuple(Joined(tuple(bends), share, _shape(bar, bends)) for bends, share in groups)


def _share(one: Segment, two: Segment, diameter_mm: float) -> float:
    gap = (two.start_station_mm - one.end_station_mm) / diameter_mm
    same_way = float(np.cos(two.inward_angle_rad - one.inward_angle_rad))
    return max(1.0 - gap / JOINED_DIAMETERS, 0.0) * max(same_way, 0.0)


def _shape(bar: Bar, bends: list[Segment]) -> BendShape:
    angle = sum(bend.bend_angle_rad for bend in bends)
    length = sum(bend.length_mm for bend in bends)
    return replace(
        bend_shape(bar, bends[0]),
        radius_over_diameter=float(length / angle) / bar.section.diameter_mm,
        angle_deg=float(np.degrees(angle)),
    )
