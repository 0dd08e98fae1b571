"""The beam's mesh of one bar: quadratic line elements on the true centreline, with everything the kernel needs.

scikit-fem supplies mesh, element, quadrature, numbering and mapping; the positions, frames, curvatures and
stiffnesses at its quadrature points come from the bar. Two-point Gauss on quadratic elements integrates the strain
energy without shear locking.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementLineP2, MeshLine

from barfem.model.bar import Bar, Mount
from barfem.model.bar_geometry import section_properties
from barfem.model.distinct import distinct
from barfem.model.frozen import frozen
from barfem.solve.stiffness import section_stiffness
from barfem.solve.supports import SpringPoints, spring_points

__all__ = ["BeamMesh", "build_mesh", "element_edges"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ELEMENTS_PER_RIGHT_ANGLE = 4
LONGEST_ELEMENT_MM = 100.0
LONGEST_WHERE_LOADS_VARY_MM = 15.0
SHORTEST_UNDER_A_MOUNT_MM = 0.5


@frozen
class BeamMesh:
    """Elements (e) with 2 quadrature points (q) and 3 nodes each: right vertex, middle, left vertex.

    Nodes (n) are numbered along the bar. `dofs` (e, 18) numbers u and phi of the three nodes, with one more number
    after each hole's vertex for the force in a link hung there, so that the system's half bandwidth stays 18.
    Frames are matrices whose columns are t, a, b.
    """

    node_stations_mm: Array  # (n,)
    node_points_mm: Array  # (n, 3)
    node_frames: Array  # (n, 3, 3)
    element_nodes: Index  # (e, 3)
    dofs: Index  # (e, 18)
    size: int
    shape: Array  # (3, q)
    slope_per_mm: Array  # (e, q, 3)
    weight_mm: Array  # (e, q)
    frames: Array  # (e, q, 3, 3)
    force_stiffness: Array  # (e, q, 3, 3): EA, GA_a, GA_b in the section frame
    moment_stiffness: Array  # (e, q, 3, 3): GJ, EI_a, EI_b in the section frame
    springs: SpringPoints
    hole_nodes: tuple[Index, Index]  # right, left: node of each hole
    hole_dofs: tuple[Index, Index]  # right, left: number of the link force of each hole

    @property
    def n_elements(self) -> int:
        return len(self.element_nodes)

    @property
    def n_nodes(self) -> int:
        return len(self.node_stations_mm)

    def node_dofs(self) -> Index:
        """Numbers (n, 6) of u and phi of each node."""
        numbers = np.empty((self.n_nodes, 6), dtype=np.intp)
        for corner in range(3):
            numbers[self.element_nodes[:, corner]] = self.dofs[:, 6 * corner : 6 * corner + 6]
        return numbers


def _break_points(bar: Bar) -> Array:
    """Stations at which an element must begin: tangents, mounts, holes, flats."""
    length = bar.centreline.length_mm
    points = [0.0, length]
    points += [segment.end_station_mm for segment in bar.centreline.segments]
    for mount in bar.mounts:
        half = 0.5 * mount.length_mm
        points += [mount.station_mm - half, mount.station_mm, mount.station_mm + half]
    for end in bar.ends:
        points += [hole.station_mm for hole in end.holes]
        if end.flat is not None:
            inboard = [end.flat.length_mm - end.flat.transition_mm, end.flat.length_mm]
            points += inboard if end.side == "right" else [length - x for x in inboard]
    stations = distinct(np.clip(points, 0.0, length))
    return stations[np.concatenate([[True], np.diff(stations) > 1e-7 * length])]


def _longest_under(bar: Bar, mount: Mount) -> float:
    """Of elements under a mount: half of what bending on an elastic foundation takes to die away, (4 E I / k')^0.25
    (Hetényi 1946), at most; only mounts that are all but rigid make that short.
    """
    if mount.length_mm <= 0.0 or mount.radial_total_N_per_mm <= 0.0:
        return LONGEST_WHERE_LOADS_VARY_MM
    bending = bar.steel.E_MPa * section_properties(bar, np.array([mount.station_mm])).I_a_mm4[0]
    dies_away = (4.0 * bending * mount.length_mm / mount.radial_total_N_per_mm) ** 0.25
    return float(np.clip(0.5 * dies_away, SHORTEST_UNDER_A_MOUNT_MM, LONGEST_WHERE_LOADS_VARY_MM))


def element_edges(bar: Bar, *, refinement: float = 1.0) -> Array:
    """Stations (e + 1,) of the element ends; `refinement` 2 halves every element."""
    edges = _break_points(bar)
    starts, ends = edges[:-1], edges[1:]
    middle = 0.5 * (starts + ends)
    index = bar.centreline.segment_index(middle)
    radius = np.array([segment.radius_mm or np.inf for segment in bar.centreline.segments])[index]
    longest = np.minimum(LONGEST_ELEMENT_MM, radius * 0.5 * np.pi / ELEMENTS_PER_RIGHT_ANGLE)
    counts = np.ceil((ends - starts) / longest - 1e-9).astype(int)
    longest = np.full(len(middle), np.inf)
    for mount in bar.mounts:
        longest[np.abs(middle - mount.station_mm) < 0.5 * mount.length_mm] = _longest_under(bar, mount)
    for end in bar.ends:
        if end.flat is not None:
            from_tip = middle if end.side == "right" else bar.centreline.length_mm - middle
            inside = (from_tip > end.flat.length_mm - end.flat.transition_mm) & (from_tip < end.flat.length_mm)
            longest[inside] = np.minimum(longest[inside], LONGEST_WHERE_LOADS_VARY_MM)
    counts = np.maximum(counts, np.ceil((ends - starts) / longest - 1e-9).astype(int))
    counts = np.ceil(np.maximum(counts, 1) * refinement - 1e-9).astype(int)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    fraction = (np.arange(counts.sum()) - first) / np.repeat(counts, counts)
    return np.append(np.repeat(starts, counts) + fraction * np.repeat(ends - starts, counts), edges[-1])


def build_mesh(bar: Bar, refinement: float = 1.0, *, bend_fields: bool = True) -> BeamMesh:
    """The mesh of `bar`; see `element_edges` for `refinement`, `section_stiffness` for `bend_fields`."""
    edges = element_edges(bar, refinement=refinement)
    basis = Basis(MeshLine(edges), ElementLineP2(), intorder=3)
    # scikit-fem numbers vertices first; along the bar keeps the band narrow.
    along = np.argsort(basis.doflocs[0], kind="stable")
    rank = np.empty_like(along)
    rank[along] = np.arange(len(along))
    element_nodes = rank[basis.element_dofs[[0, 2, 1]]].T.astype(np.intp)
    shape = np.stack([np.array(basis.basis[i][0])[0] for i in (0, 2, 1)])
    slope = np.stack([basis.basis[i][0].grad[0] for i in (0, 2, 1)], axis=-1)
    stations = np.array(basis.global_coordinates())[0]

    node_stations = basis.doflocs[0][along]
    points, node_frames = bar.centreline.evaluate(node_stations)
    _, frames = bar.centreline.evaluate(stations.ravel())
    frames = np.swapaxes(frames, 1, 2).reshape(*stations.shape, 3, 3)
    force, moment = section_stiffness(bar, stations.ravel(), bend_fields=bend_fields)

    hole_nodes = tuple(
        np.array([np.argmin(np.abs(node_stations - hole.station_mm)) for hole in end.holes], dtype=np.intp)
        for end in bar.ends
    )
    carriers = distinct(np.concatenate(hole_nodes))
    node_start = 6 * np.arange(len(node_stations)) + np.searchsorted(carriers, np.arange(len(node_stations)))
    dofs = (node_start[element_nodes][:, :, None] + np.arange(6)).reshape(-1, 18)
    return BeamMesh(
        node_stations_mm=node_stations,
        node_points_mm=points,
        node_frames=np.swapaxes(node_frames, 1, 2),
        element_nodes=element_nodes,
        dofs=dofs,
        size=6 * len(node_stations) + len(carriers),
        shape=shape,
        slope_per_mm=slope,
        weight_mm=basis.dx,
        frames=frames,
        force_stiffness=force.reshape(*stations.shape, 3, 3),
        moment_stiffness=moment.reshape(*stations.shape, 3, 3),
        springs=spring_points(bar, edges),
        hole_nodes=(hole_nodes[0], hole_nodes[1]),
        hole_dofs=(node_start[hole_nodes[0]] + 6, node_start[hole_nodes[1]] + 6),
    )
