"""The house's console and table style, shared by everything that prints."""

from __future__ import annotations

import re
import textwrap
from io import StringIO
from typing import TextIO

from rich import box
from rich.console import Console
from rich.table import Table as RichTable
from rich.text import Text

from barfem.show.numbers import printable, unbroken
from barfem.show.tables import Table

__all__ = ["BAD", "GOOD", "HEAD", "PIPED", "STYLES", "make_console", "print_table", "wrap"]

NARROWEST, WIDEST, PIPED = 60, 100, 80
GOOD, BAD, HEAD = "green", "bold red", "bold"
STYLES = {"": "", "good": GOOD, "bad": BAD}
"""How a mood looks in a terminal."""


def make_console(stream: TextIO, *, piped: int = PIPED) -> Console:
    """A console on `stream`, `piped` columns wide when it is no terminal.

    Colour only on a terminal, and never with NO_COLOR.

    In a notebook it is no terminal either: rich would otherwise show what is meant for `stream`.
    """
    console = Console(file=stream, highlight=False, markup=False, emoji=False, soft_wrap=False, force_jupyter=False)
    width = min(max(console.width, NARROWEST), WIDEST) if stream.isatty() else piped
    return Console(
        file=stream,
        width=width,
        highlight=False,
        markup=False,
        emoji=False,
        force_terminal=stream.isatty(),
        force_jupyter=False,
    )


def _drawn(table: Table) -> RichTable:
    """The columns that are drawn in the house's style: a rule under the headings, which may break; text left."""
    made = RichTable(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), header_style=HEAD, show_edge=False)
    for i in table.drawn:
        each = table.columns[i]
        made.add_column(each.lines, justify="left" if each.text else "right", vertical="top", overflow="fold")
    for row in table.rows:
        made.add_row(*(Text(row[i].text, style=STYLES[row[i].mood]) for i in table.drawn))
    return made


def print_table(console: Console, table: Table) -> None:
    """Print a table, its columns one space apart instead of two where that saves it from folding its cells."""
    made = _drawn(table)
    unlimited = console.options.update(width=10_000)
    if console.measure(made, options=unlimited).maximum > console.width:
        made.padding = (0, 0, 0, 0)
        _keep_numbers_whole(console, table, made)
    console.print(made)


def _keep_numbers_whole(console: Console, table: Table, made: RichTable) -> None:
    """Fix the widths of columns that do not fit, if a number would break: it reads as two, and as another.

    Room is taken where there is most to give: from cells of several words, then from words of text down to its heading.
    """
    columns = [(table.columns[i], [row[i].text for row in table.rows]) for i in table.drawn]
    numbers = [_words([each.lines, *cells]) for each, cells in columns if not each.text]
    apart = Console(file=StringIO(), width=console.width, force_jupyter=False)  # or a notebook would show it, empty
    with apart.capture() as printed:
        apart.print(made)
    if all(word in printed.get() for words in numbers for word in words):
        return
    width = [max(len(line) for cell in (each.lines, *cells) for line in cell.split("\n")) for each, cells in columns]
    words = [max(map(len, _words([each.lines, *cells]))) for each, cells in columns]
    heads = [
        max(map(len, _words([each.lines]))) if each.text else word
        for (each, _), word in zip(columns, words, strict=True)
    ]
    for least in (words, heads):
        while sum(width) > console.width - len(width) + 1:
            i = max(range(len(width)), key=lambda i, least=least: width[i] - least[i])  # type: ignore[misc]
            if width[i] <= least[i]:
                break
            width[i] -= 1
        else:
            for column, wide in zip(made.columns, width, strict=True):
                column.width = wide
            return


def _words(cells: list[str]) -> list[str]:
    return [word for cell in cells for word in re.split(r"[ \n]", cell)]


def wrap(text: str, width: int, *, first: str = "", then: str = "") -> list[str]:
    """Lines of at most `width`, never broken inside a number, between a number and its unit, or at a hyphen."""
    lines = textwrap.wrap(
        unbroken(text), max(width, 20), initial_indent=first, subsequent_indent=then, break_on_hyphens=False
    )
    return [printable(line) for line in lines]
