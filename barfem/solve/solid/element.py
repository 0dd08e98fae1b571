"""Quadratic hexahedra and other cells swept along the bar: shape functions and the isotropic stiffness of a batch."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["Table", "gauss_line", "line_shapes", "plane_table", "solid_table", "stiffness", "swept_table"]

Array = NDArray[np.float64]

Table = tuple[Array, Array, Array]
"""Shape functions of a cell of the section at its integration points: values (g, c), slopes (g, c, 2), weights (g,)."""


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


def swept_table(section: Table, n: int = 3) -> tuple[Array, Array]:
    """A cell of the section swept over three planes, at its points times n Gauss points along the bar.

    Slopes (n g, 3 c, 3) in reference axes, the section's two first, and weights (n g,); nodes plane by plane.
    """
    values, slopes, weights = section
    x, w = gauss_line(n)
    v, d = line_shapes(x)
    parts = [(v, slopes[..., 0]), (v, slopes[..., 1]), (d, values)]
    swept = [np.einsum("rk,gi->rgki", k, i).reshape(n * len(weights), -1) for k, i in parts]
    return np.stack(swept, axis=-1), np.outer(w, weights).ravel()


@lru_cache(maxsize=4)
def solid_table(n: int = 3) -> tuple[Array, Array]:
    """Hexahedron at n^3 Gauss points: slopes (g, 27, 3) in reference axes, weights (g,). Tensor order i + 3 j + 9 k."""
    return swept_table(plane_table(n), n)


def stiffness(points: Array, *, E_MPa: float, nu: float, table: tuple[Array, Array] | None = None) -> Array:
    """Stiffness matrices (n, 3 c, 3 c) of cells with node positions (n, c, 3), N/mm; unknowns node by node, x, y, z.

    `table`: of `swept_table`; that of the hexahedron with its 27 nodes by default.

    With g_i the gradient of shape function i, B^T D B of an isotropic solid is
    lambda g_i g_j^T + mu g_j g_i^T + mu (g_i . g_j) I: one product of the gradients serves all three terms.

    Raises
    ------
    ValueError
        An element is turned inside out.
    """
    slopes, weights = solid_table() if table is None else table
    c = points.shape[1]
    jacobian = np.einsum("gic,nix->ngxc", slopes, points, optimize=True)
    det = np.linalg.det(jacobian)
    if not np.all(det > 0.0):
        raise ValueError("a hexahedron of the solid mesh is turned inside out")
    gradient = np.einsum("gic,ngcx->ngix", slopes, np.linalg.inv(jacobian), optimize=True)
    scaled = (gradient * np.sqrt(weights * det)[..., None, None]).reshape(len(points), len(weights), 3 * c)
    product = np.matmul(scaled.transpose(0, 2, 1), scaled).reshape(-1, c, 3, c, 3)
    lam = E_MPa * nu / ((1.0 + nu) * (1.0 - 2.0 * nu))
    mu = E_MPa / (2.0 * (1.0 + nu))
    out = lam * product + mu * product.transpose(0, 1, 4, 3, 2)
    trace = mu * np.einsum("niaja->nij", product)
    for axis in range(3):
        out[:, :, axis, :, axis] += trace
    return out.reshape(-1, 3 * c, 3 * c)
