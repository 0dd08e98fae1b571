"""Words made into sentences."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["enumerated", "with_capital"]


def enumerated(names: Sequence[object], last: str = "and") -> str:
    """Names as a sentence has them.

    >>> enumerated(["1"]), enumerated([1, 2, 3]), enumerated(["a", "b"], "or")
    ('1', '1, 2 and 3', 'a or b')
    """
    *some, end = map(str, names)
    return f"{', '.join(some)} {last} {end}" if some else end


def with_capital(text: str) -> str:
    """`text` with a capital in front and all else as it is: names of holes keep their letters."""
    return text[:1].upper() + text[1:]
