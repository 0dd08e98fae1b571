"""The wall tables of a hole in a flat as it lies: from the shipped grid inside it, else solved (seconds) and kept.

What tip and neighbours change comes from models of their own and is added; see `barfem.solve.solid.hole_table`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.cache import cached
from barfem.solve.solid.hole_grid import inside, load
from barfem.solve.solid.hole_table import (
    QUICK,
    SHAPES,
    beside,
    by_resultants,
    mirrored,
    near_tip,
    pair_changes,
    single,
)

__all__ = ["SOLVED_ERROR", "HolePlace", "HoleSource", "hole_source"]

Array = NDArray[np.float64]

# Part of the cache's key: raise it when the model or the tables change.
VERSION = 2

NEAREST_TIP, NEAREST_NEIGHBOUR = 0.6, 1.15
"""Of the hole's diameter: a hole nearer than this is modelled as if it were as far."""

ALONE = 8.0
"""Neighbours and tips farther than this over the diameter change nothing."""

STEP = 1.04
"""Sizes of holes outside the grid are rounded to powers of it, so that studies over many bars need few models."""

SOLVED_ERROR = 0.04
"""Of the greatest stress that rounding and mesh of a hole outside the grid cost at most: three holes with every size
amid two powers, against finer models of their own sizes, loads alone and in mixtures. Mostly below half of it."""


@frozen
class HolePlace:
    """A hole in a flat; lengths over its diameter. `outboard` and `inboard` are its neighbours' distances, if any."""

    width: float
    thickness: float
    tip: float
    outboard: float | None = None
    inboard: float | None = None
    nu: float = 0.3


@frozen(eq=False)
class HoleSource:
    """Tables (loads, heights, 3, harmonics) over `hole_table.nominal`.

    `unused`: by the six resultants that pass it; `next_`: the same where they come from its outboard neighbour in
    use (None: it has none); `in_use`: by `hole_table.AT_HOLE`, over the
    nominal of a hole in use. `problem` is what the cache refused.
    """

    source: Literal["grid", "computed"]
    unused: Array
    next_: Array | None
    in_use: Array
    problem: str | None = None


@lru_cache(maxsize=256)
def hole_source(place: HolePlace) -> HoleSource:
    """The tables of a hole."""
    width, thickness, nu = place.width, place.thickness, place.nu
    parts = [_part("single", width, thickness, None, nu)]
    unused, in_use = parts[0].arrays["unused"].copy(), parts[0].arrays["in_use"].copy()
    next_ = None if place.outboard is None else unused.copy()
    if place.tip < ALONE:
        parts.append(_part("tip", width, thickness, max(place.tip, NEAREST_TIP), nu))
        in_use += parts[-1].arrays["in_use"]
    if place.outboard is not None and place.outboard < ALONE:
        parts.append(_part("pair", width, thickness, max(place.outboard, NEAREST_NEIGHBOUR), nu))
        found = parts[-1].arrays
        next_ = unused + by_resultants(found["next"], width, thickness, max(place.outboard, NEAREST_NEIGHBOUR))
        unused += mirrored(found["unused"])
        in_use += found["inner"]
    if place.inboard is not None and place.inboard < ALONE:
        parts.append(_part("pair", width, thickness, max(place.inboard, NEAREST_NEIGHBOUR), nu))
        found = parts[-1].arrays
        unused += found["unused"]
        in_use += found["in_use"]
        next_ = None if next_ is None else next_ + found["unused"]
    return HoleSource(
        source="grid" if all(part.from_grid for part in parts) else "computed",
        unused=unused,
        next_=next_,
        in_use=in_use,
        problem=next((part.problem for part in parts if part.problem), None),
    )


@frozen(eq=False)
class _Part:
    arrays: dict[str, Array]
    from_grid: bool
    problem: str | None = None


@lru_cache(maxsize=256)
def _part(kind: str, width: float, thickness: float, apart: float | None, nu: float) -> _Part:
    """The tables of a hole alone, or what its tip or one neighbour `apart` changes."""
    if inside(width, thickness, nu=nu, **{} if apart is None else {"tip" if kind == "tip" else "pitch": apart}):
        if apart is None:
            table = load(nu).single(width, thickness)
            return _Part({"unused": table.unused, "in_use": table.in_use}, True)
        if kind == "tip":
            return _Part({"in_use": load(nu).tip(width, thickness, apart)}, True)
        return _Part(load(nu).neighbour(width, thickness, apart), True)
    steel = 0.5 if kind == "tip" else 1.0  # of the distance, so much is hole
    near = None if apart is None else _round(apart - steel) + steel
    return _solved(kind, _round(width - 1.0) + 1.0, _round(thickness), near, nu)


def _round(size: float) -> float:
    return round(float(STEP ** np.round(np.log(size) / np.log(STEP))), 9)


@lru_cache(maxsize=64)
def _solved(kind: str, width: float, thickness: float, apart: float | None, nu: float) -> _Part:
    names = {"single": ("unused", "in_use"), "tip": ("in_use",), "pair": ("unused", "in_use", "inner", "next")}[kind]
    shapes = {name: SHAPES["unused" if name in ("unused", "next") else "in_use"] for name in names}

    def make() -> dict[str, Array]:
        if apart is None:
            table = single(width, thickness, nu=nu, mesh=QUICK)
            return {"unused": table.unused, "in_use": table.in_use}
        alone = _solved("single", width, thickness, None, nu).arrays
        if kind == "tip":
            return {"in_use": near_tip(width, thickness, apart, nu=nu, mesh=QUICK) - alone["in_use"]}
        return pair_changes(beside(width, thickness, apart, nu=nu, mesh=QUICK), alone, width, thickness, apart)

    key = f"barfem hole table {VERSION}: {kind} {width!r} {thickness!r} {apart!r} {nu!r}"
    found = cached(key, shapes, make, what="a hole's wall")
    return _Part(dict(found.arrays), False, found.problem)
