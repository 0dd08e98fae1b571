"""A stress-life line from strain-life constants: amplitude = coefficient (2N)^exponent. Dowling Eq. 9.7."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError

__all__ = ["BasquinStrength"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class BasquinStrength:
    """The line of one material; `endurance_limit_MPa` zero means that it falls for ever."""

    coefficient_MPa: float
    exponent: float
    endurance_limit_MPa: float = 0.0

    def __post_init__(self) -> None:
        if not self.coefficient_MPa > 0.0:
            raise InputError(f"a fatigue strength coefficient of {self.coefficient_MPa:g} MPa is not possible.")
        if not -1.0 < self.exponent < 0.0:
            raise InputError(
                f"a fatigue strength exponent of {self.exponent:g} is not possible.",
                expected="below 0, usually -0.05 to -0.12.",
            )

    def strength_at(self, cycles: ArrayLike) -> Array:
        """Reversed amplitude [MPa] that lasts `cycles`."""
        sloping = self.coefficient_MPa * (2.0 * np.asarray(cycles, float)) ** self.exponent
        return np.maximum(sloping, self.endurance_limit_MPa)

    def life(self, reversed_amplitude_MPa: ArrayLike) -> tuple[Array, Bools]:
        """Cycles that a reversed amplitude [MPa] lasts, and where it is at or below the endurance limit (or zero).

        There the life is that of the endurance limit, a lower bound; without a limit, an amplitude of zero has the
        life of 1e-12 MPa, which is as good as for ever.
        """
        amplitude = np.asarray(reversed_amplitude_MPa, float)
        beyond = amplitude <= self.endurance_limit_MPa
        shown = np.maximum(np.where(beyond, self.endurance_limit_MPa, amplitude), 1e-12)
        with np.errstate(over="ignore"):
            life = 0.5 * (shown / self.coefficient_MPa) ** (1.0 / self.exponent)
        return np.minimum(life, 1e300), beyond
