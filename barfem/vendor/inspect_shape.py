"""Tangent points of a bent bar from its rows, and rigid fits of measured points to them; many bars at once.

Points of a bar with k bends: right tip, start and end of each bend, left tip: 2 k + 2 of them, in walking order.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.lra import rows_from_centreline
from barfem.vendor.part import centreline_points

__all__ = ["MIRROR", "Rows", "drawn_points", "drawn_rows", "point_names", "rigid_fit", "rms", "walk"]

Array = NDArray[np.float64]
MIRROR = np.array([1.0, -1.0, 1.0])
"""Takes a point to its mirror image in the car's middle plane."""


@frozen
class Rows:
    """The bender's rows of a bar: k + 1 straights in mm, k - 1 rotations and k angles in deg, k radii in mm.

    The same as one vector: straights, rotations, angles, radii.
    """

    straight_mm: Array
    rotation_deg: Array
    angle_deg: Array
    radius_mm: Array

    @property
    def bends(self) -> int:
        return len(self.angle_deg)

    @property
    def vector(self) -> Array:
        return np.concatenate([self.straight_mm, self.rotation_deg, self.angle_deg, self.radius_mm])


def drawn_rows(bar: Bar) -> Rows:
    """Rows of the drawing, from the right tip."""
    rows = rows_from_centreline(bar.centreline)
    bends = rows[:-1]
    return Rows(
        np.array([row.length_mm for row in rows]),
        np.array([row.rotation_deg for row in bends[1:]]),
        np.array([row.angle_deg or 0.0 for row in bends]),
        np.array([row.radius_mm or 0.0 for row in bends]),
    )


def drawn_points(bar: Bar) -> Array:
    """Tips and tangent points of the drawing (2 k + 2, 3), from the right tip, in drawing axes."""
    return np.array([p.xyz_mm for p in centreline_points(bar.centreline) if p.kind != "intersection"])


def point_names(bends: int) -> tuple[str, ...]:
    """Names of the points, as the sheet and the inspection CSV have them."""
    between = [f"bend {i + 1} {end}" for i in range(bends) for end in ("start", "end")]
    return ("tip right", *between, "tip left")


def walk(vectors: Array, bends: int) -> Array:
    """Tips and tangent points (n, 2 k + 2, 3) of row vectors (n, 4 k) (see `Rows`).

    Laid out from the origin along x, the first bend towards y.
    """
    vectors = np.atleast_2d(vectors)
    k = bends
    straights = vectors[:, : k + 1]
    rotations = np.radians(vectors[:, k + 1 : 2 * k]) if k else vectors[:, :0]
    angles, radii = np.radians(vectors[:, max(2 * k, k + 1) : 3 * k]), vectors[:, 3 * k :]
    n = len(vectors)
    u, inward = np.tile([1.0, 0.0, 0.0], (n, 1)), np.tile([0.0, 1.0, 0.0], (n, 1))
    at = np.zeros((n, 3))
    points = [at]
    for i in range(k):
        at = at + straights[:, i, None] * u
        points.append(at)
        if i:
            c, s = np.cos(rotations[:, i - 1, None]), np.sin(rotations[:, i - 1, None])
            inward = c * inward + s * np.cross(u, inward)
        c, s = np.cos(angles[:, i, None]), np.sin(angles[:, i, None])
        at = at + radii[:, i, None] * (s * u + (1.0 - c) * inward)
        u, inward = c * u + s * inward, c * inward - s * u
        points.append(at)
    points.append(at + straights[:, k, None] * u)
    return np.stack(points, axis=1)


def rigid_fit(moving: Array, fixed: Array) -> tuple[Array, Array]:
    """Rotation (..., 3, 3) and shift (..., 3) that bring points `moving` (..., p, 3) nearest to `fixed`.

    moved = moving @ rotation^T + shift, by least squares of the distances; a proper rotation, never a mirror image, and
    no scale. Kabsch, Acta Cryst. A32 (1976) 922, by singular values.
    """
    here, there = moving.mean(axis=-2, keepdims=True), fixed.mean(axis=-2, keepdims=True)
    u, _, vt = np.linalg.svd(np.swapaxes(fixed - there, -1, -2) @ (moving - here))
    flip = np.ones((*u.shape[:-2], 3))
    flip[..., 2] = np.sign(np.linalg.det(u) * np.linalg.det(vt))
    rotation = (u * flip[..., None, :]) @ vt
    return rotation, there[..., 0, :] - np.squeeze(here @ np.swapaxes(rotation, -1, -2), axis=-2)


def rms(distances: Array) -> Array:
    """Root mean square along the last axis."""
    return np.asarray(np.sqrt(np.mean(distances**2, axis=-1)))
