"""Stress round the edge of a hole through a flat, for each load on the flat: at every point of the edge, with its sign.

The hole's wall and the broad face are free, so the edge between them carries one stress only, round the hole. It is
given as a function of the angle from the bar's axis, so that the loads add at a point and never as maxima. The angular
forms are those of a hole in a wide plate (Kirsch for tension, Muskhelishvili for in-plane bending and shear, Goodier
and Reissner for plate bending); their sizes are the handbooks' for a finite width, on net sections.

Angles run from the bar's axis towards the flat's axis 2 (its width); axis 1 is the flat's normal, and resultants and
signs are those of `barfem.strength.section_map`. In-plane loads stress the middle of the wall most (a tenth more than
its ends) and out-of-plane loads its ends: both are added at the ends, which is on the safe side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.strength.notch import fatigue_factor, neuber_sensitivity
from barfem.strength.rectangle import rectangle_face_torsion

__all__ = [
    "LOADS",
    "FlatHole",
    "flat_hole",
    "flat_hole_edge",
    "plate_bending_factor",
    "tension_factor",
    "width_correction_in_bending",
]

Array = NDArray[np.float64]

LOADS = ("tension", "shear across the flat", "shear in its plane", "torsion", "bending in its plane", "bending across")
"""What N, V_1, V_2, T, M_1, M_2 are to a flat, in that order."""


def tension_factor(ratio: float) -> float:
    """Kt on the net section, tension, hole diameter over width `ratio`: 3 - 3.13 x + 3.66 x^2 - 1.53 x^3.

    Roark, Formulas for Stress and Strain, Table 17.1, central hole in a bar of rectangular section.
    """
    return float(3.0 - 3.13 * ratio + 3.66 * ratio**2 - 1.53 * ratio**3)


def plate_bending_factor(depth_ratio: float) -> float:
    """Kt of a hole in a wide plate bent out of its plane, hole diameter over thickness `depth_ratio` = x.

    1.79 + 0.25 / (0.39 + x) + 0.81 / (1 + x^2) - 0.26 / (1 + x^3): Roark Table 17.1 and Peterson, Chart 4.82. Its
    limits are Goodier's thin plate, (5 + 3 nu) / (3 + nu), and 3 for a small hole.
    """
    x = depth_ratio
    return float(1.79 + 0.25 / (0.39 + x) + 0.81 / (1.0 + x**2) - 0.26 / (1.0 + x**3))


def width_correction_in_bending(ratio: float) -> float:
    """Kt on the net section of a flat bent out of its plane, over that of a wide plate: 1 - 1.04 x + 1.22 x^2.

    Roark Table 17.1 and Peterson, Chart 4.83, given for hole diameter over width `ratio` = x below 0.3; held at its
    least value (x = 0.426) above that, which is on the safe side of a three-dimensional model up to 0.5.
    """
    x = min(ratio, 1.04 / (2.0 * 1.22))
    return 1.0 - 1.04 * x + 1.22 * x**2


@dataclass(frozen=True, eq=False)
class FlatHole:
    """Concentration at a hole in a flat for each of `LOADS`: `kt` geometric, `kf` what fatigue feels of it.

    Both are the greatest stress at the edge over the nominal one on the net section: the stress at the extreme fibre
    in tension and in bending across the flat, at the hole in bending in its plane, and the von Mises stress of the
    nominal shear. Shear across the flat has none of its own: it acts through the bending that it makes grow along the
    hole, and takes bending's.
    """

    kt: Array  # (6,)
    kf: Array  # (6,)

    @property
    def felt(self) -> Array:
        """(6,) what fatigue feels of each load's edge stress: Kf / Kt."""
        return self.kf / np.maximum(self.kt, 1.0)


def flat_hole(*, width_mm: float, thickness_mm: float, hole_mm: float, tensile_MPa: float) -> FlatHole:
    """Factors of a hole of `hole_mm` on the middle of a flat; `tensile_MPa` sets the notch sensitivity (Neuber)."""
    x = hole_mm / width_mm
    plate = plate_bending_factor(hole_mm / thickness_mm)
    across = plate * width_correction_in_bending(x)
    shear = 4.0 / np.sqrt(3.0)
    twist = 2.0 * (plate - 1.0) / (1.0 - x**2) / np.sqrt(3.0)
    kt = (tension_factor(x), across, shear, twist, 2.0, across)
    q = float(neuber_sensitivity(radius_mm=hole_mm / 2.0, tensile_MPa=tensile_MPa))
    q_shear = float(neuber_sensitivity(radius_mm=hole_mm / 2.0, tensile_MPa=tensile_MPa, load="torsion"))
    felt = fatigue_factor(np.maximum(kt, 1.0), np.array([q, q, q_shear, q_shear, q, q]))
    return FlatHole(kt=np.array(kt), kf=felt)


def flat_hole_edge(*, width_mm: float, thickness_mm: float, hole_mm: float, angle_rad: Array, face: float) -> Array:
    """Stress round the edge of a hole on a flat's middle, MPa per unit of [N, V_1, V_2, T, M_1, M_2]; (k, 6).

    `angle_rad` (k,) from the bar's axis towards axis 2; `face` +1 is the edge on the side that axis 1 points to, -1 the
    other. With H the width, t the thickness, d = 2 a the hole, x = d / H, K the wide plate's bending factor:

    N: net stress times (1 - x) - (Kt - 1 + x) cos 2u.
    M_1, bending in the plane of the flat: 12 M a / (t (H^3 - d^3)) (sin u - sin 3u); 2 at u = 90 degrees, exact in a
    wide plate (Muskhelishvili).
    V_2, shear in its plane: -4 sin 2u times 1.5 V / ((H - d) t): the wide plate's 4 (exact) on the net shear.
    M_2, bending across: net stress times (1 - x) - (Kt - 1 + x) cos 2u.
    T: -2 (K - 1) sin 2u / (1 - x^2) times Saint-Venant's shear at the middle of the broad face: twisting is two
    bendings at +-45 degrees. The width correction is ours, on the safe side of a three-dimensional model for d / H from
    0.06 to 0.5.
    V_1, shear across: the moment's growth along the hole, 6 V a / (H t^2) times 1.3 cos u - 0.8 (K - 1) cos 3u, the
    numbers taken from that model.
    """
    u = np.asarray(angle_rad, float)
    t, a, net = thickness_mm, hole_mm / 2.0, width_mm - hole_mm
    x = hole_mm / width_mm
    plate = plate_bending_factor(hole_mm / t)
    across = plate * width_correction_in_bending(x)
    twist = float(rectangle_face_torsion(depth_mm=t, face_mm=width_mm, position_mm=np.zeros(1))[0])
    out = np.empty((*u.shape, 6))
    out[..., 0] = ((1.0 - x) - (tension_factor(x) - 1.0 + x) * np.cos(2.0 * u)) / (net * t)
    out[..., 1] = face * 6.0 * a / (width_mm * t**2) * (1.3 * np.cos(u) - 0.8 * (plate - 1.0) * np.cos(3.0 * u))
    out[..., 2] = -4.0 * np.sin(2.0 * u) * 1.5 / (net * t)
    out[..., 3] = -face * 2.0 * (plate - 1.0) / (1.0 - x**2) * twist * np.sin(2.0 * u)
    out[..., 4] = 12.0 * a / (t * (width_mm**3 - hole_mm**3)) * (np.sin(u) - np.sin(3.0 * u))
    out[..., 5] = -face * 6.0 / (net * t**2) * ((1.0 - x) - (across - 1.0 + x) * np.cos(2.0 * u))
    return out
