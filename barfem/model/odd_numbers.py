"""What does not look like an anti-roll bar in what hangs on it and what is asked of it, as slips of the pen leave it.

More steel in an end than the bar has, a bore written for the diameter, two parts in one place, a per cent written as a
share, thousands left out. Each is what no bar can be or no check can mean; limits are common practice, no source.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from barfem.model.bar import Bar, Flat
from barfem.model.bar_geometry import body_properties
from barfem.model.dimensions import Dimensions

__all__ = ["LEAST_TRAVEL_MM", "LONGEST_BAR_MM", "WIDEST_FLAT", "odd_numbers"]

MOST_STEEL = 2.5
"""Of a forged flat's section over the body's, whose steel it is: an end that is upset far has 1.5. A radius written for
the diameter leaves 3.2 to 5 of what is usual."""

WIDEST_FLAT = 4.0  # diameters; a round spreads to 3, and is forged to 0.4
LONGEST_BAR_MM = 4000.0  # along its centreline; bars of cars have 1 000 to 2 200
MOST_GIRTH = 1.25  # of a pressed flat's width over half the tube's girth: pressing folds a tube and stretches none
WALLS = 0.6, 1.5  # of a pressed flat's thickness over two walls: thinner is not pressed but forged, thicker not closed
LONGEST_BUSHING_MM = 150.0
STIFFEST_ALONG_N_PER_MM = 1e6
LEAST_CONICAL_NMM_PER_RAD = 2000.0  # a bushing 10 mm long has 4e4 from its length alone
MOST_CONTACT = 5.0  # of fatigue stress over nominal: fretting under a press fit reaches 4 (Peterson, from memory)
LEAST_TRAVEL_MM = 3.0
LEAST_BLOCK_CYCLES = 1000.0  # as of a target in cycles
CRITICAL_SUMS = 0.05, 3.0  # of Miner's rule: 0.3 to 1 is used, tests scatter from 0.1 to 3
GOODMAN_FACTORS = 0.8, 5.0
WIDEST_MM = 1900.0  # between tyres of 0.3 m on the widest vehicle that roads take, 2.55 m (directive 96/53/EC)


def odd_numbers(bar: Bar, found: Dimensions) -> Iterator[str]:
    """What is odd, in short sentences with the numbers."""
    if found.width_mm > WIDEST_MM and found.developed_length_mm <= LONGEST_BAR_MM:
        yield (
            f"a bar {found.width_mm:.0f} mm wide between its cut ends, wider than the room between wheels: half widths "
            "doubled, or a slipped point?"
        )
    yield from _flats(bar)
    yield from _bushings(bar)
    yield from _collars(bar)
    yield from _travels(bar)
    yield from _targets(bar)


def _flats(bar: Bar) -> Iterator[str]:
    """Steel is neither made nor stretched much in forging or pressing an end."""
    yield from dict.fromkeys(text for end in bar.ends if end.flat is not None for text in _flat(bar, end.flat))


def _flat(bar: Bar, flat: Flat) -> Iterator[str]:
    diameter, wall, width = bar.section.diameter_mm, bar.section.wall_mm, flat.width_mm
    share = flat.thickness_mm * width / body_properties(bar).area_mm2
    if flat.kind == "forged":
        if share > MOST_STEEL and width <= WIDEST_FLAT * diameter:
            yield (
                f"a flat of {flat.thickness_mm:.4g} x {width:.4g} mm holds {share:.2g} times the steel of a bar of "
                f"{diameter:.4g} mm diameter: the bar's radius written for its diameter, or a flat's size off?"
            )
        return
    if wall is None:
        return
    half = 0.5 * np.pi * (diameter - wall) + wall
    if width > MOST_GIRTH * half:
        yield (
            f"a pressed flat {width:.4g} mm wide, where a tube of {diameter:.4g} mm flattens to {half:.0f}: the bore "
            "written for the diameter?"
        )
    elif not WALLS[0] <= flat.thickness_mm / (2.0 * wall) <= WALLS[1]:
        yield (
            f"a pressed flat {flat.thickness_mm:.4g} mm thick, where two walls make {2.0 * wall:.4g}: wall, or "
            "thickness, off?"
        )


def _bushings(bar: Bar) -> Iterator[str]:
    longest = max(mount.length_mm for mount in bar.mounts)
    if longest > LONGEST_BUSHING_MM:
        yield f"a bushing {longest:.4g} mm long, where bars have 15 to 80: a slipped point?"
    along = max(mount.axial_stiffness_N_per_mm for mount in bar.mounts)
    if along > STIFFEST_ALONG_N_PER_MM:
        yield f"a bushing of {along:.3g} N/mm along the bar: N/m written as N/mm?"
    across = [k for mount in bar.mounts if (k := mount.conical_stiffness_Nmm_per_rad) > 0.0]
    if across and min(across) < LEAST_CONICAL_NMM_PER_RAD:
        yield f"a bushing of {min(across):.3g} N mm/rad about axes across the bar: N m/rad written as N mm/rad?"
    for key, parts in (
        ("[[mounts]] contact_factor", [mount.contact_factor for mount in bar.mounts]),
        ("[[collars]] factor", [collar.factor for collar in bar.collars]),
    ):
        most = max((factor for factor in parts if factor is not None), default=1.0)
        if most > MOST_CONTACT:
            yield f"a {key} of {most:g}, where 1 to 4 is found: per cent written as a factor, or a slipped point?"


def _collars(bar: Bar) -> Iterator[str]:
    """A ring sits beside a bushing, and no two parts in one place of the bar."""
    for collar in bar.collars:
        for number, mount in enumerate(bar.mounts, start=1):
            gap = abs(collar.station_mm - mount.station_mm) - 0.5 * (collar.length_mm + mount.length_mm)
            # a collar may touch the bushing, or be drawn so, to its last millimetre
            if mount.length_mm > 0.0 and gap < -1.0:
                ends = [part.from_middle_mm + s * part.length_mm for part in (collar, mount) for s in (-0.5, 0.5)]
                yield (
                    f"the collar at from_middle {collar.from_middle_mm:g} mm lies in mount {number}, {ends[0]:.4g} to "
                    f"{ends[1]:.4g} mm on {ends[2]:.4g} to {ends[3]:.4g}: collar or mount off?"
                )
                return
    for one, other in itertools.pairwise(bar.collars):
        if other.station_mm - one.station_mm < 0.5 * (one.length_mm + other.length_mm) - 1.0:
            yield (
                f"two collars lie in one another, at from_middle {one.from_middle_mm:g} and {other.from_middle_mm:g} "
                "mm: a sign, or one copied and not changed?"
            )
            return


def _travels(bar: Bar) -> Iterator[str]:
    travel = bar.travel
    if min(travel.up_mm, travel.down_mm) >= LEAST_TRAVEL_MM:  # else the question is asked of all of them
        for key, size in (("one_wheel", travel.one_wheel_mm), ("parallel", travel.parallel_mm)):
            if size is not None and size < LEAST_TRAVEL_MM:
                yield f"{key} travel of {size:.3g} mm: inches written as mm?"
    greatest = max(travel.up_mm, travel.down_mm, travel.one_wheel_mm)
    beyond = max((block.pickup_mm for block in bar.duty.blocks), default=0.0)
    if beyond > greatest * (1.0 + 1e-9):
        yield (
            f"a block of {beyond:.4g} mm of travel, beyond the greatest of {greatest:.4g} mm in [travel]: a slipped "
            "point, or wheel travel?"
        )


def _targets(bar: Bar) -> Iterator[str]:
    duty, targets = bar.duty, bar.targets
    cycles = duty.repeats * sum(block.cycles for block in duty.blocks)
    if duty.blocks and cycles < LEAST_BLOCK_CYCLES:
        yield f"blocks of {cycles:g} cycles in all, repeats and all: thousands, or [duty] repeats, left out?"
    critical = targets.critical_sum
    if critical is not None and not CRITICAL_SUMS[0] <= critical <= CRITICAL_SUMS[1]:
        slip = "per cent written as a share" if critical > 1.0 else "a slipped point"
        yield f"a critical_sum of {critical:g}, where 0.3 to 1 is used: {slip}?"
    factor = targets.goodman_safety_factor
    if factor is not None and factor > GOODMAN_FACTORS[1]:
        yield f"a goodman_safety_factor of {factor:g}: per cent written as a factor?"
    if factor is not None and factor < GOODMAN_FACTORS[0]:
        yield f"a goodman_safety_factor of {factor:g} lets stress pass the endurance limit: its inverse?"
