"""A measured bar laid out as the drawing has it: hand and order found, points in order, readings with their ends."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End
from barfem.model.frozen import frozen
from barfem.vendor.inspect_fit import HYPOTHESES, Lie, believed, canonical, match
from barfem.vendor.inspect_lie import lie_of
from barfem.vendor.inspect_reading import MeasuredBar, Reading
from barfem.vendor.inspect_rows import entries_of, explain_rows
from barfem.vendor.inspect_shape import MIRROR, Rows, walk
from barfem.vendor.orientation import Orientation
from barfem.vendor.part import clocking_deg, datum_bend_of, inward_of

__all__ = ["HoleAxis", "Laid", "hole_axes", "laid_out"]

Array = NDArray[np.float64]
_NO_FIT_MM = 10.0  # rms of points that are no bar of the drawing, whichever way they are read
_UNEXPLAINED_MM = 2.0
_SWAP = {"right": "left", "left": "right"}


@frozen
class Laid:
    """One measured bar: readings with their ends as in the drawing, points (p, 3) canonical; None without any.

    `of_rows`: the points are laid out from measured rows; `as_drawn` are entries of these that were not measured.
    """

    measured: MeasuredBar
    lie: Lie
    points: Array | None
    readings: tuple[Reading, ...]
    of_rows: bool = False
    as_drawn: tuple[str, ...] = ()


def laid_out(
    bar: Bar,
    measured: MeasuredBar,
    nominal: Array,
    drawn: Rows,
    alike: Sequence[tuple[bool, bool]],
    part: Orientation,
) -> Laid:
    """Lay out a measured bar against the drawing's points (p, 3) and rows; `alike` and `part` as of `lie_of`."""
    rows = measured.all_of("row")
    if measured.points_mm is not None:
        return _laid_points(bar, measured, measured.points_mm, nominal, drawn, alike, part)
    if not rows:
        return Laid(measured, Lie("as-drawn", "as named", ()), None, measured.readings)
    # Radii, and what was not measured, are the drawing's: of the row that it turns out to be.
    filled = [_points_of(rows, _read_as(drawn, Lie(hand, order, ()))) for hand, order in HYPOTHESES]
    rms_mm = [match(points, nominal).rms_mm[number] for number, (points, _) in enumerate(filled)]
    chosen = believed(rms_mm)
    if chosen and rms_mm[chosen] >= _NO_FIT_MM:
        both = [canonical(filled[number][0], Lie(*HYPOTHESES[number], ())) for number in (0, chosen)]
        chosen = (0, chosen)[_fewest_rows(drawn, both, measured.noise_mm)]
    points, missing = filled[chosen]
    return replace(_laid_points(bar, measured, points, nominal, drawn, alike, part), of_rows=True, as_drawn=missing)


def _fewest_rows(drawn: Rows, readings: Sequence[Array], noise_mm: float | None) -> int:
    """Which of two readings of points the fewer rows explain: the first only if fewer.

    Where none fits, how far points lie off says nothing: one rotation of the wrong sign may throw them farther from
    the drawing than from its mirror image turned end for end.
    """
    fits = explain_rows(drawn, readings, noise_mm=noise_mm)
    first, second = ((fit.left_mm > _UNEXPLAINED_MM, len(fit.differences)) for fit in fits)
    return 0 if first < second else 1


def _read_as(drawn: Rows, lie: Lie) -> Rows:
    """The drawing's rows as a file lists them that reads so."""
    sign = -1.0 if lie.hand == "other" else 1.0
    if not lie.ends_swapped:
        return replace(drawn, rotation_deg=sign * drawn.rotation_deg)
    return Rows(drawn.straight_mm[::-1], sign * drawn.rotation_deg[::-1], drawn.angle_deg[::-1], drawn.radius_mm[::-1])


def _laid_points(
    bar: Bar,
    measured: MeasuredBar,
    points: Array,
    nominal: Array,
    drawn: Rows,
    alike: Sequence[tuple[bool, bool]],
    part: Orientation,
) -> Laid:
    def laid(lie: Lie) -> Laid:
        return _laid_as(measured, points, lie, len(bar.centreline.bends))

    def axes_off_deg(lie: Lie) -> list[float]:
        return [axis.own_off_deg for axis in hole_axes(bar, laid(lie))]

    def holes_off_mm(lie: Lie) -> list[float]:
        drawn_mm = {f"hole {hole.name} {end.side}": hole.from_tip_mm for end in bar.ends for hole in end.holes}
        holes = [each for each in laid(lie).readings if each.what == "hole from_tip"]
        return [(each.value or 0.0) - drawn_mm[each.place] for each in holes if each.place in drawn_mm]

    lie = lie_of(bar, points, nominal, alike, part, axes_off_deg, holes_off_mm)
    named = Lie(*HYPOTHESES[0], lie.rms_mm)
    if lie != named and lie.own_rms_mm >= _NO_FIT_MM:
        both = [canonical(points, each) for each in (named, lie)]
        lie = (named, lie)[_fewest_rows(drawn, both, measured.noise_mm)]
    return laid(lie)


def _laid_as(measured: MeasuredBar, points: Array, lie: Lie, bends: int) -> Laid:
    readings = tuple(_swapped(reading, lie, bends) for reading in measured.readings)
    return Laid(measured, lie, canonical(points, lie), readings)


def _points_of(rows: Sequence[Reading], drawn: Rows) -> tuple[Array, tuple[str, ...]]:
    """Points of measured rows, and the entries that were not measured and are the drawing's; radii never are."""
    k, vector = drawn.bends, drawn.vector.copy()
    missing = {(row, what) for row, what in entries_of(k) if what != "radius"}
    for reading in rows:
        row = int(reading.place.removeprefix("row "))
        index = {"length": row - 1, "rotation": k - 1 + row, "angle": 2 * k + row - 1}[reading.unit]
        if reading.unit == "rotation" and row == 1:
            continue
        vector[index] = reading.value
        missing.remove((row, reading.unit))
    return np.asarray(walk(vector, k)[0]), tuple(f"row {row} {what}" for row, what in sorted(missing))


def _swapped(reading: Reading, lie: Lie, bends: int) -> Reading:
    """A reading with the end or bend that it is of in the drawing, and its axis mirrored back."""
    place, axis = reading.place, reading.axis
    if lie.ends_swapped:
        place = re.sub(r"\b(right|left)(?= end$|$)", lambda side: _SWAP[side[1]], place)
        place = re.sub(r"^bend (\d+)", lambda bend: f"bend {bends + 1 - int(bend[1])}", place)
    if lie.hand == "other" and axis is not None:
        x, y, z = (np.array(axis) * MIRROR).tolist()
        axis = (x, y, z)
    return replace(reading, place=place, axis=axis)


@frozen
class HoleAxis:
    """An end's measured hole axis: drawn clocking and deviations from it, (-90, 90] deg.

    `off_deg` is in the plane that the drawing clocks from; `own_off_deg` to the bend beside the end, which no other
    bend's fault moves. `lean_deg`: out of the plane across the end's straight, which clocking does not see.
    """

    side: str
    drawn_deg: float
    off_deg: float
    own_off_deg: float
    lean_deg: float


def hole_axes(bar: Bar, laid: Laid) -> list[HoleAxis]:
    """Each end whose hole axis was measured beside the points that it needs; of several holes the one farthest off."""
    points = laid.points
    if points is None or laid.of_rows:
        return []
    last, named = len(bar.centreline.bends), datum_bend_of(bar)
    out: list[HoleAxis] = []
    for end in bar.ends:
        places = (f"{end.side} end", *(f"hole {hole.name} {end.side}" for hole in end.holes))
        axes = [r.axis for r in laid.readings if r.what == "hole axis" and r.place in places]
        drawn = clocking_deg(bar, end)[0]
        u = points[1] - points[0] if end.side == "right" else points[-2] - points[-1]
        u = u / np.linalg.norm(u)
        found = []
        for axis in axes:
            own = _off(bar, end, points, u, axis, 1 if end.side == "right" else last, adjacent=True)
            off = own if named is None else _off(bar, end, points, u, axis, named, adjacent=False)
            if drawn is not None and off is not None and own is not None:
                found.append(HoleAxis(end.side, drawn, off, own, float(np.degrees(np.arcsin(min(1.0, abs(u @ axis)))))))
        if found:
            worst = max(found, key=lambda each: abs(each.off_deg))
            out.append(replace(worst, lean_deg=max(each.lean_deg for each in found)))
    return out


def axes_unread(bar: Bar, laid: Laid, axes: Sequence[HoleAxis]) -> list[str]:
    """In words, hole axes that were measured and of which nothing is judged, though the drawing clocks them."""
    read = {axis.side for axis in axes}
    measured = {
        reading.place.removesuffix(" end").split()[-1] for reading in laid.readings if reading.what == "hole axis"
    }
    why = "points of the same measuring frame were not measured"
    if laid.points is not None and not laid.of_rows:
        why = "a point of its arm or of the bend beside it was not measured"
    return [
        f"hole axis, {end.side} end, cannot be judged: {why}"
        for end in bar.ends
        if end.side in measured - read and clocking_deg(bar, end)[0] is not None
    ]


def _off(
    bar: Bar, end: End, points: Array, u: Array, axis: Sequence[float] | None, bend: int, *, adjacent: bool
) -> float | None:
    """Deviation of a measured hole axis from its drawn clocking to a bend's plane; None where it cannot be told."""
    drawn, source = clocking_deg(bar, end, adjacent=adjacent)
    # Start and end of the straight before the bend, and of the one behind it.
    near = points[2 * bend - 2 : 2 * bend + 2]
    if axis is None or drawn is None or source == "hole" or not np.all(np.isfinite([*near, u])):
        return None
    inward = inward_of(u, np.cross(near[1] - near[0], near[3] - near[2]), end.side)
    if inward is None:
        return None
    found = float(np.degrees(np.arctan2(u @ np.cross(inward, axis), inward @ np.array(axis))))
    return -((-(found - drawn) + 90.0) % 180.0 - 90.0)
