"""The linear system of a batch: one banded matrix, half bandwidth 18, factorised and solved at once by LAPACK."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgbsv

from barfem.solve.batch import Batch
from barfem.solve.kernel import Forces, Links

__all__ = ["HALF_BAND", "BandedSystem"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
HALF_BAND = 18
_ROWS = 3 * HALF_BAND + 1  # LAPACK's band storage with room for the fill of pivoting


class BandedSystem:
    """Where every element's and link's entries lie in LAPACK's band storage; made once per batch."""

    def __init__(self, batch: Batch) -> None:
        self.batch = batch
        self.size = batch.size
        self._element = self._place(batch.dofs[:, :, None], batch.dofs[:, None, :])
        # Elements that share a vertex write to the same place. A copy's first element shares nothing with the copy
        # before it.
        within = np.arange(len(batch.dofs)) - np.repeat(batch.element_start, batch.elements_of)
        self._halves = [np.flatnonzero(within % 2 == parity) for parity in (0, 1)]
        self._second = np.flatnonzero(within > 0)
        self._vertex = self._element[self._second][:, :6, :6]
        node = batch.node_dofs[batch.link_node]
        self._link = self._place(node[..., :, None], node[..., None, :])
        self._link_column = self._place(node, batch.link_dof[..., None])
        self._link_row = self._place(batch.link_dof[..., None], node)
        self._link_corner = self._place(batch.link_dof, batch.link_dof)
        self._unused = self._place(batch.unused_dof, batch.unused_dof)
        self._node = node
        self.upright: Flags = np.ones(batch.n_copies, dtype=bool)  # at the last factorisation

    @staticmethod
    def _place(row: NDArray[np.intp], column: NDArray[np.intp]) -> NDArray[np.intp]:
        return column * _ROWS + (2 * HALF_BAND + row - column)

    def residual(self, forces: Forces, links: Links) -> Array:
        """Out-of-balance force, moment and link length (size,)."""
        out = np.zeros(self.size)
        nodal = forces.nodal.reshape(-1, 18)
        for half in self._halves:
            out[self.batch.dofs[half]] += nodal[half]
        out[self._node] += links.nodal
        out[self.batch.link_dof] = links.misfit_mm
        return out

    def solve(self, tangents: Array, links: Links, right_side: Array) -> Array | None:
        """Solution (size,) or (size, k) of tangent x = right_side; None where the matrix is singular."""
        storage = np.zeros(self.size * _ROWS)
        storage[self._element] = tangents
        storage[self._vertex] = tangents[self._second - 1, 12:, 12:] + tangents[self._second, :6, :6]
        storage[self._link] += links.tangent
        storage[self._link_column] = links.gradient
        storage[self._link_row] = links.gradient
        storage[self._link_corner] = -self.batch.link_flexibility
        storage[self._unused] = 1.0
        band = storage.reshape(self.size, _ROWS).T
        factor, pivots, solution, info = dgbsv(HALF_BAND, HALF_BAND, band, right_side, overwrite_ab=1)
        if info != 0 or not np.all(np.isfinite(solution)):
            return None
        self.upright = self._upright(factor[2 * HALF_BAND], pivots)
        return np.asarray(solution)

    def _upright(self, diagonal: Array, pivots: NDArray[np.intp]) -> Flags:
        """Whether the determinant of each copy (C,) is positive.

        In a stable balance it is: the tangent has one negative eigenvalue for each of the two links (a Lagrange
        multiplier each) and no other. The sign turns where one motion loses its stiffness: a link or the bar buckles.
        """
        turns = (diagonal < 0.0) ^ (pivots != np.arange(self.size))
        return np.add.reduceat(turns.astype(np.intp), self.batch.dof_start) % 2 == 0
