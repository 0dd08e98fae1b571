"""Compute the shipped grid of bend tables: `python -m barfem.solve.solid.make_grid [FOLDER]`, some minutes.

Slices shorter than the standard, since it is done once. Afterwards the grid is held against fields computed between
its nodes, and the greatest error found is stored with it.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid import grid
from barfem.solve.solid.fields import bend_field, field_density
from barfem.solve.solid.table import BendTable, tabulate

__all__ = ["main", "peak_error"]

Array = NDArray[np.float64]
Size = tuple[float | None, float, float]

SHORTER = 2.5
STEPS = 16000.0  # of the greatest coefficient, in an int16
BETWEEN = 48  # fields computed between nodes


def field_table(size: Size) -> BendTable:
    """The table of (t / d, R / d, angle), computed."""
    wall, radius, angle = size
    fine = field_density(radius * np.radians(angle), shorter=SHORTER)
    return tabulate(
        bend_field(radius_over_diameter=radius, angle_deg=angle, wall_over_diameter=wall, nu=grid.GRID_NU, density=fine)
    )


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


def _between(walls: tuple[float | None, ...]) -> list[Size]:
    """Sizes between nodes, drawn at random but the same each time."""
    rng = np.random.default_rng(7)
    sizes: list[Size] = []
    for _ in range(BETWEEN):
        wall = None if walls == (None,) else float(rng.uniform(grid.WALLS[0], grid.WALLS[-1]))
        tightest = grid.RADII[0] if wall is None else grid.TIGHTEST_TUBE
        radius = float(1.0 / rng.uniform(1.0 / grid.RADII[-1], 1.0 / tightest))
        sizes.append((wall, radius, float(rng.uniform(grid.ANGLES_DEG[0], grid.ANGLES_DEG[-1]))))
    return sizes


def make(path: Path, walls: tuple[float | None, ...], workers: int) -> None:
    """Compute the grid of one shape and write it."""
    sizes: list[Size] = list(product(walls, grid.RADII, grid.ANGLES_DEG))
    with ProcessPoolExecutor(workers) as pool:
        tables = []
        for number, table in enumerate(pool.map(field_table, sizes), start=1):
            tables.append(table)
            print(f"\r{path.name}: {number} of {len(sizes)}", end="", file=sys.stderr, flush=True)
        surfaces = [[t.outside for t in tables]]
        if walls != (None,):
            surfaces.append([t.bore for t in tables if t.bore is not None])
        shape = (len(walls), len(grid.RADII), len(grid.ANGLES_DEG))
        series = np.array(surfaces)
        scale = np.abs(series).max(axis=(1, 2, 3)) / STEPS
        stored = np.round(series / scale[:, None, None, None]).astype(np.int16)
        stored = stored.reshape(len(surfaces), *shape, *series.shape[2:])
        factors = np.array([t.factors for t in tables]).reshape(*shape, 3)
        contents = {"series": stored, "scale": scale, "factors": factors, "error": np.nan}
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb") as file:
            np.savez(file, **contents)
        loaded = grid.Grid(stored, scale, factors, np.nan)
        errors = []
        for size, table in zip(between := _between(walls), pool.map(field_table, between), strict=True):
            errors.append(peak_error(grid.interpolate(loaded, *size), table))
            print(f"\n{path.name}: {size}: {errors[-1]:.5f}", end="", file=sys.stderr, flush=True)
    contents["error"] = max(errors)
    with path.open("wb") as file:
        np.savez(file, **contents)
    print(f"\n{path}: {path.stat().st_size} bytes, error {max(errors):.4%}", file=sys.stderr)


def main(argv: list[str] | None = None) -> int:
    """Compute the grid and write it into the package, or into the folder that `argv` names. Returns 0."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent / "data")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args(argv)
    make(options.folder / "bends_solid.npz", (None,), options.workers)
    make(options.folder / "bends_tube.npz", grid.WALLS, options.workers)
    return 0


if __name__ == "__main__":
    sys.exit(main())
