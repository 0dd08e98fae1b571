"""What the stress at a bar's holes takes for granted, and what has to be said of it."""

from __future__ import annotations

from collections.abc import Iterator

from barfem.model.bar import Bar, End, Hole
from barfem.solve.solid.hole_grid import load
from barfem.solve.solid.hole_source import SOLVED_ERROR
from barfem.strength.holes import FlatHole, flat_hole, flat_holes
from barfem.strength.section_stress import POINTS_AROUND

__all__ = ["LOOSE", "hole_assumptions", "hole_problems"]

LOOSE = 2.0
"""Stress at the hole in use in a joint that is not tight over that in a tight one, under an offset joint's moment, at
most: flats with d / H from 0.2 to 0.45 and t / d from 0.35 to 1.5."""


def _flat_holes(bar: Bar) -> Iterator[tuple[End, Hole, FlatHole]]:
    for end in bar.ends:
        for hole in flat_holes(end):
            yield end, hole, flat_hole(bar, end, hole, n_around=POINTS_AROUND)


def hole_problems(bar: Bar) -> tuple[str, ...]:
    """What the cache refused of holes that were solved."""
    return tuple(dict.fromkeys(found.problem for *_, found in _flat_holes(bar) if found.problem))


def hole_assumptions(bar: Bar) -> Iterator[str]:
    """One sentence each."""
    holes = list(_flat_holes(bar))
    if holes:
        solved = [f'{end.side} "{hole.name}"' for end, hole, found in holes if found.source == "computed"]
        parts = []
        if len(solved) < len(holes):
            parts.append(
                f"shipped, interpolated within {100.0 * load(bar.steel.nu).error:.2g} % of the greatest stress"
            )
        if solved:
            parts.append(f"solved for {', '.join(solved)}, within {100.0 * SOLVED_ERROR:g} %")
        yield (
            "Hole in a flat: stress on its wall at five heights, from three-dimensional models of the flat with the "
            f"hole, of what its tip and of what each neighbour changes ({'; '.join(parts)}); loads add at each point, "
            "felt by fatigue through Neuber's notch sensitivity (Shigley Eq. 6-34); the net section alone counts for "
            "yield."
        )
        yield (
            "Hole in use in a flat: the bolt fits and presses the wall by a cosine over the half that it faces (what "
            "friction carries is not subtracted); forces along the hole and the moments of an offset joint come in "
            "under a bare nut and head, 1.5 hole diameters wide (common practice, no source). A joint that is not "
            f"tight passes them through the wall, with up to {LOOSE:g} times the stress there."
        )
    drilled = [hole for end in bar.ends for hole in end.holes if hole.diameter_mm is not None]
    if len(drilled) > len(holes):
        yield (
            "Hole in a round end: edge stress by Shigley Table A-16 (after Peterson; from memory), through whichever "
            "side it is worst, felt by fatigue through Neuber's notch sensitivity; the net section counts for yield. "
            "In use, the link's whole force is taken as shear of the section there; what clamping carries is not "
            "subtracted."
        )
