"""The tables of a bar's groups of bends: each group's own, or within `groups_near` the drawn group's taken further.

Thousands of bars of one drawing, each a little off, need no solid each: theirs is the drawn group's table, changed in
proportion to each bend's R / d, angle and direction, to the straights between, and to t / d with its square as well:
within 0.5 % of stress where t / d is 5 % off, R / d 2 %, angles a degree and straights 0.04 d at once (measured, t / d
0.115, at right angles).
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bent_wall import wall_by_rule
from barfem.model.frozen import frozen
from barfem.solve.solid.group_table import GroupBend, GroupShape, GroupTable
from barfem.solve.solid.groups import BendGroup, GroupSource, bend_groups, kept_group, solved_group
from barfem.solve.solid.table import REACH_DIAMETERS
from barfem.solve.solid.threads import one_blas_thread

__all__ = ["group_sources", "groups_near"]

Array = NDArray[np.float64]

# Each measure's reach and step: shares of t / d and R / d, degrees, diameters of straight.
REACHES = {"wall": 0.15, "radius": 0.1, "angle": 5.0, "inward": 5.0, "gap": 0.15}
STEPS = {"wall": 0.05, "radius": 0.02, "angle": 1.0, "inward": 1.0, "gap": 0.03}


def group_sources(bar: Bar) -> tuple[tuple[BendGroup, GroupSource], ...]:
    """Each group of a bar and its table; those that must be solved (half a second for two bends) at the same time."""
    groups = bend_groups(bar)
    if not groups:
        return ()
    near = {group.shape: source for group in groups if (source := _nearby(group.shape)) is not None}
    own = list(dict.fromkeys(group.shape for group in groups if group.shape not in near))
    solved = dict(zip(own, _at_once(solved_group, own), strict=True))
    return tuple((group, _seen(near.get(group.shape) or solved[group.shape], group)) for group in groups)


def _seen(source: GroupSource, group: BendGroup) -> GroupSource:
    if source.table is None:
        return source
    if not (group.backwards or group.mirrored):
        return source
    backwards, mirrored = source.table.reversed_ ^ group.backwards, source.table.mirrored ^ group.mirrored
    return replace(source, table=replace(source.table, reversed_=backwards, mirrored=mirrored))


def _at_once(work, items: Sequence) -> list:  # type: ignore[no-untyped-def]
    if len(items) < 2:
        return [work(item) for item in items]
    # BLAS heeds a limit that the first thread sets, not one that a worker does.
    with one_blas_thread(), ThreadPoolExecutor(min(len(items), os.cpu_count() or 1)) as pool:
        return list(pool.map(work, items))


@frozen(eq=False)
class _Tangent:
    """The drawn group's table, and what it gains by a unit of each measure (outside, bore, factors), to a power."""

    source: GroupSource
    gains: tuple[tuple[int, int, tuple[Array, Array | None, Array]], ...]

    def at(self, shape: GroupShape, away: Array) -> GroupSource:
        """The table of a group that differs by `away` (in measures' units)."""
        table = self.source.table
        if table is None:
            return self.source
        outside, bore, factors = table.outside, table.bore, table.factors
        for number, power, (more_outside, more_bore, more_factors) in self.gains:
            size = away[number] ** power
            outside, factors = outside + size * more_outside, factors + size * more_factors
            if bore is not None and more_bore is not None:
                bore = bore + size * more_bore
        stations = _carried(table.stations, table.shape, shape)
        near = replace(table, shape=shape, stations=stations, outside=outside, bore=bore, factors=factors)
        return replace(self.source, table=near)


_TANGENTS: ContextVar[tuple[_Tangent, ...]] = ContextVar("group tangents", default=())


@contextmanager
def groups_near(bar: Bar) -> Iterator[None]:
    """Within it groups near those of `bar` are told by them."""
    shapes = list(dict.fromkeys(group.shape for group in bend_groups(bar)))
    token = _TANGENTS.set(tuple(_tangent(shape) for shape in shapes))
    try:
        yield
    finally:
        _TANGENTS.reset(token)


def _nearby(shape: GroupShape) -> GroupSource | None:
    """The table of a group within reach of a drawn one, seen from whichever side it is nearest."""
    best: tuple[float, _Tangent, GroupShape, Array, bool, bool] | None = None
    for each in _TANGENTS.get():
        if (drawn := each.source.table) is None:
            continue
        for seen, backwards, mirrored in shape.variants:
            away = _away(drawn.shape, seen)
            if away is None:
                continue
            distance = float(np.abs(away / _per_measure(seen, REACHES)).max())
            if distance <= 1.0 and (best is None or distance < best[0]):
                best = distance, each, seen, away, backwards, mirrored
    if best is None:
        return None
    _, each, seen, away, backwards, mirrored = best
    found = each.at(seen, away)
    return replace(found, table=replace(found.table, reversed_=backwards, mirrored=mirrored)) if found.table else found


@lru_cache(maxsize=16)
def _tangent(shape: GroupShape) -> _Tangent:
    """A group and what its table gains: differences to groups a step away, the wall's on both sides."""
    source = solved_group(shape)
    if source.table is None:
        return _Tangent(source, ())
    steps = _per_measure(shape, STEPS)
    tube = shape.wall_over_diameter is not None
    moves = [
        (number, sign) for number in range(len(steps)) for sign in ((1.0, -1.0) if tube and number == 0 else (1.0,))
    ]

    def beside(move: tuple[int, float]) -> GroupSource:
        number, sign = move
        near = _moved(shape, sign * steps * (np.arange(len(steps)) == number))
        stations = _carried(source.table.stations, shape, near) if source.table else np.zeros(0)
        return kept_group(near, stations, f"{near!r} as {shape!r}")

    found = dict(zip(moves, _at_once(beside, moves), strict=True))

    def parts(table: GroupTable) -> list[Array | None]:
        return [table.outside, table.bore, table.factors]

    own, gains = parts(source.table), []
    for number, h in enumerate(steps.tolist()):
        sides = [found[number, sign].table for sign in (1.0, -1.0) if (number, sign) in found]
        if any(side is None for side in sides):
            continue
        high, *low = [parts(side) for side in sides if side is not None]
        weights = (
            {1: (0.0, 0.5 / h, -0.5 / h), 2: (-1.0 / h**2, 0.5 / h**2, 0.5 / h**2)}
            if low
            else {1: (-1.0 / h, 1.0 / h, 0.0)}
        )
        for power, (here, up, down) in weights.items():
            gain = [
                None if a is None or b is None or c is None else here * a + up * b + down * c
                for a, b, c in zip(own, high, low[0] if low else high, strict=True)
            ]
            gains.append((number, power, tuple(gain)))
    return _Tangent(source, tuple(gains))  # type: ignore[arg-type]


def _per_measure(shape: GroupShape, sizes: dict[str, float]) -> Array:
    """A size for each measure of a group: t / d of a tube, each R / d, angle, direction but the first, straight."""
    n = len(shape.bends)
    wall = [] if shape.wall_over_diameter is None else [sizes["wall"]]
    many = (("radius", n), ("angle", n), ("inward", n - 1), ("gap", n - 1))
    return np.array([*wall, *(sizes[name] for name, count in many for _ in range(count))])


def _away(drawn: GroupShape, shape: GroupShape) -> Array | None:
    """How far a group is from the drawn one, in measures; None where it is of another kind."""
    tube = drawn.wall_over_diameter is not None
    if (len(drawn.bends), drawn.ovality, drawn.nu, tube) != (
        len(shape.bends),
        shape.ovality,
        shape.nu,
        shape.wall_over_diameter is not None,
    ):
        return None
    pairs = list(zip(drawn.bends, shape.bends, strict=True))
    out = [] if not tube else [float(shape.wall_over_diameter or 0.0) / float(drawn.wall_over_diameter or 1.0) - 1.0]
    out += [two.radius / one.radius - 1.0 for one, two in pairs]
    out += [two.angle_deg - one.angle_deg for one, two in pairs]
    out += [(two.inward_deg - one.inward_deg + 180.0) % 360.0 - 180.0 for one, two in pairs[1:]]
    out += [two - one for one, two in zip(drawn.gaps, shape.gaps, strict=True)]
    return np.array(out)


def _moved(shape: GroupShape, away: Array) -> GroupShape:
    """The shape changed by so much of each measure; walls as bent by the rule stay so, others go with the wall."""
    n = len(shape.bends)
    tube = shape.wall_over_diameter is not None
    thicker, rest = (1.0 + float(away[0]), away[1:]) if tube else (1.0, away)
    wall = None if shape.wall_over_diameter is None else shape.wall_over_diameter * thicker
    bends = []
    for k, bend in enumerate(shape.bends):
        radius = bend.radius * (1.0 + float(rest[k]))
        outside, inside = bend.wall_outside * thicker, bend.wall_inside * thicker
        if wall is not None and shape.wall_over_diameter is not None:
            rule = wall_by_rule(wall=shape.wall_over_diameter, diameter=1.0, radius=bend.radius)
            if np.allclose((rule.outside, rule.inside), (bend.wall_outside, bend.wall_inside), rtol=1e-6):
                new = wall_by_rule(wall=wall, diameter=1.0, radius=radius)
                outside, inside = new.outside, new.inside
        turn = float(rest[2 * n + k - 1]) if k else 0.0
        bends.append(GroupBend(radius, bend.angle_deg + float(rest[n + k]), bend.inward_deg + turn, outside, inside))
    gaps = tuple(gap + float(more) for gap, more in zip(shape.gaps, rest[3 * n - 1 :], strict=True))
    return replace(shape, bends=tuple(bends), gaps=gaps, wall_over_diameter=wall)


def _carried(stations: Array, shape: GroupShape, other: GroupShape) -> Array:
    """Stations of one group at the same shares of each bend and straight of another."""
    tangents = [
        np.concatenate([[-REACH_DIAMETERS], one.tangents, [one.length + REACH_DIAMETERS]]) for one in (shape, other)
    ]
    # Between bends that touch there is no share of a straight: its stations stand by their distance.
    keep = np.concatenate([[True], np.diff(tangents[0]) > 1e-9])
    return np.asarray(np.interp(stations, tangents[0][keep], tangents[1][keep]))
