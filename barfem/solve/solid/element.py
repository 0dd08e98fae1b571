"""The 27-node hexahedron: tabulated shape functions and the isotropic stiffness of a batch of elements."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["gauss_line", "line_shapes", "plane_table", "solid_table", "stiffness"]

Array = NDArray[np.float64]


def line_shapes(x: Array) -> tuple[Array, Array]:
    """Quadratic Lagrange polynomials on (-1, 0, 1) and their derivatives at x (n,): two (n, 3)."""
    x = np.atleast_1d(np.asarray(x, float))
    values = np.stack([0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)], axis=-1)
    slopes = np.stack([x - 0.5, -2.0 * x, x + 0.5], axis=-1)
    return values, slopes


@lru_cache(maxsize=8)
def gauss_line(n: int) -> tuple[Array, Array]:
    """Gauss points and weights on [-1, 1]."""
    points, weights = np.polynomial.legendre.leggauss(n)
    return points, weights


@lru_cache(maxsize=4)
def plane_table(n: int = 3) -> tuple[Array, Array, Array]:
    """Biquadratic cell at n x n Gauss points: values (g, 9), slopes (g, 9, 2), weights (g,). Tensor order i + 3 j."""
    x, w = gauss_line(n)
    value, slope = line_shapes(x)
    values = np.einsum("qj,pi->qpji", value, value).reshape(n * n, 9)
    first = np.einsum("qj,pi->qpji", value, slope).reshape(n * n, 9)
    second = np.einsum("qj,pi->qpji", slope, value).reshape(n * n, 9)
    return values, np.stack([first, second], axis=-1), np.outer(w, w).ravel()


@lru_cache(maxsize=4)
def solid_table(n: int = 3) -> tuple[Array, Array]:
    """Hexahedron at n^3 Gauss points: slopes (g, 27, 3) in reference axes, weights (g,). Tensor order i + 3 j + 9 k."""
    x, w = gauss_line(n)
    v, d = line_shapes(x)
    parts = [(v, v, d), (v, d, v), (d, v, v)]
    slopes = [np.einsum("rk,qj,pi->rqpkji", k, j, i).reshape(n**3, 27) for k, j, i in parts]
    return np.stack(slopes, axis=-1), np.einsum("r,q,p->rqp", w, w, w).ravel()


def stiffness(points: Array, *, E_MPa: float, nu: float) -> Array:
    """Stiffness matrices (n, 81, 81) of hexahedra with node positions (n, 27, 3), N/mm; unknowns node by node, x, y, z.

    With g_i the gradient of shape function i, B^T D B of an isotropic solid is
    lambda g_i g_j^T + mu g_j g_i^T + mu (g_i . g_j) I: one product of the gradients serves all three terms.

    Raises
    ------
    ValueError
        An element is turned inside out.
    """
    slopes, weights = solid_table()
    jacobian = np.einsum("gic,nix->ngxc", slopes, points)
    det = np.linalg.det(jacobian)
    if not np.all(det > 0.0):
        raise ValueError("a hexahedron of the solid mesh is turned inside out")
    gradient = np.einsum("gic,ngcx->ngix", slopes, np.linalg.inv(jacobian), optimize=True)
    scaled = (gradient * np.sqrt(weights * det)[..., None, None]).reshape(len(points), len(weights), 81)
    product = np.matmul(scaled.transpose(0, 2, 1), scaled).reshape(-1, 27, 3, 27, 3)
    lam = E_MPa * nu / ((1.0 + nu) * (1.0 - 2.0 * nu))
    mu = E_MPa / (2.0 * (1.0 + nu))
    out = lam * product + mu * product.transpose(0, 1, 4, 3, 2)
    trace = mu * np.einsum("niaja->nij", product)
    for axis in range(3):
        out[:, :, axis, :, axis] += trace
    return out.reshape(-1, 81, 81)
