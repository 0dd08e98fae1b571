"""Shear on the faces of a rectangular bar in torsion and under transverse force: Saint-Venant's series, exact.

A rectangle `face_mm` long along the face looked at and `depth_mm` across it. Corners carry no shear.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.sections import rectangle_torsion_constant

__all__ = ["rectangle_face_flexure", "rectangle_face_torsion"]

Array = NDArray[np.float64]

_ODD = np.arange(1.0, 801.0, 2.0)  # truncated below 1e-3 of the mean shear at the very corners, 1e-6 elsewhere


def _cosh_ratio(x: Array, end: Array) -> Array:
    """cosh(x) / cosh(end), |x| <= end, without overflow."""
    x = np.abs(x)
    return np.asarray(np.exp(x - end) * (1.0 + np.exp(-2.0 * x)) / (1.0 + np.exp(-2.0 * end)))


def rectangle_face_torsion(*, depth_mm: float, face_mm: float, position_mm: Array) -> Array:
    """Shear along a face under unit torque, MPa per N·mm, at positions (p,) from the face's middle.

    tau = (T / J) depth [1 - (8 / pi^2) sum over odd n of cosh(n pi y / depth) / (n^2 cosh(n pi face / (2 depth)))]
    (Timoshenko & Goodier, Theory of Elasticity, torsion of a rectangular bar); runs with the torque.
    """
    torsion_constant = rectangle_torsion_constant(width_mm=face_mm, thickness_mm=depth_mm)
    k = _ODD * np.pi / depth_mm
    terms = _cosh_ratio(k * position_mm[:, None], k * face_mm / 2.0) / _ODD**2
    shear = depth_mm / torsion_constant * (1.0 - 8.0 / np.pi**2 * terms.sum(axis=1))
    # At the very corner the sum is pi^2 / 8, which a truncated one misses.
    return np.where(np.abs(position_mm) >= face_mm / 2.0 * (1.0 - 1e-12), 0.0, shear)


def rectangle_face_flexure(*, depth_mm: float, face_mm: float, position_mm: Array, nu: float) -> tuple[Array, Array]:
    """Shear along a face under a unit transverse force along it, and under one across it; MPa per N, (p,) each.

    The first is the parabola 1.5 V / A (1 - (2 y / face)^2) corrected for Poisson's effect (it is larger on the sides
    of a bar that is wide across the force); the same on both faces. The second is Poisson's effect alone, antisymmetric
    in y and opposite on the two faces: given for the face on the side that the force points to.
    Stress function of the text below, single series (Timoshenko & Goodier, bending of a rectangular bar; their table:
    1.126 of the parabola at the middle of a square's sides for nu = 1/4).

    With the force along x in a rectangle |x| <= a, |y| <= b: lap(phi) = nu / (1 + nu) V y / I, phi = 0 on the boundary,
    tau_x = V (a^2 - x^2) / (2 I) + d(phi)/dy, tau_y = -d(phi)/dx. With k = m pi / (2 a), m odd,
    phi = -sum kappa c_m / k^2 [y - b sinh(k y) / sinh(k b)] cos(k x), c_m = 4 sin(m pi / 2) / (m pi).
    """
    sign = np.where(_ODD % 4.0 == 1.0, 1.0, -1.0)
    c = 4.0 * sign / (_ODD * np.pi)

    # Force along the face: a is half the face, the face is at y = b, half the depth.
    a, b = face_mm / 2.0, depth_mm / 2.0
    second_moment = 2.0 * b * (2.0 * a) ** 3 / 12.0
    kappa = nu / (1.0 + nu) / second_moment
    k = _ODD * np.pi / (2.0 * a)
    coth_excess = k * b / np.tanh(k * b) - 1.0
    along = (a**2 - position_mm**2) / (2.0 * second_moment)
    along = along + np.cos(k * position_mm[:, None]) @ (kappa * c / k**2 * coth_excess)

    # Force across the face: a is half the depth, the face is at x = a and runs along y.
    a, b = depth_mm / 2.0, face_mm / 2.0
    second_moment = 2.0 * b * (2.0 * a) ** 3 / 12.0
    kappa = nu / (1.0 + nu) / second_moment
    k = _ODD * np.pi / (2.0 * a)
    y = position_mm[:, None]
    sinh_ratio = (
        np.sign(y) * np.exp(k * (np.abs(y) - b)) * (-np.expm1(-2.0 * k * np.abs(y))) / (-np.expm1(-2.0 * k * b))
    )
    across = -(y - b * sinh_ratio) @ (kappa * c * sign / k)
    return np.asarray(along), np.asarray(across)
