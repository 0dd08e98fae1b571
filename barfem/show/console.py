"""The house's console and table style, shared by everything that prints."""

from __future__ import annotations

import re
import textwrap
from typing import TextIO

from rich import box
from rich.console import Console
from rich.table import Table

from barfem.show.numbers import NO_BREAK

__all__ = ["BAD", "GOOD", "HEAD", "make_console", "plain_table", "print_table", "wrap"]

NARROWEST, WIDEST, PIPED = 60, 100, 80
GOOD, BAD, HEAD = "green", "bold red", "bold"


def make_console(stream: TextIO) -> Console:
    """A console on `stream`: 80 columns when it is no terminal; colour only on a terminal, and never with NO_COLOR.

    In a notebook it is no terminal either: rich would otherwise show what is meant for `stream`.
    """
    console = Console(file=stream, highlight=False, markup=False, emoji=False, soft_wrap=False, force_jupyter=False)
    width = min(max(console.width, NARROWEST), WIDEST) if stream.isatty() else PIPED
    return Console(
        file=stream,
        width=width,
        highlight=False,
        markup=False,
        emoji=False,
        force_terminal=stream.isatty(),
        force_jupyter=False,
    )


def plain_table(*columns: str, first_left: int = 1) -> Table:
    """An empty table in the house's style: a rule under the headings, text left, numbers right.

    The first `first_left` columns hold text. Headings may break at newlines.
    """
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), header_style=HEAD, show_edge=False)
    for i, heading in enumerate(columns):
        table.add_column(heading, justify="left" if i < first_left else "right", vertical="top", overflow="fold")
    return table


def print_table(console: Console, table: Table) -> None:
    """Print a table, its columns one space apart instead of two where that saves it from folding its cells."""
    unlimited = console.options.update(width=10_000)
    if console.measure(table, options=unlimited).maximum > console.width:
        table.padding = (0, 0, 0, 0)
    console.print(table)


def wrap(text: str, width: int, *, first: str = "", then: str = "") -> list[str]:
    """Lines of at most `width`, never broken inside a number, between a number and its unit, or at a hyphen."""
    # Digits are grouped by spaces in print, whoever wrote the text: a comma is a decimal sign to half of the readers.
    kept = re.sub(r"(?<=\d)[ ,](?=\d{3}\b)", NO_BREAK, text)
    kept = re.sub(r"(?<=\d) (?=(?:MPa|GPa|mm|N|deg|cycles|%|kg|J)(?:\W|$))", NO_BREAK, kept)
    return textwrap.wrap(kept, max(width, 20), initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
