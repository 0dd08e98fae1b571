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

__all__ = [
    "bend_inside_residual",
    "cyclic_yield",
    "cyclic_yield_estimate",
    "peak_with_residual",
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


def peening_residual(*, tensile_MPa: ArrayLike) -> Array:
    """Compression [MPa, negative] that shot peening leaves at the surface."""
    return -np.minimum(500.0, 0.5 * np.asarray(tensile_MPa, float))


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
        return np.broadcast_to(peening_residual(tensile_MPa=steel.tensile_strength_MPa), at_bend.shape).copy()
    if steel.bent != "after-hardening" or steel.stress_relieved:
        return np.zeros(at_bend.shape)
    tension = bend_inside_residual(yield_MPa=steel.yield_strength_MPa, bore_ratio=bore, radius_ratio=radius)
    return np.where(at_bend, tension, 0.0)


def cyclic_yield_estimate(tensile_MPa: ArrayLike) -> Array:
    """0.2 % cyclic yield strength [MPa] of a steel from its tensile strength, K' 0.002^n'.

    K' = 3.1148 Rm^0.897 / min(0.338, 1033 Rm^-1.235)^0.187, n' = 0.187: the estimate for steel of the FKM guideline
    non-linear, 2019.
    """
    rm = np.asarray(tensile_MPa, float)
    coefficient = 3.1148 * rm**0.897 / np.minimum(0.338, 1033.0 * rm**-1.235) ** 0.187
    return coefficient * 0.002**0.187


def cyclic_yield(steel: Steel) -> float:
    """0.2 % cyclic yield strength [MPa], never above the static one: from the table's constants, else the estimate."""
    constants = steel.cyclic
    if constants and constants.cyclic_strength_coefficient_MPa and constants.cyclic_hardening_exponent:
        found = constants.cyclic_strength_coefficient_MPa * 0.002**constants.cyclic_hardening_exponent
    else:
        found = float(cyclic_yield_estimate(steel.tensile_strength_MPa))
    return min(found, steel.yield_strength_MPa)


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
