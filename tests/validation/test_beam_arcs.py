"""Circular-arc cantilevers in and out of their plane: closed forms, linear."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.solve.kernel import element_forces
from tests.solve.rig import E_MPA, G_MPA, Cantilever, arc_centreline

STIFFNESS = 1e9  # N, axial and shear: its known share is added to the closed forms
I_20 = np.pi * 20.0**4 / 64
ROUND_20 = [G_MPA * 2 * I_20, E_MPA * I_20, E_MPA * I_20]
OUT_OF_PLANE = "Timoshenko; Roark Table 9.4 case 1e (from memory), verified by quadrature"
MESH = "16 quadratic elements in a right angle: 2e-6"


@pytest.mark.parametrize(
    ("R", "degrees", "deflection"),
    [(100.0, 45, 0.0993449), (100.0, 90, 0.7713895), (100.0, 180, 4.753976), (50.0, 90, 0.0964237)],
)
def test_arc_loaded_out_of_its_plane(compare, R, degrees, deflection):
    angle = np.radians(degrees)
    beam = Cantilever(arc_centreline(R, angle), force=[STIFFNESS] * 3, moment=ROUND_20, refinement=4)
    compare(
        case=f"arc R {R:g}, {degrees} deg, 1000 N out of plane: tip deflection mm",
        source=OUT_OF_PLANE,
        ours=beam.linear([0, 0, 1000.0])[2],
        theirs=deflection + 1000.0 * R * angle / STIFFNESS,  # the shear force is the load everywhere
        allowed=3e-6,
        why=MESH,
    )
    beam.load([0, 0, 1e-3])
    root = -element_forces(beam.batch, beam.state).nodal[0, 0] / 1e-3
    x, y = R * np.sin(angle), R * (1 - np.cos(angle))  # tip; the root's reaction is that of the free body
    compare(
        case=f"arc R {R:g}, {degrees} deg: T and M at the root per load, mm",
        source="statics: R (1 - cos phi), R sin phi",
        ours=np.abs(root[3:5]),
        theirs=[y, x] if degrees != 180 else [y, 0.0],
        allowed=1e-4,
        absolute=True,
        why="of 50 to 200 mm; quadrature of the arc's chord",
    )


def test_quarter_arc_in_its_plane(compare):
    beam = Cantilever(arc_centreline(100.0, np.pi / 2), force=[STIFFNESS] * 3, moment=ROUND_20, refinement=4)
    # The arc starts along x and ends along y: the tip's tangent is y.
    across, along = beam.linear([1000.0, 0, 0])[0], beam.linear([0, 1000.0, 0])[1]
    compare(
        case="quarter arc R 100, 1000 N in plane, across and along the tip's tangent: mm",
        source="P R^3 pi/4 / EI and P R^3 (3 pi/4 - 2) / EI, and axial force and shear P R pi/4 / stiffness each",
        ours=[across, along],
        theirs=np.array([0.4854369, 0.2201558]) + 2 * 1000.0 * 100.0 * np.pi / 4 / STIFFNESS,  # of N and V
        allowed=2e-6,
        why=MESH,
    )


def test_three_quarter_ring_with_axial_and_shear(compare):
    """Boresi and Schmidt, Advanced Mechanics of Materials, Example 5.9: R 65, section 30 x 30, 6 kN."""
    E, G, area, inertia = 200_000.0, 77_500.0, 900.0, 30.0**4 / 12
    beam = Cantilever(
        arc_centreline(65.0, 1.5 * np.pi),
        force=[E * area, G * area / 1.2, G * area / 1.2],
        moment=[G * 0.141 * 30.0**4, E * inertia, E * inertia],
        refinement=4,
    )
    # After 270 degrees the tip's tangent is -y.
    compare(
        case="Boresi and Schmidt Ex. 5.9, curved bar with axial force, shear and bending: mm",
        source="Boresi and Schmidt, Ex. 5.9: 1.13 printed, 1.12779 by its formula",
        ours=beam.linear([0, -6000.0, 0])[1] / -1.0,
        theirs=1.12779,
        allowed=1e-5,
        why="six digits",
    )
