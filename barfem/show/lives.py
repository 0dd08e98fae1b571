"""A life in print, one way everywhere: at survival to median, rounded down; over what is claimed; or no life."""

from __future__ import annotations

import math

from barfem.model.grouped import round_down
from barfem.show.numbers import NO_BREAK, significant, whole
from barfem.show.tables import Cell
from barfem.strength.fatigue.life import Life
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES

__all__ = ["NO_LIFE", "OVER", "life_cell", "life_ends", "life_text", "life_words", "one_life"]

OVER = f"over {whole(LONGEST_LIFE_CYCLES)}"
"""Past what is claimed, knee or none; of cycles."""

NO_LIFE = "no life"
"""None can be stated, or less than one cycle of full travel."""


def one_life(value: float | None, *, runout: bool = False, unit: str = "cycles") -> str:
    """One number of a life, two significant figures, rounded down.

    >>> from barfem.show.numbers import printable
    >>> printable(one_life(61999.0)), printable(one_life(None, runout=True))
    ('61 000', 'over 10 000 000')
    >>> one_life(9.6), one_life(0.02), one_life(0.739, unit="repeats"), one_life(None)
    ('9', 'no life', '0.73', 'no life')
    """
    if runout and unit == "cycles":
        return OVER
    if runout:
        return "no end"
    if value is None or not value >= (1.0 if unit == "cycles" else 0.0):
        return NO_LIFE
    return whole(math.floor(round_down(value))) if unit == "cycles" else significant(round_down(value), 2)


def life_ends(found: Life) -> tuple[str, str]:
    """Life at survival, and median, in print; alike where they are one."""
    median = one_life(found.median, runout=found.runout, unit=found.unit)
    if found.at_survival is None:
        return median, median
    return one_life(found.at_survival, unit=found.unit), median


def life_text(found: Life) -> str:
    """From the life at survival to the median: 61 000 to 85 000.

    >>> from barfem.show.numbers import printable
    >>> printable(life_text(Life(61000.0, None, runout=True))), life_text(Life(0.02, 40.0))
    ('61 000 to >10 000 000', 'no life')
    """
    low, high = life_ends(found)
    return low if low in (high, NO_LIFE) else f"{low} to{NO_BREAK}{high.replace('over ', '>')}"


def life_cell(found: Life, target: float = 0.0) -> Cell:
    """The same as a cell, whose number is the life at survival; bad where that falls short of its target."""
    return Cell(life_text(found), found.at_survival, "bad" if found.order < target else "")


def life_words(found: Life, survival: float | None = None) -> str:
    """The same in a sentence, with the reason where there is none."""
    text = life_text(found).replace(">", "over ")
    if text == NO_LIFE:
        return f"{NO_LIFE} ({found.reason or f'below one of the {found.unit}'})"
    of = "" if text == "no end" else f" {found.unit}"
    share = "" if survival is None or found.runout_at_survival else f" ({100 * survival:g} % survival to median)"
    return f"{text}{of}{share}"
