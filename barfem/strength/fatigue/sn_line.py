"""The stress-life line: straight pieces in log-log through 1, 1 000 and 1 000 000 cycles, and a decline to 10 000 000.

From the tensile strength at one cycle to f Sut at 1 000 (Shigley Eq. 6-17), from there to the endurance limit at a
million (Eq. 6-14 to 6-16). Hard spring steel has no true knee: beyond a million the line falls by 5 % a decade
(exponent 45; C. M. Sonsino, Int. J. Fatigue 29 (2007) 2246, steel that is not welded; from memory, fairly sure), or
goes on at its own slope where pits grow. Nothing is claimed beyond 10 000 000 cycles, where most tests were stopped.
Below 1 000 cycles plastic strain decides and the line is an orientation only.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen

__all__ = [
    "BEND_CYCLES",
    "DECLINE_EXPONENT",
    "LONGEST_LIFE_CYCLES",
    "SHORTEST_LIFE_CYCLES",
    "StressLifeLine",
]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHORTEST_LIFE_CYCLES = 1e3
# Where the sloping line bends into the slow decline, and where what is claimed ends.
BEND_CYCLES = 1e6
LONGEST_LIFE_CYCLES = 1e7
DECLINE_EXPONENT = 45.0

_TINY = 1e-12
_LEAST, _BEND, _LAST = float(np.log10(_TINY)), float(np.log10(BEND_CYCLES)), float(np.log10(LONGEST_LIFE_CYCLES))


@frozen
class StressLifeLine:
    """Common logarithms of the strengths [MPa] at 1, 1 000 and 1 000 000 cycles; arrays broadcast.

    `decline` is the exponent beyond a million; infinite: level.
    """

    at_1: Array
    at_1e3: Array
    at_1e6: Array
    has_knee: Bools
    decline: float

    @staticmethod
    def of(
        *,
        at_1_MPa: ArrayLike,
        at_1e3_MPa: ArrayLike,
        at_1e6_MPa: ArrayLike,
        has_knee: ArrayLike,
        decline: float = DECLINE_EXPONENT,
    ) -> StressLifeLine:
        """From the strengths."""
        s1, s3, s6 = (np.log10(np.asarray(s, float)) for s in (at_1_MPa, at_1e3_MPa, at_1e6_MPa))
        return StressLifeLine(s1, s3, s6, np.asarray(has_knee, bool), decline)

    def strength(self, cycles: ArrayLike) -> Array:
        """Reversed amplitude [MPa] that lasts `cycles` (1 or more)."""
        return np.asarray(10.0 ** self.log_strength(cycles))

    def log_strength(self, cycles: ArrayLike) -> Array:
        """Common logarithm of `strength`."""
        log_n = np.log10(np.maximum(np.asarray(cycles, float), 1.0))
        s1, s3, s6 = self.at_1, self.at_1e3, self.at_1e6
        low = s1 + (s3 - s1) * log_n / 3.0
        sloping = s3 + (s6 - s3) * (log_n - 3.0) / 3.0
        high = np.where(self.has_knee, np.maximum(sloping, s6 - np.maximum(log_n - _BEND, 0.0) / self.decline), sloping)
        return np.where(log_n <= 3.0, low, high)

    def log_life(self, log_amplitude: Array) -> tuple[Array, Bools]:
        """Common logarithm of the life at an amplitude's [MPa], and where that is beyond what is claimed."""
        s = np.maximum(log_amplitude, _LEAST)
        # Level beyond a million: what lies at or below is beyond the bend, and there is no decline to read.
        level = not np.isfinite(self.decline)
        last: Any = np.where(self.has_knee, _BEND, _LAST) if level else _LAST
        sloping = 3.0 + (self.at_1e3 - s) * (3.0 / (self.at_1e3 - self.at_1e6))
        if not level:
            bent = self.has_knee & (s < self.at_1e6)
            sloping = np.where(bent, _BEND + self.decline * (self.at_1e6 - s), sloping)
        low = (self.at_1 - s) * (3.0 / (self.at_1 - self.at_1e3))
        above = s >= self.at_1e3
        # A hair's breadth of rounding does not make a life of a stress that is the last line's own.
        beyond = ~above & (sloping >= last * (1.0 - 1e-12))
        log_n = np.where(above, low, np.minimum(sloping, last))
        return np.where(beyond, last, log_n), beyond

    def life(self, amplitude_MPa: ArrayLike) -> tuple[Array, Bools]:
        """Cycles that a reversed amplitude [MPa] lasts, and where it lies beyond what is claimed.

        There the second array is true and the first holds the last cycles claimed, a lower bound and no life.
        """
        log_n, beyond = self.log_life(np.log10(np.maximum(np.asarray(amplitude_MPa, float), _TINY)))
        return 10.0**log_n, beyond
