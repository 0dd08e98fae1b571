"""Blocks of a sheet: frame with grid, title block, tables, notes, the picture of a rotation, the projection symbol."""

from __future__ import annotations

import math
from collections.abc import Sequence

from barfem.model.bar import Bar
from barfem.model.bar_geometry import mass_kg
from barfem.show.drawing.ink import Ink, text_width_mm, wrapped
from barfem.show.numbers import printable, significant
from barfem.vendor.maker_tables import drawing_of

__all__ = ["TITLE_HEIGHT", "TITLE_WIDTH", "frame", "notes_block", "rotation_picture", "table_block", "title_block"]

TITLE_WIDTH = 180.0  # ISO 7200:2004, from memory, sure
TITLE_HEIGHT = 54.0
LINE = 4.4  # between lines of 2.5 mm letters


def frame(ink: Ink, width: float, height: float) -> None:
    """Frame, centring marks and the grid of 50 mm counted from the middle (ISO 5457:1999)."""
    left, bottom, right, top = 20.0, 10.0, width - 10.0, height - 10.0
    ink.box(left, bottom, right, top, style="frame")
    for x, y, to in (
        (0.5 * width, 0.0, (0.5 * width, bottom + 5.0)),
        (0.5 * width, height, (0.5 * width, top - 5.0)),
        (width, 0.5 * height, (right - 5.0, 0.5 * height)),
        (left - 10.0, 0.5 * height, (left + 5.0, 0.5 * height)),
    ):
        ink.line((x, y), to, style="frame")
    for start, stop, middle, across in ((left, right, 0.5 * width, False), (bottom, top, 0.5 * height, True)):
        places = [middle + 50.0 * i for i in range(-20, 21) if start + 1.0 < middle + 50.0 * i < stop - 1.0]
        for place in places:
            for edge, out in ((bottom, -5.0), (top, 5.0)) if not across else ((left, -5.0), (right, 5.0)):
                one, other = (place, edge), (place, edge + out)
                ink.line(*((one, other) if not across else (one[::-1], other[::-1])))


def title_block(
    ink: Ink, bar: Bar, *, right: float, bottom: float, scale: int, paper: str, document: str, projection: str
) -> None:
    """Title block of 180 mm with the fields of ISO 7200; what the file leaves out stays an empty box."""
    given = drawing_of(bar)
    left = right - TITLE_WIDTH
    tolerance = given.general_tolerance or ""
    rows: list[tuple[float, list[tuple[float, str, str]]]] = [
        (11.0, [(0.0, "Creator", given.drawn_by or ""), (48.0, "Approver", given.approved_by or ""),
                (96.0, "Date of issue", given.date or ""), (132.0, "Sheet", "1/1"), (152.0, "Size", paper)]),
        (11.0, [(0.0, "Number", bar.drawing or ""), (72.0, "Revision", bar.revision or ""),
                (96.0, "Document type", document), (152.0, "Projection", "")]),
        (11.0, [(0.0, "Scale", f"1:{scale}"), (24.0, "Mass", f"{printable(significant(mass_kg(bar)))} kg"),
                (54.0, "General tolerance", tolerance), (110.0, "Dimensions", "mm, deg; finished part")]),
        (21.0, [(0.0, "Legal owner", given.company or ""), (60.0, "Title", given.title or bar.name)]),
    ]  # fmt: skip
    y = bottom
    for height, cells in rows:
        for i, (start, label, value) in enumerate(cells):
            stop = cells[i + 1][0] if i + 1 < len(cells) else TITLE_WIDTH
            ink.box(left + start, y, left + stop, y + height)
            ink.write(left + start + 1.0, y + height - 3.4, label, height_mm=2.5)
            _fitted(ink, value, left + start + 1.5, y + 1.6, stop - start - 3.0, height - 5.5)
        y += height
    ink.box(left, bottom, right, y, style="outline")
    projection_symbol(ink, right - 14.0, bottom + 15.0, first=projection == "first")


def _fitted(ink: Ink, text: str, x: float, y: float, width: float, height: float) -> None:
    """A value in its box: 3.5 mm where it fits, else 2.5 mm on as many lines as there is room for."""
    if not text:
        return
    if text_width_mm(text, 3.5) <= width:
        ink.write(x, y, text, height_mm=3.5)
        return
    lines = wrapped(text, width, 2.5)
    room = max(1, int(height / LINE))
    if len(lines) > room:
        lines = [*lines[: room - 1], lines[room - 1] + " ..."]
    for i, line in enumerate(lines):
        while text_width_mm(line, 2.5) > width and len(line) > 4:
            line = line[:-4] + "..."
        ink.write(x, y + LINE * (len(lines) - 1 - i), line, height_mm=2.5)


def projection_symbol(ink: Ink, x: float, y: float, *, first: bool) -> None:
    """The truncated cone of ISO 5456-2, its middle at (x, y): in first angle the circles stand to the right of the
    cone whose small end points left, as the view from the left is set to the right."""
    cone, rings = (x - 4.0, x + 5.0) if first else (x + 5.0, x - 4.0)
    small, large = 1.25, 2.5
    ink.line((cone - 3.5, y - small), (cone + 3.5, y - large), (cone + 3.5, y + large), (cone - 3.5, y + small),
             (cone - 3.5, y - small), style="outline")  # fmt: skip
    ink.circle(rings, y, small)
    ink.circle(rings, y, large)
    ink.line((x - 9.0, y), (x + 9.5, y), style="centre")


def table_block(
    ink: Ink, left: float, top: float, heading: str, columns: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[float, float]:
    """A table with its heading; returns its right edge and its bottom."""
    widths = [max(text_width_mm(cell, 2.5) for cell in column) + 3.0 for column in zip(columns, *rows, strict=True)]
    height = 4.8
    ink.write(left, top - 3.5, heading, height_mm=2.5, bold=True)
    y = top - 5.5
    right = left + math.fsum(widths)  # `sum` rounds otherwise from Python 3.12 on
    ink.line((left, y), (right, y), style="outline")
    for i, row in enumerate([columns, *rows]):
        x = left
        for cell, width in zip(row, widths, strict=True):
            ink.write(x + width - 1.5, y - height + 1.4, cell, height_mm=2.5, align="right")
            x += width
        y -= height
        ink.line((left, y), (right, y), style="outline" if i == 0 else "thin")
    x = left
    for width in [0.0, *widths]:
        x += width
        ink.line((x, top - 5.5), (x, y))
    return max(right, left + text_width_mm(heading, 2.5, True)), y


def notes_block(ink: Ink, left: float, top: float, width: float, heading: str, notes: Sequence[str]) -> float:
    """Numbered notes, wrapped; returns their bottom."""
    ink.write(left, top - 3.5, heading, height_mm=2.5, bold=True)
    y = top - 3.5 - LINE
    for i, note in enumerate(notes, start=1):
        for j, line in enumerate(wrapped(note, width - 7.0, 2.5)):
            if j == 0:
                ink.write(left, y, f"{i}", height_mm=2.5)
            ink.write(left + 6.0, y, line, height_mm=2.5)
            y -= LINE
    return y + LINE - 1.0


def rotation_picture(ink: Ink, left: float, top: float, width: float) -> float:
    """The sense of a rotation, seen along the walking direction, and in words for both readings; returns the bottom."""
    x, y, radius = left + 14.0, top - 20.0, 11.0
    ink.write(left, top - 3.5, "Sense of rotation", height_mm=2.5, bold=True)
    ink.circle(x, y, 1.6, style="outline")
    ink.line((x - 1.1, y - 1.1), (x + 1.1, y + 1.1), style="outline")
    ink.line((x - 1.1, y + 1.1), (x + 1.1, y - 1.1), style="outline")
    ink.line((x, y + 1.6), (x, y + radius + 2.0), style="centre")
    angle = math.radians(50.0)
    ink.line((x + 1.6 * math.sin(angle), y + 1.6 * math.cos(angle)),
             (x + (radius + 2.0) * math.sin(angle), y + (radius + 2.0) * math.cos(angle)), style="outline")  # fmt: skip
    arc = [(x + radius * math.sin(a), y + radius * math.cos(a)) for a in [angle * i / 12 for i in range(13)]]
    ink.line(*arc)
    ink.arrow(arc[-1], (math.cos(angle), -math.sin(angle)), size=2.5)
    ink.write(x + 11.5, y + 1.0, "+R", height_mm=2.5)
    texts = (
        "Seen along the walking direction (start tip to other tip; it goes into the paper): from the plane of the bend "
        "before (chain line) clockwise to the plane of this bend.",
        "At the machine: the same number is the right-handed turn of the workpiece about the direction in which the "
        "material moves.",
    )
    line_y = top - 3.5 - LINE
    for text in texts:
        for line in wrapped(text, width - 36.0, 2.5):
            ink.write(left + 36.0, line_y, line, height_mm=2.5)
            line_y -= LINE
    return min(y - 4.0, line_y + LINE - 1.0)
