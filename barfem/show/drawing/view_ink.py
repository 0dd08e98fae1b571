"""Front, plan and side on paper: placed in the projection asked for, with dimensions, datums and section mark."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.show.drawing.ink import Group, Ink, PaperDimension, one_decimal, text_width_mm
from barfem.vendor.maker_tables import drawing_of
from barfem.vendor.views import Dimension, View, tips_up, views_of

__all__ = ["ROOM", "TooSmall", "dotted", "draw_view", "draw_views", "first_clear"]

Array = NDArray[np.float64]
LEVEL = 8.0  # between dimension lines
ROOM = 10.0  # between blocks
BESIDE = 18.0  # of the side view: the number of a dimension too short for it
DATUM_ROOM = 34.0  # beside the middle of the bar: datum letters and the tolerance frame


class TooSmall(Exception):
    """This paper and scale have no room."""


def draw_view(ink: Ink, view: View, place: Array, k: float) -> None:
    """A view at scale k, its origin at `place`, without dimensions."""
    for lines, style in ((view.phantom, "phantom"), (view.outline, "outline"), (view.centre, "centre")):
        for line in lines:
            ink.curve(place + k * line, style)  # type: ignore[arg-type]


def draw_views(
    ink: Ink, bar: Bar, *, projection: str, scale: int, left: float, bottom: float, room: float, top: float
) -> None:
    """Front, plan and side between bottom and top.

    Raises
    ------
    TooSmall
        They do not fit.
    """
    plan, front, side = views_of(bar, projection=projection)
    k = 1.0 / scale
    boxes = {view.name: tuple(k * value for value in view.box) for view in (plan, front, side)}
    up = tips_up(bar)
    boxes["plan"] = _with_datum_room(plan, boxes["plan"], k, up)
    margins = {view.name: _margins(view) for view in (plan, front, side)}
    wide = max(boxes["plan"][2], boxes["front"][2]) - min(boxes["plan"][0], boxes["front"][0])
    pad_left = max(margins["plan"]["left"], margins["front"]["left"]) + 2.0
    pad_right = max(margins["plan"]["right"], margins["front"]["right"])
    side_wide = max(boxes["side"][2] - boxes["side"][0], text_width_mm(f"Side 1:{scale}", 2.5, True)) + BESIDE
    if pad_left + wide + pad_right + ROOM + side_wide > room:
        raise TooSmall
    heights = {name: boxes[name][3] - boxes[name][1] for name in ("plan", "front")}
    heights["front"] = max(heights["front"], boxes["side"][3] - boxes["side"][1])
    rows = {
        "plan": margins["plan"],
        "front": {way: max(most, margins["side"][way]) for way, most in margins["front"].items()},
    }
    needed = sum(heights.values()) + sum(m["above"] + m["below"] + 6.0 for m in rows.values())
    if bottom + needed + ROOM > top:
        raise TooSmall
    x0 = left + pad_left - min(boxes["plan"][0], boxes["front"][0])
    order = ("front", "plan") if projection == "first" else ("plan", "front")
    spare = (top - bottom - needed - ROOM) / 3.0
    y = top - 0.5 * spare
    placed = {}
    for name in order:
        y -= 6.0 + rows[name]["above"]
        placed[name] = np.array([x0, y - boxes[name][3]])
        y -= heights[name] + rows[name]["below"] + ROOM + spare
    spread = min(30.0, room - (pad_left + wide + pad_right + ROOM + side_wide))
    side_x = x0 + max(boxes["plan"][2], boxes["front"][2]) + pad_right + ROOM + 0.5 * spread - boxes["side"][0]
    placed["side"] = np.array([side_x, placed["front"][1]])
    with ink.within("views", k) as group:
        for view, title in ((front, "Front"), (plan, "Plan (from above)"), (side, "Side")):
            place = placed[view.name]
            draw_view(ink, view, place, k)
            box, margin = boxes[view.name], margins[view.name]
            for dimension in view.dimensions:
                ink.dimensions.append(_on_paper(dimension, place, k, box, group))
            head = float(place[1] + box[3] + margin["above"] + 3.0)
            ink.write(float(place[0] + box[0]), head, f"{title} 1:{scale}", bold=True)
        _plan_words(ink, bar, plan, placed["plan"], k, 1.0 if up else -1.0)


def _with_datum_room(plan: View, box: tuple[float, ...], k: float, up: bool) -> tuple[float, ...]:
    """The plan's box with room for datum letters on the side of the tips, where the arms are short."""
    low, high = box[1], box[3]
    middles = [k * float(shape[:4, 1].mean()) for shape in plan.phantom]
    if up:
        high = max(high, max(middles) + DATUM_ROOM)
    else:
        low = min(low, min(middles) - DATUM_ROOM)
    return box[0], low, box[2], high


def _margins(view: View) -> dict[str, float]:
    """Room for dimension lines on each side of a view."""
    out = dict.fromkeys(("above", "below", "left", "right"), 0.0)
    for dimension in view.dimensions:
        out[dimension.side] = max(out[dimension.side], LEVEL * dimension.level + 5.0)
    return out


def _on_paper(d: Dimension, place: Array, k: float, box: tuple[float, ...], group: Group) -> PaperDimension:
    one, other = place + k * np.array(d.one), place + k * np.array(d.other)
    edge = dict(zip(("left", "below", "right", "above"), np.tile(place, 2) + box, strict=True))
    sign = 1.0 if d.side in ("right", "above") else -1.0
    line = float(edge[d.side] + sign * LEVEL * d.level)
    ends = (float(one[0]), float(one[1])), (float(other[0]), float(other[1]))
    return PaperDimension(d.key, *ends, line, d.way == "vertical", d.value_mm, group)


def _plan_words(ink: Ink, bar: Bar, view: View, place: Array, k: float, up: float) -> None:
    """Start tip, datums (ISO 5459), tolerance of form (ISO 1101) and the cut of section A-A. `up`: to the tips."""
    holes = view.dimensions[1]  # between outermost holes
    half = 0.5 * bar.section.diameter_mm * k
    middles = sorted(((place + k * shape[:4].mean(axis=0)) for shape in view.phantom), key=lambda p: float(p[0]))
    middle = 0.5 * (middles[0] + middles[-1])
    taken: list[_Box] = []
    tolerance = drawing_of(bar).profile_tolerance
    framed = 0.5 * float(middles[0][0] + middle[0])
    if tolerance is not None:
        high = float(middle[1]) + up * 24.0
        taken.append((framed - 18.0, framed + 18.0, high - 3.0, high + 3.0))
    lines = np.concatenate([dotted(place + k * line) for line in (*view.outline, *view.phantom)])
    for letter, at in (("A", middles[0]), ("A", middles[-1]), ("B", middle)):
        x, y = float(at[0]), float(at[1])
        levels = [y + up * off for off in (13.0, 20.0, 8.0)]
        level = levels[first_clear([_square(x, each) for each in levels], taken, lines)]
        taken.append(_datum(ink, letter, x, level, (x, y)))
    for text, point in view.marks:
        x, y = (float(v) for v in place + k * np.array(point))
        sign = 1.0 if text == "R" else -1.0
        name = "start tip: right" if text == "R" else "left tip"
        # Beside the tip; where the arms are short in the plan the bar or a datum lies there, and the name stands
        # clear of them: beyond the tip, before the first line of dimensions, or on the other side of the bar.
        beyond = y + up * (half + 1.0) - (2.5 if up < 0.0 else 0.0)
        wide = sign * text_width_mm(name, 2.5)
        baselines = [y - 1.0, beyond, y - up * (half + 15.0), y - up * 6.0, beyond + up * 3.5]
        near, far = sorted((x + sign * 7.0, x + sign * 7.0 + wide))
        boxes = [(near, far, low - 0.7, low + 2.7) for low in baselines]
        chosen = first_clear(boxes, taken, lines)
        ink.write(x + sign * 7.0, baselines[chosen], name, align="left" if text == "R" else "right")
        taken.append(boxes[chosen])
        hole = place + k * np.array(holes.one if text == "R" else holes.other)
        places = [(x + sign * dx, y - up * dy) for dx in (10.0, 18.0) for dy in (9.0, 6.0, 13.0, 18.0, -6.0)]
        x, y = places[first_clear([_square(*each) for each in places], taken, lines)]
        taken.append(_datum(ink, "C", x, y, (float(hole[0]), float(hole[1]))))
    x, y = float(middle[0]), float(middle[1])
    # Clear of the datum letter and the mount beside it, where mounts are near each other.
    cut, base = x + min(16.0, 0.45 * (float(middles[-1][0]) - x)), y
    stations = sorted(mount.station_mm for mount in bar.mounts)
    # Between the mounts alone: an arm that leans inwards lies over the middle in the plan.
    points, _ = bar.centreline.evaluate(np.linspace(stations[0], stations[-1], 401))
    path = np.stack([points[:, 1], -points[:, 0]], axis=1)
    path = path[np.argsort(path[:, 0], kind="stable")]

    def on_bar(at: float) -> float:
        """Height of the bar itself there: a crank lies beside the line of the mounts."""
        return float(place[1] + k * np.interp((at - place[0]) / k, path[:, 0], path[:, 1]))

    y = on_bar(cut)
    for sign in (1.0, -1.0):
        ink.line((cut, y + sign * (half + 2.5)), (cut, y + sign * (half + 6.0)), style="outline")
        ink.line((cut, y + sign * (half + 6.0)), (cut + 6.0, y + sign * (half + 6.0)))
        ink.arrow((cut + 6.0, y + sign * (half + 6.0)), (1.0, 0.0), size=2.5)
        # Between arrow and bar: beyond the arrow a dimension line may run.
        ink.write(cut + 0.8, y + sign * (half + 6.0) + (-3.2 if sign > 0.0 else 0.7), "A", height_mm=2.5)
    if tolerance is not None:
        foot = framed, on_bar(framed) + up * half
        _tolerance_frame(ink, one_decimal(tolerance), framed, base + up * 24.0, foot)


_Box = tuple[float, float, float, float]  # left, right, bottom, top


def _square(x: float, y: float) -> _Box:
    """A datum letter's box."""
    return x - 2.2, x + 2.2, y - 2.2, y + 2.2


def dotted(line: Array) -> Array:
    """Points along a polyline, close enough that no word slips between them."""
    share = np.linspace(0.0, 1.0, 40)[:, None, None]
    return np.asarray((line[:-1] + share * (line[1:] - line[:-1])).reshape(-1, 2))


def first_clear(boxes: list[_Box], taken: list[_Box], lines: Array) -> int:
    """Number of the first box that meets no taken one and no line, 0.5 mm kept; the first where none does."""
    for i, (left, right, low, high) in enumerate(boxes):
        apart = all(right + 0.5 < a or b < left - 0.5 or high + 0.5 < c or d < low - 0.5 for a, b, c, d in taken)
        x, y = lines.T
        if apart and not ((x > left - 0.5) & (x < right + 0.5) & (y > low - 0.5) & (y < high + 0.5)).any():
            return i
    return 0


def _datum(ink: Ink, letter: str, x: float, y: float, foot: tuple[float, float]) -> _Box:
    """A datum letter in its box, with a leader to a filled triangle on what it names; returns the box."""
    ink.box(x - 2.2, y - 2.2, x + 2.2, y + 2.2)
    ink.write(x, y - 1.25, letter, align="center")
    way = np.array(foot) - np.array([x, y])
    length = float(np.linalg.norm(way))
    u = way / max(length, 1e-9)
    edge = 2.2 / max(abs(float(u[0])), abs(float(u[1])), 1e-9)
    if length > edge + 0.5:
        ink.line((x + edge * float(u[0]), y + edge * float(u[1])), foot)
        ink.arrow((foot[0] - 2.0 * float(u[0]), foot[1] - 2.0 * float(u[1])), (-float(u[0]), -float(u[1])), size=2.0)
    return _square(x, y)


def _tolerance_frame(ink: Ink, value: str, x: float, y: float, foot: tuple[float, float]) -> None:
    """Profile of a surface, its zone, datums A, B and C; its middle at (x, y), with a leader to the bar."""
    words = ["", value, "A", "B", "C"]
    widths = [7.0, text_width_mm(value, 2.5) + 3.0, 5.0, 5.0, 5.0]
    at = x - 0.5 * math.fsum(widths)
    for word, width in zip(words, widths, strict=True):
        ink.box(at, y - 2.5, at + width, y + 2.5)
        if word:
            ink.write(at + 0.5 * width, y - 1.25, word, align="center")
        else:
            turn = np.linspace(0.0, np.pi, 25)
            arc = np.stack([at + 0.5 * width + 2.2 * np.cos(turn), y - 1.1 + 2.2 * np.sin(turn)], axis=1)
            ink.curve(np.concatenate([arc, arc[:1]]), "thin")
        at += width
    sign = 1.0 if y > foot[1] else -1.0
    ink.line((x, y - sign * 2.5), foot)
    ink.arrow(foot, (0.0, -sign), size=2.5)
