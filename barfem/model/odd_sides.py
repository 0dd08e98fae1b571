"""What does not look like an anti-roll bar in how its sides and its links go together, as slips of the pen leave it.

A splay, or the direction of one link, with the wrong sign; a straight too long on one side of a bar that is its own
mirror image otherwise; a wheel's travel written as its pickup's. Limits are common practice, no source.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End, Link
from barfem.model.dimensions import Dimensions
from barfem.model.links import LEANS_DEG, joint_centres, lean_deg
from barfem.model.schema import CentrelineTable
from barfem.model.warned import Asked, Effect, Warned

__all__ = ["between_deg", "odd_sides", "unlike_ends"]

Array = NDArray[np.float64]

INWARD_DEG = 5.0  # of the ends in plan, towards the middle; arms are square to the middle or splay outward
SKEW_DEG = 40.0  # of one link from the mirror image of the other
UNLIKE_DEG = 20.0  # of one end, along the bar, from the mirror image of the other
UNLIKE_MM = 45.0
"""Of one cut end, or outermost mount, from the mirror image of the other, along x and z: wheels and the body's places
for bushings are mirror images. Holes and links may differ, and do, to clear an exhaust."""

TURNS_DEG = 35.0  # of an arm at full travel; arms of bars turn 5 to 25
SAME_MM = 0.05
LEAST_POINTS = 6  # of a centreline, for the others to say that it is its own mirror image
ALIKE_MM, ALIKE_DEG = 5.0, 1.0  # of one straight or bend and its mirror image
ORIGIN_MM = 10.0  # of the bar off y = 0, about which a pickup of both sides is mirrored: twice that off its place


def odd_sides(bar: Bar, found: Dimensions) -> Iterator[str]:
    """What is odd, in short sentences with the numbers."""
    yield from _splay(bar)
    # Links that an origin off the middle turns are asked about once, by what turns them.
    yield from tuple(_origin(bar, found)) or (*_links(bar), *_leaning(bar))
    yield from _travel(bar, found)
    yield from _straights(bar, found)
    yield from _twins(bar)
    yield from _radii(bar, found)


def _splay(bar: Bar) -> Iterator[str]:
    """How far both ends lean towards the middle on the way to their cut ends, in plan."""
    _, ((right, *_), (left, *_)) = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    inward = float(np.degrees(np.arcsin(np.clip(min(-right[1], -left[1]), -1.0, 1.0))))
    if inward > INWARD_DEG:
        yield f"both arms lean {inward:.0f} deg inward to their cut ends: a splay with the wrong sign?"


def _off_the_middle(found: Dimensions) -> float:
    """How far the whole bar lies left of y = 0, mm: mounts and cut ends alike, or else none of it."""
    off = [0.5 * (found.mounts_y_mm[0] + found.mounts_y_mm[-1]), 0.5 * sum(arm.tip_mm[1] for arm in found.arms)]
    return min(off, key=abs) if off[0] * off[1] > 0.0 else 0.0


def _shift_words(off_mm: float) -> str:
    return f"lie {abs(off_mm):.3g} mm {'left' if off_mm > 0.0 else 'right'} of y = 0"


def _origin(bar: Bar, found: Dimensions) -> Iterator[str]:
    """A pickup of both sides is mirrored about y = 0, which is the car's middle only where the drawing has it there."""
    right, left = bar.right_link.pickup_mm, bar.left_link.pickup_mm
    if right is None or left is None:
        return
    off = _off_the_middle(found)
    if abs(off) > ORIGIN_MM and np.allclose(right, np.array(left) * [1.0, -1.0, 1.0], rtol=0.0, atol=SAME_MM):
        yield (
            f"mounts and cut ends {_shift_words(off)}, and the right pickup is the left one's mirror image about "
            "y = 0: [links.right] pickup left out, or the drawing's origin off the car's middle?"
        )


def _links(bar: Bar) -> Iterator[str]:
    """One link hangs and the other stands, say: links are mirror images, roughly."""
    off = between_deg(_way(bar.right, bar.right_link, bar), _way(bar.left, bar.left_link, bar) * [1.0, -1.0, 1.0])
    if off > SKEW_DEG:
        yield f"the left link points {off:.0f} deg off the right one's mirror image: a direction with the wrong sign?"


def _leaning(bar: Bar) -> Iterator[str]:
    """A link works by its share along the travel, the cosine of its lean, and turns the bar by what is square to the
    arm: one that lies across either is a coordinate on the wrong side, or two exchanged."""
    most, key, crossed = 0.0, "", False
    middle = 0.5 * sum(float(bar.centreline.evaluate([at])[0][0, 1]) for at in (0.0, bar.centreline.length_mm))
    for end, link in zip((bar.right, bar.left), (bar.right_link, bar.left_link), strict=True):
        for joint in joint_centres(end, bar.centreline).values():
            lean = lean_deg(link, joint, travel=bar.travel)
            if lean > most:
                most, key = lean, "direction" if link.pickup_mm is None else "pickup"
                crossed = link.pickup_mm is not None and (link.pickup_mm[1] - middle) * (joint[1] - middle) < 0.0
    if most > LEANS_DEG:
        slip = (
            "[links] pickup with its y on the wrong side?" if crossed else f"[links] {key}, or [travel] direction, off?"
        )
        yield Asked(
            f"the links lean {most:.0f} deg from their pickups' travel, where links of bars lean 0 to 30 deg: {slip}",
            "lean of links",
        )
    elif any(isinstance(text, Warned) and text.effect is Effect.DEAD_CENTRE for text in bar.warnings):
        yield "the links point nearly at the line of the mounts and hardly twist the bar: [links] or the arms off?"


def _twins(bar: Bar) -> Iterator[str]:
    """One point of a bar that is its own mirror image otherwise, off its twin's by what a slip leaves: a sign, a tenth,
    two coordinates exchanged. An asymmetry that is meant is no such."""
    table = (bar.tables or {}).get("centreline")
    if table is None:
        return
    points = np.array(CentrelineTable.model_validate(table).points)
    mirrored = points[::-1] * [1.0, -1.0, 1.0]
    off = [i for i in range(len(points) // 2) if np.abs(points[i] - mirrored[i]).max() > SAME_MM]
    if len(off) != 1 or len(points) < LEAST_POINTS:
        return
    one, twin = off[0], len(points) - 1 - off[0]
    slip = _slip(points[one], mirrored[one]) or _slip(mirrored[one], points[one])
    if slip:  # which of the two has it, nobody can tell
        places = " and ".join(f"[{', '.join(f'{value:g}' for value in points[i])}]" for i in (one, twin))
        yield (
            f"[centreline] points {one + 1} and {twin + 1}, {places}, are mirror images but for {slip}: a slip in one?"
        )


def _radii(bar: Bar, found: Dimensions) -> Iterator[str]:
    """[arms] are those of a symmetric bar, whose list of radii reads alike from both ends."""
    radii = found.bend_radii_mm if "arms" in (bar.tables or {}) else ()
    for one, twin in zip(radii[: len(radii) // 2], radii[::-1], strict=False):
        if abs(one - twin) > SAME_MM:
            yield f"[arms] bend_radius {one:g} and {twin:g} mm of bends that are mirror images: one of them off?"
            return


def _slip(point: Array, right: Array) -> str:
    """What makes of `right` this point, of what slips of the pen do; empty where none does."""
    off = [axis for axis in range(3) if abs(point[axis] - right[axis]) > SAME_MM]
    names = ["xyz"[axis] for axis in off]
    if len(off) == 2 and np.allclose(point[off], right[off[::-1]], rtol=0.0, atol=SAME_MM):
        return f"{names[0]} and {names[1]} exchanged"
    if len(off) != 1:
        return ""
    found, meant = float(point[off[0]]), float(right[off[0]])
    if abs(found + meant) <= SAME_MM:
        return f"the sign of {names[0]}"
    return f"{names[0]}, a tenth of the other's" if abs(10.0 * found - meant) <= SAME_MM else ""


def unlike_ends(bar: Bar) -> Iterator[str]:
    """What an arm's direction about the mounts does not tell: a splay, a length or a height of one side alone."""
    line, stations = bar.centreline, sorted(mount.station_mm for mount in bar.mounts)
    at, frames = line.evaluate([0.0, stations[0], stations[-1], line.length_mm])
    # along the bar, from its right tip: the mirror image of what leaves one is what runs to the other, turned round
    off = between_deg(frames[0, 0], frames[-1, 0] * [-1.0, 1.0, -1.0])
    if off > UNLIKE_DEG:
        yield f"the left end runs {off:.0f} deg off the right one's mirror image: a bend's angle, or a point, off?"
        return
    for right, left, what, of, slip in (
        (at[0], at[3], "cut end", "the right one's mirror image", "a straight"),
        (at[1], at[2], "mount", "the right one", "a bend's angle"),
    ):
        away = left - right
        axis = 0 if abs(away[0]) >= abs(away[2]) else 2
        if abs(away[axis]) > UNLIKE_MM:
            way = (("ahead of", "behind"), (), ("above", "below"))[axis][0 if away[axis] > 0.0 else 1]
            yield f"the left {what} lies {abs(away[axis]):.0f} mm {way} {of}: {slip}, or a point, off?"
            return


def _way(end: End, link: Link, bar: Bar) -> Array:
    """From the first hole's joint to the pickup."""
    if link.pickup_mm is None:
        return np.array(link.direction)
    return np.array(link.pickup_mm) - np.array(next(iter(joint_centres(end, bar.centreline).values())))


def _travel(bar: Bar, found: Dimensions) -> Iterator[str]:
    """By how much the greatest travel turns the shortest arm."""
    travel = max(bar.travel.up_mm, bar.travel.down_mm, bar.travel.one_wheel_mm, bar.travel.parallel_mm or 0.0)
    levers = [length for arm in found.arms for hole, length in enumerate(arm.lengths_mm) if arm.is_lever(hole)]
    shortest = min(levers, default=np.inf)
    if travel <= np.sin(np.radians(TURNS_DEG)) * shortest:
        return
    turned = f"by {np.degrees(np.arcsin(travel / shortest)):.0f} deg" if travel < shortest else "right round"
    slip = "wheel travel written as the pickup's?" if bar.travel.motion_ratio is None else "a slipped point?"
    yield f"travel of {travel:.4g} mm turns an arm of {shortest:.0f} mm {turned}, where arms turn 5 to 25 deg: {slip}"


def _straights(bar: Bar, found: Dimensions) -> Iterator[str]:
    """A straight between bends that is longer than its mirror image shifts all that follows, mounts and cut ends too.

    One that is meant so, beside a crank off the middle, is made up for by another: the whole lies about y = 0.
    """
    bends = bar.centreline.bends
    lengths = [after.start_station_mm - before.end_station_mm for before, after in itertools.pairwise(bends)]
    alike = all(
        np.allclose(sizes, sizes[::-1], rtol=0.0, atol=limit)
        for sizes, limit in ((found.bend_angles_deg, ALIKE_DEG), (found.bend_radii_mm, ALIKE_MM))
    )
    shift = _off_the_middle(found)
    if not alike or abs(shift) <= ALIKE_MM:
        return
    for number, (one, other) in enumerate(zip(lengths, lengths[::-1], strict=True), start=1):
        if number > len(lengths) // 2:
            return
        # Half of what it is too long, by which the middle goes off: none else is.
        if abs(one - other) > ALIKE_MM and abs(2.0 * abs(shift) - abs(one - other)) < 0.2 * abs(one - other):
            yield (
                f"the straights after bend {number} and before bend {len(bends) + 1 - number} are {one:.4g} and "
                f"{other:.4g} mm, and mounts and cut ends {_shift_words(shift)}: one of them off?"
            )
            return


def between_deg(one: Array, other: Array) -> float:
    """Angle between two vectors; 0 where one has no length."""
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float(np.degrees(np.arccos(np.clip(one @ other / size, -1.0, 1.0)))) if size > 1e-9 else 0.0
