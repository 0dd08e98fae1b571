"""A life as everything that shows one asks for it: one record, whatever it was reckoned of."""

from __future__ import annotations

import math

from barfem.model.frozen import frozen

__all__ = ["InCycles", "InRepeats", "Life"]


@frozen
class Life:
    """From the life at survival to the median, in `unit` ("cycles" of full travel, "repeats" of a duty).

    A median over the last life that is claimed of any line (`sn_line.LONGEST_LIFE_CYCLES`) is None with `runout`;
    `at_survival` may still be short of it. Without `runout` None is no life, and `reason` says why.
    """

    at_survival: float | None
    median: float | None
    runout: bool = False
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


class InCycles:
    """A record with a life in cycles of full travel, in the fields that the JSON has of it."""

    @property
    def life(self) -> Life:
        """The record's life; one without a `runout` of its own has none."""
        at_survival, median = (getattr(self, name, None) for name in ("life_at_survival_cycles", "life_cycles"))
        return Life(at_survival, median, getattr(self, "runout", False), getattr(self, "reason", None))


class InRepeats:
    """A record with a life in repeats of a duty or a history; one none of whose cycles does harm has no end."""

    life_repeats: float | None
    life_at_survival_repeats: float | None
    runout: bool
    reason: str | None

    @property
    def life(self) -> Life:
        """In repeats."""
        median = None if self.runout else self.life_repeats
        return Life(self.life_at_survival_repeats, median, self.runout, self.reason, unit="repeats")
