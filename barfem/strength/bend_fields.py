"""Stress of bends and of the straights beside them from three-dimensional bend fields, in place of the closed forms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bent_wall import bent_wall
from barfem.model.centreline import Segment
from barfem.model.distinct import distinct
from barfem.model.warned import Effect, Warned
from barfem.solve.solid.bend_tables import BendSource, bend_shape, grid_error
from barfem.solve.solid.group_source import group_sources
from barfem.solve.solid.group_table import GroupTable
from barfem.solve.solid.groups import BendGroup
from barfem.solve.solid.nearby import bend_source
from barfem.solve.solid.table import REACH_DIAMETERS, BendTable, decay_length
from barfem.strength.bend_record import BendStress
from barfem.strength.places import Samples
from barfem.strength.section_map import BORE, OUTSIDE
from barfem.strength.stress_maps import StressMaps

__all__ = [
    "KINDS",
    "bend_stress",
    "closed_form_bends",
    "closed_forms_short",
    "contact_factor",
    "with_bend_fields",
    "with_matrices",
]

Array = NDArray[np.float64]

FADE_DIAMETERS = 0.25
"""A stub's field goes over into the straight's own stress over so much at its far end."""

CLEAR_DIAMETERS = 1.0
"""A bend that lies nearer than this to a mount, a flat or a hole is not that of the fields."""

OVALISES_DECAYS = 3.0
"""Decay lengths of a tube's ovalising within which a flat or a tip tells: bends so far apart change by 0.9 %."""

BEND_NEAR = "Bend fields stand for bends between straights that are round and carry no load"
BEND_NEAR_MEASURED = (
    "; in solids of 56 bars (R/d 1.1 to 2, t/d 0.075 to 0.25) with a mount, a flat or a tip there the bend's peak was "
    "from 2.1 % below the field's to 0.6 % above it. barfem check --model solid has mounts and flats in place."
)
BEND_NEAR_HOLE = (
    ", and were not held against solids beside a hole: what the hole concentrates is told at the hole, and a radius "
    "from its edge adds 22 % at most (Kirsch). barfem check --model solid does not mesh holes."
)

KINDS = ("bend", "straight", "mount edge", "collar")


def closed_form_bends(bar: Bar, why: str) -> tuple[BendStress, ...]:
    """The record of bends whose stress is by closed form throughout."""
    return tuple(
        BendStress(index=bend.bend or 0, source="closed forms", why=why, superposes=False)
        for bend in bar.centreline.bends
    )


def bend_stress(bar: Bar) -> tuple[tuple[BendStress, ...], tuple[Warned, ...]]:
    """The record of each bend, and warnings: of bends that do not superpose, and of the cache."""
    records: list[BendStress] = []
    problems: list[Warned] = []
    grouped: dict[int | None, BendGroup] = {}
    for group, found in group_sources(bar):
        if found.problem:
            problems.append(Warned(found.problem, Effect.NOTHING))
        if found.table is not None:
            grouped |= {bend.bend: group for bend in group.bends}
        else:
            which = ", ".join(str(bend.bend) for bend in group.bends)
            words = (
                f"Bends {which} see each other, but each is judged by its own field, which may give far too little "
                f"stress there: {found.why}. Use barfem check --model solid."
            )
            problems.append(Warned(words, Effect.BENDS_UNSAFE))
    for bend in bar.centreline.bends:
        neighbours = list(_neighbours(bar, bend))
        if (own := grouped.get(bend.bend)) is not None and any(
            own.start_mm < mount.station_mm < own.end_mm for mount in bar.mounts
        ):
            neighbours.insert(0, "a mount")  # a group carries nothing between its bends
        near = " and ".join(dict.fromkeys(neighbours)) or None
        if own is not None:
            with_bends = tuple(other.bend or 0 for other in own.bends)
            records.append(
                BendStress(
                    index=bend.bend or 0, source="computed", with_bends=with_bends, superposes=near is None, near=near
                )
            )
            continue
        shape = bend_shape(bar, bend)
        source = bend_source(shape)
        records.append(
            BendStress(
                index=bend.bend or 0,
                source=source.source,
                stated_error=grid_error(shape) if source.source == "grid" else None,
                why=source.why,
                superposes=near is None and source.table is not None,
                near=near,
            )
        )
        if source.problem:
            problems.append(Warned(source.problem, Effect.NOTHING))
        if source.table is None:
            words = f"Bend {bend.bend} is judged by closed forms, not by its field: {source.why}."
            problems.append(Warned(words, Effect.OTHER if bar.section.wall_mm is None else Effect.BENDS_UNSAFE))
    crowded: dict[str, list[BendStress]] = {}
    for record in records:
        if record.near is not None:
            sentence = BEND_NEAR_HOLE if "a hole" in record.near else BEND_NEAR_MEASURED
            crowded.setdefault(sentence, []).append(record)
    for sentence, some in crowded.items():
        which = ", ".join(f"bend {record.index} ({record.near})" for record in some)
        effect = Effect.HOLE_NEAR_BEND if sentence is BEND_NEAR_HOLE else Effect.NEAR_BEND
        problems.append(Warned(f"Within the reach of a bend: {which}. {BEND_NEAR}{sentence}", effect))
    return tuple(records), tuple(dict.fromkeys(problems))


def _neighbours(bar: Bar, bend: Segment) -> Iterator[str]:
    """What lies nearer to a bend than `CLEAR_DIAMETERS`, edge to tangent; other bends are solved with it.

    A tube's flat or open tip, which ovalises otherwise than a straight, is near as far as ovalising reaches.
    """
    clear = CLEAR_DIAMETERS * bar.section.diameter_mm - 1e-6
    low, high = bend.start_station_mm - clear, bend.end_station_mm + clear
    for mount in bar.mounts:
        half = 0.5 * mount.length_mm
        if mount.station_mm + half > low and mount.station_mm - half < high:
            yield "a mount"
    wall, d = bar.section.wall_mm, bar.section.diameter_mm
    more = 0.0 if wall is None else max(OVALISES_DECAYS * decay_length(wall / d) - CLEAR_DIAMETERS, 0.0) * d
    for end in bar.ends:
        length = end.flat.length_mm if end.flat is not None else 0.0
        reach, tip = length + more, bar.centreline.length_mm
        if (low < reach) if end.side == "right" else (high > tip - reach):
            yield "a flat" if length else "the tip"
        radii = [(hole.station_mm, 0.5 * (hole.diameter_mm or 0.0)) for hole in end.holes]
        if any(low < station + radius and station - radius < high for station, radius in radii):
            yield "a hole"


def with_bend_fields(bar: Bar, samples: Samples, maps: StressMaps) -> StressMaps:
    """The maps with every bend's or group's field in place of the closed forms, and a diameter into the straights.

    Flats, holes and what fatigue feels at their edges stay as they are. Fields of neighbours add what each changes.
    """
    diameter = bar.section.diameter_mm
    length = bar.centreline.length_mm
    lowest = bar.right.flat.length_mm if bar.right.flat is not None else 0.0
    highest = length - (bar.left.flat.length_mm if bar.left.flat is not None else 0.0)
    by_kind = np.array([region.kind in KINDS for region in samples.regions])[samples.region]
    s = samples.station_mm
    free = by_kind & (s >= lowest) & (s <= highest)
    reach = REACH_DIAMETERS * diameter
    parts: list[tuple[NDArray[np.intp], Array]] = []
    grouped: set[int | None] = set()
    for group, found in group_sources(bar):
        if found.table is not None:
            grouped |= {bend.bend for bend in group.bends}
            parts.append(_group_change(group, found.table, samples, maps, free, diameter))
    for number, part in enumerate(bar.centreline.segments):
        if part.radius_mm is None or part.bend in grouped:
            continue
        source: BendSource = bend_source(bend_shape(bar, part))
        if source.table is None:
            continue
        own = samples.segment == number
        beside = ~own & ~samples.in_bend & (s > part.start_station_mm - reach) & (s < part.end_station_mm + reach)
        here = np.flatnonzero(free & (own | beside))
        if not len(here):
            continue
        outer = np.maximum(part.start_station_mm - s[here], s[here] - part.end_station_mm) / diameter
        share = np.clip((REACH_DIAMETERS - outer) / FADE_DIAMETERS, 0.0, 1.0)
        # Stations a hair beyond a tangent by rounding belong to the bend all the same.
        x = s[here] - part.start_station_mm
        change = _field(source.table, part.inward_angle_rad, maps, maps.index[here], x, diameter)
        change -= _without_contact(samples, maps, here)
        change *= share[:, None, None, None]
        parts.append((here, change))
    if not parts:
        return maps
    which = distinct(np.concatenate([here for here, _ in parts]))
    added = np.zeros((len(which), *maps.matrix.shape[1:3], 6))
    for here, change in parts:
        added[np.searchsorted(which, here)] += change
    base = maps.index[which]
    added *= contact_factor(samples, which)
    if not maps.exists[base].all():
        added *= maps.exists[base][..., None, None]
    whole = maps.matrix[base]  # what stands behind the six resultants is of other places
    whole[..., :6] += added
    return with_matrices(maps, which, whole)


def _without_contact(samples: Samples, maps: StressMaps, which: NDArray[np.intp]) -> Array:
    """Maps (n, p, 3, 6) of the section itself at samples, those at the edge of a contact included."""
    factor = contact_factor(samples, which)
    found = maps.matrix[maps.index[which], ..., :6]
    return found if (factor == 1.0).all() else found / factor


def _group_change(
    group: BendGroup,
    table: GroupTable,
    samples: Samples,
    maps: StressMaps,
    free: NDArray[np.bool_],
    diameter: float,
) -> tuple[NDArray[np.intp], Array]:
    """Samples in a group of bends and in the straights between and beside them, and what its field changes there."""
    s, reach = samples.station_mm, REACH_DIAMETERS * diameter
    first, last = group.bends[0].start_station_mm, group.bends[-1].end_station_mm
    # Another bend beyond a short stub keeps its own field.
    hair = 1e-6 * diameter
    within = (s >= first - hair) & (s <= last + hair)
    here = np.flatnonzero(free & (within | (~samples.in_bend & (s > first - reach) & (s < last + reach))))
    inward = group.bends[-1 if table.reversed_ else 0].inward_angle_rad
    change = _field(table, inward, maps, maps.index[here], s[here] - first, diameter)
    change -= _without_contact(samples, maps, here)
    outer = np.maximum(first - s[here], s[here] - last) / diameter
    return here, np.clip((REACH_DIAMETERS - outer) / FADE_DIAMETERS, 0.0, 1.0)[:, None, None, None] * change


def contact_factor(samples: Samples, which: NDArray[np.intp]) -> Array:
    """Factor (n, 1, 1, 1) of the contact at samples that are its edge, one elsewhere."""
    factor = [
        contact.factor if samples.edge[i] and (contact := samples.regions[samples.region[i]].contact) else 1.0
        for i in which.tolist()
    ]
    return np.array(factor)[:, None, None, None]


def _field(
    table: BendTable | GroupTable,
    inward_angle_rad: float,
    maps: StressMaps,
    index: NDArray[np.intp],
    along: Array,
    diameter: float,
) -> Array:
    """The field's maps (n, p, 3, 6) `along` (n,) mm from its first tangent, at the points of the maps' `index`."""
    out = np.zeros((len(index), *maps.matrix.shape[1:3], 6))
    # Straights beside a bend mostly have its points: what has the same is asked for together.
    alike: dict[bytes, list[int]] = {}
    for number in distinct(index).tolist():
        alike.setdefault(maps.angle_rad[number].tobytes(), []).append(number)
    for numbers in alike.values():
        rows = np.flatnonzero(np.isin(index, numbers))
        for surface, name in ((OUTSIDE, "outside"), (BORE, "bore")):
            points = np.flatnonzero(maps.surface == surface)
            if not len(points) or (surface == BORE and table.bore is None):
                continue
            out[np.ix_(rows, points)] = table.maps(
                along[rows],
                maps.angle_rad[numbers[0], points],
                diameter,
                surface=name,  # type: ignore[arg-type]
                inward_angle_rad=inward_angle_rad,
            )
    return out


def with_matrices(maps: StressMaps, which: NDArray[np.intp], matrices: Array) -> StressMaps:
    """`maps` with other matrices (n, p, 3, 6) at some samples, at the same points."""
    base = maps.index[which]
    index = maps.index.copy()
    index[which] = len(maps.matrix) + np.arange(len(which))
    return replace(
        maps,
        matrix=np.concatenate([maps.matrix, matrices]),
        angle_rad=np.concatenate([maps.angle_rad, maps.angle_rad[base]]),
        position_mm=np.concatenate([maps.position_mm, maps.position_mm[base]]),
        exists=np.concatenate([maps.exists, maps.exists[base]]),
        hoop=np.concatenate([maps.hoop, np.ones(len(which), dtype=bool)]),
        index=index,
    )


def closed_forms_short(bar: Bar) -> tuple[tuple[int, float], ...]:
    """Bends of a tube inside the grid, and by how much the closed forms fall short of the field there, as a share.

    Of the greatest von Mises stress round the middle of the bend: the worst of torsion and bending in and out of plane.
    """
    from barfem.strength.bends import bend_map

    section = bar.section
    found = []
    if section.wall_mm is None:
        return ()
    for bend in bar.centreline.bends:
        shape = bend_shape(bar, bend)
        if not shape.in_grid or bend.radius_mm is None:
            continue
        closed = bend_map(
            diameter_mm=section.diameter_mm,
            wall_mm=section.wall_mm,
            bend_radius_mm=bend.radius_mm,
            bent=None if section.bend_wall == "uniform" else bent_wall(section, bend),
            nu=bar.steel.nu,
        )
        table = bend_source(shape).table
        if table is None:
            continue
        middle = np.array([0.5 * bend.length_mm])
        short = 0.0
        for surface, name in ((OUTSIDE, "outside"), (BORE, "bore")):
            points = closed.surface == surface
            field = table.maps(middle, closed.angle_rad[points], section.diameter_mm, surface=name)[0]  # type: ignore[arg-type]
            true, closed_form = (_greatest(one[..., 3:]) for one in (field, closed.matrix[points]))
            short = max(short, float((1.0 - closed_form / true).max()))
        found.append((bend.bend or 0, short))
    return tuple(found)


def _greatest(maps: Array) -> Array:
    """Greatest von Mises stress (r,) over points, of maps (p, 3, r)."""
    s, h, t = maps[:, 0], maps[:, 1], maps[:, 2]
    return np.asarray(np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max(axis=0)))
