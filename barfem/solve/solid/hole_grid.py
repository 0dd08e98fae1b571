"""The shipped grid of hole tables, and interpolation in it: the stress on a hole's wall in about a millisecond.

Flats with d / H from 0.15 to 0.55, t / d from 0.2 to 2, nu 0.25 to 0.35, holes 0.9 diameters or more from the tip and
1.45 or more from each other. Cubic Lagrange interpolation in d / H, log t / d, and d / tip distance or d / pitch, at
whose zero tip and neighbour change nothing. The tables are of nu 0.3; what they gain by another goes in proportion.
`error` is the greatest error found between the nodes, of the greatest von Mises stress on the wall, against models
solved there (see `make_hole_grid`); a moment about the axis of a hole in use, which joints hardly have, is not in it,
and within 9 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.hole_table import HoleTable
from barfem.solve.solid.lagrange import interpolated, span

__all__ = ["GRID_NU", "NUS", "PITCHES", "THICKNESSES", "TIPS", "WIDTHS", "HoleGrid", "inside", "load"]

Array = NDArray[np.float64]

WIDTHS = (0.15, 0.20, 0.27, 0.35, 0.44, 0.55)
"""Hole diameter over width."""
THICKNESSES = (0.20, 0.32, 0.50, 0.80, 1.25, 2.0)
"""Thickness over hole diameter."""
TIPS = (3.2, 2.0, 1.4, 1.1, 0.9)
"""Distance from the tip over hole diameter."""
PITCHES = (4.2, 2.8, 2.1, 1.7, 1.45)
"""Distance between neighbours over hole diameter."""
GRID_NU = 0.3
NUS = (0.25, 0.35)
"""Poisson's ratios that the slopes reach."""

ROUNDING = 1e-6


def _within(value: float, low: float, high: float) -> bool:
    return low * (1.0 - ROUNDING) <= value <= high * (1.0 + ROUNDING)


def inside(width: float, thickness: float, *, nu: float, tip: float | None = None, pitch: float | None = None) -> bool:
    """Whether the grid holds a hole; `width`, `thickness`, `tip` and `pitch` over its diameter."""
    return (
        _within(nu, *NUS)
        and _within(1.0 / width, WIDTHS[0], WIDTHS[-1])
        and _within(thickness, THICKNESSES[0], THICKNESSES[-1])
        and (tip is None or _within(tip, TIPS[-1], np.inf))
        and (pitch is None or _within(pitch, PITCHES[-1], np.inf))
    )


@frozen(eq=False)
class HoleGrid:
    """Tables on the nodes; arrays (n_widths, n_thicknesses, [n_tips or n_pitches,] loads, heights, 3, harmonics).

    `single_*` are whole; "tip" and those of a neighbour ("unused", "in_use", "inner", "next") are what it changes.
    """

    arrays: dict[str, Array]
    error: float

    def single(self, width: float, thickness: float) -> HoleTable:
        return HoleTable(*self._at(("single_unused", "single_in_use"), width, thickness))

    def tip(self, width: float, thickness: float, tip: float) -> Array:
        """What the tip changes of `in_use`."""
        return self._at(("tip",), width, thickness, tip, _NEAR_TIP)[0]

    def neighbour(self, width: float, thickness: float, pitch: float) -> dict[str, Array]:
        """What a neighbour changes: see `hole_table.beside`."""
        names = ("unused", "in_use", "inner", "next")
        return dict(zip(names, self._at(names, width, thickness, pitch, _NEAR_HOLE), strict=True))

    def _at(
        self,
        names: Sequence[str],
        width: float,
        thickness: float,
        apart: float | None = None,
        nodes: tuple[float, ...] = (),
    ) -> list[Array]:
        """Interpolated tables; `nodes` are those of 1 / `apart`."""
        spans = [span(WIDTHS, 1.0 / width), span(_LOG_THICKNESSES, math.log(thickness))]
        if apart is not None:
            first, weights = span(nodes, 1.0 / apart)
            # The first node is the one infinitely far away, at which nothing changes: it is not in the tables.
            spans.append((first - 1, weights) if first else (0, weights[1:]))
        return [interpolated(spans, self.arrays[name]) for name in names]


_LOG_THICKNESSES = tuple(math.log(each) for each in THICKNESSES)
_NEAR_TIP, _NEAR_HOLE = ((0.0, *(1.0 / each for each in nodes)) for nodes in (TIPS, PITCHES))


@lru_cache(maxsize=4)
def load(nu: float = GRID_NU) -> HoleGrid:
    """The shipped grid, of a Poisson's ratio."""
    grid = _stored("holes.npz")
    if abs(nu - GRID_NU) < 1e-9:
        return grid
    slopes = _stored("holes_nu.npz")
    return HoleGrid({name: of + (nu - GRID_NU) * slopes.arrays[name] for name, of in grid.arrays.items()}, slopes.error)


@lru_cache(maxsize=2)
def _stored(file_name: str) -> HoleGrid:
    with (resources.files("barfem.solve.solid") / "data" / file_name).open("rb") as file, np.load(file) as held:
        names = [name for name in held.files if name.endswith("_scale")]
        arrays = {name[:-6]: held[name[:-6]].astype(np.float64) * held[name] for name in names}
        return HoleGrid(arrays, float(held["error"]))
