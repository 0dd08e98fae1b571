"""Stress round straight sections against handbooks: shear of circles and rectangles, the U-bar, nets."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from barfem.strength.cycle import von_mises_MPa
from barfem.strength.net_section import net_round
from barfem.strength.section_stress import (
    circle_flexure_MPa,
    pressed_pair_map,
    rectangle_map,
    round_map,
)

Compare = Callable[..., None]
TG = "Timoshenko & Goodier, Theory of Elasticity, 3rd ed.: {}; from memory"


@pytest.mark.parametrize(
    ("ratio", "factor"), [(1.0, 0.208), (1.5, 0.231), (2.0, 0.246), (3.0, 0.267), (4.0, 0.282), (10.0, 0.312)]
)
def test_torsion_of_a_rectangle(compare: Compare, ratio: float, factor: float) -> None:
    t, w = 12.0, 12.0 * ratio
    shear = rectangle_map(width_mm=w, thickness_mm=t, nu=0.3).matrix[:, 2, 3]
    compare(
        case=f"rectangle {ratio:g} : 1 in torsion, T / (tau_max w t^2)",
        source=TG.format("torsion of rectangular bars, table of k2"),
        ours=1.0 / (shear.max() * w * t**2),
        theirs=factor,
        allowed=0.0025,
        why="the table has three digits",
    )
    assert shear.argmax() in (0, 36) or ratio == 1.0  # at the middle of the long side


@pytest.mark.parametrize(("ratio", "factor"), [(2.0, 1.033), (1.0, 1.126), (0.5, 1.396), (0.25, 1.988)])
def test_transverse_shear_of_a_rectangle(compare: Compare, ratio: float, factor: float) -> None:
    """Depth along the force / width across it; greatest shear at the middle of the sides, over 1.5 V / A."""
    depth, width = 10.0 * ratio, 10.0
    section = rectangle_map(width_mm=width, thickness_mm=depth, nu=0.25)  # force along the thickness
    compare(
        case=f"rectangle, depth / width {ratio:g}, transverse shear at the sides / (1.5 V / A)",
        source=TG.format("bending of a rectangular bar, table for nu = 1/4"),
        ours=abs(section.matrix[18, 2, 1]) * depth * width / 1.5,
        theirs=factor,
        allowed=0.0005,
        why="the table has four digits",
    )


def test_transverse_shear_of_a_circle(compare: Compare) -> None:
    area = np.pi * 12.0**2
    for radius, printed in ((1e-9, 1.38), (12.0, 1.23)):
        compare(
            case=f"solid circle, transverse shear at r = {radius:.0f} mm of 12, tau A / V",
            source=TG.format(
                "bending of a circular bar, 1.38 at the centre and 1.23 at the ends of the diameter, nu = 0.3"
            ),
            ours=area * float(circle_flexure_MPa(radius_mm=radius, outer_mm=12.0, inner_mm=0.0, nu=0.3)),
            theirs=printed,
            allowed=0.005,
            why="printed with three digits",
        )
    outer, inner = 100.0, 99.0
    compare(
        case="thin tube, transverse shear, tau A / V",
        source="mechanics of materials: 2 V / A for a thin tube; from memory",
        ours=np.pi
        * (outer**2 - inner**2)
        * float(circle_flexure_MPa(radius_mm=99.5, outer_mm=outer, inner_mm=inner, nu=0.3)),
        theirs=2.0,
        allowed=1e-4,
        why="the wall is 1 % of the radius: second order in it is left",
    )


@pytest.mark.parametrize(
    ("name", "diameter", "moment", "torque", "bending", "shear", "mises"),
    [
        ("U1", 20.0, 250e3, 250e3, 318.310, 159.155, 421.084),
        ("U2", 22.0, 250e3, 240e3, 239.151, 114.792, 311.007),
    ],
)
def test_bushing_section_of_the_handbook_u_bar(
    compare: Compare,
    name: str,
    diameter: float,
    moment: float,
    torque: float,
    bending: float,
    shear: float,
    mises: float,
) -> None:
    section = round_map(diameter_mm=diameter, nu=0.3)
    stress = section.matrix @ np.array([0.0, 0.0, 0.0, torque, moment, 0.0])
    at = int(np.argmax(stress[:, 0]))
    ours = [stress[at, 0], stress[at, 2], von_mises_MPa(stress[at, 0], None, stress[at, 2])]
    compare(
        case=f"{name}: bending, torsion and von Mises stress at the bushing",
        source="handbook U-bar, sigma = 32 M / (pi d^3), tau = 16 T / (pi d^3); computed",
        ours=ours,
        theirs=[bending, shear, mises],
        allowed=5.1e-4,
        absolute=True,
        why="the values have three decimals",
    )


def test_net_section_of_a_drilled_tube(compare: Compare) -> None:
    net = net_round(diameter_mm=42.0, bore_mm=34.0, hole_mm=6.0)
    compare(
        case="tube 42 x 34 with a 6 mm hole: share of the section modulus left, bending and torsion",
        source="Shigley's Mechanical Engineering Design, Table A-16 at a/D 0.143, d/D 0.81 (Ex 6-14); from memory",
        ours=[net.bending, net.torsion],
        theirs=[0.798, 0.89],
        allowed=0.012,
        why="read between two rows of a two-digit table",
    )


def test_net_section_of_a_drilled_bar(compare: Compare) -> None:
    d, hole = 24.0, 2.4
    net = net_round(diameter_mm=d, hole_mm=hole)
    bending, torsion = np.pi * d**3 / 32.0, np.pi * d**3 / 16.0
    compare(
        case="solid bar with a transverse hole of d / 10: section modulus left, bending and torsion",
        source="Shigley's Mechanical Engineering Design, Table A-15: Z - d D^2 / 6 (approx.); from memory",
        ours=[net.bending, net.torsion],
        theirs=[1.0 - hole * d**2 / 6.0 / bending, 1.0 - hole * d**2 / 6.0 / torsion],
        allowed=0.002,
        why="the handbook's is the first order in d / D",
    )


def test_pressed_pair(compare: Compare) -> None:
    w, t = 200.0, 8.0
    section = pressed_pair_map(width_mm=w, thickness_mm=t, nu=0.3)
    compare(
        case="two unbonded leaves of t / 2: weak-axis bending, sigma w t^2 / M, and torsion, tau w t^2 / T",
        source="two thin rectangles side by side: 2 x 6 and 2 x 3; common practice, no source",
        ours=[abs(section.matrix[0, 0, 5]) * w * t**2, section.matrix[0, 2, 3] * w * t**2],
        theirs=[12.0, 6.0],
        allowed=0.014,
        why="leaves 50 : 1, whose torsion constant lacks 1.26 % of the thin strip's",
    )
