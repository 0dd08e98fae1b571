"""The stress-life line: straight pieces in log-log through 1, 1 000 and 1 000 000 cycles, and a decline to 10 000 000.

From the tensile strength at one cycle to f Sut at 1 000 (Shigley Eq. 6-17), from there to the endurance limit at a
million (Eq. 6-14 to 6-16). Hard spring steel has no true knee: beyond a million the line falls by 5 % a decade
(exponent 45; C. M. Sonsino, Int. J. Fatigue 29 (2007) 2246, steel that is not welded; from memory, fairly sure), or
goes on at its own slope where pits grow. Nothing is claimed beyond 10 000 000 cycles, where most tests were stopped.
Below 1 000 cycles plastic strain decides and the line is an orientation only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "BEND_CYCLES",
    "DECLINE_EXPONENT",
    "LONGEST_LIFE_CYCLES",
    "SHORTEST_LIFE_CYCLES",
    "line_life",
    "line_strength",
]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHORTEST_LIFE_CYCLES = 1e3
# Where the sloping line bends into the slow decline, and where what is claimed ends.
BEND_CYCLES = 1e6
LONGEST_LIFE_CYCLES = 1e7
DECLINE_EXPONENT = 45.0

_TINY = 1e-12
_BEND, _LAST = float(np.log10(BEND_CYCLES)), float(np.log10(LONGEST_LIFE_CYCLES))


def line_strength(
    cycles: ArrayLike,
    *,
    at_1_MPa: ArrayLike,
    at_1e3_MPa: ArrayLike,
    at_1e6_MPa: ArrayLike,
    has_knee: ArrayLike,
    decline: float = DECLINE_EXPONENT,
) -> Array:
    """Reversed amplitude [MPa] that lasts `cycles` (1 or more); `decline` infinite: level beyond a million."""
    log_n = np.log10(np.maximum(np.asarray(cycles, float), 1.0))
    s1, s3, s6 = (np.log10(np.asarray(s, float)) for s in (at_1_MPa, at_1e3_MPa, at_1e6_MPa))
    low = s1 + (s3 - s1) * log_n / 3.0
    sloping = s3 + (s6 - s3) * (log_n - 3.0) / 3.0
    high = np.where(has_knee, np.maximum(sloping, s6 - np.maximum(log_n - _BEND, 0.0) / decline), sloping)
    return 10.0 ** np.where(log_n <= 3.0, low, high)


def line_life(
    amplitude_MPa: ArrayLike,
    *,
    at_1_MPa: ArrayLike,
    at_1e3_MPa: ArrayLike,
    at_1e6_MPa: ArrayLike,
    has_knee: ArrayLike,
    decline: float = DECLINE_EXPONENT,
) -> tuple[Array, Bools]:
    """Cycles that a reversed amplitude [MPa] lasts, and where it lies beyond what is claimed.

    There the second array is true and the first holds the last cycles claimed, a lower bound and no life.
    """
    amplitude = np.maximum(np.asarray(amplitude_MPa, float), _TINY)
    s, s1, s3, s6 = (np.log10(np.asarray(x, float)) for x in (amplitude, at_1_MPa, at_1e3_MPa, at_1e6_MPa))
    knee = np.broadcast_to(np.asarray(has_knee, bool), np.broadcast_shapes(s.shape, s6.shape, np.shape(has_knee)))
    # Level beyond a million: what lies at or below is beyond the bend, and there is no decline to read.
    level = not np.isfinite(decline)
    last = np.where(knee & level, _BEND, _LAST).astype(float)
    sloping = 3.0 + 3.0 * (s3 - s) / (s3 - s6)
    if not level:
        sloping = np.where(knee & (s < s6), _BEND + decline * (s6 - s), sloping)
    low = 3.0 * (s1 - s) / (s1 - s3)
    # A hair's breadth of rounding does not make a life of a stress that is the last line's own.
    beyond = (s < s3) & (sloping >= last * (1.0 - 1e-12))
    log_n = np.where(s >= s3, low, np.minimum(sloping, last))
    return 10.0 ** np.where(beyond, last, log_n), beyond
