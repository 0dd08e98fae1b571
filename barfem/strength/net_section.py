"""Nominal stress of a round bar or tube at a hole drilled across it: the net section, without concentration."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.strength.section_map import SectionMap

__all__ = ["NetRound", "drilled_map", "net_round"]

Array = NDArray[np.float64]


@frozen
class NetRound:
    """What a transverse hole leaves of a round section, as fractions of the whole one.

    `bending` is about the axis across the hole's, which the hole weakens most (the fibres farthest from it are gone).
    """

    area: float
    bending: float
    torsion: float


def net_round(*, diameter_mm: float, bore_mm: float = 0.0, hole_mm: float) -> NetRound:
    """Fractions left by a hole of diameter `hole_mm` < `diameter_mm` through a bar or tube, along a diameter.

    Takes out the strip |y| < hole / 2. Removed of the area: int 2 Y dy, of the second moment about y: int 2/3 Y^3 dy,
    about the hole's axis: int 2 y^2 Y dy, Y = sqrt(r^2 - y^2), outside less bore; torsion by the sum of the two.
    """
    removed = np.zeros(3)
    for diameter, sign in ((diameter_mm, 1.0), (bore_mm, -1.0)):
        if diameter > 0.0:
            removed += sign * _strip(radius=diameter / 2.0, half=min(hole_mm, diameter) / 2.0)
    area = np.pi * (diameter_mm**2 - bore_mm**2) / 4.0
    second_moment = np.pi * (diameter_mm**4 - bore_mm**4) / 64.0
    return NetRound(
        area=1.0 - removed[0] / area,
        bending=1.0 - removed[1] / second_moment,
        torsion=1.0 - (removed[1] + removed[2]) / (2.0 * second_moment),
    )


def drilled_map(whole: SectionMap, *, diameter_mm: float, bore_mm: float = 0.0, hole_mm: float) -> SectionMap:
    """`whole`, the map of a round bar or tube (straight or bent), at a hole whose axis is not known.

    Every moment meets the hole where it weakens most: the whole section's stress over the fraction left of each
    property, at the whole section's extreme fibre.
    """
    net = net_round(diameter_mm=diameter_mm, bore_mm=bore_mm, hole_mm=hole_mm)
    left = np.array([net.area, net.area, net.area, net.torsion, net.bending, net.bending])
    return replace(whole, matrix=whole.matrix / left)


def _strip(*, radius: float, half: float) -> Array:
    """Area, second moment about the y axis and about the x axis of a disc's part with |y| <= half (chords along x)."""
    phi = np.arcsin(min(half / radius, 1.0))
    s2, s4 = np.sin(2.0 * phi), np.sin(4.0 * phi)
    area = radius**2 * (phi + s2 / 2.0) * 2.0
    along = radius**4 * 4.0 / 3.0 * (3.0 * phi / 8.0 + s2 / 4.0 + s4 / 32.0)
    across = radius**4 * (phi / 2.0 - s4 / 8.0)
    return np.array([area, along, across])
