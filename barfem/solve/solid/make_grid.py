"""Compute the shipped grid of bend tables: `python -m barfem.solve.solid.make_grid [FOLDER]`, some minutes.

Slices shorter than the standard, since it is done once. Afterwards the grid is held against fields computed between
its nodes, and the greatest error found is stored with it.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid import grid
from barfem.solve.solid.fields import bend_field, field_density
from barfem.solve.solid.table import BendTable, tabulate

__all__ = ["asked_for", "main", "peak_error"]

Array = NDArray[np.float64]
Size = tuple[float | None, float, float]
Walls = tuple[float | None, ...]

SHORTER = 2.5
STEPS = 16000.0  # of the greatest coefficient, in an int16
BETWEEN = 48  # fields computed between nodes
SLOPE_STEP = 0.03  # of nu, to both sides


def field_table(size: Size, nu: float = grid.GRID_NU, shorter: float = SHORTER) -> BendTable:
    """The table of (t / d, R / d, angle), computed."""
    wall, radius, angle = size
    fine = field_density(radius * np.radians(angle), shorter=shorter)
    return tabulate(
        bend_field(radius_over_diameter=radius, angle_deg=angle, wall_over_diameter=wall, nu=nu, density=fine)
    )


def slope_table(size: Size) -> BendTable:
    """What the table gains by a nu of 1: the standard mesh tells it as well as a finer one."""
    less, more = (field_table(size, grid.GRID_NU + step, 2.0) for step in (-SLOPE_STEP, SLOPE_STEP))

    def slope(one: Array, other: Array) -> Array:
        return (other - one) / (2.0 * SLOPE_STEP)

    bore = None if less.bore is None or more.bore is None else slope(less.bore, more.bore)
    return replace(
        less, outside=slope(less.outside, more.outside), bore=bore, factors=slope(less.factors, more.factors)
    )


def _field_of_nu(size_and_nu: tuple[Size, float]) -> BendTable:
    return field_table(*size_and_nu)


def peak_error(table: BendTable, other: BendTable) -> float:
    """Greatest difference of the greatest von Mises stress in the bend, as a share, under torsion and bending mixed.

    Torsion, bending in and out of plane, and sixteen mixtures of alike nominal stress, on each surface by itself.
    """
    loads = np.concatenate([np.eye(3), np.random.default_rng(1).normal(size=(16, 3))]).T
    loads = np.concatenate([np.zeros((3, loads.shape[1])), loads])
    stations = np.linspace(0.0, table.length_over_diameter, 41)
    angles = np.radians(np.arange(0.0, 360.0, 7.5))
    worst = 0.0
    surfaces = ("outside",) if table.bore is None else ("outside", "bore")
    for surface in surfaces:
        peaks = []
        for one in (table, other):
            stress = one.maps(stations, angles, 1.0, surface=surface) @ loads  # type: ignore[arg-type]
            s, h, t = stress[..., 0, :], stress[..., 1, :], stress[..., 2, :]
            peaks.append(np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max(axis=(0, 1))))
        worst = max(worst, float(np.abs(peaks[0] / peaks[1] - 1.0).max()))
    return worst


def _between(walls: Walls) -> list[Size]:
    """Sizes between nodes, drawn at random but the same each time."""
    rng = np.random.default_rng(7)
    sizes: list[Size] = []
    for _ in range(BETWEEN):
        wall = None if walls == (None,) else float(rng.uniform(grid.WALLS[0], grid.WALLS[-1]))
        tightest = grid.RADII[0] if wall is None else grid.TIGHTEST_TUBE
        radius = float(1.0 / rng.uniform(1.0 / grid.RADII[-1], 1.0 / tightest))
        sizes.append((wall, radius, float(rng.uniform(grid.ANGLES_DEG[0], grid.ANGLES_DEG[-1]))))
    return sizes


def _nus() -> list[float]:
    """A nu for each size between nodes."""
    return [float(nu) for nu in np.random.default_rng(8).uniform(*grid.NUS, BETWEEN)]


def make(path: Path, walls: Walls, workers: int, *, slopes: bool) -> None:
    """Compute the grid of one shape, or of its slopes, and write it; slopes are checked with the shipped grid."""
    radii, angles = (grid.SLOPE_RADII, grid.SLOPE_ANGLES_DEG) if slopes else (grid.RADII, grid.ANGLES_DEG)
    sizes: list[Size] = list(product(walls, radii, angles))
    with ProcessPoolExecutor(workers) as pool:
        tables = []
        for number, table in enumerate(pool.map(slope_table if slopes else field_table, sizes), start=1):
            tables.append(table)
            print(f"\r{path.name}: {number} of {len(sizes)}", end="", file=sys.stderr, flush=True)
        surfaces = [[t.outside for t in tables]]
        if walls != (None,):
            surfaces.append([t.bore for t in tables if t.bore is not None])
        shape = (len(walls), len(radii), len(angles))
        series = np.array(surfaces)
        scale = np.abs(series).max(axis=(1, 2, 3)) / STEPS
        stored = np.round(series / scale[:, None, None, None]).astype(np.int16)
        stored = stored.reshape(len(surfaces), *shape, *series.shape[2:])
        factors = np.array([t.factors for t in tables]).reshape(*shape, 3)
        contents = {"series": stored, "scale": scale, "factors": factors, "error": np.nan}
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb") as file:
            np.savez(file, **contents)
        made = grid.Grid(stored, scale, factors, np.nan, walls, radii, angles)  # type: ignore[arg-type]
        errors = []
        between, nus = _between(walls), _nus() if slopes else [grid.GRID_NU] * BETWEEN
        for size, nu, table in zip(between, nus, pool.map(_field_of_nu, zip(between, nus, strict=True)), strict=True):
            ours = grid.interpolate(made, *size)
            if slopes:
                ours = grid.with_nu(grid.interpolate(grid.load(tube=walls != (None,)), *size), ours, nu)
            off = float(np.abs(ours.factors / table.factors - 1.0).max())
            errors.append(peak_error(ours, table))
            print(f"\n{path.name}: {size}, nu {nu:.3f}: {errors[-1]:.5f}, stiffness {off:.5f}", end="", file=sys.stderr)
    contents["error"] = max(errors)
    with path.open("wb") as file:
        np.savez(file, **contents)
    print(f"\n{path}: {path.stat().st_size} bytes, error {max(errors):.4%}", file=sys.stderr)


def asked_for(argv: list[str] | None, description: str | None) -> argparse.Namespace:
    """The options of a program that computes a shipped grid and its slopes."""
    parser = argparse.ArgumentParser(description=description, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent / "data")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--slopes-only", action="store_true", help="what another Poisson's ratio changes, not the grid")
    return parser.parse_args(argv)


def main(argv: list[str] | None = None) -> int:
    """Compute the grid and write it into the package, or into the folder that `argv` names. Returns 0."""
    options = asked_for(argv, __doc__)
    for name, walls, slope_walls in (("solid", (None,), (None,)), ("tube", grid.WALLS, grid.SLOPE_WALLS)):
        if not options.slopes_only:
            make(options.folder / f"bends_{name}.npz", walls, options.workers, slopes=False)
        make(options.folder / f"bends_{name}_nu.npz", slope_walls, options.workers, slopes=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
