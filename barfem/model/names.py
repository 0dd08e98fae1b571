"""Which text may be a name: what everyone sees when it is printed, and nothing else."""

from __future__ import annotations

import unicodedata

__all__ = ["unprintable"]


def unprintable(text: str) -> str | None:
    """What `text` holds that a name may not, in words; None where it may be a name.

    Line breaks and control characters break tables; characters that turn the direction of writing or have no width
    make one name look like another (Unicode categories Cc, Zl, Zp; Cf).

    >>> unprintable("hole 2"), unprintable("a\\nb")
    (None, 'a line break or a control character')
    """
    kinds = {unicodedata.category(character) for character in text}
    if kinds & {"Cc", "Zl", "Zp", "Cs"}:
        return "a line break or a control character"
    if "Cf" in kinds:
        return "a character without width, or one that turns the direction of writing"
    return None
