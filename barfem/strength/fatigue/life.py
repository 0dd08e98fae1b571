"""A life as everything that shows one asks for it: one record, whatever it was reckoned of."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Life"]


@dataclass(frozen=True)
class Life:
    """From the life at survival to the median, in `unit` ("cycles" of full travel, "repeats" of a duty).

    A median past the knee of the stress-life line is None with `runout`, and no more is claimed than `knee` cycles, or
    where there is no knee than the last that is claimed of any line. Then `at_survival` may still be short of it.
    Without `runout` None is no life, and `reason` says why.
    """

    at_survival: float | None
    median: float | None
    runout: bool = False
    knee: float | None = None
    reason: str | None = None
    unit: str = "cycles"

    @property
    def runout_at_survival(self) -> bool:
        """The life at survival lies past the knee as well."""
        return self.runout and self.at_survival is None

    @property
    def order(self) -> float:
        """What lives are put in order by: that at survival, infinite past the knee, below zero where there is none."""
        if self.runout_at_survival:
            return math.inf
        return -1.0 if self.at_survival is None or math.isnan(self.at_survival) else self.at_survival
