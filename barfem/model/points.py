"""A centreline from the points where the axes of its straights meet, and the bend radius at each of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.centreline import Centreline, Segment
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import counted
from barfem.model.vectors import cross

__all__ = ["STRAIGHT_DEG", "Polyline", "corner_angles", "polyline", "polyline_centreline", "start_frame"]

Array = NDArray[np.float64]

STRAIGHT_DEG = 0.01
"""A corner below this angle is no bend: at 50 mm radius its arc would be shorter than 0.01 mm."""
COINCIDENT_MM = 1e-3
OVERLAP_MM = 1e-9  # of rounding, per mm of straight


@frozen
class Polyline:
    """Corner points (n, 3) in mm from the right tip to the left tip, and a radius (n - 2,) for each interior one.

    `straight_points` are the numbers (1 is the first) of points as given that lie on a straight and were left out.
    """

    points_mm: Array
    bend_radii_mm: Array
    straight_points: tuple[int, ...] = ()


def corner_angles(points_mm: Array) -> Array:
    """Angle (n - 2,) in rad by which the direction changes at each interior point; exact near 0 and near pi."""
    along = np.diff(points_mm, axis=0)
    size = np.linalg.norm(cross(along[:-1], along[1:]), axis=1)
    return np.arctan2(size, np.sum(along[:-1] * along[1:], axis=1))


def start_frame(direction: ArrayLike) -> Array:
    """Frame (3, 3), rows t, a, b, at the right tip of a bar that starts along `direction`.

    b points up as far as t allows (forward where t is within about 25 deg of vertical), a = b x t.
    """
    t = np.asarray(direction, float)
    t = t / np.linalg.norm(t)
    up = np.array([0.0, 0.0, 1.0]) if abs(t[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    b = up - (up @ t) * t
    b /= np.linalg.norm(b)
    return np.array([t, cross(b, t), b])


def polyline(*, points_mm: ArrayLike, bend_radii_mm: ArrayLike) -> Polyline:
    """Check points and radii, spread a single radius over all corners, and leave out points on a straight.

    Raises
    ------
    InputError
        Fewer than two points, numbers that are not finite, points that coincide, a straight that doubles back, a
        radius that is not positive, or a number of radii that does not fit.
    """
    points = np.asarray(points_mm, float)
    if points.ndim != 2 or points.shape[1:] != (3,) or len(points) < 2:
        raise InputError(
            f"a centreline needs at least two points of three coordinates; {len(points)} given.",
            expected="the right tip, the corner points in order, and the left tip, each as [x, y, z] in mm.",
        )
    corners = len(points) - 2
    radii = np.atleast_1d(np.asarray(bend_radii_mm, float))
    if np.ndim(bend_radii_mm) == 0:
        radii = np.full(corners, radii[0])
    if radii.shape != (corners,):
        raise InputError(
            f"bend_radius lists {radii.size} radi{'us' if radii.size == 1 else 'i'}, but there "
            f"{'is' if corners == 1 else 'are'} {counted(corners, 'interior point')}.",
            expected=f"one radius for all bends, or {corners}, one for each interior point in order.",
        )
    if not (np.isfinite(points).all() and np.isfinite(radii).all() and (radii > 0).all()):
        raise InputError(
            "a coordinate is not finite, or a bend_radius is not above zero.",
            expected="finite coordinates and radii above zero, in mm.",
        )
    apart = np.linalg.norm(np.diff(points, axis=0), axis=1)
    if (apart < COINCIDENT_MM).any():
        i = int(np.argmin(apart))
        raise InputError(
            f"points {i + 1} and {i + 2} coincide at {_xyz(points[i])}.",
            expected="each point once; neighbours apart by the straight between them.",
        )
    kept = np.arange(len(points))
    while len(kept) > 2:
        angles = corner_angles(points[kept])
        on_straight = np.flatnonzero(angles < np.radians(STRAIGHT_DEG))
        if not on_straight.size:
            break
        kept = np.delete(kept, on_straight[0] + 1)
    if len(kept) > 2:
        angles = corner_angles(points[kept])
        if (angles > np.radians(180.0 - STRAIGHT_DEG)).any():
            i = int(np.argmax(angles))
            raise InputError(
                f"the bar doubles back on itself at point {kept[i + 1] + 1}, {_xyz(points[kept[i + 1]])} (a bend of "
                "180 deg has no corner point).",
                expected="a corner below 180 deg, or a hairpin written as a row of [bends] or as two corners.",
            )
    straight = tuple(int(i) + 1 for i in np.delete(np.arange(len(points)), kept))
    return Polyline(points[kept], radii[kept[1:-1] - 1], straight)


def polyline_centreline(*, points_mm: ArrayLike, bend_radii_mm: ArrayLike) -> Centreline:
    """Centreline of straights and true arcs through a polyline of tangent intersections.

    Parameters
    ----------
    points_mm : (n, 3)
        Right tip, corner points, left tip.
    bend_radii_mm : scalar or (n - 2,)
        Centreline radius of each bend.

    Raises
    ------
    InputError
        As `polyline`, and where two arcs, or an arc and a tip, need more than the straight between their corners:
        a bend of angle A and radius R takes R tan(A / 2) of each straight beside it.
    """
    line = polyline(points_mm=points_mm, bend_radii_mm=bend_radii_mm)
    points, radii = line.points_mm, line.bend_radii_mm
    along = np.diff(points, axis=0)
    apart = np.linalg.norm(along, axis=1)
    along = along / apart[:, None]
    angles = corner_angles(points)
    tangents = np.concatenate([[0.0], radii * np.tan(angles / 2.0), [0.0]])
    straights = apart - tangents[:-1] - tangents[1:]
    _refuse_overlap(straights, apart, tangents, angles)

    segments: list[Segment] = []
    frame, station = start_frame(along[0]), 0.0
    for i in range(len(apart)):
        if straights[i] > OVERLAP_MM * apart[i]:
            start = points[i] + tangents[i] * along[i]
            segments.append(Segment(station, float(straights[i]), _tuple(start), _rows(frame)))
            station = segments[-1].end_station_mm
        if i < len(radii):
            inward = along[i + 1] - (along[i + 1] @ along[i]) * along[i]
            start = points[i + 1] - tangents[i + 1] * along[i]
            bend = Segment(
                station,
                float(radii[i] * angles[i]),
                _tuple(start),
                _rows(frame),
                radius_mm=float(radii[i]),
                inward_angle_rad=float(np.arctan2(inward @ frame[2], inward @ frame[1])),
                bend=i + 1,
            )
            segments.append(bend)
            station = bend.end_station_mm
            frame = bend.evaluate(np.array([bend.length_mm]))[1][0]
    return Centreline(tuple(segments))


def _refuse_overlap(straights: Array, apart: Array, tangents: Array, angles: Array) -> None:
    short = np.flatnonzero(straights < -OVERLAP_MM * apart)
    if not short.size:
        return
    i = int(short[0])
    sides = [j for j in (i, i + 1) if tangents[j] > 0.0]
    names = " and ".join(f"bend {j} ({np.degrees(angles[j - 1]):.4g} deg)" for j in sides)
    lengths = " + ".join(f"{tangents[j]:.4g}" for j in sides)
    between = {0: "the right tip and bend 1", len(apart) - 1: f"bend {len(apart) - 1} and the left tip"}.get(
        i, f"corners {i} and {i + 1}"
    )
    largest = apart[i] / sum(np.tan(angles[j - 1] / 2.0) for j in sides)
    what = f"arcs of {names} overlap: they take" if len(sides) > 1 else f"arc of {names} runs past the tip: it takes"
    raise InputError(
        f"the {what} {lengths} mm (radius x tan(angle / 2)) of the {apart[i]:.4g} mm between {between}.",
        expected=f"bend_radius at most {_down(largest)} mm here, or points farther apart.",
    )


def _down(value: float) -> str:
    """Four significant figures, rounded down, so that the number itself is allowed."""
    step = 10.0 ** (np.floor(np.log10(value)) - 3)
    return f"{np.floor(value / step) * step:.4g}"


def _xyz(point: Array) -> str:
    return "[" + ", ".join(f"{value:g}" for value in point) + "]"


def _tuple(vector: Array) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])


def _rows(frame: Array) -> tuple[tuple[float, float, float], ...]:
    return tuple(_tuple(row) for row in frame)
