"""Compute the shipped grid of hole tables: `python -m barfem.solve.solid.make_hole_grid [FOLDER]`, some 15 minutes.

Afterwards the grid is held against models solved between its nodes, and the greatest error found is stored with it.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid import hole_grid as grid
from barfem.solve.solid.drilled_flat import LOADS
from barfem.solve.solid.hole_table import (
    AT_HOLE,
    beside,
    carried,
    in_z,
    mesh_for,
    near_tip,
    pair_changes,
    series_at,
    single,
)

__all__ = ["between", "main", "peak_error"]

Array = NDArray[np.float64]
Size = tuple[float, float, float | None, float | None]

STEPS = 30000.0  # of the greatest coefficient, in an int16
BETWEEN = 16  # models of each kind solved between nodes


def solved(size: Size) -> dict[str, Array]:
    """Whole tables of (H / d, t / d, tip / d or None, pitch / d or None), those of a hole alone by both meshes."""
    width, thickness, tip, pitch = size
    if tip is not None:
        return {"tip": near_tip(width, thickness, tip)}
    if pitch is not None:
        return beside(width, thickness, pitch)
    fine, alone = single(width, thickness, mesh=mesh_for(thickness, fine=True)), single(width, thickness)
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


def main(argv: list[str] | None = None) -> int:
    """Compute the grid and write it into the package, or into the folder that `argv` names. Returns 0."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent / "data")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args(argv)
    flats = [(1.0 / x, t) for x, t in product(grid.WIDTHS, grid.THICKNESSES)]
    sizes: list[Size] = [(w, t, None, None) for w, t in flats]
    sizes += [(w, t, tip, None) for w, t in flats for tip in grid.TIPS]
    sizes += [(w, t, None, pitch) for w, t in flats for pitch in grid.PITCHES]
    checked = between()
    found = []
    with ProcessPoolExecutor(options.workers) as pool:
        for number, one in enumerate(pool.map(solved, [*sizes, *checked]), start=1):
            found.append(one)
            print(f"\r{number} of {len(sizes) + len(checked)}", end="", file=sys.stderr, flush=True)
    tables = dict(zip([*sizes, *checked], found, strict=True))
    contents: dict[str, Array] = {}
    arrays: dict[str, Array] = {}
    shape = (len(grid.WIDTHS), len(grid.THICKNESSES))
    for size in sizes:
        alone = tables[size[0], size[1], None, None]
        own = {name: table for name, table in alone.items() if name.startswith("single")}
        for name, table in (changes(size, tables[size], alone) if size[2] or size[3] else own).items():
            contents.setdefault(name, []).append(table)  # type: ignore[arg-type,attr-defined]
    stored: dict[str, Array] = {}
    for name, rows in contents.items():
        more = () if name.startswith("single") else (len(grid.TIPS),)
        whole = np.array(rows).reshape(*shape, *more, *rows[0].shape)
        scale = np.maximum(np.abs(whole).max(axis=(*range(2 + len(more)), -1), keepdims=True), 1e-12) / STEPS
        stored[name], stored[f"{name}_scale"] = np.round(whole / scale).astype(np.int16), scale
        arrays[name] = stored[name] * scale
    made = grid.HoleGrid(arrays, np.nan)
    errors = []
    for size in checked:
        true = {name: t for name, t in tables[size].items() if size[2] or size[3] or name.startswith("single")}
        ours = from_grid(made, size)
        errors.append({name: peak_error(ours[name], true[name], in_use="unused" not in name) for name in true})
        print(f"\n{size}: {errors[-1]}", end="", file=sys.stderr, flush=True)
    worst = max(max(each.values()) for each in errors)
    path = options.folder / "holes.npz"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        np.savez(file, error=worst, **stored)  # type: ignore[arg-type]
    print(f"\n{path}: {path.stat().st_size} bytes, error {worst:.4%}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
