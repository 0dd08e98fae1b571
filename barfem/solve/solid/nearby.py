"""Bends of many bars of one drawing: fields near the drawn bend's own, without computing one for each.

Where the drawn bend is well inside the shipped grid, each bar's bends are interpolated there, as ever. A bend outside
it, or at its border, has a field that takes seconds; thousands of bars that differ by a per cent or a few need no field
each. Theirs is the drawn bend's, changed in proportion to R / d and angle, and to t / d with its square as well, since
a wall ovalises the more the thinner it is: within 1 % of stress where all three are at the ends of usual bands (wall by
10 %), where the drawn bend's own would be 10 % off.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.solve.solid.bend_tables import BendShape, BendSource, bend_shape
from barfem.solve.solid.bend_tables import bend_source as own_source
from barfem.solve.solid.group_source import groups_near
from barfem.solve.solid.table import BendTable

__all__ = ["bend_source", "bends_near", "tangent"]

Array = NDArray[np.float64]

REACH = {"radius_over_diameter": 0.1, "angle_deg": 5.0, "wall_over_diameter": 0.15}
"""How far a bend may be from the drawn one to be told by it: shares of R / d and t / d, degrees."""

STEP = {"radius_over_diameter": 0.02, "angle_deg": 1.0, "wall_over_diameter": 0.05}
"""Steps of the differences, in the same measures: as wide as usual tolerances."""

SQUARED = ("wall_over_diameter",)

SHARES = ("radius_over_diameter", "wall_over_diameter")


@frozen(eq=False)
class _Gain:
    """What a table gains by a unit of the measure `name`, to the power `power`."""

    name: str
    power: int
    outside: Array
    bore: Array | None
    factors: Array


@frozen(eq=False)
class Tangent:
    """The drawn bend's source, and what its table gains on the way to bends near it."""

    shape: BendShape
    source: BendSource
    gains: tuple[_Gain, ...]

    def at(self, shape: BendShape, away: dict[str, float]) -> BendSource:
        """The source of a bend that differs by `away`."""
        table = self.source.table
        if table is None:
            return self.source
        outside, bore, factors = table.outside, table.bore, table.factors
        for gain in self.gains:
            size = away[gain.name] ** gain.power
            outside, factors = outside + size * gain.outside, factors + size * gain.factors
            if bore is not None and gain.bore is not None:
                bore = bore + size * gain.bore
        near = BendTable(
            radius_over_diameter=shape.radius_over_diameter,
            angle_deg=shape.angle_deg,
            wall_over_diameter=shape.wall_over_diameter,
            outside=outside,
            bore=bore,
            factors=factors,
        )
        return replace(self.source, table=near)


_TANGENTS: ContextVar[tuple[Tangent, ...]] = ContextVar("tangents", default=())


@contextmanager
def bends_near(bar: Bar) -> Iterator[None]:
    """Within it `bend_source` tells bends near those of `bar` by them, where they are not well inside the grid.

    Groups of bends are told by those of `bar` wherever they lie.
    """
    shapes = dict.fromkeys(bend_shape(bar, bend) for bend in bar.centreline.bends)
    token = _TANGENTS.set(tuple(tangent(shape) for shape in shapes if not _well_inside(shape)))
    try:
        with groups_near(bar):
            yield
    finally:
        _TANGENTS.reset(token)


def bend_source(shape: BendShape) -> BendSource:
    """`barfem.solve.solid.bend_tables.bend_source`, or within `bends_near` the nearest of its bends taken further."""
    best: tuple[float, Tangent, dict[str, float]] | None = None
    for each in _TANGENTS.get():
        away = _away(each.shape, shape)
        if away is None:
            continue
        distance = max(abs(size) / REACH[name] for name, size in away.items())
        if distance <= 1.0 and (best is None or distance < best[0]):
            best = distance, each, away
    return own_source(shape) if best is None else best[1].at(shape, best[2])


@lru_cache(maxsize=64)
def tangent(shape: BendShape) -> Tangent:
    """The bend and what its table gains: differences to bends a step away, told by the same source as itself."""
    source = own_source(shape)
    if source.table is None:
        return Tangent(shape, source, ())
    gains: list[_Gain] = []
    for name, step in STEP.items():
        if getattr(shape, name) is None:
            continue
        beside = (
            (size, table)
            for size in (step, -step)
            if (near := _moved(shape, {name: size})).in_grid == shape.in_grid
            and (table := own_source(near).table) is not None
        )
        gains += _gains(name, source.table, list(itertools.islice(beside, 2 if name in SQUARED else 1)))
    return Tangent(shape, source, tuple(gains))


def _gains(name: str, table: BendTable, sides: list[tuple[float, BendTable]]) -> list[_Gain]:
    """Of one side the difference; of two sides the parabola's slope and half its curvature."""
    if not sides:
        return []
    tables = [table, *(side for _, side in sides)]
    h = sides[0][0]
    weights = {1: np.array([-1.0, 1.0]) / h}
    if len(sides) == 2:
        weights = {1: np.array([0.0, 0.5, -0.5]) / h, 2: np.array([-1.0, 0.5, 0.5]) / h**2}

    def sum_of(weight: Array, arrays: list[Array]) -> Array:
        return np.asarray(np.tensordot(weight, np.stack(arrays), axes=1))

    found = []
    for power, weight in weights.items():
        bores = [each.bore for each in tables if each.bore is not None]
        found.append(
            _Gain(
                name,
                power,
                sum_of(weight, [each.outside for each in tables]),
                sum_of(weight, bores) if bores else None,
                sum_of(weight, [each.factors for each in tables]),
            )
        )
    return found


def _moved(shape: BendShape, away: dict[str, float]) -> BendShape:
    """The shape changed; measured walls go with the wall, as they do in bars of one drawing."""
    sizes = {
        name: getattr(shape, name) * (1.0 + size) if name in SHARES else getattr(shape, name) + size
        for name, size in away.items()
    }
    moved = replace(shape, **sizes)
    thicker = 1.0 + away.get("wall_over_diameter", 0.0)
    return replace(
        moved,
        measured_outside=shape.measured_outside * thicker,
        measured_inside=shape.measured_inside * thicker,
    )


def _away(drawn: BendShape, shape: BendShape) -> dict[str, float] | None:
    """How far `shape` is from the drawn one, in the measures of `REACH`; None where it is of another kind."""
    kind = (drawn.wall_rule, drawn.ovality, drawn.nu, drawn.wall_over_diameter is None)
    if kind != (shape.wall_rule, shape.ovality, shape.nu, shape.wall_over_diameter is None):
        return None
    away = {
        "radius_over_diameter": shape.radius_over_diameter / drawn.radius_over_diameter - 1.0,
        "angle_deg": shape.angle_deg - drawn.angle_deg,
    }
    if drawn.wall_over_diameter is not None and shape.wall_over_diameter is not None:
        away["wall_over_diameter"] = shape.wall_over_diameter / drawn.wall_over_diameter - 1.0
    return away


def _well_inside(shape: BendShape) -> bool:
    """Whether the grid holds every bend within reach of this one."""
    if not shape.in_grid:
        return False
    names = [name for name in REACH if getattr(shape, name) is not None]
    corners = itertools.product(*((-REACH[name], REACH[name]) for name in names))
    return all(_moved(shape, dict(zip(names, corner, strict=True))).in_grid for corner in corners)
