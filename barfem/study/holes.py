"""Where to drill: holes at equal percent steps of rate, within what a flat and its neighbours leave room for.

Rules (in hole diameters, all of them options):
- edge: cut end to hole centre at least 1.5 d: common practice, no source (EN 1993-1-8 Table 3.3 asks 1.2 d of bolted
  joints; from memory)
- spacing: between centres at least 2 d: common practice, no source (the same table: 2.2 d where both holes carry, and
  here one does)
- inboard: at least 1 d before the transition of a flat, so that joint and washer lie flat, or before the first bend:
  common practice, no source
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.check.solved import solve_what_can_be
from barfem.model.bar import Bar, End
from barfem.model.bar_geometry import end_straight_mm
from barfem.model.errors import BarfemError, InputError
from barfem.model.given import CASE, a, measure, takes
from barfem.model.given import count as counted
from barfem.model.grouped import grouped
from barfem.model.load_case import ROLL, case_named
from barfem.model.read import AnyBar, as_bar
from barfem.solve.beam import HoleSetting, solve_bar
from barfem.study.change import rebuilt, tables_of
from barfem.study.evaluate import evaluate_one
from barfem.study.hole_plan import HolePlan, Rules
from barfem.study.resize import refuse_nothing_felt

__all__ = ["BLUR_PERCENT", "place_holes"]

Array = NDArray[np.float64]

MOST_HOLES = 100
"""More than any bar's end could hold: a slip of the pen."""

BLUR_PERCENT = 8.0
"""Smaller steps of rate are lost in the spread of bushings and diameter: common practice, no source."""

TRIALS = 9


_RATE = measure("a rate in N/mm, such as 60.0.")


@takes(
    softest_N_per_mm=_RATE,
    stiffest_N_per_mm=_RATE,
    count=counted("a whole number of holes, such as 3."),
    hole_mm=measure("a diameter in mm, such as 12.0."),
    case=CASE,
    rules=a("rules", Rules, "Rules of barfem.study.hole_plan."),
)
def place_holes(
    bar: AnyBar,
    *,
    softest_N_per_mm: float | None = None,
    stiffest_N_per_mm: float | None = None,
    count: int | None = None,
    hole_mm: float | None = None,
    case: str | None = None,
    rules: Rules | None = None,
) -> HolePlan:
    """Holes at both ends alike, from the softest to the stiffest rate in equal percent steps.

    Parameters
    ----------
    bar
        A bar or its file.
    softest_N_per_mm, stiffest_N_per_mm
        Rates of the first and last hole; by default the ends of the room there is.
    count
        How many; by default as many as the bar file has.
    hole_mm
        Their diameter; by default that of the bar file's first hole.
    case
        "roll" (the default), "one-wheel" or "parallel".
    rules
        How much room a hole needs.

    Raises
    ------
    InputError
        Numbers that cannot be: fewer than two holes, a softest rate above the stiffest, no room for any.
    """
    bar, rules = as_bar(bar), rules or Rules()
    drawn = count is None
    count = len(bar.left.holes) if count is None else count
    if count < 2:
        of = "the bar file's single hole at the left end" if drawn else str(count)
        raise InputError(f"{of} is no range of holes.", where="--count", expected="2 or more.")
    if count > MOST_HOLES:
        raise InputError(
            f"{grouped(count)} holes find no room on any bar.",
            where="--count",
            expected=f"2 to {MOST_HOLES}, mostly 2 to 6.",
        )
    given = bar.left.holes[0].diameter_mm if hole_mm is None else hole_mm
    lowest, highest = _room(bar, given, rules)
    outside = _drawn_outside(bar, lowest, highest)
    places, rates, used_case, unreached = _rates(bar, lowest, highest, case)
    lowest, highest = float(places[0]), float(places[-1])
    refuse_nothing_felt(float(rates.min()), measure="rate", case=used_case, at="some place of a hole", file=bar.source)
    at = _Curve(places, rates)
    soft = at.low if softest_N_per_mm is None else softest_N_per_mm
    stiff = at.high if stiffest_N_per_mm is None else stiffest_N_per_mm
    if not 0.0 < soft < stiff:
        bound = f"below the stiffest, {stiff:.4g} N/mm" if soft > 0.0 else "above 0"
        raise InputError(
            f"the softest rate, {soft:.4g} N/mm, is not {bound}.",
            where="--softest",
            expected=f"rates from {at.low:.4g} to {at.high:.4g} N/mm, the softest first.",
        )
    wanted = np.geomspace(soft, stiff, count)
    problems = _out_of_reach(at, soft, stiff, lowest, highest)
    within = max(soft, at.low), min(stiff, at.high)
    least = 0.0 if given is None else rules.spacing * given
    found: list[float] = []
    changed = evaluation = nearest = None
    if not problems:
        found = _placed(at, wanted, rules.round_mm)
        gap = min(np.diff(found))
        if gap < max(least - 1e-9, 1e-9):
            less = f", less than {rules.spacing:g} x {given:g} mm = {least:g} mm" if given is not None else ""
            problems = [
                f"{count} holes would stand {gap:g} mm apart{less}. More take a wider range, a longer flat, smaller "
                "holes, or --spacing where your joints allow it"
            ]
    if problems and within[0] < within[1]:
        most = _most(at, count, within, least, rules.round_mm)
        if not found and most < count:  # out of reach: that the range which is left is too narrow too is not said yet
            apart = f"{least:g} mm apart" if least else "apart"
            problems.append(
                f"from {within[0]:.4g} to {within[1]:.4g} N/mm {most or 'none'} of {count} holes find room in equal "
                f"steps, {apart}"
            )
        if most > 1:
            nearest = place_holes(
                bar,
                softest_N_per_mm=within[0],
                stiffest_N_per_mm=within[1],
                count=most,
                hole_mm=hole_mm,
                case=case,
                rules=rules,
            )
    if not problems:
        changed = _with_holes(bar, found, hole_mm)
        evaluation = evaluate_one(changed, case=used_case)
    return HolePlan(
        name=bar.name,
        bar=changed,
        evaluation=evaluation,
        case=used_case,
        from_tip_mm=tuple(found),
        wanted_N_per_mm=tuple(wanted.tolist()) if found else (),
        step_percent=100.0 * ((stiff / soft) ** (1.0 / (count - 1)) - 1.0),
        lowest_mm=lowest,
        highest_mm=highest,
        softest_N_per_mm=at.low,
        stiffest_N_per_mm=at.high,
        hole_mm=given,
        rules=rules,
        problems=tuple(problems),
        notes=(*_notes(bar, given), *outside, *unreached),
        nearest=nearest,
    )


class _Curve:
    """Rate over the distance from the tip, from a few solved holes: a smooth curve through their logarithms."""

    def __init__(self, places: Array, rates: Array) -> None:
        from scipy.interpolate import PchipInterpolator

        self.low, self.high = float(rates[0]), float(rates[-1])
        self.nearest, self.farthest = float(places[0]), float(places[-1])
        self._logs = np.log(rates)
        if not np.all(np.diff(self._logs) > 0.0):
            raise InputError(
                "the rate does not grow as the hole moves away from the tip, so that there is no order of holes.",
                where="[ends] holes",
                expected="arms whose lever shortens from the tip inwards.",
            )
        self._place = PchipInterpolator(self._logs, places)

    def place(self, rate: float) -> float:
        return float(self._place(np.clip(math.log(rate), self._logs[0], self._logs[-1])))


def _room(bar: Bar, hole_mm: float | None, rules: Rules) -> tuple[float, float]:
    """Least and greatest distance from the tip, the same at both ends."""
    size = hole_mm or 0.0
    lowest = rules.edge * size
    highest = min(_flat_end(bar, end) for end in bar.ends) - rules.inboard * size
    lowest, highest = _up(lowest, rules.round_mm), _down(highest, rules.round_mm)
    if not lowest < highest:
        raise InputError(
            f"there is no room for holes of {size:g} mm: from {lowest:g} mm (edge) to {highest:g} mm from the tip.",
            where="[ends]",
            expected="a longer flat or straight at the tip, or smaller holes.",
            file=bar.source,
        )
    return lowest, highest


def _drawn_outside(bar: Bar, lowest: float, highest: float) -> tuple[str, ...]:
    """That drawn holes stand where the rules leave no room for any: their rates are then out of a plan's reach."""
    places = {
        hole.name: hole.from_tip_mm
        for end in bar.ends
        for hole in end.holes
        if not lowest - 1e-6 <= hole.from_tip_mm <= highest + 1e-6
    }
    if not places:
        return ()
    named = ", ".join(f"{name} at {place:g} mm" for name, place in places.items())
    return (
        f"Drawn outside the room of {lowest:g} to {highest:g} mm: hole {named}. Its rate may be out of reach here; "
        "--edge and --inboard say how much room your joints take.",
    )


def _flat_end(bar: Bar, end: End) -> float:
    """How far from the tip a hole finds one section: over the full flat, or the straight of a round end."""
    if end.flat is not None:
        return end.flat.length_mm - end.flat.transition_mm
    return min(end_straight_mm(bar, end), 0.49 * bar.centreline.length_mm)


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step if step > 0.0 else value


def _down(value: float, step: float) -> float:
    return math.floor(value / step + 1e-9) * step if step > 0.0 else value


def _rounded(value: float, step: float, lowest: float, highest: float) -> float:
    return value if step <= 0.0 else min(max(round(value / step) * step, lowest), highest)


def _rates(bar: Bar, lowest: float, highest: float, case: str | None) -> tuple[Array, Array, str, tuple[str, ...]]:
    """Rates of trial holes over the room, in one batch: their drilling is no part of the beam's stiffness.

    Only of those that can follow the travel, the longest run of them; which part of the room is lost is said.

    Raises
    ------
    BarfemError
        None or one of them can.
    """
    places = np.linspace(lowest, highest, TRIALS)
    trial = _with_holes(bar, places.tolist(), None, drilled=False)
    used = case_named(case or ROLL.name, where="--case").name
    found, unsolved = solve_what_can_be(
        [HoleSetting(i, i, used) for i in range(TRIALS)], lambda some: solve_bar(trial, some)
    )
    if not unsolved:
        return places, found.rate_N_per_mm, used, ()
    solved = [setting.left for setting in found.settings]
    breaks = [0, *(k for k in range(1, len(solved)) if solved[k] > solved[k - 1] + 1), len(solved)]
    first, last = max(itertools.pairwise(breaks), key=lambda run: run[1] - run[0])
    if last - first < 2:
        raise BarfemError(unsolved[0][1])
    kept = places[solved[first:last]]
    note = f"Left out: holes nearer than {kept[0]:g} mm or farther than {kept[-1]:g} mm from the tip. {unsolved[0][1]}"
    return kept, found.rate_N_per_mm[first:last], used, (note,)


def _with_holes(bar: Bar, places: Sequence[float], hole_mm: float | None, *, drilled: bool = True) -> Bar:
    """The bar with holes "1", "2", ... at both ends; offset and diameter as its first holes have them."""
    tables = tables_of(bar)
    ends = tables["ends"]
    for table in (ends, ends.get("right"), ends.get("left")):
        if isinstance(table, dict) and table.get("holes"):
            like = {key: value for key, value in table["holes"][0].items() if key in ("diameter", "offset")}
            if hole_mm is not None:
                like["diameter"] = hole_mm
            if not drilled:
                like.pop("diameter", None)
            table["holes"] = [
                {"name": str(i), "from_tip": round(place, 6), **like} for i, place in enumerate(places, start=1)
            ]
    return rebuilt(bar, tables)


def _out_of_reach(at: _Curve, soft: float, stiff: float, lowest: float, highest: float) -> list[str]:
    near = 1.0 + 1e-6
    problems = []
    if soft < at.low / near:
        problems.append(
            f"{soft:.4g} N/mm is softer than any hole can be: the nearest to the tip, at {lowest:g} mm, gives "
            f"{at.low:.4g} N/mm. Softer takes longer arms or a thinner bar"
        )
    if stiff > at.high * near:
        problems.append(
            f"{stiff:.4g} N/mm is stiffer than any hole can be: the farthest from the tip, at {highest:g} mm, gives "
            f"{at.high:.4g} N/mm. Stiffer takes a longer flat, shorter arms or a thicker bar"
        )
    return problems


def _placed(at: _Curve, rates: Array, step: float) -> list[float]:
    """Distances from the tip for rates, rounded to the drawing's step but never out of the room."""
    return [_rounded(at.place(rate), step, at.nearest, at.farthest) for rate in rates.tolist()]


def _most(at: _Curve, count: int, within: tuple[float, float], least_mm: float, step: float) -> int:
    """As many holes, `count` at most, as find room in equal percent steps; fewer than two means none."""
    for most in range(count, 1, -1):
        if min(np.diff(_placed(at, np.geomspace(*within, most), step))) >= max(least_mm - 1e-9, 1e-9):
            return most
    return 0


def _notes(bar: Bar, hole_mm: float | None) -> tuple[str, ...]:
    notes = []
    if hole_mm is None:
        notes.append("No hole has a diameter, so that edge and spacing are not kept: give --diameter.")
    first = bar.left.holes[0]
    others = (hole.name for end in bar.ends for hole in end.holes if hole.offset_mm != end.holes[0].offset_mm)
    dropped = next(others, None)
    if dropped is not None or any(abs(x) > 0.0 for x in first.offset_mm):
        gone = "" if dropped is None else f"; that of hole {dropped} differs and is dropped"
        notes.append(f"All holes have the offset of hole {first.name}{gone}.")
    for end in bar.ends:
        if end.flat is not None and hole_mm is not None and end.flat.width_mm < 2.4 * hole_mm:
            notes.append(
                f"The {end.side} flat is {end.flat.width_mm:g} mm wide, less than 2.4 hole diameters: little is left "
                "beside a hole (EN 1993-1-8 Table 3.3 asks 1.2 d to each edge of bolted joints; from memory)."
            )
    return tuple(notes)
