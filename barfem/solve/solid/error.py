"""How far the mesh leaves the greatest stress from its limit: estimated from a coarser companion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.solve.solid.model import JointLoad, SolidModel, build_solid
from barfem.solve.solid.recovery import SurfaceStress

__all__ = ["COARSER", "ORDER", "estimated_error", "greatest_von_mises"]

Array = NDArray[np.float64]

# The companion's cells are this much longer. Stress converges with about the third power of their length; the second
# is taken, since cells come in whole numbers and the mesh is refined in one direction more than in another.
COARSER, ORDER = 1.5, 2.0


def greatest_von_mises(stress: SurfaceStress) -> Array:
    """Greatest von Mises stress (n_cases,) of a surface, MPa."""
    s, h, t = (stress.values[:, :, k] for k in range(3))
    return np.asarray(np.sqrt(np.max(s * s + h * h - s * h + 3.0 * t * t, axis=(0, 1))))


def estimated_error(model: SolidModel, loads: Sequence[JointLoad], greatest: Array, angles: Array) -> Array:
    """Estimated relative error (n_cases,) of the greatest outside von Mises stress `greatest` (n_cases,), zero or more.

    Solves the same loads on a mesh with cells `COARSER` times as long and takes the difference over
    `COARSER`^`ORDER` - 1 (Richardson). Costs about a third of the solid itself.
    """
    density = replace(model.density, refinement=model.density.refinement / COARSER)
    coarse = build_solid(model.bar, density=density)
    other = greatest_von_mises(coarse.surface(coarse.solve(loads), angles))
    return np.asarray(np.abs(greatest - other) / (COARSER**ORDER - 1.0) / np.maximum(greatest, np.finfo(float).tiny))
