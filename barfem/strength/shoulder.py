"""Stress concentration where a forged flat runs into the round body: what its shoulders add, for fatigue.

A flat is mostly wider and always thinner than the bar. Over a short transition the stress cannot spread over the width
at once, and it crowds at the shoulders: bending across the flat at the thin end, bending in its plane at the round one.
Handbook charts of shoulders (Peterson, Stress Concentration Factors, ch. 3) are for one width or one diameter on both
sides and give too little here; the numbers are those of a three-dimensional model of the transition instead, as an
envelope (within 2 per cent) over widths of 1.2 to 2 diameters, thicknesses of 0.4 to 0.7 and lengths of 0.25 to 2.5.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Flat

__all__ = ["SHORTEST", "SHOULDER_EDGES", "shoulder_factors"]

Array = NDArray[np.float64]

SHOULDER_EDGES = 2
"""The two ends of a transition: the flat's, and the body's."""

SHORTEST = 0.25
"""Length of a transition over the diameter down to which the factors hold; shorter ones have no number."""


def shoulder_factors(flat: Flat, *, diameter_mm: float) -> Array | None:
    """Greatest stress at a transition's ends over the section's own there, (6,) for [N, V_1, V_2, T, M_1, M_2].

    With x the transition's length and w the flat's width, over the diameter: 1 + 1 / (3.7 x^2 + 0.33) in bending across
    the flat and in tension, 1 + (w - 1) / (2.35 x^2 + 0.25) in bending in its plane, 1 + 1 / (24 x^2) in torsion; shear
    goes with the bending that it makes grow. None for a pressed flat (its folds are another thing) and for a transition
    shorter than `SHORTEST` diameters.
    """
    x = flat.transition_mm / diameter_mm
    if flat.kind != "forged" or x < SHORTEST * (1.0 - 1e-9):
        return None
    across = 1.0 + 1.0 / (3.7 * x**2 + 0.33)
    in_plane = 1.0 + max(flat.width_mm / diameter_mm - 1.0, 0.0) / (2.35 * x**2 + 0.25)
    torsion = 1.0 + 1.0 / (24.0 * x**2)
    return np.array([across, across, in_plane, torsion, in_plane, across])
