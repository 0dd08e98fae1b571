"""Sheets to fill in by hand, as PDF: A4 pages with a head, ruled tables and notes; the same input, the same bytes."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence
from typing import Any

from barfem.model.frozen import frozen
from barfem.show.letters import missing_letters_told

__all__ = ["PaperTable", "paper_pdf"]

WIDTH_MM, HEIGHT_MM = 210.0, 297.0
MARGIN_MM, LINE_MM = 10.0, 6.5
ROWS_MM = (6.5, 6.0, 5.5, 5.0)  # high enough to write in by hand
TOGETHER = 12  # rows up to which a table is not torn in two
SIZE, SMALL = 8.0, 7.0


@frozen
class PaperTable:
    """Headings, widths in mm (190 together) and rows of text; a title above where there is one."""

    headings: tuple[str, ...]
    widths_mm: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""


class _Paper:
    """Pages that lines are put on from the top; a new one where there is no room. `row_mm`: height of a table's row."""

    def __init__(self, head: Sequence[str], row_mm: float) -> None:
        self.pages: list[Any] = []
        self.row_mm = row_mm
        self._head = head
        self.y = 0.0
        self.axes: Any = None
        self.page()

    def page(self) -> None:
        from matplotlib.figure import Figure

        figure = Figure(figsize=(WIDTH_MM / 25.4, HEIGHT_MM / 25.4))
        self.axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_xlim(0.0, WIDTH_MM)
        self.axes.set_ylim(HEIGHT_MM, 0.0)
        self.axes.axis("off")
        self.pages.append(figure)
        self.y = MARGIN_MM
        for number, text in enumerate(self._head):
            for line in textwrap.wrap(text, 70 if number == 0 else 118):
                self.text(MARGIN_MM, line, size=12.0 if number == 0 else SIZE, bold=number == 0)
                self.y += LINE_MM + (1.0 if number == 0 else -1.0)
        self.y += 1.5

    def room(self, height: float) -> bool:
        return self.y + height <= HEIGHT_MM - MARGIN_MM - LINE_MM

    def text(self, x: float, text: str, *, size: float = SIZE, bold: bool = False) -> None:
        self.axes.text(x, self.y + 0.5 * LINE_MM, text, fontsize=size, va="center", weight="bold" if bold else "normal")


def paper_pdf(head: Sequence[str], tables: Sequence[PaperTable], notes: Sequence[str]) -> bytes:
    """The pages as PDF, numbered; every page begins with `head`, its first line large."""
    import matplotlib
    from matplotlib.backends.backend_pdf import PdfPages

    with matplotlib.rc_context({"font.family": "DejaVu Sans", "pdf.fonttype": 42}):
        # The highest rows that make the fewest pages: a last page of a line or two is lost, or read alone.
        paper = min((_laid_out(head, tables, notes, row_mm) for row_mm in ROWS_MM), key=lambda each: len(each.pages))
        for number, figure in enumerate(paper.pages, start=1):
            figure.axes[0].text(
                WIDTH_MM - MARGIN_MM,
                HEIGHT_MM - MARGIN_MM + 3.0,
                f"{number} of {len(paper.pages)}",
                fontsize=SMALL,
                ha="right",
            )
        out = io.BytesIO()
        with (
            PdfPages(
                out, metadata={"CreationDate": None, "ModDate": None, "Producer": "barfem", "Creator": "barfem"}
            ) as pdf,
            missing_letters_told(),
        ):
            for figure in paper.pages:
                pdf.savefig(figure)
        return out.getvalue()


def _laid_out(head: Sequence[str], tables: Sequence[PaperTable], notes: Sequence[str], row_mm: float) -> _Paper:
    paper = _Paper(head, row_mm)
    for table in tables:
        _table(paper, table)
    _notes(paper, notes)
    return paper


def _table(paper: _Paper, table: PaperTable) -> None:
    least = len(table.rows) if len(table.rows) <= TOGETHER else 1
    if not paper.room(2.0 + LINE_MM + paper.row_mm * (1 + least)):
        paper.page()
    paper.y += 2.0
    if table.title:
        paper.text(MARGIN_MM, table.title, size=9.0, bold=True)
        paper.y += LINE_MM
    _row(paper, table.widths_mm, table.headings, bold=True)
    for row in table.rows:
        if not paper.room(_high(paper, _lines(table.widths_mm, row))):
            paper.page()
            _row(paper, table.widths_mm, table.headings, bold=True)
        _row(paper, table.widths_mm, row)


def _broken(width: float, text: str, *, bold: bool = False) -> list[str]:
    """Lines that fit a cell: about 1.55 mm a letter at this size, 1.75 in headings."""
    return textwrap.wrap(text, max(int((width - 2.0) / (1.75 if bold else 1.55)), 4)) or [""]


def _lines(widths: Sequence[float], row: Sequence[str], *, bold: bool = False) -> int:
    return max(len(_broken(width, cell, bold=bold)) for width, cell in zip(widths, row, strict=True))


def _high(paper: _Paper, lines: int) -> float:
    return paper.row_mm if lines == 1 else LINE_MM * (0.6 * lines + 0.3)


def _row(paper: _Paper, widths: Sequence[float], row: Sequence[str], *, bold: bool = False) -> None:
    height = _high(paper, _lines(widths, row, bold=bold))
    x = MARGIN_MM
    for width, cell in zip(widths, row, strict=True):
        paper.axes.plot(
            [x, x + width, x + width, x, x],
            [paper.y, paper.y, paper.y + height, paper.y + height, paper.y],
            color="black",
            linewidth=0.4,
        )
        lines = _broken(width, cell, bold=bold)
        for i, line in enumerate(lines):
            y = paper.y + height * (i + 0.5) / len(lines)
            paper.axes.text(x + 1.0, y, line, fontsize=SIZE, va="center", weight="bold" if bold else "normal")
        x += width
    paper.y += height


def _notes(paper: _Paper, notes: Sequence[str]) -> None:
    paper.y += 2.0
    for note in notes:
        lines = textwrap.wrap(note, 150)
        if not paper.room(0.7 * LINE_MM * len(lines)):
            paper.page()
        for line in lines:
            paper.text(MARGIN_MM, line, size=SMALL)
            paper.y += 0.65 * LINE_MM
        paper.y += 1.0
