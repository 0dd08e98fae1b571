"""A free bar's linear equations, solved slice by slice along it: scipy's dense factors of scikit-fem's own matrix."""

from __future__ import annotations

import numpy as np
import scipy.linalg
import scipy.sparse

__all__ = ["solve_by_slices"]

Array = np.ndarray


def solve_by_slices(matrix, loads: Array, station: Array, edges: Array, position: Array, component: Array) -> Array:  # type: ignore[no-untyped-def]
    """Block Cholesky, slice by slice along the bar; a section in the middle is held at three of its nodes."""
    middle = edges[len(edges) // 2]
    on = np.isclose(station, middle)
    held = []
    at = position[:, on].T
    a = np.argmax(np.linalg.norm(at - at.mean(axis=0), axis=1))
    b = np.argmax(np.linalg.norm(at - at[a], axis=1))
    c = np.argmax(np.linalg.norm(np.cross(at - at[a], at[b] - at[a]), axis=1))
    for node, axes in ((a, 3), (b, 3), (c, 3)):
        held += [
            k for k in np.flatnonzero(on) if np.allclose(position[:, k], at[node], atol=1e-7) and component[k] < axes
        ]
    # Six of the nine, so that nothing is held twice over: the rows of the rigid motions decide.
    rigid = np.array([np.r_[np.eye(3)[component[k]], np.cross(position[:, k], np.eye(3)[component[k]])] for k in held])
    _, _, pivots = scipy.linalg.qr(rigid.T, pivoting=True)
    stiff = 1.0
    matrix = matrix + scipy.sparse.csr_matrix((np.full(6, stiff), ([held[p] for p in pivots[:6]],) * 2), matrix.shape)
    # The unknowns within each slice couple to its two ends alone and go first; the ends are left in a chain.
    number = np.searchsorted(edges, station - 1e-9)
    end = np.isclose(edges[np.minimum(number, len(edges) - 1)], station)
    ends = [np.flatnonzero(end & (number == k)) for k in range(len(edges))]
    within = [np.flatnonzero(~end & (number == k)) for k in range(1, len(edges))]
    diagonal = [matrix[own][:, own].toarray() for own in ends]
    links, right, inner = [], [loads[own] for own in ends], []
    for k, own in enumerate(within):
        upper = scipy.linalg.cholesky(matrix[own][:, own].toarray())
        low, high = (
            scipy.linalg.solve_triangular(upper, matrix[own][:, beside].toarray(), trans=1)
            for beside in ends[k : k + 2]
        )
        diagonal[k] -= low.T @ low
        diagonal[k + 1] -= high.T @ high
        links.append(matrix[ends[k]][:, ends[k + 1]].toarray() - low.T @ high)
        inner.append((upper, low, high))
    factors, halves = [], []
    for k, block in enumerate(diagonal):
        if k:
            half = scipy.linalg.solve_triangular(factors[-1], links[k - 1], trans=1)
            block = block - half.T @ half
            right[k] = right[k] - half.T @ right[k - 1]
            halves.append(half)
        factors.append(scipy.linalg.cholesky(block))
        right[k] = scipy.linalg.solve_triangular(factors[-1], right[k], trans=1)
    out = np.zeros(loads.shape)
    for k in range(len(ends) - 1, -1, -1):
        rest = right[k] if k + 1 == len(ends) else right[k] - halves[k] @ out[ends[k + 1]]
        out[ends[k]] = scipy.linalg.solve_triangular(factors[k], rest)
    for own, (upper, low, high), one, two in zip(within, inner, ends, ends[1:], strict=False):
        out[own] = scipy.linalg.solve_triangular(upper, -low @ out[one] - high @ out[two])
    return out
