"""Bars of any bends for validation: both arms alike, a list of bends from tip to middle. All invented."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest

import numpy as np

from barfem.model.bar import Bar, End, Hole, Link, Mount, Section, Travel
from barfem.model.centreline import Centreline, Segment
from barfem.model.material import Steel

STEEL = Steel("made up", "as tested", 206_000.0, 0.3, 7850.0, 1200.0, 1400.0)


@dataclass(frozen=True)
class Bent:
    """An arm from its tip: bends (R mm, angle deg, direction deg in the carried frame), straights between, mm."""

    diameter: float
    wall: float | None
    bends: tuple[tuple[float, float, float], ...]
    gaps: tuple[float, ...] = ()
    arm: float = 160.0
    half: float = 420.0
    ovality_percent: float = 0.0
    bend_wall: str = "thinned"

    @property
    def parts(self) -> list[tuple[float, float | None, float]]:
        """Segments (length, radius, direction in rad) from the right tip to the left one."""
        own: list[tuple[float, float | None, float]] = [(self.arm, None, 0.0)]
        for (radius, angle, inward), gap in zip_longest(self.bends, self.gaps, fillvalue=0.0):  # type: ignore[misc]
            own.append((float(radius * np.radians(angle)), radius, float(np.radians(inward))))
            if gap:
                own.append((gap, None, 0.0))
        return [*own, (2.0 * self.half, None, 0.0), *own[::-1]]


def line_of(parts: list[tuple[float, float | None, float]], frame: np.ndarray, point: np.ndarray) -> Centreline:
    segments: list[Segment] = []
    station, bends = 0.0, 0
    for length, radius, inward in parts:
        bends += radius is not None
        at = (tuple(float(x) for x in point), tuple(tuple(float(x) for x in row) for row in frame))
        segment = Segment(station, length, *at, radius, inward, bends if radius is not None else None)  # type: ignore[arg-type]
        points, frames = segment.evaluate(np.array([length]))
        station, point, frame = station + length, points[0], frames[0]
        segments.append(segment)
    return Centreline(tuple(segments))


def bent_bar(name: str, bent: Bent) -> Bar:
    """The bar in mounts near its middle bends, the middle along y, the arms as level as they go."""
    line = line_of(bent.parts, np.eye(3), np.zeros(3))
    tip, frames = line.evaluate([0.0, 0.5 * line.length_mm])
    y = frames[1, 0]
    x = tip[1] - tip[0] - ((tip[1] - tip[0]) @ y) * y
    x /= np.linalg.norm(x)
    turn = np.array([x, y, np.cross(x, y)])  # rows: the bar's x, y, z in the axes it was made in
    line = line_of(bent.parts, turn.T, -turn @ tip[1])
    length = line.length_mm
    right = (Hole("1", 20.0, 20.0, 10.0),)
    left = (Hole("1", 20.0, length - 20.0, 10.0),)
    out = bent.half - 4.0 * bent.diameter - 20.0
    mounts = tuple(Mount(0.5 * length + y, y, 5000.0, 200.0, 0.0, 0.0, 40.0) for y in (-out, out))
    down = (0.0, 0.0, -1.0)
    shape = "round" if bent.wall is None else "tube"
    section = Section(shape, bent.diameter, bent.wall, bent.bend_wall, bent.ovality_percent)  # type: ignore[arg-type]
    return Bar(
        name,
        STEEL,
        section,
        line,
        End("right", right, None),
        End("left", left, None),
        mounts,
        Link("right", 140.0, down, None, None),
        Link("left", 140.0, down, None, None),
        Travel(30.0, 30.0, 30.0, (0.0, 0.0, 1.0)),
    )
