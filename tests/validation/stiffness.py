"""Stiffness of an elastic solid as batched B^T D B over a scalar basis of scikit-fem; its own forms take far longer."""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Array = NDArray[np.float64]


def stiffness(basis: Any, *, E_MPa: float, nu: float, unknowns: NDArray[np.intp] | None = None) -> sp.csr_matrix:
    """Matrix over the `unknowns` (nodes, 3) of each node, 3 i to 3 i + 2 of node i where they are not given."""
    of_node = np.arange(3 * basis.N).reshape(-1, 3) if unknowns is None else unknowns
    slopes = np.stack([np.asarray(basis.basis[i][0].grad) for i in range(basis.Nbfun)])  # (shapes, 3, cells, points)
    lame, shear = E_MPa * nu / (1.0 + nu) / (1.0 - 2.0 * nu), E_MPa / 2.0 / (1.0 + nu)
    gram = np.einsum("iacq,jbcq,cq->ciajb", slopes, slopes, basis.dx, optimize=True)
    local = lame * gram + shear * gram.swapaxes(2, 4)
    local += shear * np.einsum("ciaja->cij", gram)[:, :, None, :, None] * np.eye(3)[:, None, :]
    columns = of_node[basis.element_dofs.T].reshape(len(local), -1)
    count = columns.shape[1]
    at = np.repeat(columns, count, axis=1).ravel(), np.tile(columns, (1, count)).ravel()
    return sp.coo_matrix((local.ravel(), at), shape=(3 * basis.N, 3 * basis.N)).tocsr()
