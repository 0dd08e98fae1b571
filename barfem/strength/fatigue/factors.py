"""The handbook's numbers for a steel's stress-life line, each as a pure function of arrays.

"Shigley" is Shigley's Mechanical Engineering Design, Budynas and Nisbett, 10th ed. in SI units. The load factor is 1
throughout: amplitudes are von Mises amplitudes, and a torsion factor as well would count torsion twice.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.material import Scatter
from barfem.model.survival import checked_survival

__all__ = [
    "PLATING_FACTOR",
    "STRENGTH_STANDARD_DEVIATION",
    "Factor",
    "effective_diameter_mm",
    "endurance_limit_of_specimen",
    "fraction_at_1000_cycles",
    "log10_life_deviation",
    "log10_strength_deviation",
    "scatter_words",
    "size_factor",
    "strength_share",
    "survival_factor",
]

Array = NDArray[np.float64]

MPA_PER_KPSI = 6.894757

# Scatter of fatigue strength, as a share of its mean: the 8 % behind Shigley Table 6-5 (ke = 1 - 0.08 z).
STRENGTH_STANDARD_DEVIATION = 0.08
# Scatter of log10 life of bars of one batch, and the exponent of a rough bar's line on which it is that (common
# practice).
BATCH_LOG10_LIFE_DEVIATION = 0.2
BATCH_EXPONENT = 6.0

# Chromium, nickel and cadmium take "as much as 50 percent" of the endurance limit, zinc nothing (Shigley sec. 6-9; from
# memory, sure). Hydrogen is another matter, and is warned of, not counted.
PLATING_FACTOR = {"zinc": 1.0, "chromium": 0.5, "nickel": 0.5, "cadmium": 0.5}


@frozen
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
    """Fraction f of the tensile strength that 1 000 reversed cycles leave usable [-].

    f = 1.06 - 2.8e-3 S + 6.9e-6 S^2, S in kpsi (fit of Shigley Fig. 6-18, 70 to 200 kpsi); 0.9 below 70 kpsi, and
    held at its value for 1 380 MPa (200 kpsi) above that, where the parabola would turn up again.
    """
    kpsi = np.minimum(np.asarray(tensile_MPa, float), 1380.0) / MPA_PER_KPSI
    return np.where(kpsi < 70.0, 0.9, 1.06 - 2.8e-3 * kpsi + 6.9e-6 * kpsi**2)


def effective_diameter_mm(*, diameter_mm: ArrayLike, torsion_share: ArrayLike) -> Array:
    """Diameter [mm] of the rotating bar with as much highly stressed steel.

    d in torsion, where the whole skin is stressed alike; 0.37 d in reversed bending of a bar that does not rotate
    (Shigley Eq. 6-24). Between them in proportion to `torsion_share`, the share of torsion in the squared von Mises
    amplitude at the place (below 0, tension both ways, as 0); the blend is ours.
    """
    share = np.maximum(np.asarray(torsion_share, float), 0.0)
    return np.asarray(diameter_mm, float) * (0.37 * (1.0 - share) + share)


def size_factor(diameter_mm: ArrayLike) -> Array:
    """Size factor kb [-] for the effective diameter [mm], never above 1.

    1.24 d^-0.107 up to 51 mm, 1.51 d^-0.157 from there to 254 mm (Shigley Eq. 6-20). The handbook's 1.11 at
    2.79 mm is not credited. The lower of both curves is taken, so that no step up is left where they meet.
    """
    d = np.maximum(np.asarray(diameter_mm, float), 1e-9)
    log = np.log(d)  # with its exponential, a third of the time that a power takes
    thin = 1.24 * np.exp(-0.107 * log)
    return np.minimum(1.0, np.minimum(thin, 1.51 * np.exp(-0.157 * log)) if np.any(d > 50.0) else thin)


def survival_factor(survival: float, deviation: float = STRENGTH_STANDARD_DEVIATION) -> float:
    """The handbook's share of the median strength that `survival` (0 to 1) of all have: 1 - 0.08 z (Shigley Eq. 6-29).

    Between steels alone; what a bar is judged with is `strength_share`.

    Raises
    ------
    InputError
        `survival` is not between 0 and 1, or so near to 1 that no strength is left.
    """
    factor = 1.0 - deviation * _z(survival)
    if factor <= 0.0:
        raise InputError(
            f"survival {survival:g} is beyond what a normal scatter of {100.0 * deviation:.0f} % holds for.",
            expected="a share nearer to 0.9.",
        )
    return factor


def strength_share(survival: float, scatter: Scatter | None = None) -> float:
    """Share of the median fatigue strength that `survival` (0 to 1) of all bars have: 10^(-z s), lognormal.

    s is the standard deviation of log10 strength (`log10_strength_deviation`): by default 0.865 at 90 %, 0.768 at 99 %.

    Raises
    ------
    InputError
        `survival` is not between 0 and 1.
    """
    return float(10.0 ** (-_z(survival) * log10_strength_deviation(scatter)))


def _z(survival: float) -> float:
    return NormalDist().inv_cdf(checked_survival(survival))


def log10_strength_deviation(scatter: Scatter | None = None) -> float:
    """Standard deviation of log10 fatigue strength.

    Of tests: their log10 life's over the exponent of their line. Else two parts together, as independent ones: that of
    strength between steels (8 % unless a table says otherwise; its lower side, -log10(1 - 0.08)), and that of life
    within one batch (0.2 of log10 life on a line of exponent 6; one heat of polished specimens has 0.09 to 0.19
    already).
    """
    if scatter is not None and scatter.log10_life_deviation is not None and scatter.exponent is not None:
        return scatter.log10_life_deviation / scatter.exponent
    deviation = STRENGTH_STANDARD_DEVIATION
    if scatter is not None and scatter.strength_deviation is not None:
        deviation = scatter.strength_deviation
    return math.hypot(math.log10(1.0 - deviation), BATCH_LOG10_LIFE_DEVIATION / BATCH_EXPONENT)


def scatter_words(scatter: Scatter | None) -> str:
    """The scatter and its source, for printing."""
    if scatter is None or scatter.strength_deviation is not None:
        batch = 10.0 ** (BATCH_LOG10_LIFE_DEVIATION / BATCH_EXPONENT) - 1.0
        share = STRENGTH_STANDARD_DEVIATION if scatter is None else scatter.strength_deviation
        source = "as in Shigley Table 6-5" if scatter is None else scatter.source
        return (
            f"{share:.3g} standard deviation of fatigue strength ({source}) together with "
            f"{BATCH_LOG10_LIFE_DEVIATION:g} of log10 life within a batch on a line of exponent {BATCH_EXPONENT:g}, "
            f"which is {100.0 * batch:.1f} % of strength (common practice, no source)"
        )
    return (
        f"standard deviation {scatter.log10_life_deviation:g} of log10 life on a line of exponent "
        f"{scatter.exponent:g} ({scatter.source})"
    )


def log10_life_deviation(*, exponent: float, scatter: Scatter | None = None) -> float:
    """Standard deviation of log10 life on a line N ~ amplitude^-`exponent`: that of log10 strength times it, 0.2 at
    least.

    Of tests, theirs has no floor.
    """
    found = exponent * log10_strength_deviation(scatter)
    tested = scatter is not None and scatter.log10_life_deviation is not None
    return found if tested else max(found, BATCH_LOG10_LIFE_DEVIATION)
