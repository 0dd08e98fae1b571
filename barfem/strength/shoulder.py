"""Stress concentration where a forged flat runs into the round body: what its shoulders add, for fatigue.

A flat is mostly wider and always thinner than the bar. Over a short transition the stress cannot spread over the width
at once, and it crowds at the shoulders: bending across the flat at the thin end, bending in its plane at the round one.
Where its sides are straight, stress rises again at the corners where they begin and end, the more the smaller their
fillets, and over long transitions too. Handbook charts of shoulders (Peterson, Stress Concentration Factors, ch. 3) are
for one width or one diameter on both sides and give too little here; the numbers are envelopes of three-dimensional
models of the transition instead: 35 with half-cosine outlines and 40 with straight sides, widths of 1.2 to 2 diameters,
thicknesses of 0.4 to 0.7, lengths of 0.25 to 2.5, fillets of 0.1 to 0.4. None lies more than 3 per cent above.

The transition of a pressed flat has a bound on its folds instead (`FOLD`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Flat

__all__ = ["DEFAULT_FILLET_MM", "FOLD", "SHORTEST", "SHOULDER_EDGES", "has_shoulder_factors", "shoulder_factors"]

Array = NDArray[np.float64]

SHOULDER_EDGES = 2
"""The two ends of a transition: the flat's, and the body's."""

SHORTEST = 0.25
"""Length of a transition over the diameter down to which the factors hold; shorter ones have no number."""


def has_shoulder_factors(flat: Flat, *, diameter_mm: float) -> bool:
    """Whether there are any: of a pressed flat a bound alone; of a forged one not below `SHORTEST` diameters."""
    if flat.kind == "pressed":
        return flat.transition_mm > 0.0
    return flat.transition_mm / diameter_mm >= SHORTEST * (1.0 - 1e-9)


DEFAULT_FILLET_MM = 5.0
"""Fillet of a transition that does not say: about the smallest that a forging die has (common practice, no source)."""

FOLD = 1.5
"""Bound on the folds of a pressed transition over the section's stress there, whatever the load, cracks excluded:
common practice, no source. A fold runs along the bar, across which little is carried but where the wall turns."""

LEAST_FILLET = 0.1
"""Fillet over the diameter down to which the factors were modelled; smaller ones count as this."""


def shoulder_factors(flat: Flat, *, diameter_mm: float, at_body: bool) -> Array | None:
    """Greatest stress at an end of a transition over the section's own there, (6,) for [N, V_1, V_2, T, M_1, M_2].

    `at_body`: at its round end, where torsion crowds under a wide flat, and bending across little. Tension goes as
    bending across the flat; shear with the bending that it makes grow. None where there are none. Where the outline is
    not given it is that of straight sides, which are never better.
    """
    if not has_shoulder_factors(flat, diameter_mm=diameter_mm):
        return None
    if flat.kind == "pressed":
        return np.full(6, FOLD)
    x = flat.transition_mm / diameter_mm
    wider, thinner = max(flat.width_mm / diameter_mm - 1.0, 0.0), max(1.0 - flat.thickness_mm / diameter_mm, 0.0)
    outlines = [_at_body(x, wider, thinner) if at_body else _at_flat(x)]
    in_plane = [1.0 + wider / (2.35 * x**2 + 0.25)]
    if flat.outline != "cosine":
        fillet = DEFAULT_FILLET_MM if flat.fillet_mm is None else flat.fillet_mm
        r = max(fillet / diameter_mm, LEAST_FILLET)
        outlines.append(_straight_at_body(x, wider, r) if at_body else _straight_at_flat(x, wider, thinner, r))
        # Over short transitions it crowds at the step in thickness as well.
        in_plane.append(1.0 + 0.74 * wider / (x + _of_fillet(wider) * r) + 0.003 / x**3)
    across, torsion = (max(each) for each in zip(*outlines, strict=True))
    bends = max(in_plane)
    return np.array([across, across, bends, torsion, bends, across])


def _at_flat(x: float) -> tuple[float, float]:
    """Across and torsion at the flat's end of a half cosine `x` diameters long."""
    return 1.0 + 1.0 / (3.7 * x**2 + 0.33), 1.0 + 1.0 / (24.0 * x**2)


def _at_body(x: float, wider: float, thinner: float) -> tuple[float, float]:
    """Across and torsion at the round end: the wings of a wide flat do not twist with it at once."""
    torsion = 1.0 + (wider / 0.6) ** 0.4 / (max(3.5 + 15.0 * (0.5 - thinner), 2.0) * x**2 + 0.5)
    return min(_at_flat(x)[0], 1.0 + 0.04 / x**3), torsion


def _of_fillet(wider: float) -> float:
    """How much of a fillet counts as length of the transition: a wider flat's is longer."""
    return 0.45 + 1.2 * wider**2


def _straight_at_flat(x: float, wider: float, thinner: float, fillet: float) -> tuple[float, float]:
    """Straight sides, in proportion to their slope: the corner of the thickness."""
    across = 1.0 + 0.92 * thinner / (x + (0.6 + 1.4 * wider**2) * fillet) + 0.012 / x**3
    return across, 1.0


def _straight_at_body(x: float, wider: float, fillet: float) -> tuple[float, float]:
    """Straight sides at the round end: the corner of the width."""
    across = min(_at_flat(x)[0], 1.0 + 0.04 * (1.0 + 3.6 * wider**2) / x**3)
    return across, 1.0 + 0.4 * wider**0.6 / (x + _of_fillet(wider) * fillet)
