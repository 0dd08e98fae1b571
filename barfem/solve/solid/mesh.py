"""The swept mesh: planes across the bar at stations along it, numbered plane by plane.

A slice is three planes: its ends and its middle. Every plane holds the same section grid, so node numbers are
plane * n + node, and a slice couples only to its neighbours.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.centreline import Centreline
from barfem.model.frozen import frozen
from barfem.solve.solid.profile import BLEND_DIAMETERS, Profile, bar_profile
from barfem.solve.solid.section import SectionGrid, disc_grid, ring_grid

__all__ = ["STANDARD", "Density", "SweptMesh", "bar_mesh", "body_grid", "plane_stations", "sweep"]

Array = NDArray[np.float64]


@frozen
class Density:
    """How fine the mesh is; lengths of slices in outside diameters. `refinement` divides them and multiplies cells.

    `core` and `rings` are those of a solid bar's O-grid; `around` and `layers` those of a tube, by its wall if None.
    """

    refinement: float = 1.0
    bend: float = 0.35
    near: float = 0.40
    straight: float = 1.0
    flat: float = 0.40
    core: int = 3
    rings: int = 1
    around: int | None = None
    layers: int | None = None


STANDARD = Density()


@frozen(eq=False)
class SweptMesh:
    """Planes of nodes along a bar.

    Attributes
    ----------
    grid
        The section's topology.
    stations : (2 n_slices + 1,)
        Of the planes, mm: slice ends at even places, slice middles at odd ones.
    frames : (n_planes, 3, 3)
        Rows t, first and second grid axis, in drawing axes. The grid's axes are a and b turned by `grid_angles`.
    grid_angles : (n_planes,)
        From a towards b, rad.
    origins : (n_planes, 3)
        Points of the centreline, mm.
    across : (n_planes, n, 2)
        Positions in the grid's axes, mm.
    points : (n_planes, n, 3)
        Positions in drawing axes, mm.
    """

    grid: SectionGrid
    stations: Array
    frames: Array
    grid_angles: Array
    origins: Array
    across: Array
    points: Array

    @property
    def n_slices(self) -> int:
        return len(self.stations) // 2

    @property
    def n_unknowns(self) -> int:
        return 3 * self.points.shape[0] * self.points.shape[1]

    def section_moments(self) -> Array:
        """Integrals of the shape functions over each plane: of N, N X, N Y, as (n_planes, n, 3)."""
        values, slopes, weights = self.grid.table
        corners = self.across[:, self.grid.cells]  # (planes, cells, c, 2)
        jacobian = np.einsum("gic,pnix->pngxc", slopes, corners, optimize=True)
        det = jacobian[..., 0, 0] * jacobian[..., 1, 1] - jacobian[..., 0, 1] * jacobian[..., 1, 0]
        at = np.einsum("gi,pnix->pngx", values, corners, optimize=True)
        measure = det * weights
        integrand = measure[..., None] * np.concatenate([np.ones_like(at[..., :1]), at], axis=-1)
        local = np.einsum("gi,pngk->pnik", values, integrand, optimize=True)
        out = np.zeros((*self.across.shape[:2], 3))
        for number, cell in enumerate(self.grid.cells):
            out[:, cell] += local[:, number]
        return out


def plane_stations(breaks: Array, sizes: Array) -> Array:
    """Stations of the planes: intervals of `breaks` (n + 1,) cut evenly into slices no longer than `sizes` (n,)."""
    ends = [breaks[:1]]
    for (low, high), size in zip(pairwise(breaks), sizes, strict=True):
        count = max(1, int(np.ceil((high - low) / size - 1e-9)))
        ends.append(low + (high - low) * np.arange(1, count + 1) / count)
    slices = np.concatenate(ends)
    stations = np.empty(2 * len(slices) - 1)
    stations[0::2] = slices
    stations[1::2] = 0.5 * (slices[:-1] + slices[1:])
    return stations


def sweep(*, grid: SectionGrid, profile: Profile, centreline: Centreline, stations: Array) -> SweptMesh:
    """Nodes at their exact places: on the true arcs, on the true surface."""
    origins, frames = centreline.evaluate(stations)
    angle = profile.grid_angle(stations)
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    t, a, b = frames[:, 0], frames[:, 1], frames[:, 2]
    frames = np.stack([t, cos * a + sin * b, -sin * a + cos * b], axis=1)
    across = profile.across(grid, centreline, stations)
    points = origins[:, None] + np.einsum("pnx,pxk->pnk", across, frames[:, 1:])
    return SweptMesh(grid, stations, frames, angle, origins, across, points)


def body_grid(density: Density, *, wall_over_diameter: float | None) -> SectionGrid:
    """The section grid for a density: an O-grid, or rings for a tube."""
    r = density.refinement
    if wall_over_diameter is None:
        return disc_grid(core=max(2, round(density.core * r)), rings=max(1, round(density.rings * r)))
    around, layers = _tube_cells(wall_over_diameter)
    around, layers = density.around or around, density.layers or layers
    return ring_grid(around=4 * max(2, round(around * r / 4)), layers=max(1, round(layers * r)))


def _tube_cells(wall_over_diameter: float) -> tuple[int, int]:
    """Cells round and through a tube's wall, for flexibility within 0.8 % and stress within 1.5 % of finer meshes.

    A curved quadratic cell much longer than the wall is thick is too stiff against ovalising; a thick wall needs two
    layers for the stress in its bore (measured at R / d of 1.5 and 2).
    """
    for wall, around in ((0.18, 16), (0.12, 20), (0.08, 24)):
        if wall_over_diameter >= wall:
            return around, 2 if wall_over_diameter >= 0.12 else 1
    return 32, 1


def bar_mesh(bar: Bar, *, density: Density = STANDARD) -> SweptMesh:
    """Mesh of the whole bar."""
    profile = bar_profile(bar, ovality=bar.section.ovality_percent / 100.0)
    line, d = bar.centreline, bar.section.diameter_mm
    wall = bar.section.wall_mm
    grid = body_grid(density, wall_over_diameter=None if wall is None else wall / d)
    breaks = _breaks(bar, profile)
    middles = 0.5 * (breaks[:-1] + breaks[1:])
    sizes = _sizes(bar, profile, middles, density)
    return sweep(grid=grid, profile=profile, centreline=line, stations=plane_stations(breaks, sizes))


def _breaks(bar: Bar, profile: Profile) -> Array:
    """Ends of intervals: tips, tangents and flats exactly; zone ends where nothing firm is close."""
    line, d = bar.centreline, bar.section.diameter_mm
    length = line.length_mm
    firm = [0.0, length, *(s.start_station_mm for s in line.segments[1:])]
    firm += [x for end in profile.flats for x in (end.start_mm, end.round_mm)]
    soft: list[float] = []
    for bend in line.bends:
        for tangent, away in ((bend.start_station_mm, -1.0), (bend.end_station_mm, 1.0)):
            soft.append(tangent + away * d)
            if profile.blends:
                soft += [tangent - BLEND_DIAMETERS * d, tangent + BLEND_DIAMETERS * d]
    for mount in bar.mounts:
        soft += [mount.station_mm - 0.5 * mount.length_mm, mount.station_mm + 0.5 * mount.length_mm]
    soft += [hole.station_mm for end in bar.ends for hole in end.holes]
    kept: list[float] = []
    for station in sorted(firm):
        if not kept or station - kept[-1] > 1e-9 * length:
            kept.append(station)
    for station in soft:
        if 0.0 < station < length and min(abs(station - other) for other in kept) > 0.15 * d:
            kept.append(station)
    return np.array(sorted(kept))


def _sizes(bar: Bar, profile: Profile, middles: Array, density: Density) -> Array:
    """Longest slice in each interval, mm."""
    d = bar.section.diameter_mm
    size = np.full(len(middles), density.straight)
    for bend in bar.centreline.bends:
        low, high = bend.start_station_mm, bend.end_station_mm
        near = (middles > low - d) & (middles < high + d)
        size[near] = np.minimum(size[near], density.near)
        inside = (middles > low) & (middles < high)
        size[inside] = np.minimum(size[inside], density.bend)
    for mount in bar.mounts:
        half = 0.5 * mount.length_mm
        here = np.abs(middles - mount.station_mm) < half + 0.01 * d
        size[here] = np.minimum(size[here], 0.6)
    for end in profile.flats:
        here = end.share(middles, d) > 0.0
        size[here] = np.minimum(size[here], density.flat)
    return size * d / density.refinement
