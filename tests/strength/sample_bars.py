"""Bars for the stress tests, built straight from the dataclasses, and resultants of a statically determinate load."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End, Flat, Hole, Link, Mount, Section, Travel
from barfem.model.material import Steel
from barfem.model.points import polyline_centreline
from barfem.strength.places import Samples

Array = NDArray[np.float64]

PLANAR = ((-250.0, -500.0, 0.0), (0.0, -500.0, 0.0), (0.0, 500.0, 0.0), (-250.0, 500.0, 0.0))
CRANKED = (
    (-250.0, -500.0, 30.0),
    (0.0, -480.0, 0.0),
    (0.0, -300.0, 0.0),
    (40.0, -200.0, 60.0),
    (40.0, 200.0, 60.0),
    (0.0, 300.0, 0.0),
    (0.0, 480.0, 0.0),
    (-250.0, 500.0, 30.0),
)
ROUND = Section("round", 24.0)
TUBE = Section("tube", 26.0, 3.5)
FORGED = Flat("forged", 12.0, 40.0, 95.0, 25.0, (0.0, 1.0, 0.0))
PRESSED = Flat("pressed", 10.0, 36.0, 95.0, 25.0, (0.0, 0.0, 1.0))
NU = 0.3
YIELD_MPA, TENSILE_MPA = 1200.0, 1350.0


def make_bar(
    *,
    points: tuple[tuple[float, float, float], ...] = PLANAR,
    section: Section = ROUND,
    flat: Flat | None = None,
    radius: float = 48.0,
    holes: tuple[tuple[str, float, float | None], ...] = (("1", 20.0, 12.0), ("2", 45.0, 12.0)),
    mounts: tuple[float, ...] = (-380.0, 380.0),
    mount_length: float = 40.0,
    strength_scale: float = 1.0,
) -> Bar:
    centreline = polyline_centreline(points_mm=points, bend_radii_mm=radius)
    length = centreline.length_mm

    def end(side: str) -> End:
        own = tuple(Hole(name, at, at if side == "right" else length - at, diameter) for name, at, diameter in holes)
        return End(side, own, flat, strength_scale)  # type: ignore[arg-type]

    return Bar(
        name="made up",
        steel=Steel("made up", "made up", 206000.0, NU, 7850.0, YIELD_MPA, TENSILE_MPA),
        section=section,
        centreline=centreline,
        right=end("right"),
        left=end("left"),
        mounts=tuple(Mount(length / 2.0 + x, x, 5000.0, 200.0, length_mm=mount_length) for x in mounts),
        right_link=Link("right", 140.0, (0.0, 0.0, -1.0)),
        left_link=Link("left", 140.0, (0.0, 0.0, -1.0)),
        travel=Travel(40.0, 40.0, 40.0, (0.0, 0.0, 1.0)),
    )


def roll_resultants(bar: Bar, samples: Samples, *, hole: int = 0, force_N: float = 1000.0) -> Array:
    """Resultants (n, 6) by statics: vertical opposite forces at a hole pair, two mounts as points that only push."""
    right, left = bar.right.holes[hole].station_mm, bar.left.holes[hole].station_mm
    first, last = bar.mounts[0].station_mm, bar.mounts[-1].station_mm
    stations = np.array([right, first, last, left])
    at = bar.centreline.evaluate(stations)[0]
    reaction = force_N * (at[3, 1] - at[0, 1]) / (at[2, 1] - at[1, 1])
    here = np.empty((len(samples.station_mm), 3))
    for i in np.unique(samples.segment):
        part = bar.centreline.segments[i]
        on = samples.segment == i
        here[on] = part.evaluate(samples.station_mm[on] - part.start_station_mm)[0]
    out = np.zeros((len(here), 6))
    for station, point, up in zip(stations, at, [-force_N, reaction, -reaction, force_N], strict=True):
        inboard = np.clip(0.5 + (station - samples.station_mm) / 1e-6, 0.0, 1.0)  # half of it at the force itself
        force = up * inboard[:, None] * np.array([0.0, 0.0, 1.0])
        out[:, :3] += np.einsum("nij,nj->ni", samples.frame, force)
        out[:, 3:] += np.einsum("nij,nj->ni", samples.frame, np.cross(point - here, force))
    return out
