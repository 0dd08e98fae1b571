"""Cholesky factors of a sparse stiffness by nested dissection, in dense blocks: for the tests' own solids.

The nodes are halved by a plane across their longest side, again and again; those that part two halves are eliminated
after both (George, Nested Dissection of a Regular Finite Element Mesh, SIAM J. Numer. Anal. 10, 1973). Each part is one
dense block, with what it leaves on the nodes beyond it (Duff & Reid, The Multifrontal Solution of Indefinite Sparse
Symmetric Linear Equations, ACM Trans. Math. Softw. 9, 1983). Several times as fast here as SciPy's sparse LU, which
knows of no symmetry; a mesh that is held in several ways, as by planes of symmetry, is parted once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas, lapack

__all__ = ["Dissection"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

LEAF = 60
"""Nodes that are not parted any further."""

HELD = 1e12
"""Stiffness of what is held, over the greatest of the matrix."""


@dataclass(frozen=True, eq=False)
class _Part:
    """Unknowns `start` to `stop` in the order of elimination, and those after them that they touch.

    `entries` of the matrix go to `places` of the block; what is left goes to places `onto` (of unknowns) of part
    `parent`'s block (-1: nothing is).
    """

    start: int
    stop: int
    border: Index
    entries: slice
    places: Index
    parent: int
    onto: Index

    @property
    def size(self) -> int:
        return self.stop - self.start


class Dissection:
    """A sparse symmetric matrix over nodes at `points` (d, n), node i having the unknowns `components` i and following.

    Factors are made of the matrix with some unknowns held, see `solve`.
    """

    def __init__(self, points: Array, matrix: Any, *, components: int = 3) -> None:
        import scipy.sparse as sp

        entries = matrix.tocoo()
        n = points.shape[1]
        at = entries.row // components, entries.col // components
        nodes, parents = _parted(points, sp.csr_matrix((np.ones(len(at[0]), np.int32), at), shape=(n, n)))
        self._order = np.concatenate([(components * part[:, None] + np.arange(components)).ravel() for part in nodes])
        place = np.empty(len(self._order), dtype=np.intp)
        place[self._order] = np.arange(len(place))
        rows, columns = place[entries.row], place[entries.col]
        upper = columns >= rows
        ordered = sp.csr_matrix((entries.data[upper], (rows[upper], columns[upper])), shape=matrix.shape)
        self._data, self._stiff = ordered.data, HELD * float(np.abs(ordered.data).max())
        starts = components * np.cumsum([0, *(len(part) for part in nodes)])
        borders: list[list[Index]] = [[] for _ in nodes]
        local = np.zeros(len(place), dtype=np.intp)
        found: list[_Part] = []
        for k, (start, stop) in enumerate(zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True)):
            span = slice(int(ordered.indptr[start]), int(ordered.indptr[stop]))
            to = ordered.indices[span]
            border = np.unique(np.concatenate([to, *borders[k]]))
            border = border[border >= stop]
            local[start:stop] = np.arange(stop - start)
            local[border] = stop - start + np.arange(len(border))
            whole = stop - start + len(border)
            row = np.repeat(np.arange(stop - start), np.diff(ordered.indptr[start : stop + 1]))
            for j in range(k):
                if parents[j] == k:
                    found[j] = _Part(**{**vars(found[j]), "onto": local[found[j].border]})
            found.append(_Part(start, stop, border, span, row + whole * local[to], parents[k], np.empty(0, np.intp)))
            if parents[k] >= 0:
                borders[parents[k]].append(border)
        self._parts = found

    def solve(self, held: NDArray[np.bool_], loads: Array) -> Array:
        """Motion (unknowns, cases) under `loads` of that shape, nothing where `held` (unknowns,).

        Raises
        ------
        numpy.linalg.LinAlgError
            The solid is not held: a rigid motion is left free.
        """
        return self._back(self._factored(held[self._order]), np.where(held[:, None], 0.0, loads)[self._order])

    def _factored(self, held: NDArray[np.bool_]) -> list[tuple[Array, Array]]:
        """Of each part the Cholesky factor and, by it, its coupling to what is beyond."""
        rests: list[Array | None] = []
        waiting: list[list[int]] = [[] for _ in self._parts]
        out = []
        for k, part in enumerate(self._parts):
            size, whole = part.size, part.size + len(part.border)
            flat = np.zeros(whole * whole)
            flat[part.places] = self._data[part.entries]
            block = flat.reshape(whole, whole)  # its transpose has the upper triangle
            for child in waiting[k]:
                onto, rest = self._parts[child].onto, rests[child]
                block[np.ix_(onto, onto)] += rest.T if rest is not None else 0.0
                rests[child] = None
            fixed = np.flatnonzero(held[part.start : part.stop])
            block[fixed, fixed] += self._stiff
            pivot, info = lapack.dpotrf(block[:size, :size].T, lower=0, clean=0)
            if info:
                raise np.linalg.LinAlgError("the solid is not held: a rigid motion is left free")
            beyond, rest = np.zeros((size, 0)), None
            if whole > size:
                beyond = blas.dtrsm(1.0, pivot, block[size:, :size].T, trans_a=1)
                rest = blas.dsyrk(-1.0, beyond, beta=1.0, c=block[size:, size:].T, trans=1, lower=0)
                waiting[part.parent].append(k)
            rests.append(rest)
            out.append((pivot, beyond))
        return out

    def _back(self, factor: list[tuple[Array, Array]], right: Array) -> Array:
        """Forward and backward substitution, in the order of elimination; the motion in the matrix's own."""
        for part, (pivot, beyond) in zip(self._parts, factor, strict=True):
            eased = blas.dtrsm(1.0, pivot, np.asfortranarray(right[part.start : part.stop]), trans_a=1)
            right[part.start : part.stop] = eased
            if len(part.border):
                right[part.border] -= blas.dgemm(1.0, beyond, eased, trans_a=1)
        for part, (pivot, beyond) in zip(reversed(self._parts), reversed(factor), strict=True):
            here = right[part.start : part.stop]
            if len(part.border):
                here = here - blas.dgemm(1.0, beyond, np.asfortranarray(right[part.border]))
            right[part.start : part.stop] = blas.dtrsm(1.0, pivot, np.asfortranarray(here))
        out = np.empty_like(right)
        out[self._order] = right
        return out


def _parted(points: Array, beside: Any) -> tuple[list[Index], list[int]]:
    """Nodes of each part, in the order of elimination, and the part that takes what each leaves (-1: none)."""
    nodes_of: list[Index] = []
    parents: list[int] = []
    mark = np.zeros(points.shape[1], dtype=np.int32)

    def touching(some: Index, others: Index) -> NDArray[np.bool_]:
        mark[others] = 1
        found = np.asarray(beside[some] @ mark) > 0
        mark[others] = 0
        return found

    def cut(nodes: Index) -> tuple[Index, Index, Index] | None:
        """What parts two halves, and the halves: the fewest nodes among some cuts near the middle."""
        at = points[:, nodes]
        found: list[tuple[float, tuple[Index, Index, Index]]] = []
        for axis in np.argsort(-np.ptp(at, axis=1))[:2]:
            for share in (0.42, 0.5, 0.58):
                low = at[axis] <= np.quantile(at[axis], share) + 1e-9
                first, second = nodes[low], nodes[~low]
                for one, other in ((first, second), (second, first)):
                    between = touching(one, other)
                    halves = one[between], one[~between], other
                    least = min(len(halves[1]), len(halves[2]))
                    if least:
                        found.append((len(halves[0]) / least, halves))
        return min(found, key=lambda each: each[0])[1] if found else None

    def part(nodes: Index) -> int:
        halves = cut(nodes) if len(nodes) > LEAF else None
        before = [] if halves is None else [part(half) for half in halves[1:]]
        nodes_of.append(nodes if halves is None else halves[0])
        parents.append(-1)
        for each in before:
            parents[each] = len(nodes_of) - 1
        return len(nodes_of) - 1

    part(np.arange(points.shape[1]))
    return nodes_of, parents
