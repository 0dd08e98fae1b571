"""The solid of a group of bends and of the straights between, solved for its table."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from barfem.model.bent_wall import BentWall
from barfem.model.centreline import Centreline
from barfem.solve.solid.fields import SolvedPath, field_density, flexibility_reach, solve_path, stub_length
from barfem.solve.solid.flexibility import line_transfer, path_line
from barfem.solve.solid.group_table import GroupShape, GroupTable, table_stations
from barfem.solve.solid.mesh import Density
from barfem.solve.solid.profile import Profile
from barfem.solve.solid.table import ORDER, nominal_stress

__all__ = ["group_line", "solve_group"]

Array = NDArray[np.float64]


def group_line(shape: GroupShape, stub: float) -> Centreline:
    """The centreline of a group with a straight `stub` at either end, in diameters."""
    bends = [
        (bend.radius, float(np.radians(bend.angle_deg)), float(np.radians(bend.inward_deg))) for bend in shape.bends
    ]
    return path_line(bends, shape.gaps, stub)


def solve_group(
    shape: GroupShape, *, stations: Array | None = None, density: Density | None = None, stub: float | None = None
) -> GroupTable:
    """The table of a group as it stands, solved; at other `stations` than `table_stations` if given.

    Raises
    ------
    ValueError
        A bend tighter than the bar is thick.
    """
    stub = stub or stub_length(shape.wall_over_diameter)
    line = group_line(shape, stub)
    density = density or field_density(min(bend.length_mm for bend in line.bends))
    walls = tuple(BentWall(bend.wall_outside, bend.wall_inside) for bend in shape.bends)
    even = all(bend.wall_outside == 0.0 for bend in shape.bends)
    profile = Profile(1.0, shape.wall_over_diameter, () if even else walls, shape.ovality)
    path = solve_path(line, profile, density=density, nu=shape.nu)
    stations = table_stations(shape) if stations is None else stations
    at = stations + stub
    to_local = np.linalg.inv(line_transfer(line, at, path.far))
    keep = np.r_[0 : ORDER + 1, path.outside.shape[1] // 2 + 1 : path.outside.shape[1] // 2 + 1 + ORDER]

    def per_resultant(series: Array) -> Array:
        found = np.asarray(CubicSpline(path.stations, series[:, keep], axis=0)(at))
        return np.einsum("skce,ser->skcr", found, to_local) / nominal_stress(shape.wall_over_diameter)

    return GroupTable(
        shape=shape,
        stations=stations,
        outside=per_resultant(path.outside),
        bore=None if path.bore is None else per_resultant(path.bore),
        factors=_factors(path, stub),
    )


def _factors(path: SolvedPath, stub: float) -> Array:
    """Of each bend (n_bends, 3), read amid the straights beside it."""
    bends = path.line.bends
    reach = flexibility_reach(stub)
    cuts = [bends[0].start_station_mm - reach]
    cuts += [0.5 * (one.end_station_mm + two.start_station_mm) for one, two in pairwise(bends)]
    cuts.append(bends[-1].end_station_mm + reach)
    found = []
    for bend, between in zip(bends, pairwise(cuts), strict=True):
        flexibility, beam = path.flexibilities(bend, between)
        found.append(path.factors(bend, flexibility, beam))
    return np.array(found)
