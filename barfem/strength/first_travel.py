"""What is left after the first full travel above yield: an estimate of the set and of the force that is lost.

Travel is imposed, so the deformation of each section is taken to stay the elastic one while its moment falls behind:
a section whose elastic stress is eta times yield keeps the share g(eta) of its elastic moment. By virtual work the set
at the pickups over the travel, and the loss of force at full travel, are both the sum of (share of strain energy) x
(1 - g). g is that of torsion of an ideally plastic round or tube, which yields more for the same eta than bending does.
Holds for small plastic zones; above a fifth or so it is an order of magnitude. Hardening is not in it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["moment_kept", "set_share"]

Array = NDArray[np.float64]


def moment_kept(overstress: ArrayLike, *, bore_ratio: float = 0.0) -> Array:
    """Share of the elastic torque left in an ideally plastic section; `overstress` is elastic stress / yield.

    With radius c = 1 / eta of the elastic core (outside radius 1, bore k): torque (pi/2)(c^4 - k^4) / c +
    (2 pi/3)(1 - c^3) over eta (pi/2)(1 - k^4); once the core has shrunk to the bore, (2 pi/3)(1 - k^3) (any text on
    plastic torsion, e.g. Boresi and Schmidt, sec. 6.10).
    """
    eta = np.maximum(np.asarray(overstress, float), 1.0)
    k = bore_ratio
    core = np.maximum(1.0 / eta, k) if k > 0.0 else 1.0 / eta
    torque = 0.5 * np.pi * (core**4 - k**4) / core + 2.0 * np.pi / 3.0 * (1.0 - core**3)
    # Torque per unit of yield shear; elastically it would be eta times that at first yield.
    return np.minimum(torque / (eta * 0.5 * np.pi * (1.0 - k**4)), 1.0)


def set_share(*, energy: ArrayLike, overstress: ArrayLike, bore_ratio: float = 0.0) -> float:
    """Share of the travel that stays as set, equal to the share of the force lost; both arrays (sections,).

    `energy` is each section's part of the strain energy of everything that deforms (all parts together: 1).
    """
    lost = np.asarray(energy, float) * (1.0 - moment_kept(overstress, bore_ratio=bore_ratio))
    return float(lost.sum())
