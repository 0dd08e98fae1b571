"""Stress of bends and of the straights beside them from three-dimensional bend fields, in place of the closed forms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bent_wall import bent_wall
from barfem.model.centreline import Segment
from barfem.solve.solid.bend_tables import BendSource, bend_shape, grid_error
from barfem.solve.solid.joined import Joined, joined_bends
from barfem.solve.solid.nearby import bend_source
from barfem.solve.solid.table import REACH_DIAMETERS, BendTable
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
"""A bend that lies nearer than this to another bend, a mount, a flat or a hole is not that of the fields."""

MEASURED_NEAR = (
    "On bars that were tried both ways (R/d 1.7 to 2; solid and tube of t/d 0.08 and 0.12; a twentieth to half a "
    "diameter from another bend, a mount or a flat) the bar's peak was within 1 % of the solid's, and each bend's own "
    "within 5 %."
)

KINDS = ("bend", "straight", "mount edge", "collar")


def closed_form_bends(bar: Bar, why: str) -> tuple[BendStress, ...]:
    """The record of bends whose stress is by closed form throughout."""
    return tuple(
        BendStress(index=bend.bend or 0, source="closed forms", why=why, superposes=False)
        for bend in bar.centreline.bends
    )


def bend_stress(bar: Bar) -> tuple[tuple[BendStress, ...], tuple[str, ...]]:
    """The record of each bend, and warnings: of bends that do not superpose, and of the cache."""
    records, problems = [], []
    for bend in bar.centreline.bends:
        shape = bend_shape(bar, bend)
        source = bend_source(shape)
        near = " and ".join(dict.fromkeys(_neighbours(bar, bend))) or None
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
            problems.append(source.problem)
        if source.table is None:
            problems.append(f"Bend {bend.bend} is judged by closed forms, not by its field: {source.why}.")
    crowded = [record for record in records if record.near is not None]
    if crowded:
        which = ", ".join(f"bend {record.index} ({record.near})" for record in crowded)
        problems.append(
            f"Closer than about a diameter to something else: {which}. Bend fields stand for a bend between straights, "
            "so these bends are outside the 3 % within which beam and solid agree; barfem check --model solid has them "
            f"as they are. {MEASURED_NEAR}"
        )
    return tuple(records), tuple(dict.fromkeys(problems))


def _neighbours(bar: Bar, bend: Segment) -> Iterator[str]:
    """What lies nearer to a bend than `CLEAR_DIAMETERS`, edge to tangent."""
    clear = CLEAR_DIAMETERS * bar.section.diameter_mm - 1e-6
    low, high = bend.start_station_mm - clear, bend.end_station_mm + clear
    for other in bar.centreline.bends:
        if other is not bend and other.end_station_mm > low and other.start_station_mm < high:
            yield f"bend {other.bend}"
    for mount in bar.mounts:
        half = 0.5 * mount.length_mm
        if mount.station_mm + half > low and mount.station_mm - half < high:
            yield "a mount"
    for end in bar.ends:
        length = end.flat.length_mm if end.flat is not None else 0.0
        if (low < length) if end.side == "right" else (high > bar.centreline.length_mm - length):
            yield "a flat" if length else "the tip"
        radii = [(hole.station_mm, 0.5 * (hole.diameter_mm or 0.0)) for hole in end.holes]
        if any(low < station + radius and station - radius < high for station, radius in radii):
            yield "a hole"


def with_bend_fields(bar: Bar, samples: Samples, maps: StressMaps) -> StressMaps:
    """The maps with every bend's field in place of the closed forms, in the bend and a diameter into its straights.

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
    joined = [group for group in joined_bends(bar) if bend_source(group.shape).table is not None]
    own_share = {bend.bend: 1.0 - group.share for group in joined for bend in group.bends}
    parts: list[tuple[NDArray[np.intp], Array]] = []
    for number, part in enumerate(bar.centreline.segments):
        if part.radius_mm is None:
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
        change *= own_share.get(part.bend, 1.0) * share[:, None, None, None]
        parts.append((here, change))
    for group in joined:
        here, change = _joined_change(group, samples, maps, free, diameter)
        parts.append((here, group.share * change))
    if not parts:
        return maps
    which = np.unique(np.concatenate([here for here, _ in parts]))
    added = np.zeros((len(which), *maps.matrix.shape[1:]))
    for here, change in parts:
        added[np.searchsorted(which, here)] += change
    base = maps.index[which]
    added *= contact_factor(samples, which)
    if not maps.exists[base].all():
        added *= maps.exists[base][..., None, None]
    added += maps.matrix[base]
    return with_matrices(maps, which, added)


def _without_contact(samples: Samples, maps: StressMaps, which: NDArray[np.intp]) -> Array:
    """Maps (n, p, 3, 6) of the section itself at samples, those at the edge of a contact included."""
    factor = contact_factor(samples, which)
    found = maps.matrix[maps.index[which]]
    return found if (factor == 1.0).all() else found / factor


def _joined_change(
    group: Joined, samples: Samples, maps: StressMaps, free: NDArray[np.bool_], diameter: float
) -> tuple[NDArray[np.intp], Array]:
    """Samples in and near bends that are nearly one, and what the joined bend's field changes there."""
    s, reach = samples.station_mm, REACH_DIAMETERS * diameter
    table = bend_source(group.shape).table
    near = free & (s > group.start_mm - reach) & (s < group.end_mm + reach)
    here = np.flatnonzero(near)
    change = np.empty((len(here), *maps.matrix.shape[1:]))
    which = group.nearest(s[here])
    along = group.along(s[here])
    for number, bend in enumerate(group.bends):
        rows = np.flatnonzero(which == number)
        if len(rows) and table is not None:
            change[rows] = _field(table, bend.inward_angle_rad, maps, maps.index[here[rows]], along[rows], diameter)
    change -= _without_contact(samples, maps, here)
    outer = np.maximum(group.start_mm - s[here], s[here] - group.end_mm) / diameter
    return here, np.clip((REACH_DIAMETERS - outer) / FADE_DIAMETERS, 0.0, 1.0)[:, None, None, None] * change


def contact_factor(samples: Samples, which: NDArray[np.intp]) -> Array:
    """Factor (n, 1, 1, 1) of the contact at samples that are its edge, one elsewhere."""
    factor = [
        contact.factor if samples.edge[i] and (contact := samples.regions[samples.region[i]].contact) else 1.0
        for i in which.tolist()
    ]
    return np.array(factor)[:, None, None, None]


def _field(
    table: BendTable, inward_angle_rad: float, maps: StressMaps, index: NDArray[np.intp], along: Array, diameter: float
) -> Array:
    """The field's maps (n, p, 3, 6) `along` (n,) mm from its first tangent, at the points of the maps' `index`."""
    out = np.zeros((len(index), *maps.matrix.shape[1:]))
    for number in np.unique(index):
        rows = np.flatnonzero(index == number)
        for surface, name in ((OUTSIDE, "outside"), (BORE, "bore")):
            points = np.flatnonzero(maps.surface == surface)
            if not len(points) or (surface == BORE and table.bore is None):
                continue
            out[np.ix_(rows, points)] = table.maps(
                along[rows],
                maps.angle_rad[number, points],
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
            true, said = (_greatest(one[..., 3:]) for one in (field, closed.matrix[points]))
            short = max(short, float((1.0 - said / true).max()))
        found.append((bend.bend or 0, short))
    return tuple(found)


def _greatest(maps: Array) -> Array:
    """Greatest von Mises stress (r,) over points, of maps (p, 3, r)."""
    s, h, t = maps[:, 0], maps[:, 1], maps[:, 2]
    return np.asarray(np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max(axis=0)))
