"""Stress in bends against the curved-beam table, a worked textbook example and spring factors."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from barfem.model.bent_wall import wall_by_rule
from barfem.strength.bends import bend_map, plane_section_constants
from barfem.strength.section_stress import round_map
from tests.validation.handbook import ovalising_factor

Compare = Callable[..., None]
INSIDE, TOP, OUT = 0, 18, 36  # points round the section, 5 degrees apart from the inside
D = 24.0


# R/d: solid Ki, Ko; tube d_i/D = 2/3 Ki, Ko; Wahl; (4C-1)/(4C-4). Winkler-Bach and Wahl, computed.
TABLE = {
    1.0: (1.6160, 0.7053, 1.5279, 0.7500, 2.0575, 1.7500),
    1.5: (1.3321, 0.7911, 1.2839, 0.8225, 1.5800, 1.3750),
    2.0: (1.2288, 0.8373, 1.1954, 0.8617, 1.4038, 1.2500),
    2.5: (1.1749, 0.8666, 1.1493, 0.8865, 1.3105, 1.1875),
    3.0: (1.1416, 0.8869, 1.1208, 0.9038, 1.2525, 1.1500),
    4.0: (1.1027, 0.9132, 1.0876, 0.9261, 1.1840, 1.1071),
    5.0: (1.0805, 0.9295, 1.0687, 0.9400, 1.1448, 1.0833),
}


@pytest.mark.parametrize("radius_ratio", TABLE)
def test_bending_in_the_plane_of_the_bend(compare: Compare, radius_ratio: float) -> None:
    for name, wall, first in (("solid", None, 0), ("tube 2/3", D / 6.0, 2)):
        bore = 0.0 if wall is None else D - 2.0 * wall
        bent = bend_map(diameter_mm=D, wall_mm=wall, bend_radius_mm=radius_ratio * D, nu=0.3)
        straight = round_map(diameter_mm=D, bore_mm=bore, nu=0.3)
        compare(
            case=f"in-plane bending, {name}, R/d {radius_ratio:g}: inside and outside factor",
            source="Winkler-Bach with A_m = 2 pi (R - (R^2 - c^2)^0.5); computed",
            ours=[bent.matrix[i, 0, 5] / straight.matrix[i, 0, 5] for i in (INSIDE, OUT)],
            theirs=TABLE[radius_ratio][first : first + 2],
            allowed=5.1e-5,
            absolute=True,
            why="the table has four decimals",
        )


@pytest.mark.parametrize("radius_ratio", TABLE)
def test_torsion_of_a_solid_bend(compare: Compare, radius_ratio: float) -> None:
    bent = bend_map(diameter_mm=D, bend_radius_mm=radius_ratio * D, nu=0.3).matrix
    straight = round_map(diameter_mm=D, nu=0.3).matrix
    c = 2.0 * radius_ratio
    compare(
        case=f"torsion at the inside and outside, R/d {radius_ratio:g}",
        source="Wahl, Mechanical Springs, without direct shear: (4C - 1)/(4C - 4), (4C + 1)/(4C + 4); from memory",
        ours=[bent[i, 2, 3] / straight[i, 2, 3] for i in (INSIDE, OUT)],
        theirs=[TABLE[radius_ratio][5], (4.0 * c + 1.0) / (4.0 * c + 4.0)],
        allowed=5.1e-5,
        absolute=True,
        why="the table has four decimals",
    )
    # A spring's coil carries T and the force T / R along the spring's axis, here the bend's binormal.
    coil = np.array([0.0, 0.0, 1.0 / (radius_ratio * D), 1.0, 0.0, 0.0])
    compare(
        case=f"torsion with the spring's force, R/d {radius_ratio:g}",
        source="Wahl's factor (4C - 1)/(4C - 4) + 0.615 / C; from memory",
        ours=(bent[INSIDE, 2] @ coil) / straight[INSIDE, 2, 3],
        theirs=TABLE[radius_ratio][4],
        allowed=2.5e-4,
        absolute=True,
        why="0.615 is (1 + 2 nu) / (2 (1 + nu)) = 0.6154 for nu = 0.3",
    )


@pytest.mark.parametrize(("radius_ratio", "factor"), [(1.5, 1.04), (2.0, 1.02), (3.0, 1.01)])
def test_bending_out_of_the_plane_of_the_bend(compare: Compare, radius_ratio: float, factor: float) -> None:
    bent = bend_map(diameter_mm=D, bend_radius_mm=radius_ratio * D, nu=0.3).matrix[:, 0, 4]
    compare(
        case=f"out-of-plane bending, R/d {radius_ratio:g}: greatest over M c / I",
        source="z R / (R - x), its moment made exact; computed",
        ours=np.abs(bent).max() * np.pi * D**3 / 32.0,
        theirs=factor,
        allowed=0.005,
        absolute=True,
        why="given with two decimals",
    )


def test_rectangular_crane_hook(compare: Compare) -> None:
    """Inner radius 30, outer 80, width 50 mm; P = 9.5 kN with its arm of 155 mm to the centroid."""
    x, weight = np.polynomial.legendre.leggauss(24)
    y1, y2 = (part.ravel() for part in np.meshgrid(25.0 * x, 25.0 * x, indexing="ij"))
    constants = plane_section_constants(
        bend_radius_mm=55.0, y1_mm=y1, y2_mm=y2, area_mm2=np.outer(25.0 * weight, 25.0 * weight).ravel()
    )
    load = np.array([9500.0, 0.0, -9500.0 * 155.0])  # opens the hook: tension inside
    ours = [np.array([1.0, edge, 0.0]) @ constants @ load / (55.0 - edge) for edge in (25.0, -25.0)]
    compare(
        case="curved bar 50 x 50, inner radius 30, P 9.5 kN: stress inside and outside",
        source="Boresi & Schmidt, Advanced Mechanics of Materials, 6th ed., Example 9.1",
        ours=ours,
        theirs=[106.2, -49.3],
        allowed=0.06,
        absolute=True,
        why="printed with one decimal",
    )


def test_wall_of_a_bent_tube(compare: Compare) -> None:
    compare(
        case="tube 24 x 4 bent to R 60: wall outside and inside",
        source="mid-wall fibre rule, no shift of the neutral axis; computed",
        ours=wall_by_rule(wall=4.0, diameter=24.0, radius=60.0).at([0.0, np.pi]),
        theirs=[3.429, 4.80],
        allowed=6e-4,
        absolute=True,
        why="given with three decimals",
    )


def test_flexibility_of_bent_tubes(compare: Compare) -> None:
    tubes = [(24.0, 4.0, 60.0), (26.0, 3.5, 60.0), (28.0, 3.0, 45.0), (30.0, 2.5, 45.0)]
    compare(
        case="ovalising flexibility of four bent tubes",
        source="von Karman 1911, k = (12 h^2 + 10)/(12 h^2 + 1); computed",
        ours=[ovalising_factor(diameter_mm=d, wall_mm=t, bend_radius_mm=r) for d, t, r in tubes],
        theirs=[1.128, 1.264, 1.904, 2.715],
        allowed=6e-4,
        absolute=True,
        why="given with three decimals",
    )


def test_ring_torsion_of_a_thin_tube(compare: Compare) -> None:
    """Torsion alone raises nothing in a thin tube; with the ring's force it is the flow times 1 + 2 r / R."""
    outer, wall, radius = 20.0, 0.2, 2000.0
    bent = bend_map(diameter_mm=2.0 * outer, wall_mm=wall, bend_radius_mm=radius, nu=0.3).matrix
    straight = round_map(diameter_mm=2.0 * outer, bore_mm=2.0 * (outer - wall), nu=0.3).matrix
    coil = np.array([0.0, 0.0, 1.0 / radius, 1.0, 0.0, 0.0])
    compare(
        case="thin tube in ring torsion: rise at the inside by the force T / R, over r / R",
        source="flow of a closed thin ring sector, tau t r^2 constant; computed",
        ours=((bent[INSIDE, 2] @ coil) / straight[INSIDE, 2, 3] - 1.0) * radius / outer,
        theirs=2.0,
        allowed=0.02,
        why="wall 1 % of the radius",
    )
