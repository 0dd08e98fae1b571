"""The centreline: straights and true circular arcs along the developed length.

A station is the distance along the developed centreline from the right tip, in mm. Every point carries a
frame (t, a, b): t along the bar towards the left tip, a and b across it, right-handed. The frame is carried
along without twist (rotation-minimising), so in a bend the direction towards the bend's centre keeps its place
in the frame: `inward_angle_rad`, measured from a towards b.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen

__all__ = ["Centreline", "Segment"]

Array = NDArray[np.float64]


@frozen
class Segment:
    """One straight or one arc of the centreline.

    Attributes
    ----------
    start_station_mm, length_mm
        Where it begins, and its developed length.
    start_point_mm : tuple of 3
        Where it begins in drawing axes.
    start_frame : tuple of 3 tuples
        Rows t, a, b (unit vectors in drawing axes) at its start.
    radius_mm
        Centreline radius of a bend; None for a straight.
    inward_angle_rad
        Direction to the bend's centre, from a towards b. Zero for a straight.
    bend
        1 for the first bend from the right tip, and so on; None for a straight.
    """

    start_station_mm: float
    length_mm: float
    start_point_mm: tuple[float, float, float]
    start_frame: tuple[tuple[float, float, float], ...]
    radius_mm: float | None = None
    inward_angle_rad: float = 0.0
    bend: int | None = None

    @property
    def end_station_mm(self) -> float:
        return self.start_station_mm + self.length_mm

    @property
    def bend_angle_rad(self) -> float:
        """Angle of the bend, zero for a straight."""
        return 0.0 if self.radius_mm is None else self.length_mm / self.radius_mm

    def evaluate(self, distances_mm: Array) -> tuple[Array, Array]:
        """Points (n, 3) and frames (n, 3, 3), rows t, a, b, at distances (n,) from the segment's start."""
        p0 = np.array(self.start_point_mm)
        t0, a0, b0 = np.array(self.start_frame)
        s = distances_mm[:, None]
        if self.radius_mm is None:
            return p0 + s * t0, np.broadcast_to(np.array(self.start_frame), (len(s), 3, 3)).copy()
        r = self.radius_mm
        cos_i, sin_i = np.cos(self.inward_angle_rad), np.sin(self.inward_angle_rad)
        inward, binormal = cos_i * a0 + sin_i * b0, -sin_i * a0 + cos_i * b0
        phi = s / r
        points = p0 + r * np.sin(phi) * t0 + r * (1.0 - np.cos(phi)) * inward
        t = np.cos(phi) * t0 + np.sin(phi) * inward
        n = -np.sin(phi) * t0 + np.cos(phi) * inward
        return points, np.stack([t, cos_i * n - sin_i * binormal, sin_i * n + cos_i * binormal], axis=1)


@frozen
class Centreline:
    """Straights and arcs, in order from the right tip to the left tip."""

    segments: tuple[Segment, ...]

    @property
    def length_mm(self) -> float:
        """Developed length, exact."""
        return self.segments[-1].end_station_mm

    @property
    def bends(self) -> tuple[Segment, ...]:
        return tuple(segment for segment in self.segments if segment.radius_mm is not None)

    def segment_index(self, stations_mm: ArrayLike) -> NDArray[np.intp]:
        """Index of the segment that holds each station; a tangent point belongs to the segment after it."""
        index = np.searchsorted(self._starts_mm, np.atleast_1d(np.asarray(stations_mm, float)), side="right") - 1
        return np.minimum(np.maximum(index, 0), len(self.segments) - 1)

    def evaluate(self, stations_mm: ArrayLike) -> tuple[Array, Array]:
        """Points (n, 3) in mm and frames (n, 3, 3), rows t, a, b, in drawing axes, at stations (n,)."""
        stations = np.atleast_1d(np.asarray(stations_mm, float))
        index = self.segment_index(stations)
        own = self._table[index]
        p0, t0, inward, binormal = own[:, :3], own[:, 3:6], own[:, 6:9], own[:, 9:12]
        cos_i, sin_i, radius = own[:, 12:13], own[:, 13:14], own[:, 14:]
        s, straight = (stations - self._starts_mm[index])[:, None], np.isinf(radius)
        phi, r = s / radius, np.where(straight, 0.0, radius)
        sine, cosine = np.sin(phi), np.cos(phi)
        points = p0 + np.where(straight, s, r * sine) * t0 + r * (1.0 - cosine) * inward
        n = cosine * inward - sine * t0
        frames = np.empty((len(s), 3, 3))
        frames[:, 0] = cosine * t0 + sine * inward
        frames[:, 1] = cos_i * n - sin_i * binormal
        frames[:, 2] = sin_i * n + cos_i * binormal
        return points, frames

    @cached_property
    def _starts_mm(self) -> Array:
        return np.array([part.start_station_mm for part in self.segments])

    @cached_property
    def _table(self) -> Array:
        """What `Segment.evaluate` takes, a row (15,) a segment: its start, tangent, inward and binormal direction,
        cosine and sine of the inward angle, and radius, infinite of a straight.
        """
        parts = self.segments
        frames = np.array([part.start_frame for part in parts])
        angle = np.array([[part.inward_angle_rad] for part in parts])
        cos_i, sin_i = np.cos(angle), np.sin(angle)
        return np.concatenate(
            [
                np.array([part.start_point_mm for part in parts]),
                frames[:, 0],
                cos_i * frames[:, 1] + sin_i * frames[:, 2],
                cos_i * frames[:, 2] - sin_i * frames[:, 1],
                cos_i,
                sin_i,
                np.array([[np.inf if part.radius_mm is None else part.radius_mm] for part in parts]),
            ],
            axis=1,
        )

    def curvature(self, stations_mm: ArrayLike) -> Array:
        """Curvature vector (n, 3) in the frame (t, a, b), 1/mm: t' = curvature x t, zero on straights."""
        index = self.segment_index(stations_mm)
        vectors = np.zeros((len(self.segments), 3))
        for i, segment in enumerate(self.segments):
            if segment.radius_mm is not None:
                # t turns about the binormal: the inward direction turned a quarter further, from a towards b.
                vectors[i, 1] = -np.sin(segment.inward_angle_rad) / segment.radius_mm
                vectors[i, 2] = np.cos(segment.inward_angle_rad) / segment.radius_mm
        return vectors[index]

    def stations_at_y(self, y_mm: float) -> list[float]:
        """Stations at which the centreline crosses the plane y = `y_mm` (exact on straights and arcs), ascending."""
        found: list[float] = []
        for segment in self.segments:
            found += [
                segment.start_station_mm + distance
                for distance in _crossings(segment, y_mm)
                if -1e-9 <= distance <= segment.length_mm + 1e-9
            ]
        unique: list[float] = []
        for station in sorted(found):
            if not unique or station - unique[-1] > 1e-6:
                unique.append(min(max(station, 0.0), self.length_mm))
        return unique


def _crossings(segment: Segment, y_mm: float) -> list[float]:
    """Distances from the segment's start at which its y equals `y_mm`, on the whole line or circle."""
    y0, ty = segment.start_point_mm[1], segment.start_frame[0][1]
    if segment.radius_mm is None:
        return [] if abs(ty) < 1e-12 else [(y_mm - y0) / ty]
    r = segment.radius_mm
    inward_y = (
        np.cos(segment.inward_angle_rad) * segment.start_frame[1][1]
        + np.sin(segment.inward_angle_rad) * segment.start_frame[2][1]
    )
    # y0 + r (sin(phi) ty + (1 - cos(phi)) iy) = y: a sine of one phase.
    amplitude = np.hypot(ty, inward_y)
    rhs = (y_mm - y0) / r - inward_y
    if amplitude < 1e-12 or abs(rhs) > amplitude:
        return []
    phase = np.arctan2(-inward_y, ty)
    base = np.arcsin(rhs / amplitude)
    return [float(np.mod(angle - phase, 2 * np.pi) * r) for angle in (base, np.pi - base)]
