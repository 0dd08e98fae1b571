"""The centrelines of many bars of one drawing: its bend rows with errors, laid out from the middle to both tips.

The middle of the bar stays where the drawing has it, as its mounts hold it there; each side's errors move that side
alone. Every bend turns, radius and angle, and its plane turns against the one before it towards the middle.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.centreline import Centreline, Segment
from barfem.model.frozen import frozen

__all__ = ["RowErrors", "Shapes", "Skeleton", "across_lever_mm", "shapes", "skeleton_of"]

Array = NDArray[np.float64]


@frozen
class Skeleton:
    """A drawing's centreline as k bends with k + 1 straights about them (of no length where bends meet).

    `plane_rad` is each bend's inward angle in the twist-free frames, `segment` the numbers of the 2 k + 1 parts
    (straight, bend, straight, ...) that the centreline has, `middle` the part that holds the middle and `share` how far
    along it that lies.
    """

    centreline: Centreline
    straight_mm: Array
    radius_mm: Array
    angle_rad: Array
    plane_rad: Array
    present: NDArray[np.bool_]
    middle: int
    share: float


@frozen
class RowErrors:
    """Errors of n bars: straights (n, k + 1) in mm, radii, angles (n, k) in mm and rad, rotations (n, k - 1) in rad
    between a bend and the next, tips (n, 4) in mm: right in its bend's plane (positive opens the bend's angle) and
    across it, left likewise.
    """

    straight_mm: Array
    radius_mm: Array
    angle_rad: Array
    rotation_rad: Array
    tip_mm: Array


@frozen
class Shapes:
    """n centrelines; None where a straight has no length left. `middle_station_mm` is where the drawing's middle lies.

    `turned` (n, 2, 3, 3) takes a vector that is fixed to the right and to the left arm from the drawing to the bar.
    """

    centrelines: tuple[Centreline | None, ...]
    middle_station_mm: Array
    turned: Array


def skeleton_of(bar: Bar) -> Skeleton:
    """The drawing's parts."""
    line = bar.centreline
    bends = line.bends
    straight = np.zeros(len(bends) + 1)
    present = np.zeros(2 * len(bends) + 1, bool)
    part_of, part = [], 0
    for segment in line.segments:
        if segment.bend is None:
            straight[part // 2] += segment.length_mm
        else:
            part = 2 * segment.bend - 1
        part_of.append(part)
        present[part] = True
        part += segment.bend is not None
    at = int(line.segment_index(bar.middle_mm)[0])
    holding = line.segments[at]
    return Skeleton(
        centreline=line,
        straight_mm=straight,
        radius_mm=np.array([bend.radius_mm for bend in bends], float),
        angle_rad=np.array([bend.bend_angle_rad for bend in bends], float),
        plane_rad=np.array([bend.inward_angle_rad for bend in bends], float),
        present=present,
        middle=part_of[at],
        share=(bar.middle_mm - holding.start_station_mm) / holding.length_mm,
    )


def shapes(skeleton: Skeleton, errors: RowErrors) -> Shapes:
    """Lay out n bars.

    A tip moved by u in the bend's plane and v across it turns the arm about the end of its bend: the bend's angle by
    u / s, s the arm's straight, and its plane by v / `across_lever_mm`; first order in u / s, a few thousandths. What
    the arc loses by its angle the straight gains: the tip moves across its arm and not along it.
    """
    straight = skeleton.straight_mm + errors.straight_mm
    radius = skeleton.radius_mm + errors.radius_mm
    angle = skeleton.angle_rad + errors.angle_rad
    plane = skeleton.plane_rad + _turned_planes(skeleton, errors.rotation_rad)
    if len(skeleton.radius_mm):
        for side, end in enumerate((0, -1)):
            arm, bent, turn = skeleton.straight_mm[end], skeleton.radius_mm[end], skeleton.angle_rad[end]
            in_plane, across = errors.tip_mm[:, 2 * side], errors.tip_mm[:, 2 * side + 1]
            if arm > 0.0:
                angle[:, end] -= in_plane / arm
                straight[:, end] += bent * in_plane / arm
            lever = across_lever_mm(straight_mm=arm, radius_mm=bent, angle_rad=turn)
            if lever > 0.0:
                plane[:, end] += across / lever
    # A bend of less than nothing is one to the other side.
    plane, angle = np.where(angle < 0.0, plane + np.pi, plane), np.abs(angle)
    lengths = np.zeros((len(straight), 2 * len(skeleton.radius_mm) + 1))
    lengths[:, 0::2], lengths[:, 1::2] = straight, radius * angle
    starts, frames, end_frames = _chain(skeleton, lengths, radius, plane)
    # The whole bar moved until its middle is where the drawing's is.
    m, share = skeleton.middle, skeleton.share
    at, frame = _along(
        starts[:, m], frames[:, m], share * lengths[:, m], radius[:, m // 2] if m % 2 else None,
        plane[:, m // 2] if m % 2 else None,
    )  # fmt: skip
    stations = np.cumsum(lengths, axis=1) - lengths
    middle = stations[:, m] + share * lengths[:, m]
    points, nominal = skeleton.centreline.evaluate([0.5 * skeleton.centreline.length_mm])
    turn = np.einsum("nij,ik->njk", frame, nominal[0])  # from the chain's axes to the drawing's: v @ turn
    starts = points[0] + np.einsum("nsj,njk->nsk", starts - at[:, None], turn)
    frames = np.einsum("nsij,njk->nsik", frames, turn)
    end_frames = np.einsum("nij,njk->nik", end_frames, turn)
    tips = np.stack([frames[:, 0], end_frames], axis=1)
    drawn = skeleton.centreline.evaluate([0.0, skeleton.centreline.length_mm])[1]
    turned = np.einsum("eij,neik->nejk", drawn, tips)
    made = tuple(
        _centreline(skeleton, i, stations, lengths, starts, frames, radius, plane) for i in range(len(straight))
    )
    return Shapes(made, middle, turned)


def across_lever_mm(*, straight_mm: float, radius_mm: float, angle_rad: float) -> float:
    """Distance of an arm's tip from the straight on the other side of its bend, about which the bend's plane turns."""
    return float(straight_mm * np.sin(angle_rad) + radius_mm * (1.0 - np.cos(angle_rad)))


def _turned_planes(skeleton: Skeleton, rotation: Array) -> Array:
    """How far each bend's plane is turned, (n, k): errors add up from the middle to either tip.

    Where the middle lies between two bends their error is shared by both; a bend that holds the middle stays.
    """
    count = len(skeleton.radius_mm)
    out = np.zeros((len(rotation), count))
    if count < 2:
        return out
    m = skeleton.middle
    left = m // 2 + (m % 2)  # first bend wholly on the left of the middle
    right = left - 1 - (m % 2)  # last bend wholly on the right
    if m % 2 == 0 and 0 < left < count:
        out[:, left:] += 0.5 * rotation[:, left - 1, None]
        out[:, : right + 1] -= 0.5 * rotation[:, left - 1, None]
    first = left if m % 2 == 0 else left - 1
    for i in range(max(first, 0), count - 1):
        out[:, i + 1 :] += rotation[:, i, None]
    last = right if m % 2 == 0 else right + 1
    for i in range(min(last, count - 1), 0, -1):
        out[:, :i] -= rotation[:, i - 1, None]
    return out


def _chain(skeleton: Skeleton, lengths: Array, radius: Array, plane: Array) -> tuple[Array, Array, Array]:
    """Start points (n, p, 3) and frames (n, p, 3, 3) of every part, from the drawing's start; frames at the end."""
    n, parts = lengths.shape
    first = skeleton.centreline.segments[0]
    point = np.broadcast_to(np.array(first.start_point_mm), (n, 3)).copy()
    frame = np.broadcast_to(np.array(first.start_frame), (n, 3, 3)).copy()
    starts, frames = np.empty((n, parts, 3)), np.empty((n, parts, 3, 3))
    for p in range(parts):
        starts[:, p], frames[:, p] = point, frame
        bend = p % 2 == 1
        point, frame = _along(
            point, frame, lengths[:, p], radius[:, p // 2] if bend else None, plane[:, p // 2] if bend else None
        )
    return starts, frames, frame


def _along(
    point: Array, frame: Array, distance: Array, radius: Array | None, plane: Array | None
) -> tuple[Array, Array]:
    """Points (n, 3) and frames (n, 3, 3) at `distance` (n,) along a straight, or an arc bent towards `plane`."""
    t, a, b = frame[:, 0], frame[:, 1], frame[:, 2]
    if radius is None or plane is None:
        return point + distance[:, None] * t, frame
    c, s = np.cos(plane)[:, None], np.sin(plane)[:, None]
    inward, binormal = c * a + s * b, c * b - s * a
    phi = (distance / radius)[:, None]
    r = radius[:, None]
    moved = point + r * np.sin(phi) * t + r * (1.0 - np.cos(phi)) * inward
    along = np.cos(phi) * t + np.sin(phi) * inward
    normal = np.cos(phi) * inward - np.sin(phi) * t
    return moved, np.stack([along, c * normal - s * binormal, s * normal + c * binormal], axis=1)


def _centreline(
    skeleton: Skeleton,
    i: int,
    stations: Array,
    lengths: Array,
    starts: Array,
    frames: Array,
    radius: Array,
    plane: Array,
) -> Centreline | None:
    if (lengths[i, skeleton.present] <= 0.0).any() or (radius[i] <= 0.0).any():
        return None
    parts = np.flatnonzero(skeleton.present).tolist()
    station, length = stations[i].tolist(), lengths[i].tolist()
    start, frame = starts[i].tolist(), frames[i].tolist()
    wrapped = np.arctan2(np.sin(plane[i]), np.cos(plane[i])).tolist()
    segments = []
    for p in parts:
        t, a, b = (_three(row) for row in frame[p])
        here = Segment(station[p], length[p], _three(start[p]), (t, a, b))
        if p % 2 == 1:
            bend = p // 2
            here = replace(here, radius_mm=float(radius[i, bend]), inward_angle_rad=wrapped[bend], bend=bend + 1)
        segments.append(here)
    return Centreline(tuple(segments))


def _three(vector: list[float]) -> tuple[float, float, float]:
    return vector[0], vector[1], vector[2]
