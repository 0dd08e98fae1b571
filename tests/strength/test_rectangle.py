"""Shear on a rectangle's faces: the handbook's own series, summed term by term, which runs across the face's depth.

The package sums along the face instead, with closed forms in it; the two share no term.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import special

from barfem.model.sections import rectangle_torsion_constant
from barfem.strength.rectangle import rectangle_face_flexure, rectangle_face_torsion, zeta

Array = NDArray[np.float64]
NU = 0.3

SHAPES = [(12.0, 40.0), (40.0, 12.0), (3.5, 42.0), (42.0, 3.5), (10.0, 10.0)]
"""Depth and face, mm: both faces of a forged flat and of a pressed flat's leaf, and a square."""


def places(face: float) -> Array:
    """Over the face, its corners left out: the series across the depth does not converge there."""
    return np.linspace(-0.95, 0.95, 39) * face / 2.0


def hyperbolic(k: Array, y: Array, b: float, sign: float) -> Array:
    """cosh(k y) / cosh(k b), or with `sign` -1 the sinhs, (p, terms)."""
    size = np.abs(y)[:, None]
    ratio = np.exp(k * (size - b)) * (1.0 + sign * np.exp(-2.0 * k * size)) / (1.0 + sign * np.exp(-2.0 * k * b))
    return ratio * (np.sign(y)[:, None] if sign < 0.0 else 1.0)


@pytest.mark.parametrize(("depth", "face"), SHAPES)
def test_torsion_is_the_handbooks_series(depth: float, face: float) -> None:
    """Timoshenko & Goodier, Theory of Elasticity, torsion of a rectangular bar: tau_yz, from memory, sure."""
    y, n = places(face), np.arange(1.0, 4001.0, 2.0)
    series = hyperbolic(n * np.pi / depth, y, face / 2.0, 1.0) @ n**-2.0
    constant = rectangle_torsion_constant(width_mm=face, thickness_mm=depth)
    expected = depth / constant * (1.0 - 8.0 / np.pi**2 * series)
    ours = rectangle_face_torsion(depth_mm=depth, face_mm=face, position_mm=y)
    assert ours == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize(("depth", "face"), SHAPES)
def test_poissons_effect_across_the_force_is_the_stress_functions_series(depth: float, face: float) -> None:
    """-d(phi)/dx at x = a of phi = -sum kappa c / k^2 [y - b sinh(k y) / sinh(k b)] cos(k x), k = n pi / 2a."""
    y, n, b = places(face), np.arange(1.0, 4001.0, 2.0), face / 2.0
    kappa = NU / (1.0 + NU) / (face * depth**3 / 12.0)
    # Sum over odd n of 1 / n^2 = pi^2 / 8.
    series = np.pi**2 / 8.0 * y - b * hyperbolic(n * np.pi / depth, y, b, -1.0) @ n**-2.0
    expected = -kappa * 4.0 * depth / np.pi**2 * series
    ours = rectangle_face_flexure(depth_mm=depth, face_mm=face, position_mm=y, nu=NU)[1]
    assert ours == pytest.approx(expected, abs=1e-11 * np.abs(expected).max())


@pytest.mark.parametrize(("depth", "face"), SHAPES)
def test_shear_along_the_force_is_the_stress_functions_series(depth: float, face: float) -> None:
    """d(phi)/dy on the face y = b of the same phi, slow but plain: what is left of n terms falls off as 1 / n^2."""
    x, n, b = places(face)[::6], np.arange(1.0, 200_001.0, 2.0), depth / 2.0
    inertia = depth * face**3 / 12.0
    k = n * np.pi / face
    c = 4.0 * np.where(n % 4.0 == 1.0, 1.0, -1.0) / (n * np.pi)
    coth = 1.0 / np.tanh(k * b)
    series = np.cos(k * x[:, None]) @ (c / k**2 * (k * b * coth - 1.0))
    expected = (face**2 / 4.0 - x**2) / (2.0 * inertia) + NU / (1.0 + NU) / inertia * series
    ours = rectangle_face_flexure(depth_mm=depth, face_mm=face, position_mm=x, nu=NU)[0]
    assert ours == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(("depth", "face"), SHAPES)
def test_corners_carry_no_shear(depth: float, face: float) -> None:
    """To the digit, and whatever rounding makes of where the corner is; nor is there a jump on the way to it."""
    corner = 0.5 * face * np.array([-1.0, 1.0, 1.0 + 1e-15])
    near = 0.5 * face * np.array([0.0, 1.0 - 1e-9])
    torsion, near_torsion = (
        rectangle_face_torsion(depth_mm=depth, face_mm=face, position_mm=at) for at in (corner, near)
    )
    assert torsion == pytest.approx(0.0, abs=1e-15)
    assert abs(near_torsion[1]) < 1e-6 * near_torsion[0]
    flexure, near_flexure = (
        rectangle_face_flexure(depth_mm=depth, face_mm=face, position_mm=at, nu=NU) for at in (corner, near)
    )
    for here, close in zip(flexure, near_flexure, strict=True):
        assert here == pytest.approx(0.0, abs=1e-15)
        assert abs(close[1]) < 1e-6 * near_flexure[0][0]


def test_zeta_is_that_of_a_library_of_special_functions() -> None:
    at = np.concatenate([np.arange(2.0, 56.0, 2.0), [2.5, 3.0, 7.7]])
    assert zeta(at) == pytest.approx(special.zeta(at), rel=1e-15)
