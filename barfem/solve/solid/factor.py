"""Factorisation of a swept solid: slice by slice, in dense blocks.

Inside a slice the middle plane couples to nothing else and is eliminated first, once for each kind of slice. What is
left is block tridiagonal, one block a slice end, and is factored by block Cholesky: time and memory grow with length.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas, lapack

from barfem.model.frozen import frozen

__all__ = ["BlockFactor", "Condensed", "condense"]

Array = NDArray[np.float64]


@frozen(eq=False)
class Condensed:
    """One kind of slice with its middle plane eliminated, m unknowns a plane.

    `first`, `cross`, `last` (m, m): blocks of the condensed matrix, planes (0, 0), (0, 1), (1, 1).
    `middle` (m, m): upper Cholesky factor U of the middle plane; `half` (m, 2 m): U^-T times its coupling to the ends.
    """

    first: Array
    cross: Array
    last: Array
    middle: Array
    half: Array


def condense(slice_matrix: Array) -> Condensed:
    """Eliminate the middle of three planes from a slice matrix (3 m, 3 m), planes in order along the bar."""
    m = len(slice_matrix) // 3
    # Rows of a symmetric matrix, turned, are its columns in the order that LAPACK wants: no element is picked alone.
    before, middle, after = (slice_matrix[k * m : (k + 1) * m] for k in range(3))
    upper = _cholesky(middle[:, m : 2 * m].T)
    coupling = np.concatenate([before[:, m : 2 * m], after[:, m : 2 * m]]).T
    half = blas.dtrsm(1.0, upper, coupling, trans_a=1, overwrite_b=1)
    ends = np.concatenate([np.concatenate([rows[:, :m], rows[:, 2 * m :]], axis=1) for rows in (before, after)])
    reduced = _minus_square(ends.T, half, overwrite=True)
    # The product fills the upper triangle alone.
    return Condensed(
        first=np.asfortranarray(reduced[:m, :m]),
        cross=np.asfortranarray(reduced[:m, m:]),
        last=np.asfortranarray(reduced[m:, m:]),
        middle=upper,
        half=np.asarray(half),
    )


def _cholesky(matrix: Array) -> Array:
    """Upper Cholesky factor from the upper triangle, by SciPy's LAPACK.

    SciPy's own routines are called throughout: NumPy brings a second BLAS, and two pools of threads that take turns
    on few cores wait for each other, up to ten times slower.
    """
    upper, info = lapack.dpotrf(matrix, lower=0, clean=1)
    if info:
        raise np.linalg.LinAlgError("the solid is not held: a rigid motion is left free")
    return np.asarray(upper)


def _minus_square(matrix: Array, half: Array, *, overwrite: bool = False) -> Array:
    """matrix - half^T half, upper triangle; in the matrix's own place with `overwrite`."""
    return np.asarray(blas.dsyrk(-1.0, half, beta=1.0, c=matrix, trans=1, lower=0, overwrite_c=overwrite))


class BlockFactor:
    """Block Cholesky factor of slices in a row; `kinds[k]` is the kind of slice k, an index into `slices`.

    Raises
    ------
    numpy.linalg.LinAlgError
        The solid is not held: a rigid motion is left free.
    """

    def __init__(self, slices: Sequence[Condensed], kinds: Sequence[int]) -> None:
        self._slices, self._kinds = tuple(slices), tuple(kinds)
        self._pivots: list[Array] = []
        diagonal = self._slices[kinds[0]].first
        for k, kind in enumerate(self._kinds):
            here = self._slices[kind]
            pivot = _cholesky(diagonal)
            self._pivots.append(pivot)
            diagonal = _minus_square(here.last, blas.dtrsm(1.0, pivot, here.cross, trans_a=1))
            if k + 1 < len(self._kinds):
                diagonal += self._slices[self._kinds[k + 1]].first
        self._pivots.append(_cholesky(diagonal))

    @property
    def nbytes(self) -> int:
        """Memory of the factor, bytes."""
        own = sum(pivot.nbytes for pivot in self._pivots)
        return own + sum(s.cross.nbytes * 3 + s.middle.nbytes + s.half.nbytes for s in self._slices)

    def solve(self, loads: Array) -> Array:
        """Displacements (n_planes, m, n_cases) under loads of the same shape, all cases at once."""
        n = len(self._kinds)
        right = [np.asfortranarray(block) for block in loads[0::2]]
        particular: list[Array | None] = []
        for k, kind in enumerate(self._kinds):
            here, middle = self._slices[kind], np.asfortranarray(loads[2 * k + 1])
            if not middle.any():
                particular.append(None)
                continue
            m = len(middle)
            eased = blas.dtrsm(1.0, here.middle, middle, trans_a=1)
            right[k] = right[k] - blas.dgemm(1.0, here.half[:, :m], eased, trans_a=1)
            right[k + 1] = right[k + 1] - blas.dgemm(1.0, here.half[:, m:], eased, trans_a=1)
            particular.append(eased)
        for k, kind in enumerate(self._kinds):
            reduced = _cho_solve(self._pivots[k], right[k])
            right[k + 1] = blas.dgemm(-1.0, self._slices[kind].cross, reduced, beta=1.0, c=right[k + 1], trans_a=1)
        after = _cho_solve(self._pivots[n], right[n])
        out = np.empty_like(loads)
        out[2 * n] = after
        for k in range(n - 1, -1, -1):
            here = self._slices[self._kinds[k]]
            rest = blas.dgemm(-1.0, here.cross, after, beta=1.0, c=right[k])
            before = _cho_solve(self._pivots[k], rest)
            own = particular[k]
            inner = blas.dgemm(-1.0, here.half, np.asfortranarray(np.concatenate([before, after])))
            out[2 * k] = before
            out[2 * k + 1] = blas.dtrsm(1.0, here.middle, inner if own is None else inner + own)
            after = before
        return out


def _cho_solve(upper: Array, right: Array) -> Array:
    solution, _ = lapack.dpotrs(upper, right, lower=0)
    return np.asarray(solution)
