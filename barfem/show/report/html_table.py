"""Tables on a page and in a notebook: the same headings and cells as the terminal's, so that they cannot differ."""

from __future__ import annotations

import re
from collections.abc import Iterable

from markupsafe import Markup

from barfem.show.numbers import spaced, unbroken
from barfem.show.tables import Cell, Column, Table

__all__ = ["all_prose", "prose", "table_in_notebook", "table_on_page"]

LONG = 22
SHORT_TABLE = 20
RIGHT, LEFT = "text-align:right", "text-align:left"


def table_on_page(made: Table) -> Markup:
    """Title, table and remarks as elements of the page, dressed by its style sheet; all text is escaped."""
    title = prose(made.title)
    region = Markup(' role="region" aria-label="{}" tabindex="0"').format(title) if title else ""
    short = " short" if len(made.rows) <= SHORT_TABLE else ""
    return Markup("").join(
        [
            Markup("<h3>{}</h3>\n").format(title) if title else "",
            Markup('<div class="scroll{}"{}>').format(short, region),
            _table(made, heading=lambda column: "" if column.text else _class("number"), cell=_cell_class),
            Markup("</div>\n"),
            *(Markup('<p class="remark">{}</p>\n').format(prose(line)) for line in made.remarks),
        ]
    )


def table_in_notebook(made: Table) -> Markup:
    """Title, table and remarks with their style in them, since a notebook has no style sheet; all text is escaped."""

    def style(column: Column, cell: Cell | None = None) -> Markup:
        bold = ";font-weight:bold" if cell is not None and cell.mood == "bad" else ""
        return Markup(' style="{}{}"').format(LEFT if column.text else RIGHT, bold)

    return Markup("").join(
        [
            Markup("<p>{}</p>").format(prose(made.title)) if made.title else "",
            _table(made, heading=style, cell=style),
            *(Markup("<p>{}</p>").format(prose(line)) for line in made.remarks),
        ]
    )


def _table(made: Table, *, heading, cell) -> Markup:  # type: ignore[no-untyped-def]
    """The table alone; `heading` and `cell` give the attributes of a cell."""
    shown = [(i, made.columns[i]) for i in made.drawn]
    head = Markup("").join(
        Markup('<th scope="col"{}>{}</th>').format(heading(column), prose(column.line)) for _, column in shown
    )
    rows = Markup("\n").join(
        Markup("<tr>{}</tr>").format(
            Markup("").join(
                Markup("<td{}>{}</td>").format(cell(column, row[i]), prose(row[i].text)) for i, column in shown
            )
        )
        for row in made.rows
    )
    return Markup("<table>\n<thead><tr>{}</tr></thead>\n<tbody>\n{}\n</tbody>\n</table>").format(head, rows)


def _cell_class(column: Column, cell: Cell) -> Markup:
    """Its classes on the page: a long text asks for room on a phone."""
    return _class("long" if column.text and len(cell.text) > LONG else "" if column.text else "number", cell.mood)


def _class(*names: str) -> Markup:
    kind = " ".join(filter(None, names))
    return Markup(' class="{}"').format(kind) if kind else Markup("")


# A name in a script that runs to the left would take the numbers beside it along: "hole X: 24" as "24 :hole X".
_LEFTWARD = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff"
_NAME = re.compile(rf"[{_LEFTWARD}](?:[{_LEFTWARD}]|[ -](?=[{_LEFTWARD}]))*")


def prose(text: str) -> str:
    """Text without a line break within a number or before its unit; names keep to themselves.

    >>> prose("12 345 MPa") == "12\u00a0345\u00a0MPa"
    True
    """
    return _NAME.sub(lambda found: f"\u2068{found.group()}\u2069", spaced(unbroken(text)))


def all_prose(lines: Iterable[str]) -> list[str]:
    """The same of several texts."""
    return [prose(line) for line in lines]
