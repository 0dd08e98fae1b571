"""How far the mesh leaves a result of the solid from its limit: estimated from a coarser companion."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid.model import SolidModel, build_solid

__all__ = ["COARSER", "ORDER", "coarser", "richardson_error"]

Array = NDArray[np.float64]

# The companion's cells are this much longer. Stress converges with about the third power of their length; the second
# is taken, since cells come in whole numbers and the mesh is refined in one direction more than in another.
COARSER, ORDER = 1.5, 2.0


def coarser(model: SolidModel) -> SolidModel:
    """The same bar with cells `COARSER` times as long; costs about a third of the solid itself."""
    return build_solid(model.bar, density=replace(model.density, refinement=model.density.refinement / COARSER))


def richardson_error(fine: Array, coarse: Array) -> Array:
    """Estimated relative error of values of any shape, from the same ones of the coarser companion.

    Their difference over `COARSER`^`ORDER` - 1, which is what is left where the error goes with the power `ORDER` of
    the cells' length (Richardson).
    """
    off = np.abs(fine - coarse) / (COARSER**ORDER - 1.0)
    return np.asarray(off / np.maximum(np.abs(fine), np.finfo(float).tiny))
