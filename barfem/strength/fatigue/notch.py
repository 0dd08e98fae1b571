"""Notch sensitivity: how much of an elastic stress concentration fatigue feels, Kf = 1 + q (Kt - 1).

Both rules serve holes and fillets in steel, by the radius at the notch's root.

- Neuber: q = 1 / (1 + (a / r)^0.5), with a^0.5 from the tensile strength in kpsi, a^0.5 in inch^0.5, by the handbook's
  polynomials for bending or axial load and for torsion (Shigley Eq. 6-35, 10th ed.; 50 to 250 kpsi, 340 to 1,700 MPa in
  bending, 50 to 220 kpsi in torsion; held at the ends).
- Peterson: q = 1 / (1 + a / r), a = 0.025 (2070 MPa / Sut)^1.8 mm, 0.6 of it in torsion (Dowling Eq. 10.10; steels
  above 550 MPa).
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError

__all__ = ["NotchRule", "fatigue_notch_factor", "neuber_root_a", "neuber_sensitivity", "peterson_sensitivity"]

Array = NDArray[np.float64]
NotchRule = Literal["neuber", "peterson"]

_MPA_PER_KPSI = 6.894757
_MM_PER_INCH = 25.4
_BENDING = (0.246, -3.08e-3, 1.51e-5, -2.67e-8)
_TORSION = (0.190, -2.51e-3, 1.35e-5, -2.67e-8)


def neuber_root_a(*, tensile_MPa: ArrayLike, torsion: bool = False) -> Array:
    """Root of Neuber's length [mm^0.5] of a steel."""
    kpsi = np.clip(np.asarray(tensile_MPa, float) / _MPA_PER_KPSI, 50.0, 220.0 if torsion else 250.0)
    inches = np.polynomial.polynomial.polyval(kpsi, _TORSION if torsion else _BENDING)
    return np.maximum(inches, 0.0) * np.sqrt(_MM_PER_INCH)


def neuber_sensitivity(*, radius_mm: ArrayLike, tensile_MPa: ArrayLike, torsion: bool = False) -> Array:
    """Notch sensitivity q [-], 0 to 1, by Neuber's length."""
    root = neuber_root_a(tensile_MPa=tensile_MPa, torsion=torsion)
    return 1.0 / (1.0 + root / np.sqrt(_radius(radius_mm)))


def peterson_sensitivity(*, radius_mm: ArrayLike, tensile_MPa: ArrayLike, torsion: bool = False) -> Array:
    """Notch sensitivity q [-], 0 to 1, by Peterson's length."""
    length = 0.025 * (2070.0 / np.asarray(tensile_MPa, float)) ** 1.8 * (0.6 if torsion else 1.0)
    return 1.0 / (1.0 + length / _radius(radius_mm))


def fatigue_notch_factor(
    kt: ArrayLike, *, radius_mm: ArrayLike, tensile_MPa: ArrayLike, torsion: bool = False, rule: NotchRule = "neuber"
) -> Array:
    """Kf of an elastic concentration `kt` (1 or more) at a root of `radius_mm`.

    Raises
    ------
    InputError
        Kt below 1, a radius that is not above zero, or an unknown rule.
    """
    concentration = np.asarray(kt, float)
    if not np.all(concentration >= 1.0):
        raise InputError(f"a stress concentration of {kt!r} cannot be.", expected="1 or more.")
    if rule not in get_args(NotchRule):
        raise InputError(f'there is no notch rule "{rule}".', expected=" or ".join(get_args(NotchRule)) + ".")
    sensitivity = neuber_sensitivity if rule == "neuber" else peterson_sensitivity
    return 1.0 + sensitivity(radius_mm=radius_mm, tensile_MPa=tensile_MPa, torsion=torsion) * (concentration - 1.0)


def _radius(radius_mm: ArrayLike) -> Array:
    radius = np.asarray(radius_mm, float)
    if not np.all(radius > 0.0):
        raise InputError(f"a notch radius of {radius_mm!r} mm cannot be.", expected="above 0.")
    return radius
