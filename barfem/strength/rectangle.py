"""Shear on the faces of a rectangular bar in torsion and under transverse force: Saint-Venant's solution, exact.

A rectangle `face_mm` long along the face looked at and `depth_mm` across it. Corners carry no shear.

Series along the face hold tanh(m pi depth / (2 face)), which is 1 but for m small: the sums with 1 in its place are
known in closed form, and what is left falls off as exp(-m pi depth / face) wherever on the face one looks, corners
included. So a few terms give all digits.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.sections import rectangle_torsion_constant

__all__ = ["rectangle_face_flexure", "rectangle_face_torsion", "zeta"]

Array = NDArray[np.float64]

DIGITS = 37.0  # exp(-37) is below the last digit of a number near 1


def rectangle_face_torsion(*, depth_mm: float, face_mm: float, position_mm: Array) -> Array:
    """Shear along a face under unit torque, MPa per N·mm, at positions (p,) from the face's middle.

    tau = (T / J) (8 face / pi^2) sum over odd m of (-1)^((m-1)/2) tanh(m pi depth / (2 face)) cos(m pi y / face) / m^2
    (Timoshenko & Goodier, Theory of Elasticity, torsion of a rectangular bar); runs with the torque.
    """
    torsion_constant = rectangle_torsion_constant(width_mm=face_mm, thickness_mm=depth_mm)
    share = _share(position_mm, face_mm)
    m = _odd(depth_mm, face_mm)
    terms = _cosines(m, share) @ (_sign(m) / m**2 * (np.tanh(0.5 * m * np.pi * depth_mm / face_mm) - 1.0))
    return np.asarray(8.0 * face_mm / np.pi**2 / torsion_constant * (_alternating_cosines(share) + terms))


def rectangle_face_flexure(*, depth_mm: float, face_mm: float, position_mm: Array, nu: float) -> tuple[Array, Array]:
    """Shear along a face under a unit transverse force along it, and under one across it; MPa per N, (p,) each.

    The first is the parabola 1.5 V / A (1 - (2 y / face)^2) corrected for Poisson's effect (it is larger on the sides
    of a bar that is wide across the force); the same on both faces. The second is Poisson's effect alone, antisymmetric
    in y and opposite on the two faces: given for the face on the side that the force points to.
    Stress function of the text below (Timoshenko & Goodier, bending of a rectangular bar; their table: 1.126 of the
    parabola at the middle of a square's sides for nu = 1/4).

    With the force along x in a rectangle |x| <= a, |y| <= b: lap(phi) = nu / (1 + nu) V y / I, phi = 0 on the boundary,
    tau_x = V (a^2 - x^2) / (2 I) + d(phi)/dy, tau_y = -d(phi)/dx, kappa = nu / (1 + nu) V / I.
    Along the force (face y = b): k = m pi / (2 a), m odd, c_m = 4 (-1)^((m-1)/2) / (m pi),
    phi = -sum kappa c_m / k^2 [y - b sinh(k y) / sinh(k b)] cos(k x).
    Across it (face x = a): p = j pi / b, d_j = 2 b (-1)^(j+1) / (j pi),
    phi = -sum kappa d_j / p^2 [1 - cosh(p x) / cosh(p a)] sin(p y).
    """
    share = _share(position_mm, face_mm)

    # Force along the face: a is half the face, b half the depth. d(phi)/dy = sum kappa c / k^2 (k b coth(k b) - 1) ...
    a, b = face_mm / 2.0, depth_mm / 2.0
    second_moment = 2.0 * b * (2.0 * a) ** 3 / 12.0
    kappa = nu / (1.0 + nu) / second_moment
    m = _odd(depth_mm, face_mm)
    k = m * np.pi / face_mm
    near = _sign(m) / m**2 / np.tanh(k * b) - _sign(m) / m**2  # of coth what is above 1
    first = 8.0 * a * b / np.pi**2 * (_alternating_cosines(share) + _cosines(m, share) @ near)
    parabola = 0.5 * a**2 * (1.0 - share**2)  # sum of c / k^2 cos(k x)
    along = parabola / second_moment + kappa * (first - parabola)

    # Force across the face: a is half the depth, b half the face, which runs along y.
    a, b = depth_mm / 2.0, face_mm / 2.0
    second_moment = 2.0 * b * (2.0 * a) ** 3 / 12.0
    kappa = nu / (1.0 + nu) / second_moment
    j = np.arange(1.0, 2.0 + DIGITS * face_mm / (2.0 * np.pi * depth_mm))
    signs = np.where(j % 2.0 == 1.0, 1.0, -1.0)
    near = signs / j**2 * (np.tanh(j * np.pi * a / b) - 1.0)
    terms = np.sin(np.pi * share[:, None] * j) @ near
    across = -kappa * 2.0 * b**2 / np.pi**2 * (_alternating_sines(share) + terms)
    return np.asarray(along), np.asarray(across)


def _share(position_mm: Array, face_mm: float) -> Array:
    """Positions as shares of half the face, -1 to 1; a corner is a corner, whatever rounding says."""
    share = np.clip(2.0 * np.asarray(position_mm, float) / face_mm, -1.0, 1.0)
    return np.where(np.abs(share) > 1.0 - 1e-12, np.sign(share), share)


def _odd(depth_mm: float, face_mm: float) -> Array:
    """The odd numbers m up to where exp(-m pi depth / face) is below the last digit."""
    return np.arange(1.0, 3.0 + DIGITS * face_mm / (math.pi * depth_mm), 2.0)


def _sign(m: Array) -> Array:
    return np.where(m % 4.0 == 1.0, 1.0, -1.0)


def _cosines(m: Array, share: Array) -> Array:
    return np.asarray(np.cos(0.5 * np.pi * share[:, None] * m))


def _alternating_cosines(share: Array) -> Array:
    """Sum over odd m of (-1)^((m-1)/2) cos(m pi s / 2) / m^2, |s| <= 1; Catalan's constant at s = 0.

    The same as the sum of sin(m t) / m^2 with t = pi (1 - |s|) / 2: half of Cl2(t) + Cl2(pi - t).
    """
    t = 0.5 * np.pi * (1.0 - np.abs(share))
    return np.asarray(0.5 * (_clausen(t) + _clausen(np.pi - t)))


def _alternating_sines(share: Array) -> Array:
    """Sum over j of (-1)^(j+1) sin(j pi s) / j^2, |s| <= 1: Cl2(pi - pi s)."""
    return np.asarray(np.sign(share) * _clausen(np.pi * (1.0 - np.abs(share))))


def _clausen(t: Array) -> Array:
    """Clausen's integral Cl2(t), the sum over j of sin(j t) / j^2, for 0 <= t <= pi; all digits.

    Cl2(t) / t = 1 - ln t + sum over n of zeta(2 n) / (n (2 n + 1)) (t / (2 pi))^(2 n) (Abramowitz & Stegun, 27.8.2,
    written with zeta for Bernoulli's numbers; from memory, sure: tests sum the sines).
    """
    n, coefficient = _clausen_terms()
    squared = (t / (2.0 * np.pi)) ** 2
    return np.asarray(t * (1.0 - np.log(np.maximum(t, 1e-300)) + squared[:, None] ** n @ coefficient))


@lru_cache(maxsize=1)
def _clausen_terms() -> tuple[Array, Array]:
    n = np.arange(1.0, 28.0)
    return n, zeta(2.0 * n) / (n * (2.0 * n + 1.0))


def zeta(s: Array) -> Array:
    """Riemann's zeta function at s >= 2, without unit, to rounding: a sum up to 20 and Euler-Maclaurin for the rest.

    Abramowitz & Stegun 23.2.1 and 3.6.28. `scipy.special` would take a tenth of a command's start for these few values.
    """
    last = 20.0
    head = (np.arange(1.0, last)[:, None] ** -s).sum(axis=0)
    rest = last ** (1.0 - s) / (s - 1.0) + 0.5 * last**-s
    factor = s * last ** (-s - 1.0)
    for k, bernoulli in ((1.0, 1 / 12), (2.0, -1 / 720), (3.0, 1 / 30240), (4.0, -1 / 1209600)):
        rest = rest + bernoulli * factor
        factor = factor * (s + 2.0 * k - 1.0) * (s + 2.0 * k) / last**2
    return np.asarray(head + rest)
