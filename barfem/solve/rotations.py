"""Finite rotations, batched: exponential map, its tangent, the logarithm.

Arrays carry the vector or matrix in their last one or two axes; everything before is batch. Spatial (left)
convention throughout: a rotation R becomes exp(phi) R. Source: Simo and Vu-Quoc, Comput. Methods Appl. Mech.
Eng. 58 (1986) 79; Argyris, ibid. 32 (1982) 85.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["exponential", "exponential_and_tangent", "inverse_tangent_terms", "logarithm", "skew"]

Array = NDArray[np.float64]
_SMALL = 1e-4  # below it series to fourth order are exact to rounding
_SKEW = np.zeros((3, 9))
_SKEW[[2, 0, 1], [3, 7, 2]], _SKEW[[2, 0, 1], [1, 5, 6]] = 1.0, -1.0


def skew(v: Array) -> Array:
    """Matrix (..., 3, 3) with skew(v) w = v x w, from vectors (..., 3)."""
    return (v @ _SKEW).reshape(*v.shape[:-1], 3, 3)


def _coefficients(phi: Array) -> tuple[Array, Array, Array]:
    """sin(x)/x, (1 - cos(x))/x^2, (x - sin(x))/x^3 at x = |phi|, shape (...)."""
    x2 = np.einsum("...i,...i->...", phi, phi)
    x = np.sqrt(x2)
    small = x < _SMALL
    safe = np.where(small, 1.0, x)
    a = np.where(small, 1.0 - x2 / 6.0, np.sin(safe) / safe)
    # 2 sin^2(x/2) rather than 1 - cos(x): no cancellation at small angles.
    b = np.where(small, 0.5 - x2 / 24.0, 2.0 * np.sin(0.5 * safe) ** 2 / safe**2)
    c = np.where(small, 1.0 / 6.0 - x2 / 120.0, (safe - np.sin(safe)) / safe**3)
    return a, b, c


def exponential(phi: Array) -> Array:
    """Rotation matrices (..., 3, 3) of rotation vectors (..., 3), rad (Rodrigues)."""
    a, b, _ = (k[..., None, None] for k in _coefficients(phi))
    s = skew(phi)
    return np.eye(3) + a * s + b * (s @ s)


def exponential_and_tangent(phi: Array) -> tuple[Array, Array]:
    """exp(phi), and T(phi) with  d exp(phi) exp(phi)^T = skew(T(phi) d phi); both (..., 3, 3)."""
    a, b, c = (k[..., None, None] for k in _coefficients(phi))
    s = skew(phi)
    s2 = s @ s
    eye = np.eye(3)
    return eye + a * s + b * s2, eye + b * s + c * s2


def logarithm(rotation: Array) -> Array:
    """Rotation vectors (..., 3) of rotation matrices (..., 3, 3), for angles below pi (to about 1e-7 of it)."""
    axis = 0.5 * np.stack(
        [
            rotation[..., 2, 1] - rotation[..., 1, 2],
            rotation[..., 0, 2] - rotation[..., 2, 0],
            rotation[..., 1, 0] - rotation[..., 0, 1],
        ],
        axis=-1,
    )
    sine = np.sqrt(np.einsum("...i,...i->...", axis, axis))
    cosine = 0.5 * (np.trace(rotation, axis1=-2, axis2=-1) - 1.0)
    angle = np.arctan2(sine, cosine)
    small = sine < _SMALL
    factor = np.where(small & (cosine > 0), 1.0 + sine**2 / 6.0, angle / np.where(small, 1.0, sine))
    return axis * factor[..., None]


def inverse_tangent_terms(theta: Array) -> tuple[Array, Array, Array]:
    """T(theta)^-1 = 1 - skew/2 + beta skew^2: the matrix (..., 3, 3), beta (...) and (d beta / d|theta|) / |theta|."""
    x2 = np.einsum("...i,...i->...", theta, theta)
    x = np.sqrt(x2)
    small = x < 1e-2  # beta' cancels earlier than the others
    safe = np.where(small, 1.0, x)
    half = 0.5 * safe
    cot = 1.0 / np.tan(half)
    beta = np.where(small, 1.0 / 12.0 + x2 / 720.0 + x2**2 / 30240.0, (1.0 - half * cot) / safe**2)
    slope = np.where(
        small,
        1.0 / 360.0 + x2 / 7560.0,
        (-0.5 * cot + 0.5 * half / np.sin(half) ** 2) / safe**3 - 2.0 * (1.0 - half * cot) / safe**4,
    )
    s = skew(theta)
    return np.eye(3) - 0.5 * s + beta[..., None, None] * (s @ s), beta, slope
