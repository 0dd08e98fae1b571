"""What a drawing says, as numbers: views of the bar in true mm, their dimensions, and the datum A-B-C.

A view is flat: h to the right and v up on the sheet, both in mm of the part. Front view: seen from the front of the
car, y to the right, z up. Plan: from above, y to the right, the car's front below. Side view: in first angle
projection seen from the car's right (x to the right), in third angle from its left (x to the left), both standing to
the right of the front view (ISO 5456-2).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bar_geometry import outer_mounts
from barfem.model.frozen import frozen
from barfem.vendor.end_views import end_shapes
from barfem.vendor.part import centreline_points

__all__ = ["Datum", "Dimension", "View", "datum_of", "isometric", "tips_up", "views_of"]

Array = NDArray[np.float64]
Way = Literal["horizontal", "vertical"]
Side = Literal["above", "below", "left", "right"]


@frozen
class Dimension:
    """A linear dimension between two points of a view; `level` counts dimension lines outwards from the view, 1 first.

    `side` is where its line stands: "above", "below", "left" or "right" of the view. `value_mm` is the model's.
    """

    key: str
    one: tuple[float, float]
    other: tuple[float, float]
    way: Way
    side: Side
    level: int
    value_mm: float


@frozen
class View:
    """Polylines (n, 2) in mm: outline, centreline, phantom (mounts), and dimensions."""

    name: str
    outline: tuple[Array, ...]
    centre: tuple[Array, ...]
    phantom: tuple[Array, ...]
    marks: tuple[tuple[str, tuple[float, float]], ...]
    dimensions: tuple[Dimension, ...] = ()

    @property
    def box(self) -> tuple[float, float, float, float]:
        """(left, bottom, right, top) of outline and mounts."""
        every = np.concatenate([*self.outline, *self.centre, *self.phantom])
        low, high = every.min(axis=0), every.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


_WAYS = (("forward", "rearward"), ("left", "right"), ("up", "down"))


@frozen
class Datum:
    """Datum of inspection: A through the outermost mounts, B in the middle between them, C by the outermost holes.

    `axes` are rows: along A (towards the left), across A as the travel has it (up), and the third, right-handed.
    """

    origin_mm: Array
    axes: Array

    def points(self, xyz_mm: Array) -> Array:
        """Points (n, 3) in the datum's axes: along A, up, and third."""
        return np.asarray((xyz_mm - self.origin_mm) @ self.axes.T)

    @property
    def ways(self) -> tuple[str, ...]:
        """Where each axis points in the car, by its greatest part: of a bar across the car left, up, forward."""
        greatest = np.abs(self.axes).argmax(axis=1).tolist()
        return tuple(_WAYS[i][int(axis[i] < 0.0)] for i, axis in zip(greatest, self.axes, strict=True))


def datum_of(bar: Bar) -> Datum:
    """Datum A-B-C of the nominal part.

    C: turned about A so that the two outermost holes deviate equally and oppositely along the travel. On the nominal
    part both deviations are zero as drawn, so the travel's part across A is the second axis.
    """
    first, last = outer_mounts(bar)
    along = (last - first) / np.linalg.norm(last - first)
    up = np.array(bar.travel.direction, float)
    up = up - (up @ along) * along
    up /= np.linalg.norm(up)
    return Datum(0.5 * (first + last), np.array([along, up, np.cross(along, up)]))


def views_of(bar: Bar, *, projection: str = "first") -> tuple[View, View, View]:
    """Plan, front and side view, with the dimensions that each carries."""
    side_x = 1.0 if projection == "first" else -1.0
    plan = _view(bar, "plan", np.array([[0, 1, 0], [-1, 0, 0]], float), _plan_dimensions(bar))
    front = _view(bar, "front", np.array([[0, 1, 0], [0, 0, 1]], float), _height(bar))
    side = _view(bar, "side", np.array([[side_x, 0, 0], [0, 0, 1]], float), _depth(bar, side_x))
    return plan, front, side


def isometric(bar: Bar) -> View:
    """The bar in isometric projection, seen from behind, right and above; lengths true along the axes times 0.816."""
    toward = np.array([-1.0, -1.0, 1.0]) / 3**0.5
    right = np.cross([0.0, 0.0, 1.0], toward)
    right /= np.linalg.norm(right)
    return _view(bar, "isometric", np.array([right, np.cross(toward, right)]), ())


def _view(bar: Bar, name: str, onto: Array, dimensions: tuple[Dimension, ...]) -> View:
    line = bar.centreline
    stations = np.unique(
        np.concatenate(
            [np.linspace(s.start_station_mm, s.end_station_mm, 2 if s.radius_mm is None else 25) for s in line.segments]
        )
    )
    path = line.evaluate(stations)[0] @ onto.T
    radius = 0.5 * bar.section.diameter_mm
    start = 0.0 if bar.right.flat is None else bar.right.flat.length_mm
    end = line.length_mm - (0.0 if bar.left.flat is None else bar.left.flat.length_mm)
    within = np.concatenate([[start], stations[(stations > start) & (stations < end)], [end]])
    outline = _silhouette(line.evaluate(within)[0] @ onto.T, radius)
    centre = [path]
    for each in bar.ends:
        shapes, crosses = end_shapes(bar, each, onto)
        outline += shapes
        centre += crosses
    phantom = []
    for mount in bar.mounts:
        half = 0.5 * max(mount.length_mm, bar.section.diameter_mm)
        points, _ = line.evaluate([mount.station_mm - half, mount.station_mm + half])
        seen = points @ onto.T
        phantom.append(_rectangle(seen[0], seen[1], 1.8 * radius))
    tips = line.evaluate([0.0, line.length_mm])[0] @ onto.T
    marks = tuple((text, (float(p[0]), float(p[1]))) for text, p in zip(("R", "L"), tips, strict=True))
    return View(name, tuple(outline), tuple(centre), tuple(phantom), marks, dimensions)


def _silhouette(path: Array, radius: float) -> list[Array]:
    """Both sides of a round bar seen along the view, and its ends; a path that stands on end is a circle."""
    extent = float(np.ptp(path, axis=0).max())
    if extent < 1e-6:
        angle = np.linspace(0.0, 2.0 * np.pi, 49)
        return [path[0] + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)]
    steps = np.diff(path, axis=0)
    keep = np.concatenate([[True], np.linalg.norm(steps, axis=1) > 1e-6])
    path = path[keep]
    steps = np.diff(path, axis=0)
    unit = steps / np.linalg.norm(steps, axis=1)[:, None]
    tangent = np.concatenate([unit[:1], unit[:-1] + unit[1:], unit[-1:]])
    size = np.linalg.norm(tangent, axis=1)
    own = unit[np.minimum(np.arange(len(path)), len(unit) - 1)]
    tangent = np.where(size[:, None] > 0.2, tangent / np.maximum(size[:, None], 1e-9), own)
    normal = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    one, other = path + radius * normal, path - radius * normal
    return [np.concatenate([one, other[::-1], one[:1]])]


def _rectangle(one: Array, other: Array, half: float) -> Array:
    along = other - one
    size = float(np.linalg.norm(along))
    unit = along / size if size > 1e-6 else np.array([1.0, 0.0])
    across = half * np.array([-unit[1], unit[0]])
    return np.array([one + across, other + across, other - across, one - across, one + across])


def _outermost(bar: Bar) -> tuple[Array, Array]:
    """The outermost hole (nearest to its tip) of the right and the left end, in drawing axes."""
    stations = [min(end.holes, key=lambda hole: hole.from_tip_mm).station_mm for end in bar.ends]
    points, _ = bar.centreline.evaluate(stations)
    return points[0], points[1]


def tips_up(bar: Bar) -> bool:
    """Whether the tips lie behind the mounts, above them in the plan."""
    tips, _ = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    return bool(tips[:, 0].sum() <= sum(point[0] for point in outer_mounts(bar)))


def _plan_dimensions(bar: Bar) -> tuple[Dimension, ...]:
    """Widths across the car, and each arm's length along x to the intersection and to its outermost hole."""
    line = bar.centreline
    (right, left), _ = line.evaluate([0.0, line.length_mm])
    hole_right, hole_left = _outermost(bar)
    mounts = outer_mounts(bar)
    sides: tuple[Side, Side] = ("above", "below")
    tips, back = sides if tips_up(bar) else sides[::-1]

    def flat(point: Array) -> tuple[float, float]:
        return float(point[1]), float(-point[0])

    def wide(key: str, one: Array, other: Array, level: int, side: Side) -> Dimension:
        return Dimension(key, flat(one), flat(other), "horizontal", side, level, abs(float(other[1] - one[1])))

    out = [
        wide("between mounts", mounts[0], mounts[-1], 1, back),
        wide("between outermost holes", hole_right, hole_left, 1, tips),
        wide("between cut ends", right, left, 2, tips),
    ]
    corners = [np.array(p.xyz_mm) for p in centreline_points(line) if p.kind == "intersection"]
    if corners:
        arms: tuple[tuple[Side, Array, Array, Array], ...] = (
            ("left", right, hole_right, corners[0]),
            ("right", left, hole_left, corners[-1]),
        )
        for side, tip, hole, corner in arms:
            for level, (key, end) in enumerate((("arm to hole", hole), ("arm to cut end", tip)), start=1):
                value = abs(float(end[0] - corner[0]))
                if value > 1.0:
                    out.append(Dimension(f"{side} {key}", flat(corner), flat(end), "vertical", side, level, value))
    return tuple(out)


def _middle_off(bar: Bar, axis: int) -> tuple[Array, Array] | None:
    """The right outermost mount, and where the bar between the mounts lies farthest from it along an axis of the
    drawing, nearest to the right; None where it stays within 1 mm."""
    stations = sorted(mount.station_mm for mount in bar.mounts)
    tangents = [s.start_station_mm for s in bar.centreline.segments if stations[0] < s.start_station_mm < stations[-1]]
    points, _ = bar.centreline.evaluate(np.unique([*np.linspace(stations[0], stations[-1], 801), *tangents]))
    off = np.abs(points[:, axis] - points[0, axis])
    if off.max() <= 1.0:
        return None
    return points[0], points[int(np.argmax(off > off.max() - 1e-6))]


def _depth(bar: Bar, side_x: float) -> tuple[Dimension, ...]:
    """How far the middle of a cranked bar lies before or behind the right mount, in the side view."""
    found = _middle_off(bar, 0)
    if found is None:
        return ()
    one, other = ((side_x * float(point[0]), float(point[2])) for point in found)
    return (Dimension("middle off mount", one, other, "horizontal", "below", 1, abs(one[0] - other[0])),)


def _height(bar: Bar) -> tuple[Dimension, ...]:
    """Height of each tip and of a cranked middle over the mounts, where there is any, in the front view."""
    tips, _ = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    out = []
    sides: tuple[Side, Side] = ("left", "right")
    for tip, mount, side in zip(tips, outer_mounts(bar), sides, strict=True):
        value = abs(float(tip[2] - mount[2]))
        if value > 0.05:
            one, other = (float(mount[1]), float(mount[2])), (float(tip[1]), float(tip[2]))
            out.append(Dimension(f"{side} tip over mount", one, other, "vertical", side, 1, value))
    if (found := _middle_off(bar, 2)) is not None:
        one, other = ((float(point[1]), float(point[2])) for point in found)
        rise = other[1] - one[1]
        tip = next((each for each in out if each.side == "left"), None)
        # Of two to the same side the shorter stands within: no extension line runs through a number.
        within = tip is not None and abs(rise) < tip.value_mm and rise * (tip.other[1] - tip.one[1]) > 0.0
        if tip is not None and within:
            out[0] = replace(tip, level=2)
        level = 1 if tip is None or within else 2
        out.append(Dimension("middle over mount", one, other, "vertical", "left", level, abs(rise)))
    return tuple(out)
