"""The stress maps of a bar: at every sampled station, surface stress for unit resultants. Built once a bar.

Samples that share a section and curvature share a map. Whatever gives better maps for some stations (fields of a
three-dimensional bend, say) puts its own in their place (`bend_fields.with_matrices`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bar_geometry import transition_fraction
from barfem.model.centreline import Segment
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.strength.bar_sections import Build, SectionAt, stacked_maps
from barfem.strength.bends import WALL_RULE
from barfem.strength.edge_maps import flat_wall_map
from barfem.strength.hole_words import hole_assumptions
from barfem.strength.holes import flat_holes
from barfem.strength.mount_edge import collar_contact, mount_contact
from barfem.strength.places import Region, Samples
from barfem.strength.section_map import turned
from barfem.strength.section_stress import POINTS_AROUND
from barfem.strength.shoulder import DEFAULT_FILLET_MM, FOLD, section_share
from barfem.strength.shoulder_words import shoulder_words

__all__ = ["StressMaps", "build_stress_maps", "stress_assumptions"]

Array = NDArray[np.float64]


@frozen
class StressMaps:
    """Stress maps (u unique ones) of a bar's n samples, p points round each section, all in the frame (t, a, b).

    Attributes
    ----------
    matrix : (u, p, 3, 6 or 11)
        [sigma_ss, sigma_thetatheta, tau_stheta] in MPa per unit of [N, V_a, V_b, T, M_a, M_b] (N, N·mm); where a flat
        is drilled, also of a bolt's pressure (`hole_loads.HoleLoads.whole` has the loads that go with it).
    angle_rad : (u, p)
        Where a point looks, from a towards b.
    position_mm : (u, p, 2)
        y_a, y_b of the point.
    exists : (u, p)
        False where that section has no such point; its stress is zero.
    surface : (p,)
        OUTSIDE, then BORE for a tube.
    index : (n,)
        Which map each sample takes.
    hoop : (u,)
        Whether sigma_thetatheta is anything but zero.
    """

    matrix: Array
    angle_rad: Array
    position_mm: Array
    exists: NDArray[np.bool_]
    surface: NDArray[np.intp]
    index: NDArray[np.intp]
    hoop: NDArray[np.bool_]

    def stress(self, samples: slice, resultants: Array) -> tuple[Array, Array | None, Array]:
        """sigma_ss, sigma_thetatheta (None where all zero) and tau_stheta, (m, ..., p) each, at m samples.

        `resultants` (m, ..., 6) are those samples'; further loads after the six where the maps have columns for them
        (of those that are not given there are none).
        """
        index = self.index[samples]
        components = [0, 1, 2] if self.hoop[index].any() else [0, 2]
        rows = resultants.reshape(len(index), -1, resultants.shape[-1])
        matrix = self.matrix[..., : resultants.shape[-1]]
        out = [np.empty((*rows.shape[:2], len(self.surface))) for _ in components]
        if np.all(index == index[0]):
            for target, component in zip(out, components, strict=True):
                np.matmul(rows, matrix[index[0], :, component].T, out=target)
        else:
            for target, component in zip(out, components, strict=True):
                np.matmul(rows, np.swapaxes(matrix[index, :, component], 1, 2), out=target)
        shaped = [target.reshape(*resultants.shape[:-1], -1) for target in out]
        return shaped[0], shaped[1] if len(shaped) == 3 else None, shaped[-1]


def build_stress_maps(bar: Bar, samples: Samples, *, n_around: int = POINTS_AROUND) -> StressMaps:
    """Closed-form maps of `bar` at `samples`, `n_around` points (a multiple of 8) round each surface.

    Raises
    ------
    InputError
        A hole as wide as what it goes through.
    """
    built: dict[SectionAt, int] = {}
    index = np.empty(len(samples.station_mm), dtype=np.intp)
    segments = bar.centreline.segments
    middles = [0.5 * (segment.start_station_mm + segment.end_station_mm) for segment in segments]
    bends = [_nearest_bends(segments, number) for number in range(len(segments))]
    body = [
        tuple(SectionAt(segment, None, 1.0, 0.0, facing=facing) for facing in bends[segment])
        for segment in range(len(segments))
    ]
    flat_lengths = [end.flat.length_mm if end.flat is not None else 0.0 for end in bar.ends]
    lowest, highest = flat_lengths[0], bar.centreline.length_mm - flat_lengths[1]
    drilled = [hole for end in bar.ends for hole in flat_holes(end)]
    walls = {number for number, region in enumerate(samples.regions) if region.hole in drilled}
    columns = (samples.station_mm, samples.segment, samples.region, samples.edge)
    for i, (station, segment, region, edge) in enumerate(zip(*(column.tolist() for column in columns), strict=True)):
        # Nearly every sample is of the plain body, which its segment alone decides.
        half = int(station > middles[segment])
        if edge and region in walls:
            continue
        if lowest <= station <= highest and not edge and samples.regions[region].hole is None:
            section = body[segment][half]
        else:
            section = _section(bar, samples.regions[region], station, segment, edge, bends[segment][half])
        index[i] = built.setdefault(section, len(built))
    build = Build.of(bar, n_around)
    matrix, angle_rad, position_mm, exists, surface, hoop = stacked_maps(build, tuple(built))
    maps = StressMaps(matrix, angle_rad, position_mm, exists, surface, index, hoop)
    return _with_walls(bar, samples, maps, sorted(walls), build)


def _with_walls(
    bar: Bar,
    samples: Samples,
    maps: StressMaps,
    walls: list[int],
    build: Build,
) -> StressMaps:
    """The maps with those of the walls of holes in flats, regions `walls`: all edges of a hole at once."""
    if not walls:
        return maps
    found = []
    for number in walls:
        end = bar.right if samples.regions[number].side == "right" else bar.left
        hole = samples.regions[number].hole
        if hole is not None:
            wall = flat_wall_map(bar, end, hole, n_around=build.n_around)
            found.append(turned(wall, build.thickness_angle_rad(end.side)))
        here = samples.of(number)
        edges = np.arange(here.start, here.stop)[samples.edge[here] > 0]
        maps.index[edges] = len(maps.matrix) + sum(len(wall.matrix) for wall in found[:-1]) + np.arange(len(edges))
    count, points = sum(len(wall.matrix) for wall in found), len(maps.surface)

    def joined(old: Array | NDArray[np.bool_], new: list[Array | NDArray[np.bool_]], columns: int | None = None) -> Any:
        out = np.zeros((len(old) + count, points, *new[0].shape[2:]), dtype=old.dtype)
        out[: len(old), ..., : columns or None] = old
        at = len(old)
        for part in new:
            out[at : at + len(part), : part.shape[1]] = part
            at += len(part)
        return out

    return StressMaps(
        matrix=joined(maps.matrix, [wall.matrix for wall in found], maps.matrix.shape[-1]),
        angle_rad=joined(maps.angle_rad, [wall.angle_rad for wall in found]),
        position_mm=joined(maps.position_mm, [wall.position_mm for wall in found]),
        exists=joined(maps.exists, [wall.exists for wall in found]),
        surface=maps.surface,
        index=maps.index,
        hoop=np.concatenate([maps.hoop, np.ones(count, dtype=bool)]),
    )


def stress_assumptions(bar: Bar, *, solid: bool = False) -> tuple[str, ...]:
    """What the stress maps take for granted on this bar, one sentence each; of a `solid`, in flats and ends alone."""
    out = [f"Local stress of {'ends' if solid else 'straights'} and flats: closed forms (Saint-Venant)."]
    if bar.section.shape == "tube":
        if bar.section.bend_wall == "thinned":
            out.append(f"Tube in its bends: {WALL_RULE}. As made it is round there; it ovalises under load.")
        else:
            walls = "even wall" if bar.section.bend_wall == "uniform" else f"wall {_measured(bar)}"
            out.append(
                f"Tube in its bends: {walls}, as the bar file says. As made it is round there; it ovalises under load."
            )
    oval = bar.section.ovality_percent
    if oval:
        out = [line.replace("As made it is round there", f"As made it is {oval:g} % oval there") for line in out]
    flats = [end.flat for end in bar.ends if end.flat is not None]
    if any(flat.transition_mm > 0.0 for flat in flats):
        folds = (
            f" At both ends of a pressed one fatigue sees {FOLD:g} times the section's stress, a bound on its folds "
            "(common practice, no source)."
        )
        kinds = {flat.kind for flat in flats}
        out.append(
            "Transition from body to flat: stress for each resultant runs from one section's own to the other's, of a "
            "forged one as if lengths ran linearly." + shoulder_words(bar) + (folds if "pressed" in kinds else "")
        )
    if any(flat.kind == "forged" and flat.outline is None and flat.transition_mm > 0.0 for flat in flats):
        fillets = {DEFAULT_FILLET_MM if flat.fillet_mm is None else flat.fillet_mm for flat in flats}
        out.append(
            "Outline of the forged transition not given: taken as the worse of a half cosine and straight sides with "
            f"fillets of {max(fillets):g} mm ([ends] flat, outline and fillet)."
        )
    if any(flat.kind == "pressed" for flat in flats):
        out.append("Pressed flat: two leaves that are not bonded, each carrying half.")
    if any(hole.diameter_mm is not None for end in bar.ends if end.flat is None for hole in end.holes):
        out.append(
            "Hole in a round end: its axis is not given, so it is taken where it weakens the section most (through the"
            " extreme fibre of whatever moment acts)."
        )
    out += _edge_assumptions(bar)
    return tuple(out)


def _measured(bar: Bar) -> str:
    pairs = [f"{outside:g} mm outside and {inside:g} mm inside" for outside, inside in bar.section.bend_walls_mm]
    return pairs[0] if len(pairs) == 1 else ", ".join(f"{pair} (bend {i})" for i, pair in enumerate(pairs, 1))


def _edge_assumptions(bar: Bar) -> Iterator[str]:
    yield from hole_assumptions(bar)
    contacts = [mount_contact(mount) for mount in bar.mounts] + [collar_contact(collar) for collar in bar.collars]
    for contact in dict.fromkeys(contact for contact in contacts if contact is not None):
        yield f"Contact, {contact.kind}: fatigue sees {contact.factor:g} x the stress at its edge: {contact.source}."


def _nearest_bends(segments: tuple[Segment, ...], number: int) -> tuple[int | None, int | None]:
    """Segments of the bends next to the first and to the second half of segment `number`; its own where it is one."""
    if segments[number].radius_mm is not None:
        return number, number
    before = next((i for i in range(number, -1, -1) if segments[i].radius_mm is not None), None)
    after = next((i for i in range(number, len(segments)) if segments[i].radius_mm is not None), None)
    return (after if before is None else before), (before if after is None else after)


def _section(bar: Bar, region: Region, station: float, segment: int, edge: int, facing: int | None) -> SectionAt:
    hole = region.hole.diameter_mm if region.hole is not None else None
    side, share = None, 1.0
    for end in bar.ends:
        from_tip = station if end.side == "right" else bar.centreline.length_mm - station
        if end.flat is not None and from_tip < end.flat.length_mm:
            fraction = float(transition_fraction(end.flat, np.array([from_tip]))[0])
            side, share = end.side, section_share(end.flat, round(fraction, 12), diameter_mm=bar.section.diameter_mm)
            _check_hole(region, hole, min(end.flat.width_mm, bar.section.diameter_mm) if share else end.flat.width_mm)
    if side is None:
        _check_hole(region, hole, bar.section.diameter_mm)
    factors: tuple[float, ...] = (region.contact.factor,) if edge and region.contact is not None else ()
    flat_of = None
    if edge and region.kind == "transition":
        flat_of, factors = region.side, (FOLD,)
    return SectionAt(segment, side, share, hole or 0.0, edge, factors, flat_of, facing)


def _check_hole(region: Region, hole_mm: float | None, width_mm: float) -> None:
    if hole_mm is not None and hole_mm >= width_mm and region.hole is not None:
        raise InputError(
            f'hole "{region.hole.name}" of the {region.side} end, diameter {hole_mm:g} mm, leaves nothing of the'
            f" {width_mm:g} mm there.",
            where="[ends] holes",
            expected=f"a diameter below {width_mm:g} mm.",
        )
