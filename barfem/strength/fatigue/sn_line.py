"""The stress-life line: straight pieces in log-log through 1, 1,000 and 1,000,000 cycles.

From the tensile strength at one cycle to f Sut at 1,000 (Shigley Eq. 6-17), from there to the endurance limit at a
million (Eq. 6-14 to 6-16), then level; or, where there is no knee, on at the same slope. Below 1,000 cycles plastic
strain decides and the line is an orientation only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["KNEE_CYCLES", "LONGEST_LIFE_CYCLES", "SHORTEST_LIFE_CYCLES", "line_life", "line_strength"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHORTEST_LIFE_CYCLES = 1e3
KNEE_CYCLES = 1e6
# Where there is no knee, nothing is claimed beyond this: no test went there.
LONGEST_LIFE_CYCLES = 1e9

_TINY = 1e-12


def line_strength(
    cycles: ArrayLike, *, at_1_MPa: ArrayLike, at_1e3_MPa: ArrayLike, at_1e6_MPa: ArrayLike, has_knee: ArrayLike
) -> Array:
    """Reversed amplitude [MPa] that lasts `cycles` (1 or more)."""
    log_n = np.log10(np.maximum(np.asarray(cycles, float), 1.0))
    s1, s3, s6 = (np.log10(np.asarray(s, float)) for s in (at_1_MPa, at_1e3_MPa, at_1e6_MPa))
    low = s1 + (s3 - s1) * log_n / 3.0
    sloping = s3 + (s6 - s3) * (log_n - 3.0) / 3.0
    high = np.where(has_knee, np.maximum(sloping, s6), sloping)
    return 10.0 ** np.where(log_n <= 3.0, low, high)


def line_life(
    amplitude_MPa: ArrayLike,
    *,
    at_1_MPa: ArrayLike,
    at_1e3_MPa: ArrayLike,
    at_1e6_MPa: ArrayLike,
    has_knee: ArrayLike,
) -> tuple[Array, Bools]:
    """Cycles that a reversed amplitude [MPa] lasts, and where it lies beyond the knee.

    At or below the endurance limit (no knee: beyond 1e9 cycles) the second array is true and the first holds the
    knee (1e9), which is then a lower bound and no life.
    """
    amplitude = np.maximum(np.asarray(amplitude_MPa, float), _TINY)
    s, s1, s3, s6 = (np.log10(np.asarray(x, float)) for x in (amplitude, at_1_MPa, at_1e3_MPa, at_1e6_MPa))
    knee = np.broadcast_to(np.asarray(has_knee, bool), np.broadcast_shapes(s.shape, s6.shape, np.shape(has_knee)))
    last = np.where(knee, np.log10(KNEE_CYCLES), np.log10(LONGEST_LIFE_CYCLES))
    sloping = 3.0 + 3.0 * (s3 - s) / (s3 - s6)
    low = 3.0 * (s1 - s) / (s1 - s3)
    log_n = np.where(s >= s3, low, np.minimum(sloping, last))
    beyond = (s < s3) & np.where(knee, s <= s6, sloping >= last)
    return 10.0 ** np.where(beyond, last, log_n), beyond
