"""The handbook's numbers for a steel's stress-life line, each as a pure function of arrays.

"Shigley" is Shigley's Mechanical Engineering Design, Budynas and Nisbett, 10th ed. in SI units. The load factor is 1
throughout: amplitudes are von Mises amplitudes, and a torsion factor as well would count torsion twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError

__all__ = [
    "STRENGTH_STANDARD_DEVIATION",
    "Factor",
    "effective_diameter_mm",
    "endurance_limit_of_specimen",
    "fraction_at_1000_cycles",
    "size_factor",
    "survival_factor",
]

Array = NDArray[np.float64]

MPA_PER_KPSI = 6.894757

# Scatter of fatigue strength, as a share of its mean: the 8 % behind Shigley Table 6-5 (ke = 1 - 0.08 z).
STRENGTH_STANDARD_DEVIATION = 0.08


@dataclass(frozen=True)
class Factor:
    """One number that went into a fatigue strength, with where it comes from; `value` is an array of the places."""

    name: str
    value: Array
    source: str
    unit: str = ""


def endurance_limit_of_specimen(tensile_MPa: ArrayLike) -> Array:
    """Endurance limit of a polished rotating specimen [MPa]: half the tensile strength, never above 700 MPa.

    Shigley Eq. 6-8.
    """
    return np.minimum(0.5 * np.asarray(tensile_MPa, float), 700.0)


def fraction_at_1000_cycles(tensile_MPa: ArrayLike) -> Array:
    """Fraction f of the tensile strength that 1,000 reversed cycles leave usable [-].

    f = 1.06 - 2.8e-3 S + 6.9e-6 S^2, S in kpsi (fit of Shigley Fig. 6-18, 70 to 200 kpsi); 0.9 below 70 kpsi, and
    held at its value for 1,380 MPa (200 kpsi) above that, where the parabola would turn up again.
    """
    kpsi = np.minimum(np.asarray(tensile_MPa, float), 1380.0) / MPA_PER_KPSI
    return np.where(kpsi < 70.0, 0.9, 1.06 - 2.8e-3 * kpsi + 6.9e-6 * kpsi**2)


def effective_diameter_mm(*, diameter_mm: ArrayLike, torsion_share: ArrayLike) -> Array:
    """Diameter [mm] of the rotating bar with as much highly stressed steel.

    d in torsion, where the whole skin is stressed alike; 0.37 d in reversed bending of a bar that does not rotate
    (Shigley Eq. 6-24). Between them in proportion to `torsion_share`, the share of torsion in the squared von Mises
    amplitude at the place (0 to 1); the blend is ours.
    """
    share = np.asarray(torsion_share, float)
    return np.asarray(diameter_mm, float) * (0.37 * (1.0 - share) + share)


def size_factor(diameter_mm: ArrayLike) -> Array:
    """Size factor kb [-] for the effective diameter [mm], never above 1.

    1.24 d^-0.107 up to 51 mm, 1.51 d^-0.157 from there to 254 mm (Shigley Eq. 6-20). The handbook's 1.11 at
    2.79 mm is not credited. The lower of both curves is taken, so that no step up is left where they meet.
    """
    d = np.maximum(np.asarray(diameter_mm, float), 1e-9)
    return np.minimum(1.0, np.minimum(1.24 * d**-0.107, 1.51 * d**-0.157))


def survival_factor(survival: float) -> float:
    """Share of the median fatigue strength that `survival` (0 to 1) of all bars have: 1 - 0.08 z.

    Normal scatter of strength with 8 % standard deviation (Shigley Eq. 6-29): 0.897 at 90 %, 0.814 at 99 %.

    Raises
    ------
    InputError
        `survival` is not between 0 and 1.
    """
    if not 0.0 < survival < 1.0:
        raise InputError(f"survival {survival:g} is not a share of bars.", expected="between 0 and 1, such as 0.90.")
    return 1.0 - STRENGTH_STANDARD_DEVIATION * NormalDist().inv_cdf(survival)
