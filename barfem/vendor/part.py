"""The finished part as a maker reads it: rows, points and holes, from either tip and of either hand.

Geometry is that of the finished part, unloaded, at 20 C; springback is nowhere. *Rotation* runs from the plane of the
bend before to the plane of this bend (normals u_in x u_out), right-handed about the walking direction, from the start
tip to the other tip; the same number is the right-handed turn of the workpiece about the direction in which the
material moves through a machine. The other hand is the bar mirrored in the car's middle plane (y reversed).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End
from barfem.model.centreline import Centreline
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.lra import BendRow, reversed_rows, rows_from_centreline
from barfem.vendor.maker_tables import drawing_of

__all__ = [
    "NO_PLANE_DEG",
    "Hand",
    "LinePoint",
    "Part",
    "PartHole",
    "Tip",
    "centreline_points",
    "clocking_deg",
    "datum_bend_of",
    "end_inward",
    "inward_of",
    "part_of",
]

Tip = Literal["right", "left"]
Kind = Literal["tip", "intersection", "tangent_in", "tangent_out"]
Hand = Literal["as-drawn", "other"]
Array = NDArray[np.float64]
OTHER_HOLE = "hole of the other end"
NO_PLANE_DEG = 5.0
"""A bend below this has no plane that could be found on the part: clocking is not measured from it."""


@frozen
class LinePoint:
    """A point of the centreline: `kind` tip, intersection, tangent_in or tangent_out, in walking order.

    `bend` counts from the start tip (None at tips); `radius_mm` is that bend's. `xyz_mm` in drawing axes.
    """

    kind: Kind
    bend: int | None
    xyz_mm: tuple[float, float, float]
    radius_mm: float | None = None


@frozen
class PartHole:
    """A hole of one end. `clocking_deg` is None in a round end, which gives the hole no axis.

    `clocked_from` is "bend" (the plane of the adjacent bend), "named bend" ([drawing] datum_bend), "hole" (the other
    end's hole axis, where the end has no bend plane) or "" where there is no clocking.
    """

    name: str
    end: Tip
    from_tip_mm: float
    diameter_mm: float | None
    clocking_deg: float | None
    clocked_from: str = ""


@frozen
class Part:
    """A bar as its maker reads it, from `start_tip` and of `hand`.

    `rows` are between tangent points, `points` those of the centreline in walking order, `holes` those of both ends,
    the right end's first. `developed_length_mm` is along the centreline, `cut_length_mm` with the allowance of both
    ends.
    """

    start_tip: Tip
    hand: Hand
    rows: tuple[BendRow, ...]
    points: tuple[LinePoint, ...]
    holes: tuple[PartHole, ...]
    developed_length_mm: float
    end_allowance_mm: float
    datum_bend: int | None = None
    """[drawing] datum_bend, counted from this part's start tip."""

    def clocked_from(self, hole: PartHole) -> str | None:
        """What bend data say that a hole is clocked from: a named bend, the other end's hole; None: the bend beside."""
        if hole.clocked_from == "hole":
            return OTHER_HOLE
        return f"bend {self.datum_bend}" if self.datum_bend else None

    @property
    def cut_length_mm(self) -> float:
        return self.developed_length_mm + 2.0 * self.end_allowance_mm

    @property
    def shortest_between_bends_mm(self) -> float | None:
        """The shortest straight between two bends; None where there are fewer than two."""
        return min((row.length_mm for row in self.rows[1:-1]), default=None)


def part_of(bar: Bar, *, start_tip: Tip = "right", hand: Hand = "as-drawn", end_allowance_mm: float = 0.0) -> Part:
    """The part that a bar is.

    Parameters
    ----------
    bar
        As drawn.
    start_tip
        The tip of the part described at which rows and points begin.
    hand
        "other" describes the bar mirrored in the car's middle plane.
    end_allowance_mm
        At each end, cut off after bending.
    """
    other = hand == "other"
    # The mirrored bar's right tip is the drawn bar's left tip.
    from_drawn_right = (start_tip == "right") != other
    rows = rows_from_centreline(bar.centreline)
    points = centreline_points(bar.centreline)
    if not from_drawn_right:
        rows, points = reversed_rows(rows), _backwards(points)
    if other:
        rows = tuple(replace(row, rotation_deg=_negated(row.rotation_deg)) for row in rows)
        points = tuple(replace(p, xyz_mm=(p.xyz_mm[0], -p.xyz_mm[1] + 0.0, p.xyz_mm[2])) for p in points)
    named = datum_bend_of(bar)
    holes = tuple(_hole(bar, end, other) for end in (reversed(bar.ends) if other else bar.ends))
    return Part(
        start_tip,
        hand,
        rows,
        points,
        tuple(hole for each in holes for hole in each),
        bar.centreline.length_mm,
        end_allowance_mm,
        None if named is None else named if from_drawn_right else len(bar.centreline.bends) + 1 - named,
    )


def centreline_points(centreline: Centreline) -> tuple[LinePoint, ...]:
    """Tips, tangent points and intersections from the right tip; a bend of 180 deg or more has no intersection."""
    ends, _ = centreline.evaluate([0.0, centreline.length_mm])
    out = [LinePoint("tip", None, _xyz(ends[0]))]
    for bend in centreline.bends:
        radius, number, angle = bend.radius_mm or 0.0, bend.bend, bend.bend_angle_rad
        points, frames = bend.evaluate(np.array([0.0, bend.length_mm]))
        out.append(LinePoint("tangent_in", number, _xyz(points[0]), radius))
        if angle < np.pi - 1e-6:
            corner = points[0] + radius * np.tan(0.5 * angle) * frames[0, 0]
            out.append(LinePoint("intersection", number, _xyz(corner), radius))
        out.append(LinePoint("tangent_out", number, _xyz(points[1]), radius))
    return (*out, LinePoint("tip", None, _xyz(ends[1])))


def _backwards(points: Sequence[LinePoint]) -> tuple[LinePoint, ...]:
    last = max((point.bend or 0 for point in points), default=0)
    turned: dict[str, Kind] = {"tangent_in": "tangent_out", "tangent_out": "tangent_in"}
    return tuple(
        replace(p, kind=turned.get(p.kind, p.kind), bend=None if p.bend is None else last + 1 - p.bend)
        for p in reversed(points)
    )


def datum_bend_of(bar: Bar) -> int | None:
    """[drawing] datum_bend, the bend from the right tip from whose plane hole axes are told; None: the adjacent one.

    Raises
    ------
    InputError
        There is no such bend, it has no plane, or its plane lies across an end straight.
    """
    number = drawing_of(bar).datum_bend
    if number is None:
        return None
    bends = bar.centreline.bends

    def refused(problem: str) -> InputError:
        return InputError(
            problem, where="[drawing] datum_bend", expected="a bend of 5 deg or more, from the right tip.",
            file=bar.source,
        )  # fmt: skip

    if number > len(bends):
        raise refused(f"there is no bend {number}: the bar has {len(bends)}.")
    angle = float(np.degrees(bends[number - 1].bend_angle_rad))
    if angle < NO_PLANE_DEG:
        raise refused(f"bend {number} of {angle:.3g} deg has no plane that could be found on the part.")
    for end in bar.ends:
        if inward_of(_end_direction(bar, end), _normal(bar, number), end.side) is None:
            raise refused(f"the plane of bend {number} lies across the {end.side} end: it clocks nothing there.")
    return number


def inward_of(u: Array, normal: Array, side: str) -> Array | None:
    """Direction of clocking 0 across an end, in the plane of a bend; for the adjacent bend it is towards its inside.

    Parameters
    ----------
    u
        Unit vector (3,) from the tip to its bend.
    normal
        Of the bend's plane, u_in x u_out as met from the right tip, of any length.
    side
        "right" or "left".
    """
    across = np.cross(normal if side == "right" else -normal, u)
    size = float(np.linalg.norm(across))
    # Nearly along the end, the plane's trace across it is as uncertain as that of a bend without a plane.
    if size <= np.sin(np.radians(NO_PLANE_DEG)) * float(np.linalg.norm(normal)):
        return None
    return np.asarray(across / size)


def end_inward(bar: Bar, end: End, bend: int | None = None) -> tuple[Array, Array | None]:
    """Direction from a tip to its bend, and that of clocking 0 across it; None without a bend plane.

    Parameters
    ----------
    bend
        From the right tip, in whose plane clocking 0 lies; None: the adjacent one, towards whose inside it points.
    """
    u, bends = _end_direction(bar, end), bar.centreline.bends
    number = bend if bend is not None else 1 if end.side == "right" else len(bends)
    if not bends or np.degrees(bends[number - 1].bend_angle_rad) < NO_PLANE_DEG:
        return u, None
    return u, inward_of(u, _normal(bar, number), end.side)


def _end_direction(bar: Bar, end: End) -> Array:
    t = bar.centreline.evaluate(0.0 if end.side == "right" else bar.centreline.length_mm)[1][0, 0]
    return np.asarray(t if end.side == "right" else -t)


def _normal(bar: Bar, number: int) -> Array:
    """Unit normal of a bend's plane, u_in x u_out as met from the right tip."""
    bend = bar.centreline.bends[number - 1]
    _, a, b = bend.evaluate(np.array([0.0]))[1][0]
    angle = bend.inward_angle_rad
    # u_in x inward, of a right-handed frame (t, a, b)
    return np.asarray(np.cos(angle) * b - np.sin(angle) * a)


def clocking_deg(bar: Bar, end: End, *, adjacent: bool = False) -> tuple[float | None, str]:
    """Clocking of an end's hole axis in (-90, 90], and what it is measured from: "bend", "named bend", "hole", or "".

    Right-handed about the direction from the tip to its bend, from the in-plane direction across the end straight,
    towards the inside of the adjacent bend, to the hole axis, which is a line. Where [drawing] names a bend its plane
    takes the adjacent one's place, unless `adjacent`.
    """
    if end.flat is None:
        return None, ""
    named = None if adjacent else datum_bend_of(bar)
    u, inward = end_inward(bar, end, named)
    kind = "bend" if named is None else "named bend"
    if inward is None:
        other = bar.left if end.side == "right" else bar.right
        if other.flat is None:
            return None, ""
        inward, kind = _carried(bar, other, end), "hole"
    axis = np.array(end.flat.normal)
    return _line_angle(np.degrees(np.arctan2(u @ np.cross(inward, axis), inward @ axis))), kind


def _carried(bar: Bar, source: End, to: End) -> Array:
    """The hole axis of one end, carried along the bar without twist to the other end."""
    at = {"right": 0.0, "left": bar.centreline.length_mm}
    _, frames = bar.centreline.evaluate([at[source.side], at[to.side]])
    axis = np.array(source.flat.normal) if source.flat is not None else frames[0, 1]
    return np.asarray((frames[0] @ axis) @ frames[1], float)


def _hole(bar: Bar, end: End, other: bool) -> list[PartHole]:
    angle, kind = clocking_deg(bar, end)
    if other and angle is not None:
        angle = _line_angle(-angle)
    side: Tip = end.side
    if other:
        side = "left" if end.side == "right" else "right"
    return [PartHole(hole.name, side, hole.from_tip_mm, hole.diameter_mm, angle, kind) for hole in end.holes]


def _line_angle(angle_deg: float) -> float:
    """Angle of a line, in (-90, 90]; a hair above -90 is 90."""
    turned = -((-angle_deg + 90.0) % 180.0 - 90.0)
    return 90.0 if turned < -90.0 + 1e-9 else float(turned) + 0.0


def _negated(rotation_deg: float) -> float:
    return 180.0 if abs(rotation_deg) >= 180.0 - 1e-9 else -rotation_deg + 0.0


def _xyz(point: Array) -> tuple[float, float, float]:
    return float(point[0]), float(point[1]), float(point[2])
