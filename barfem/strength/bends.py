"""Stress maps of bends by closed form, each resultant with the factor that is its own.

Axis 1 points to the bend's centre ("inside"), axis 2 is the bend's binormal; psi is the angle round the section from
the inside, a point at radius rho lies at r = R - rho cos(psi) from the bend's axis.

- Normal stress: plane sections stay plane, fibres have the length r / R of the centreline's, so sigma =
  (c0 + c1 y1 + c2 y2) / r with the three constants from N, M_1, M_2 by exact integration over the section. In the
  bend's plane this is the Winkler-Bach stress, N at the centroid spreading evenly; out of its plane it is
  z R / (R - x), nearly no increase.
- Torsion: `torsion_rise`. Transverse shear: that of the straight bar.

Not in these closed forms: the section's ovalising under bending (thin tubes), stress across the fibres, and the ends
of the bend, where the straight relieves it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bent_wall import BentWall
from barfem.strength.section_map import BORE, SectionMap
from barfem.strength.section_stress import POINTS_AROUND, round_map

__all__ = [
    "bend_map",
    "plane_section_constants",
    "thinned_wall_shear",
    "torsion_rise",
]

Array = NDArray[np.float64]

WALL_RULE = (
    "wall as bent t R / (R + r_m cos(angle from the outside)), r_m the radius to the middle of the wall: constant"
    " volume at the mid-wall fibre, no shift of the neutral axis; outside diameter kept"
)


def plane_section_constants(*, bend_radius_mm: float, y1_mm: Array, y2_mm: Array, area_mm2: Array) -> Array:
    """Constants (3, 3) of sigma = [1, y1, y2] @ constants @ [N, M_1, M_2] / r from a section's area elements.

    Elements of any section, at (y1, y2) from the centreline; r = R - y1. Solves N = int sigma dA,
    M_1 = int sigma y2 dA, M_2 = -int sigma y1 dA. For one moment in the plane of symmetry this is Winkler's
    sigma = N / A + M (A - r A_m) / (A r (R_c A_m - A)), A_m = int dA / r (Boresi & Schmidt, Advanced Mechanics of
    Materials, curved beams), wherever the centroid lies.
    """
    shape = np.stack([np.ones_like(y1_mm), y1_mm, y2_mm])
    test = np.stack([np.ones_like(y1_mm), y2_mm, -y1_mm])
    return np.asarray(np.linalg.inv((test * (area_mm2 / (bend_radius_mm - y1_mm))) @ shape.T))


def torsion_rise(
    *, outer_mm: float, inner_mm: float, bend_radius_mm: float, from_inside_rad: Array, bore: bool = False
) -> Array:
    """Torsional shear in a bend over that of the straight bar at the same surface, at angles from the inside.

    Solid: (4 - x) / (4 - 4 x), x = (d / 2R) cos(psi): (4 C - 1) / (4 C - 4) at the inside, (4 C + 1) / (4 C + 4) at
    the outside, C = 2 R / d: Wahl's spring factor without its direct shear (Wahl, Mechanical Springs).

    Hollow, from the ring sector of Goehner (Timoshenko & Goodier, torsion of a ring sector), stress function
    lap(phi) + (3 / r) d(phi)/dx + 2 c = 0, to first order in rho / R with phi zero outside and constant inside:
    phi = c (b^2 - rho^2) / 2 + (3 c / 8 R) (rho^3 - (a^2 + b^2) rho + a^2 b^2 / rho) cos(psi), so that the ring's shear
    rises by (b / R) [2 - 3/4 (1 - a^2 / b^2)] outside, and by (a / R) [2 + 3/4 (b^2 / a^2 - 1)] in the bore. A ring in
    torsion T also carries the transverse force T / R; its flexure (`circle_flexure_MPa`) taken away leaves for torsion
    alone k (b^2 - a^2) / (b R) outside and -k (b^2 - a^2) / (a R) in the bore, k = 1/4 + 1 / (2 (1 + nu)) = 0.635 for
    nu = 0.3: a thin tube has no rise. Outside, the solid's formula (0.75 to first order, not below the exact k) is
    scaled by 1 - (a / b)^2; the bore takes 0.75 where it rises and 1/2 where it falls (k is never less than 0.58).
    """
    hollow = 1.0 - (inner_mm / outer_mm) ** 2
    if not bore:
        x = outer_mm / bend_radius_mm * np.cos(from_inside_rad)
        return np.asarray(1.0 + hollow * 0.75 * x / (1.0 - x))
    first_order = -hollow * outer_mm**2 / (inner_mm * bend_radius_mm) * np.cos(from_inside_rad)
    return np.asarray(1.0 + np.where(first_order > 0.0, 0.75, 0.5) * first_order)


def thinned_wall_shear(
    *, outer_mm: float, inner_mm: float, slant_per_mm: float, from_inside_rad: Array, bore: bool = False
) -> Array:
    """Torsional shear of a tube with the wall as bent over that with an even wall, from its unequal wall alone.

    1 - (a^2 / b R) cos(psi) outside, 1 - (b^2 / a R) cos(psi) in the bore: Saint-Venant torsion to first order in
    a / R. The rule's wall puts the bore at rho = a - d cos(psi), d = t r_m / R = (b^2 - a^2) / (2 R); the
    stress function (b^2 - rho^2) / 2 needs (rho / b^2 - 1 / rho) a^2 b^2 d / (b^2 - a^2) cos(psi) beside it to stay
    constant there. A thin wall has a = b = r_m and Bredt's even flow, t / t(psi) = 1 - (r_m / R) cos(psi); a
    thick one feels its wall less outside, more in the bore.

    `slant_per_mm` is that of the walls (`BentWall`): r_m / (t R) by the rule, which gives R for any walls.
    """
    thick, middle = outer_mm - inner_mm, 0.5 * (outer_mm + inner_mm)
    lever = outer_mm**2 / inner_mm if bore else inner_mm**2 / outer_mm
    return np.asarray(1.0 - lever * slant_per_mm * thick / middle * np.cos(from_inside_rad))


def bend_map(
    *,
    diameter_mm: float,
    wall_mm: float | None = None,
    bend_radius_mm: float,
    bent: BentWall | None = None,
    nu: float,
    n_around: int = POINTS_AROUND,
) -> SectionMap:
    """Bend of a round bar or tube; local axis 1 points to its centre, and so does the first point.

    `bent` are a tube's walls as bent, in mm: normal stress by integration over that section, torsional shear of the
    wall at its sides times `thinned_wall_shear`; transverse shear stays the straight tube's.
    """
    outer = diameter_mm / 2.0
    sides = wall_mm if bent is None else bent.mean
    bore = 0.0 if wall_mm is None or sides is None else diameter_mm - 2.0 * sides
    straight = round_map(diameter_mm=diameter_mm, bore_mm=bore, nu=nu, n_around=n_around)
    psi = straight.angle_rad
    in_bore = straight.surface == BORE

    def wall(angle: Array) -> Array:
        if wall_mm is None or bent is None:
            return np.full_like(angle, wall_mm or outer)
        return bent.at(angle - np.pi)

    local_wall = wall(psi)
    rho = np.where(in_bore, outer - local_wall, outer)
    position = rho[:, None] * np.stack([np.cos(psi), np.sin(psi)], axis=1)
    matrix = np.zeros_like(straight.matrix)

    y1, y2, area = _elements(outer=outer, wall=wall)
    constants = plane_section_constants(bend_radius_mm=bend_radius_mm, y1_mm=y1, y2_mm=y2, area_mm2=area)
    fibres = np.concatenate([np.ones((len(psi), 1)), position], axis=1) / (bend_radius_mm - position[:, :1])
    matrix[:, 0, [0, 4, 5]] = fibres @ constants

    def per_surface(ratio: Callable[..., Array], **more: float) -> Array:
        sizes = {"outer_mm": outer, "inner_mm": bore / 2.0, "from_inside_rad": psi, **more}
        return np.where(in_bore, ratio(**sizes, bore=True), ratio(**sizes)) if bore > 0.0 else ratio(**sizes)

    # Transverse shear stays the straight's: beside the ring's exact shear that is closer than the even wall's flow.
    flow = np.ones_like(psi)
    enclosed = 1.0
    if wall_mm is not None and bent is not None:
        flow = per_surface(thinned_wall_shear, slant_per_mm=bent.slant)
        round_it = 2.0 * np.pi * np.arange(128) / 128
        enclosed = (outer - bent.mean / 2.0) ** 2 / float(np.mean((outer - wall(round_it) / 2.0) ** 2))
    matrix[:, 2, 1:3] = straight.matrix[:, 2, 1:3]
    matrix[:, 2, 3] = (
        straight.matrix[:, 2, 3] * flow * enclosed * per_surface(torsion_rise, bend_radius_mm=bend_radius_mm)
    )
    return replace(straight, matrix=matrix, position_mm=position)


def _elements(*, outer: float, wall: Callable[[Array], Array]) -> tuple[Array, Array, Array]:
    """Area elements (y1, y2, dA) between the outside and the bore: Gauss along radii, even angles (both spectral)."""
    n_angle = 128
    x, weight = _gauss_16()
    psi = 2.0 * np.pi * np.arange(n_angle) / n_angle
    half = wall(psi)[:, None] / 2.0
    rho = outer - half + half * x
    area = rho * half * weight * (2.0 * np.pi / n_angle)
    return (rho * np.cos(psi)[:, None]).ravel(), (rho * np.sin(psi)[:, None]).ravel(), area.ravel()


@lru_cache(maxsize=1)
def _gauss_16() -> tuple[Array, Array]:
    """Gauss-Legendre points and weights, which take longer to find than to use."""
    return np.polynomial.legendre.leggauss(16)
