"""How near the bar, swept over rest and both ends of every case's cycle, comes to bodies that it must not touch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.schema import KeepOutTable

__all__ = ["Nearest", "nearest_to_bodies"]

Array = NDArray[np.float64]


@frozen
class Nearest:
    """The least gap between the bar's skin and one body; negative where they overlap. Stations from the right tip."""

    name: str
    gap_mm: float
    station_mm: float
    case: str
    state: str


def nearest_to_bodies(
    bar: Bar, table: KeepOutTable, *, points_mm: Array, stations_mm: Array, names: list[tuple[str, str]]
) -> list[Nearest]:
    """The nearest approach of every body.

    Parameters
    ----------
    bar
        For the size of its section, flats included.
    table
        [keep_out] of the bar file.
    points_mm : (k, n, 3)
        Centreline in k states, in drawing axes.
    stations_mm : (n,)
        Of these points.
    names
        Case and state of each of the k.
    """
    reach = reach_mm(bar, stations_mm)
    out = []
    for name, distance in _bodies(table, points_mm):
        gap = distance - reach
        k, n = np.unravel_index(int(np.argmin(gap)), gap.shape)
        out.append(Nearest(name, float(gap[k, n]), float(stations_mm[n]), *names[k]))
    return out


def reach_mm(bar: Bar, stations_mm: Array) -> Array:
    """How far metal reaches from the centreline (n,): the radius, in a flat half its diagonal, the safe side."""
    reach = np.full(len(stations_mm), 0.5 * bar.section.diameter_mm)
    for end in bar.ends:
        if end.flat is not None:
            from_tip = stations_mm if end.side == "right" else bar.centreline.length_mm - stations_mm
            half = 0.5 * float(np.hypot(end.flat.width_mm, end.flat.thickness_mm))
            reach = np.where(from_tip <= end.flat.length_mm, np.maximum(reach, half), reach)
    return reach


def _bodies(table: KeepOutTable, points: Array) -> list[tuple[str, Array]]:
    """Signed distance (k, n) of points from the surface of each body, negative inside."""
    out: list[tuple[str, Array]] = []
    for box in table.boxes:
        low, high = np.minimum(box.low, box.high), np.maximum(box.low, box.high)
        outside = np.maximum(np.maximum(low - points, points - high), 0.0)
        inside = np.minimum(points - low, high - points).min(axis=-1)
        distance = np.linalg.norm(outside, axis=-1)
        out.append((box.name, np.where(distance > 0.0, distance, -inside)))
    for sphere in table.spheres:
        out.append((sphere.name, np.linalg.norm(points - np.array(sphere.centre), axis=-1) - sphere.radius))
    for cylinder in table.cylinders:
        start, to = np.array(cylinder.start), np.array(cylinder.to)
        length = float(np.linalg.norm(to - start))
        axis = (to - start) / max(length, 1e-12)
        along = (points - start) @ axis
        radial = np.linalg.norm(points - start - along[..., None] * axis, axis=-1) - cylinder.radius
        beyond = np.maximum(-along, along - length)
        outside = np.hypot(np.maximum(radial, 0.0), np.maximum(beyond, 0.0))
        out.append((cylinder.name, np.where(outside > 0.0, outside, np.maximum(radial, beyond))))
    return out
