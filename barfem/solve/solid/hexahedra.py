"""Second-order hexahedra by scikit-fem's element: shape functions, quadrature, and the stiffness of a mesh of them."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["gauss", "reference_nodes", "shapes", "stiffness"]

Array = NDArray[np.float64]


@lru_cache(maxsize=1)
def reference_nodes() -> Array:
    """Reference coordinates (3, 27) of the nodes of scikit-fem's element."""
    from skfem import ElementHex2

    return np.asarray(ElementHex2.doflocs, float).T


def shapes(points: Array) -> tuple[Array, Array]:
    """Shape functions (27, points) of scikit-fem's element and their derivatives (27, 3, points) at points (3, ...)."""
    from skfem import ElementHex2

    element = ElementHex2()
    found = [element.lbasis(points, i) for i in range(27)]
    return np.stack([value for value, _ in found]), np.stack([np.asarray(slope) for _, slope in found])


def gauss(order: int, *, plane: bool = False) -> tuple[Array, Array]:
    """Gauss points (2 or 3, n) of the unit square or cube, and weights."""
    x, w = np.polynomial.legendre.leggauss(order)
    axes = 2 if plane else 3
    points = np.stack(np.meshgrid(*[0.5 * (x + 1.0)] * axes, indexing="ij")).reshape(axes, -1)
    weights = np.prod(np.stack(np.meshgrid(*[0.5 * w] * axes, indexing="ij")), axis=0).ravel()
    return points, weights


def stiffness(at: Array, dofs: NDArray[np.intp], *, nu: float) -> Any:
    """Sum of B^T D B (sparse) of nodes `at` (3, n) and the 27 of each cell, `dofs`; E is 1.

    The unknowns of node i are 3 i to 3 i + 2.
    """
    import scipy.sparse as sp

    corners, weights = gauss(3)
    _, slope = shapes(corners)  # (27, 3, points)
    cells = at[:, dofs]  # (3, 27, cells)
    jacobian = np.einsum("aic,ibq->cqab", cells, slope, optimize=True)
    volume = np.abs(np.linalg.det(jacobian)) * weights  # scikit-fem counts corners from (1, 1, 1)
    # By matrix products: x-derivatives of the 27 shapes, as 81 rows of each cell.
    inverse = np.linalg.inv(jacobian)
    grad = np.einsum("ibq,cqba->ciaq", slope, inverse, optimize=True).reshape(len(volume), 81, -1)
    gram = np.matmul(grad * volume[:, None], grad.transpose(0, 2, 1)).reshape(-1, 27, 3, 27, 3)
    lame, shear = nu / (1.0 + nu) / (1.0 - 2.0 * nu), 0.5 / (1.0 + nu)
    local = lame * gram + shear * gram.swapaxes(2, 4)
    trace = np.einsum("eicjc->eij", gram)
    local += shear * trace[:, :, None, :, None] * np.eye(3)[:, None, :]
    unknowns = (3 * dofs.T[:, :, None] + np.arange(3)).reshape(-1, 81)
    rows, columns = np.repeat(unknowns, 81, axis=1), np.tile(unknowns, (1, 81))
    return sp.coo_matrix((local.ravel(), (rows.ravel(), columns.ravel())), shape=(at.size, at.size)).tocsr()
