"""The mean rigid motion of a section, and the loads that do work on it.

The mean motion of a plane is the rigid motion nearest to its displacement over the area (least squares): mean
translation, and mean rotation = first moment of the displacement over the second moment of area. These are the
translation and rotation that Timoshenko's beam means (Cowper, J. Appl. Mech. 33 (1966) 335). Its dual spreads a force
and a moment over the section as a body force that is itself a rigid motion: uniform, plus linear across. Springs and
forces that act so leave the surface free and are the beam's own idealisation.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid.element import gauss_line, line_shapes
from barfem.solve.solid.mesh import SweptMesh

__all__ = ["SectionMotion", "rigid_transfer"]

Array = NDArray[np.float64]


def rigid_transfer(arm: Array) -> Array:
    """(6, 6) matrix that carries a motion (translation, rotation) to a point `arm` away: u + rotation x arm."""
    x, y, z = arm
    out = np.eye(6)
    out[:3, 3:] = [[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]]
    return out


class SectionMotion:
    """Mean motions of a mesh's sections, as matrices on the unknowns in each plane's own axes.

    Attributes
    ----------
    of_planes : (n_planes, 6, 3 n)
        Mean motion (translation t, first, second axis; rotation about them) about the centreline's point.
    """

    def __init__(self, mesh: SweptMesh) -> None:
        self.mesh = mesh
        planes, n, _ = mesh.across.shape
        w, wx, wy = np.moveaxis(mesh.section_moments(), -1, 0)
        dual = np.zeros((planes, 6, n, 3))
        dual[:, 0, :, 0] = dual[:, 1, :, 1] = dual[:, 2, :, 2] = w
        dual[:, 3, :, 1], dual[:, 3, :, 2] = -wy, wx
        dual[:, 4, :, 0], dual[:, 5, :, 0] = wy, -wx
        motion = np.zeros((planes, n, 3, 6))
        x, y = mesh.across[..., 0], mesh.across[..., 1]
        for axis in range(3):
            motion[:, :, axis, axis] = 1.0
        motion[:, :, 1, 3], motion[:, :, 2, 3] = -y, x
        motion[:, :, 0, 4], motion[:, :, 0, 5] = y, -x
        gram = dual.reshape(planes, 6, 3 * n) @ motion.reshape(planes, 3 * n, 6)
        self.of_planes = np.linalg.solve(gram, dual.reshape(planes, 6, 3 * n))

    def in_drawing_axes(self, plane: int) -> Array:
        """Mean motion (6, 3 n) of one plane, in drawing axes."""
        turn = self.mesh.frames[plane].T
        motion = self.of_planes[plane]
        return np.concatenate([turn @ motion[:3], turn @ motion[3:]])

    def at(self, station: float) -> tuple[int, Array]:
        """Slice that holds a station, and the mean motion there (6, 3 * 3 n) from its three planes, drawing axes."""
        ends = self.mesh.stations[0::2]
        slice_ = int(np.clip(np.searchsorted(ends, station, side="right") - 1, 0, len(ends) - 2))
        low, high = ends[slice_], ends[slice_ + 1]
        shares, _ = line_shapes(np.array([(2.0 * station - low - high) / (high - low)]))
        return slice_, np.concatenate([shares[0, k] * self.in_drawing_axes(2 * slice_ + k) for k in range(3)], axis=1)

    def over(self, low: float, high: float) -> Iterator[tuple[float, float, int, Array]]:
        """Quadrature of a length of bar: (station, share of the length, slice, motion); without length, one point."""
        ends = self.mesh.stations[0::2]
        if high - low <= 1e-9 * ends[-1]:
            yield (station := 0.5 * (low + high), 1.0, *self.at(station))
            return
        inside = ends[(ends > low + 1e-9) & (ends < high - 1e-9)]
        edges = np.concatenate([[low], inside, [high]])
        points, weights = gauss_line(3)
        for a, b in pairwise(edges):
            for x, w in zip(points, weights, strict=True):
                station = 0.5 * (a + b) + 0.5 * (b - a) * x
                yield (station, 0.5 * (b - a) * w / (high - low), *self.at(station))
