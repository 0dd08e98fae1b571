"""Strain-life where a place yields: Neuber's rule, the cyclic curve, and the life of the loop.

- Neuber: local stress x local strain = (elastic stress)^2 / E, in amplitudes and for the maximum, on the cyclic curve.
  Of a stress that is more than one component the von Mises stress is taken.
- Life: Smith, Watson and Topper, smax ea = sf'^2 / E (2N)^(2b) + sf' ef' (2N)^(b + c) (Dowling Eq. 14.25), or Morrow,
  ea = (sf' - sm) / E (2N)^b + ef' (2N)^c (Eq. 14.19).
- Constants of a small polished specimen: a rougher, larger bar falls below them by its surface and size factors at a
  million cycles and by nothing at one, which is a steeper b (common practice; Stephens, Fatemi, Stephens and Fuchs,
  Metal Fatigue in Engineering, sec. 5.6; from memory).
- Where a steel's table has no constants: from its hardness, sf' = 4.25 HB + 225 MPa, b = -0.09,
  ef' = (0.32 HB^2 - 487 HB + 191000) / E, c = -0.56 (Roessle and Fatemi, Int. J. Fatigue 22 (2000) 495; 150 to 700 HB),
  the hardness from the tensile strength by ISO 18265: an estimate, of strain within a quarter or so on measured steels.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.hardness import brinell_from_tensile
from barfem.model.material import Steel
from barfem.strength.fatigue.cyclic_curve import WITHIN, CyclicCurve

__all__ = [
    "LocalLoop",
    "StrainLife",
    "local_loop",
    "neuber_stress",
    "strain_life_constants",
    "strength_coefficient_of_hardness",
]

Array = NDArray[np.float64]

BY_HARDNESS = "estimate from hardness: Roessle and Fatemi, Int. J. Fatigue 22 (2000) 495"
_SOFTEST_HB, _HARDEST_HB = 150.0, 700.0
_LONGEST_LOG = 12.0
_STEPS = 60


@frozen
class StrainLife:
    """Strain-life constants of a steel; the exponents are below zero."""

    E_MPa: float
    strength_coefficient_MPa: float
    strength_exponent: float
    ductility_coefficient: float
    ductility_exponent: float
    source: str = ""

    def with_factor(self, factor_at_1e6: float) -> StrainLife:
        """The same with the elastic line lowered by `factor_at_1e6` at a million cycles and by nothing at one.

        Raises
        ------
        InputError
            The factor is not above 0 and at most 1.
        """
        if not 0.0 < factor_at_1e6 <= 1.0:
            raise InputError(
                f"a factor of {factor_at_1e6:g} on the strength is not possible.", expected="above 0, at most 1."
            )
        return replace(self, strength_exponent=self.strength_exponent + float(np.log(factor_at_1e6) / np.log(2e6)))

    def strain_amplitude(self, cycles: ArrayLike, *, mean_MPa: ArrayLike = 0.0) -> Array:
        """Strain amplitude that lasts `cycles` at a mean stress, by Morrow's form."""
        reversals = 2.0 * np.asarray(cycles, float)
        elastic = (self.strength_coefficient_MPa - np.asarray(mean_MPa, float)) / self.E_MPa
        return (
            elastic * reversals**self.strength_exponent
            + self.ductility_coefficient * reversals**self.ductility_exponent
        )

    def swt_product(self, cycles: ArrayLike) -> Array:
        """Largest stress x strain amplitude [MPa] that lasts `cycles`."""
        reversals = 2.0 * np.asarray(cycles, float)
        s, b = self.strength_coefficient_MPa, self.strength_exponent
        return s**2 / self.E_MPa * reversals ** (2.0 * b) + s * self.ductility_coefficient * reversals ** (
            b + self.ductility_exponent
        )

    def life(
        self,
        *,
        strain_amplitude: ArrayLike,
        max_MPa: ArrayLike,
        mean_MPa: ArrayLike,
        method: Literal["swt", "morrow"] = "swt",
    ) -> Array:
        """Cycles (median), between 0.5 and 1e12; 1e12 where the largest stress is not tensile (swt).

        Raises
        ------
        InputError
            Unknown method.
        """
        if method not in ("swt", "morrow"):
            raise InputError(f'there is no strain-life method "{method}".', expected="swt or morrow.")
        strain, top, mean = np.broadcast_arrays(*(np.asarray(x, float) for x in (strain_amplitude, max_MPa, mean_MPa)))
        low, high = np.full(strain.shape, np.log10(0.5)), np.full(strain.shape, _LONGEST_LOG)
        for _ in range(_STEPS):
            middle = 0.5 * (low + high)
            cycles = 10.0**middle
            if method == "swt":
                lasts = self.swt_product(cycles) >= np.maximum(top, 0.0) * strain
            else:
                lasts = self.strain_amplitude(cycles, mean_MPa=mean) >= strain
            low, high = np.where(lasts, middle, low), np.where(lasts, high, middle)
        return 10.0 ** (0.5 * (low + high))


@frozen
class LocalLoop:
    """The stabilised loop at a place; arrays of one shape, stresses in MPa."""

    stress_amplitude_MPa: Array
    strain_amplitude: Array
    max_MPa: Array
    mean_MPa: Array


def strain_life_constants(steel: Steel) -> StrainLife:
    """The steel's own constants, else those estimated from its hardness.

    Constants of a steel more than 15 % stronger or weaker than this one are left aside.

    Raises
    ------
    InputError
        No constants, and a steel softer or harder than the estimate holds for.
    """
    found = steel.cyclic
    tensile = steel.tensile_strength_MPa
    if found is not None and (
        found.tensile_strength_MPa is None or abs(tensile / found.tensile_strength_MPa - 1.0) <= WITHIN
    ):
        return StrainLife(
            found.E_MPa,
            found.fatigue_strength_coefficient_MPa,
            found.fatigue_strength_exponent,
            found.fatigue_ductility_coefficient,
            found.fatigue_ductility_exponent,
            found.source,
        )
    brinell = float(brinell_from_tensile(tensile))
    coefficient = strength_coefficient_of_hardness(brinell)
    ductility = (0.32 * brinell**2 - 487.0 * brinell + 191_000.0) / steel.E_MPa
    return StrainLife(steel.E_MPa, coefficient, -0.09, ductility, -0.56, BY_HARDNESS)


def strength_coefficient_of_hardness(brinell: float) -> float:
    """Fatigue strength coefficient sigma_f' = 4.25 HB + 225 [MPa], 150 to 700 HB: Roessle and Fatemi (2000).

    Raises
    ------
    InputError
        A steel softer or harder than the estimate holds for.
    """
    if not _SOFTEST_HB <= brinell <= _HARDEST_HB:
        raise InputError(
            f"a hardness of {brinell:.0f} HB is outside the estimate of constants.",
            expected="150 to 700 HB, or a material table with constants.",
        )
    return 4.25 * brinell + 225.0


def neuber_stress(elastic_MPa: ArrayLike, curve: CyclicCurve) -> Array:
    """Local stress [MPa] at which stress x strain on the curve is elastic^2 / E; never above the elastic stress."""
    elastic = np.asarray(elastic_MPa, float)
    wanted = elastic**2 / curve.E_MPa
    low, high = np.zeros_like(elastic), elastic.copy()
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        short = middle * curve.strain(middle) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return 0.5 * (low + high)


def local_loop(
    *, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, curve: CyclicCurve, residual_MPa: ArrayLike = 0.0
) -> LocalLoop:
    """The loop at a place whose elastic stress, concentration included, swings by `amplitude_MPa` about a mean.

    Neuber's rule for the largest stress and for the amplitude, on the stabilised curve (Masing: the loop is the curve
    doubled). `residual_MPa` counts as mean stress.
    """
    amplitude = np.asarray(amplitude_MPa, float)
    top = np.maximum(np.asarray(mean_MPa, float) + np.asarray(residual_MPa, float), 0.0) + amplitude
    stress = neuber_stress(amplitude, curve)
    largest = np.maximum(neuber_stress(top, curve), stress)
    return LocalLoop(
        stress_amplitude_MPa=stress,
        strain_amplitude=curve.strain(stress),
        max_MPa=largest,
        mean_MPa=largest - stress,
    )
