"""Numbers as they are printed: significant figures, digits in groups of three, lives as bands."""

from __future__ import annotations

import math
import re

from barfem.model.grouped import counted as plainly_counted
from barfem.model.grouped import grouped, two_decimals

__all__ = [
    "NONE",
    "NO_BREAK",
    "counted",
    "printable",
    "ratio",
    "signed",
    "significant",
    "spaced",
    "unbroken",
    "whole",
]

NO_BREAK = "\ue000"
"""Groups digits without letting a line break between them: a private character, since rich breaks lines at the
no-break space too. `printable` turns it into an ordinary space."""

NONE = "-"
"""What stands where there is no number; the text beside it says why."""


UNLOADED_RATIO = 1e6
"""A margin or safety factor from here on is that of what carries nothing but rounding."""


def printable(text: str) -> str:
    """`text` with ordinary spaces where lines could not break."""
    return text.replace(NO_BREAK, " ")


def spaced(text: str) -> str:
    """`text` for a page, with the no-break space where lines cannot break."""
    return text.replace(NO_BREAK, "\u00a0")


def unbroken(text: str) -> str:
    """`text` without a line break within a number or before its unit."""
    kept = re.sub(r"(?<=\d) (?=\d{3}\b)", NO_BREAK, text)
    return re.sub(r"(?<=\d) (?=(?:MPa|GPa|mm|N|deg|cycles|%|kg|J)(?:\W|$))", NO_BREAK, kept)


def whole(value: float | None) -> str:
    """Rounded to a whole number, digits in groups of three: 12 345.

    >>> printable(whole(12345.4)), whole(-0.2), whole(None)
    ('12 345', '0', '-')
    """
    if value is None or not math.isfinite(value):
        return NONE
    return grouped(round(value) + 0).replace(" ", NO_BREAK)


def counted(number: int, what: str) -> str:
    """How many there are of `what`, as `grouped.counted`, without a line break within the number."""
    return unbroken(plainly_counted(number, what))


def significant(value: float | None, digits: int = 3) -> str:
    """With so many significant figures, without an exponent: 0.0123, 4.56, 1 230.

    >>> significant(4.5678), printable(significant(1234.5)), significant(0.0)
    ('4.57', '1 230', '0')
    """
    if value is None or not math.isfinite(value):
        return NONE
    if abs(value) < 1e-6:  # of any unit that is printed: rounding
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, decimals)
    # Rounding may carry into a new digit: 9.996 is 10.0 to three figures, not 10.00.
    decimals = digits - 1 - math.floor(math.log10(abs(rounded)))
    return f"{rounded:,.{max(decimals, 0)}f}".replace(",", NO_BREAK)


def signed(value: float | None) -> str:
    """A whole number with its sign, for forces: +1 234, -1 234, 0."""
    if value is None or not math.isfinite(value):
        return NONE
    return whole(value) if round(value) == 0 else ("+" if value > 0 else "") + whole(value)


def ratio(value: float | None, target: float | None = None) -> str:
    """A margin or safety factor to two decimals; one that fails its `target` is never rounded up to it.

    The margin of what is not loaded is no number that means anything.

    >>> ratio(1.577), ratio(0.2499, 0.25), ratio(0.25, 0.25), ratio(-0.081), ratio(None)
    ('1.58', '0.24', '0.25', '-0.08', '-')
    """
    if value is None or not math.isfinite(value) or value >= UNLOADED_RATIO:
        return NONE
    return f"{two_decimals(value, target) + 0.0:.2f}"
