"""Stress at the free surface, from the displacement of the surface alone.

The surface carries no load (mounts and joints act on sections, see `motion`), so its stress is plane and follows from
the two tangential derivatives of the displacement, as a strain gauge would read it; nothing is extrapolated from
inside. Each derivative is taken where a quadratic element gives it best, at its two Gauss points along that
direction (superconvergent: Barlow, IJNME 10 (1976) 243); round the section both derivatives are then fitted by a
trigonometric polynomial (round sections), or averaged at the nodes (flats); along the bar the stress at the Gauss
stations is joined by a cubic spline.
The surface's own positions pass through the same operators, so a rigid motion gives exactly no strain.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from barfem.model.frozen import frozen
from barfem.solve.solid.element import gauss_line, line_shapes
from barfem.solve.solid.mesh import SweptMesh
from barfem.solve.solid.section import wave_operators

__all__ = ["HARMONICS", "SurfaceStress", "local_operators", "surface_stress", "trigonometric_operators"]

# Slices recovered in one pass.
CHUNK = 8
# Harmonics of stress kept round a round section.
HARMONICS = 10

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@frozen(eq=False)
class SurfaceStress:
    """Stress of one surface of the mesh.

    Attributes
    ----------
    stations : (n_stations,)
        Two Gauss stations a slice, mm.
    angles : (n_points,)
        From a towards b, rad.
    values : (n_stations, n_points, 3, n_cases)
        Along the bar, round it, and their shear; MPa.
    """

    stations: Array
    angles: Array
    values: Array

    def at(self, stations: Array) -> Array:
        """(n, n_points, 3, n_cases) at any stations, by cubic spline."""
        return np.asarray(CubicSpline(self.stations, self.values, axis=0)(stations))


def _fit_matrix(angles: Array, order: int) -> Array:
    k = np.arange(1, order + 1)
    phase = angles[:, None] * k
    return np.concatenate([np.ones((len(angles), 1)), np.cos(phase), np.sin(phase)], axis=1)


def _gauss_slopes(count: int) -> tuple[Array, Array]:
    """Offsets (count,) of the Gauss points round the section from node 0, and derivative there from nodal values."""
    h = 2.0 * np.pi / count  # from a node to the next: half a cell
    points, _ = gauss_line(2)
    _, slopes = line_shapes(points)
    matrix = np.zeros((count, count))
    offsets = np.empty(count)
    for cell in range(count // 2):
        nodes = (2 * cell + np.arange(3)) % count
        for g in range(2):
            row = 2 * cell + g
            matrix[row, nodes] += slopes[g] / h
            offsets[row] = (2 * cell + 1 + points[g]) * h
    return offsets, matrix


@lru_cache(maxsize=256)
def trigonometric_operators(count: int, first_angle: float, out_angles: tuple[float, ...]) -> tuple[Array, Array]:
    """Value and derivative by angle (n_out, count) of a nodal field round a section, smoothed by a trigonometric fit.

    The order of the fit is `HARMONICS`, or two below the number of cells if that is less: higher ones hold the
    pattern of the cells (corner and middle nodes differ), and nothing of a bend's stress, whose harmonics fall off as
    powers of r / R.
    """
    order = max(2, min(HARMONICS, count // 2 - 2))
    nodes = first_angle + 2.0 * np.pi * np.arange(count) / count
    offsets, slopes = _gauss_slopes(count)
    out = _fit_matrix(np.array(out_angles), order)
    value = out @ np.linalg.pinv(_fit_matrix(nodes, order))
    slope = out @ np.linalg.pinv(_fit_matrix(first_angle + offsets, order)) @ slopes
    return value, slope


@lru_cache(maxsize=256)
def local_operators(count: int, first_angle: float, out_angles: tuple[float, ...]) -> tuple[Array, Array]:
    """The same without smoothing round the whole section: for outlines with corners.

    The derivative is carried linearly from the two Gauss points of a cell to its ends; each cell keeps its own side of
    a corner.
    """
    h = 2.0 * np.pi / count
    position = np.mod((np.array(out_angles) - first_angle) / h, count)
    cell = np.minimum((position // 2).astype(int), count // 2 - 1)
    x = position - 2 * cell - 1.0
    shapes, _ = line_shapes(x)
    points, _ = gauss_line(2)
    _, slopes = line_shapes(points)
    value, slope = np.zeros((len(x), count)), np.zeros((len(x), count))
    for row, (c, xi) in enumerate(zip(cell, x, strict=True)):
        nodes = (2 * c + np.arange(3)) % count
        second = (xi - points[0]) / (points[1] - points[0])
        value[row, nodes] += shapes[row]
        slope[row, nodes] += ((1.0 - second) * slopes[0] + second * slopes[1]) / h
    return value, slope


def surface_stress(
    mesh: SweptMesh,
    displacement: Array,
    *,
    nodes: Index,
    angles: Array,
    E_MPa: float,
    nu: float,
    smooth: NDArray[np.bool_] | None = None,
    in_grid_axes: bool = False,
) -> SurfaceStress:
    """Stress along, round and in shear on the surface through `nodes` of every plane.

    Parameters
    ----------
    displacement : (n_planes, n, 3, n_cases)
        In drawing axes, mm.
    nodes : (n_around,)
        `grid.outer` or `grid.bore`.
    angles : (n_points,)
        Where round the section, from a towards b, rad.
    smooth : (n_slices,) of bool, optional
        False where the outline has corners.
    in_grid_axes
        `angles` count from the grid's first axis instead of a.
    """
    planes = 2 * np.arange(mesh.n_slices)[:, None] + np.arange(3)
    points, _ = gauss_line(2)
    value, slope = line_shapes(points)
    half = 0.5 * (mesh.stations[planes[:, 2]] - mesh.stations[planes[:, 0]])
    stations = (mesh.stations[planes[:, 1]][:, None] + half[:, None] * points).ravel()
    out = np.empty((mesh.n_slices, 2, len(angles), 3, displacement.shape[-1]))
    t = _tangents(mesh, planes, value)
    turn = np.zeros(mesh.n_slices) if in_grid_axes else mesh.grid_angles[planes[:, 1]]
    is_smooth = np.ones(mesh.n_slices, bool) if smooth is None else smooth
    keys = np.column_stack([np.round(turn, 12), is_smooth])
    for key in np.unique(keys, axis=0):
        alike = np.flatnonzero(np.all(keys == key, axis=1))
        make = trigonometric_operators if key[1] else local_operators
        if mesh.grid.waves:
            p, d = wave_operators(mesh.grid.waves, angles - key[0] - mesh.grid.angles[0])
        else:
            p, d = make(len(nodes), float(mesh.grid.angles[0]), tuple(float(x) for x in angles - key[0]))
        # A few slices at a time: what one pass holds fits the cache, whatever the bar's length and cases.
        for here in np.array_split(alike, 1 + len(alike) // CHUNK):
            at = planes[here][:, :, None], nodes
            fields = np.concatenate([mesh.points[at][..., None], displacement[at]], axis=-1)
            # (slice, plane, node, xyz, case) -> derivative along s, and value, at the Gauss stations.
            along = np.einsum("gk,skncf->sgncf", slope, fields) / half[here, None, None, None, None]
            held = np.einsum("gk,skncf->sgncf", value, fields)
            by_s = np.einsum("on,sgncf->sgocf", p, along, optimize=True)
            by_angle = np.einsum("on,sgncf->sgocf", d, held, optimize=True)
            out[here] = _plane_stress(by_s, by_angle, t[here], E_MPa=E_MPa, nu=nu)
    return SurfaceStress(stations, angles, out.reshape(-1, *out.shape[2:]))


def _tangents(mesh: SweptMesh, planes: Index, value: Array) -> Array:
    """Unit tangent of the centreline (n_slices, 2, 3) at the Gauss stations."""
    t = np.einsum("gk,skc->sgc", value, mesh.frames[planes, 0])
    return t / np.linalg.norm(t, axis=-1, keepdims=True)


def _plane_stress(by_s: Array, by_angle: Array, t: Array, *, E_MPa: float, nu: float) -> Array:
    """Stress (s, g, o, 3, cases) from derivatives (s, g, o, 3, 1 + cases), the first of them the positions'."""
    g1, g2 = by_s[..., 0], by_angle[..., 0]
    normal = np.cross(g2, g1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    e1 = t[:, :, None] - np.sum(t[:, :, None] * normal, axis=-1, keepdims=True) * normal
    e1 /= np.linalg.norm(e1, axis=-1, keepdims=True)
    e2 = np.cross(e1, normal)
    basis = np.stack([e1, e2], axis=-2)  # (s, g, o, 2, 3)
    tangent = np.stack([g1, g2], axis=-2)
    # c[i, beta] = g^i . e_beta is the inverse of g_i . e_beta, transposed.
    c = np.linalg.inv(np.einsum("...ix,...bx->...bi", tangent, basis))
    slopes = np.stack([by_s[..., 1:], by_angle[..., 1:]], axis=-3)  # (s, g, o, i, 3, cases)
    v = np.einsum("...ax,...ixf->...aif", basis, slopes, optimize=True)
    grad = np.einsum("...aif,...ib->...abf", v, c, optimize=True)
    e11, e22, shear = grad[..., 0, 0, :], grad[..., 1, 1, :], grad[..., 0, 1, :] + grad[..., 1, 0, :]
    factor = E_MPa / (1.0 - nu * nu)
    return np.stack([factor * (e11 + nu * e22), factor * (e22 + nu * e11), E_MPa / (2.0 * (1.0 + nu)) * shear], axis=-2)
