"""Rules of the review that look at the shape and at what the maker has to do: bushings, bends, flats, holes."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

import numpy as np

from barfem.model.bar import Bar, End
from barfem.model.bar_geometry import end_straight_mm
from barfem.model.bent_wall import wall_by_rule
from barfem.model.lra import rows_from_centreline
from barfem.vendor.maker_tables import bending_of, clamp_length_mm, process_of
from barfem.vendor.part import clocking_deg
from barfem.vendor.rules import Finding, Rule, Severity, finding

__all__ = ["making"]

Rules = Mapping[str, Rule]


def making(bar: Bar, rules: Rules) -> list[Finding]:
    """Findings of the shape."""
    return [each for part in (_bushings, _straights, _bends, _holes, _axes) for each in part(bar, rules)]


def _bushings(bar: Bar, rules: Rules) -> Iterator[Finding]:
    length = bar.centreline.length_mm
    taken = [(bend.start_station_mm, bend.end_station_mm, f"bend {bend.bend}") for bend in bar.centreline.bends]
    for end in bar.ends:
        if end.flat is not None:
            reach = end.flat.length_mm
            span = (0.0, reach) if end.side == "right" else (length - reach, length)
            taken.append((*span, f"the {end.side} flat with its transition"))
    for number, mount in enumerate(bar.mounts, start=1):
        low, high = mount.station_mm - 0.5 * mount.length_mm, mount.station_mm + 0.5 * mount.length_mm
        gaps = [(max(start - high, low - stop), what) for start, stop, what in taken]
        if gaps:
            gap, what = min(gaps)
            words = f"bushing {gap:.1f} mm from {what}" if gap >= 0.0 else f"bushing overlaps {what} by {-gap:.3g} mm"
            yield from finding(rules["bushing_gap"], gap, words, f"mount {number}")


def _straights(bar: Bar, rules: Rules) -> Iterator[Finding]:
    clamp = clamp_length_mm(bar)
    for i, row in enumerate(rows_from_centreline(bar.centreline)[1:-1], start=1):
        yield from finding(
            rules["straight_over_clamp"],
            row.length_mm / clamp,
            f"{row.length_mm:.1f} mm of straight for a clamp of {clamp:g} mm",
            f"between bends {i} and {i + 1}",
        )


def _bends(bar: Bar, rules: Rules) -> Iterator[Finding]:
    section, process = bar.section, process_of(bar)
    tube = section.wall_mm is not None
    name = {"cold": "radius_cold_tube" if tube else "radius_cold_solid", "hot": "radius_hot"}.get(
        process, "radius_mandrel_tube" if tube else "radius_cold_solid"
    )
    rule = rules[name]
    least = bending_of(bar).min_radius_over_diameter
    if least is not None:  # the maker's own least: below it he does not bend
        rule = Rule(rule.key, rule.title, "", least, max(least, rule.ask or 0.0), "below", "[bending] of the bar file")
    for bend in bar.centreline.bends:
        radius, where = bend.radius_mm or 0.0, f"bend {bend.bend}"
        ratio = radius / section.diameter_mm
        yield from finding(rule, ratio, f"radius {radius:g} mm is {ratio:.2f} diameters, bent {process}", where)
        if process != "hot":
            yield from _strain(bar, rules, radius, where)
        if tube:
            yield from _wall(bar, rules, radius, bend.bend or 1, where)
    if tube and section.ovality_percent:
        yield from finding(
            rules["ovality"], section.ovality_percent, f"ovality {section.ovality_percent:g} % of bends", "all bends"
        )


def _strain(bar: Bar, rules: Rules, radius: float, where: str) -> Iterator[Finding]:
    strain = 0.5 * bar.section.diameter_mm / radius
    elongation = bar.steel.elongation_percent
    if bar.steel.bent == "before-hardening" or elongation is None:
        state = "as supplied, before hardening" if bar.steel.bent == "before-hardening" else "it is bent in"
        yield from finding(
            rules["fibre_strain"],
            strain,
            f"outer fibre strained {100 * strain:.0f} % in cold bending; the elongation of the condition {state} is "
            "not in the bar file: ask for it",
            where,
            given="ask",
        )
        return
    yield from finding(
        rules["fibre_strain"],
        strain / (0.01 * elongation),
        f"outer fibre strained {100 * strain:.0f} % in cold bending, elongation {elongation:g} %",
        where,
    )


def _wall(bar: Bar, rules: Rules, radius: float, number: int, where: str) -> Iterator[Finding]:
    section = bar.section
    wall, half = section.wall_mm or 0.0, 0.5 * section.diameter_mm
    outside, how = wall * radius / (radius + half), "estimated"
    # as the check's stress has it, and no more than the tube can hold
    inside = min(wall_by_rule(wall=wall, diameter=section.diameter_mm, radius=radius).inside, half)
    if section.bend_walls_mm:
        walls = section.bend_walls_mm
        (outside, inside), how = walls[0] if len(walls) == 1 else walls[number - 1], "measured"
    yield from finding(
        rules["wall_outside"],
        outside / wall,
        f"wall {outside:.2f} mm outside, {inside:.2f} mm inside the bend ({how}), {wall:g} mm as delivered",
        where,
    )


def _holes(bar: Bar, rules: Rules) -> Iterator[Finding]:
    for end in bar.ends:
        if end.flat is not None:
            spare = end_straight_mm(bar, end) - end.flat.length_mm
            what = f"the flat is {-spare:.1f} mm longer than the straight it lies on"
            yield from finding(rules["flat_in_straight"], spare, what, f"{end.side} end")
        drilled = sorted((h for h in end.holes if h.diameter_mm is not None), key=lambda hole: hole.from_tip_mm)
        for hole in drilled:
            size = hole.diameter_mm or 1.0
            where = f'hole "{hole.name}", {end.side} end'
            gap = (hole.from_tip_mm - 0.5 * size) / size
            yield from finding(rules["hole_to_end"], gap, f"hole edge {gap:.2f} hole diameters from the cut end", where)
            across = end.flat.width_mm if end.flat is not None and hole.from_tip_mm < end.flat.length_mm else None
            side = 0.5 * ((across or bar.section.diameter_mm) - size) / size
            what = "the flat's side" if across else "the round bar's side"
            yield from finding(rules["hole_to_side"], side, f"hole edge {side:.2f} hole diameters from {what}", where)
            if end.flat is not None:
                spare = end.flat.length_mm - end.flat.transition_mm - (hole.from_tip_mm + 0.5 * size)
                what = f"the hole reaches {-spare:.1f} mm beyond the flat's full thickness"
                yield from finding(rules["hole_in_flat"], spare, what, where)
        for one, two in itertools.pairwise(drilled):
            apart = two.from_tip_mm - one.from_tip_mm
            if apart == 0.0:
                continue  # one bore named twice, for another offset
            ratio = apart / max(one.diameter_mm or 1.0, two.diameter_mm or 1.0)
            yield from finding(
                rules["hole_to_hole"],
                ratio,
                f"{apart:g} mm between centres, {ratio:.2f} hole diameters",
                f'holes "{one.name}" and "{two.name}", {end.side} end',
            )


def _axes(bar: Bar, rules: Rules) -> Iterator[Finding]:
    right, left = bar.right, bar.left
    if right.flat is None or left.flat is None:
        return
    given = _given_so(bar)
    one, other = np.array(right.flat.normal), np.array(left.flat.normal)
    ways = (("holes_parallel", other, "not parallel"), ("holes_mirrored", other * [1, -1, 1], "no mirror images"))
    for key, axis, words in ways:
        angle = float(np.degrees(np.arctan2(np.linalg.norm(np.cross(one, axis)), abs(one @ axis))))
        clocked = " and ".join(f"{_clock(bar, end)} {end.side}" for end in (right, left))
        what = f"hole axes of the ends are {words} by {angle:.1f} deg (clocked {clocked})"
        limit = rules[key].ask
        # The file says both ends' axes by themselves: nothing was overlooked, and the maker is told.
        as_given: Severity | None = "note" if given and limit is not None and angle > limit else None
        yield from finding(rules[key], angle, what + (", as the bar file gives them" if as_given else ""), "both ends",
                           given=as_given)  # fmt: skip


def _clock(bar: Bar, end: End) -> str:
    angle, _ = clocking_deg(bar, end)
    return "not at all" if angle is None else f"{angle:.1f} deg"


def _given_so(bar: Bar) -> bool:
    """Whether the bar file itself gives a side its own hole axis."""
    ends = {} if bar.tables is None else bar.tables.get("ends", {})
    return any("normal" in ends.get(side, {}).get("flat", {}) for side in ("right", "left"))
