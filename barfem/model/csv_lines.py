"""What no line of a CSV file is: longer than a person or a spreadsheet writes it, and than Python's reader takes."""

from __future__ import annotations

from barfem.model.errors import InputError
from barfem.model.grouped import grouped

__all__ = ["refuse_long_lines"]

LONGEST_LINE = 100_000
"""Characters; Python's csv refuses a cell from 131 072 on with an error of its own."""


def refuse_long_lines(text: str, *, file: str, expected: str) -> None:
    """Raise `InputError` for the first line of `text` that no table has: a file without line ends, or none of text."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            raise InputError(
                f"the line has {grouped(len(line))} characters: {line[:20]!r} ...",
                where=f"line {number}",
                expected=f"{expected}, its lines at most {grouped(LONGEST_LINE)} characters long.",
                file=file,
            )
