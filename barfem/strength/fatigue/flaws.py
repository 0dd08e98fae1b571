"""What a rough, scaled, decarburised or pitted skin does to steel: it is a shallow flaw.

Physics first:

1. A crack starts at the flaw at once, or in a decarburised skin early; what decides is whether it stops. It stands in
   steel of the core's hardness, at the flaw's depth: hardness, stress and residual stress are taken there.
2. The reversed stress that it just stands (Murakami and Endo): sigma_w = 1.43 (HV + 120) / (area^0.5)^(1/6), MPa,
   area^0.5 in micrometres; of a long shallow flaw of depth a, area^0.5 = 10^0.5 a. HV 70 to 720, area^0.5 to 1 000
   micrometres (a = 0.32 mm). Beyond, the crack is a long one: its threshold stress intensity no longer grows with it
   and is held at the value that the model ends with, so that the limit falls with (area^0.5)^-0.5.
3. Mean stress: times ((1 - R) / 2)^alpha, alpha = 0.226 + HV 1e-4 (the same), R that of the stress across the crack,
   load and residual stress together. ((1 - R) / 2) is amplitude over maximum, so that the reversed amplitude of the
   same harm is amplitude^(1 - alpha) maximum^alpha: it goes to nothing, without a step, as the cycle becomes
   compressive.
4. A flaw feels the stress across it. In a biaxial field (Endo): sigma_1 + kappa sigma_2, kappa = -0.18, so that a
   flaw's limit in pure torsion is 0.85 of that in bending as a shear stress; sound steel feels von Mises (0.577).
5. Sound steel caps it: a flaw so small that its limit exceeds that of a polished specimen does no harm
   (`strength.fatigue_strength` takes the lower of both).

Sources: Y. Murakami, Metal Fatigue: Effects of Small Defects and Nonmetallic Inclusions, Elsevier 2002, ch. 5 and 6;
Murakami and Endo, Int. J. Fatigue 16 (1994) 163; M. Endo and I. Ishimoto, Int. J. Fatigue 28 (2006) 592 for kappa. From
memory, sure.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError

__all__ = [
    "FLAW_MEAN_SOURCE",
    "FLAW_MEAN_WORDS",
    "FLAW_SOURCE",
    "LARGEST_SMALL_FLAW_UM",
    "felt_share",
    "flaw_limit",
    "flaw_size_um",
    "mean_stress_exponent",
    "normal_share",
]

Array = NDArray[np.float64]

LARGEST_SMALL_FLAW_UM = 1000.0
FLAW_SOURCE = "Murakami and Endo, 1.43 (HV + 120) / (area^0.5)^(1/6)"
FLAW_MEAN_WORDS = "amplitude^(1 - a) x maximum^a, a = 0.226 + HV / 10 000"
FLAW_MEAN_SOURCE = "Murakami 2002, ((1 - R) / 2)^a; from memory, sure"
_KAPPA = -0.18
_SOFTEST_HV, _HARDEST_HV = 70.0, 720.0


def flaw_size_um(depth_mm: ArrayLike) -> Array:
    """area^0.5 [micrometres] of a long shallow flaw of a depth [mm]: 10^0.5 times it (Murakami 2002, ch. 2)."""
    return np.sqrt(10.0) * 1000.0 * np.asarray(depth_mm, float)


def flaw_limit(*, hardness_HV: ArrayLike, size_um: ArrayLike) -> Array:
    """Reversed stress amplitude across a surface flaw [MPa] at which its crack just stands.

    `size_um` is area^0.5; above 1 000 micrometres the threshold of a long crack, continuous with the model.

    Raises
    ------
    InputError
        A size that is not above zero.
    """
    size = np.asarray(size_um, float)
    if not np.all(size > 0.0):
        raise InputError("a flaw of no size has no limit.", expected="a size above zero.")
    hardness = np.clip(np.asarray(hardness_HV, float), _SOFTEST_HV, _HARDEST_HV)
    small = 1.43 * (hardness + 120.0) / np.minimum(size, LARGEST_SMALL_FLAW_UM) ** (1.0 / 6.0)
    return small * np.sqrt(LARGEST_SMALL_FLAW_UM / np.maximum(size, LARGEST_SMALL_FLAW_UM))


def mean_stress_exponent(hardness_HV: ArrayLike) -> Array:
    """alpha of ((1 - R) / 2)^alpha: 0.226 + HV 1e-4."""
    return 0.226 + 1e-4 * np.clip(np.asarray(hardness_HV, float), _SOFTEST_HV, _HARDEST_HV)


def normal_share(torsion_share: ArrayLike) -> Array:
    """Greatest principal stress over von Mises stress, by the share of torsion in the squared von Mises stress."""
    return _principal(torsion_share)[0]


def felt_share(torsion_share: ArrayLike) -> Array:
    """What a flaw feels, sigma_1 - 0.18 sigma_2, over von Mises stress: 1 in bending, 0.681 in torsion (Endo)."""
    first, second = _principal(torsion_share)
    return first + _KAPPA * second


def _principal(torsion_share: ArrayLike) -> tuple[Array, Array]:
    """Both principal stresses at a free surface under bending and torsion, over the von Mises stress.

    From sigma_1 sigma_2 = -share / 3 and sigma_1 + sigma_2 = (1 - share)^0.5, so that it holds for any state there: a
    share below 0, to -3, is tension both ways.
    """
    share = np.minimum(np.maximum(np.asarray(torsion_share, float), -3.0), 1.0)
    half = 0.5 * np.sqrt(1.0 - share)
    radius = np.sqrt(np.maximum(0.25 * (1.0 - share) + share / 3.0, 0.0))
    return half + radius, half - radius
