"""A bar that is its own mirror image across the car: of two states that mirror each other, one is solved.

Roll to the other side is the mirror image of roll, and either wheel alone that of the other. The mirror is the plane
y = 0 of the drawing; right and left change places.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.solve.batch import Copy

__all__ = ["mirror_images", "mirrored", "symmetric"]

Array = NDArray[np.float64]

WITHIN = 1e-9
"""What a length may differ by, of the bar's greatest, and a stiffness, of the greatest: rounding."""

_POLAR = np.array([1.0, -1.0, 1.0])  # displacements, forces, places
_AXIAL = -_POLAR  # turns, moments
_TENSOR = np.outer(_POLAR, _POLAR)


def symmetric(copies: Sequence[Copy], directions: Array) -> bool:
    """Whether a bar with its mounts is its own mirror image, and so are the links of each of its `copies`.

    `directions` (2, 3) are those of travel, right and left.
    """
    mesh = copies[0].mesh
    size = float(np.abs(mesh.node_points_mm).max())

    def alike(values: Array, image: Array, scale: float) -> bool:
        return values.shape == image.shape and bool(np.all(np.abs(values - image) <= WITHIN * scale))

    def across(values: Array) -> bool:
        """Of places (..., 3), along the bar or right and left."""
        return alike(values, values[::-1] * _POLAR, size)

    def stiff(values: Array) -> bool:
        return alike(values, values[::-1] * _TENSOR, float(np.abs(values).max(initial=0.0)))

    springs = mesh.springs
    if not (
        across(mesh.node_points_mm)
        and across(springs.point_mm)
        and across(directions * size)
        and alike(mesh.weight_mm, mesh.weight_mm[::-1, ::-1], size)
        and stiff(springs.translation)
        and stiff(springs.rotation)
    ):
        return False
    for section in (mesh.force_stiffness, mesh.moment_stiffness):
        inside = mesh.frames @ section @ np.swapaxes(mesh.frames, -1, -2)  # drawing axes
        if not stiff(inside.reshape(-1, 3, 3)):
            return False
    last = mesh.n_nodes - 1
    return all(
        mesh.hole_nodes[0][copy.holes[0]] + mesh.hole_nodes[1][copy.holes[1]] == last
        and across(copy.offset_mm)
        and across(copy.pickup_mm)
        and alike(copy.length_mm, copy.length_mm[::-1], size)
        and bool(copy.flexibility_mm_per_N[0] == copy.flexibility_mm_per_N[1])
        for copy in copies
    )


def mirror_images(moves_mm: Array) -> dict[int, int]:
    """States of a symmetric bar that are mirror images of an earlier one, and of which.

    `moves_mm` (j, k, 2) are the travels, right and left, of every hole setting; rest is no image.
    """
    found: dict[int, int] = {}
    for k in range(2, moves_mm.shape[1]):
        image = moves_mm[:, k, ::-1]
        of = next((i for i in range(1, k) if i not in found and np.array_equal(moves_mm[:, i], image)), None)
        if of is not None:
            found[k] = of
    return found


def mirrored(fields: dict[str, Array]) -> dict[str, Array]:
    """The fields (j, ...) of `state_fields.of_bar` of the mirror image."""
    return {
        "displacement": fields["displacement"][:, ::-1] * _POLAR,
        "turned": fields["turned"][:, ::-1] * _TENSOR,
        "nodal": fields["nodal"][:, ::-1, ::-1] * np.concatenate([_POLAR, _AXIAL]),
        "spring_force": fields["spring_force"][:, ::-1] * _POLAR,
        "spring_moment": fields["spring_moment"][:, ::-1] * _AXIAL,
        "link_force": fields["link_force"][:, ::-1],
        "link_direction": fields["link_direction"][:, ::-1] * _POLAR,
        "joint": fields["joint"][:, ::-1] * _POLAR,
        "energy": fields["energy"],
    }
