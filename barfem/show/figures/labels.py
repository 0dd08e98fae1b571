"""Names beside points, however many and however close: in one column, apart, with a thin line to each point."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.show.figures import style

__all__ = ["Named", "name_points", "room_for_names"]

Array = NDArray[np.float64]
Level = Callable[[float], float]

_MOST_NAMES = 2  # of points that lie on each other; the rest is counted
_LINE = 1.3  # height of a line of text over the size of its type
_LETTER = 0.6  # width of a letter over the size of its type, generous
_AWAY_PT = 11.0  # from a point to its name


@frozen
class Named:
    """A point of a chart in its own coordinates, and what it is called: `noun` "hole", `name` "2/3"."""

    x: float
    y: float
    noun: str
    name: str
    color: str = style.INK
    bold: bool = False


@frozen
class _Group:
    """Points that lie on each other, in points of type (1/72 in) from the lower left corner of the axes."""

    members: tuple[Named, ...]
    left: float
    right: float
    y: float

    @property
    def text(self) -> str:
        nouns = dict.fromkeys(member.noun for member in self.members)
        noun = next(iter(nouns)) + ("s" if next(iter(nouns)) and len(self.members) > 1 and len(nouns) == 1 else "")
        names = [member.name for member in self.members]
        more = len(names) - _MOST_NAMES
        return f"{noun} ".lstrip() + ", ".join(names[:_MOST_NAMES]) + (f" +{more}" if more > 0 else "")

    def holds(self, point: Named, x: float, y: float, near: float) -> bool:
        alike = point.color == self.members[0].color
        return alike and self.y - y <= near and self.left - near <= x <= self.right + near

    @property
    def lead(self) -> Named:
        return next((member for member in self.members if member.bold), self.members[0])


def room_for_names(canvas: style.Canvas, count: int, *, height_pt: float) -> float:
    """Share of the height of axes that `count` names in a column take, at most 0.45."""
    return min(0.45, (count + 1) * _LINE * canvas.points / height_pt)


def name_points(
    canvas: style.Canvas,
    axes: Axes,
    points: Sequence[Named],
    *,
    above: Level | None = None,
    below: Level | None = None,
) -> None:
    """Name `points` beside them; call last, when axes, limits and legend stand.

    `above` and `below` give, for an x of the chart, the y above (below) which there is room for names: to the right
    of the points above a falling line, or to their left below it.
    """
    if not points:
        return
    canvas.figure.draw_without_rendering()
    frame = _Frame(axes, 72.0 / canvas.figure.dpi)
    place = np.array([frame.of(point.x, point.y) for point in points])
    gap = _LINE * canvas.points
    low, high = 0.5 * gap, frame.height - 0.5 * gap
    groups = _grouped(points, place, most=max(1, int((high - low) / gap)))
    longest = max(len(group.text) for group in groups) * _LETTER * canvas.points
    column, side = _column(frame, groups, longest, at_left=below is not None, at_right=above is not None)
    if above is not None:
        low = min(max(low, frame.of(*frame.level(above, column))[1] + 0.6 * gap), high - gap)
    if below is not None:
        high = max(min(high, frame.of(*frame.level(below, column))[1] - 0.6 * gap), low + gap)
    groups = _grouped(points, place, most=max(1, int((high - low) / gap) + 1))
    apart = style.keep_apart([group.y for group in groups], gap, low=low, high=high)
    for group, y in zip(groups, apart, strict=True):
        edge = group.right if side == "left" else group.left
        moved = abs(y - group.y) > 0.45 * gap or abs(column - edge) > 1.5 * _AWAY_PT
        end = (0.0 if side == "left" else 1.0, 0.5)
        arrow = {
            "arrowstyle": "-",
            "color": style.MUTED,
            "lw": 0.7,
            "shrinkA": 1.0,
            "shrinkB": 4.0,
            "relpos": end,
        }
        noted = axes.annotate(
            group.text,
            xy=(edge / frame.width, group.y / frame.height),
            xytext=(column / frame.width, y / frame.height),
            xycoords="axes fraction",
            textcoords="axes fraction",
            ha=side,
            va="center",
            color=group.lead.color,
            fontweight="bold" if group.lead.bold else "normal",
            zorder=8,
            path_effects=[style.halo()],
            arrowprops=arrow if moved else None,
        )
        noted.set_in_layout(False)


class _Frame:
    """Coordinates of axes in points of type from their lower left corner."""

    def __init__(self, axes: Axes, scale: float) -> None:
        self._axes, self._scale = axes, scale
        self._box = axes.get_window_extent()
        self.width, self.height = float(self._box.width) * scale, float(self._box.height) * scale

    def of(self, x: float, y: float) -> Array:
        found: Array = self._scale * (self._axes.transData.transform((x, y)) - [self._box.x0, self._box.y0])
        return found

    def level(self, level: Level, at: float) -> tuple[float, float]:
        """x of the chart at `at` points from the left, and the level there."""
        pixel = (self._box.x0 + at / self._scale, self._box.y0)
        x = float(self._axes.transData.inverted().transform(pixel)[0])
        return x, float(level(x))


def _column(frame: _Frame, groups: list[_Group], longest: float, *, at_left: bool, at_right: bool) -> tuple[float, str]:
    """Where names stand, from the left, and which of their ends that is."""
    right, left = max(group.right for group in groups) + _AWAY_PT, min(group.left for group in groups) - _AWAY_PT
    if at_left:
        return max(left, longest + 3.0), "right"
    if right + longest <= frame.width:
        return right, "left"
    return (left, "right") if left - longest > 0.0 and not at_right else (max(frame.width - longest - 3.0, 3.0), "left")


def _grouped(points: Sequence[Named], place: Array, *, most: int) -> list[_Group]:
    """Points nearer to each other than can be told apart as one; the nearness grows until there are `most` or less."""
    order = np.argsort(-place[:, 1], kind="stable")
    near = 3.0
    while True:
        groups: list[_Group] = []
        for i in order:
            x, y = (float(value) for value in place[i])
            found = next((k for k, g in enumerate(groups) if g.holds(points[i], x, y, near)), None)
            if found is None:
                groups.append(_Group((points[i],), x, x, y))
            else:
                group = groups[found]
                groups[found] = replace(
                    group, members=(*group.members, points[i]), left=min(group.left, x), right=max(group.right, x)
                )
        if len(groups) <= most or near > 1e4:  # those of different colours never share a name
            return groups
        near *= 1.4
