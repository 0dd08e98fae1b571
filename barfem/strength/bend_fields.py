"""Stress of bends and of the straights beside them from three-dimensional bend fields, in place of the closed forms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bent_wall import bent_wall
from barfem.model.centreline import Segment
from barfem.model.content import Content
from barfem.model.distinct import distinct
from barfem.model.frozen import frozen
from barfem.model.warned import Effect, Warned
from barfem.solve.solid.bend_tables import bend_shape, grid_error
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
    length = bar.centreline.length_mm
    lowest = bar.right.flat.length_mm if bar.right.flat is not None else 0.0
    highest = length - (bar.left.flat.length_mm if bar.left.flat is not None else 0.0)
    by_kind = np.array([region.kind in KINDS for region in samples.regions])[samples.region]
    s = samples.station_mm
    free = np.flatnonzero(by_kind & (s >= lowest) & (s <= highest))
    sources = _sources(bar)
    if not sources or not len(free):
        return maps
    which, whole = _in_fields(
        sources,
        bar.section.diameter_mm,
        Content(s[free]),
        Content(samples.segment[free]),
        Content(samples.in_bend[free]),
        Content(contact_factor(samples, free)),
        *_told_apart(maps, free),
    )
    return with_matrices(maps, free[which], whole) if len(which) else maps


@frozen
class _Field:
    """The table of a bend, segment `segment`, or of a group of them, and where it begins and ends along the bar."""

    table: BendTable | GroupTable
    segment: int | None
    first_mm: float
    last_mm: float
    inward_angle_rad: float


def _sources(bar: Bar) -> tuple[_Field, ...]:
    """The fields of a bar: those of groups, then those of bends by themselves."""
    found: list[_Field] = []
    grouped: set[int | None] = set()
    for group, source in group_sources(bar):
        table, bends = source.table, group.bends
        if table is not None:
            grouped |= {bend.bend for bend in bends}
            inward = bends[-1 if table.reversed_ else 0].inward_angle_rad
            found.append(_Field(table, None, bends[0].start_station_mm, bends[-1].end_station_mm, inward))
    for number, part in enumerate(bar.centreline.segments):
        if part.radius_mm is not None and part.bend not in grouped:
            own = bend_source(bend_shape(bar, part)).table
            if own is not None:
                at = (part.start_station_mm, part.end_station_mm, part.inward_angle_rad)
                found.append(_Field(own, number, *at))
    return tuple(found)


def _told_apart(maps: StressMaps, which: NDArray[np.intp]) -> tuple[Content, ...]:
    """The different maps of samples: which of them each sample has, what they are for the six resultants, and the
    surface of their points.
    """
    numbers = distinct(maps.index[which])
    index = np.searchsorted(numbers, maps.index[which])
    arrays = (index, maps.matrix[numbers, ..., :6], maps.angle_rad[numbers], maps.exists[numbers], maps.surface)
    return tuple(Content(array) for array in arrays)


@lru_cache(maxsize=8)  # a bar whose holes or travel move has the same in its bends
def _in_fields(
    sources: tuple[_Field, ...],
    diameter: float,
    station_mm: Content,
    segment: Content,
    in_bend: Content,
    factor: Content,
    index: Content,
    matrix: Content,
    angle_rad: Content,
    exists: Content,
    surface: Content,
) -> tuple[NDArray[np.intp], Array]:
    """Which samples of many are within fields, and their matrices (n, p, 3, 6) there.

    Of a sample its station, its segment, whether that is a bend, the factor of a contact's edge, and the number of its
    closed form: `matrix` (u, p, 3, 6), `angle_rad` (u, p), `exists` (u, p), `surface` (p,).
    """
    s, reach, hair = station_mm.array, REACH_DIAMETERS * diameter, 1e-6 * diameter
    closed = matrix.array[index.array]
    own = closed / factor.array  # those at the edge of a contact included
    added, touched = np.zeros_like(closed), np.zeros(len(s), bool)
    for each in sources:
        # Another bend beyond a group's short stub keeps its own field.
        within = (
            (s >= each.first_mm - hair) & (s <= each.last_mm + hair)
            if each.segment is None
            else segment.array == each.segment
        )
        beside = ~in_bend.array & (s > each.first_mm - reach) & (s < each.last_mm + reach)
        here = np.flatnonzero(within | beside)
        outer = np.maximum(each.first_mm - s[here], s[here] - each.last_mm) / diameter
        share = np.clip((REACH_DIAMETERS - outer) / FADE_DIAMETERS, 0.0, 1.0)
        # Stations a hair beyond a tangent by rounding belong to the bend all the same.
        x = s[here] - each.first_mm
        field = _field(each, angle_rad.array, surface.array, index.array[here], x, diameter)
        added[here] += share[:, None, None, None] * (field - own[here])
        touched[here] = True
    which = np.flatnonzero(touched)
    whole = closed[which] + added[which] * factor.array[which] * exists.array[index.array[which]][..., None, None]
    return which, whole


def contact_factor(samples: Samples, which: NDArray[np.intp]) -> Array:
    """Factor (n, 1, 1, 1) of the contact at samples that are its edge, one elsewhere."""
    factor = [
        contact.factor if samples.edge[i] and (contact := samples.regions[samples.region[i]].contact) else 1.0
        for i in which.tolist()
    ]
    return np.array(factor)[:, None, None, None]


def _field(
    of: _Field, angle_rad: Array, surface: NDArray[np.intp], index: NDArray[np.intp], along: Array, diameter: float
) -> Array:
    """The field's maps (n, p, 3, 6) `along` (n,) mm from its first tangent, at the points of `angle_rad` (u, p)."""
    out = np.zeros((len(index), len(surface), 3, 6))
    # Straights beside a bend mostly have its points: what has the same is asked for together.
    alike: dict[bytes, list[int]] = {}
    for number in distinct(index).tolist():
        alike.setdefault(angle_rad[number].tobytes(), []).append(number)
    for numbers in alike.values():
        rows = np.flatnonzero(np.isin(index, numbers))
        for side, name in ((OUTSIDE, "outside"), (BORE, "bore")):
            points = np.flatnonzero(surface == side)
            if not len(points) or (side == BORE and of.table.bore is None):
                continue
            out[np.ix_(rows, points)] = of.table.maps(
                along[rows],
                angle_rad[numbers[0], points],
                diameter,
                surface=name,  # type: ignore[arg-type]
                inward_angle_rad=of.inward_angle_rad,
            )
    return out


def with_matrices(maps: StressMaps, which: NDArray[np.intp], matrices: Array) -> StressMaps:
    """`maps` with other matrices (n, p, 3, 6) at some samples, at the same points.

    What stands behind the six resultants is of other places: it stays.
    """
    base = maps.index[which]
    more = maps.matrix[base, ..., matrices.shape[-1] :]
    matrices = np.concatenate([matrices, more], axis=-1) if more.shape[-1] else matrices
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

    Of the greatest von Mises stress round the middle of the bend, outside or in the bore, whichever they miss by more:
    the worst of torsion and bending in and out of plane.
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
