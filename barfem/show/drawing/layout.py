"""The sheet of a bar: views, details, tables, notes and title block laid out on paper, or a paper that is too small."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from barfem.model.bar import Bar, End
from barfem.model.errors import InputError
from barfem.show.drawing.blocks import (
    TITLE_HEIGHT,
    TITLE_WIDTH,
    frame,
    notes_block,
    rotation_picture,
    table_block,
    title_block,
)
from barfem.show.drawing.dimension_ink import dimension_ink
from barfem.show.drawing.end_detail import end_detail, section_picture
from barfem.show.drawing.ink import PAPERS, Ink, Sheet, one_decimal, size, text_width_mm
from barfem.show.drawing.view_ink import ROOM, TooSmall, dotted, draw_view, draw_views, first_clear
from barfem.vendor.maker_tables import bending_of, drawing_of
from barfem.vendor.part import Part, clocking_deg, part_of
from barfem.vendor.views import datum_of, isometric

__all__ = ["make_sheet"]

SCALES = (2, 5, 10)  # ISO 5455
SMALLER = {2: 5, 5: 10, 10: 20}  # of the isometric view
DETAILS = (1.0, 0.5)
CLEAR_MM = 2.5  # between the outlines of a bar on paper, five lines of 0.5 mm


def make_sheet(bar: Bar, notes: Sequence[str], *, paper: str | None = None, projection: str | None = None) -> Sheet:
    """Lay the sheet out.

    Parameters
    ----------
    bar
        The bar.
    notes
        Notes in their order.
    paper, projection
        Instead of those of [drawing]; paper "auto" takes the smallest that holds everything at 1:5 or larger, else the
        smallest that does at 1:10.

    Raises
    ------
    InputError
        The paper asked for is too small.
    """
    wishes = drawing_of(bar)
    wanted = paper or wishes.paper
    made = _on_one_of(bar, notes, list(PAPERS) if wanted == "auto" else [wanted], projection or wishes.projection)
    if made is not None:
        return made
    larger = list(PAPERS)[list(PAPERS).index(wanted) + 1 :] if wanted != "auto" else []
    held = _on_one_of(bar, notes, larger, projection or wishes.projection)
    raise InputError(
        f"the drawing does not fit on {'A1' if wanted == 'auto' else wanted} with letters of 2.5 mm.",
        where="--paper" if paper else "[drawing] paper",
        expected=f"{'a larger paper' if held is None else f'{held.paper}, which holds it at 1:{held.scale}'}, or "
        '"auto", which takes the smallest that holds it.',
    )


def _on_one_of(bar: Bar, notes: Sequence[str], papers: Sequence[str], projection: str) -> Sheet | None:
    """On the first of some papers that holds everything at 1:5 or larger, else at 1:10; None where none does.

    A bar so thin that its two outlines would run together at 1:5 goes on the next paper that holds it larger, to A2.
    """
    tries = [(name, scale) for name in papers for scale in SCALES if scale < 10]
    clear = [(name, scale) for name, scale in tries if bar.section.diameter_mm >= CLEAR_MM * scale and name != "A1"]
    for name, scale in [*clear, *tries, *((name, 10) for name in papers)]:
        for detail in DETAILS:
            try:
                return _lay_out(bar, notes, name, scale, detail, projection)
            except TooSmall:
                continue
    return None


def _lay_out(bar: Bar, notes: Sequence[str], paper: str, scale: int, detail: float, projection: str) -> Sheet:
    width, height = PAPERS[paper]
    left, bottom, right, top = 20.0, 10.0, width - 10.0, height - 10.0
    column = right - TITLE_WIDTH + 4.0
    start, room = left + 6.0, column - 8.0 - (left + 6.0)
    if room < 100.0:
        raise TooSmall
    ink = Ink()
    frame(ink, width, height)
    part = part_of(bar, end_allowance_mm=bending_of(bar).end_allowance)
    title_block(ink, bar, right=right, bottom=bottom, scale=scale, paper=paper, document="Part drawing",
                projection=projection)  # fmt: skip
    low, high = bottom + TITLE_HEIGHT + 4.0, _right_column(ink, part, notes, column, top - 5.0) - 6.0
    if high < low - 5.0:
        raise TooSmall
    beside = _isometric(ink, bar, SMALLER[scale], column, low, right - 4.0, high)
    # Tables of the left side stand at its foot; above them the end's detail, above that the views.
    foot = _foot(ink, bar, part, start, bottom + 5.0, room)
    foot = _details(ink, bar, start, foot + ROOM, room, detail, 0 if beside else SMALLER[scale])
    draw_views(ink, bar, projection=projection, scale=scale, left=start, bottom=foot + 6.0, room=room, top=top - 5.0)
    title = f"{bar.drawing or ''} {drawing_of(bar).title or bar.name}".strip()
    return Sheet(paper, width, height, scale, title, ink, dimension_ink(ink.dimensions))


def _right_column(ink: Ink, part: Part, notes: Sequence[str], left: float, top: float) -> float:
    y = notes_block(ink, left, top, TITLE_WIDTH - 8.0, "Notes", notes)
    rows = [
        [
            hole.name,
            hole.end,
            size(hole.from_tip_mm),
            "-" if hole.diameter_mm is None else size(hole.diameter_mm),
            "-" if hole.clocking_deg is None else one_decimal(hole.clocking_deg),
        ]
        for hole in part.holes
    ]
    columns = ["hole", "end", "from cut end", "diameter", "clocking deg"]
    _, y = table_block(ink, left, y - 5.0, "Holes (mm), centres along the bar from its own cut end", columns, rows)
    return rotation_picture(ink, left, y - 6.0, TITLE_WIDTH - 8.0)


def _foot(ink: Ink, bar: Bar, part: Part, left: float, bottom: float, room: float) -> float:
    """Bend rows, and tangent points in datum; returns their top."""
    rows = [
        [str(i), one_decimal(row.length_mm)]
        + (["", "", ""] if row.angle_deg is None else
           [_rotation(row.rotation_deg), one_decimal(row.angle_deg), one_decimal(row.radius_mm or 0.0)])
        for i, row in enumerate(part.rows, start=1)
    ]  # fmt: skip
    datum = datum_of(bar)
    named = [("tip right", part.points[0])]
    for point in part.points[1:-1]:
        if point.kind.startswith("tangent"):
            named.append((f"bend {point.bend} {'start' if point.kind == 'tangent_in' else 'end'}", point))
    named.append(("tip left", part.points[-1]))
    there = datum.points(np.array([point.xyz_mm for _, point in named]))
    points = [[name, *(one_decimal(value) for value in xyz)] for (name, _), xyz in zip(named, there, strict=True)]
    top = bottom + 5.5 + 4.8 * (1 + max(len(rows) + 3, len(points)))
    head = f"Bend table, start: {part.start_tip} tip"
    edge, low = table_block(ink, left, top, head, ["row", "length", "rotation", "angle", "radius"], rows)
    more = f"{size(part.end_allowance_mm)} more at each end" if part.end_allowance_mm else "nothing more at the ends"
    lines = ["lengths between tangent points, mm; deg",
             f"developed {one_decimal(part.developed_length_mm)} on the centreline",
             f"cut {one_decimal(part.cut_length_mm)}: {more}"]  # fmt: skip
    for i, text in enumerate(lines):
        ink.write(left, low - 4.2 - 4.2 * i, text)
    start = max(edge, left + max(text_width_mm(text, 2.5) for text in lines)) + 6.0
    head = "Tangent points in datum A-B-C (mm)"
    edge, _ = table_block(ink, start, top, head, ["point", *(f"{way} +" for way in datum.ways)], points)
    if edge > left + room:
        raise TooSmall
    return top


def _rotation(value_deg: float) -> str:
    """Half a turn is 180.0, whichever side of it rounding leaves it."""
    text = one_decimal(value_deg)
    return "180.0" if text == "-180.0" else text


def _details(ink: Ink, bar: Bar, left: float, bottom: float, room: float, detail: float, isometric_scale: int) -> float:
    """Section A-A, the end or both ends, and the isometric view if it has to stand here; returns their top."""
    x, top = section_picture(ink, bar, left, bottom)
    ends: list[tuple[End, str]] = [(bar.right, "both ends")]
    if not _ends_alike(bar):
        ends = [(bar.right, "right end"), (bar.left, "left end")]
    for end, words in ends:
        x, high = end_detail(ink, bar, end, words, x + 0.6 * ROOM, bottom, detail)
        top = max(top, high)
    if x > left + room:
        raise TooSmall
    if isometric_scale and not _isometric(ink, bar, isometric_scale, x, bottom, left + room, top):
        low, high = top + 4.0, top + 4.0 + _isometric_size(bar, isometric_scale)[1]
        if not _isometric(ink, bar, isometric_scale, left, low, left + room, high):
            raise TooSmall
        top = high
    return top


def _isometric_size(bar: Bar, scale: int) -> tuple[float, float]:
    left, bottom, right, top = isometric(bar).box
    return (right - left) / scale + 28.0, (top - bottom) / scale + 22.0


def _isometric(ink: Ink, bar: Bar, scale: int, left: float, bottom: float, right: float, top: float) -> bool:
    """Draw the isometric view in the middle of a box; False, and nothing drawn, where it has no room."""
    wide, high = _isometric_size(bar, scale)
    if wide > right - left or high > top - bottom:
        return False
    view, k = isometric(bar), 1.0 / scale
    x, y = 0.5 * (left + right - wide), bottom + min(0.5 * (top - bottom - high), 20.0)
    place = np.array([x + 14.0, y + 9.0]) - k * np.array(view.box[:2])
    words = {"R": "right tip, start", "L": "left tip"}
    with ink.within("isometric", k):
        draw_view(ink, view, place, k)
        lines = np.concatenate([dotted(place + k * line) for line in (*view.outline, *view.phantom)])
        for (text, point), before in zip(view.marks, (view.centre[0][1], view.centre[0][-2]), strict=True):
            at, way = place + k * np.array(point), np.array(point) - before
            reach = 2.0 + 0.5 * bar.section.diameter_mm * k + (4.0 if way[1] < 0.0 else 1.0)
            drop = -reach if way[1] < 0.0 else reach
            half = 0.5 * text_width_mm(words[text], 2.5)
            beside = half + reach
            steps = ((0.0, drop), (0.0, -drop), (0.0, 1.6 * drop), (beside, -1.0), (-beside, -1.0), (0.0, 2.4 * drop))
            places = [(float(at[0]) + across, float(at[1]) + rise) for across, rise in steps
                      if left < float(at[0]) + across - half and float(at[0]) + across + half < right]  # fmt: skip
            boxes = [(x - half, x + half, y - 0.7, y + 2.7) for x, y in places]
            ink.write(*places[first_clear(boxes, [], lines)], words[text], align="center")
        ink.write(x + 14.0, y + high - 3.5, f"Isometric 1:{scale}", bold=True)
    return True


def _ends_alike(bar: Bar) -> bool:
    right, left = bar.right, bar.left
    if [(h.name, h.from_tip_mm, h.diameter_mm) for h in right.holes] != [
        (h.name, h.from_tip_mm, h.diameter_mm) for h in left.holes
    ]:
        return False
    angles = [clocking_deg(bar, end)[0] for end in bar.ends]
    if None not in angles and one_decimal(angles[0] or 0.0) != one_decimal(angles[1] or 0.0):
        return False
    keys = ("kind", "thickness_mm", "width_mm", "length_mm", "transition_mm", "outline", "fillet_mm")
    sizes = [None if e.flat is None else [getattr(e.flat, key) for key in keys] for e in bar.ends]
    return sizes[0] == sizes[1]
