"""Which hand and order the points follow where the points alone fit more than one, and what then cannot be told.

A plain U lies on its mirror image, and turned over on itself: its points fit all four readings. Hole axes may tell
them apart; a bar that maps onto itself as a whole is no other bar whichever way it is read.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.vendor.inspect_fit import HYPOTHESES, FittedPoints, Lie, canonical, fit_function, match
from barfem.vendor.inspect_judge import clocked_wrong
from barfem.vendor.maker_tables import drawing_of
from barfem.vendor.orientation import Orientation

__all__ = ["holes_tell_ends", "lie_of", "readings_alike", "undecided"]

Array = NDArray[np.float64]
ALIKE_MM = 0.3
"""Readings of the drawing that lie as near to each other, in rms, no measuring of points tells apart."""
HOLES_UNLIKE_MM = 1.0
"""Holes that lie farther from where they are drawn may be the other end's; nearer ones are drilled badly."""


def readings_alike(nominal: Array) -> tuple[tuple[bool, bool], ...]:
    """(other hand, ends exchanged) under which the drawing's points (p, 3) lie where they lie; itself the first."""
    lie = match(nominal, nominal)
    return tuple(_bits(reading) for reading, rms in zip(HYPOTHESES, lie.rms_mm, strict=True) if rms < ALIKE_MM)


def _bits(reading: tuple[str, str]) -> tuple[bool, bool]:
    return reading[0] == "other", reading[1] == "ends exchanged"


def lie_of(
    bar: Bar,
    points: Array,
    nominal: Array,
    alike: Sequence[tuple[bool, bool]],
    part: Orientation,
    axes_off_deg: Callable[[Lie], list[float]],
    holes_off_mm: Callable[[Lie], list[float]],
) -> Lie:
    """Hand and order of measured points (p, 3), NaN where one is missing.

    Among readings that the points cannot tell apart the hole axes decide, and then the places of the holes, where they
    are off in the one that the names say and less than half as far in another; of a bar that maps onto itself the
    position in which its form is better.

    Parameters
    ----------
    alike
        `readings_alike` of the drawing.
    part
        Symmetry of the whole part.
    axes_off_deg
        Deviations of the measured hole axes beside their own bends under a reading; empty where none was measured.
    holes_off_mm
        Deviations of the measured places of holes, likewise.
    """
    named = match(points, nominal)
    mine = _bits((named.hand, named.order))
    readings = [Lie(*reading, named.rms_mm) for reading in HYPOTHESES]
    same = [each for each in readings if _apart(_bits((each.hand, each.order)), mine) in alike]
    off = {each: max(map(abs, axes_off_deg(each)), default=0.0) for each in same}
    apart = {each: max(map(abs, holes_off_mm(each)), default=0.0) for each in same}
    for tell, wrong in ((off, clocked_wrong(bar, off[named])), (apart, apart[named] > HOLES_UNLIKE_MM)):
        least = min(tell.values())
        if wrong and least < 0.5 * tell[named]:
            return next(each for each in same if tell[each] <= 2.0 * least)
    if part.two_fold and np.all(np.isfinite(points)):
        turned = next(each for each in same if _apart(_bits((each.hand, each.order)), mine) == (False, True))
        if off[turned] <= max(off[named], 0.1) and _worst(bar, points, turned) < 0.98 * _worst(bar, points, named):
            return turned
    return named


def _apart(one: tuple[bool, bool], other: tuple[bool, bool]) -> tuple[bool, bool]:
    return one[0] != other[0], one[1] != other[1]


def _worst(bar: Bar, points: Array, lie: Lie) -> float:
    """How far the bar's form is out in function: of profile and mismatch the one that takes more of its limit."""
    drawing, fit = drawing_of(bar), fit_function(bar, canonical(points, lie))
    assert isinstance(fit, FittedPoints)
    profile = float(fit.distance_mm.max()) / (0.5 * (drawing.profile_tolerance or 2.0))
    return max(profile, abs(fit.tip_mismatch_mm or 0.0) / (drawing.tip_mismatch or 1.0))


def holes_tell_ends(bar: Bar) -> bool:
    """Whether the places of its holes tell one end from the other."""
    right, left = (sorted(hole.from_tip_mm for hole in end.holes) for end in bar.ends)
    return len(right) != len(left) or any(abs(a - b) > HOLES_UNLIKE_MM for a, b in zip(right, left, strict=True))


def undecided(alike: Sequence[tuple[bool, bool]], part: Orientation, *, axes: bool) -> list[str]:
    """What cannot be told of hand and ends, in words; `axes`: hole axes, or places that tell, were measured."""
    notes = []
    if part.two_fold:
        notes.append("the bar maps onto itself under a half turn: its ends cannot be told apart")
    elif (False, True) in alike and not axes:
        notes.append("the points alone cannot tell the ends apart: hole places, hole axes or the marking have to")
    if not part.handed:
        notes.append("the bar is its own mirror image: there is no other hand that could be told")
    elif any(other for other, _ in alike) and not axes:
        notes.append("the points alone cannot tell the hand: measure the hole axes")
    return notes
