"""Which bar the measured points are of, and how they lie in function: datums from the mounts, not from all points.

A least squares fit of all points spreads one fault over the whole bar and hides the one that preloads it. In function
the bar lies in its two outermost mounts and turns freely in them, until its outermost holes deviate by equal and
opposite amounts along the travel; what is left between them, left less right, twists the bar when it is fitted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, json_key
from barfem.vendor.inspect_shape import MIRROR, drawn_points, rigid_fit, rms

__all__ = [
    "HYPOTHESES",
    "FittedPoints",
    "Lie",
    "believed",
    "canonical",
    "fit_function",
    "fit_points",
    "form_errors",
    "match",
]

Array = NDArray[np.float64]
HYPOTHESES = (
    ("as-drawn", "as named"),
    ("as-drawn", "ends exchanged"),
    ("other", "as named"),
    ("other", "ends exchanged"),
)
"""Hand and order of the list, in the order in which they are believed; the first is what the names say."""
_STEP_MM = 1e-3
_SAME_MM = 0.01
"""An rms below this is as good as none: round numbers of a file decide nothing."""


@frozen
class Lie:
    """Which of `HYPOTHESES` the points follow, and the rms [mm] of each, points fitted by least squares."""

    hand: str
    order: str
    rms_mm: tuple[float, ...]

    @property
    def ends_swapped(self) -> bool:
        """Whether what the file calls the right end is the drawn bar's left end."""
        return (self.hand == "other") != (self.order == "ends exchanged")

    @property
    def own_rms_mm(self) -> float:
        """Rms of the reading itself."""
        return self.rms_mm[HYPOTHESES.index((self.hand, self.order))]


@frozen
class FittedPoints:
    """How far measured points lie off. `kind` function or points; `distance_mm` (p,) from the drawn ones."""

    kind: str
    distance_mm: Array = field(metadata=json_key("deviations_mm"))
    tip_mismatch_mm: float | None = field(metadata=NOT_IN_JSON)

    _json_also: ClassVar[Mapping[str, str]] = {name: name for name in ("rms_mm", "largest_mm", "at")}

    @property
    def rms_mm(self) -> float:
        return float(np.sqrt(np.nanmean(self.distance_mm**2)))

    @property
    def largest_mm(self) -> float:
        return float(np.nanmax(self.distance_mm))

    @property
    def at(self) -> int:
        """The point that is farthest off."""
        return int(np.nanargmax(self.distance_mm))


def match(measured: Array, nominal: Array) -> Lie:
    """Hand and order of measured points (p, 3) against the drawing's, NaN where a point is missing.

    Another than the named one is taken where its rms is below half, and of those within twice the best the first.
    """
    found = [_rms_of(canonical(measured, Lie(hand, order, ())), nominal) for hand, order in HYPOTHESES]
    found = [max(rms_mm, _SAME_MM) for rms_mm in found]
    hand, order = HYPOTHESES[believed(found)]
    return Lie(hand, order, tuple(found))


def believed(rms_mm: Sequence[float]) -> int:
    """Which of `HYPOTHESES` is taken, by the rms [mm] of each."""
    best = min(rms_mm)
    return 0 if best >= 0.5 * rms_mm[0] else next(i for i, each in enumerate(rms_mm) if each <= 2.0 * best)


def _rms_of(points: Array, nominal: Array) -> float:
    there = np.isfinite(points[:, 0])
    turn, shift = rigid_fit(points[there], nominal[there])
    return float(rms(np.linalg.norm(points[there] @ turn.T + shift - nominal[there], axis=1)))


def canonical(measured: Array, lie: Lie) -> Array:
    """Measured points (p, 3) as those of the bar as drawn, from its right tip: mirrored back and put in order."""
    points = measured * MIRROR if lie.hand == "other" else measured
    return points[::-1] if lie.ends_swapped else points


def fit_points(points: Array, nominal: Array) -> FittedPoints:
    """Least squares of all points there are: rotation and shift only."""
    there = np.isfinite(points[:, 0])
    turn, shift = rigid_fit(points[there], nominal[there])
    moved = points @ turn.T + shift
    return FittedPoints("points", np.linalg.norm(moved - nominal, axis=1), None)


def fit_function(
    bar: Bar, points: Array, hole_from_tip_mm: tuple[float | None, float | None] = (None, None)
) -> FittedPoints:
    """In the datums A-B-C of the mounts; every point must be there.

    Parameters
    ----------
    points
        (p, 3), canonical.
    hole_from_tip_mm
        Where the outermost hole of the right and left end was measured; None: as drawn.
    """
    nominal = drawn_points(bar)
    stations = _stations(bar)
    mounts = sorted(mount.station_mm for mount in bar.mounts)
    pair = (mounts[0], mounts[-1])
    drawn = np.array([_on_line(nominal, nominal, stations, s) for s in pair])
    found = np.array([_on_line(points, nominal, stations, s) for s in pair])
    holes_drawn = np.array([_hole(nominal, end, None) for end in bar.ends])
    holes = np.array([_hole(points, end, given) for end, given in zip(bar.ends, hole_from_tip_mm, strict=True)])
    # A and B: the axis and the middle between the mounts, along the drawing's y as far as can be.
    axis, middle = _unit(drawn[1] - drawn[0]), drawn.mean(axis=0)
    across = _perpendicular(axis)
    base = np.stack([axis, across, np.cross(axis, across)])
    own = _unit(found[1] - found[0])
    sideways = _perpendicular(own)
    frame = np.stack([own, sideways, np.cross(own, sideways)])
    local, there = (points - found.mean(axis=0)) @ frame.T, (nominal - middle) @ base.T
    local_holes, there_holes = (holes - found.mean(axis=0)) @ frame.T, (holes_drawn - middle) @ base.T
    left = np.array(bar.travel.direction)
    travel = np.stack([left * MIRROR, left]) @ base.T
    turn = _free_turn(local_holes, there_holes, travel, start=_best_turn(local, there))
    spin = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(turn), -np.sin(turn)], [0.0, np.sin(turn), np.cos(turn)]])
    moved = local @ spin.T @ base + middle
    off = np.sum((local_holes @ spin.T - there_holes) * travel, axis=1)
    return FittedPoints("function", np.linalg.norm(moved - nominal, axis=1), float(off[1] - off[0]))


def form_errors(
    bar: Bar, points: Array, hole_from_tip_mm: tuple[float | None, float | None], noise_mm: float
) -> tuple[float, float]:
    """Standard errors [mm] of the largest deviation and of the tip mismatch, coordinates good to `noise_mm`."""
    base = fit_function(bar, points, hole_from_tip_mm)
    squares = np.zeros(2)
    for index in np.ndindex(points.shape):
        moved = points.copy()
        moved[index] += _STEP_MM
        one = fit_function(bar, moved, hole_from_tip_mm)
        distance = one.distance_mm[base.at] - base.distance_mm[base.at]
        squares += np.array([distance, (one.tip_mismatch_mm or 0.0) - (base.tip_mismatch_mm or 0.0)]) ** 2
    largest, mismatch = (noise_mm / _STEP_MM * np.sqrt(squares)).tolist()
    return largest, mismatch


def _best_turn(local: Array, there: Array) -> float:
    """About the axis, by least squares."""
    a, b = local[:, 1] + 1j * local[:, 2], there[:, 1] + 1j * there[:, 2]
    return float(np.angle(np.sum(np.conj(a) * b)))


def _free_turn(local: Array, there: Array, travel: Array, *, start: float) -> float:
    """Turn about the axis at which the holes' deviations along the travel add up to zero, next to `start`."""
    y, z = travel[:, 1], travel[:, 2]
    cosine = float(np.sum(local[:, 1] * y + local[:, 2] * z))
    sine = float(np.sum(local[:, 1] * z - local[:, 2] * y))
    constant = float(np.sum(local[:, 0] * travel[:, 0]) - np.sum(there * travel))
    size, phase = float(np.hypot(cosine, sine)), float(np.arctan2(sine, cosine))
    if size <= abs(constant):
        return start
    swing = float(np.arccos(-constant / size))
    roots = np.array([phase + swing, phase - swing])
    away = (roots - start + np.pi) % (2.0 * np.pi) - np.pi
    return start + float(away[np.argmin(np.abs(away))])


def _stations(bar: Bar) -> Array:
    bends = [
        at for bend in bar.centreline.bends for at in (bend.start_station_mm, bend.start_station_mm + bend.length_mm)
    ]
    return np.array([0.0, *bends, bar.centreline.length_mm])


def _on_line(points: Array, nominal: Array, stations: Array, at: float) -> Array:
    """The point that lies at a station of the drawing: on the chord between the points beside it, by its share.

    Within a bend the drawn sagitta is added, in the plane of this chord and the straight that follows.
    """
    i = int(np.clip(np.searchsorted(stations, at, side="right") - 1, 0, len(stations) - 2))
    span = stations[i + 1] - stations[i]
    share = 0.0 if span <= 0.0 else (at - stations[i]) / span
    chord = points[i + 1] - points[i]
    here = points[i] + share * chord
    if i % 2 == 0:
        return np.asarray(here)
    angle = _turned_angle(nominal, i)
    length = np.linalg.norm(chord)
    radius = length / (2.0 * np.sin(0.5 * angle))
    sweep = share * angle
    along = radius * (np.sin(0.5 * angle) - np.sin(0.5 * angle - sweep))
    out = radius * (np.cos(0.5 * angle - sweep) - np.cos(0.5 * angle))
    u = chord / length
    leaving = points[i + 2] - points[i + 1]
    inward = _unit(leaving - (leaving @ u) * u)
    return np.asarray(points[i] + along * u - out * inward)


def _turned_angle(nominal: Array, i: int) -> float:
    before, after = _unit(nominal[i] - nominal[i - 1]), _unit(nominal[i + 2] - nominal[i + 1])
    return float(np.arccos(np.clip(before @ after, -1.0, 1.0)))


def _hole(points: Array, end: End, from_tip_mm: float | None) -> Array:
    """The middle of an end's outermost hole, on the straight from its tip."""
    tip, inner = (points[0], points[1]) if end.side == "right" else (points[-1], points[-2])
    outermost = min(hole.from_tip_mm for hole in end.holes) if from_tip_mm is None else from_tip_mm
    return np.asarray(tip + outermost * _unit(inner - tip))


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))


def _perpendicular(axis: Array) -> Array:
    other = np.eye(3)[int(np.argmin(np.abs(axis)))]
    return _unit(np.cross(axis, other))
