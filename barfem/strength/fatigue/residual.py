"""Residual stress at the surface, which counts as mean stress with its own sign.

Cold bending after hardening: the inside of the bend yields in compression and springs back into tension. In an
ideally plastic section bent far past yield, springback takes off shape factor x yield at the skin, so that
(shape factor - 1) x yield is left: 0.70 of yield in a solid round bar, 0.27 in a thin tube. Strain hardening raises
it, the Bauschinger effect lowers it more: an upper bound. Stress relief after bending is taken to remove it; peening
covers it and leaves it below.

Shot peening: what was measured of it, else 500 MPa of compression, at most half the tensile strength (`model.skin`). In
a bar it lies along and round the surface alike.

Load takes residual stress away. Tension can be no more than what the load leaves up to yield (`surviving_tension`).
Compression goes as far as the load's own compression and it together exceed the cyclic yield strength: what is left is
what fits in (`surviving_compression`), so that it relaxes gradually with the load and is gone where the load alone
yields. The shape is that of first-cycle relaxation by local yield; the slow loss over later cycles (some tens of per
cent per decade near yield, little below) is not in it.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.model.material import Steel
from barfem.model.skin import Skin
from barfem.strength.fatigue.cyclic_curve import cyclic_curve, estimated_cyclic_curve

__all__ = [
    "Relaxation",
    "bend_inside_residual",
    "bending_leaves_tension",
    "cyclic_yield",
    "cyclic_yield_estimate",
    "peening_holds_to",
    "peening_profile",
    "peening_residual",
    "share_at_depth",
    "surface_residual",
    "surviving_compression",
    "surviving_tension",
    "tension_under_peening",
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


def peening_residual(*, tensile_MPa: ArrayLike, skin: Skin) -> Array:
    """Stress [MPa, negative] that shot peening leaves at the surface, unrelaxed; zero where nothing is peened.

    What the bar file states; else 500 MPa of compression, at most half the tensile strength.
    """
    tensile = np.asarray(tensile_MPa, float)
    if skin.peening is None or not skin.peened:
        return np.zeros(tensile.shape)
    if skin.peening.residual_MPa is not None:
        return np.full(tensile.shape, skin.peening.residual_MPa)
    return -np.minimum(500.0, 0.5 * tensile)


def peening_profile(depth_mm: ArrayLike, *, surface_MPa: float, end_mm: float) -> Array:
    """Residual stress [MPa, tension positive] under a peened surface; a bar's back tension is not in it.

    Greatest compression 1.15 times that of the surface at 0.27 of the depth where it ends: a shape typical of spring
    steel (from memory, fairly sure).
    """
    depth = np.asarray(depth_mm, float) / end_mm
    top = 0.08 / 0.30
    # A cubic from the peak with level ends, and a parabola from the surface to the peak.
    rise = 1.15 - 0.15 * (1.0 - depth / top) ** 2
    x = np.clip((depth - top) / (1.0 - top), 0.0, 1.0)
    return surface_MPa * np.where(depth < top, rise, 1.15 * (1.0 - 3.0 * x**2 + 2.0 * x**3))


def share_at_depth(depth_mm: float, *, end_mm: float) -> float:
    """Share of the surface's residual stress that a flaw of a depth counts with: that of the profile, 1 at most."""
    return float(np.minimum(peening_profile(depth_mm, surface_MPa=1.0, end_mm=end_mm), 1.0))


def peening_holds_to(*, cyclic_yield_MPa: float, residual_MPa: float, torsion_share: float) -> float:
    """Von Mises stress [MPa] of the load from which peening's residual stress relaxes.

    Where (r^2 + r s + s^2 + 3 t^2)^0.5 of an equal biaxial compression r and the load's bending s and torsion t reaches
    the cyclic yield strength; zero where the residual stress alone exceeds it.
    """
    r, limit = abs(residual_MPa), cyclic_yield_MPa
    if r >= limit:
        return 0.0
    slope = r * float(np.sqrt(np.clip(1.0 - torsion_share, 0.0, 4.0)))
    return float(-0.5 * slope + np.sqrt(0.25 * slope**2 + limit**2 - r**2))


def surviving_compression(
    *, residual_MPa: ArrayLike, max_von_mises_MPa: ArrayLike, torsion_share: ArrayLike, yield_MPa: ArrayLike
) -> Array:
    """Residual compression [MPa, zero or negative] left by a load of greatest von Mises stress `max_von_mises_MPa`.

    r that solves r^2 + r s + s^2 + 3 t^2 = yield^2, s the load's bending and t its torsion, at most what was there:
    ideal plasticity in the first cycles. Of an amplitude the yield strength is the cyclic one, of a maximum the static
    one.
    """
    slope, limit = _bending_slope(torsion_share), np.asarray(yield_MPa, float)
    fits = _fits(np.asarray(max_von_mises_MPa, float), slope, 1.0 - slope**2, limit**2)
    return -np.minimum(np.maximum(-np.asarray(residual_MPa, float), 0.0), np.maximum(fits, 0.0))


def _bending_slope(torsion_share: ArrayLike) -> Array:
    """Half of bending (of tension both ways: half the sum of both) over von Mises stress."""
    return 0.5 * np.sqrt(np.minimum(np.maximum(1.0 - np.asarray(torsion_share, float), 0.0), 4.0))


def _fits(load_MPa: Array, slope: Array, rest: Array, limit_square: Array) -> Array:
    """Compression [MPa] that fits in beside a load below a limit; `rest` is 1 - slope^2. Below zero: none."""
    return np.asarray(np.sqrt(np.maximum(limit_square - rest * np.square(load_MPa), 0.0)) - slope * load_MPa)


@frozen(eq=False)
class Relaxation:
    """What cycles leave of the residual stress of places, as a function of their load; arrays broadcast.

    Compression: the maximum yields the virgin steel once, the amplitude (at most the maximum) the softened steel in
    every cycle (`surviving_compression` by each). Tension: `surviving_tension` of the maximum.
    """

    unrelaxed_MPa: Array
    torsion_share: Array
    yield_MPa: Array
    cyclic_yield_MPa: Array

    @cached_property
    def _pressed(self) -> tuple[Array, Array, Array, Array, Array] | None:
        """Compression, the slope of what fits in with the load, and squares; None where nothing is in compression."""
        if not (self.unrelaxed_MPa < 0.0).any():
            return None
        slope = _bending_slope(self.torsion_share)
        squares = [np.square(each) for each in (slope, self.yield_MPa, self.cyclic_yield_MPa)]
        return np.maximum(-self.unrelaxed_MPa, 0.0), slope, 1.0 - squares[0], squares[1], squares[2]

    @cached_property
    def _pulled(self) -> NDArray[np.bool_] | None:
        """Where there is tension; None where it is nowhere."""
        pulled = self.unrelaxed_MPa > 0.0
        return pulled if pulled.any() else None

    def left(self, *, max_von_mises_MPa: Array, amplitude_MPa: Array) -> Array:
        """Residual stress [MPa] left by cycles of a greatest stress and a greatest amplitude."""
        if self._pressed is None:
            compression = np.zeros(np.broadcast_shapes(self.unrelaxed_MPa.shape, max_von_mises_MPa.shape))
        else:
            there, slope, rest, virgin, softened = self._pressed
            once = _fits(max_von_mises_MPa, slope, rest, virgin)
            always = _fits(np.minimum(amplitude_MPa, max_von_mises_MPa), slope, rest, softened)
            compression = -np.minimum(there, np.maximum(np.minimum(once, always), 0.0))
        if self._pulled is None:
            return compression
        tension = surviving_tension(
            residual_MPa=self.unrelaxed_MPa, max_von_mises_MPa=max_von_mises_MPa, yield_MPa=self.yield_MPa
        )
        return np.where(self._pulled, tension, compression)


def bending_leaves_tension(steel: Steel) -> bool:
    """Whether the inside of a bend is left in tension: in its skin, or under what peening has pressed."""
    return steel.bent == "after-hardening" and not steel.stress_relieved


def surface_residual(
    steel: Steel,
    *,
    skin: Skin,
    inside_of_bend: ArrayLike = False,
    bore_ratio: ArrayLike = 0.0,
    radius_ratio: ArrayLike = 1.0,
) -> Array:
    """Residual stress [MPa, tension positive] at places of one skin.

    `inside_of_bend` marks the places at the inside of a bend; the ratios are those of `bend_inside_residual`.
    Peening comes after bending and covers its tension, which stays under it (`tension_under_peening`).
    """
    at_bend, bore, radius = np.broadcast_arrays(np.asarray(inside_of_bend, bool), bore_ratio, radius_ratio)
    if skin.peened:
        pressed = peening_residual(tensile_MPa=steel.tensile_strength_MPa, skin=skin)
        return np.broadcast_to(pressed, at_bend.shape).copy()
    if not bending_leaves_tension(steel):
        return np.zeros(at_bend.shape)
    tension = bend_inside_residual(yield_MPa=steel.yield_strength_MPa, bore_ratio=bore, radius_ratio=radius)
    return np.where(at_bend, tension, 0.0)


def tension_under_peening(
    steel: Steel,
    *,
    skin: Skin,
    diameter_mm: float,
    inside_of_bend: ArrayLike,
    bore_ratio: ArrayLike,
    radius_ratio: ArrayLike,
) -> Array:
    """Tension [MPa] of a cold bend's inside where the compression of a peened skin ends; zero under other skins.

    Peening presses some tenths of a mm: what bending left below, nearly as much as at the skin, is still there.
    Arguments as `surface_residual`.
    """
    at_bend, radius = np.asarray(inside_of_bend, bool), np.asarray(radius_ratio, float)
    if skin.peening is None or not skin.peened or not bending_leaves_tension(steel):
        return np.zeros(at_bend.shape)
    # Below a point of the skin, towards the middle: both come nearer to it in proportion.
    there = radius * (1.0 - skin.peening.depth_mm / (0.5 * diameter_mm))
    tension = bend_inside_residual(yield_MPa=steel.yield_strength_MPa, bore_ratio=bore_ratio, radius_ratio=there)
    return np.where(at_bend, tension, 0.0)


def cyclic_yield_estimate(tensile_MPa: ArrayLike) -> Array:
    """0.2 % cyclic yield strength [MPa] of a steel from its tensile strength, by the FKM estimate of its curve."""
    coefficient, exponent = estimated_cyclic_curve(tensile_MPa)
    return coefficient * 0.002**exponent


def cyclic_yield(steel: Steel) -> float:
    """0.2 % cyclic yield strength [MPa] from the steel's cyclic curve, never above the static one."""
    return min(cyclic_curve(steel).yield_MPa, steel.yield_strength_MPa)


def surviving_tension(*, residual_MPa: ArrayLike, max_von_mises_MPa: ArrayLike, yield_MPa: ArrayLike) -> Array:
    """Residual tension [MPa] left after the first full travel: the place yields until load and residual reach yield."""
    left = np.maximum(np.asarray(yield_MPa, float) - np.asarray(max_von_mises_MPa, float), 0.0)
    return np.minimum(np.maximum(np.asarray(residual_MPa, float), 0.0), left)
