"""Notch sensitivity: how much of a geometric stress concentration fatigue feels, at the root of a notch."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["fatigue_factor", "neuber_length_mm", "neuber_sensitivity"]

Array = NDArray[np.float64]
Load = Literal["bending", "torsion"]

MPA_PER_KPSI = 6.894757
MM_PER_INCH = 25.4

# Square root of Neuber's constant, sqrt(inch), by powers of the tensile strength in kpsi, and the strengths between
# which the fit holds (Shigley Eq. 6-35, 10th ed.; bending serves for axial load).
_FIT = {
    "bending": ((0.246, -3.08e-3, 1.51e-5, -2.67e-8), (50.0, 250.0)),
    "torsion": ((0.190, -2.51e-3, 1.35e-5, -2.67e-8), (50.0, 220.0)),
}


def neuber_length_mm(tensile_MPa: ArrayLike, *, load: Load) -> Array:
    """Neuber's constant a [mm] of a steel: q = 1 / (1 + sqrt(a / r)).

    Shigley Eq. 6-35, held at the ends of its range (345 to 1 724 MPa; torsion to 1 517 MPa), and never below zero.
    """
    coefficients, (least, most) = _FIT[load]
    kpsi = np.clip(np.asarray(tensile_MPa, float) / MPA_PER_KPSI, least, most)
    root = np.maximum(np.polynomial.polynomial.polyval(kpsi, coefficients), 0.0)
    return np.asarray(root**2 * MM_PER_INCH)


def neuber_sensitivity(*, radius_mm: ArrayLike, tensile_MPa: ArrayLike, load: Load = "bending") -> Array:
    """Notch sensitivity q [0 to 1] at a notch of root radius `radius_mm`: 1 / (1 + sqrt(a / r)), Shigley Eq. 6-34.

    A hole's own radius is its notch radius. `load` "torsion" is for nominal shear.
    """
    radius = np.asarray(radius_mm, float)
    return 1.0 / (1.0 + np.sqrt(neuber_length_mm(tensile_MPa, load=load) / np.maximum(radius, 1e-9)))


def fatigue_factor(concentration: ArrayLike, sensitivity: ArrayLike) -> Array:
    """Kf = 1 + q (Kt - 1), Shigley Eq. 6-32."""
    return np.asarray(1.0 + np.asarray(sensitivity, float) * (np.asarray(concentration, float) - 1.0))
