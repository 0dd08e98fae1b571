"""Numbers in sentences: digits in groups of three, with a space, as in tables."""

from __future__ import annotations

__all__ = ["grouped"]


def grouped(number: float) -> str:
    """A count as it is read: 60 000, whole from 1000 up; fractions below keep six figures.

    A space, never a comma or a point, which are decimal signs to half of the readers (ISO 80000-1:2009, 7.3.1; SI
    Brochure, 5.4.4).

    >>> grouped(60000), grouped(1234567.8), grouped(0.25), grouped(1000)
    ('60 000', '1 234 568', '0.25', '1 000')
    """
    return f"{number:,.0f}".replace(",", " ") if abs(number) >= 999.5 else f"{number:g}"
