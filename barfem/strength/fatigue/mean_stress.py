"""Reversed amplitudes that do the same harm as an amplitude with a mean stress.

All functions are keyword-only, broadcast, and take stresses in MPa, amplitudes never negative. For Goodman, Gerber and
Soderberg a negative mean counts as zero. At a mean at or above the strength that a line ends at there is no
equivalent amplitude: these functions give infinity there, which `assess` and the command line turn into a reason.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.strength.fatigue.criteria import CRITERIA, DEFAULT_CRITERION, Criterion

__all__ = [
    "MeanStress",
    "gerber_equivalent",
    "goodman_equivalent",
    "morrow_equivalent",
    "sines_equivalent",
    "soderberg_equivalent",
    "swt_equivalent",
    "walker_equivalent",
    "walker_gamma",
]

Array = NDArray[np.float64]


def goodman_equivalent(*, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, tensile_MPa: ArrayLike) -> Array:
    """sigma_a / (1 - sigma_m / Sut). Shigley Eq. 6-46; Dowling Eq. 9.17."""
    return _over(amplitude_MPa, 1.0 - _positive(mean_MPa) / np.asarray(tensile_MPa, float))


def sines_equivalent(
    *, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, tensile_MPa: ArrayLike, torsion_share: ArrayLike
) -> Array:
    """Goodman's line for the mean normal stress alone, mean x (1 - share)^0.5 of a von Mises mean. Dowling Eq. 9.40.

    Below yield a mean torsion does not lower the limit of sound steel (Sines 1959; Smith 1942); here the mean has the
    amplitude's share of torsion.
    """
    normal = np.sqrt(np.clip(1.0 - np.asarray(torsion_share, float), 0.0, 4.0))
    return goodman_equivalent(
        amplitude_MPa=amplitude_MPa, mean_MPa=normal * _positive(mean_MPa), tensile_MPa=tensile_MPa
    )


def gerber_equivalent(*, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, tensile_MPa: ArrayLike) -> Array:
    """sigma_a / (1 - (sigma_m / Sut)^2). Shigley Eq. 6-47."""
    return _over(amplitude_MPa, 1.0 - (_positive(mean_MPa) / np.asarray(tensile_MPa, float)) ** 2)


def soderberg_equivalent(*, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, yield_MPa: ArrayLike) -> Array:
    """sigma_a / (1 - sigma_m / Sy). Shigley Eq. 6-45."""
    return _over(amplitude_MPa, 1.0 - _positive(mean_MPa) / np.asarray(yield_MPa, float))


def morrow_equivalent(
    *, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, fatigue_strength_coefficient_MPa: ArrayLike
) -> Array:
    """sigma_a / (1 - sigma_m / sigma_f'): a compressive mean earns credit. Dowling Eq. 9.20."""
    return _over(amplitude_MPa, 1.0 - np.asarray(mean_MPa, float) / np.asarray(fatigue_strength_coefficient_MPa, float))


def swt_equivalent(*, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike) -> Array:
    """(sigma_max sigma_a)^0.5 of Smith, Watson and Topper; zero where sigma_max is not tensile. Dowling Eq. 9.18."""
    return walker_equivalent(amplitude_MPa=amplitude_MPa, mean_MPa=mean_MPa, gamma=0.5)


def walker_equivalent(*, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, gamma: ArrayLike) -> Array:
    """sigma_max^(1 - gamma) sigma_a^gamma; zero where sigma_max is not tensile. Dowling Eq. 9.19.

    Raises
    ------
    InputError
        `gamma` is not above 0 and at most 1.
    """
    amplitude = np.asarray(amplitude_MPa, float)
    power = np.asarray(gamma, float)
    if not np.all((power > 0.0) & (power <= 1.0)):
        raise InputError(f"Walker's gamma {gamma!r} is not possible.", expected="above 0 and at most 1.")
    return _positive(amplitude + np.asarray(mean_MPa, float)) ** (1.0 - power) * amplitude**power


def walker_gamma(tensile_MPa: ArrayLike) -> Array:
    """Walker's gamma of a steel, 0.883 - 2.0e-4 Sut [MPa]. Dowling Eq. 9.21 (steels)."""
    return 0.883 - 2.0e-4 * np.asarray(tensile_MPa, float)


@frozen
class MeanStress:
    """The rule by which a steel's mean stress is judged, with the constants that are not strengths of a place.

    `coefficient_MPa` is the fatigue strength coefficient, which only morrow needs; `gamma` is Walker's, from the
    tensile strength where it is None.

    Raises
    ------
    InputError
        Unknown method, or Morrow without a coefficient.
    """

    method: str = DEFAULT_CRITERION
    coefficient_MPa: float | None = None
    gamma: float | None = None

    def __post_init__(self) -> None:
        if self.method not in CRITERIA:
            raise InputError(
                f'there is no mean-stress method "{self.method}".',
                where="--mean-stress",
                expected="one of " + ", ".join(CRITERIA) + ".",
            )
        if "fatigue_strength_coefficient_MPa" in self.criterion.needs and self.coefficient_MPa is None:
            raise InputError(
                f"{self.method} needs a fatigue strength coefficient, and this steel's table has none.",
                where="--mean-stress",
                expected="another method, or a material table with strain-life constants.",
            )

    @property
    def criterion(self) -> Criterion:
        return CRITERIA[self.method]

    def equivalent(
        self,
        *,
        amplitude_MPa: ArrayLike,
        mean_MPa: ArrayLike,
        tensile_MPa: ArrayLike,
        yield_MPa: ArrayLike,
        torsion_share: ArrayLike = 0.0,
    ) -> Array:
        """Equivalent reversed amplitudes [MPa], infinite where the mean leaves none."""
        known = {
            "tensile_MPa": tensile_MPa,
            "yield_MPa": yield_MPa,
            "torsion_share": torsion_share,
            "fatigue_strength_coefficient_MPa": self.coefficient_MPa,
        }
        needs = {need: known[need] for need in self.criterion.needs if need in known}
        if "gamma" in self.criterion.needs:
            needs["gamma"] = walker_gamma(tensile_MPa) if self.gamma is None else self.gamma
        found: Array = self.criterion.function(amplitude_MPa=amplitude_MPa, mean_MPa=mean_MPa, **needs)
        return found


def _positive(stress: ArrayLike) -> Array:
    return np.maximum(np.asarray(stress, float), 0.0)


def _over(amplitude: ArrayLike, left: Array) -> Array:
    """amplitude / left; infinity where nothing is left, zero amplitude included."""
    safe = np.where(left > 0.0, left, 1.0)
    return np.where(left > 0.0, np.asarray(amplitude, float) / safe, np.inf)
