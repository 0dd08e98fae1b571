"""Letters that the font of sheets lacks: a box stands for each, which whoever sends the sheet has to know."""

from __future__ import annotations

import re
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["missing_letters_told"]

_MISSING = re.compile(r"Glyph (?P<code>\d+) .* missing from font")


@contextmanager
def missing_letters_told() -> Iterator[None]:
    """What is drawn inside tells on standard error, in a line, which of its letters are boxes."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        yield
    letters = []
    for each in caught:
        if match := _MISSING.match(str(each.message)):
            letters.append(chr(int(match["code"])))
        else:
            warnings.warn_explicit(each.message, each.category, each.filename, each.lineno)
    if letters:
        told = " ".join(dict.fromkeys(letters))
        print(
            f"barfem: the font of sheets has no {told}: a box stands there. Right would be: Latin, Greek or Cyrillic "
            "letters in names.",
            file=sys.stderr,
        )
