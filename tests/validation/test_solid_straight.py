"""Straight bars and tubes as swept solids, against the closed forms of strength of materials."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from barfem.solve.solid.profile import Profile
from barfem.solve.solid.recovery import surface_stress
from barfem.solve.solid.section import disc_grid, ring_grid
from tests.solid.made_up import end_loaded, straight_line

Compare = Callable[..., None]
E, NU, LENGTH, D = 206_000.0, 0.3, 240.0, 24.0
ANGLES = np.radians(np.arange(0.0, 360.0, 15.0))


@pytest.mark.parametrize("wall", [None, 4.0, 2.4])
def test_straight_bar(compare: Compare, wall: float | None) -> None:
    grid = disc_grid(core=3, rings=1) if wall is None else ring_grid(around=16, layers=2)
    mesh, motion, displacement = end_loaded(
        grid=grid, line=straight_line(LENGTH), profile=Profile(D, wall), slices=12, E=E, nu=NU
    )
    bore = 0.0 if wall is None else D - 2.0 * wall
    area, second = np.pi / 4.0 * (D**2 - bore**2), np.pi / 64.0 * (D**4 - bore**4)
    g = E / (2.0 * (1.0 + NU))
    name = "solid 24" if wall is None else f"tube 24 x {wall:g}"
    why = "mesh: a parabola through nodes on the true circle loses 0.02 % of its area, twice that of its second moment"
    n = mesh.grid.size
    ends = [
        motion.in_drawing_axes(p) @ np.einsum("ac,ncf->naf", mesh.frames[p], displacement[p]).reshape(3 * n, 6)
        for p in (0, -1)
    ]
    turn = np.diag((ends[1] - ends[0])[3:, 3:])
    compare(
        case=f"{name}: twist under torque, T L / (G J)",
        source="Saint-Venant torsion of the circle",
        ours=turn[0],
        theirs=LENGTH / (g * 2.0 * second),
        allowed=0.001,
        why=why,
    )
    compare(
        case=f"{name}: turn of the end under a moment, M L / (E I)",
        source="Bernoulli bending",
        ours=turn[1:],
        theirs=2 * [LENGTH / (E * second)],
        allowed=0.001,
        why=why,
    )
    surfaces = [("outside", mesh.grid.outer, 0.5 * D), ("bore", mesh.grid.bore, 0.5 * bore)]
    for surface, nodes, radius in surfaces:
        if not len(nodes):
            continue
        stress = surface_stress(mesh, displacement, nodes=nodes, angles=ANGLES, E_MPa=E, nu=NU)
        middle = stress.at(np.array([0.5 * LENGTH]))[0]  # (points, 3, 6)
        y, x = radius * np.sin(ANGLES), radius * np.cos(ANGLES)
        arm = 0.5 * LENGTH
        expected = {
            "axial force": (0, 0, np.full_like(x, 1.0 / area)),
            "torque": (3, 2, np.full_like(x, radius / (2.0 * second))),
            "moment about a": (4, 0, y / second),
            "moment about b": (5, 0, -x / second),
            "bending by a force across": (1, 0, -arm * x / second),
        }
        for load, (case, component, theirs) in expected.items():
            compare(
                case=f"{name}, {surface}: stress under {load}",
                source="N / A, T r / J, M y / I",
                ours=middle[:, component, case] / np.abs(theirs).max(),
                theirs=theirs / np.abs(theirs).max(),
                allowed=0.0025,
                absolute=True,
                why="mesh, as a share of the greatest stress round the section",
            )
