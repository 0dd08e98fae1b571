"""The terminal's tables as tables of a page: the same headings and cells, so that the two cannot differ."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import zip_longest

from rich.table import Table
from rich.text import Text

from barfem.show.console import BAD, GOOD
from barfem.show.numbers import NO_BREAK

__all__ = ["Cell", "HtmlTable", "from_rich", "prose"]

SPACE = "\u00a0"  # no line breaks here
LONG = 22


@dataclass(frozen=True)
class Cell:
    """A cell's text; `mood` is "good", "bad" or "", `number` says that it is set to the right."""

    text: str
    mood: str = ""
    number: bool = False

    @property
    def kind(self) -> str:
        """Its classes on the page: a long text asks for room on a phone."""
        parts = ("number" if self.number else "long" if len(self.text) > LONG else "", self.mood)
        return " ".join(filter(None, parts))


@dataclass(frozen=True)
class HtmlTable:
    title: str
    headings: tuple[Cell, ...]
    rows: tuple[tuple[Cell, ...], ...]
    remarks: tuple[str, ...] = ()


def from_rich(title: str, table: Table, *remarks: str) -> HtmlTable:
    """A rich table with its title and remarks."""
    numbers = [column.justify == "right" for column in table.columns]
    headings = tuple(
        Cell(prose(_heading(str(column.header))), number=number)
        for column, number in zip(table.columns, numbers, strict=True)
    )
    columns = [list(column.cells) for column in table.columns]
    rows = tuple(
        tuple(_cell(item, number) for item, number in zip(row, numbers, strict=True)) for row in zip_longest(*columns)
    )
    return HtmlTable(prose(title), headings, rows, tuple(prose(remark) for remark in remarks if remark))


def _heading(text: str) -> str:
    """A heading on one line: words broken for a narrow terminal are whole again ("left/\\nright")."""
    return re.sub(r"(?<=/)\n", "", text).replace("\n", " ")


def _cell(item: object, number: bool) -> Cell:
    mood = {GOOD: "good", BAD: "bad"}.get(str(item.style), "") if isinstance(item, Text) else ""
    return Cell(prose(item.plain if isinstance(item, Text) else str(item)), mood, number)


# A name in a script that runs to the left would take the numbers beside it along: "hole X: 24" as "24 :hole X".
_LEFTWARD = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff"
_NAME = re.compile(rf"[{_LEFTWARD}](?:[{_LEFTWARD}]|[ -](?=[{_LEFTWARD}]))*")


def prose(text: str) -> str:
    """Text with its digits in groups, and no line break within a number or before its unit; names keep to themselves.

    >>> prose("12,345 MPa") == "12\u00a0345\u00a0MPa"
    True
    """
    kept = re.sub(rf"(?<=\d)[ ,{NO_BREAK}](?=\d{{3}}\b)", SPACE, text).replace(NO_BREAK, SPACE)
    kept = _NAME.sub(lambda found: f"\u2068{found.group()}\u2069", kept)
    return re.sub(r"(?<=\d) (?=(?:MPa|GPa|mm|N|deg|cycles|%|kg|J)(?:\W|$))", SPACE, kept)
