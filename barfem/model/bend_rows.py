"""A centreline from the bender's own rows, laid out from either tip."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.centreline import Centreline, Segment
from barfem.model.errors import InputError
from barfem.model.lra import BendRow, reversed_rows
from barfem.model.points import STRAIGHT_DEG, start_frame

__all__ = ["rows_centreline"]

Array = NDArray[np.float64]


def rows_centreline(
    rows: Sequence[BendRow],
    *,
    start_tip: str,
    start_mm: ArrayLike,
    direction: ArrayLike,
    first_bend_towards: ArrayLike,
) -> Centreline:
    """Centreline, stations from the right tip, of rows that begin at the "right" or the "left" tip.

    Parameters
    ----------
    start_mm : (3,)
        The tip at which the rows begin, in drawing axes.
    direction : (3,)
        Of the first straight, away from that tip; any length.
    first_bend_towards : (3,)
        Side to which the first bend turns; only its part across `direction` counts.

    Raises
    ------
    InputError
        Rows that describe no bar, or directions that fix no plane.
    """
    _check_rows(rows)
    u = _unit(direction, "direction")
    towards = np.asarray(first_bend_towards, float)
    inward = towards - (towards @ u) * u
    if np.linalg.norm(inward) < 1e-6 * max(float(np.linalg.norm(towards)), 1e-300):
        raise InputError(
            "first_bend_towards lies along direction (or is zero) and fixes no plane.",
            where="first_bend_towards",
            expected="a vector across the first straight, towards the inside of the first bend.",
        )
    merged = _merged(rows)
    centreline = _chain(merged, start_mm=np.asarray(start_mm, float), along=u, inward=inward)
    if start_tip == "right":
        return centreline
    # The same bar from its other tip: walk it once to know where and how it ends.
    end, frames = centreline.evaluate(centreline.length_mm)
    along = -frames[0, 0]
    bends = centreline.bends
    if bends:
        angle = bends[-1].inward_angle_rad
        # The direction to the last bend's centre, seen from its far end, lies the same way in the twist-free frame.
        inward = np.cos(angle) * frames[0, 1] + np.sin(angle) * frames[0, 2]
    else:
        inward = start_frame(along)[1]
    return _chain(reversed_rows(merged), start_mm=end[0], along=along, inward=inward)


def _chain(rows: Sequence[BendRow], *, start_mm: Array, along: Array, inward: Array) -> Centreline:
    frame = start_frame(along)
    angle = float(np.arctan2(inward @ frame[2], inward @ frame[1]))
    point, station, bend = start_mm, 0.0, 0
    segments: list[Segment] = []

    def append(length: float, **shape: float | int) -> None:
        nonlocal point, station, frame
        rows_of_frame = tuple((float(v[0]), float(v[1]), float(v[2])) for v in frame)
        start = (float(point[0]), float(point[1]), float(point[2]))
        segment = Segment(station, length, start, rows_of_frame, **shape)  # type: ignore[arg-type]
        segments.append(segment)
        points, frames = segment.evaluate(np.array([length]))
        point, frame, station = points[0], frames[0], segment.end_station_mm

    for row in rows:
        if row.length_mm > 0.0:
            append(row.length_mm)
        if row.angle_deg is not None and row.radius_mm is not None:
            bend += 1
            angle += np.radians(row.rotation_deg)
            wrapped = float(np.arctan2(np.sin(angle), np.cos(angle)))
            length = float(row.radius_mm * np.radians(row.angle_deg))
            append(length, radius_mm=row.radius_mm, inward_angle_rad=wrapped, bend=bend)
    return Centreline(tuple(segments))


def _merged(rows: Sequence[BendRow]) -> tuple[BendRow, ...]:
    """Rows without bends too small to be one; their length and rotation go to the next row."""
    out: list[BendRow] = []
    length, rotation = 0.0, 0.0
    for row in rows:
        length, rotation = length + row.length_mm, rotation + row.rotation_deg
        if row.angle_deg is None or row.angle_deg >= STRAIGHT_DEG:
            # a rotation left over in front of the first bend turns its plane: only rows after a dropped first one
            out.append(BendRow(length, rotation, row.angle_deg, row.radius_mm))
            length, rotation = 0.0, 0.0
    return tuple(out)


def _check_rows(rows: Sequence[BendRow]) -> None:
    if not rows:
        raise InputError("no rows.", where="rows", expected="[length, rotation, angle, radius] each, last a [length].")
    for number, row in enumerate(rows, start=1):
        where = f"rows, row {number}"
        last = number == len(rows)
        if last != (row.angle_deg is None):
            raise InputError(
                "the last row is a length alone, and only the last." if last else "a length alone before the last row.",
                where=where,
                expected="[length, rotation, angle, radius] in every row but the last, [length] in the last.",
            )
        if row.length_mm < 0.0:
            raise InputError(
                f"length {row.length_mm:g} mm is negative: the arcs beside it overlap.",
                where=where,
                expected="the straight between the tangent points, 0 or more.",
            )
        if row.angle_deg is None:
            continue
        if not 0.0 <= row.angle_deg < 360.0:
            raise InputError(
                f"angle {row.angle_deg:g} deg.",
                where=where,
                expected="0 <= angle < 360; to bend the other way, rotate by 180.",
            )
        if row.radius_mm is None or row.radius_mm <= 0.0:
            raise InputError(
                f"radius {row.radius_mm if row.radius_mm is not None else 0:g} mm.",
                where=where,
                expected="a centreline radius above zero.",
            )
        if number == 1 and row.rotation_deg != 0.0:
            raise InputError(
                f"rotation {row.rotation_deg:g} deg in the first row, which has no bend before it.",
                where=where,
                expected="0; first_bend_towards sets the plane of the first bend.",
            )
    if sum(row.length_mm for row in rows) <= 0.0 and len(rows) == 1:
        raise InputError("the bar has no length.", where="rows", expected="a length above zero.")


def _unit(vector: ArrayLike, key: str) -> Array:
    v = np.asarray(vector, float)
    norm = float(np.linalg.norm(v))
    if not np.isfinite(norm) or norm == 0.0:
        raise InputError("the direction is zero.", where=key, expected="a vector along the first straight.")
    return v / norm
