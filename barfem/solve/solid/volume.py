"""Stress at every node of the solid, for viewing: superconvergent inside, the surface's own recovery on the surface."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid.assembly import element_nodes
from barfem.solve.solid.element import gauss_line, solid_table
from barfem.solve.solid.mesh import SweptMesh
from barfem.solve.solid.recovery import surface_stress

__all__ = ["nodal_stress", "node_stress", "von_mises_tensor", "with_surface_stress"]

Array = NDArray[np.float64]


def _extrapolation() -> Array:
    """(27, 8): trilinear from the 2 x 2 x 2 Gauss points to the nodes."""
    points, _ = gauss_line(2)
    at = np.array([-1.0, 0.0, 1.0])
    second = (at - points[0]) / (points[1] - points[0])
    line = np.stack([1.0 - second, second], axis=-1)  # (3 nodes, 2 points)
    return np.einsum("kr,jq,ip->kjirqp", line, line, line).reshape(27, 8)


def nodal_stress(mesh: SweptMesh, displacement: Array, *, E_MPa: float, nu: float) -> Array:
    """Stress tensors (n_planes, n, 3, 3) in drawing axes, MPa, of one case; displacement (n_planes, n, 3).

    Read at the eight points where a quadratic element's stress is best, carried linearly to its nodes, and averaged
    between elements.
    """
    slopes, _ = solid_table(2)
    nodes = element_nodes(mesh)
    planes, n, _ = mesh.points.shape
    cells = (nodes[None] + 2 * n * np.arange(mesh.n_slices)[:, None, None]).reshape(-1, 27)
    points, moved = mesh.points.reshape(-1, 3)[cells], displacement.reshape(-1, 3)[cells]
    jacobian = np.einsum("gic,nix->ngxc", slopes, points, optimize=True)
    by_reference = np.einsum("gic,nix->ngxc", slopes, moved, optimize=True)
    gradient = by_reference @ np.linalg.inv(jacobian)
    strain = 0.5 * (gradient + np.swapaxes(gradient, -1, -2))
    mu = E_MPa / (2.0 * (1.0 + nu))
    lam = 2.0 * mu * nu / (1.0 - 2.0 * nu)
    trace = np.trace(strain, axis1=-2, axis2=-1)
    stress = 2.0 * mu * strain + lam * trace[..., None, None] * np.eye(3)
    at_nodes = np.einsum("ag,ngxy->naxy", _extrapolation(), stress, optimize=True)
    total = np.zeros((planes * n, 9))
    for component in range(9):
        values = at_nodes.reshape(-1, 27, 9)[..., component].ravel()
        total[:, component] = np.bincount(cells.ravel(), weights=values, minlength=planes * n)
    count = np.bincount(cells.ravel(), minlength=planes * n)
    return (total / count[:, None]).reshape(planes, n, 3, 3)


def with_surface_stress(
    mesh: SweptMesh, stress: Array, displacement: Array, *, E_MPa: float, nu: float, smooth: NDArray[np.bool_]
) -> Array:
    """`stress` (n_planes, n, 3, 3) with the recovered plane stress of outside and bore in its place, where `smooth`.

    What a viewer shows on the surface is then what the check reports. `smooth` (n_slices,): False where flat.
    """
    out = stress.copy()
    flat = np.zeros(len(mesh.stations), dtype=bool)
    for k in range(3):
        flat[2 * np.flatnonzero(~smooth) + k] = True
    for nodes in (mesh.grid.outer, mesh.grid.bore):
        if not len(nodes):
            continue
        found = surface_stress(
            mesh,
            displacement[..., None],
            nodes=nodes,
            angles=mesh.grid.angles,
            E_MPa=E_MPa,
            nu=nu,
            smooth=smooth,
            in_grid_axes=True,
        ).at(mesh.stations)[..., 0]
        e1 = np.broadcast_to(mesh.frames[:, None, 0], (*found.shape[:2], 3))
        round_it = mesh.points[:, np.roll(nodes, -1)] - mesh.points[:, np.roll(nodes, 1)]
        e2 = round_it / np.linalg.norm(round_it, axis=-1, keepdims=True)
        pairs = ((e1, e1, 0), (e2, e2, 1), (e1, e2, 2), (e2, e1, 2))
        tensor = sum(found[..., c, None, None] * u[..., :, None] * v[..., None, :] for u, v, c in pairs)
        out[:, nodes] = np.where(flat[:, None, None, None], out[:, nodes], tensor)
    return out


def node_stress(
    mesh: SweptMesh, displacement: Array, *, E_MPa: float, nu: float, smooth: NDArray[np.bool_] | None = None
) -> Array:
    """Stress tensors (n_planes, n, 3, 3) of one case: the surface's own recovery on it, the elements' beneath.

    `smooth` (n_slices,): False where the outline has corners; true everywhere by default.
    """
    if smooth is None:
        smooth = np.ones(mesh.n_slices, dtype=bool)
    inner = nodal_stress(mesh, displacement, E_MPa=E_MPa, nu=nu)
    return with_surface_stress(mesh, inner, displacement, E_MPa=E_MPa, nu=nu, smooth=smooth)


def von_mises_tensor(stress: Array) -> Array:
    """Of stress tensors (..., 3, 3)."""
    mean = np.trace(stress, axis1=-2, axis2=-1)[..., None, None] / 3.0
    deviator = stress - mean * np.eye(3)
    return np.asarray(np.sqrt(1.5 * np.sum(deviator**2, axis=(-2, -1))))
