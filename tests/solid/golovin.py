"""Pure bending of a curved bar of rectangular section: the exact solution, and the solid loaded by its tractions.

Golovin's solution (Timoshenko & Goodier, Theory of Elasticity, art. 29 in the third edition; from memory): with
a, b the inside and outside radius, k = (b^2 - a^2)^2 - 4 a^2 b^2 ln(b/a)^2 and M per unit of thickness,
sigma_theta = -4 M / k [-a^2 b^2 / r^2 ln(b/a) + b^2 ln(r/b) + a^2 ln(a/r) + b^2 - a^2], plane sections turn by
8 M (b^2 - a^2) / (E k) per radian. At nu = 0 it holds in three dimensions.
"""

from __future__ import annotations

import numpy as np

from barfem.model.bar import Flat
from barfem.model.centreline import Centreline, Segment
from barfem.solve.solid.assembly import Springs, factorise
from barfem.solve.solid.element import plane_table
from barfem.solve.solid.mesh import SweptMesh, sweep
from barfem.solve.solid.motion import SectionMotion
from barfem.solve.solid.profile import FlatEnd, Profile
from barfem.solve.solid.recovery import surface_stress
from barfem.solve.solid.section import disc_grid
from tests.solid.made_up import UNIT

INSIDE, OUTSIDE, ANGLE = 1.0, 2.0, np.radians(60.0)
K = (OUTSIDE**2 - INSIDE**2) ** 2 - 4.0 * (INSIDE * OUTSIDE * np.log(OUTSIDE / INSIDE)) ** 2
TURN = 8.0 * (OUTSIDE**2 - INSIDE**2) / K * ANGLE


def hoop(r: np.ndarray) -> np.ndarray:
    """Stress along the bar for M = 1 that straightens it, per unit thickness."""
    a, b = INSIDE, OUTSIDE
    ratio = np.log(b / a)
    return -4.0 / K * (-((a * b / r) ** 2) * ratio + b * b * np.log(r / b) + a * a * np.log(a / r) + b * b - a * a)


def solve(level: int) -> tuple[SweptMesh, float, float]:
    """Mesh, turn of the end and stress at the inside's middle, of a square bar at a mesh level; E = 1, M = 1."""
    radius = 0.5 * (INSIDE + OUTSIDE)
    line = Centreline((Segment(0.0, radius * ANGLE, (0.0, 0.0, 0.0), UNIT, radius, 0.0, 1),))
    square = Flat("forged", 1.0, 1.0, 1.0, 0.5, (0.0, 1.0, 0.0))
    # Flat everywhere: its transition lies beyond the far end.
    profile = Profile(1.0, flats=(FlatEnd(50.0, 100.0, square, True),))
    grid = disc_grid(core=level, rings=level, bulge=0.0)
    stations = np.linspace(0.0, radius * ANGLE, 6 * level + 1)
    mesh = sweep(grid=grid, profile=profile, centreline=line, stations=stations)
    motion = SectionMotion(mesh)
    planes, n, _ = mesh.points.shape
    rows = np.zeros((6, 9 * n))
    rows[:, : 3 * n] = motion.of_planes[0]
    factor, _ = factorise(mesh, E_MPa=1.0, nu=0.0, springs=(Springs(0, rows),))
    values, slopes, weights = plane_table()
    loads = np.zeros((planes, n, 3, 1))
    for plane, sign in ((0, -1.0), (planes - 1, 1.0)):
        corners = mesh.across[plane][grid.cells]
        det = np.linalg.det(np.einsum("gic,nix->ngxc", slopes, corners))
        r = radius - np.einsum("gi,ni->ng", values, corners[..., 0])
        force = np.einsum("ng,gi->ni", weights * det * sign * hoop(r), values)
        np.add.at(loads[plane, :, 0, 0], grid.cells, force)
    local = factor.solve(loads.reshape(planes, 3 * n, 1)).reshape(planes, n, 3, 1)
    displacement = np.einsum("pab,pnac->pnbc", mesh.frames, local)
    ends = [motion.of_planes[p] @ local[p].reshape(3 * n, 1) for p in (0, planes - 1)]
    turn = float(ends[1][5, 0] - ends[0][5, 0])  # the third axis is the bend's and keeps its direction
    stress = surface_stress(
        mesh,
        displacement,
        nodes=grid.outer,
        angles=np.zeros(1),
        E_MPa=1.0,
        nu=0.0,
        smooth=np.zeros(mesh.n_slices, bool),
    )
    middle = stress.at(np.array([0.5 * radius * ANGLE]))[0, 0, 0, 0]
    return mesh, turn, float(middle)
