"""Load cases as data: how the pickups move, and what a rate, a roll rate and the cycle's other end mean in each.

Whoever needs to know how one load case differs from another asks its record here. A case more is a record more.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import TYPE_CHECKING

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.sentences import enumerated

if TYPE_CHECKING:  # the help of the commands asks for names alone, and must not wait for numpy
    import numpy as np
    from numpy.typing import NDArray

    from barfem.model.bar import Travel

__all__ = [
    "CASES",
    "CYCLE",
    "FEELS_NOTHING",
    "ONE_WHEEL",
    "ROLL",
    "TELLING",
    "End",
    "Instant",
    "LoadCase",
    "case_named",
]

FEELS_NOTHING = "feels nothing"

TELLING = 1.01
"""Of a rate over that of equal travels: what is told. Less than that nobody measures."""


class Instant(IntEnum):
    """The states that every hole setting is solved in, by their place in arrays of states; further ones follow."""

    REST = 0
    TRAVEL = 1
    OTHER_END = 2

    @property
    def words(self) -> str:
        """As results name it: "rest", "travel", "other end"."""
        return self.name.lower().replace("_", " ")


class End(IntEnum):
    """The two sides, by their place in arrays of both."""

    RIGHT = 0
    LEFT = 1


CYCLE = (Instant.TRAVEL, Instant.OTHER_END)
"""The two ends of the cycle."""


@frozen(kw_only=True)
class LoadCase:
    """One way to move the pickups; travel in mm along [travel] direction, up positive.

    Attributes
    ----------
    name
        As the command line, tables and JSON name it.
    full_mm
        Pickup travel of (right, left) at full travel.
    asked_for
        Whether the bar file asks for the case to be judged without naming it on the command line.
    own_key
        The key of [travel] that its travel alone has; None: it goes by up and down.
    unit
        Travel of (right, left) for 1 mm of a block's travel.
    exchanges
        At a negative ratio right and left change places, each within its own bump and droop.
    signed
        The rate is the mean of both sides' signed forces over travel, not of their magnitudes.
    rolls
        Whether the ends move apart, so that there is a roll rate.
    may_rest
        The bar may rightly feel nothing. Where it is False, such a bar is a mechanism.
    moves, reversed_words, rate_words
        The travel in words with a place for each number; the other end at ratio -1; what the other end does
        while the rate is taken.
    """

    name: str
    full_mm: Callable[[Travel], tuple[float, float]]
    asked_for: Callable[[Travel], bool]
    own_key: str | None = None
    unit: tuple[float, float]
    exchanges: bool = False
    signed: bool = False
    rolls: bool = True
    may_rest: bool = False
    moves: str
    reversed_words: str = "as far down"
    rate_words: str

    def moves_mm(self, travel: Travel, ratio: float) -> NDArray[np.float64]:
        """Pickup travel (3, 2) of (right, left), in the order of `Instant`."""
        import numpy as np

        full = np.array(self.full_mm(travel))
        other = -ratio * full[::-1] if self.exchanges and ratio < 0.0 else ratio * full
        return np.array([[0.0, 0.0], full, other])

    def own_keys(self, travel: Travel) -> dict[str, float]:
        """The key of [travel], with its travel (mm), that the bar file gives for this case alone; else none."""
        return {} if self.own_key is None or not self.asked_for(travel) else {self.own_key: max(self.full_mm(travel))}

    def _moves(self, travel: Travel) -> str:
        right, left = self.full_mm(travel)
        return self.moves.format(left=left, right=abs(right))

    def describe(self, travel: Travel, ratio: float) -> str:
        """The case and its cycle in words."""
        times = f"{ratio:g} times that travel"
        if self.exchanges and ratio < 0.0:  # each side stays within its own bump and droop
            times = f"{-ratio:g} times that travel with left and right exchanged"
        other = {-1.0: self.reversed_words, 0.0: "rest"}.get(ratio, times)
        return f"{self._moves(travel)}; the other end of the cycle is {other}"

    def assumed(self, travel: Travel) -> str:
        """What a travel of the case's own leaves open, in a sentence; empty where it goes by up and down."""
        if not self.own_keys(travel):
            return ""
        return (
            f"{self.name.capitalize()} case: {self._moves(travel)}; the cycle's other end is [duty] ratio times that "
            "travel, whatever droop is given."
        )

    def unlike(self, travel: Travel) -> str:
        """What bump and droop that differ do to the rate in roll, in a sentence; empty where they do nothing."""
        if not self.exchanges or travel.up_mm == travel.down_mm:
            return ""
        return (
            f"[travel] up and down differ, {travel.up_mm:g} and {travel.down_mm:g} mm: the rate in roll is the mean of "
            f"each end's force over its own travel, {100.0 * (travel.over_alike - 1.0):.1f} % above that of equal "
            "travels (of equal arms), which a hand calculation, a bench and the car have; the roll rate in N m/deg is "
            "of couple and angle, whatever the travels."
        )

    def rate_note(self, travel: Travel) -> str:
        """How far a rate in roll lies above that of equal travels, in words; empty where it is by less than 1 %."""
        over = travel.over_alike if self.exchanges else 1.0
        return "" if over < TELLING else f"rates are {100.0 * (over - 1.0):.0f} % above those of equal travels"


ROLL = LoadCase(
    name="roll",
    full_mm=lambda travel: (-travel.down_mm, travel.up_mm),
    asked_for=lambda travel: True,
    unit=(-1.0, 1.0),
    exchanges=True,
    moves="left pickup up {left:g} mm, right pickup down {right:g} mm",
    reversed_words="the same with left and right exchanged",
    rate_words="the other end moving the other way",
)
ONE_WHEEL = LoadCase(
    name="one-wheel",
    full_mm=lambda travel: (0.0, travel.one_wheel_mm),
    asked_for=lambda travel: travel.one_wheel_given,
    own_key="one_wheel",
    unit=(0.0, 1.0),
    moves="left pickup up {left:g} mm, right pickup stays",
    rate_words="the other end held",
)
PARALLEL = LoadCase(
    name="parallel",
    full_mm=lambda travel: (travel.parallel_mm or travel.up_mm,) * 2,
    asked_for=lambda travel: travel.parallel_mm is not None,
    own_key="parallel",
    unit=(1.0, 1.0),
    signed=True,
    rolls=False,
    may_rest=True,
    moves="both pickups up {left:g} mm",
    rate_words="both ends moving alike; the mean of their signed forces over travel",
)

CASES = {case.name: case for case in (ROLL, ONE_WHEEL, PARALLEL)}
"""Load cases by name, in the order in which they are judged and printed."""


def case_named(name: str, *, where: str = "case") -> LoadCase:
    """The load case of that name.

    Raises
    ------
    InputError
        There is none.
    """
    if name not in CASES:
        raise InputError(f"there is no load case {name!r}.", where=where, expected=f"{enumerated(list(CASES), 'or')}.")
    return CASES[name]
