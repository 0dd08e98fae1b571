"""Section forces at any station, from equilibrium: no quadrature point is extrapolated."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.vectors import cross
from barfem.solve.beam import BeamSolution
from barfem.solve.rotations import exponential, logarithm

__all__ = ["centreline_mm", "resultants", "section_turns"]

Array = NDArray[np.float64]


def _locate(solution: BeamSolution, stations: Array) -> tuple[NDArray[np.intp], Array]:
    """Element and local coordinate (0 to 1) of stations; on a vertex the element towards the middle of the bar."""
    mesh = solution.mesh
    edges = np.append(mesh.node_stations_mm[mesh.element_nodes[:, 0]], mesh.node_stations_mm[-1])
    beyond = stations > solution.bar.middle_mm
    gap = 1e-6
    element = np.where(
        beyond,
        np.searchsorted(edges, stations - gap, side="right") - 1,
        np.searchsorted(edges, stations + gap, side="right") - 1,
    )
    element = np.clip(element, 0, mesh.n_elements - 1)
    local = (stations - edges[element]) / (edges[element + 1] - edges[element])
    return element, np.clip(local, 0.0, 1.0)


def _shape(local: Array) -> Array:
    return np.stack([1 - 3 * local + 2 * local**2, 4 * local - 4 * local**2, -local + 2 * local**2], axis=-1)


def centreline_mm(solution: BeamSolution, stations_mm: ArrayLike) -> Array:
    """Where the centreline lies in each state, (j, k, s, 3) in drawing axes."""
    stations = np.atleast_1d(np.asarray(stations_mm, float))
    element, local = _locate(solution, stations)
    moved = solution.displacement_mm[:, :, solution.mesh.element_nodes[element]]  # (j, k, s, 3, 3)
    return _moved(solution.bar.centreline.evaluate(stations)[0], local, moved)


def _moved(points: Array, local: Array, moves: Array) -> Array:
    """Points (s, 3) of elements after their nodes' moves (j, k, s, 3, 3)."""
    return np.asarray(points + np.einsum("sc,jksca->jksa", _shape(local), moves))


def section_turns(solution: BeamSolution, stations_mm: ArrayLike) -> Array:
    """Rotation (j, k, s, 3, 3) of the section at each station from the drawing."""
    stations = np.atleast_1d(np.asarray(stations_mm, float))
    element, local = _locate(solution, stations)
    nodes, shape = solution.mesh.element_nodes, _shape(local)
    first = solution.turned[:, :, nodes[:, 0]]  # (j, k, e, 3, 3)
    from_first = np.swapaxes(first, -1, -2)
    # Several stations lie in one element: what its nodes turn against each other is worked out once.
    middle, last = (logarithm(solution.turned[:, :, nodes[:, c]] @ from_first)[:, :, element] for c in (1, 2))
    return exponential(shape[:, 1, None] * middle + shape[:, 2, None] * last) @ first[:, :, element]


def resultants(solution: BeamSolution, stations_mm: ArrayLike) -> Array:
    """N, V_a, V_b (N), T, M_a, M_b (N·mm) at stations (s,), in the turned section frame: (j, k, s, 6).

    They are what the part at larger stations exerts on the part at smaller ones. Between an element's ends force and
    moment follow from equilibrium with the nodal forces of that element; at a hole, and at a mount without length, the
    side towards the middle of the bar is meant.
    """
    stations = np.atleast_1d(np.asarray(stations_mm, float))
    mesh = solution.mesh
    element, local = _locate(solution, stations)
    points, frames = solution.bar.centreline.evaluate(stations)
    u = solution.displacement_mm[:, :, mesh.element_nodes[element]]  # (j, k, s, 3, 3)
    now = _moved(points, local, u)
    low = mesh.node_points_mm[mesh.element_nodes[element, 0]] + u[..., 0, :]
    high = mesh.node_points_mm[mesh.element_nodes[element, 2]] + u[..., 2, :]
    nodal = solution.element_nodal[:, :, element]
    n_low, n_high = -nodal[..., 0, :3], nodal[..., 2, :3]
    m_low, m_high = -nodal[..., 0, 3:], nodal[..., 2, 3:]
    x = local[:, None]
    force = (1 - x) * n_low + x * n_high
    # Lever arms with the mean force on the way; what is left at the far end is spread evenly.
    moment = m_low - cross(now - low, 0.5 * (n_low + force))
    gap = m_high - (m_low - cross(high - low, 0.5 * (n_low + n_high)))
    moment = moment + x * gap
    axes = section_turns(solution, stations) @ np.swapaxes(frames, 1, 2)
    turned_back = np.swapaxes(axes, -1, -2)
    return np.concatenate(
        [(turned_back @ force[..., None])[..., 0], (turned_back @ moment[..., None])[..., 0]], axis=-1
    )
