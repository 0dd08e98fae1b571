"""How bad a cycle is where surface and size are alike all over: for tests of the recovery alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.strength.cycle import Cycle, Severities, Severity

Array = NDArray[np.float64]


def goodman_severity(tensile_strength_MPa: float) -> Severity:
    """Rank by amplitude / (1 - mean / tensile strength): right where surface and size are alike all over."""

    def severity(cycle: Cycle) -> Severities:
        tensile = tensile_strength_MPa * cycle.strength_scale
        return Severities(lambda: cycle.amplitude_MPa / (tensile * np.maximum(1.0 - cycle.mean_MPa / tensile, 1e-6)))

    return severity
