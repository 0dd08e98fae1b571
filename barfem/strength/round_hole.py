"""Stress at the mouth of a hole drilled across a round bar or tube, in bending, tension and torsion."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.strength.net_section import net_round
from barfem.strength.notch import fatigue_factor, neuber_sensitivity

__all__ = ["ROUND_EDGE_ANGLES_RAD", "RoundHole", "round_hole", "round_hole_edge"]

Array = NDArray[np.float64]

# Angles from the bar's axis looked at: bending is worst at 90 degrees, torsion at 45 or 135, both together between.
ROUND_EDGE_ANGLES_RAD = np.radians(np.linspace(45.0, 135.0, 9))

# Shigley Table A-16 (after Peterson 1974), from memory: rows by hole / outside diameter, columns by bore / outside
# diameter; the share A of the section modulus that is left, and the concentration factor on it.
_BENDING_HOLE = np.array([0.050, 0.075, 0.100, 0.125, 0.150, 0.175, 0.200, 0.225, 0.250, 0.275, 0.300])
_BENDING_BORE = np.array([0.0, 0.6, 0.9])
_BENDING_LEFT = np.array(
    [
        [0.88, 0.86, 0.83, 0.80, 0.76, 0.72, 0.68, 0.65, 0.61, 0.58, 0.54],
        [0.91, 0.88, 0.85, 0.82, 0.79, 0.75, 0.72, 0.68, 0.64, 0.61, 0.58],
        [0.92, 0.89, 0.86, 0.82, 0.79, 0.76, 0.73, 0.69, 0.67, 0.66, 0.64],
    ]
).T
_BENDING_KT = np.array(
    [
        [2.42, 2.35, 2.27, 2.20, 2.15, 2.10, 2.07, 2.04, 2.00, 1.97, 1.94],
        [2.55, 2.43, 2.36, 2.32, 2.29, 2.26, 2.23, 2.21, 2.18, 2.16, 2.14],
        [2.63, 2.55, 2.49, 2.41, 2.39, 2.38, 2.39, 2.40, 2.42, 2.48, 2.52],
    ]
).T
_TORSION_HOLE = np.array([0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40])
_TORSION_BORE = np.array([0.0, 0.4, 0.6, 0.8])
_TORSION_LEFT = np.array(
    [
        [0.92, 0.87, 0.83, 0.79, 0.74, 0.68, 0.63],
        [0.92, 0.87, 0.84, 0.80, 0.75, 0.69, 0.64],
        [0.92, 0.87, 0.85, 0.81, 0.77, 0.72, 0.68],
        [0.93, 0.89, 0.86, 0.82, 0.78, 0.75, 0.71],
    ]
).T
_TORSION_KTS = np.array(
    [
        [1.68, 1.62, 1.58, 1.54, 1.51, 1.47, 1.44],
        [1.70, 1.65, 1.63, 1.63, 1.63, 1.63, 1.63],
        [1.72, 1.69, 1.70, 1.72, 1.76, 1.81, 1.89],
        [1.74, 1.75, 1.79, 1.86, 1.97, 2.09, 2.25],
    ]
).T
LARGEST_IN_TABLE = 0.30


@frozen
class RoundHole:
    """Concentration at a hole across a round bar or tube.

    Attributes
    ----------
    bending_left, torsion_left
        Share of the section modulus (bending) and of the polar one (torsion) that the nominal stress stands on.
    bending, torsion
        Greatest edge stress over the nominal bending stress; greatest shear at the edge (half the stress round it)
        over the nominal shear.
    tension
        On the net area.
    in_table
        False where hole / diameter exceeds the handbook's 0.30: the factors are then held at their last values, and
        the shares follow the net section.
    """

    bending_left: float
    torsion_left: float
    area_left: float
    bending: float
    torsion: float
    tension: float
    in_table: bool


def round_hole(*, diameter_mm: float, bore_mm: float = 0.0, hole_mm: float) -> RoundHole:
    """Factors of a hole of `hole_mm` along a diameter: Shigley Table A-16, linear between its entries.

    Tension is Heywood's 2 + (1 - x)^3 for a plate, on the net area: an estimate here, and small in a bar's end.
    """
    x, bore = hole_mm / diameter_mm, bore_mm / diameter_mm
    net = net_round(diameter_mm=diameter_mm, bore_mm=bore_mm, hole_mm=hole_mm)
    shares = []
    for hole, bores, left, share, name in (
        (_BENDING_HOLE, _BENDING_BORE, _BENDING_LEFT, net.bending, "bending"),
        (_TORSION_HOLE, _TORSION_BORE, _TORSION_LEFT, net.torsion, "torsion"),
    ):
        found = _table(x, bore, hole, bores, left)
        if x > hole[-1]:
            last = net_round(diameter_mm=diameter_mm, bore_mm=bore_mm, hole_mm=float(hole[-1]) * diameter_mm)
            found *= share / getattr(last, name)
        shares.append(found)
    return RoundHole(
        bending_left=shares[0],
        torsion_left=shares[1],
        area_left=net.area,
        bending=_table(x, bore, _BENDING_HOLE, _BENDING_BORE, _BENDING_KT),
        torsion=_table(x, bore, _TORSION_HOLE, _TORSION_BORE, _TORSION_KTS),
        tension=2.0 + (1.0 - x) ** 3,
        in_table=x <= LARGEST_IN_TABLE,
    )


def _table(x: float, bore: float, holes: Array, bores: Array, values: Array) -> float:
    """Bilinear in hole and bore, held beyond the table's ends."""
    return float(np.interp(x, holes, [np.interp(bore, bores, row) for row in values]))


def round_hole_edge(
    hole: RoundHole, whole: Array, *, angle_rad: float, hole_mm: float, tensile_MPa: float, sensitive: bool = True
) -> Array:
    """Stress round the hole's mouth (p, 6), MPa per unit resultant, from the map (p, 3, 6) of the undrilled section.

    The point p of `whole` is where the hole comes out; its stress along the bar and its shear there are the loads on
    the mouth, and the stress at `angle_rad` from the bar's axis is

    sigma [1 - (K - 1) cos 2u] - 2 Ks tau sin 2u, K and Ks on the whole section,

    the form of a wide plate (Kirsch) with the handbook's sizes. With `sensitive` the sizes are those that fatigue feels
    (Neuber's notch sensitivity), without it the geometric ones.
    """
    q = neuber_sensitivity(radius_mm=hole_mm / 2.0, tensile_MPa=tensile_MPa) if sensitive else 1.0
    qs = neuber_sensitivity(radius_mm=hole_mm / 2.0, tensile_MPa=tensile_MPa, load="torsion") if sensitive else 1.0
    sizes = np.full(6, float(fatigue_factor(hole.bending, q)) / hole.bending_left)
    sizes[0] = float(fatigue_factor(hole.tension, q)) / hole.area_left
    equivalent = max(2.0 * hole.torsion / np.sqrt(3.0), 1.0)  # on the nominal shear's von Mises stress
    twist = float(fatigue_factor(equivalent, qs)) * np.sqrt(3.0) / hole.torsion_left
    axial = 1.0 - (sizes - 1.0) * np.cos(2.0 * angle_rad)
    return np.asarray(whole[:, 0] * axial - twist * np.sin(2.0 * angle_rad) * whole[:, 2])
