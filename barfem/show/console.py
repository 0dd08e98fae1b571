"""The house's console and table style, shared by everything that prints."""

from __future__ import annotations

import textwrap
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
    console.print(made)


def wrap(text: str, width: int, *, first: str = "", then: str = "") -> list[str]:
    """Lines of at most `width`, never broken inside a number, between a number and its unit, or at a hyphen."""
    lines = textwrap.wrap(
        unbroken(text), max(width, 20), initial_indent=first, subsequent_indent=then, break_on_hyphens=False
    )
    return [printable(line) for line in lines]
