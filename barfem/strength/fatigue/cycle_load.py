"""One cycle's stresses at every place, what they do, and by how much they may grow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import Relaxation, cyclic_yield_estimate
from barfem.strength.fatigue.root import Places, rising_root
from barfem.strength.fatigue.sites import deciding_exponent, felt, log_harm
from barfem.strength.fatigue.spread import spread
from barfem.strength.fatigue.strength import FatigueStrength

__all__ = ["LARGEST_FACTOR", "Load", "load_factor", "loaded"]

Array = NDArray[np.float64]

LARGEST_FACTOR = 1e5
"""Safety factors above it are of no load at all but rounding: none is stated."""


@frozen
class Load:
    """Stresses of one cycle at every place, and the steel that takes them; arrays of one shape. `unrelaxed`:
    residual.
    """

    strength: FatigueStrength
    amplitude: Array
    mean: Array
    unrelaxed: Array
    peak: Array
    yield_: Array
    tensile: Array
    cyclic: Array

    def at(self, places: Places) -> Load:
        """At some of the places."""
        arrays = {field.name: getattr(self, field.name)[places] for field in fields(self) if field.name != "strength"}
        return Load(self.strength.at(places), **arrays)

    def residual(self, n: ArrayLike = 1.0) -> Array:
        """Residual stress that `n` times the load leaves."""
        if not self.unrelaxed.any():
            return spread(0.0, self.unrelaxed.shape)
        share = np.asarray(n)
        return self._relaxation.left(max_von_mises_MPa=share * self.peak, amplitude_MPa=share * self.amplitude)

    @cached_property
    def _relaxation(self) -> Relaxation:
        return Relaxation(self.unrelaxed, self.strength.torsion_share, self.yield_, self.cyclic)

    def harm(self, rule: MeanStress, n: ArrayLike = 1.0, *, strength_share: ArrayLike = 1.0) -> Array:
        """Equivalent reversed amplitude of `n` times the load, for bars with a share of the median strength."""
        return np.asarray(np.exp(self.log_harm(rule, n, strength_share=strength_share)))

    def log_harm(self, rule: MeanStress, n: ArrayLike = 1.0, *, strength_share: ArrayLike = 1.0) -> Array:
        """Natural logarithm of `harm`: minus infinity where nothing is felt, infinity where the mean leaves none."""
        found = log_harm(self.strength.sites, rule, **self._times(n), strength_share=strength_share)
        return np.where((self.amplitude > 0.0) | (found == np.inf), found, -np.inf)

    def felt(self, rule: MeanStress) -> tuple[Array, Array | None]:
        """Reversed amplitudes that do the same harm to sound steel and to the flaw, each on its own line."""
        return felt(self.strength.sites, rule, **self._times(1.0))

    def deciding_exponent(self, rule: MeanStress, *, cycles: float) -> Array:
        """k of the site that decides where bars are just so weak that they last `cycles` of this load."""
        return deciding_exponent(self.strength.sites, rule, cycles=cycles, **self._times(1.0))

    def _times(self, n: ArrayLike) -> dict[str, Array]:
        return {
            "amplitude_MPa": np.asarray(n) * self.amplitude,
            "mean_MPa": np.asarray(n) * self.mean,
            "residual_MPa": self.residual(n),
            "tensile_MPa": self.tensile,
            "yield_MPa": self.yield_,
        }


def loaded(
    strength: FatigueStrength,
    *,
    amplitude_MPa: ArrayLike,
    mean_MPa: ArrayLike,
    residual_MPa: ArrayLike,
    max_von_mises_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    cyclic_yield_MPa: ArrayLike | None,
    signed_mean: bool = False,
) -> Load:
    """The stresses at every place of a strength, broadcast, as `assess` takes them (MPa).

    Raises
    ------
    BarfemError
        A stress is not a finite number.
    """
    tensile = np.asarray(tensile_MPa, float)
    cyclic = np.minimum(yield_MPa, cyclic_yield_estimate(tensile) if cyclic_yield_MPa is None else cyclic_yield_MPa)
    given = [amplitude_MPa, mean_MPa, residual_MPa, max_von_mises_MPa, yield_MPa, tensile_MPa, cyclic]
    stresses = [np.asarray(stress, float) for stress in given]
    shape = np.broadcast_shapes(strength.at_1e6_cycles_MPa.shape, *(stress.shape for stress in stresses))
    amplitude, mean, residual, peak, yield_, tensile, cyclic = (spread(stress, shape) for stress in stresses)
    for name, stress in (("amplitude", amplitude), ("mean", mean), ("residual stress", residual), ("peak", peak)):
        if not np.all(np.isfinite(stress)):
            raise BarfemError(f"fatigue: the {name} is not a finite number at {np.sum(~np.isfinite(stress))} places")
    mean = mean if signed_mean else np.abs(mean)
    return Load(strength, np.abs(amplitude), mean, residual, peak, yield_, tensile, cyclic)


def load_factor(
    strength: Array, rule: MeanStress, load: Load, within: float = 1e-13, *, strength_share: float = 1.0
) -> Array:
    """Factor on the load at which its equivalent amplitude is `strength`, `within` that share; NaN without load.

    For bars with a share of the median strength.

    Without mean and residual stress the quotient; else by iteration, for every rule and site alike.
    """
    strength = spread(strength, load.amplitude.shape)
    usable = (strength > 0.0) & ((load.amplitude > 0.0) | (load.mean > 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        simple = strength_share * strength / load.amplitude
    felt = load.mean != 0.0 if rule.criterion.signed else load.mean > 0.0
    if not (np.any(felt) or np.any(load.unrelaxed)):
        return np.where(usable & (simple < LARGEST_FACTOR), simple, np.nan)

    def of(some: Load) -> Callable[[Array], Array]:
        return lambda log_n: some.log_harm(rule, np.exp(log_n), strength_share=strength_share)

    found = np.exp(rising_root(of(load), strength, within=within, some=lambda places: of(load.at(places))))
    found = np.where(felt | (load.unrelaxed != 0.0), found, simple)
    return np.where(usable & (found < LARGEST_FACTOR), found, np.nan)
