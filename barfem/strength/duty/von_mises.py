"""Von Mises stress of the plane stress at a surface, with a sign for cycle counting.

A tensor is its components (..., 3) in the section's own axes: along the bar, round it, and shear.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "amplitude_and_mean",
    "greatest_amplitude",
    "plane_von_mises",
    "signed_von_mises",
    "von_mises_coordinates",
    "von_mises_product",
]

Array = NDArray[np.float64]


def plane_von_mises(stress: ArrayLike) -> Array:
    """(s^2 - s t + t^2 + 3 shear^2)^0.5 of (..., 3) [MPa]."""
    stress = np.asarray(stress, float)
    along, around, shear = stress[..., 0], stress[..., 1], stress[..., 2]
    return np.sqrt(along * along - along * around + around * around + 3.0 * shear * shear)


def von_mises_product(a: ArrayLike, b: ArrayLike) -> Array:
    """The inner product that belongs to von Mises stress, 3/2 of that of the deviators; a with a is its square."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    cross = 0.5 * (a[..., 0] * b[..., 1] + a[..., 1] * b[..., 0])
    return a[..., 0] * b[..., 0] - cross + a[..., 1] * b[..., 1] + 3.0 * a[..., 2] * b[..., 2]


def von_mises_coordinates(stress: ArrayLike) -> Array:
    """Coordinates (..., 3) [MPa] in which von Mises stress is the length: along less half of round, round, shear."""
    stress = np.asarray(stress, float)
    out = np.empty(stress.shape)
    out[..., 0] = stress[..., 0] - 0.5 * stress[..., 1]
    out[..., 1] = np.sqrt(0.75) * stress[..., 1]
    out[..., 2] = np.sqrt(3.0) * stress[..., 2]
    return out


def signed_von_mises(stress: ArrayLike, reference: ArrayLike) -> Array:
    """Von Mises stress with the sign of the inner product with `reference`, the tensor at full travel.

    For a stress that only scales, it is the scale itself. A principal stress as sign-giver would flip at random in
    pure torsion.
    """
    return np.copysign(plane_von_mises(stress), von_mises_product(stress, reference))


def greatest_amplitude(stress: ArrayLike) -> Array:
    """Half the greatest von Mises distance between any two of the tensors (states, ..., 3) [MPa], or a little more.

    It is that of the box in which they lie: exact for two tensors and for a stress that only scales.
    """
    return np.asarray(0.5 * np.linalg.norm(np.ptp(von_mises_coordinates(stress), axis=0), axis=-1))


def amplitude_and_mean(one: ArrayLike, other: ArrayLike) -> tuple[Array, Array]:
    """(amplitude, mean) of a cycle between two tensors: von Mises of half the difference, and of the average.

    The mean is never negative: load mean earns no credit.
    """
    one, other = np.asarray(one, float), np.asarray(other, float)
    return plane_von_mises(0.5 * (one - other)), plane_von_mises(0.5 * (one + other))
