"""Corner points <-> the bender's rows: length fed, rotation, bend angle (LRA).

Rotation is right-handed about the walking direction, from the plane of one bend to the plane of the next. Machines
differ in the sign: compare one row before bending.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.centreline import Centreline
from barfem.model.frozen import frozen
from barfem.model.points import corner_angles, polyline
from barfem.model.vectors import cross

__all__ = ["BendRow", "reversed_rows", "rows_from_centreline", "rows_from_points"]

Array = NDArray[np.float64]


@frozen
class BendRow:
    """One row: the straight fed first, then the rotation, then the bend. The last row is a length alone.

    `length_mm` runs between tangent points; `radius_mm` is to the centreline. Rotation lies in (-180, 180].
    """

    length_mm: float
    rotation_deg: float = 0.0
    angle_deg: float | None = None
    radius_mm: float | None = None


def rows_from_points(*, points_mm: ArrayLike, bend_radii_mm: ArrayLike) -> tuple[BendRow, ...]:
    """Rows from tangent intersections (n, 3) and radii (scalar or (n - 2,)); points on a straight are left out.

    With unit chords u and bend normals N_i = u_i x u_(i+1): angle A_i between u_i and u_(i+1); length less the
    tangents R tan(A / 2) on both sides; rotation atan2((N_(i-1) x N_i) . u_i, N_(i-1) . N_i). The first is zero.
    """
    line = polyline(points_mm=points_mm, bend_radii_mm=bend_radii_mm)
    along = np.diff(line.points_mm, axis=0)
    apart = np.linalg.norm(along, axis=1)
    u = along / apart[:, None]
    angles = corner_angles(line.points_mm)
    tangents = np.concatenate([[0.0], line.bend_radii_mm * np.tan(angles / 2.0), [0.0]])
    lengths = apart - tangents[:-1] - tangents[1:]
    normals = cross(u[:-1], u[1:])
    turned = np.sum(cross(normals[:-1], normals[1:]) * u[1:-1], axis=1)
    rotations = np.concatenate([[0.0], np.arctan2(turned, np.sum(normals[:-1] * normals[1:], axis=1))])[: len(angles)]
    rows = [
        BendRow(float(length), _wrapped_deg(rotation), float(np.degrees(angle)), float(radius))
        for length, rotation, angle, radius in zip(lengths, rotations, angles, line.bend_radii_mm, strict=False)
    ]
    return (*rows, BendRow(float(lengths[-1])))


def rows_from_centreline(centreline: Centreline) -> tuple[BendRow, ...]:
    """Rows from the right tip. In twist-free frames the rotation is the change of the bends' inward angle."""
    rows: list[BendRow] = []
    length, inward = 0.0, None
    for segment in centreline.segments:
        if segment.radius_mm is None:
            length += segment.length_mm
            continue
        rotation = 0.0 if inward is None else segment.inward_angle_rad - inward
        rows.append(
            BendRow(length, _wrapped_deg(rotation), float(np.degrees(segment.bend_angle_rad)), segment.radius_mm)
        )
        length, inward = 0.0, segment.inward_angle_rad
    return (*rows, BendRow(length))


def reversed_rows(rows: Sequence[BendRow]) -> tuple[BendRow, ...]:
    """The same bar from the other tip. Rotations keep their sign: seen from the other end a screw turns alike."""
    bends = rows[:-1]
    lengths = [row.length_mm for row in rows][::-1]
    rotations = [0.0, *[row.rotation_deg for row in bends[1:]][::-1]]
    back = [
        BendRow(length, rotation, bend.angle_deg, bend.radius_mm)
        for length, rotation, bend in zip(lengths, rotations, bends[::-1], strict=False)
    ]
    return (*back, BendRow(lengths[-1]))


def _wrapped_deg(angle_rad: float) -> float:
    """Degrees in (-180, 180]; a hair above -180, which would be written as -180, is 180."""
    turned = -((-np.degrees(angle_rad) + 180.0) % 360.0 - 180.0)
    return 180.0 if turned < -180.0 + 1e-9 else float(turned) + 0.0
