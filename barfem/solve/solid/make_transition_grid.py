"""Compute the shipped grid of transitions: `python -m barfem.solve.solid.make_transition_grid [FOLDER]`.

Half an hour on two cores. Afterwards the grid is held against models solved between its nodes, and the greatest error
found is stored with it.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid import transition_grid as grid
from barfem.solve.solid.threads import one_blas_thread
from barfem.solve.solid.transition import COSINE, Fineness
from barfem.solve.solid.transition_table import SHAPE, nominal, table, whole_section

__all__ = ["between", "main", "peak_error", "solved"]

Array = NDArray[np.float64]
Size = tuple[float, float, float, float]
"""Width, thickness, length, fillet (`COSINE` for a half cosine)."""

STEPS = 30000.0  # of the greatest value of a column, in an int16
BETWEEN = 8  # models of each outline solved between nodes

COARSE = Fineness(core=4)
"""Straight sides are solved with fewer cells round the section. What more would change is taken from the half cosine of
the same sizes, solved with both: mostly right within 0.5 per cent, within 2 in the worst of thirty held against it."""


def solved(size: Size, *, coarse: bool = False) -> Array:
    """The table of a transition, solved; `coarse`: with fewer cells round the section."""
    with one_blas_thread():
        return table(*size, nu=grid.GRID_NU, mesh=COARSE if coarse else None)


def peak_error(ours: Array, true: Array, width: float, thickness: float) -> float:
    """Greatest difference of the greatest von Mises stress in the transition, as a share.

    Over single loads and mixtures, such that each alone makes about as much as the others; shear forces, a third.
    """
    sizes = np.array([1.0, 0.3, 0.3, 1.0, 1.0, 1.0])
    mixtures = np.random.default_rng(1).normal(size=(24, 6)) * sizes
    loads = np.concatenate([np.eye(6)[[0, 3, 4, 5]], mixtures])
    scale = nominal(width, thickness)[:, None, None]
    peaks = []
    for one in (ours, true):
        stress = whole_section(one) * scale / nominal(width, thickness).max(axis=0)
        along, round_, shear = np.moveaxis(stress @ loads.T, 2, 0)
        peaks.append(np.sqrt((along**2 - along * round_ + round_**2 + 3.0 * shear**2).max(axis=(0, 1))))
    return float(np.abs(peaks[0] / peaks[1] - 1.0).max())


def between() -> list[Size]:
    """Sizes between nodes, drawn at random but the same each time."""
    rng = np.random.default_rng(11)
    out: list[Size] = []
    for outline in ("cosine", "straight"):
        for _ in range(BETWEEN):
            width, thickness = rng.uniform(1.0, 2.6), rng.uniform(0.3, 0.8)
            length = float(np.exp(rng.uniform(*np.log([0.25, 3.0]))))
            fillet = grid.fillet_at(width, thickness, length, rng.uniform()) if outline == "straight" else COSINE
            out.append((float(width), float(thickness), length, fillet))
    return out


def nodes() -> tuple[list[Size], list[Size]]:
    """Every node of the half cosine and of straight sides, in the order of the grid's arrays."""
    flats = list(product(grid.WIDTHS, grid.THICKNESSES, grid.LENGTHS))
    cosine = [(width, thickness, length, COSINE) for width, thickness, length in flats]
    straight = [(*size, grid.fillet_at(*size, place)) for size in flats for place in grid.FILLETS]
    return cosine, straight


def main(argv: list[str] | None = None) -> int:
    """Compute the grid and write it into the package, or into the folder that `argv` names. Returns 0."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent / "data")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args(argv)
    cosine, straight = nodes()
    # Where even the least fillet is whole, all places of it are one transition.
    fine = [*cosine, *between()]
    coarse = list(dict.fromkeys([*cosine, *straight]))
    tables: dict[Size, Array] = {}
    rough: dict[Size, Array] = {}
    with ProcessPoolExecutor(options.workers) as pool:
        for into, sizes, by in ((tables, fine, solved), (rough, coarse, partial(solved, coarse=True))):
            for size, one in zip(sizes, pool.map(by, sizes), strict=True):
                into[size] = one
                done = len(tables) + len(rough)
                print(f"\r{done} of {len(fine) + len(coarse)}", end="", file=sys.stderr, flush=True)
    for size in straight:
        alike = (*size[:3], COSINE)
        tables[size] = rough[size] + tables[alike] - rough[alike]
    stored: dict[str, Array] = {}
    for name, listed in (("cosine", cosine), ("straight", straight)):
        axes = [len(each) for each in (grid.WIDTHS, grid.THICKNESSES, grid.LENGTHS)]
        axes += [len(grid.FILLETS)] if name == "straight" else []
        whole = np.array([tables[size] for size in listed]).reshape(*axes, *SHAPE)
        scale = np.abs(whole).max(axis=(*range(len(axes)), -3), keepdims=True) / STEPS + 1e-30
        stored[name], stored[f"{name}_scale"] = np.round(whole / scale).astype(np.int16), scale
    made = grid.TransitionGrid(**stored, error=np.nan)  # type: ignore[arg-type]
    errors = []
    for size in between():
        width, thickness, length, fillet = size
        ours = made.at(width, thickness, length, None if fillet == COSINE else fillet)
        errors.append(peak_error(ours, tables[size], width, thickness))
        print(f"\n{size}: {errors[-1]:.4%}", end="", file=sys.stderr, flush=True)
    path = options.folder / "transitions.npz"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        np.savez(file, error=max(errors), **stored)  # type: ignore[arg-type]
    print(f"\n{path}: {path.stat().st_size} bytes, error {max(errors):.4%}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
