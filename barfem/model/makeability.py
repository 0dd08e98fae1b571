"""Warnings of what can be solved but should not be made. The limits are common practice, no source."""

from __future__ import annotations

import itertools

import numpy as np

from barfem.model.bar import Bar, End, Flat
from barfem.model.bar_geometry import body_properties
from barfem.model.links import joint_centres
from barfem.model.notes import Notes
from barfem.model.vectors import cross
from barfem.model.warned import Effect

__all__ = ["SMALLEST_RADIUS", "crosses_itself", "warn_of_making"]

SMALLEST_RADIUS = {"round": 1.5, "tube": 2.0}  # bend radius over diameter
_SHORTEST_STRAIGHT = 1.0  # diameters
_DIAMETERS = (5.0, 80.0)  # mm, beyond which a slip of the unit is likely
_LENGTHS = (300.0, 4000.0)
_SLENDER = 20.0  # diameters
_DEAD_CENTRE_DEG = 10.0
_EDGE = 1.5  # hole diameters from hole centre to cut end
_LIGAMENT = 0.5  # hole diameters beside a hole
_UPSET = 1.5  # a forged flat's cross-section over that of the body's steel; about 1 where it is only spread
_SPREAD = 3.0  # a forged flat's width over the body's diameter
_THIN_WALL = 0.05  # wall over diameter; anti-roll bars have 0.1 to 0.27


def warn_of_making(bar: Bar, *, notes: Notes) -> None:
    """Add the warnings of a bar to `notes`."""
    _size(bar, notes)
    _bends(bar, notes)
    _straights(bar, notes)
    _mounts(bar, notes)
    for end in bar.ends:
        _holes(bar, end, notes)
        _flat(bar, end, notes)
    _ends_alike(bar, notes)
    _dead_centre(bar, notes)
    if crosses_itself(bar):
        notes.warn(
            "The bar runs through itself: two places of the centreline come closer than one diameter.", Effect.NO_BAR
        )


def _size(bar: Bar, notes: Notes) -> None:
    diameter, length = bar.section.diameter_mm, bar.centreline.length_mm
    if not _DIAMETERS[0] <= diameter <= _DIAMETERS[1]:
        text = f"A diameter of {diameter:g} mm is unusual for an anti-roll bar: is it in mm?"
        notes.warn(text, Effect.UNITS, about="diameter")
    if not _LENGTHS[0] <= length <= _LENGTHS[1]:
        text = f"A developed length of {length:.5g} mm is unusual for an anti-roll bar: is it in mm?"
        notes.warn(text, Effect.UNITS, about="developed length")
    wall = bar.section.wall_mm
    if wall is not None and wall < _THIN_WALL * diameter * (1.0 - 1e-9):
        notes.warn(
            f"A wall of {wall:g} mm is {wall / diameter:.2g} of the diameter: below {_THIN_WALL:g} a tube may dent, "
            "buckle or wrinkle in its bends, which is not in the numbers (common practice, no source).",
            Effect.DENTS,
        )
    if length < _SLENDER * diameter:
        notes.warn(
            f"The bar is only {length / diameter:.3g} diameters long: a beam does not describe it well.", Effect.SHORT
        )


def _bends(bar: Bar, notes: Notes) -> None:
    diameter = bar.section.diameter_mm
    for bend in bar.centreline.bends:
        radius = bend.radius_mm or 0.0
        least = SMALLEST_RADIUS[bar.section.shape]
        if radius < least * diameter * (1.0 - 1e-9):
            notes.warn(
                f"Bend {bend.bend}: radius {radius:g} mm is {radius / diameter:.3g} diameters; below {least:g} a "
                f"{bar.section.shape} bar is hard to bend (common practice, no source).",
                Effect.TIGHT,
            )


def _straights(bar: Bar, notes: Notes) -> None:
    diameter = bar.section.diameter_mm
    segments = bar.centreline.segments
    for before, after in itertools.pairwise(segments):
        if before.bend is not None and after.bend is not None:
            notes.warn(
                f"Bends {before.bend} and {after.bend} touch: there is no straight between them to grip.",
                Effect.STRAIGHTS,
            )
    for i in range(1, len(segments) - 1):
        segment = segments[i]
        if segment.bend is None and segment.length_mm < _SHORTEST_STRAIGHT * diameter * (1.0 - 1e-9):
            notes.warn(
                f"The straight between bends {segments[i - 1].bend} and {segments[i + 1].bend} is "
                f"{segment.length_mm:.3g} mm, below one diameter (common practice, no source).",
                Effect.STRAIGHTS,
            )
    for side, segment in (("right", segments[0]), ("left", segments[-1])):
        straight = segment.length_mm if segment.bend is None else 0.0
        if len(segments) > 1 and straight < _SHORTEST_STRAIGHT * diameter * (1.0 - 1e-9):
            notes.warn(
                f"The {side} end has {straight:.3g} mm of straight before its bend, below one diameter (common "
                "practice, no source).",
                Effect.STRAIGHTS,
            )


def _mounts(bar: Bar, notes: Notes) -> None:
    length = bar.centreline.length_mm
    for number, mount in enumerate(bar.mounts, start=1):
        low = mount.station_mm - 0.5 * mount.length_mm
        high = mount.station_mm + 0.5 * mount.length_mm
        for bend in bar.centreline.bends:
            if low < bend.end_station_mm - 1e-6 and high > bend.start_station_mm + 1e-6:
                inside = low >= bend.start_station_mm - 1e-6 and high <= bend.end_station_mm + 1e-6
                how = "sits in" if inside else "reaches over the tangent of"
                notes.warn(
                    f"Mount {number} (from_middle {mount.from_middle_mm:g} mm, length {mount.length_mm:g} mm) {how} "
                    f"bend {bend.bend}: a bushing does not seat there.",
                    Effect.UNSEATED,
                )
        for end in bar.ends:
            low_tip = low if end.side == "right" else length - high
            if end.flat is not None and low_tip < end.flat.length_mm - 1e-6:
                notes.warn(
                    f"Mount {number} sits on the {end.side} flat: a bushing does not seat there.", Effect.UNSEATED
                )
            if low_tip < max(hole.from_tip_mm for hole in end.holes):
                notes.warn(f"Mount {number} lies outboard of a hole of the {end.side} end.", Effect.MOUNT_PLACE)


def _holes(bar: Bar, end: End, notes: Notes) -> None:
    segments = bar.centreline.segments
    tip = segments[0] if end.side == "right" else segments[-1]
    straight = tip.length_mm if tip.bend is None else 0.0
    places = [(hole.from_tip_mm, hole.offset_mm) for hole in end.holes]
    for hole in end.holes:
        name = f'Hole "{hole.name}" of the {end.side} end'
        if hole.from_tip_mm > straight + 1e-6:
            notes.warn(f"{name} lies beyond the end's straight, in or past its bend.", Effect.LIGAMENT)
        if end.flat is not None and hole.from_tip_mm > end.flat.length_mm - end.flat.transition_mm + 1e-6:
            notes.warn(f"{name} lies beyond the full flat, in its transition or past it.", Effect.LIGAMENT)
        if places.count((hole.from_tip_mm, hole.offset_mm)) > 1:
            notes.warn(f"{name} is at the same place as another hole, with the same offset.", Effect.DRAWING)
        if hole.diameter_mm is None:
            continue
        if hole.breaks_out:
            notes.warn(
                f"{name} breaks out of the cut end: from_tip is less than half its diameter. Nothing holds the bolt: "
                "no hole setting that uses it passes.",
                Effect.BREAKS_OUT,
            )
        elif hole.from_tip_mm < _EDGE * hole.diameter_mm * (1.0 - 1e-9):
            notes.warn(
                f"{name} is {hole.from_tip_mm / hole.diameter_mm:.3g} diameters from the cut end; below {_EDGE:g} it "
                "may tear out (common practice, no source).",
                Effect.TEARS_OUT,
            )
        on_flat = end.flat is not None and hole.from_tip_mm < end.flat.length_mm
        across = end.flat.width_mm if on_flat and end.flat is not None else bar.section.diameter_mm
        if 0.5 * (across - hole.diameter_mm) < _LIGAMENT * hole.diameter_mm * (1.0 - 1e-9):
            notes.warn(
                f"{name} leaves {0.5 * (across - hole.diameter_mm):.3g} mm of metal on each side, less than "
                f"{_LIGAMENT:g} hole diameters (common practice, no source).",
                Effect.LIGAMENT,
            )


def _flat(bar: Bar, end: End, notes: Notes) -> None:
    flat, section = end.flat, bar.section
    if flat is None:
        return
    if flat.kind == "pressed" and section.wall_mm is not None:
        walls = 2.0 * section.wall_mm
        if abs(flat.thickness_mm - walls) > 0.25 * walls:
            notes.warn(
                f"The {end.side} pressed flat is {flat.thickness_mm:g} mm thick; two walls make {walls:g} mm.",
                Effect.DRAWING,
            )
        widest = 0.5 * np.pi * (section.diameter_mm - section.wall_mm) + section.wall_mm
        if flat.width_mm > 1.1 * widest:
            notes.warn(
                f"The {end.side} pressed flat is {flat.width_mm:g} mm wide; the tube's own girth flattens to about "
                f"{widest:.3g} mm.",
                Effect.FORGING,
            )
    elif section.wall_mm is not None:
        notes.assume(f"The {end.side} forged flat of a tube is solid: the bore is closed and bonded there.")
    if flat.kind == "forged":
        _forging(bar, end.side, flat, notes)
    if flat.fillet_mm is not None and flat.transition_mm > 0.0:
        steps = abs(flat.width_mm - section.diameter_mm), abs(section.diameter_mm - flat.thickness_mm)
        most = flat.transition_mm**2 / (2.0 * max(max(steps), 1e-9))  # see `bar_geometry.fillet_share`
        if flat.fillet_mm > 1.05 * most:
            notes.warn(
                f"The {end.side} flat's fillets of {flat.fillet_mm:g} mm are longer than its transition of "
                f"{flat.transition_mm:g} mm: they are taken as {most:.3g} mm, which meet amid it."
            )
    if flat.transition_mm == 0.0:
        notes.warn(f"The {end.side} flat has no transition: the step in section concentrates stress.", Effect.STEP)


def _forging(bar: Bar, side: str, flat: Flat, notes: Notes) -> None:
    """A flat is forged from the bar's own end: what it holds beyond the round has to be gathered by upsetting first."""
    area, steel = flat.thickness_mm * flat.width_mm, body_properties(bar).area_mm2
    if area > _UPSET * steel:
        notes.warn(
            f"The {side} forged flat is {flat.thickness_mm:g} x {flat.width_mm:g} mm, {area / steel:.2g} times the "
            f"body's {steel:.0f} mm2 of steel: above {_UPSET:g} times its end must be upset far before it is forged "
            "(common practice, no source).",
            Effect.FORGING,
        )
    if flat.width_mm > _SPREAD * bar.section.diameter_mm:
        notes.warn(
            f"The {side} forged flat is {flat.width_mm:g} mm wide, {flat.width_mm / bar.section.diameter_mm:.2g} "
            f"diameters: above {_SPREAD:g} a round hardly spreads without cracks at the flat's sides (common practice, "
            "no source).",
            Effect.FORGING,
        )


def _ends_alike(bar: Bar, notes: Notes) -> None:
    right, left = bar.ends
    names = [[hole.name for hole in end.holes] for end in bar.ends]
    if set(names[0]).isdisjoint(names[1]):
        notes.warn(
            "No hole has the same name on both sides: the holes are paired in the order of the bar file.", Effect.PAIRS
        )
    if any(left.holes[i].from_tip_mm != right.holes[j].from_tip_mm for i, j in bar.hole_pairs):
        notes.warn(
            "The ends are unequal: right and left holes lie at different distances from their tips.", Effect.UNEQUAL
        )
    elif len(right.holes) != len(left.holes):
        counts = f"the right one has {len(right.holes)}, the left one {len(left.holes)}"
        notes.warn(f"The ends are unequal in their holes: {counts}.", Effect.UNEQUAL)
    elif right.flat is not None or left.flat is not None:
        sizes = [
            None if end.flat is None else (end.flat.kind, *[getattr(end.flat, f"{key}_mm") for key in _FLAT_SIZES])
            for end in bar.ends
        ]
        if sizes[0] != sizes[1]:
            notes.warn("The ends are unequal: right and left flats differ.", Effect.UNEQUAL)


def _dead_centre(bar: Bar, notes: Notes) -> None:
    """A link in the plane of its arm and the line of the mounts twists nothing, nor do arms that work opposite ways."""
    order = sorted(mount.station_mm for mount in bar.mounts)
    (first, last), _ = bar.centreline.evaluate([order[0], order[-1]])
    axis = (last - first) / np.linalg.norm(last - first)
    twists = []  # whether a pickup that moves along its travel turns the bar's end forwards about the mounts
    for end, link in zip(bar.ends, (bar.right_link, bar.left_link), strict=True):
        travel = np.array(bar.travel.direction) * ([1.0, -1.0, 1.0] if end.side == "right" else 1.0)
        joints = joint_centres(end, bar.centreline)
        at = np.array(list(joints.values())).reshape(-1, 3)
        swing = cross(axis, at - first)
        along = np.broadcast_to(link.direction, at.shape) if link.direction else np.array(link.pickup_mm) - at
        sizes = np.linalg.norm(swing, axis=1) * np.linalg.norm(along, axis=1)
        works, forwards = np.sum(along * swing, axis=1), along @ travel
        for name, size, work, forward in zip(joints, sizes, works, forwards, strict=True):
            if size < 1e-6:
                notes.warn(
                    f'Hole "{name}" of the {end.side} end lies on the line of the mounts: it has no arm.', Effect.NO_ARM
                )
            elif abs(work) < np.sin(np.radians(_DEAD_CENTRE_DEG)) * size:
                notes.warn(
                    f'The {end.side} link at hole "{name}" points nearly at the line of the mounts: it pulls along its '
                    "arm and hardly twists the bar.",
                    Effect.DEAD_CENTRE,
                )
            else:
                twists.append(bool(work * forward > 0.0))
    if len(set(twists)) > 1:
        notes.warn(
            "The arms work opposite ways: pickups that move opposite ways (roll) turn the bar in its mounts and hardly "
            "twist it, so that it resists no roll.",
            Effect.IDLE,
        )


_FLAT_SIZES = ("thickness", "width", "length", "transition")


def crosses_itself(bar: Bar) -> bool:
    """Whether two places of the bar, farther than three diameters apart along it, touch or overlap.

    Looked at in points a quarter of a diameter apart, where points a whole one apart leave it open; two are too close
    below 0.98 diameters.
    """
    diameter = bar.section.diameter_mm
    # The nearest of the coarse points lies half a diameter from a place at most, in space and along the bar.
    return _come_near(bar, diameter, 1.98, 2.0) and _come_near(bar, 0.25 * diameter, 0.98, 3.0)


def _come_near(bar: Bar, step_mm: float, near: float, apart: float) -> bool:
    """Whether any two of points `step_mm` apart, and `apart` diameters along the bar, are `near` diameters or less."""
    diameter = bar.section.diameter_mm
    count = min(2000, int(np.ceil(bar.centreline.length_mm / step_mm)) + 1)
    stations = np.linspace(0.0, bar.centreline.length_mm, count)
    points, _ = bar.centreline.evaluate(stations)
    square = np.sum(points**2, axis=1)
    distance2 = square[:, None] + square[None, :] - 2.0 * points @ points.T
    one, other = np.nonzero(distance2 < (near * diameter) ** 2)
    return bool((np.abs(stations[one] - stations[other]) > apart * diameter).any())
