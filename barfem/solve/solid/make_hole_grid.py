"""Compute the shipped grid of hole tables: `python -m barfem.solve.solid.make_hole_grid [FOLDER]`, some 45 minutes.

Afterwards the grid is held against models solved between its nodes, and the greatest error found is stored with it.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid import hole_grid as grid
from barfem.solve.solid.drilled_flat import LOADS
from barfem.solve.solid.hole_table import (
    AT_HOLE,
    QUICK,
    beside,
    carried,
    in_z,
    mesh_for,
    near_tip,
    pair_changes,
    series_at,
    single,
)
from barfem.solve.solid.make_grid import asked_for

__all__ = ["between", "main", "peak_error"]

Array = NDArray[np.float64]
Size = tuple[float, float, float | None, float | None]

STEPS = 30000.0  # of the greatest coefficient, in an int16
SLOPE_STEPS = 120.0  # of the greatest slope, in an int8: a nu of 0.05 away it moves stress by a sixteenth at most
SLOPE_STEP = 0.03  # of nu, to both sides
BETWEEN = 16  # models of each kind solved between nodes


def solved(size: Size, nu: float = grid.GRID_NU, quick: bool = False) -> dict[str, Array]:
    """Whole tables of (H / d, t / d, tip / d or None, pitch / d or None), those of a hole alone by both meshes.

    `quick`: by one coarser mesh, which tells what nu changes as well.
    """
    mesh = QUICK if quick else None
    width, thickness, tip, pitch = size
    if tip is not None:
        return {"tip": near_tip(width, thickness, tip, nu=nu, mesh=mesh)}
    if pitch is not None:
        return beside(width, thickness, pitch, nu=nu, mesh=mesh)
    alone = single(width, thickness, nu=nu, mesh=mesh)
    fine = alone if quick else single(width, thickness, nu=nu, mesh=mesh_for(thickness, fine=True))
    return {"single_unused": fine.unused, "single_in_use": fine.in_use, "unused": alone.unused, "in_use": alone.in_use}


def changes(size: Size, one: dict[str, Array], alone: dict[str, Array]) -> dict[str, Array]:
    """What a tip or neighbour changes, by one mesh."""
    width, thickness, tip, pitch = size
    if tip is not None:
        return {"tip": one["tip"] - alone["in_use"]}
    return pair_changes(one, alone, width, thickness, pitch or 0.0)


def from_grid(made: grid.HoleGrid, size: Size) -> dict[str, Array]:
    """Whole tables as `solved` has them, interpolated."""
    width, thickness, tip, pitch = size
    base = made.single(width, thickness)
    if tip is not None:
        return {"tip": base.in_use + made.tip(width, thickness, tip)}
    if pitch is None:
        return {"single_unused": base.unused, "single_in_use": base.in_use}
    found = made.neighbour(width, thickness, pitch)
    whole = {"unused": base.unused, "in_use": base.in_use, "inner": base.in_use}
    whole["next"] = carried(base.unused, width, thickness, pitch)
    return {name: table + found[name] for name, table in whole.items()}


def peak_error(table: Array, other: Array, *, in_use: bool) -> float:
    """Greatest difference of the greatest von Mises stress on the wall, as a share, load by load and in mixtures.

    A moment about the axis of a hole in use, which joints hardly have, is left out where `in_use`.
    """
    angles = np.radians(np.arange(0.0, 360.0, 5.0))
    count = len(table)
    names = AT_HOLE[:count]
    loads = np.concatenate([np.eye(count)[: len(LOADS)], np.random.default_rng(1).normal(size=(16, count))])
    if in_use:
        own = LOADS.index("M_1")
        loads = np.delete(loads, own, axis=0)
        loads[:, own] = 0.0
    signs = in_z(names)[:, None, :, None]
    peaks = []
    for one in (table, other):
        half = series_at(one, angles, names)
        wall = np.concatenate([half, half * signs], axis=1)
        s, h, t = np.moveaxis(np.tensordot(loads, wall, axes=1), 2, 0)
        peaks.append(np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max(axis=(1, 2))))
    return float(np.abs(peaks[0] / peaks[1] - 1.0).max())


def between() -> list[Size]:
    """Sizes between nodes, drawn at random but the same each time."""
    rng = np.random.default_rng(7)
    out: list[Size] = []
    for kind in range(3):
        for _ in range(BETWEEN):
            width = 1.0 / rng.uniform(grid.WIDTHS[0], grid.WIDTHS[-1])
            thickness = float(np.exp(rng.uniform(*np.log([grid.THICKNESSES[0], grid.THICKNESSES[-1]]))))
            tip = 1.0 / rng.uniform(0.25, 1.0 / grid.TIPS[-1]) if kind == 1 else None
            pitch = 1.0 / rng.uniform(0.2, 1.0 / grid.PITCHES[-1]) if kind == 2 else None
            out.append((float(width), thickness, tip, pitch))
    return out


def sizes_of_grid() -> list[Size]:
    """Every node's size, those of a hole alone first."""
    flats = [(1.0 / x, t) for x, t in product(grid.WIDTHS, grid.THICKNESSES)]
    sizes: list[Size] = [(w, t, None, None) for w, t in flats]
    sizes += [(w, t, tip, None) for w, t in flats for tip in grid.TIPS]
    return sizes + [(w, t, None, pitch) for w, t in flats for pitch in grid.PITCHES]


def laid_out(tables: Mapping[Size, dict[str, Array]]) -> dict[str, Array]:
    """Arrays as `HoleGrid` has them, of the tables of every node."""
    contents: dict[str, list[Array]] = {}
    for size in sizes_of_grid():
        alone = tables[size[0], size[1], None, None]
        own = {name: table for name, table in alone.items() if name.startswith("single")}
        for name, table in (changes(size, tables[size], alone) if size[2] or size[3] else own).items():
            contents.setdefault(name, []).append(table)
    shape = (len(grid.WIDTHS), len(grid.THICKNESSES))
    return {
        name: np.array(rows).reshape(*shape, *(() if name.startswith("single") else (len(grid.TIPS),)), *rows[0].shape)
        for name, rows in contents.items()
    }


def stored(arrays: Mapping[str, Array], steps: float, kind: type[np.signedinteger[Any]]) -> dict[str, Array]:
    """Whole numbers of so many steps of the greatest coefficient of each load, height and component, and the step."""
    out: dict[str, Any] = {}
    for name, whole in arrays.items():
        scale = np.maximum(np.abs(whole).max(axis=(*range(whole.ndim - 4), -1), keepdims=True), 1e-12) / steps
        out[name], out[f"{name}_scale"] = np.round(whole / scale).astype(kind), scale
    return out


def read_back(held: Mapping[str, Array]) -> dict[str, Array]:
    return {name[:-6]: held[name[:-6]] * held[name] for name in held if name.endswith("_scale")}


def errors_of(made: grid.HoleGrid, size: Size, tables: dict[str, Array]) -> dict[str, float]:
    """Of a hole between nodes, table by table."""
    true = {name: t for name, t in tables.items() if size[2] or size[3] or name.startswith("single")}
    ours = from_grid(made, size)
    return {name: peak_error(ours[name], true[name], in_use="unused" not in name) for name in true}


def make(path: Path, workers: int, *, slopes: bool) -> None:
    """Compute the grid, or its slopes, and write it; slopes are checked with the shipped grid."""
    sizes, checked = sizes_of_grid(), between()
    nus = [grid.GRID_NU - SLOPE_STEP, grid.GRID_NU + SLOPE_STEP] if slopes else [grid.GRID_NU]
    of_checked = np.random.default_rng(8).uniform(*grid.NUS, len(checked)) if slopes else [grid.GRID_NU] * len(checked)
    asked = [(size, nu, slopes) for nu in nus for size in sizes]
    asked += [(size, float(nu), False) for size, nu in zip(checked, of_checked, strict=True)]
    found = []
    with ProcessPoolExecutor(workers) as pool:
        for number, one in enumerate(pool.map(solved, *zip(*asked, strict=True)), start=1):
            found.append(one)
            print(f"\r{path.name}: {number} of {len(asked)}", end="", file=sys.stderr, flush=True)
    tables = dict(zip(asked, found, strict=True))
    of_nu = [laid_out({size: tables[size, nu, slopes] for size in sizes}) for nu in nus]
    arrays = of_nu[0]
    if slopes:
        arrays = {name: (more - of_nu[0][name]) / (2.0 * SLOPE_STEP) for name, more in of_nu[1].items()}
    held = stored(arrays, *((SLOPE_STEPS, np.int8) if slopes else (STEPS, np.int16)))
    arrays, base, errors = read_back(held), grid.load().arrays if slopes else {}, []
    for size, nu, _ in asked[-len(checked) :]:
        now = {name: base[name] + (nu - grid.GRID_NU) * slope for name, slope in arrays.items()} if slopes else arrays
        errors.append(errors_of(grid.HoleGrid(now, np.nan), size, tables[size, nu, False]))
        print(f"\n{size}, nu {nu:.3f}: {errors[-1]}", end="", file=sys.stderr, flush=True)
    worst = max(max(each.values()) for each in errors)
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        np.savez(file, error=worst, **held)  # type: ignore[arg-type]
    print(f"\n{path}: {path.stat().st_size} bytes, error {worst:.4%}", file=sys.stderr)


def main(argv: list[str] | None = None) -> int:
    """Compute the grid and write it into the package, or into the folder that `argv` names. Returns 0."""
    options = asked_for(argv, __doc__)
    if not options.slopes_only:
        make(options.folder / "holes.npz", options.workers, slopes=False)
    make(options.folder / "holes_nu.npz", options.workers, slopes=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
