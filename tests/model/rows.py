"""Bend rows laid out in space, the other way round from `barfem.model.lra`: what its rows are tested by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.lra import BendRow

Array = NDArray[np.float64]


def points_from_rows(
    rows: Sequence[BendRow], *, start_mm: ArrayLike, direction: ArrayLike, first_bend_towards: ArrayLike
) -> tuple[Array, Array]:
    """Tangent intersections (n, 3) and radii (n - 2,) of rows laid out from `start_mm`.

    Raises
    ------
    InputError
        A bend of 180 deg or more, which has no tangent intersection.
    """
    u = np.asarray(direction, float) / np.linalg.norm(direction)
    inward = np.asarray(first_bend_towards, float)
    inward = inward - (inward @ u) * u
    inward /= np.linalg.norm(inward)
    points, radii = [np.asarray(start_mm, float)], []
    before = 0.0
    for number, row in enumerate(rows, start=1):
        angle = np.radians(row.angle_deg or 0.0)
        if angle >= np.radians(179.99):
            raise InputError(
                f"a bend of {row.angle_deg:g} deg has no corner point.",
                where=f"row {number}",
                expected="angles below 180 deg; a hairpin stays in rows.",
            )
        radius = row.radius_mm or 0.0
        tangent = radius * np.tan(angle / 2.0)
        points.append(points[-1] + (before + row.length_mm + tangent) * u)
        if row.angle_deg is None:
            break
        rotation = np.radians(row.rotation_deg)
        inward = np.cos(rotation) * inward + np.sin(rotation) * np.cross(u, inward)
        u, inward = np.cos(angle) * u + np.sin(angle) * inward, np.cos(angle) * inward - np.sin(angle) * u
        radii.append(radius)
        before = tangent
    return np.array(points), np.array(radii)
