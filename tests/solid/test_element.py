"""The hexahedron and the slice solver against independent assemblies."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse
import scipy.sparse.linalg
import skfem
from skfem.helpers import ddot, sym_grad, trace

from barfem.model.centreline import Centreline, Segment
from barfem.solve.solid.assembly import Springs, element_nodes, factorise, slice_kinds
from barfem.solve.solid.element import stiffness
from barfem.solve.solid.fields import bend_line
from barfem.solve.solid.mesh import plane_stations, sweep
from barfem.solve.solid.motion import SectionMotion
from barfem.solve.solid.profile import Profile
from barfem.solve.solid.section import disc_grid, ring_grid

CORNERS = np.array(
    [
        [0, 0, 0],
        [1.2, 0.1, 0],
        [-0.1, 0.9, 0.1],
        [1, 1.1, -0.1],
        [0, 0.1, 1],
        [1.1, 0, 1.3],
        [0.1, 1, 0.9],
        [1.2, 1.2, 1],
    ]
)


def test_stiffness_equals_scikit_fems() -> None:
    """Energy of displacement fields in a distorted hexahedron, scikit-fem's element, quadrature and mapping."""
    # Ours: corners i + 2 j + 4 k. scikit-fem numbers them its own way, so they are matched by place.
    reference = skfem.MeshHex.init_refdom()
    corners = [(i, j, k) for k in (0, 1) for j in (0, 1) for i in (0, 1)]
    place = [int(np.argmin(np.abs(reference.p.T - corner).sum(axis=1))) for corner in corners]
    p = np.empty((3, 8))
    p[:, place] = CORNERS.T
    mesh = skfem.MeshHex(p, reference.t)
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementHex2()), intorder=5)
    lam, mu = 0.3 / 1.3 / 0.4, 0.5 / 1.3

    @skfem.BilinearForm
    def form(u, v, w):  # type: ignore[no-untyped-def]
        return lam * trace(sym_grad(u)) * trace(sym_grad(v)) + 2.0 * mu * ddot(sym_grad(u), sym_grad(v))

    theirs = form.assemble(basis)
    line = np.array([0.0, 0.5, 1.0])
    z, y, x = np.meshgrid(line, line, line, indexing="ij")
    local = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    weights = np.prod([np.where(np.array(corner) == 1, local, 1 - local) for corner in corners], axis=2)
    points = weights.T @ CORNERS
    ours = stiffness(points[None], E_MPa=1.0, nu=0.3)[0]
    random = np.random.default_rng(1).normal(size=(27, 3))
    mine = random.ravel()
    # The same nodal values at scikit-fem's unknowns: matched by place and component.
    at = basis.doflocs
    other = np.empty(basis.N)
    for dofs, component in _by_component(basis):
        for dof in dofs:
            node = int(np.argmin(np.linalg.norm(points - at[:, dof], axis=1)))
            other[dof] = random[node, component]
    assert np.isclose(mine @ ours @ mine, other @ (theirs @ other), rtol=1e-12)


def _by_component(basis: skfem.Basis) -> list[tuple[np.ndarray, int]]:
    """Unknowns of each component: they alternate at every vertex, edge, face and inside."""
    out = []
    for component in range(3):
        parts = [
            d[component::3].ravel() for d in (basis.nodal_dofs, basis.edge_dofs, basis.facet_dofs, basis.interior_dofs)
        ]
        out.append((np.concatenate(parts), component))
    return out


def test_an_element_has_six_rigid_motions_and_no_more() -> None:
    line = np.array([0.0, 0.5, 1.0])
    z, y, x = np.meshgrid(line, line, line, indexing="ij")
    points = np.column_stack([x.ravel(), (1 + 0.3 * x.ravel()) * y.ravel(), z.ravel() + 0.1 * x.ravel() ** 2])
    values = np.linalg.eigvalsh(stiffness(points[None], E_MPa=1.0, nu=0.3)[0])
    assert np.all(np.abs(values[:6]) < 1e-12)
    assert values[6] > 1e-3


def test_an_element_turned_inside_out_is_refused() -> None:
    points = np.zeros((1, 27, 3))
    with pytest.raises(ValueError, match="inside out"):
        stiffness(points, E_MPa=1.0, nu=0.3)


@pytest.mark.parametrize("tube", [False, True])
def test_block_solution_equals_a_sparse_solver(tube: bool) -> None:
    """One matrix of all elements in drawing axes, SciPy's sparse LU, against the slice-by-slice solution."""
    line = bend_line(1.5, np.radians(50.0), 0.7)
    grid = ring_grid(around=8, layers=1) if tube else disc_grid(core=2, rings=1)
    stations = plane_stations(np.array([0.0, 0.7, 0.7 + line.segments[1].length_mm, line.length_mm]), np.full(3, 0.4))
    mesh = sweep(grid=grid, profile=Profile(1.0, 0.2 if tube else None), centreline=line, stations=stations)
    motion = SectionMotion(mesh)
    planes, n, _ = mesh.points.shape
    rows = np.zeros((6, 9 * n))
    rows[:, : 3 * n] = motion.of_planes[4]
    factor, kinds = factorise(mesh, E_MPa=1.0, nu=0.3, springs=(Springs(2, rows),))
    assert kinds < mesh.n_slices  # congruent slices were recognised
    loads = np.random.default_rng(2).normal(size=(planes, 3 * n, 2))
    ours = factor.solve(loads)
    cells = (element_nodes(mesh)[None] + 2 * n * np.arange(mesh.n_slices)[:, None, None]).reshape(-1, 27)
    points = mesh.points.reshape(-1, 3)
    blocks = stiffness(points[cells], E_MPa=1.0, nu=0.3)
    dofs = (3 * cells[:, :, None] + np.arange(3)).reshape(len(cells), 81)
    i, j = np.repeat(dofs, 81, axis=1).ravel(), np.tile(dofs, (1, 81)).ravel()
    size = 3 * len(points)
    matrix = scipy.sparse.coo_matrix((blocks.ravel(), (i, j)), shape=(size, size)).tocsc()
    turns = [scipy.sparse.coo_matrix(np.kron(np.eye(n), frame.T)) for frame in mesh.frames]  # local to drawing
    turn = scipy.sparse.block_diag(turns).tocsc()
    spring = np.zeros((6, size))
    spring[:, 12 * n : 15 * n] = motion.of_planes[4]
    matrix = turn.T @ matrix @ turn + scipy.sparse.csc_matrix(spring.T @ spring)
    theirs = scipy.sparse.linalg.spsolve(matrix.tocsc(), loads.reshape(size, 2), permc_spec="MMD_AT_PLUS_A")
    assert np.allclose(ours.reshape(size, 2), theirs, rtol=1e-8, atol=1e-8 * np.abs(theirs).max())


def test_slices_of_a_straight_and_of_a_bend_are_one_kind_each() -> None:
    frame = ((0.6, 0.8, 0.0), (-0.8, 0.6, 0.0), (0.0, 0.0, 1.0))
    straight = Segment(0.0, 10.0, (3.0, -2.0, 1.0), frame)
    point, axes = straight.evaluate(np.array([10.0]))
    bend = Segment(10.0, 6.0, tuple(point[0]), tuple(map(tuple, axes[0])), 4.0, 1.1, 1)  # type: ignore[arg-type]
    mesh = sweep(
        grid=disc_grid(core=2, rings=1),
        profile=Profile(2.0),
        centreline=Centreline((straight, bend)),
        stations=plane_stations(np.array([0.0, 10.0, 16.0]), np.array([1.0, 1.0])),
    )
    kinds, samples = slice_kinds(mesh)
    assert kinds.tolist() == [0] * 10 + [1] * 6
    assert samples.tolist() == [0, 10]
