"""Surface stress: exact where it must be, converging where it can be."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.bent_wall import wall_by_rule
from barfem.solve.solid.assembly import Springs, factorise
from barfem.solve.solid.fields import bend_line
from barfem.solve.solid.mesh import SweptMesh, plane_stations, sweep
from barfem.solve.solid.motion import SectionMotion
from barfem.solve.solid.profile import Profile
from barfem.solve.solid.recovery import local_operators, surface_stress, trigonometric_operators
from barfem.solve.solid.section import disc_grid, ring_grid
from tests.solid import golovin

ANGLES = np.radians(np.arange(0.0, 360.0, 15.0))


def bent(tube: bool) -> SweptMesh:
    """A short bend with its wall as bent and an oval section: nothing about it is regular."""
    line = bend_line(1.5, np.radians(50.0), 0.7)
    stations = plane_stations(np.array([0.0, 0.7, 0.7 + line.segments[1].length_mm, line.length_mm]), np.full(3, 0.4))
    profile = Profile(
        1.0, 0.2 if tube else None, (wall_by_rule(wall=0.2, diameter=1.0, radius=1.5),) if tube else (), 0.05
    )
    grid = ring_grid(around=12, layers=1) if tube else disc_grid(core=2, rings=1)
    return sweep(grid=grid, profile=profile, centreline=line, stations=stations)


def linear(mesh: SweptMesh, gradient: np.ndarray) -> np.ndarray:
    return (mesh.points @ gradient.T)[..., None]


@pytest.mark.parametrize("tube", [False, True])
def test_a_rigid_motion_has_no_stress(tube: bool) -> None:
    mesh = bent(tube)
    turn = np.array([[0.0, -0.3, 0.2], [0.3, 0.0, -0.1], [-0.2, 0.1, 0.0]])
    for smooth in (True, False):
        stress = surface_stress(
            mesh, linear(mesh, turn) + 5.0, nodes=mesh.grid.outer, angles=ANGLES, E_MPa=1.0, nu=0.3,
            smooth=np.full(mesh.n_slices, smooth),
        )  # fmt: skip
        assert np.abs(stress.values).max() < 1e-12


@pytest.mark.parametrize("tube", [False, True])
def test_patch_a_linear_displacement_is_in_equilibrium_and_its_strain_is_found(tube: bool) -> None:
    """The patch test, on a bent, oval mesh with the wall as bent: no force inside, exact strain on the surface.

    A uniform uniaxial stress needs no force at any node that is neither on the surface nor on the ends.
    """
    mesh = bent(tube)
    n = mesh.grid.size
    gradient = np.array([[1.0, 0.2, -0.1], [0.3, -0.3, 0.4], [0.0, 0.5, 0.7]])
    motion = SectionMotion(mesh)
    rows = np.zeros((6, 9 * n))
    rows[:, : 3 * n] = motion.of_planes[0]
    factor, _ = factorise(mesh, E_MPa=1.0, nu=0.3, springs=(Springs(0, rows),))
    # The forces come slice by slice; the factor must give back the displacement they belong to.
    displacement = linear(mesh, gradient)
    local = np.einsum("pab,pnbc->pnac", mesh.frames, displacement)
    forces = nodal_forces(mesh, local)
    held = motion.of_planes[0].T @ (motion.of_planes[0] @ local[0].reshape(3 * n, 1))
    inside = np.setdiff1d(np.arange(n), np.concatenate([mesh.grid.outer, mesh.grid.bore]))
    assert np.abs(forces[1:-1, inside]).max() < 1e-13
    right = forces.reshape(len(mesh.stations), 3 * n, 1).copy()
    right[0] += held
    again = factor.solve(right).reshape(local.shape)
    assert np.allclose(again, local, atol=1e-10)
    for nodes in (mesh.grid.outer, mesh.grid.bore):
        if not len(nodes):
            continue
        stress = surface_stress(
            mesh, displacement, nodes=nodes, angles=mesh.grid.angles[1::2], E_MPa=1.0, nu=0.3,
            smooth=np.zeros(mesh.n_slices, bool),
        )  # fmt: skip
        # In-plane strain back from the plane stress; along, round, shear in the surface's own axes.
        s, h, t = (stress.values[:, :, k, 0] for k in range(3))
        first, second, shear = s - 0.3 * h, h - 0.3 * s, 2.6 * t
        strain = 0.5 * (gradient + gradient.T)
        # Invariants of the strain in the surface cannot exceed its range in space, whatever the surface's axes.
        low, high = np.linalg.eigvalsh(strain)[[0, -1]]
        middle, radius = 0.5 * (first + second), np.hypot(0.5 * (first - second), 0.5 * shear)
        assert (middle - radius).min() > low - 1e-9
        assert (middle + radius).max() < high + 1e-9
        # Along the bar at the first straight the axes are the drawing's.
        straight = stress.stations < 0.4
        assert np.allclose(first[straight], strain[0, 0], atol=1e-10)


def nodal_forces(mesh: SweptMesh, local: np.ndarray) -> np.ndarray:
    """K u, slice by slice, unknowns in plane axes (n_planes, n, 3, 1)."""
    from barfem.solve.solid.assembly import _local, element_nodes, slice_matrix

    points, turns = _local(mesh)
    out = np.zeros_like(local)
    n = mesh.grid.size
    for k in range(mesh.n_slices):
        matrix = slice_matrix(points[k], turns[k], element_nodes(mesh), E_MPa=1.0, nu=0.3)
        out[2 * k : 2 * k + 3] += (matrix @ local[2 * k : 2 * k + 3].reshape(9 * n, 1)).reshape(3, n, 3, 1)
    return out


@pytest.mark.parametrize("make", [trigonometric_operators, local_operators])
def test_operators_round_the_section_differentiate_smooth_fields(make) -> None:  # type: ignore[no-untyped-def]
    count, first = 32, -np.pi / 4.0
    nodes = first + 2.0 * np.pi * np.arange(count) / count
    value, slope = make(count, first, tuple(float(x) for x in ANGLES))
    field, exact, derivative = np.cos(2 * nodes - 0.3), np.cos(2 * ANGLES - 0.3), -2.0 * np.sin(2 * ANGLES - 0.3)
    # Third derivative 8, cell of half width h: the value errs to 8 h^3 / 15.6, a slope at its end to 8 h^2 / 3.
    h = 2.0 * np.pi / count
    assert np.allclose(value @ field, exact, atol=8.0 * h**3 / 15.0)
    assert np.allclose(slope @ field, derivative, atol=8.0 * h**2 / 2.5)
    if make is trigonometric_operators:
        assert np.allclose(value @ field, exact, atol=1e-12)
        assert np.allclose(slope @ field, derivative, atol=2e-3)


def test_order_of_convergence() -> None:
    """Against the exact curved bar: displacement with h^4 (energy of a quadratic element), peak stress better than h^2.

    A derivative of a quadratic element converges as h^2; at its Gauss points as h^3, and that is where it is read.
    """
    turns, peaks = [], []
    for level in (2, 3):
        _, turn, peak = golovin.solve(level)
        turns.append(abs(-turn / golovin.TURN - 1.0))
        peaks.append(abs(peak / golovin.hoop(np.array(golovin.INSIDE)) - 1.0))
    ratio = np.log(3.0 / 2.0)
    assert np.log(turns[0] / turns[1]) / ratio == pytest.approx(4.0, abs=0.3)
    assert np.log(peaks[0] / peaks[1]) / ratio > 2.7
