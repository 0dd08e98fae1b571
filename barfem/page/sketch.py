"""The drawing as lines: the centreline in plan and front view, and the points that can be dragged.

A *handle* is a point with the keys that its coordinates are: a drag by d mm along x changes the key of x by its factor
times d. Mirrored points move together, as the two sides of a bar do.
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
        "handles": _of_points(tables) if "centreline" in tables else _of_arms(tables),
    }  # fmt: skip


def _of_points(tables: Tables) -> list[dict[str, Any]]:
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


def _of_arms(tables: Tables) -> list[dict[str, Any]]:
    """Both tips of [arms]: x is the arm's length, y half the width, z the rise."""
    arms = tables.get("arms")
    if arms is None:
        return []
    width, length, rise = (_mm(arms.get(key, 0.0)) for key in ("width", "length", "rise"))
    if width is None or length is None or rise is None:
        return []
    return [
        {
            "name": f"{name} tip",
            "at": [-length, side * 0.5 * width, rise],
            "moves": [
                {"axis": "x", "keys": [{"key": "arms.length", "value": length, "factor": -1.0}]},
                {"axis": "y", "keys": [{"key": "arms.width", "value": width, "factor": 2.0 * side}]},
                {"axis": "z", "keys": [{"key": "arms.rise", "value": rise, "factor": 1.0}]},
            ],
        }
        for name, side in (("right", -1.0), ("left", 1.0))
    ]


def _mm(value: Any) -> float | None:
    try:
        return number(value, "length")
    except InputError:
        return None
