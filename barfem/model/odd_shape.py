"""What does not look like an anti-roll bar: slips of the pen that a solver would take at their word.

A rotation or an arm with the wrong sign, a mount a hand's breadth off, arm and width exchanged, inches written as mm,
a hole copied and not changed, N/m written as N/mm, radians as degrees, a motion ratio upside down, the share of bars
that fails for the one that survives.
Each is said with the numbers to hold against paper, before anything else of the check. A bar may be meant so: nothing
is refused. The limits lie well outside what bars have; they are common practice, no source.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from barfem.model.bar import Bar, End
from barfem.model.dimensions import Dimensions
from barfem.model.links import lengths_mm
from barfem.model.odd_numbers import LEAST_TRAVEL_MM, LONGEST_BAR_MM, WIDEST_FLAT, odd_numbers
from barfem.model.odd_sides import between_deg, odd_sides, unlike_ends
from barfem.model.odd_steel import odd_steel
from barfem.model.warned import Asked

__all__ = ["MOST_MOTION_RATIO", "odd_words"]

UNEVEN_MM = 5.0  # of the middle between the mounts from those between the cut ends and between the arms' roots
BOWED = 12.0  # diameters of bend radius: a bushing seats on a middle that is bowed so gently
MOST_CRANK = 0.4  # of the width, from the line of the mounts; bars that go around an engine have 0.25
LONGEST_ARM = 0.6  # of the width; bars have 0.15 to 0.45
SKEW_DEG = 20.0  # of one arm from the mirror image of the other
LEAST_SPAN = 0.2  # of the outermost mounts, of the width; bars have 0.5 to 0.8
LEAST_DIAMETER_MM = 8.0
"""Thinner than any bar of a road car (common practice, no source)."""

LEAST_WALL, MOST_WALL = 0.03, 0.3  # of the diameter; tubes of bars have 0.06 to 0.25
LEAST_FROM_TIP_MM = 4.0
"""A drilled hole nearer to the cut end breaks out of it; none at all, and the joint is at the tip."""

MOST_LENGTH_ERROR = 0.03
"""Of the link's length: 4 mm of 140, three turns of its thread."""

SET_BY_THREAD_MM = 5.0
"""A preload that is set on purpose, at a short link too: four turns of 1.25 mm."""

LEAST_LINK_MM, LONGEST_LINK_MM = 35.0, 1000.0  # two small rod ends, screwed together, have 50
MOST_OFFSET_MM = 100.0  # from a hole to its joint: a stud or a bracket has 10 to 60
LEAST_HOLE_MM = 6.0  # links hang on M8 to M14: half of 10.2 is a radius
LEAST_BUSHING_MM = 5.0
SOFTEST_MOUNT_N_PER_MM, STIFFEST_MOUNT_N_PER_MM = 100.0, 1e6  # rubber has some thousand, hard plastic some ten thousand
RUBBER_N_PER_MM = 2000.0, 8000.0
"""As `barfem new` says. What is typed with its unit as lbf/in and was N/mm comes out as 350 to 1 400 N/mm."""
TYPED_IN_LBF = 0.175 * RUBBER_N_PER_MM[1]
LEAST_ALONG_N_PER_MM = 10.0
"""Of all bushings together, along the bar: below it the bar gives way to links that lean rather than twist."""

LEAST_ABOUT_NMM_PER_RAD, MOST_ABOUT_NMM_PER_RAD = 2000.0, 5e6
"""Bonded rubber has 50 to 1 500 N m/rad about the bar; one that slides is given as 0."""

THINNEST_FLAT = 0.1  # diameters
LEAST_BEND_DEG = 2.0  # 90 deg is 1.57 rad
MOST_MOTION_RATIO = 1.2  # pickup over wheel travel
MOST_RATIO = 0.8  # of the cycle's other end to its full travel: from there on next to nothing moves
LEAST_TARGET_CYCLES = 1000.0
GREATEST_YIELD_MARGIN = 3.0  # yield at four times the stress
LEAST_SURVIVAL = 0.5


def odd_words(bar: Bar, found: Dimensions) -> tuple[str, ...]:
    """What is odd about the bar's shape and travel, in short sentences with the numbers; empty for a usual bar."""
    return (
        *_arms(bar, found),
        *odd_sides(bar, found),
        *_mounts(bar, found),
        *_holes(bar, found),
        *_ends_alike(bar),
        *_units(bar),
        *_bends(found),
        *odd_steel(bar),
        *_targets(bar),
        *odd_numbers(bar, found),
    )


def _arms(bar: Bar, found: Dimensions) -> Iterator[str]:
    right, left = (np.array(arm.vector_mm) for arm in found.arms)
    longest = max(length for arm in found.arms for length in arm.lengths_mm)
    if found.arms_oppose:
        yield "the arms point OPPOSITE WAYS: a rotation, or an arm, with the wrong sign?"
    else:
        off = between_deg(right, left * [1.0, -1.0, 1.0])
        if off > SKEW_DEG:
            yield (
                f"the left arm points {off:.0f} deg off the right one's mirror image: a rotation with the wrong sign?"
            )
        else:
            yield from unlike_ends(bar)
    if longest > LONGEST_ARM * max(found.width_mm, 1.0):
        yield f"arms of {longest:.0f} mm on a bar {found.width_mm:.0f} mm wide: arm and width exchanged?"


def _mounts(bar: Bar, found: Dimensions) -> Iterator[str]:
    """A mount that slipped is off the cut ends' middle and that of the arms' roots; arms that differ are off one.

    What is told of a mount out of its place is told once.
    """
    ys = found.mounts_y_mm
    bends = bar.centreline.bends
    middles = [0.5 * sum(arm.tip_mm[1] for arm in found.arms)]
    if len(bends) > 1:
        roots, _ = bar.centreline.evaluate([b.start_station_mm + 0.5 * b.length_mm for b in (bends[0], bends[-1])])
        middles.append(0.5 * float(roots[0, 1] + roots[1, 1]))
    off = min((0.5 * (ys[0] + ys[-1]) - middle for middle in middles), key=abs)
    span = abs(ys[-1] - ys[0])
    if len(ys) > 1 and span < LEAST_SPAN * found.width_mm:
        yield f"mounts {span:.3g} mm apart on a bar {found.width_mm:.0f} mm wide: inches written as mm?"
    if abs(off) > UNEVEN_MM:
        yield f"the mounts' middle lies {abs(off):.0f} mm {'left' if off > 0.0 else 'right'} of the bar's: a mount off?"
        return
    if bends:
        first, last = bends[0].start_station_mm, bends[-1].start_station_mm + bends[-1].length_mm
        on_arms = [mount for mount in bar.mounts if not first <= mount.station_mm <= last]
        if on_arms:
            beyond = max(max(first - mount.station_mm, mount.station_mm - last) for mount in on_arms)
            yield f"a mount sits on an arm, {beyond:.0f} mm beyond the outermost bend: a mount off?"
            return
        tight = [bend for bend in bends if (bend.radius_mm or 0.0) < BOWED * bar.section.diameter_mm]
        for mount, bend in itertools.product(bar.mounts, tight):
            if bend.start_station_mm < mount.station_mm < bend.end_station_mm:
                yield f"a mount's middle lies in bend {bend.bend}: a mount off?"
                return
    yield from _crank(bar, found)


def _crank(bar: Bar, found: Dimensions) -> Iterator[str]:
    """How far the bar goes from the straight line between its outermost mounts, to go around something."""
    stations = sorted(mount.station_mm for mount in bar.mounts)
    path, _ = bar.centreline.evaluate(np.linspace(stations[0], stations[-1], 201))
    line = path[-1] - path[0]
    size = float(np.linalg.norm(line))
    if size < 1e-9:
        return
    away = path - path[0] - np.outer((path - path[0]) @ line / size**2, line)
    most = float(np.linalg.norm(away, axis=1).max())
    if most > MOST_CRANK * found.width_mm:
        yield (
            f"between the mounts the bar lies {most:.0f} mm off their line, on a width of {found.width_mm:.0f} mm: a "
            "slipped point?"
        )


def _holes(bar: Bar, found: Dimensions) -> Iterator[str]:
    """Two holes at one place are meant where their pickups differ (a spacer); else one was copied and not changed. And
    a hole is at an end, not on the middle."""
    pairs = set()
    for end in (bar.right, bar.left):
        for one, two in itertools.combinations(end.holes, 2):
            if one.from_tip_mm == two.from_tip_mm and one.offset_mm == two.offset_mm:
                pairs.add((one.name, two.name, one.from_tip_mm))
    for name, other, from_tip in sorted(pairs):
        yield f"holes {name} and {other} are one place, {from_tip:g} mm from the cut end: copied and not changed?"
    for arm in found.arms:
        none = [number for number in range(len(arm.holes)) if not arm.is_lever(number)]
        if none:
            yield (
                f"hole {arm.holes[none[0]]}, {arm.holes_from_tip_mm[none[0]]:g} mm from the cut end, is no lever: "
                f"{round(arm.lengths_mm[none[0]], 1):g} mm from the line of the mounts, where the end reaches "
                f"{arm.reach_mm:.0f} mm: a slipped point?"
            )
            return
    past = {
        (hole.name, hole.from_tip_mm, what)
        for end, reach, what in _room(bar)
        for hole in end.holes
        if hole.from_tip_mm > reach
    }
    for name, from_tip, what in sorted(past)[:1]:
        yield (f"hole {name} lies {from_tip:g} mm from the cut end, past the {what}: a slipped point?")


def _room(bar: Bar) -> Iterator[tuple[End, float, str]]:
    """Each end, how far from its cut end holes are drilled, and what ends that room: its flat, or else its bend."""
    line, bends = bar.centreline, bar.centreline.bends
    for end in (bar.right, bar.left):
        if end.flat is not None:
            yield end, end.flat.length_mm, f"flat of {end.flat.length_mm:.4g} mm"
        elif bends:
            last = bends[-1].start_station_mm + bends[-1].length_mm
            root = bends[0].start_station_mm if end is bar.right else line.length_mm - last
            yield end, root, f"bend at {root:.4g} mm"


def _ends_alike(bar: Bar) -> Iterator[str]:
    """A hole's name or place in the list says which hole of the other end goes with it: 1 is the outermost on both."""
    places = [{hole.name: hole.from_tip_mm for hole in end.holes} for end in (bar.right, bar.left)]
    right, left = places
    both = [name for name in right if name in left]
    pairs = [(name, name) for name in both] if both else list(zip(right, left, strict=False))
    for one, other in itertools.combinations(pairs, 2):
        if (right[one[0]] - right[other[0]]) * (left[one[1]] - left[other[1]]) < 0.0:
            nearer, farther = sorted((one, other), key=lambda pair: right[pair[0]])
            yield (
                f"hole {nearer[0]} lies outside hole {farther[0]} at the right end ({right[nearer[0]]:g} and "
                f"{right[farther[0]]:g} mm from the cut end), and hole {nearer[1]} inside {farther[1]} at the left "
                f"({left[nearer[1]]:g} and {left[farther[1]]:g} mm): listed the other way round?"
            )
            return


def _units(bar: Bar) -> Iterator[str]:
    if bar.section.diameter_mm < LEAST_DIAMETER_MM:
        text = f"a bar of {bar.section.diameter_mm:.3g} mm diameter: a slipped point, or another unit?"
        yield Asked(text, "diameter")
    wall = bar.section.wall_mm
    if wall is not None and wall < LEAST_WALL * bar.section.diameter_mm:
        yield f"a wall of {wall:.3g} mm on a tube of {bar.section.diameter_mm:.3g} mm: inches written as mm?"
    if wall is not None and wall > MOST_WALL * bar.section.diameter_mm:
        yield (
            f"a wall of {wall:.3g} mm on a tube of {bar.section.diameter_mm:.3g} mm: the bore's radius written for "
            "the wall?"
        )
    nearest = min(
        (hole.from_tip_mm for end in bar.ends for hole in end.holes if hole.from_tip_mm > 0.0), default=np.inf
    )
    if nearest < LEAST_FROM_TIP_MM:
        yield f"a hole {nearest:.3g} mm from the cut end: inches written as mm?"
    travel = max(bar.travel.up_mm, bar.travel.down_mm)
    if 0.0 < travel < LEAST_TRAVEL_MM:
        yield f"travel of {travel:.3g} mm: {'inches' if travel > LEAST_TRAVEL_MM / 25.4 else 'metres'} written as mm?"
    sides = ((bar.right_link, bar.right), (bar.left_link, bar.left))
    lengths = [size for link, end in sides for size in lengths_mm(link, end, centreline=bar.centreline)]
    if min(lengths) < LEAST_LINK_MM:
        yield f"links {min(lengths):.3g} mm long: inches or cm written as mm?"
    if max(lengths) > LONGEST_LINK_MM:
        yield f"links {max(lengths):.4g} mm long: a slipped point, or another unit?"
    yield from _length_errors(bar)
    holes = [hole.diameter_mm for end in bar.ends for hole in end.holes if hole.diameter_mm is not None]
    if holes and min(holes) < LEAST_HOLE_MM:
        yield f"a hole of {min(holes):.3g} mm diameter: its radius, a slipped point, or another unit?"
    offset = max((float(np.linalg.norm(hole.offset_mm)) for end in bar.ends for hole in end.holes), default=0.0)
    if offset > MOST_OFFSET_MM:
        yield f"a joint {offset:.0f} mm from its hole: a slipped point?"
    widest = max((end.flat.width_mm for end in bar.ends if end.flat is not None), default=0.0)
    if widest > WIDEST_FLAT * bar.section.diameter_mm:
        yield (
            f"a flat {widest:.4g} mm wide on a bar of {bar.section.diameter_mm:.3g} mm: width and length exchanged, "
            "or a slipped point?"
        )
    thinnest = min(
        (end.flat.thickness_mm for end in bar.ends if end.flat is not None and end.flat.kind == "forged"),
        default=np.inf,
    )
    if thinnest < THINNEST_FLAT * bar.section.diameter_mm:
        yield (
            f"a flat {thinnest:.3g} mm thick on a bar of {bar.section.diameter_mm:.3g} mm diameter: a slipped point, "
            "or another unit?"
        )
    bushings = [mount.length_mm for mount in bar.mounts if mount.length_mm > 0.0]
    if bushings and min(bushings) < LEAST_BUSHING_MM:
        yield f"a bushing {min(bushings):.3g} mm long: inches written as mm?"
    yield from _stiffnesses(bar)


def _stiffnesses(bar: Bar) -> Iterator[str]:
    across = [k for mount in bar.mounts if (k := mount.radial_stiffness_N_per_mm) > 0.0]  # 0: it holds nothing across
    brackets = [one for mount in bar.mounts if (one := mount.bracket_stiffness_N_per_mm) is not None]
    links = [one for link in (bar.right_link, bar.left_link) if (one := link.axial_stiffness_N_per_mm) is not None]
    for what, found in (("bushing", across), ("bracket", brackets), ("link", links)):
        if found and max(found) > STIFFEST_MOUNT_N_PER_MM:
            yield f"a {what} of {max(found):.3g} N/mm: N/m written as N/mm?"
        if found and min(found) < SOFTEST_MOUNT_N_PER_MM:
            yield f"a {what} of {min(found):.3g} N/mm: kN/mm written as N/mm?"
        elif what == "bushing" and found and min(found) < TYPED_IN_LBF:
            soft, stiff = RUBBER_N_PER_MM
            yield f"a bushing of {min(found):.0f} N/mm, where rubber has {soft:.0f} to {stiff:.0f}: lbf/in for N/mm?"
    along = sum(mount.axial_stiffness_N_per_mm for mount in bar.mounts)
    if along < LEAST_ALONG_N_PER_MM:
        yield f"bushings that hold the bar with {along:.3g} N/mm along it: kN/mm written as N/mm?"
    about = [k for mount in bar.mounts if (k := mount.torsional_stiffness_Nmm_per_rad) > 0.0]
    if about and min(about) < LEAST_ABOUT_NMM_PER_RAD:
        yield f"a bushing of {min(about):.3g} N mm/rad about the bar: N m/rad written as N mm/rad?"
    if about and max(about) > MOST_ABOUT_NMM_PER_RAD:
        yield (
            f"a bushing of {max(about):.3g} N mm/rad about the bar, where bonded rubber has 5e4 to 1.5e6: a slipped "
            "point, or another unit?"
        )


def _length_errors(bar: Bar) -> Iterator[str]:
    """A link that is off by more than its thread is set by: the preload is not meant, or a length stands there."""
    off = {}
    for end, link in zip((bar.right, bar.left), (bar.right_link, bar.left_link), strict=True):
        length = min(lengths_mm(link, end, centreline=bar.centreline))
        if abs(link.length_error_mm) > max(MOST_LENGTH_ERROR * length, SET_BY_THREAD_MM):
            off[end.side] = f"{link.length_error_mm:+g} mm on a link of {length:.4g} mm"
    if off:
        most = f"{100.0 * MOST_LENGTH_ERROR:g} %"
        sides = "" if len(off) == 2 and len(set(off.values())) == 1 else "/".join(off) + " "
        yield Asked(
            f"{sides}length_error {' and '.join(dict.fromkeys(off.values()))}, more than {most}: it "
            "preloads the bar as fitted; a slipped point?",
            "length_error",
        )


def _bends(found: Dimensions) -> Iterator[str]:
    if found.developed_length_mm > LONGEST_BAR_MM:
        text = f"a bar {found.developed_length_mm:.0f} mm long along its centreline: a slipped point, or another unit?"
        yield Asked(text, "developed length")
    least = min(found.bend_angles_deg, default=np.inf)
    if least < LEAST_BEND_DEG:
        yield f"a bend of {least:.3g} deg: radians written as deg?"


def _targets(bar: Bar) -> Iterator[str]:
    ratio = bar.travel.motion_ratio
    if ratio is not None and ratio > MOST_MOTION_RATIO:
        yield Asked(
            f"a motion ratio of {ratio:g}, pickup over wheel travel, of which bars have 0.3 to "
            f"{MOST_MOTION_RATIO:g}: upside down?",
            "motion_ratio",
        )
    if bar.duty.ratio > MOST_RATIO:
        yield f"a duty ratio of {bar.duty.ratio:g}, cycles between nearly the same travels: -1 or 0 meant?"
    strokes = [block.pickup_mm for block in bar.duty.blocks]
    if strokes and max(strokes) < LEAST_TRAVEL_MM:
        yield f"blocks of at most {max(strokes):.3g} mm of travel: inches or metres written as mm?"
    if bar.duty.target_cycles_given and bar.duty.target_cycles < LEAST_TARGET_CYCLES:
        yield f"a target of {bar.duty.target_cycles:g} cycles of full travel: thousands left out?"
    if bar.targets.yield_margin > GREATEST_YIELD_MARGIN:
        yield f"a yield margin of {bar.targets.yield_margin:g}: per cent written as a share?"
    if bar.targets.survival < LEAST_SURVIVAL:
        yield (
            f"a target life that only {100 * bar.targets.survival:g} % of bars must reach: the share that fails "
            "written for the one that survives?"
        )
