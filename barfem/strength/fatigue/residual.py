"""Residual stress at the surface, which counts as mean stress with its own sign.

Cold bending after hardening: the inside of the bend yields in compression and springs back into tension. In an
ideally plastic section bent far past yield, springback takes off shape factor x yield at the skin, so that
(shape factor - 1) x yield is left: 0.70 of yield in a solid round bar, 0.27 in a thin tube. Strain hardening raises
it, the Bauschinger effect lowers it more: an upper bound. Stress relief after bending is taken to remove it.

Shot peening: 500 MPa of compression, at most half the tensile strength (the low end of what is measured on spring
steel; from memory, fairly sure).

Load takes residual stress away: tension can be no more than what the load leaves up to yield (`surviving_tension`),
and peening is lost where the load's compression on top of it exceeds the cyclic yield strength
(`peak_with_residual`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.material import Steel
from barfem.model.surfaces import surface_condition
from barfem.strength.fatigue.cyclic_curve import cyclic_curve, estimated_cyclic_curve

__all__ = [
    "bend_inside_residual",
    "cyclic_yield",
    "cyclic_yield_estimate",
    "peak_with_residual",
    "peening_holds_to",
    "peening_profile",
    "peening_residual",
    "surface_residual",
    "surviving_tension",
]

Array = NDArray[np.float64]


def bend_inside_residual(*, yield_MPa: ArrayLike, bore_ratio: ArrayLike = 0.0, radius_ratio: ArrayLike = 1.0) -> Array:
    """Tension [MPa] at the inside of a cold bend after springback, never negative.

    (Z / W rho - 1) Sy with the plastic over the elastic section modulus of a ring,
    Z / W = 16 / (3 pi) (1 - k^3) / (1 - k^4). k, `bore_ratio`, is bore over outside diameter (0: solid);
    rho, `radius_ratio`, the place's radius over the outside radius (k at the bore).
    """
    k = np.asarray(bore_ratio, float)
    # (1 - k^3) / (1 - k^4) with the common factor 1 - k taken out, so that it holds up to a thin wall.
    shape = 16.0 / (3.0 * np.pi) * (1.0 + k + k**2) / (1.0 + k + k**2 + k**3)
    return np.maximum(shape * np.asarray(radius_ratio, float) - 1.0, 0.0) * np.asarray(yield_MPa, float)


def peening_residual(*, tensile_MPa: ArrayLike, decarburised: bool = False) -> Array:
    """Compression [MPa, negative] that shot peening leaves at the surface.

    A decarburised skin holds half as much: it is taken to have half the core's strength (an estimate, no source).
    """
    tensile = np.asarray(tensile_MPa, float)
    return -np.minimum(500.0, (0.25 if decarburised else 0.5) * tensile)


def peening_profile(depth_mm: ArrayLike, *, tensile_MPa: float, decarburised: bool = False) -> Array:
    """Residual stress [MPa, tension positive] under a peened surface, for a picture; a bar's back tension is not in it.

    Surface value of `peening_residual`; greatest compression 1.15 times it at 0.08 mm; none from 0.30 mm on: a shape
    typical of spring steel peened to 0.4 to 0.5 mm A (depth 0.2 to 0.4 mm, peak 500 to 900 MPa; from memory, fairly
    sure). Strength is judged by the surface value alone.
    """
    depth = np.asarray(depth_mm, float)
    surface = float(peening_residual(tensile_MPa=tensile_MPa, decarburised=decarburised))
    # A cubic from the peak with level ends, and a parabola from the surface to the peak.
    rise = 1.15 - 0.15 * (1.0 - depth / 0.08) ** 2
    x = np.clip((depth - 0.08) / 0.22, 0.0, 1.0)
    return surface * np.where(depth < 0.08, rise, 1.15 * (1.0 - 3.0 * x**2 + 2.0 * x**3))


def peening_holds_to(*, cyclic_yield_MPa: float, residual_MPa: float, torsion_share: float) -> float:
    """Von Mises stress [MPa] of the load above which peening's residual stress relaxes and counts for nothing.

    Where `peak_with_residual` reaches the cyclic yield strength; zero where the residual stress alone exceeds it.
    """
    r, limit = abs(residual_MPa), cyclic_yield_MPa
    if r >= limit:
        return 0.0
    slope = r * float(np.sqrt(np.clip(1.0 - torsion_share, 0.0, 1.0)))
    return float(-0.5 * slope + np.sqrt(0.25 * slope**2 + limit**2 - r**2))


def surface_residual(
    steel: Steel,
    *,
    surface: str,
    inside_of_bend: ArrayLike = False,
    bore_ratio: ArrayLike = 0.0,
    radius_ratio: ArrayLike = 1.0,
) -> Array:
    """Residual stress [MPa, tension positive] at places of one surface condition.

    `inside_of_bend` marks the places at the inside of a bend; the ratios are those of `bend_inside_residual`.
    Peening comes after bending and covers its tension.
    """
    at_bend, bore, radius = np.broadcast_arrays(np.asarray(inside_of_bend, bool), bore_ratio, radius_ratio)
    if surface_condition(surface).peened:
        pressed = peening_residual(
            tensile_MPa=steel.tensile_strength_MPa, decarburised=steel.decarburised_depth_mm is not None
        )
        return np.broadcast_to(pressed, at_bend.shape).copy()
    if steel.bent != "after-hardening" or steel.stress_relieved:
        return np.zeros(at_bend.shape)
    tension = bend_inside_residual(yield_MPa=steel.yield_strength_MPa, bore_ratio=bore, radius_ratio=radius)
    return np.where(at_bend, tension, 0.0)


def cyclic_yield_estimate(tensile_MPa: ArrayLike) -> Array:
    """0.2 % cyclic yield strength [MPa] of a steel from its tensile strength, by the FKM estimate of its curve."""
    coefficient, exponent = estimated_cyclic_curve(tensile_MPa)
    return coefficient * 0.002**exponent


def cyclic_yield(steel: Steel) -> float:
    """0.2 % cyclic yield strength [MPa] from the steel's cyclic curve, never above the static one."""
    return min(cyclic_curve(steel).yield_MPa, steel.yield_strength_MPa)


def peak_with_residual(*, max_von_mises_MPa: ArrayLike, residual_MPa: ArrayLike, torsion_share: ArrayLike) -> Array:
    """Von Mises stress [MPa] of the load's worst compression on top of an equal biaxial residual compression.

    For a residual -r along and round the bar, a bending stress s and a torsion stress t at the surface:
    (r^2 + r s + s^2 + 3 t^2)^0.5, with s from the share of torsion in the squared von Mises stress.
    """
    load, r = np.asarray(max_von_mises_MPa, float), np.abs(np.asarray(residual_MPa, float))
    bending = load * np.sqrt(np.clip(1.0 - np.asarray(torsion_share, float), 0.0, 1.0))
    return np.sqrt(r**2 + r * bending + load**2)


def surviving_tension(*, residual_MPa: ArrayLike, max_von_mises_MPa: ArrayLike, yield_MPa: ArrayLike) -> Array:
    """Residual tension [MPa] left after the first full travel: the place yields until load and residual reach yield."""
    left = np.maximum(np.asarray(yield_MPa, float) - np.asarray(max_von_mises_MPa, float), 0.0)
    return np.clip(np.asarray(residual_MPa, float), 0.0, left)
