"""The shipped grid of bend tables, and interpolation in it: a bend's stress and stiffness in well under 5 ms.

Solid bars and tubes with the wall as bent, nu 0.25 to 0.35, no ovality. Cubic Lagrange interpolation in 1 / (R / d),
angle and t / d among the four nodes round each; `error` of a grid is the greatest error found between the nodes, of the
greatest von Mises stress of a bend, against fields computed there (see `make_grid`).

The tables are of nu 0.3. What a bend gains by another follows it in proportion: a coarser grid holds these slopes
(E 206 and G 78.5 GPa, as spring makers reckon, are nu 0.312, which changes a thin tube's stress by 0.6 %).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.table import BendTable, lagrange_weights

__all__ = [
    "ANGLES_DEG",
    "GRID_NU",
    "NUS",
    "RADII",
    "SLOPE_ANGLES_DEG",
    "SLOPE_RADII",
    "SLOPE_WALLS",
    "TIGHTEST_TUBE",
    "WALLS",
    "Grid",
    "inside_grid",
    "interpolate",
    "interpolated",
    "load",
    "of_grid_nu",
    "with_nu",
]

Array = NDArray[np.float64]

RADII = (1.25, 1.5, 2.0, 2.45, 3.0, 5.0, 8.0)
ANGLES_DEG = (10.0, 12.0, 14.5, 17.0, 20.0, 25.0, 30.0, 37.0, 45.0, 60.0, 75.0, 90.0, 120.0, 150.0)
WALLS = (0.08, 0.10, 0.13, 0.17, 0.21, 0.25, 0.30)
TIGHTEST_TUBE = 1.5  # R / d; the nodes below it serve those above
GRID_NU = 0.3
NUS = (0.25, 0.35)
"""Poisson's ratios that the slopes reach."""
SLOPE_RADII = (1.25, 2.0, 3.5, 8.0)
SLOPE_ANGLES_DEG = (10.0, 14.5, 20.0, 30.0, 45.0, 75.0, 110.0, 150.0)
SLOPE_WALLS = (0.08, 0.13, 0.21, 0.30)

# Sizes beyond the ends of the grid by less than this share are at its ends (rounding of a drawing's numbers).
ROUNDING = 1e-6


@frozen(eq=False)
class Grid:
    """Tables on the grid of one shape, as stored.

    Attributes
    ----------
    series : (n_surfaces, n_walls, n_radii, n_angles, S, K, 3, 6) of int16
        Coefficients over `scale`.
    scale : (n_surfaces, 3, 6)
    factors : (n_walls, n_radii, n_angles, 3)
    error
        Greatest error between nodes, of the greatest von Mises stress, as a share; of slopes that of bends of any nu.
    walls, radii, angles_deg
        The nodes; `walls` count for tubes alone.
    """

    series: NDArray[np.int16]
    scale: Array
    factors: Array
    error: float
    walls: Sequence[float] = WALLS
    radii: Sequence[float] = RADII
    angles_deg: Sequence[float] = ANGLES_DEG


@lru_cache(maxsize=4)
def load(*, tube: bool, slopes: bool = False) -> Grid:
    """The shipped grid of tubes, or of solid bars (one wall, one surface); `slopes`: what they gain by a nu of 1."""
    name = f"bends_{'tube' if tube else 'solid'}{'_nu' if slopes else ''}.npz"
    nodes = (SLOPE_WALLS, SLOPE_RADII, SLOPE_ANGLES_DEG) if slopes else (WALLS, RADII, ANGLES_DEG)
    with (resources.files("barfem.solve.solid") / "data" / name).open("rb") as file, np.load(file) as held:
        return Grid(held["series"], held["scale"], held["factors"], float(held["error"]), *nodes)


def of_grid_nu(nu: float) -> bool:
    """Whether the tables hold as they are."""
    return abs(nu - GRID_NU) < 1e-9


def _within(value: float, nodes: Sequence[float]) -> bool:
    return nodes[0] * (1.0 - ROUNDING) <= value <= nodes[-1] * (1.0 + ROUNDING)


def inside_grid(*, radius_over_diameter: float, angle_deg: float, wall_over_diameter: float | None, nu: float) -> bool:
    """Whether a bend lies inside the grid (wall as bent, no ovality)."""
    return (
        _within(nu, NUS)
        and _within(radius_over_diameter, RADII if wall_over_diameter is None else (TIGHTEST_TUBE, RADII[-1]))
        and _within(angle_deg, ANGLES_DEG)
        and (wall_over_diameter is None or _within(wall_over_diameter, WALLS))
    )


@lru_cache(maxsize=256)
def interpolated(
    *, radius_over_diameter: float, angle_deg: float, wall_over_diameter: float | None, nu: float
) -> BendTable:
    """The table of a bend inside the shipped grid."""
    tube, size = wall_over_diameter is not None, (wall_over_diameter, radius_over_diameter, angle_deg)
    table = interpolate(load(tube=tube), *size)
    return table if of_grid_nu(nu) else with_nu(table, interpolate(load(tube=tube, slopes=True), *size), nu)


def with_nu(table: BendTable, slope: BendTable, nu: float) -> BendTable:
    """A table of the grid's nu at another one."""
    more = nu - GRID_NU
    bore = None if table.bore is None or slope.bore is None else table.bore + more * slope.bore
    return replace(
        table, outside=table.outside + more * slope.outside, bore=bore, factors=table.factors + more * slope.factors
    )


def interpolate(grid: Grid, wall: float | None, radius: float, angle_deg: float) -> BendTable:
    """The table of t / d, R / d and angle in any grid."""
    by_wall = np.ones(1) if wall is None else lagrange_weights(np.array(grid.walls), np.array([wall]))[0]
    by_radius = lagrange_weights(-1.0 / np.array(grid.radii), np.array([-1.0 / radius]))[0]
    by_angle = lagrange_weights(np.array(grid.angles_deg), np.array([angle_deg]))[0]
    used = [np.flatnonzero(weights) for weights in (by_wall, by_radius, by_angle)]
    weights = np.einsum("i,j,k->ijk", by_wall[used[0]], by_radius[used[1]], by_angle[used[2]]).ravel()
    walls, radii, angles = np.ix_(*used)
    block = grid.series[:, walls, radii, angles]
    flat = block.reshape(len(block), len(weights), -1)
    series = np.stack([weights @ part.astype(np.float64) for part in flat]).reshape(len(block), *block.shape[4:])
    series *= grid.scale[:, None, None]
    return BendTable(
        radius_over_diameter=radius,
        angle_deg=angle_deg,
        wall_over_diameter=wall,
        outside=series[0],
        bore=series[1] if len(series) > 1 else None,
        factors=weights @ grid.factors[np.ix_(*used)].reshape(len(weights), -1),
    )
