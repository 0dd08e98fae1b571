"""What would make a failing hole setting pass: each way found by solving, rounded to what a drawing says.

A *way* is a list of bars, the one nearest to the drawing first, that an engineer could order: less travel, a hole
nearer the tip, a longer arm, the next stock size, a better skin. Along each way the first bar whose hole setting meets
every target is looked for: first where stress in proportion would let it pass, then by interpolation of how far it is
from its targets (`first_step`). Where passing comes and goes along a way, a passing bar is found all the same, if not
always the nearest.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.study.change import change
from barfem.study.evaluate import evaluate
from barfem.study.evaluation import Evaluation
from barfem.study.first_step import first_good
from barfem.study.ways import SHOT_PEENING, Step, more_travel, nearer_the_tip, ways_for

__all__ = ["Advice", "advise", "travel_to_spare"]

_HAIR = 1e-9

LARGEST_LOSS_PERCENT = 50.0
"""A stock size that leaves less than half the rate is another bar: the window within which `barfem size` looks."""


@dataclass(frozen=True, kw_only=True)
class Advice:
    """One way that makes a hole setting pass, or what it has to spare.

    `kind` is "travel", "hole", "arm", "section", "skin" or "leave out"; `changes` are keys of the bar file with their
    new values, as `change` takes them (none for "leave out"); `rate_N_per_mm` is the hole setting's with them, and
    `rate_change_percent` how far that is from the drawn bar's.
    """

    left: str
    right: str
    case: str
    kind: str
    words: str
    changes: Mapping[str, Any]
    rate_N_per_mm: float | None = None
    rate_change_percent: float | None = None


def advise(bar: Bar, *, case: str | None = None, going: Callable[[], object] = lambda: None) -> tuple[Advice, ...]:
    """Ways for each hole setting that fails, in the order of the bar file; none for a bar that passes.

    `going` is called before each batch of bars; what it raises ends the search.

    Raises
    ------
    InputError
        The bar was not read from a bar file's tables.
    """
    (drawn,) = evaluate([bar], case=case)
    names = list(zip(drawn.left, drawn.right, drawn.cases, drawn.passes.tolist(), strict=True))
    failing = [j for j, name in enumerate(names) if not name[3]]
    found: list[Advice] = []
    for name in dict.fromkeys(names[j][2] for j in failing):
        some = [j for j in failing if names[j][2] == name]
        holes = {j: pair_name(*names[j][:2]) for j in some}
        shared = {
            kind: _Way(bar, list(way), list(holes.values()), name, going) for kind, way in ways_for(bar, name).items()
        }
        for j in some:
            left, right = names[j][:2]
            own = _Way(bar, list(nearer_the_tip(bar, left, right)), [holes[j]], name, going)
            for kind, way in {"travel": shared["travel"], "hole": own, **shared}.items():
                at = way.in_turn(holes[j]) if kind == "skin" else way.first(holes[j], score_of(drawn, j))
                if at is not None:
                    found.append(_advice(drawn, j, kind, way.steps[at[0]], at[1]))
        found = [each for each in found if _is_still_that_bar(each)]
        worst = min(some, key=lambda j: score_of(drawn, j))
        if all(each.kind == "travel" for each in found if (each.left, each.right, each.case) == names[worst][:3]):
            found += _with_peening(bar, drawn, worst, going)
        for j in some:
            left, right = names[j][:2]
            others = [ok for a, b, _, ok in names if (a, b) != (left, right)]
            if others and all(others):
                found.append(_advice(drawn, j, "leave out", Step({}, "leave this hole out: all others pass"), math.nan))
    return tuple(sorted(found, key=lambda each: (each.case, _order(names, each))))


def _is_still_that_bar(each: Advice) -> bool:
    return each.kind != "section" or (each.rate_change_percent or 0.0) >= -LARGEST_LOSS_PERCENT


def _with_peening(bar: Bar, drawn: Evaluation, j: int, going: Callable[[], object]) -> list[Advice]:
    """Where no single way but less travel does for the worst hole setting: peening and one more, found alike.

    What makes the worst one pass mostly makes all pass.
    """
    if bar.steel.peening is not None:
        return []
    peening = {"material.peening": "shot"}
    left, right, case = drawn.left[j], drawn.right[j], drawn.cases[j]
    hole = pair_name(left, right)
    try:
        peened = change(bar, peening)
        (before,) = evaluate([peened], holes=[hole], case=case)
    except BarfemError:  # a skin that is not peened
        return []
    ways = {"hole": nearer_the_tip(peened, left, right), **ways_for(peened, case)}
    found = []
    for kind in ("hole", "arm", "section"):
        if kind not in ways:
            continue
        way = _Way(peened, list(ways[kind]), [hole], case, going)
        at = way.first(hole, score_of(before, _place(before, hole)))
        if at is not None:
            step = way.steps[at[0]]
            both = Step({**peening, **step.changes}, f"{SHOT_PEENING} and {step.words}")
            found.append(_advice(drawn, j, kind, both, at[1]))
    return [each for each in found if _is_still_that_bar(each)]


def _order(names: Sequence[tuple[str, str, str, bool]], each: Advice) -> int:
    """Place of an advice's hole setting among `names`."""
    return next(j for j, name in enumerate(names) if name[:3] == (each.left, each.right, each.case))


def travel_to_spare(bar: Bar, *, case: str | None = None, going: Callable[[], object] = lambda: None) -> Advice | None:
    """The greatest travel at which a bar that passes still passes at all its holes; None where none is found.

    `going` as for `advise`.
    """
    name = case or "roll"
    (drawn,) = evaluate([bar], case=case)
    way = _Way(bar, list(more_travel(bar, name)), None, case, going)
    at = way.last(_least_score(drawn)) if drawn.passes.all() else None
    if at is None:
        return None
    step = way.steps[at]
    return Advice(left="", right="", case=name, kind="travel", words=step.words, changes=step.changes)


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


class _Way:
    """The bars along one way, each evaluated once at each of the holes that are asked about.

    A bar at one hole costs half of what it does at four, and each hole has its own steps: but for the skin, whose bars
    have one shape and its forces, a step is looked at for the hole that asks.
    """

    def __init__(
        self,
        bar: Bar,
        steps: list[Step],
        holes: list[str] | None,
        case: str | None,
        going: Callable[[], object] = lambda: None,
    ) -> None:
        self.bar, self.steps, self.holes, self.case, self.going = bar, steps, holes, case, going
        self._found: dict[tuple[int, str | None], Evaluation | None] = {}

    def evaluations(self, numbers: Sequence[int], hole: str | None = None) -> list[Evaluation | None]:
        """The bars of these steps, the new ones in one batch, at one hole or all; None where there is no such bar."""
        self.going()
        new = [i for i in numbers if (i, hole) not in self._found]
        made: list[Bar | None] = []
        for i in new:
            try:
                made.append(change(self.bar, self.steps[i].changes))
            except BarfemError:
                made.append(None)
        bars = [each for each in made if each is not None]
        found = evaluate(bars, holes=self.holes if hole is None else [hole], case=self.case)
        self._found |= {(i, hole): None if each is None else next(found) for i, each in zip(new, made, strict=True)}
        return [self._found[i, hole] for i in numbers]

    def first(self, hole: str, drawn: float) -> tuple[int, float] | None:
        """Number of the first step at which a hole setting passes, and its rate there; None where none does.

        `drawn` is its score as drawn.
        """

        def scores(numbers: Sequence[int]) -> list[float]:
            found = self.evaluations(numbers, hole)
            return [score_of(each, _place(each, hole)) if each else math.nan for each in found]

        if self._hopeless(drawn):
            return None
        at = first_good(len(self.steps), scores, before=drawn, guess=self._at(math.exp(drawn)))
        if at is None:
            return None
        each = self._found[at, hole]
        return None if each is None else (at, float(each.rate_N_per_mm[_place(each, hole)]))

    def _hopeless(self, drawn: float) -> bool:
        """Whether by proportion not even half of what is missing is to be had along the way: none of it is solved."""
        shares = [step.share for step in self.steps]
        return bool(shares) and all(math.isfinite(each) for each in shares) and -math.log(min(shares)) < -0.5 * drawn

    def in_turn(self, hole: str) -> tuple[int, float] | None:
        """As `first`, of steps that do not get better one by one: peening alone may do where a finer finish does not.

        All of them after the first have its shape and its forces, so that they cost little.
        """
        for numbers in ([0], list(range(len(self.steps)))) if self.steps else ():
            for i, each in zip(numbers, self.evaluations(numbers), strict=True):
                if each is not None and each.passes[_place(each, hole)]:
                    return i, float(each.rate_N_per_mm[_place(each, hole)])
        return None

    def last(self, drawn: float) -> int | None:
        """Number of the last step before the first at which any hole setting fails; None where the first one fails.

        `drawn` is the least score of the hole settings as drawn.
        """

        def scores(numbers: Sequence[int]) -> list[float]:
            return [-_least_score(each) if each else math.inf for each in self.evaluations(numbers)]

        first = first_good(len(self.steps), scores, before=-drawn, guess=self._at(math.exp(min(drawn, 1.0))))
        at = len(self.steps) - 1 if first is None else first - 1
        return at if at >= 0 else None

    def _at(self, share: float) -> float | None:
        """Number of the step whose stress is nearest to a share of the drawn bar's."""
        off = {i: abs(step.share - share) for i, step in enumerate(self.steps) if math.isfinite(step.share)}
        return min(off, key=off.__getitem__) if off else None


def _place(each: Evaluation, hole: str) -> int:
    return [pair_name(*names) for names in zip(each.left, each.right, strict=True)].index(hole)


def score_of(each: Evaluation, j: int) -> float:
    """How far hole setting `j` is from its targets: above zero it passes, zero or less it fails.

    Logarithm of the share by which stress could rise, as far as yield and life tell; a hint, but for its sign.
    """
    bar = each.bar
    yields = (1.0 + float(each.yield_margin[j])) / (1.0 + bar.targets.yield_margin)
    lasts = float(each.target_share_at_survival[j]) if bar.duty.target_cycles_given else math.nan
    ratios = [ratio for ratio in (yields, lasts) if math.isfinite(ratio)]
    score = math.log(max(min(ratios), 1e-6)) if ratios else -math.inf
    return max(score, _HAIR) if each.passes[j] else min(score, -_HAIR)


def _least_score(each: Evaluation) -> float:
    return min(score_of(each, j) for j in range(len(each.settings)))
