"""The shipped grid of tables of transitions, and interpolation in it.

Flats from 1 to 2.6 diameters wide and 0.3 to 0.8 thick, transitions of 0.25 to 3 diameters, half-cosine outlines and
straight ones with fillets from 0.1 diameters up to those that meet in the middle; nu 0.3. Lagrange interpolation, cubic
or over three nodes, in width, thickness, log length and, for straight sides, the log of the fillet between those two.
`error` is the greatest error found between the nodes, of the greatest von Mises stress in the transition (see
`make_transition_grid`).
"""

from __future__ import annotations

import math
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.lagrange import interpolated, span

__all__ = [
    "FILLETS",
    "GRID_NU",
    "LEAST_FILLET",
    "LENGTHS",
    "THICKNESSES",
    "WIDTHS",
    "TransitionGrid",
    "fillet_at",
    "fillet_place",
    "inside",
    "load",
    "whole_fillet",
]

Array = NDArray[np.float64]

WIDTHS = (1.0, 1.35, 1.9, 2.6)
THICKNESSES = (0.3, 0.42, 0.58, 0.8)
LENGTHS = (0.25, 0.34, 0.52, 0.92, 1.65, 3.0)
FILLETS = (0.0, 0.45, 1.0)
"""Place of a fillet between the least one and that which meets the other amid the transition, by their logarithms."""
LEAST_FILLET = 0.1
GRID_NU = 0.3


def whole_fillet(width: float, thickness: float, length: float) -> float:
    """Fillet that meets the other one amid the transition: L^2 / (4 h) (see `bar_geometry.fillet_share`)."""
    return length**2 / (2.0 * max(abs(width - 1.0), 1.0 - thickness))


def fillet_place(width: float, thickness: float, length: float, fillet: float) -> float:
    """Place of a fillet on `FILLETS`; zero where even the least one is whole."""
    most = np.log(whole_fillet(width, thickness, length) / LEAST_FILLET)
    if most <= 1e-9:
        return 0.0
    return float(np.clip(np.log(fillet / LEAST_FILLET) / most, 0.0, 1.0))


def fillet_at(width: float, thickness: float, length: float, place: float) -> float:
    """The other way round."""
    whole = whole_fillet(width, thickness, length)
    return float(LEAST_FILLET * (whole / LEAST_FILLET) ** place) if whole > LEAST_FILLET else whole


def inside(width: float, thickness: float) -> bool:
    """Whether the grid holds a flat's section; lengths and fillets it always does."""
    return bool(
        WIDTHS[0] - 1e-9 <= width <= WIDTHS[-1] + 1e-9 and THICKNESSES[0] - 1e-9 <= thickness <= THICKNESSES[-1] + 1e-9
    )


_LOG_LENGTHS = tuple(math.log(each) for each in LENGTHS)


@frozen(eq=False)
class TransitionGrid:
    """Tables (widths, thicknesses, lengths, [fillets,] *SHAPE) of either outline, over their scale, and the scales."""

    cosine: NDArray[np.float32]
    cosine_scale: Array
    straight: NDArray[np.float32]
    straight_scale: Array
    error: float

    def at(self, width: float, thickness: float, length: float, fillet: float | None) -> Array:
        """The table of a transition; `fillet` None for a half cosine."""
        spans = [span(WIDTHS, width), span(THICKNESSES, thickness), span(_LOG_LENGTHS, math.log(length))]
        if fillet is None:
            return interpolated(spans, self.cosine) * self.cosine_scale[(0,) * 3]
        spans.append(span(FILLETS, fillet_place(width, thickness, length, fillet)))
        return interpolated(spans, self.straight) * self.straight_scale[(0,) * 4]


@lru_cache(maxsize=1)
def load() -> TransitionGrid:
    """The shipped grid."""
    path = resources.files("barfem.solve.solid") / "data" / "transitions.npz"
    with path.open("rb") as file, np.load(file) as held:
        arrays = {name: held[name] for name in held.files if name != "error"}
        for name in ("cosine", "straight"):
            arrays[name] = arrays[name].astype(np.float32)  # what is kept as whole numbers; exact
        return TransitionGrid(**arrays, error=float(held["error"]))
