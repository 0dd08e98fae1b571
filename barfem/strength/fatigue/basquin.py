"""A stress-life line from strain-life constants: amplitude = coefficient (2N)^exponent. Dowling Eq. 9.7."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.strength.fatigue.sites import Sites
from barfem.strength.fatigue.strength import FatigueStrength

__all__ = ["BasquinStrength", "basquin_strength", "sound_sites"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


@frozen
class BasquinStrength(FatigueStrength):
    """The line of one material; `limit_MPa` zero means that it falls for ever. Made by `basquin_strength`."""

    coefficient_MPa: float = 1.0
    slope: float = -0.1
    limit_MPa: float = 0.0

    def strength_at(self, cycles: ArrayLike) -> Array:
        """Reversed amplitude [MPa] that lasts `cycles`."""
        sloping = self.coefficient_MPa * (2.0 * np.asarray(cycles, float)) ** self.slope
        return np.maximum(sloping, self.limit_MPa)

    def life(self, reversed_amplitude_MPa: ArrayLike) -> tuple[Array, Bools]:
        """Cycles that a reversed amplitude [MPa] lasts, and where it is at or below the endurance limit (or zero).

        There the life is that of the endurance limit, a lower bound; without a limit, an amplitude of zero has the
        life of 1e-12 MPa, which is as good as for ever.
        """
        amplitude = np.asarray(reversed_amplitude_MPa, float)
        beyond = amplitude <= self.limit_MPa
        shown = np.maximum(np.where(beyond, self.limit_MPa, amplitude), 1e-12)
        with np.errstate(over="ignore"):
            life = 0.5 * (shown / self.coefficient_MPa) ** (1.0 / self.slope)
        return np.minimum(life, 1e300), beyond


def basquin_strength(
    coefficient_MPa: float, exponent: float, *, endurance_limit_MPa: float = 0.0, tensile_MPa: float | None = None
) -> BasquinStrength:
    """The line amplitude = coefficient (2N)^exponent as one place of sound steel; without a tensile strength, infinite.

    Raises
    ------
    InputError
        A coefficient or exponent that cannot be.
    """
    if not coefficient_MPa > 0.0:
        raise InputError(f"a fatigue strength coefficient of {coefficient_MPa:g} MPa is out of range.")
    if not -1.0 < exponent < 0.0:
        raise InputError(
            f"a fatigue strength exponent of {exponent:g} is out of range.", expected="below 0, usually -0.05 to -0.12."
        )
    at_1e3, at_1e6 = (np.asarray(coefficient_MPa * (2.0 * n) ** exponent) for n in (1e3, 1e6))
    limit = np.asarray(endurance_limit_MPa) if endurance_limit_MPa > 0.0 else at_1e6
    one = np.ones(())
    return BasquinStrength(
        tensile_MPa=np.asarray(np.inf if tensile_MPa is None else tensile_MPa),
        at_1_cycle_MPa=np.asarray(coefficient_MPa),
        at_1e3_cycles_MPa=at_1e3,
        at_1e6_cycles_MPa=limit,
        has_knee=np.asarray(endurance_limit_MPa > 0.0),
        torsion_share=0.0 * one,
        sites=sound_sites(at_1e3_MPa=np.maximum(at_1e3, 2.0 * limit), at_1e6_MPa=limit),
        coefficient_MPa=coefficient_MPa,
        slope=exponent,
        limit_MPa=endurance_limit_MPa,
    )


def sound_sites(*, at_1e3_MPa: Array, at_1e6_MPa: Array) -> Sites:
    """Sites of sound steel alone, whose stress is that of the line itself."""
    one = np.ones(np.shape(at_1e6_MPa))
    return Sites(
        at_1e3_MPa=at_1e3_MPa,
        at_1e6_MPa=at_1e6_MPa,
        flaw_MPa=np.inf * one,
        sound_MPa=at_1e6_MPa,
        alpha=0.25 * one,
        torsion_share=0.0 * one,
        flaw_residual_share=one,
        below_share=one,
        below_tension_MPa=0.0 * one,
        residual_counts=np.ones(one.shape, bool),
    )
