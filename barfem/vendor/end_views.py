"""The ends of the bar in a view: flat, transition and holes as they are seen, and the holes' centre lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End

__all__ = ["end_shapes"]

Array = NDArray[np.float64]
FACING = 0.35  # cosine of the hole axis to the line of sight, from which on a hole is drawn as an ellipse


def end_shapes(bar: Bar, end: End, onto: Array) -> tuple[list[Array], list[Array]]:
    """Outlines (n, 2) of an end's flat, transition and holes, and centre lines of its holes.

    `onto` (2, 3) are the view's axes. A hole in a round end has no axis: its centre line lies across the bar as seen.
    """
    line, flat = bar.centreline, end.flat
    at = 0.0 if end.side == "right" else line.length_mm
    tip, frames = line.evaluate(at)
    inward = frames[0, 0] if end.side == "right" else -frames[0, 0]
    holes = {hole.from_tip_mm: hole.diameter_mm for hole in end.holes}
    radius = 0.5 * bar.section.diameter_mm
    circle = np.linspace(0.0, 2.0 * np.pi, 49)
    if flat is None:
        across = _across_sight(inward, onto)
        return [], [
            np.array([tip[0] + d * inward + sign * (radius + 4.0) * across for sign in (-1.0, 1.0)]) @ onto.T
            for d in holes
        ]
    n = np.array(flat.normal)
    w = np.cross(n, inward)
    half_w, half_t = 0.5 * flat.width_mm, 0.5 * flat.thickness_mm
    rectangle = np.array([a * half_w * w + b * half_t * n for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1))])
    full = flat.length_mm - flat.transition_mm
    near, far = tip[0] + rectangle, tip[0] + full * inward + rectangle
    u, v = frames[0, 1], frames[0, 2]
    ring = tip[0] + flat.length_mm * inward + radius * (np.cos(circle)[:, None] * u + np.sin(circle)[:, None] * v)
    shapes = [_hull(np.concatenate([near, far]) @ onto.T), _hull(np.concatenate([far, ring]) @ onto.T)]
    sight = np.cross(onto[0], onto[1])
    centre = []
    for d, size in holes.items():
        middle = tip[0] + d * inward
        facing = float(n @ sight)
        if size is not None and abs(facing) > FACING:
            face = middle + np.sign(facing) * half_t * n
            rim = face + 0.5 * size * (np.cos(circle)[:, None] * inward + np.sin(circle)[:, None] * w)
            shapes.append(rim @ onto.T)
            reach = 0.5 * size + 3.0
            centre.append(np.array([face - reach * w, face + reach * w]) @ onto.T)
        else:
            centre.append(np.array([middle - (half_t + 6.0) * n, middle + (half_t + 6.0) * n]) @ onto.T)
    return shapes, centre


def _across_sight(along: Array, onto: Array) -> Array:
    """Unit vector across a direction and across the line of sight."""
    across = np.cross(np.cross(onto[0], onto[1]), along)
    size = float(np.linalg.norm(across))
    return np.asarray(across / size) if size > 1e-6 else np.asarray(onto[1])


def _hull(points: Array) -> Array:
    """Convex hull (m, 2) of points (n, 2), closed (monotone chain)."""
    ordered = sorted({(round(float(x), 9), round(float(y), 9)) for x, y in points})
    if len(ordered) < 3:
        return np.array([*ordered, ordered[0]])

    def chain(run: list[tuple[float, float]]) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        for p in run:
            while len(out) > 1 and _turn(out[-2], out[-1], p) <= 1e-9:
                out.pop()
            out.append(p)
        return out

    lower, upper = chain(ordered), chain(ordered[::-1])
    return np.array([*lower[:-1], *upper])


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
