"""The ways along which a bar may come to pass: bars that an engineer could order, the nearest to the drawing first.

Less travel, a hole nearer the tip, a longer arm, the next stock size, a better skin, rubber under clamps; each step in
round numbers, with what stress in proportion would be there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from barfem.model.bar import Bar
from barfem.model.bar_geometry import outer_mounts
from barfem.model.frozen import frozen
from barfem.model.load_case import CASES
from barfem.model.skin import FULL_COVERAGE_PERCENT
from barfem.model.surfaces import SURFACES
from barfem.strength.fatigue.residual import bending_leaves_tension
from barfem.study.change import tables_of
from barfem.study.sections import section_name
from barfem.study.stock import read_stock

__all__ = ["Step", "arm_mm", "full_peening", "more_travel", "nearer_the_tip", "ways_for"]

STEP_MM = 0.5
"""What travels and hole positions are rounded to."""

ARM_STEP_MM = 5.0
LONGEST_ARM = 1.4  # times the drawn one
LEAST_TRAVEL = 0.2  # share of the drawn one
SMALLEST = 0.6  # diameter over the drawn one
SHOT_PEENING = "shot peening"
DEPTHS_MM = (0.5, 0.4, 0.3, 0.2, 0.15, 0.1, 0.05)
"""Decarburised depths that are ordered, the easiest first."""

EDGE = 1.5  # hole diameters from a hole's middle to the cut end (common practice, no source)


@frozen
class Step:
    """A bar along a way: what of the file changes, and how it is said."""

    changes: Mapping[str, Any]
    words: str
    share: float = math.nan
    """What stress goes with, over that of the drawn bar, or under it where stress falls with it: where to look first.
    """


def ways_for(bar: Bar, case: str) -> dict[str, Iterator[Step]]:
    """The ways that change the whole bar, by the `kind` of their advice; travel is the load case's."""
    return {
        "travel": _less_travel(bar, case),
        "arm": _longer_arms(bar),
        "section": _smaller_sections(bar),
        "skin": _better_skins(bar),
        "mount": _rubber(bar),
    }


def _travel_keys(bar: Bar, case: str) -> dict[str, float]:
    """Keys of [travel] that the load case goes by, with their values as numbers of the file's own kind."""
    table, travel = tables_of(bar)["travel"], bar.travel
    if own := CASES[case].own_keys(travel):
        return own
    if "up" in table or "down" in table:
        return {"up": travel.up_mm, "down": travel.down_mm}
    if "wheel" in table and travel.motion_ratio:
        return {"wheel": travel.up_mm / travel.motion_ratio}
    return {"pickup": travel.up_mm}


def _travels(bar: Bar, case: str, steps: Iterable[int]) -> Iterator[Step]:
    """Travel so many half millimetres less (more, where negative) than drawn, up and down in proportion."""
    keys = _travel_keys(bar, case)
    most = max(keys.values())
    for step in steps:
        value = math.floor(most / STEP_MM + 1e-9) * STEP_MM - STEP_MM * step
        share = value / most
        if not LEAST_TRAVEL <= share <= 3.0 or abs(share - 1.0) < 1e-9:
            continue
        new = {key: math.floor(each * share / STEP_MM + 1e-9) * STEP_MM for key, each in keys.items()}
        if min(new.values()) <= 0.0:
            continue
        new_travel = ", ".join(f"{key.replace('_', ' ')} {each:g} mm" for key, each in new.items())
        drawn = ", ".join(f"{each:g}" for each in keys.values())
        yield Step({f"travel.{key}": each for key, each in new.items()}, f"travel {new_travel} (drawn {drawn})", share)


def _less_travel(bar: Bar, case: str) -> Iterator[Step]:
    return _travels(bar, case, range(int(max(_travel_keys(bar, case).values()) / STEP_MM)))


def more_travel(bar: Bar, case: str) -> Iterator[Step]:
    """More travel than drawn, up to three times, half a millimetre a step."""
    most = int(2.0 * max(_travel_keys(bar, case).values()) / STEP_MM)
    return _travels(bar, case, (-step for step in range(1, most)))


def _hole_keys(bar: Bar, left: str, right: str) -> dict[str, Any]:
    """The key of each side's hole in the bar file."""
    ends = tables_of(bar)["ends"]
    keys = {}
    for side, name in (("left", left), ("right", right)):
        own = isinstance(ends.get(side), dict) and "holes" in ends[side]
        keys[side] = f"ends.{side + '.' if own else ''}holes.{name}.from_tip"
    return keys


def nearer_the_tip(bar: Bar, left: str, right: str) -> Iterator[Step]:
    """The hole nearer to the cut end, as far as its edge and the next hole allow: a longer arm."""
    keys = _hole_keys(bar, left, right)
    holes = [
        next(hole for hole in end.holes if hole.name == name) for end, name in ((bar.left, left), (bar.right, right))
    ]
    if "." in left or "." in right:  # a name that no key can hold
        return
    least = []
    for end, hole in zip((bar.left, bar.right), holes, strict=True):
        size = hole.diameter_mm or 0.0
        inner = [other for other in end.holes if other.from_tip_mm < hole.from_tip_mm]
        room = [other.from_tip_mm + size + 0.5 * (other.diameter_mm or 0.0) for other in inner]
        least.append(max([EDGE * size, *room]))
    room_mm = min(hole.from_tip_mm - low for hole, low in zip(holes, least, strict=True))
    arm = arm_mm(bar, holes[0].station_mm)
    for step in range(1, int(room_mm / STEP_MM + 1e-9) + 1):
        new = [round(hole.from_tip_mm - STEP_MM * step, 3) for hole in holes]
        changes = dict(zip(keys.values(), new, strict=True))
        place = f"{new[0]:g} mm" if new[0] == new[1] else f"{new[0]:g} mm left, {new[1]:g} mm right"
        was = f"{holes[0].from_tip_mm:g}" if new[0] == new[1] else " and ".join(f"{h.from_tip_mm:g}" for h in holes)
        yield Step(changes, f"hole {place} from the cut end (drawn {was})", arm / (arm + STEP_MM * step))


def _longer_arms(bar: Bar) -> Iterator[Step]:
    """Both arms longer at their tips, in the form that the file gives the centreline in."""
    tables = tables_of(bar)
    straight = min(bar.centreline.segments[i].length_mm for i in (0, -1))
    most = int((LONGEST_ARM - 1.0) * max(straight, 100.0) / ARM_STEP_MM)
    ends, _ = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    _, frames = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    arm = arm_mm(bar, bar.left.holes[0].station_mm)
    for step in range(1, most + 1):
        more = ARM_STEP_MM * step
        if "arms" in tables:
            splay = math.radians(_splay(tables))
            changes: dict[str, Any] = {"arms.length": _plain(tables["arms"]["length"]) + more * math.cos(splay)}
            if not math.isfinite(changes["arms.length"]):
                return
        elif "centreline" in tables:
            points = list(tables["centreline"]["points"])
            points[0] = np.round(ends[0] - more * frames[0, 0], 3).tolist()
            points[-1] = np.round(ends[1] + more * frames[1, 0], 3).tolist()
            changes = {"centreline.points": points}
        else:
            return  # the bender's rows are his own numbers
        yield Step(changes, f"arms {more:g} mm longer", arm / (arm + more))


def arm_mm(bar: Bar, station_mm: float) -> float:
    """Distance of a place of the centreline from the line through the outermost mounts."""
    one, other = outer_mounts(bar)
    place = bar.centreline.evaluate([station_mm])[0][0]
    along = (other - one) / np.linalg.norm(other - one)
    return max(float(np.linalg.norm(place - one - along * ((place - one) @ along))), 1.0)


def _splay(tables: Mapping[str, Any]) -> float:
    """[arms] splay in deg, where it is a plain number."""
    value = tables["arms"].get("splay", 0.0)
    return float(value) if isinstance(value, int | float) else math.nan


def _plain(value: Any) -> float:
    """A length of the file in mm, where it is a plain number; NaN for one with a unit."""
    return float(value) if isinstance(value, int | float) else math.nan


def _smaller_sections(bar: Bar) -> Iterator[Step]:
    """Stock sizes, the nearest first: at equal travel less section is less stress (and less rate)."""
    here = bar.section
    sizes = [
        size
        for size in read_stock().of(here.shape)
        if SMALLEST * here.diameter_mm <= size.diameter_mm <= here.diameter_mm
        and (size.diameter_mm < here.diameter_mm or (size.wall_mm or 0.0) < (here.wall_mm or 0.0))
    ]
    # By diameter first: at equal travel that is what stress goes with; of one diameter the stiffest costs least rate.
    sizes.sort(key=lambda size: (-size.diameter_mm, -_stiffness(size.diameter_mm, size.wall_mm)))
    drawn = _stiffness(here.diameter_mm, here.wall_mm)
    for size in sizes:
        if _stiffness(size.diameter_mm, size.wall_mm) >= drawn:
            continue
        changes: dict[str, Any] = {"section.diameter": size.diameter_mm}
        if size.wall_mm is not None:
            changes["section.wall"] = size.wall_mm
        yield Step(changes, section_name(size), size.diameter_mm / here.diameter_mm)


def _stiffness(diameter: float, wall: float | None) -> float:
    bore = 0.0 if wall is None else diameter - 2.0 * wall
    return diameter**4 - bore**4


def full_peening(bar: Bar) -> Step | None:
    """Shot peening, or the peening that is there made to cover fully; None where it does."""
    peening = bar.steel.peening
    if peening is None:
        return Step({"material.peening": "shot"}, f'{SHOT_PEENING} (peening = "shot")')
    if peening.covers:
        return None
    changes = {"material.peening.coverage": FULL_COVERAGE_PERCENT}
    return Step(changes, f"{SHOT_PEENING} that covers all (coverage = {FULL_COVERAGE_PERCENT:g} or more)")


def _rubber(bar: Bar) -> Iterator[Step]:
    """Rubber that the bar turns in where metal is clamped on it: it frets less, and nothing else of the bar changes."""
    clamped = [number for number, mount in enumerate(bar.mounts, 1) if mount.contact == "clamped"]
    if clamped and all(bar.mounts[number - 1].contact_factor is None for number in clamped):
        every = len(clamped) == len(bar.mounts)
        keys = ["mounts.*.contact"] if every else [f"mounts.{number}.contact" for number in clamped]
        which = "the mounts" if every else f"mount{'s' * (len(clamped) > 1)} {', '.join(map(str, clamped))}"
        changes = dict.fromkeys(keys, "slipping")
        yield Step(changes, f'rubber under the clamps of {which} (contact = "slipping")')


def _shallower(bar: Bar) -> Iterator[Step]:
    """A decarburised depth below the one that the file states, down to the grooves of the finish itself."""
    stated = bar.steel.decarburised_depth_mm or 0.0
    for depth in DEPTHS_MM:
        if SURFACES[bar.steel.surface].flaw_mm <= depth < stated:
            yield Step(
                {"material.decarburised_depth": depth},
                f"decarburised {depth:g} mm deep at most (decarburised_depth = {depth:g}, drawn {stated:g})",
            )


def _better_skins(bar: Bar) -> Iterator[Step]:
    """What can be ordered of the skin: no tension left by bending, peening, less decarburised, better finishes, and
    peening with each of these; peening that is there stays.
    """
    # surface = "shot-peened" says peening by its name alone, which another finish's name would take away.
    peening_given = "peening" in (bar.tables or {}).get("material", {})
    keep: dict[str, Any] = {"material.peening": "shot"} if bar.steel.peening and not peening_given else {}
    still = ', still shot-peened (peening = "shot")' if keep else ""
    skins = list(_shallower(bar))
    name = SURFACES[bar.steel.surface].better
    while name is not None and name != "polished":  # nobody polishes a bar
        skins.append(Step({"material.surface": name, **keep}, f'surface "{name}" ({SURFACES[name].title}){still}'))
        name = SURFACES[name].better
    if bending_leaves_tension(bar.steel):
        yield Step({"material.stress_relieved": True}, "stress relieving after bending (stress_relieved = true)")
    shot = full_peening(bar)
    if shot is not None:
        yield shot
    yield from skins
    if shot is not None:
        for skin in skins:
            yield Step({**skin.changes, **shot.changes}, f"{skin.words}, shot-peened")
