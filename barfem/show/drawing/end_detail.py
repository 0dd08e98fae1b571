"""Details at full size: the end of the bar with its flat and holes, its clocking, and the section of the body."""

from __future__ import annotations

import itertools
import math

import numpy as np

from barfem.model.bar import Bar, End, Flat
from barfem.model.bar_geometry import outline_share
from barfem.show.drawing.ink import Ink, PaperDimension, one_decimal, size, text_width_mm
from barfem.vendor.maker_tables import axis_noted
from barfem.vendor.part import clocking_deg, datum_bend_of

__all__ = ["end_detail", "section_picture"]

LEVEL = 7.0


def section_picture(ink: Ink, bar: Bar, left: float, bottom: float) -> tuple[float, float]:
    """Section A-A of the body, 1:1; returns its right edge and its top."""
    with ink.within("section", 1.0):
        section = bar.section
        radius = 0.5 * section.diameter_mm
        x, y = left + max(radius, 14.0), bottom + 12.0 + radius
        ink.circle(x, y, radius)
        for i in range(-20, 21):  # hatched at 45 deg, 3 mm apart
            c = 3.0 * i
            half = radius**2 - 0.5 * c**2
            if half <= 0.0:
                continue
            reach = math.sqrt(half)
            inner = 0.25 * section.bore_mm**2 - 0.5 * c**2
            spans = [(-reach, reach)] if inner <= 0.0 else [(-reach, -math.sqrt(inner)), (math.sqrt(inner), reach)]
            for low, high in spans:
                ink.line(*(_on_hatch(x, y, c, t) for t in (low, high)))
        if section.bore_mm:
            ink.circle(x, y, 0.5 * section.bore_mm)
        ink.line((x - radius - 3.0, y), (x + radius + 3.0, y), style="centre")
        ink.line((x, y - radius - 3.0), (x, y + radius + 3.0), style="centre")
        word = f"\u2300 {size(section.diameter_mm)}"
        if section.wall_mm is not None:
            word += f" x {size(section.wall_mm)}"
        ink.write(x, y - radius - 8.0, word, height_mm=2.5, align="center")
        top = y + radius + 6.0
        ink.write(x, top, "A-A 1:1", height_mm=2.5, align="center", bold=True)
        return x + max(radius + 3.0, 0.5 * text_width_mm(word, 2.5)), top + 4.0


def _on_hatch(x: float, y: float, c: float, t: float) -> tuple[float, float]:
    s = math.sqrt(0.5)
    return x + s * t - 0.5 * c, y + s * t + 0.5 * c


def end_detail(ink: Ink, bar: Bar, end: End, words: str, left: float, bottom: float, k: float) -> tuple[float, float]:
    """The end seen along its hole axis, cut end at the left, at scale k; returns its right edge and its top."""
    flat, diameter = end.flat, bar.section.diameter_mm
    farthest = max(hole.from_tip_mm for hole in end.holes)
    length = (flat.length_mm if flat is not None else farthest + diameter) + 15.0
    r = 0.5 * diameter
    half = 0.5 * flat.width_mm if flat is not None else r
    most = max(half, r)
    places = [(f"hole at {place:g}", place) for place in sorted({hole.from_tip_mm for hole in end.holes})]
    upper = [(0.0, r), (length, r)]
    if flat is not None:
        full = flat.length_mm - flat.transition_mm
        places += [("full thickness", full)] if flat.transition_mm else []
        places += [("flat", flat.length_mm)]
        places.sort(key=lambda each: each[1])  # the shortest within: a hole may lie past the full thickness
        on = np.linspace(0.0, 1.0, 33) if flat.outline is not None else np.array([0.0, 1.0])
        side = half + (r - half) * outline_share(flat, on, diameter_mm=diameter)
        upper = [(0.0, half), *zip((full + flat.transition_mm * on).tolist(), side.tolist(), strict=True), (length, r)]
    nearest = size(min(place for _, place in places))
    narrow = k * float(nearest) < text_width_mm(nearest, 2.5) + 1.5  # its number stands before the cut end
    x, y = left + (16.0 if narrow else 10.0), bottom + LEVEL * len(places) + 2.0 + k * most
    with ink.within(f"detail, {words}", k) as group:
        for sign in (1.0, -1.0):
            ink.line(*((x + k * a, y + sign * k * b) for a, b in upper), style="outline")
            if bar.section.bore_mm and flat is None:
                bore = y + sign * 0.5 * k * bar.section.bore_mm
                ink.line((x, bore), (x + k * length, bore), style="hidden")
        ink.line((x, y - k * half), (x, y + k * half), style="outline")
        ink.line((x + k * length, y - k * r), (x + k * length + 1.5, y), (x + k * length, y + k * r))
        ink.line((x - 3.0, y), (x + k * length + 4.0, y), style="centre")
        _holes(ink, end, x, y, k, half)
        for level, (key, place) in enumerate(places, start=1):
            start, stop = (x, y - k * half), (x + k * place, y - k * half)
            line = y - k * most - LEVEL * level
            ink.dimensions.append(PaperDimension(f"{words}, {key}", start, stop, line, False, place, group, given=True))
        if flat is not None:
            ends = (x, y - k * half), (x, y + k * half)
            width = PaperDimension(f"{words}, width", *ends, x - 5.0, True, flat.width_mm, group, given=True)
            ink.dimensions.append(width)
        angle, kind = clocking_deg(bar, end)
        lines = [f"End detail, {words}, {'1:1' if k == 1.0 else '1:2'}"]
        if flat is not None:
            lines.append(f"{flat.kind} flat, thickness {size(flat.thickness_mm)}")
            lines += _outline_words(flat)
        sizes = sorted({hole.diameter_mm for hole in end.holes if hole.diameter_mm is not None})
        if sizes:
            lines.append("holes \u2300 " + ", ".join(size(each) for each in sizes))
        if flat is None:
            lines.append(f"round end: the holes' axis {'see notes' if axis_noted(bar) else 'is not given'}")
        if angle is not None:
            lines.append(f"hole axis {one_decimal(angle)} deg, see picture")
        top = y + k * most + 8.0
        for i, text in enumerate(reversed(lines)):
            ink.write(left + 10.0, top + 4.2 * i, text, bold=i == len(lines) - 1)
        top += 4.2 * len(lines) + 2.0
        right = x + max(k * length + 6.0, *(text_width_mm(text, 2.5, True) for text in lines))
        if angle is None:
            return right, top
        names = {"bend": "inside of bend", "named bend": f"plane of bend {datum_bend_of(bar)}"}
        return _clocking(ink, right + 6.0, y, angle, names.get(kind, "other end's hole")), top


def _outline_words(flat: Flat) -> list[str]:
    """The form of the transition, where the bar file gives it."""
    if flat.outline is None and flat.fillet_mm is None:
        return []
    if flat.outline == "cosine":
        return ["transition: half cosine, no corner"]
    return ["transition: straight sides" + ("" if flat.fillet_mm is None else f", fillets R {size(flat.fillet_mm)}")]


def _holes(ink: Ink, end: End, x: float, y: float, k: float, half: float) -> None:
    """Holes with their centre lines, and their names where there is room for them."""
    ordered = sorted(end.holes, key=lambda hole: hole.from_tip_mm)
    gaps = [k * (b.from_tip_mm - a.from_tip_mm) for a, b in itertools.pairwise(ordered)]
    widths = [text_width_mm(hole.name, 2.5) for hole in ordered]
    named = all(gap > 0.5 * (a + b) + 1.5 for gap, (a, b) in zip(gaps, itertools.pairwise(widths), strict=True))
    for hole in ordered:
        at = x + k * hole.from_tip_mm
        if hole.diameter_mm is not None:
            ink.circle(at, y, 0.5 * k * hole.diameter_mm)
        ink.line((at, y - k * half - 2.0), (at, y + k * half + 2.0), style="centre")
        if named:
            ink.write(at, y + k * half + 3.0, hole.name, align="center")


def _clocking(ink: Ink, left: float, y: float, angle_deg: float, reference: str) -> float:
    """Seen from the tip towards the bend: the reference (chain line, up) and the hole axis; the right edge."""
    radius = 8.0
    width = max(text_width_mm(reference, 2.5), text_width_mm("seen from the tip", 2.5))
    x = left + 0.5 * width
    ink.circle(x, y, radius)
    ink.line((x, y - radius - 3.0), (x, y + radius + 4.0), style="centre")
    turn = math.radians(angle_deg)
    # Right-handed about the viewing direction is clockwise as seen.
    way = (1.25 * radius * math.sin(turn), 1.25 * radius * math.cos(turn))
    ink.line((x - way[0], y - way[1]), (x + way[0], y + way[1]), style="outline")
    ink.write(x, y - radius - 7.5, "seen from the tip", align="center")
    ink.write(x, y + radius + 5.5, reference, align="center")
    return left + width
