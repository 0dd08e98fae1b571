"""The section along the bar: walls as bent, ovality, flats and their transitions.

Wall of a bent tube: `barfem.model.bent_wall`.
Ovality: outer radius = D/2 (1 - u/2 cos(2 theta)), so u = 2 (Dmax - Dmin) / (Dmax + Dmin), Dmin in the bend's plane.
Both fade over `BLEND_DIAMETERS` on either side of the tangent, by a half cosine, and are half there at the tangent.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Flat
from barfem.model.bar_geometry import outline_share
from barfem.model.bent_wall import BentWall, bent_wall
from barfem.model.centreline import Centreline
from barfem.model.frozen import frozen
from barfem.solve.solid.section import SectionGrid, place_rectangle, place_round, place_slit, place_tube

__all__ = ["BLEND_DIAMETERS", "FlatEnd", "Profile", "bar_profile"]

Array = NDArray[np.float64]

BLEND_DIAMETERS = 0.25
# A pressed tube's bore closes to this share of the flat's thickness: its leaves touch but are not bonded.
SLIT_SHARE = 0.02


def _eased(x: Array) -> Array:
    """0 below 0, 1 above 1, a half cosine between."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(x, 0.0, 1.0)))


@frozen
class FlatEnd:
    """A flat from `start_mm` (full flat towards the tip) and its transition, ending at `round_mm`.

    `across_first`: the flat's normal (its thickness) lies along the grid's first axis.
    """

    start_mm: float
    round_mm: float
    flat: Flat
    across_first: bool

    def share(self, stations: Array, diameter_mm: float) -> Array:
        """0 where round, 1 where flat, the transition's outline between."""
        x = (stations - self.start_mm) / (self.round_mm - self.start_mm)
        return 1.0 - outline_share(self.flat, x, diameter_mm=diameter_mm)


@frozen
class Profile:
    """What the section is at every station.

    `bent`: walls of each bend from the right tip, in the unit of `wall_mm`; empty for walls as in the straights.
    `grid_angle_stations_mm` and `grid_angles_rad`: piecewise linear angle of the grid's first axis from a towards b.
    """

    diameter_mm: float
    wall_mm: float | None = None
    bent: tuple[BentWall, ...] = ()
    ovality: float = 0.0
    flats: tuple[FlatEnd, ...] = ()
    grid_angle_stations_mm: tuple[float, ...] = (0.0,)
    grid_angles_rad: tuple[float, ...] = (0.0,)

    @property
    def blends(self) -> bool:
        """The section changes at the tangents."""
        return self.ovality != 0.0 or (self.wall_mm is not None and len(self.bent) > 0)

    def grid_angle(self, stations: Array) -> Array:
        return np.interp(stations, self.grid_angle_stations_mm, self.grid_angles_rad)

    def across(self, grid: SectionGrid, centreline: Centreline, stations: Array) -> Array:
        """Positions (n_stations, n_nodes, 2) of the section's nodes in the grid's axes, mm."""
        if self.wall_mm is None:
            points = np.repeat(place_round(grid, diameter=self.diameter_mm)[None], len(stations), axis=0)
            points = points * self._oval(grid.disc, centreline, stations)[..., None]
        else:
            points = self._tube(grid, centreline, stations)
        for end in self.flats:
            share = end.share(stations, self.diameter_mm)[:, None, None]
            points = (1.0 - share) * points + share * self._flat(grid, end)
        return points

    def _bends(self, centreline: Centreline, stations: Array) -> list[tuple[Array, Array, int]]:
        """For each bend that reaches these stations: weight (n,), inward angle in the grid's axes (n,), its number."""
        out = []
        blend = BLEND_DIAMETERS * self.diameter_mm
        for number, bend in enumerate(centreline.bends):
            rise = (stations - bend.start_station_mm + blend) / (2.0 * blend)
            fall = (bend.end_station_mm + blend - stations) / (2.0 * blend)
            # In a bend shorter than both fades together they multiply: what it is changes smoothly with its length.
            weight = _eased(rise) * _eased(fall)
            if np.any(weight > 0.0):
                out.append((weight, bend.inward_angle_rad - self.grid_angle(stations), number))
        return out

    def _oval(self, disc: Array, centreline: Centreline, stations: Array) -> Array:
        """Radial scale (n_stations, n_nodes) of an oval solid section."""
        scale = np.ones((len(stations), len(disc)))
        if self.ovality:
            angle = np.arctan2(disc[:, 1], disc[:, 0])
            for weight, inward, _ in self._bends(centreline, stations):
                scale -= 0.5 * self.ovality * weight[:, None] * np.cos(2.0 * (angle - inward[:, None]))
        return scale

    def _tube(self, grid: SectionGrid, centreline: Centreline, stations: Array) -> Array:
        wall_mm = float(self.wall_mm or 0.0)
        outer = np.full((len(stations), len(grid.angles)), 0.5 * self.diameter_mm)
        wall = np.full_like(outer, wall_mm)
        for weight, inward, number in self._bends(centreline, stations):
            from_inside = grid.angles - inward[:, None]
            outer -= 0.25 * self.diameter_mm * self.ovality * weight[:, None] * np.cos(2.0 * from_inside)
            if self.bent:
                wall += weight[:, None] * (self.bent[number].at(from_inside - np.pi) - wall_mm)
        return place_tube(grid, outer_radius=outer, wall=wall)

    def _flat(self, grid: SectionGrid, end: FlatEnd) -> Array:
        thickness, width = end.flat.thickness_mm, end.flat.width_mm
        if self.wall_mm is not None:
            return place_slit(
                grid, width=width, thickness=thickness, gap=SLIT_SHARE * thickness, across_first=end.across_first
            )
        first, second = (thickness, width) if end.across_first else (width, thickness)
        return place_rectangle(grid, width_along_first=first, width_along_second=second)


def bar_profile(bar: Bar, *, ovality: float = 0.0) -> Profile:
    """Profile of a bar: its body, its bends as bent, its flats."""
    line = bar.centreline
    length = line.length_mm
    flats: list[FlatEnd] = []
    turns: list[tuple[float, float, float]] = []  # station of the inner end, its tip, angle of the grid there
    for end, tip in ((bar.right, 0.0), (bar.left, length)):
        if end.flat is None:
            continue
        inner = end.flat.length_mm if tip == 0.0 else length - end.flat.length_mm
        start = inner + (-end.flat.transition_mm if tip == 0.0 else end.flat.transition_mm)
        _, frame = line.evaluate([tip])
        normal = np.array(end.flat.normal)
        angle = float(np.arctan2(normal @ frame[0, 2], normal @ frame[0, 1]))
        quarter = round(angle / (0.5 * np.pi))
        flats.append(FlatEnd(start, inner, end.flat, across_first=quarter % 2 == 0))
        turns.append((inner, tip, angle - 0.5 * np.pi * quarter))
    stations, angles = _grid_turn(line, turns)
    section = bar.section
    even = section.wall_mm is None or section.bend_wall == "uniform"
    return Profile(
        diameter_mm=section.diameter_mm,
        wall_mm=section.wall_mm,
        bent=() if even else tuple(bent_wall(section, bend) for bend in line.bends),
        ovality=ovality,
        flats=tuple(flats),
        grid_angle_stations_mm=stations,
        grid_angles_rad=angles,
    )


def _grid_turn(
    line: Centreline, turns: list[tuple[float, float, float]]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """The grid follows the flats at both ends; where they differ it turns along the straights between them, evenly."""
    if not turns:
        return (0.0,), (0.0,)
    if len(turns) == 1 or abs(turns[0][2] - turns[1][2]) < 1e-9:
        return (0.0,), (turns[0][2],)
    first, last = turns[0][0], turns[1][0]
    stations, straight = [first], [0.0]
    for segment in line.segments:
        low, high = max(segment.start_station_mm, first), min(segment.end_station_mm, last)
        if high > low:
            stations.append(high)
            straight.append(straight[-1] + (high - low if segment.radius_mm is None else 0.0))
    total = straight[-1] if straight[-1] > 0.0 else 1.0
    return tuple(stations), tuple(turns[0][2] + (turns[1][2] - turns[0][2]) * x / total for x in straight)
