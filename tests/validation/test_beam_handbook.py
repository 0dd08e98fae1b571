"""The stabiliser-bar handbook formula and its rounded-bend companions, against the rate at rest.

Handbook: f = P / (3 E I) [l1^3 - a^3 + (L/2) (a + b)^2 + C l2^2 (b + c)], C = 3 E I / (G J), L = 2 (a + b + c),
l1^2 = l2^2 + a^2; equal and opposite end loads P. SAE Spring Design Manual AE-21 / HS-796 part 5 prints C = 4, which
hides G = 0.375 E (from memory; each term rederived by unit loads). Sharp corners, rigid point supports that leave every
rotation free, no shear. The corners are built as two straights that share their end's rotation (`sharp_centreline`):
the reader refuses such a bar.
"""

from __future__ import annotations

import numpy as np
import pytest

from barfem.solve.beam import HoleSetting, solve_bar
from barfem.solve.mesh import build_mesh
from tests.solve.rig import (
    E_MPA,
    G_MPA,
    RIGID_POINT,
    Bar,
    bar_on,
    rest_rate,
    sharp_centreline,
    steel,
    stiffened,
    u_bar,
    u_points,
    with_stiffness,
)

HANDBOOK = "SAE AE-21 / HS-796 part 5 (from memory), rederived by unit loads"
QUADRATURE = "unit-load quadrature along true arcs, Euler-Bernoulli; 48-chord frame agrees to 1e-5 (computed)"
U1 = {"l2": 250.0, "a": 0.0, "b": 250.0, "c": 300.0}
U2 = {"l2": 240.0, "a": 80.0, "b": 170.0, "c": 300.0}
CASES = {"U1": (20.0, U1), "U2": (22.0, U2)}


def sharp_bar(case: str, G_MPa: float = G_MPA) -> Bar:
    diameter, dims = CASES[case]
    return bar_on(
        sharp_centreline(u_points(**dims)),
        diameter_mm=diameter,
        material=steel(E_MPA, G_MPa),
        mounts_from_middle=(-dims["c"], dims["c"]),
        mount=RIGID_POINT,
    )


@pytest.mark.parametrize(
    ("case", "G", "deflection"),
    [
        ("U1", 0.375 * E_MPA, 38.62984),
        ("U1", G_MPA, 37.89751),
        ("U2", 0.375 * E_MPA, 22.28161),
        ("U2", G_MPA, 21.88769),
    ],
)
def test_sharp_corners_without_shear(compare, case, G, deflection):
    bar = sharp_bar(case, G)
    ours = 1000.0 / rest_rate(bar, stiffened(build_mesh(bar), shear=1e4)).rate_N_per_mm[0]
    compare(
        case=f"handbook U-bar {case}, sharp, G = {G / E_MPA:.3f} E: deflection at 1000 N, mm",
        source=HANDBOOK,
        ours=ours,
        theirs=deflection,
        allowed=1e-6,
        why="seven printed digits; shear raised 1e4 times leaves 1e-7",
    )


@pytest.mark.parametrize(("case", "deflection"), [("U1", 37.92911), ("U2", 21.91096)])
def test_sharp_corners_with_shear(compare, case, deflection):
    diameter, _ = CASES[case]
    bar = sharp_bar(case)
    area, inertia = np.pi * diameter**2 / 4, np.pi * diameter**4 / 64
    shear = 0.9 * G_MPA * area
    mesh = with_stiffness(
        build_mesh(bar),
        force=[E_MPA * area, shear, shear],
        moment=[G_MPA * 2 * inertia, E_MPA * inertia, E_MPA * inertia],
    )
    compare(
        case=f"U-bar {case}, sharp, Timoshenko with shear coefficient 0.9: deflection at 1000 N, mm",
        source="handbook terms plus shear of arm, outboard leg and centre span (computed)",
        ours=1000.0 / rest_rate(bar, mesh).rate_N_per_mm[0],
        theirs=deflection,
        allowed=1e-6,
        why="seven printed digits",
    )


ROUNDED = [("U1", 40.0, 26.98217), ("U1", 60.0, 27.32827), ("U2", 40.0, 46.29681), ("U2", 60.0, 46.64439)]


@pytest.mark.parametrize(("case", "R", "rate"), ROUNDED)
def test_rounded_bends_without_shear(compare, case, R, rate):
    diameter, dims = CASES[case]
    bar = u_bar(**dims, R=R, diameter_mm=diameter, mount=RIGID_POINT)
    compare(
        case=f"U-bar {case}, bends of radius {R:g} mm, Euler-Bernoulli: rate N/mm",
        source=QUADRATURE,
        ours=rest_rate(bar, stiffened(build_mesh(bar), shear=1e4)).rate_N_per_mm,
        theirs=rate,
        allowed=1e-5,
        why="default mesh of the beam: below 1e-5",
    )


@pytest.mark.parametrize(("case", "R", "rate"), ROUNDED)
def test_rounded_bends_as_barfem_solves_them(compare, case, R, rate):
    """The whole solver with nothing replaced: the same bars with the shear of a round bar added by hand."""
    diameter, dims = CASES[case]
    bar = u_bar(**dims, R=R, diameter_mm=diameter, mount=RIGID_POINT, travel_mm=0.01)
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    # Unit load: shear 1 on everything outboard of the mounts, (a + b) / c between mount and middle.
    outboard = bar.mounts[0].station_mm
    squared = outboard + (bar.middle_mm - outboard) * ((dims["a"] + dims["b"]) / dims["c"]) ** 2
    nu = bar.steel.nu
    cowper = 6 * (1 + nu) / (7 + 6 * nu)  # Cowper 1966, solid circle
    theirs = 1.0 / (1.0 / rate + squared / (cowper * G_MPA * np.pi * diameter**2 / 4))
    for name, ours in (("rate at rest", solution.initial.rate_N_per_mm), ("rate at 0.01 mm", solution.rate_N_per_mm)):
        compare(
            case=f"U-bar {case}, bends of radius {R:g} mm, Timoshenko: {name} N/mm",
            source=QUADRATURE + ", plus shear by unit loads with Cowper's coefficient",
            ours=ours,
            theirs=theirs,
            allowed=1e-5,
            why="default mesh of the beam: below 1e-5",
        )


@pytest.mark.parametrize("case", ["U1", "U2"])
def test_bushing_reaction_and_section_moments(compare, case):
    """P (a + b + c) / c at each bushing; M = P (a + b) and T = P l2 in the bar there; the centre carries T alone."""
    from barfem.solve.resultants import resultants

    diameter, dims = CASES[case]
    a, b, c, l2 = dims["a"], dims["b"], dims["c"], dims["l2"]
    # A link of 100 m leans by nothing; at 0.001 mm of travel the moments are those of the drawing.
    bar = u_bar(**dims, diameter_mm=diameter, mount=RIGID_POINT, travel_mm=1e-3, link={"length_mm": 1e5})
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    load = abs(solution.link_force_N[0, 1, 1])
    at = [mount.station_mm for mount in bar.mounts]
    here = np.abs(resultants(solution, [at[0], bar.middle_mm, at[1]])[0, 1]) / load
    compare(
        case=f"U-bar {case}: bushing reaction / end load",
        source="P (a + b + c) / c, statics",
        ours=np.abs(solution.mount_force_N[0, 1, :, 2]) / load,
        theirs=[(a + b + c) / c] * 2,
        allowed=1e-6,
        why="rest shape loaded by 0.03 N",
    )
    compare(
        case=f"U-bar {case}: T, M_a at the bushings, and T at the middle, per end load, mm",
        source="statics: l2, a + b, l2",
        ours=[here[0, 3], here[0, 4], here[2, 3], here[2, 4], here[1, 3]],
        theirs=[l2, a + b, l2, a + b, l2],
        allowed=3e-6,
        why="rest shape loaded by 0.03 N, the tip a few micrometres off it",
    )
    compare(
        case=f"U-bar {case}: M_a at the middle per end load, mm",
        source="statics: zero by antisymmetry",
        ours=here[1, 4],
        theirs=0.0,
        allowed=1e-3,
        absolute=True,
        why="of 250 mm at the bushing",
    )
