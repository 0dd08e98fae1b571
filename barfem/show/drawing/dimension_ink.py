"""Dimensions put on paper as lines, arrows and text (ISO 129-1)."""

from __future__ import annotations

import numpy as np

from barfem.show.drawing.ink import Ink, PaperDimension, text_width_mm

__all__ = ["dimension_ink"]

HEIGHT = 3.5
ARROW = 2.5


def dimension_ink(dimensions: list[PaperDimension]) -> Ink:
    """The ink of dimensions; where there is no room between the arrows, arrows and text stand outside."""
    ink = Ink()
    for each in dimensions:
        ink.group = each.group
        _draw(ink, each)
    return ink


def _draw(ink: Ink, d: PaperDimension) -> None:
    def turned(a: float, b: float) -> tuple[float, float]:
        return (b, a) if d.vertical else (a, b)

    one, other = turned(*d.one_mm), turned(*d.other_mm)
    low, high = sorted((one, other))
    for point in (low, high):
        away = float(np.sign(d.line_mm - point[1])) or 1.0
        ink.line(turned(point[0], point[1] + away), turned(point[0], d.line_mm + 1.5 * away))
    width = text_width_mm(d.text, HEIGHT)
    inside = high[0] - low[0] > max(3.0 * ARROW, width + 1.5)
    before, after = (0.0, 0.0) if inside else (2.5 * ARROW, 2.5 * ARROW + width)
    ink.line(turned(low[0] - before, d.line_mm), turned(high[0] + after, d.line_mm))
    for place, way in ((low[0], -1.0), (high[0], 1.0)):
        ink.arrow(turned(place, d.line_mm), turned(way if inside else -way, 0.0), size=ARROW)
    middle = 0.5 * (low[0] + high[0]) if inside else high[0] + after - 0.5 * width
    lift = -1.0 if d.vertical else 1.0
    x, y = turned(middle, d.line_mm + lift)
    ink.write(x, y, d.text, height_mm=HEIGHT, align="center", upright=d.vertical)
