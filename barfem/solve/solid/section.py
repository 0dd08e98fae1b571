"""Grids of a section: biquadratic cells, an O-grid for solid bars and rings for tubes, and the outlines they take.

A tube that is round all along may take one cell of waves instead: trigonometric polynomials round the section times
Lagrange polynomials through the wall. A bend's displacement is a few harmonics, which it holds without the stiffness
of a curved cell that is longer than the wall is thick, and with half as many unknowns.

A section grid is a topology with coordinates on a unit disc (or, for a tube, wall fraction and angle); `place_*`
turn it into positions across the bar. Cell nodes stand in tensor order, i + 3 j, right-handed seen from +t.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.element import Table, gauss_line, plane_table

__all__ = [
    "SectionGrid",
    "disc_grid",
    "place_rectangle",
    "place_round",
    "place_slit",
    "place_tube",
    "ring_grid",
    "wave_operators",
    "wave_ring",
]

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@frozen(eq=False)
class SectionGrid:
    """Topology of one section.

    Attributes
    ----------
    cells : (n_cells, c)
        Nodes of each cell in tensor order, nine of a biquadratic one.
    disc : (n, 2)
        Coordinates on the unit disc (disc grids), or (wall fraction from bore to outside, 0) (ring grids).
    square : (n, 2)
        Coordinates on the square [-1, 1]^2 whose boundary the outer nodes share (disc grids).
    angles : (n_around,)
        Angle of the nodes of `outer` (and of `bore`), from the grid's first axis to its second, rad, evenly spaced.
    outer, bore : (n_around,)
        Surface nodes in that order; cells begin at even positions. `bore` is empty for a disc.
    waves
        Harmonics round the section that its one cell holds; 0 for biquadratic cells.
    """

    cells: Index
    disc: Array
    square: Array
    angles: Array
    outer: Index
    bore: Index
    waves: int = 0

    @property
    def table(self) -> Table:
        """Shape functions of a cell and their integration."""
        return _wave_table(self.waves, len(self.disc) // len(self.angles)) if self.waves else plane_table()

    @property
    def size(self) -> int:
        return len(self.disc)


def _quads(rows: Index) -> Index:
    """Biquadratic cells (n, 9) of a logically rectangular array of nodes, first axis j, second axis i."""
    blocks = [
        rows[2 * j : 2 * j + 3, 2 * i : 2 * i + 3].ravel()
        for j in range(rows.shape[0] // 2)
        for i in range(rows.shape[1] // 2)
    ]
    return np.array(blocks, dtype=np.intp)


@lru_cache(maxsize=32)
def disc_grid(
    *, core: int, rings: int, core_size: float = 0.52, bulge: float = 0.55, grading: float = 1.0
) -> SectionGrid:
    """O-grid of a disc: `core` x `core` cells inside, `rings` rings of 4 `core` cells round them.

    `core_size` is the half side of the core over the disc's radius, `bulge` how far its sides bend outwards
    (0: a square; 1: as the elliptical map of a square onto a disc). Rings get thinner outwards with `grading` above 1.
    """
    n = 2 * core + 1
    line = np.linspace(-1.0, 1.0, n)
    u, v = np.meshgrid(line, line)
    uv = np.column_stack([u.ravel(), v.ravel()])
    elliptical = np.column_stack(
        [uv[:, 0] * np.sqrt(1.0 - uv[:, 1] ** 2 / 2.0), uv[:, 1] * np.sqrt(1.0 - uv[:, 0] ** 2 / 2.0)]
    )
    inner = core_size * ((1.0 - bulge) * uv + bulge * elliptical)
    number = np.arange(n * n).reshape(n, n)
    # Round the core, from its corner (1, -1), anticlockwise: right, top, left, bottom.
    walk = np.concatenate([number[:-1, -1], number[-1, :0:-1], number[:0:-1, 0], number[0, :-1]])
    around = len(walk)
    angles = -np.pi / 4.0 + 2.0 * np.pi * np.arange(around) / around
    circle, edge = np.column_stack([np.cos(angles), np.sin(angles)]), uv[walk]
    disc, square, layers = [inner], [core_size * uv], [walk]
    ends = 1.0 - (1.0 - np.arange(rings + 1) / rings) ** grading
    fractions = np.interp(np.arange(2 * rings + 1), 2 * np.arange(rings + 1), ends)
    for k, fraction in enumerate(fractions.tolist()[1:], start=1):
        disc.append((1.0 - fraction) * inner[walk] + fraction * circle)
        square.append(((1.0 - fraction) * core_size + fraction) * edge)
        layers.append(n * n + (k - 1) * around + np.arange(around))
    stack = np.array(layers)
    # Outwards first, then round: right-handed.
    wrapped = np.concatenate([stack, stack[:, :1]], axis=1).T
    return SectionGrid(
        cells=np.concatenate([_quads(number), _quads(wrapped)]),
        disc=np.concatenate(disc),
        square=np.concatenate(square),
        angles=angles,
        outer=stack[-1],
        bore=np.empty(0, dtype=np.intp),
    )


@lru_cache(maxsize=32)
def ring_grid(*, around: int, layers: int) -> SectionGrid:
    """Grid of a tube: `around` cells round, `layers` through the wall."""
    count, depth = 2 * around, 2 * layers + 1
    number = np.arange(depth * count).reshape(depth, count)
    angles = -np.pi / 4.0 + 2.0 * np.pi * np.arange(count) / count
    wrapped = np.concatenate([number, number[:, :1]], axis=1).T
    fraction = np.repeat(np.linspace(0.0, 1.0, depth), count)
    return SectionGrid(
        cells=_quads(wrapped),
        disc=np.column_stack([fraction, np.zeros_like(fraction)]),
        square=np.empty((0, 2)),
        angles=angles,
        outer=number[-1],
        bore=number[0],
    )


@lru_cache(maxsize=8)
def wave_ring(*, waves: int, depth: int) -> SectionGrid:
    """Grid of a round tube: one cell of harmonics up to `waves`, a polynomial of order `depth` through the wall."""
    count = 2 * waves + 1
    number = np.arange((depth + 1) * count).reshape(depth + 1, count)
    at = 0.5 * (1.0 + _wall_nodes(depth + 1))
    return SectionGrid(
        cells=number.reshape(1, -1),
        disc=np.column_stack([np.repeat(at, count), np.zeros(number.size)]),
        square=np.empty((0, 2)),
        angles=2.0 * np.pi * np.arange(count) / count,
        outer=number[-1],
        bore=number[0],
        waves=waves,
    )


def _wall_nodes(count: int) -> Array:
    """Points through the wall on [-1, 1], closer at its sides (Chebyshev's extrema)."""
    return -np.cos(np.pi * np.arange(count) / (count - 1))


@lru_cache(maxsize=8)
def _wave_table(waves: int, count: int) -> Table:
    """The cell of `wave_ring` with `count` nodes through the wall: reference axes outwards (-1 to 1) and angle."""
    nodes = _wall_nodes(count)
    points, through = gauss_line(count)
    powers = np.arange(count)
    to_nodes = np.linalg.inv(nodes[:, None] ** powers)
    radial = points[:, None] ** powers @ to_nodes
    slope = (powers[1:] * points[:, None] ** (powers[1:] - 1)) @ to_nodes[1:]
    # Products of two displacements' waves times the geometry's few.
    many = 3 * waves + 4
    angles = 2.0 * np.pi * np.arange(many) / many
    around, turn = wave_operators(waves, angles)
    parts = [(radial, around), (slope, around), (radial, turn)]
    values, first, second = (np.einsum("qj,pi->qpji", r, a).reshape(len(points) * many, -1) for r, a in parts)
    weights = np.outer(through, np.full(many, 2.0 * np.pi / many)).ravel()
    return values, np.stack([first, second], axis=-1), weights


def wave_operators(waves: int, angles: Array) -> tuple[Array, Array]:
    """Value and derivative by angle (n, 2 waves + 1) at angles (n,) from the first node, of nodal values round."""
    nodes = 2.0 * np.pi * np.arange(2 * waves + 1) / (2 * waves + 1)
    order = np.arange(1, waves + 1)
    difference = order * (np.asarray(angles, float)[:, None, None] - nodes[:, None])
    value = (1.0 + 2.0 * np.cos(difference).sum(axis=-1)) / (2 * waves + 1)
    slope = -2.0 * (order * np.sin(difference)).sum(axis=-1) / (2 * waves + 1)
    return value, slope


def place_round(grid: SectionGrid, *, diameter: float) -> Array:
    """Positions (n, 2) of a disc grid in a solid round section."""
    return 0.5 * diameter * grid.disc


def place_rectangle(grid: SectionGrid, *, width_along_first: float, width_along_second: float) -> Array:
    """Positions (n, 2) of a disc grid in a rectangle with its sides along the grid's axes."""
    return grid.square * np.array([0.5 * width_along_first, 0.5 * width_along_second])


def place_tube(grid: SectionGrid, *, outer_radius: Array, wall: Array) -> Array:
    """Positions (..., n, 2) of a ring grid, from outer radius and wall (..., n_around) at the grid's angles.

    The wall is measured along the radius of the tube's centre.
    """
    depth = len(grid.disc) // len(grid.angles)
    fraction = grid.disc[:: len(grid.angles), 0]
    radius = outer_radius[..., None, :] - (1.0 - fraction)[:, None] * wall[..., None, :]
    direction = np.stack([np.cos(grid.angles), np.sin(grid.angles)], axis=-1)
    points = radius[..., None] * direction
    return points.reshape(*points.shape[:-3], depth * len(grid.angles), 2)


def place_slit(grid: SectionGrid, *, width: float, thickness: float, gap: float, across_first: bool) -> Array:
    """Positions (n, 2) of a ring grid pressed flat.

    A stadium `thickness` high, its bore closed to a slit of height `gap`.
    `across_first`: the thickness lies along the grid's first axis.
    """
    count = len(grid.angles)
    outer = _stadium(grid.angles - (np.pi / 2.0 if across_first else 0.0), width, thickness)
    bore = _stadium(grid.angles - (np.pi / 2.0 if across_first else 0.0), width - thickness + gap, gap)
    fraction = grid.disc[::count, 0][:, None, None]
    points = ((1.0 - fraction) * bore + fraction * outer).reshape(-1, 2)
    return np.column_stack([-points[:, 1], points[:, 0]]) if across_first else points


def _stadium(angles: Array, width: float, height: float) -> Array:
    """Points (n, 2) of a stadium (a rectangle with half-round ends), long side along the first axis.

    The angle is turned into a share of the quarter perimeter, so evenly spaced angles give evenly spaced points.
    """
    r, half = 0.5 * height, 0.5 * (width - height)
    quarter = half + 0.5 * np.pi * r
    q, rest = np.floor(angles / (0.5 * np.pi)).astype(int) % 4, np.mod(angles, 0.5 * np.pi)
    share = np.where(q % 2 == 0, rest, 0.5 * np.pi - rest) / (0.5 * np.pi) * quarter
    turn = np.minimum(share / r, 0.5 * np.pi)
    along = np.maximum(share - 0.5 * np.pi * r, 0.0)
    x, y = half + r * np.cos(turn) - along, r * np.sin(turn)
    return np.column_stack([np.where((q == 1) | (q == 2), -x, x), np.where(q >= 2, -y, y)])
