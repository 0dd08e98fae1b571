"""The places of a bar at which stress is looked for: its regions, and the stations sampled in each.

Regions: each bend, each hole (net section), both edges of each mount and collar, each transition and flat, and what is
left of each straight. Indices count from the right tip. A station may be sampled more than once, each time with the
section of its own region: a bend's tangent belongs to the bend and to the straight beside it. Holes and contacts are
sampled once for the section, and again for each edge at which fatigue feels more than the section's stress; so are
the two ends of a transition.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Collar, End, Flat, Hole, Mount
from barfem.model.bar_geometry import strength_scale
from barfem.model.distinct import distinct
from barfem.model.frozen import frozen
from barfem.model.warned import Effect, Warned
from barfem.solve.solid.hole_source import NEAREST_NEIGHBOUR
from barfem.solve.solid.transition_grid import LEAST_FILLET
from barfem.strength.edge_maps import ROUND_EDGES
from barfem.strength.holes import wall_edges
from barfem.strength.mount_edge import Contact, collar_contact, mount_contact
from barfem.strength.round_hole import LARGEST_IN_TABLE
from barfem.strength.shoulder import FOLD, SHORTEST, TUBE_BELOW, has_shoulder_factors, shoulder_edges

__all__ = ["KINDS", "Region", "Samples", "sampling_stations"]

Array = NDArray[np.float64]
Kind = Literal["bend", "hole", "mount edge", "collar", "transition", "flat", "straight"]
Side = Literal["left", "right"]

KINDS: tuple[Kind, ...] = ("bend", "hole", "mount edge", "collar", "transition", "flat", "straight")

STRAIGHT_STEP_MM = 10.0
BEND_STEP_RAD = np.radians(4.0)
TRANSITION_STEPS = 8
MOUNT_STEPS = 8
# Holes of a round end nearer than this many diameters, centre to centre, feel each other; in a flat the number has it.
CLOSE_HOLES = 2.0
# Beside a point at which a force comes in, resultants jump: sampled this far away, on the loaded side.
BESIDE_MM = 1e-3


@frozen
class Region:
    """One region of the bar.

    Attributes
    ----------
    kind, index
        `index` counts the regions of a kind from the right tip; for a mount edge it is the mount's, for a hole that
        of all the bar's holes, for a collar's edge the collar's.
    start_mm, end_mm
        Stations it reaches over.
    side
        End it belongs to (hole, flat, transition), or which of a mount's or collar's two edges it is.
    hole
        The hole; None for other kinds.
    contact
        What touches the bar at a mount's or collar's edge; None where it is not said, and for other kinds.
    checked
        False for a hole without a diameter: no stress is given there, and `caution` says so.
    caution
        What is not in the number here, as a sentence; None where nothing is known to be left out.
    """

    kind: Kind
    index: int
    start_mm: float
    end_mm: float
    side: Side | None = None
    hole: Hole | None = None
    contact: Contact | None = None
    checked: bool = True
    caution: Warned | None = None


@frozen
class Samples:
    """Sampled stations (n), ordered by region: what the solver gives resultants at.

    Attributes
    ----------
    station_mm : (n,)
    segment : (n,)
        Index of the centreline segment whose section and curvature hold (a tangent has one sample for each).
    region : (n,)
        Index into `regions`.
    strength_scale : (n,)
        Factor on the steel's strength.
    in_bend : (n,)
        Whether that segment is a bend.
    inward_angle_rad : (n,)
        Direction to the bend's centre, from a towards b; zero on straights.
    frame : (n, 3, 3)
        Rows t, a, b of the undeformed bar, in drawing axes.
    edge : (n,)
        Zero for the section itself; else the number of an edge (of a hole, a contact, or a transition's end), which
        fatigue alone sees.
    net : (n,)
        The sample whose stress is held against yield: the same, or for an edge its region's section.
    regions
        Ordered along the bar from the right tip, by their middles.
    """

    station_mm: Array
    segment: NDArray[np.intp]
    region: NDArray[np.intp]
    strength_scale: Array
    in_bend: NDArray[np.bool_]
    inward_angle_rad: Array
    frame: Array
    edge: NDArray[np.intp]
    net: NDArray[np.intp]
    regions: tuple[Region, ...]

    def of(self, region: int) -> slice:
        """The samples of one region (they lie together)."""
        first, last = np.searchsorted(self.region, [region, region + 1])
        return slice(int(first), int(last))


def sampling_stations(bar: Bar) -> Samples:
    """Regions of `bar` and their stations, dense enough for the peak.

    At most 10 mm apart on straights and 4 degrees in bends; on both sides of every tangent; within, at the middle and
    at both edges of each mount (a mount without length: just beside it, on both sides); at each hole just inboard of
    its centre, where the net section is least and the moment is whole; at the ends of flats and through transitions.
    """
    found = [
        *_segment_regions(bar),
        *_end_regions(bar),
        *_mount_regions(bar),
        *_collar_regions(bar),
        *_hole_regions(bar),
    ]
    order = sorted(found, key=lambda item: (item[0].start_mm + item[0].end_mm, KINDS.index(item[0].kind)))
    regions = tuple(region for region, _ in order)
    edges = np.array([_edges(bar, region) for region in regions], dtype=np.intp)
    # A transition's edges lie along it; other regions with edges have one station.
    beside = [
        _along_transition(bar, region) if region.kind == "transition" else np.full(edges[i], at[0])
        for i, (region, at) in enumerate(order)
    ]
    stations = np.concatenate([np.append(at, more) for (_, at), more in zip(order, beside, strict=True)])
    plain = np.array([len(at) for _, at in order])
    region_of = np.repeat(np.arange(len(order)), plain + edges)
    edge = np.concatenate(
        [np.append(np.zeros(count), np.arange(1, more + 1)) for count, more in zip(plain, edges, strict=True)]
    )
    first = np.cumsum(plain + edges) - plain - edges
    net = np.where(edge > 0, first[region_of], np.arange(len(stations)))
    for i, (_, at) in enumerate(order):
        if len(at) > 1 and edges[i]:
            nearest = np.abs(beside[i][:, None] - at).argmin(axis=1)
            net[first[i] + plain[i] : first[i] + plain[i] + edges[i]] = first[i] + nearest
    segment = _segments(bar, regions, region_of, stations)
    frame = np.empty((len(stations), 3, 3))
    for i in distinct(segment):
        here = segment == i
        part = bar.centreline.segments[i]
        frame[here] = part.evaluate(stations[here] - part.start_station_mm)[1]
    return Samples(
        station_mm=stations,
        segment=segment,
        region=region_of,
        strength_scale=strength_scale(bar, _own(regions, region_of, stations)),
        in_bend=np.array([part.radius_mm is not None for part in bar.centreline.segments])[segment],
        inward_angle_rad=np.array([part.inward_angle_rad for part in bar.centreline.segments])[segment],
        frame=frame,
        edge=edge.astype(np.intp),
        net=net,
        regions=regions,
    )


def _edges(bar: Bar, region: Region) -> int:
    """How many edges of a region are sampled beside its section."""
    if region.contact is not None:
        return 1 if region.contact.factor > 1.0 else 0
    if region.kind == "transition":
        return len(_along_transition(bar, region))
    if region.hole is None or region.hole.diameter_mm is None:
        return 0
    end = bar.right if region.side == "right" else bar.left
    flat = end.flat is not None and region.hole.from_tip_mm < end.flat.length_mm
    return sum(1 for _ in wall_edges(end, region.hole)) if flat else ROUND_EDGES


def _along_transition(bar: Bar, region: Region) -> Array:
    """Stations of a transition's edges, in the order of their numbers."""
    flat = (bar.right if region.side == "right" else bar.left).flat
    shares = [] if flat is None else [x.share for x in shoulder_edges(flat, diameter_mm=bar.section.diameter_mm)]
    along = np.array(shares) * (region.end_mm - region.start_mm)
    return region.start_mm + along if region.side == "right" else region.end_mm - along


def _own(regions: tuple[Region, ...], region_of: NDArray[np.intp], stations: Array) -> Array:
    """Stations (n,) moved off the ends of bends and straights, so that each has the steel of its own region."""
    starts, ends = (np.array([getattr(region, key) for region in regions])[region_of] for key in ("start_mm", "end_mm"))
    long = np.array([region.kind in ("bend", "straight") for region in regions])[region_of]
    inside = np.clip(stations, starts + BESIDE_MM, np.maximum(ends - BESIDE_MM, starts + BESIDE_MM))
    return np.where(long, inside, stations)


def _even(start: float, end: float, step: float) -> Array:
    return np.linspace(start, end, 1 + max(1, int(np.ceil((end - start) / step - 1e-9))))


def _segment_regions(bar: Bar) -> Iterator[tuple[Region, Array]]:
    """Bends, and what flats leave of the straights."""
    length = bar.centreline.length_mm
    lowest = bar.right.flat.length_mm if bar.right.flat else 0.0
    highest = length - (bar.left.flat.length_mm if bar.left.flat else 0.0)
    mounts = np.concatenate([_mount_stations(mount, length) for mount in bar.mounts])
    straights = 0
    for segment in bar.centreline.segments:
        start, end = segment.start_station_mm, segment.end_station_mm
        if segment.radius_mm is None:
            start, end = max(start, lowest), min(end, highest)
            if end - start <= 1e-9 * length:
                continue
            straights += 1
            region = Region("straight", straights, start, end)
            stations = _even(start, end, STRAIGHT_STEP_MM)
        else:
            region = Region("bend", segment.bend or 0, start, end)
            stations = _even(start, end, BEND_STEP_RAD * segment.radius_mm)
        extra = mounts[(mounts > start) & (mounts < end)]
        yield region, distinct(np.concatenate([stations, extra]))


def _mount_stations(mount: Mount, length: float) -> Array:
    half = 0.5 * mount.length_mm
    if half == 0.0:
        return np.array([mount.station_mm - BESIDE_MM, mount.station_mm + BESIDE_MM])
    return np.clip(np.linspace(mount.station_mm - half, mount.station_mm + half, MOUNT_STEPS + 1), 0.0, length)


def _mount_regions(bar: Bar) -> Iterator[tuple[Region, Array]]:
    ordered = sorted(bar.mounts, key=lambda mount: mount.station_mm)
    for index, mount in enumerate(ordered, start=1):
        stations = _mount_stations(mount, bar.centreline.length_mm)
        edges: tuple[tuple[Side, float], ...] = (("right", float(stations[0])), ("left", float(stations[-1])))
        contact = mount_contact(mount)
        caution = None
        if contact is None:
            caution = Warned(
                "fretting, wear and grit under the edge of a mount are not in the number where [[mounts]] contact does "
                "not say how the mount lies on the bar",
                Effect.FRETTING,
            )
        for side, station in edges:
            region = Region("mount edge", index, station, station, side=side, contact=contact, caution=caution)
            yield region, np.array([station])


def _collar_regions(bar: Bar) -> Iterator[tuple[Region, Array]]:
    for index, collar in enumerate(bar.collars, start=1):
        for side, station in _collar_edges(collar):
            contact = collar_contact(collar)
            yield Region("collar", index, station, station, side=side, contact=contact), np.array([station])


def _collar_edges(collar: Collar) -> tuple[tuple[Side, float], tuple[Side, float]]:
    half = 0.5 * collar.length_mm
    return ("right", collar.station_mm - half), ("left", collar.station_mm + half)


def _end_regions(bar: Bar) -> Iterator[tuple[Region, Array]]:
    length = bar.centreline.length_mm
    flats = transitions = 0
    for end in bar.ends:
        if end.flat is None:
            continue
        flat = end.flat
        full = flat.length_mm - flat.transition_mm
        if full > 0.0:
            flats += 1
            stations = _even(0.0, full, STRAIGHT_STEP_MM)
            yield _end_region("flat", flats, end, stations, length, _flat_caution(flat))
        if flat.transition_mm > 0.0:
            transitions += 1
            stations = _even(full, flat.length_mm, flat.transition_mm / TRANSITION_STEPS)
            yield _end_region("transition", transitions, end, stations, length, _transition_caution(bar, flat))


def _end_region(
    kind: Kind, index: int, end: End, from_tip: Array, length: float, caution: Warned | None
) -> tuple[Region, Array]:
    stations = from_tip if end.side == "right" else length - from_tip[::-1]
    region = Region(kind, index, float(stations[0]), float(stations[-1]), side=end.side, caution=caution)
    return region, stations


def _transition_caution(bar: Bar, flat: Flat) -> Warned | None:
    d = bar.section.diameter_mm
    if flat.kind == "pressed":
        return Warned(
            f"the folds of a pressed transition are in the number by a bound alone, {FOLD:g} times the section's "
            "stress (common practice, no source), and cracks in them are not",
            Effect.FOLDS,
        )
    if not has_shoulder_factors(flat, diameter_mm=d):
        return Warned(
            f"stress concentration at the shoulders of a transition shorter than {SHORTEST:g} diameters is not in the "
            "number; it is more than double the section's stress",
            Effect.STEP,
        )
    if flat.fillet_mm is not None and flat.fillet_mm < LEAST_FILLET * d * (1.0 - 1e-9):
        return Warned(
            f"fillets below {LEAST_FILLET:g} diameters count as {LEAST_FILLET * d:.3g} mm at the shoulders of a forged "
            f"transition, and those of {flat.fillet_mm:g} mm concentrate more stress than is in the number",
            Effect.STEP,
        )
    if bar.section.bore_mm > 0.0:
        return Warned(
            "where the bore of a tube ends in a forged transition is not known: one that reaches to the flat may leave "
            f"up to {100.0 * TUBE_BELOW:.0f} % more stress at its shoulders than the number has",
            Effect.BORE_END,
        )
    return None


def _flat_caution(flat: Flat) -> Warned | None:
    if flat.kind == "pressed":
        return Warned("the folded edges of a pressed flat, cracks included, are not in the number", Effect.FOLDED_EDGES)
    return None


def _hole_regions(bar: Bar) -> Iterator[tuple[Region, Array]]:
    holes = sorted(((hole.station_mm, end.side, hole) for end in bar.ends for hole in end.holes), key=lambda x: x[0])
    for index, (station, side, hole) in enumerate(holes, start=1):
        inboard = BESIDE_MM if side == "right" else -BESIDE_MM
        checked = hole.diameter_mm is not None
        caution = _hole_caution(bar, side, hole)
        region = Region("hole", index, station, station, side=side, hole=hole, checked=checked, caution=caution)
        yield region, np.array([station + inboard])


def _hole_caution(bar: Bar, side: Side, hole: Hole) -> Warned | None:
    """What the numbers of a hole leave out; None where they are within what they were tested on."""
    if hole.diameter_mm is None:
        words = f'{side} hole "{hole.name}" has no diameter: its net section and edge are not checked'
        return Warned(words, Effect.NOT_CHECKED)
    end = bar.right if side == "right" else bar.left
    name = f'{side} hole "{hole.name}"'
    flat = end.flat is not None and hole.from_tip_mm < end.flat.length_mm
    if _nearest_in_diameters(end, hole) < (NEAREST_NEIGHBOUR if flat else CLOSE_HOLES):
        # One sentence for all holes of an end, so that it is told once.
        least = min(_nearest_in_diameters(end, each) for each in end.holes)
        return Warned(
            f"holes of the {side} end are down to {least:.2g} diameters apart: what neighbours add to shear and "
            "torsion at their edges (a quarter and an eighth at 1.8 diameters, more below) is not wholly in the number",
            Effect.NEIGHBOURS,
        )
    if not flat and hole.diameter_mm > LARGEST_IN_TABLE * bar.section.diameter_mm:
        return Warned(
            f"{name} is {hole.diameter_mm / bar.section.diameter_mm:.2g} of the bar's diameter, and the handbook's "
            f"table of concentration ends at {LARGEST_IN_TABLE:g}: what changes beyond it, save the net section, is "
            "not in the number",
            Effect.BEYOND_TABLE,
        )
    return None


def _nearest_in_diameters(end: End, hole: Hole) -> float:
    """Distance to the next hole with a diameter, in diameters of this one; infinite where there is none."""
    if hole.diameter_mm is None:
        return np.inf
    apart = [abs(other.from_tip_mm - hole.from_tip_mm) for other in end.holes if other.diameter_mm is not None]
    return min((each for each in apart if each > 0.0), default=np.inf) / hole.diameter_mm


def _segments(bar: Bar, regions: tuple[Region, ...], region_of: NDArray[np.intp], stations: Array) -> NDArray[np.intp]:
    """Segment of each sample: a bend's or straight's own, whichever side of the tangent."""
    index = bar.centreline.segment_index(stations)
    for i, region in enumerate(regions):
        if region.kind in ("bend", "straight"):
            middle = 0.5 * (region.start_mm + region.end_mm)
            index[region_of == i] = bar.centreline.segment_index(middle)[0]
    return index
