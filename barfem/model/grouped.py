"""Numbers in sentences: digits in groups of three, with a space, as in tables."""

from __future__ import annotations

import math

__all__ = ["counted", "grouped", "percent", "round_down", "two_decimals"]


def grouped(number: float) -> str:
    """A count as it is read: 60 000, whole from 1000 up; fractions below keep six figures.

    A space, never a comma or a point, which are decimal signs to half of the readers (ISO 80000-1:2009, 7.3.1; SI
    Brochure, 5.4.4).

    >>> grouped(60000), grouped(1234567.8), grouped(0.25), grouped(1000)
    ('60 000', '1 234 568', '0.25', '1 000')
    """
    return f"{number:,.0f}".replace(",", " ") if abs(number) >= 999.5 else f"{number:g}"


def counted(number: int, what: str) -> str:
    """How many there are of `what`, which takes an s where there is not one.

    >>> counted(1, "bar"), counted(2, "bar"), counted(12000, "test")
    ('1 bar', '2 bars', '12 000 tests')
    """
    return f"{grouped(number)} {what}{'' if number == 1 else 's'}"


def percent(share: float) -> str:
    """A share in per cent, with so many figures that one below 1 never reads as 100.

    >>> percent(0.9), percent(0.999999), percent(0.9999999999), percent(1.0)
    ('90 %', '99.9999 %', '99.99999999 %', '100 %')
    """
    shown = next((text for digits in range(6, 18) if float(text := f"{100.0 * share:.{digits}g}") < 100.0), "100")
    return f"{shown} %"


def two_decimals(value: float, target: float | None = None) -> float:
    """A margin or factor to two decimals; one that misses its target is never rounded up to it.

    >>> two_decimals(0.2499, 0.25), two_decimals(0.25, 0.25), two_decimals(0.2499)
    (0.24, 0.25, 0.25)
    """
    shown = round(value, 2)
    missed = target is not None and value < target <= shown
    return math.floor(value * 100.0) / 100.0 if missed else shown


def round_down(value: float) -> float:
    """Rounded towards zero to two significant figures, so that a printed life never flatters.

    >>> round_down(61999.0), round_down(100000.0), round_down(7.0)
    (61000.0, 100000.0, 7.0)
    """
    if value <= 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    # A hair is added so that 100 000 is not taken for 99 999.999...
    return math.floor(value / step * (1.0 + 1e-12)) * step
