"""Dimensions put on paper as lines, arrows and text (ISO 129-1)."""

from __future__ import annotations

import numpy as np

from barfem.show.drawing.ink import Ink, PaperDimension, text_width_mm

__all__ = ["dimension_ink", "dimension_text"]

HEIGHT = 3.5
LEAST_HEIGHT = 2.5  # where the text would not fit otherwise
ARROW = 2.5
LIFT = 1.0  # of the letters over their line


def dimension_ink(dimensions: list[PaperDimension]) -> Ink:
    """The ink of dimensions; where there is no room between the arrows, arrows and text stand outside."""
    ink = Ink()
    for each in dimensions:
        ink.group = each.group
        _draw(ink, each, dimensions)
    return ink


def dimension_text(d: PaperDimension, dimensions: list[PaperDimension]) -> tuple[tuple[float, float], float]:
    """Middle of a dimension's text on paper, and the height of its letters, among all dimensions of the sheet."""
    _, height, (_, _, middle) = _laid(d, dimensions)
    line = d.line_mm + (-1.0 if d.vertical else 1.0) * (LIFT + 0.5 * height)
    return ((line, middle) if d.vertical else (middle, line)), height


def _laid(d: PaperDimension, dimensions: list[PaperDimension]) -> tuple[bool, float, tuple[float, float, float]]:
    """Whether arrows and text stand inside, the text's height, how far the line goes beyond both ends, and where along
    it the text is."""
    low, high = sorted(point[int(d.vertical)] for point in (d.one_mm, d.other_mm))
    room = high - low
    fits = [h for h in (HEIGHT, LEAST_HEIGHT) if room > max(3.0 * ARROW, text_width_mm(d.text, h) + 1.5)]
    inside, height = bool(fits), fits[0] if fits else HEIGHT
    reach = 2.5 * ARROW + text_width_mm(d.text, height)
    arrows = 0.0 if inside else 2.5 * ARROW
    before, after, middle = arrows, arrows, 0.5 * (low + high)
    if not inside:
        # After the dimension, or before it where an extension line on its way to another would run through the text.
        if _crossed(d, high + arrows, high + reach, dimensions):
            before, middle = reach, low - 0.5 * (arrows + reach)
        else:
            after, middle = reach, high + 0.5 * (arrows + reach)
    return inside, height, (before, after, middle)


def _draw(ink: Ink, d: PaperDimension, dimensions: list[PaperDimension]) -> None:
    def turned(a: float, b: float) -> tuple[float, float]:
        return (b, a) if d.vertical else (a, b)

    inside, height, (before, after, middle) = _laid(d, dimensions)
    low, high = sorted((turned(*d.one_mm), turned(*d.other_mm)))
    for point in (low, high):
        away = float(np.sign(d.line_mm - point[1])) or 1.0
        ink.line(turned(point[0], point[1] + away), turned(point[0], d.line_mm + 1.5 * away))
    ink.line(turned(low[0] - before, d.line_mm), turned(high[0] + after, d.line_mm))
    for place, way in ((low[0], -1.0), (high[0], 1.0)):
        ink.arrow(turned(place, d.line_mm), turned(way if inside else -way, 0.0), size=ARROW)
    lift = -LIFT if d.vertical else LIFT
    x, y = turned(middle, d.line_mm + lift)
    ink.write(x, y, d.text, height_mm=height, align="center", upright=d.vertical)


def _crossed(d: PaperDimension, low: float, high: float, dimensions: list[PaperDimension]) -> bool:
    """Whether an extension line of another dimension passes the line of this one between `low` and `high` along it."""
    along, across = (1, 0) if d.vertical else (0, 1)
    for each in dimensions:
        if each is d or each.group != d.group or each.vertical != d.vertical:
            continue
        for point in (each.one_mm, each.other_mm):
            ends = sorted((point[across], each.line_mm))
            if low - 0.5 < point[along] < high + 0.5 and ends[0] - HEIGHT < d.line_mm < ends[1] + HEIGHT:
                return True
    return False
