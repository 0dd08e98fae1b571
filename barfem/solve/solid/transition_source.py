"""The table of a transition as it is: from the shipped grid inside it, else solved (seconds) and kept."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.cache import cached
from barfem.solve.solid.threads import one_blas_thread
from barfem.solve.solid.transition_grid import GRID_NU, LEAST_FILLET, LENGTHS, inside, load, whole_fillet
from barfem.solve.solid.transition_table import SHAPE

__all__ = ["TransitionSource", "transition_source"]

Array = NDArray[np.float64]

# Part of the cache's key: raise it when the model or the table changes.
VERSION = 2

STEP = 1.04
"""Sizes outside the grid are rounded to powers of it, so that studies over many bars need few models. Tables are over
nominal stress: the rounding, 2 % at most, costs some 1 % of stress."""

NU_BAND = 0.03
"""Poisson's ratio may be so far from the grid's: stress of torsion and bending follows it by up to 2.4 % then, which
results state; that of a direct shear, small beside them, by up to 7 %."""


@frozen(eq=False)
class TransitionSource:
    """A table (`transition_table.SHAPE`), where it came from, and what the cache refused."""

    table: Array
    source: Literal["grid", "computed"]
    problem: str | None = None


@lru_cache(maxsize=256)
def transition_source(
    width: float, thickness: float, length: float, fillet: float | None, nu: float
) -> TransitionSource:
    """Sizes over the body's diameter; `fillet` None for a half cosine.

    Longer than the grid's longest counts as that, a fillet below its least as that: both give more stress, and less.
    """
    long = float(np.clip(length, LENGTHS[0], LENGTHS[-1]))
    # The same slope of the fillet's arc where a long transition counts as shorter.
    round_ = None if fillet is None else max(fillet, LEAST_FILLET)
    if inside(width, thickness) and abs(nu - GRID_NU) <= NU_BAND:
        return TransitionSource(load().at(width, thickness, long, round_), "grid")
    if round_ is not None:
        round_ = min(round_, whole_fillet(width, thickness, long))
    wide, thick, long = (_round(size) for size in (width, thickness, long))
    fillet_said = 0.0 if round_ is None else _round(round_)

    def make() -> dict[str, Array]:
        from barfem.solve.solid.transition_table import table

        with one_blas_thread():
            return {"table": table(wide, thick, long, fillet_said, nu=nu)}

    key = f"barfem transition table {VERSION}: {wide!r} {thick!r} {long!r} {fillet_said!r} {nu!r}"
    found = cached(key, {"table": SHAPE}, make, what="a forged flat's transition")
    return TransitionSource(found.arrays["table"], "computed", found.problem)


def _round(size: float) -> float:
    return round(float(STEP ** np.round(np.log(size) / np.log(STEP))), 9)
