"""The drawing as lines: the centreline in plan and front view, and the points that can be dragged.

A *handle* is a point with the keys that its coordinates are: a drag by d mm along x changes the key of x by its factor
times d. Mirrored points move together, as the two sides of a bar do. The ends of a bender's straights move along them:
a drag by d mm that way changes the length of the row, and all that the bender bends after it goes along.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.units import number

__all__ = ["sketch_of"]

Tables = Mapping[str, Any]
POINTS = 160


def sketch_of(bar: Bar, tables: Tables) -> dict[str, Any]:
    """`line` (n, 3) mm right tip first; `mounts`, `holes` and `pickups` as points; `handles` with their keys."""
    stations = np.linspace(0.0, bar.centreline.length_mm, POINTS)
    line, _ = bar.centreline.evaluate(stations)
    mounts, _ = bar.centreline.evaluate([mount.station_mm for mount in bar.mounts])
    ends = [hole for end in (bar.right, bar.left) for hole in end.holes]
    holes, _ = bar.centreline.evaluate([hole.station_mm for hole in ends])
    return {
        "line": np.round(line, 1).tolist(),
        "diameter": bar.section.diameter_mm,
        "mounts": np.round(mounts, 1).tolist(),
        "holes": [
            {"name": hole.name, "at": place}
            for hole, place in zip(ends, np.round(holes, 1).tolist(), strict=True)
        ],
        "handles": next((of(bar, tables) for name, of in HANDLES.items() if name in tables), []),
    }  # fmt: skip


def _of_points(bar: Bar, tables: Tables) -> list[dict[str, Any]]:
    points = [[_mm(value) for value in point] for point in tables["centreline"]["points"]]
    if any(value is None for point in points for value in point):
        return []
    at = np.array(points, float)
    mirror = bool(np.allclose(at[::-1] * [1.0, -1.0, 1.0], at, atol=1e-9))
    handles = []
    for i, point in enumerate(at.tolist()):
        other = len(at) - 1 - i
        moves = []
        for axis, name in enumerate("xyz"):
            keys = [{"key": f"centreline.points.{i + 1}.{axis + 1}", "value": point[axis], "factor": 1.0}]
            if mirror and other != i:
                sign = -1.0 if axis == 1 else 1.0
                key = f"centreline.points.{other + 1}.{axis + 1}"
                keys.append({"key": key, "value": sign * point[axis], "factor": sign})
            if mirror and other == i and axis == 1:
                continue  # the middle stays in the middle
            moves.append({"axis": name, "keys": keys})
        handles.append({"name": f"point {i + 1}", "at": point, "moves": moves})
    return handles


def _of_arms(bar: Bar, tables: Tables) -> list[dict[str, Any]]:
    """Both tips of [arms], x the arm's length, y half the width, z the rise; and both ends of a cranked middle."""
    arms = tables["arms"]
    crank = arms.get("crank") or {}
    ends = [("tip", -1.0, 0.5, "arms.length", "arms.width", "arms.rise", arms)]
    ends += [("crank", 1.0, 1.0, "arms.crank.x", "arms.crank.inner", "arms.crank.z", crank)] if crank else []
    handles = []
    for name, forward, half, *keys, table in ends:
        x, y, z = (_mm(table.get(key.rpartition(".")[2], 0.0)) for key in keys)
        if x is None or y is None or z is None:
            continue
        for side, sign in (("right", -1.0), ("left", 1.0)):
            factors = (forward, sign / half, 1.0)
            handles.append(
                {
                    "name": f"{side} {name}",
                    "at": [forward * x, sign * half * y, z],
                    "moves": [
                        {"axis": axis, "keys": [{"key": key, "value": value, "factor": factor}]}
                        for axis, key, value, factor in zip("xyz", keys, (x, y, z), factors, strict=True)
                    ],
                }
            )
    return handles


def _of_rows(bar: Bar, tables: Tables) -> list[dict[str, Any]]:
    """The end of each straight in the bender's order, which moves along it: the row's length."""
    bends = tables["bends"]
    try:
        rows = [
            (number(row[0], "length"), *(number(row[i], kind) for i, kind in ((2, "angle"), (3, "length"))))
            if len(row) > 1
            else (number(row[0], "length"), 0.0, 0.0)
            for row in bends["rows"]
        ]
    except InputError:
        return []
    lengths, angles, radii = np.array(rows, float).T
    arcs = np.concatenate([[0.0], np.cumsum(np.radians(angles) * radii)[:-1]])
    walked = np.cumsum(lengths) + arcs
    backwards = bends.get("start_tip", "right") == "left"
    at, frames = bar.centreline.evaluate(np.clip(walked[-1] - walked if backwards else walked, 0.0, None))
    ways = (-1.0 if backwards else 1.0) * frames[:, 0]
    return [
        {
            "name": f"end of straight {i}",
            "at": np.round(point, 3).tolist(),
            "moves": [
                {
                    "along": np.round(way, 6).tolist(),
                    "label": f"row {i}, length",
                    "keys": [{"key": f"bends.rows.{i}.1", "value": float(length), "factor": 1.0}],
                }
            ],
        }
        for i, (point, way, length) in enumerate(zip(at, ways, lengths, strict=True), start=1)
    ]


HANDLES = {"centreline": _of_points, "arms": _of_arms, "bends": _of_rows}


def _mm(value: Any) -> float | None:
    try:
        return number(value, "length")
    except InputError:
        return None
