"""A measured bar laid out as the drawing has it: hand and order found, points in order, readings with their ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.vendor.inspect_fit import Lie, canonical, match
from barfem.vendor.inspect_reading import MeasuredBar, Reading
from barfem.vendor.inspect_shape import MIRROR, Rows, walk
from barfem.vendor.part import clocking_deg

__all__ = ["Laid", "hole_axes", "laid_out"]

Array = NDArray[np.float64]
_SWAP = {"right": "left", "left": "right"}


@dataclass(frozen=True)
class Laid:
    """One measured bar: readings with their ends as in the drawing, points (p, 3) canonical; None without any."""

    measured: MeasuredBar
    lie: Lie
    points: Array | None
    readings: tuple[Reading, ...]
    from_rows: bool


def laid_out(measured: MeasuredBar, nominal: Array, drawn: Rows) -> Laid:
    """Lay out a measured bar against the drawing's points (p, 3) and rows."""
    points, from_rows = measured.points_mm, False
    rows = measured.all_of("row")
    if points is None and rows:
        points, from_rows = _points_of(rows, drawn), True
    if points is None:
        return Laid(measured, Lie("as-drawn", "as named", ()), None, measured.readings, False)
    lie = match(points, nominal)
    readings = tuple(_swapped(reading, lie) for reading in measured.readings)
    return Laid(measured, lie, canonical(points, lie), readings, from_rows)


def _points_of(rows: Sequence[Reading], drawn: Rows) -> Array:
    """Points of measured rows; entries that were not measured are the drawing's."""
    k, vector = drawn.bends, drawn.vector.copy()
    for reading in rows:
        row = int(reading.place.removeprefix("row "))
        index = {"length": row - 1, "rotation": k - 1 + row, "angle": 2 * k + row - 1}[reading.unit]
        if reading.unit == "rotation" and row == 1:
            continue
        vector[index] = reading.value
    return np.asarray(walk(vector, k)[0])


def _swapped(reading: Reading, lie: Lie) -> Reading:
    """A reading with the end that it is of in the drawing, and its axis mirrored back."""
    place, axis = reading.place, reading.axis
    if lie.ends_swapped:
        words = [_SWAP.get(word, word) for word in place.split(" ")]
        place = " ".join(words)
    if lie.hand == "other" and axis is not None:
        x, y, z = (np.array(axis) * MIRROR).tolist()
        axis = (x, y, z)
    return replace(reading, place=place, axis=axis)


def hole_axes(bar: Bar, laid: Laid) -> list[tuple[str, float, float]]:
    """(end, drawn clocking, deviation from it in (-90, 90]) of each end whose hole axis was measured beside points."""
    out: list[tuple[str, float, float]] = []
    points = laid.points
    if points is None or laid.from_rows:
        return out
    for end in bar.ends:
        axis = next((r.axis for r in laid.readings if r.what == "hole axis" and r.place == f"{end.side} end"), None)
        drawn, source = clocking_deg(bar, end)
        # From the tip inwards: tip, start of its bend, end of it, start of what follows.
        inner = (points if end.side == "right" else points[::-1])[:4]
        if axis is None or drawn is None or source != "bend" or not np.all(np.isfinite(inner)):
            continue
        u = inner[1] - inner[0]
        u = u / np.linalg.norm(u)
        onward = inner[3] - inner[2]
        inward = onward - (onward @ u) * u
        inward = inward / np.linalg.norm(inward)
        found = float(np.degrees(np.arctan2(u @ np.cross(inward, axis), inward @ np.array(axis))))
        out.append((end.side, drawn, -((-(found - drawn) + 90.0) % 180.0 - 90.0)))
    return out
