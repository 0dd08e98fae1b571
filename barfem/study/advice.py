"""What would make a failing hole setting pass: each way found by solving, rounded to what a drawing says.

A *way* is a list of bars, the one nearest to the drawing first, that an engineer could order: less travel, a hole
nearer the tip, a longer arm, the next stock size, a better skin. Along each way the first bar whose hole setting meets
every target is looked for: first where stress in proportion would let it pass, then by interpolation of how far it is
from its targets (`first_step`). Where passing comes and goes along a way, a passing bar is found all the same, if not
always the nearest.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from barfem.check.hole_names import pair_name
from barfem.check.solved import Solved
from barfem.model.bar import Bar
from barfem.model.dimensions import main_dimensions
from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.solve.beam import HoleSetting
from barfem.study.change import change
from barfem.study.evaluate import chosen_settings, evaluate_at, evaluation_of
from barfem.study.evaluation import Evaluation
from barfem.study.stress_laws import Law, law_of_arm, law_of_section, law_of_travel
from barfem.study.target_score import score_of
from barfem.study.way_search import Found, Search, Way, place_of, side_by_side
from barfem.study.ways import SHOT_PEENING, Step, full_peening, more_travel, nearer_the_tip, ways_for

__all__ = ["Advice", "advise", "travel_to_spare"]

LARGEST_LOSS_PERCENT = 50.0
"""A stock size that leaves less than half the rate is another bar: the window within which `barfem size` looks."""


@frozen(kw_only=True)
class Advice:
    """One way that makes a hole setting pass, or what it has to spare.

    Without `left` and `right` it is for all hole settings of the load case. `kind` is "travel", "hole", "arm",
    "section", "skin", "mount" or "leave out"; `changes` are keys of the bar file with their new values, as `change`
    takes them (none for "leave out"); `rate_N_per_mm` is the hole setting's with them, and `rate_change_percent` how
    far that is from the drawn bar's.
    """

    left: str
    right: str
    case: str
    kind: str
    words: str
    changes: Mapping[str, Any]
    rate_N_per_mm: float | None = None
    rate_change_percent: float | None = None


def advise(
    bar: Bar,
    *,
    case: str | None = None,
    going: Callable[[], object] = lambda: None,
    solved: Solved | None = None,
) -> tuple[Advice, ...]:
    """Ways for each hole setting that fails, in the order of the bar file; none for a bar that passes.

    `going` is called before each batch of bars; what it raises ends the search. `solved` is the bar as `check` solved
    it, by its own rule and with bend fields: not solved again.

    Raises
    ------
    InputError
        The bar was not read from a bar file's tables.
    """
    drawn, like = _drawn(bar, case, solved)
    names = list(zip(drawn.left, drawn.right, drawn.cases, drawn.passes.tolist(), strict=True))
    failing = [j for j, name in enumerate(names) if not name[3]]
    scores = [score_of(drawn, j) for j in range(len(drawn.settings))]
    levers = _levers(bar, drawn)
    found: list[Advice] = []
    for name in dict.fromkeys(names[j][2] for j in failing):
        some = [j for j in failing if names[j][2] == name]
        shared = {kind: Way(bar, list(way), name) for kind, way in ways_for(bar, name).items()}
        searches: dict[tuple[int, str], Search[Found]] = {}
        for j in some:
            hole, score = pair_name(*names[j][:2]), scores[j]
            own = Way(bar, list(nearer_the_tip(bar, *names[j][:2])), name)
            ways = {"travel": shared["travel"], "hole": own, **shared}
            if not levers[j]:  # with less travel, or less section, it is no lever either
                ways = {"hole": own}
            for kind, way in ways.items():
                sure = kind == "travel" and like is not None
                if kind in ("skin", "mount"):
                    # What a skin does at the drawn bar's worst places is known; a clamp's edge is another place then.
                    searches[j, kind] = way.in_turn(hole, like if kind == "skin" else None, j)
                else:
                    searches[j, kind] = way.first(hole, score, sure=sure, law=_law(drawn, j, kind))
        steps = side_by_side(searches, going, like)
        advice = _found(drawn, steps)
        found += advice
        if len(some) > 1:
            kinds = Counter(each.kind for each in advice)
            last = {
                kind: max(way.steps.index(at[0]) for j in some if (at := steps[j, kind]) is not None)
                for kind, way in shared.items()
                if kinds[kind] == len(some) and all(levers[j] for j in some)
            }
            found += _of_all(name, shared, last, going, like)
        worst = min(some, key=scores.__getitem__)
        if all(each.kind == "travel" for each in found if (each.left, each.right, each.case) == names[worst][:3]):
            found += _with_peening(bar, drawn, worst, going, like)
        for j in some:
            left, right = names[j][:2]
            others = [ok for a, b, _, ok in names if (a, b) != (left, right)]
            if others and all(others):
                found.append(_advice(drawn, j, "leave out", Step({}, "leave this hole out: all others pass"), math.nan))
    return tuple(sorted(found, key=lambda each: (each.case, _order(names, each))))


def _levers(bar: Bar, drawn: Evaluation) -> list[bool]:
    """Whether both holes of each hole setting turn the bar, far enough from the line of the mounts."""
    right, left = main_dimensions(bar).arms
    return [right.is_lever(each.right) and left.is_lever(each.left) for each in drawn.settings]


def _found(drawn: Evaluation, steps: Mapping[tuple[int, str], Found]) -> list[Advice]:
    """The advice of the steps that were found, by hole setting and kind; without those that make another bar."""
    found = [_advice(drawn, j, kind, *at) for (j, kind), at in steps.items() if at is not None]
    return [
        each for each in found if each.kind != "section" or (each.rate_change_percent or 0.0) >= -LARGEST_LOSS_PERCENT
    ]


def _of_all(
    case: str, ways: Mapping[str, Way], last: Mapping[str, int], going: Callable[[], object], like: Solved | None
) -> list[Advice]:
    """The steps, one of each way, at which the last of the failing hole settings passes, where the others pass too."""
    whole = side_by_side({kind: ways[kind].whole(number) for kind, number in last.items()}, going, like)
    return [
        Advice(left="", right="", case=case, kind=kind, words=step.words, changes=step.changes)
        for kind, step in whole.items()
        if step is not None
    ]


def _drawn(bar: Bar, case: str | None, solved: Solved | None) -> tuple[Evaluation, Solved | None]:
    """The bar as drawn at all hole settings judged, and `solved` where it is just that."""
    if solved is not None and solved.solution.settings == chosen_settings(bar, case=case):
        return evaluation_of(solved), solved
    return _evaluated(bar, chosen_settings(bar, case=case)), None


def _evaluated(bar: Bar, settings: tuple[HoleSetting, ...], like: Solved | None = None) -> Evaluation:
    return next(evaluate_at([(bar, settings)], load_factors=True, like=like))


def _with_peening(
    bar: Bar, drawn: Evaluation, j: int, going: Callable[[], object], like: Solved | None
) -> list[Advice]:
    """Where no single way but less travel does for the worst hole setting: peening and one more, found alike.

    What makes the worst one pass mostly makes all pass.
    """
    peening = full_peening(bar)
    if peening is None:
        return []
    left, right, case = drawn.left[j], drawn.right[j], drawn.cases[j]
    hole = pair_name(left, right)
    try:
        peened = change(bar, peening.changes)
        before = _evaluated(peened, chosen_settings(peened, holes=[hole], case=case), like)
    except BarfemError:  # a skin that is not peened
        return []
    score = score_of(before, place_of(before, hole))
    ways = {"hole": nearer_the_tip(peened, left, right), **ways_for(peened, case)}
    searches = {
        (j, kind): Way(peened, list(ways[kind]), case).first(hole, score, law=_law(drawn, j, kind))
        for kind in ("hole", "arm", "section")
        if kind in ways
    }
    steps: dict[tuple[int, str], Found] = {}
    for key, at in side_by_side(searches, going, like).items():
        if at is not None:
            both = Step({**peening.changes, **at[0].changes}, f"{SHOT_PEENING} and {at[0].words}")
            steps[key] = (both, at[1])
    return _found(drawn, steps)


def _order(names: Sequence[tuple[str, str, str, bool]], each: Advice) -> int:
    """Place of an advice's hole setting among `names`; what is for all of them comes first."""
    return next((j for j, name in enumerate(names) if name[:3] == (each.left, each.right, each.case)), -1)


def travel_to_spare(
    bar: Bar,
    *,
    case: str | None = None,
    going: Callable[[], object] = lambda: None,
    solved: Solved | None = None,
) -> Advice | None:
    """The greatest travel at which a bar that passes still passes at all its holes; None where none is found, or the
    bar feels nothing.

    `going` and `solved` as for `advise`.
    """
    name = case or "roll"
    drawn, like = _drawn(bar, case, solved)
    if not drawn.passes.all() or not drawn.peak_MPa.any():
        return None
    scores = [score_of(drawn, j) for j in range(len(drawn.settings))]
    way = Way(bar, list(more_travel(bar, name)), name)
    j = min(range(len(scores)), key=scores.__getitem__)
    search = way.last(pair_name(drawn.left[j], drawn.right[j]), scores[j], law=law_of_travel(drawn, j))
    at = side_by_side({"": search}, going, like)[""]
    if at is None:
        return None
    step = way.steps[at]
    # Where the search ends before the bar does, its end is no limit of the bar.
    words = step.words if at + 1 < len(way.steps) else f"{step.words}, the most that was tried"
    return Advice(left="", right="", case=name, kind="travel", words=words, changes=step.changes)


def _law(drawn: Evaluation, j: int, kind: str) -> Law:
    if kind == "travel":
        return law_of_travel(drawn, j)
    if kind == "section":
        return law_of_section(drawn, j)
    return law_of_arm(drawn, j, of_first_hole=kind == "arm") if kind in ("arm", "hole") else math.log


def _advice(drawn: Evaluation, j: int, kind: str, step: Step, rate: float) -> Advice:
    before = float(drawn.rate_N_per_mm[j])
    rise = 100.0 * (rate / before - 1.0) if before > 0.0 and math.isfinite(rate) else None
    return Advice(
        left=drawn.left[j],
        right=drawn.right[j],
        case=drawn.cases[j],
        kind=kind,
        words=step.words,
        changes=step.changes,
        rate_N_per_mm=rate if math.isfinite(rate) else None,
        rate_change_percent=rise,
    )
