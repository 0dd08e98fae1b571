"""What would make a failing hole setting pass: each way found by solving, rounded to what a drawing says.

A *way* is a list of bars, the one nearest to the drawing first, that an engineer could order: less travel, a hole
nearer the tip, a longer arm, the next stock size, a better skin. Along each way the first bar whose hole setting meets
every target is looked for: first where stress in proportion would let it pass, then by interpolation of how far it is
from its targets (`first_step`). Where passing comes and goes along a way, a passing bar is found all the same, if not
always the nearest.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeVar

from barfem.check.hole_names import pair_name
from barfem.check.solved import Solved
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.solve.beam import HoleSetting
from barfem.study.change import change
from barfem.study.evaluate import chosen_settings, evaluate_at, evaluation_of
from barfem.study.evaluation import Evaluation
from barfem.study.first_step import first_good
from barfem.study.target_score import score_of
from barfem.study.ways import SHOT_PEENING, Step, more_travel, nearer_the_tip, ways_for

__all__ = ["Advice", "advise", "travel_to_spare"]

LARGEST_LOSS_PERCENT = 50.0
"""A stock size that leaves less than half the rate is another bar: the window within which `barfem size` looks."""


@dataclass(frozen=True, kw_only=True)
class Advice:
    """One way that makes a hole setting pass, or what it has to spare.

    Without `left` and `right` it is for all hole settings of the load case. `kind` is "travel", "hole", "arm",
    "section", "skin" or "leave out"; `changes` are keys of the bar file with their new values, as `change` takes them
    (none for "leave out"); `rate_N_per_mm` is the hole setting's with them, and `rate_change_percent` how far that is
    from the drawn bar's.
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
    found: list[Advice] = []
    for name in dict.fromkeys(names[j][2] for j in failing):
        some = [j for j in failing if names[j][2] == name]
        shared = {kind: _Way(bar, list(way), name) for kind, way in ways_for(bar, name).items()}
        searches: dict[tuple[int, str], _Search[_Found]] = {}
        for j in some:
            hole, score = pair_name(*names[j][:2]), scores[j]
            own = _Way(bar, list(nearer_the_tip(bar, *names[j][:2])), name)
            for kind, way in {"travel": shared["travel"], "hole": own, **shared}.items():
                sure = kind == "travel" and like is not None
                searches[j, kind] = way.in_turn(hole) if kind == "skin" else way.first(hole, score, sure=sure)
        steps = _side_by_side(searches, going, like)
        ways = _found(drawn, steps)
        found += ways
        if len(some) > 1:
            kinds = Counter(each.kind for each in ways)
            last = {
                kind: max(way.steps.index(at[0]) for j in some if (at := steps[j, kind]) is not None)
                for kind, way in shared.items()
                if kinds[kind] == len(some)
            }
            found += _of_all(name, shared, last, going, like)
        worst = min(some, key=scores.__getitem__)
        if all(each.kind == "travel" for each in found if (each.left, each.right, each.case) == names[worst][:3]):
            found += _with_peening(bar, drawn, worst, going)
        for j in some:
            left, right = names[j][:2]
            others = [ok for a, b, _, ok in names if (a, b) != (left, right)]
            if others and all(others):
                found.append(_advice(drawn, j, "leave out", Step({}, "leave this hole out: all others pass"), math.nan))
    return tuple(sorted(found, key=lambda each: (each.case, _order(names, each))))


_Found = tuple[Step, float] | None
"""The step at which a hole setting passes, and its rate there; None where none is found."""


def _found(drawn: Evaluation, steps: Mapping[tuple[int, str], _Found]) -> list[Advice]:
    """The advice of the steps that were found, by hole setting and kind; without those that make another bar."""
    found = [_advice(drawn, j, kind, *at) for (j, kind), at in steps.items() if at is not None]
    return [
        each for each in found if each.kind != "section" or (each.rate_change_percent or 0.0) >= -LARGEST_LOSS_PERCENT
    ]


def _of_all(
    case: str, ways: Mapping[str, _Way], last: Mapping[str, int], going: Callable[[], object], like: Solved | None
) -> list[Advice]:
    """The steps, one of each way, at which the last of the failing hole settings passes, where the others pass too."""
    whole = _side_by_side({kind: ways[kind].whole(number) for kind, number in last.items()}, going, like)
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


def _evaluated(bar: Bar, settings: tuple[HoleSetting, ...]) -> Evaluation:
    return next(evaluate_at([(bar, settings)], load_factors=True))


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
        before = _evaluated(peened, chosen_settings(peened, holes=[hole], case=case))
    except BarfemError:  # a skin that is not peened
        return []
    score = score_of(before, _place(before, hole))
    ways = {"hole": nearer_the_tip(peened, left, right), **ways_for(peened, case)}
    searches = {
        (j, kind): _Way(peened, list(ways[kind]), case).first(hole, score)
        for kind in ("hole", "arm", "section")
        if kind in ways
    }
    steps: dict[tuple[int, str], _Found] = {}
    for key, at in _side_by_side(searches, going).items():
        if at is not None:
            both = Step({**peening, **at[0].changes}, f"{SHOT_PEENING} and {at[0].words}")
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
    """The greatest travel at which a bar that passes still passes at all its holes; None where none is found.

    `going` and `solved` as for `advise`.
    """
    name = case or "roll"
    drawn, like = _drawn(bar, case, solved)
    if not drawn.passes.all():
        return None
    scores = [score_of(drawn, j) for j in range(len(drawn.settings))]
    way = _Way(bar, list(more_travel(bar, name)), name)
    j = min(range(len(scores)), key=scores.__getitem__)
    at = _side_by_side({"": way.last(pair_name(drawn.left[j], drawn.right[j]), scores[j])}, going, like)[""]
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


_Asked = tuple["_Way", Sequence[tuple[int, str | None]]]
"""Steps of a way that a search wants to know about, each at one hole or at all."""

_Answer = list[Evaluation | None]
Result = TypeVar("Result")
Key = TypeVar("Key")
_Search = Generator[_Asked, _Answer, Result]


class _Way:
    """The bars along one way in a load case, each evaluated once at each of the holes that are asked about.

    A bar at one hole costs half of what it does at four, and each hole has its own steps.
    """

    def __init__(self, bar: Bar, steps: list[Step], case: str) -> None:
        self.bar, self.steps, self.case = bar, steps, case
        self.found: dict[tuple[int, str | None], Evaluation | None] = {}

    def request(self, number: int, hole: str | None) -> tuple[Bar, tuple[HoleSetting, ...]] | None:
        """A step's bar and hole settings; None where there is no such bar."""
        try:
            bar = change(self.bar, self.steps[number].changes)
        except BarfemError:
            return None
        return bar, chosen_settings(bar, holes=None if hole is None else [hole], case=self.case)

    def score(self, each: Evaluation | None, hole: str | None) -> float:
        """`score_of` a hole setting, or the least of all of them; NaN where there is no such bar."""
        if each is None:
            return math.nan
        of = range(len(each.settings)) if hole is None else [_place(each, hole)]
        return min(score_of(each, j) for j in of)

    def first(self, hole: str, drawn: float, *, sure: bool = False) -> _Search[_Found]:
        """The first step at which a hole setting passes. `drawn` is its score as drawn, `sure` where it says where."""
        if self._hopeless(drawn):
            return None
        looks = first_good(len(self.steps), before=drawn, guess=self._at(drawn), at=self._far(), sure=sure)
        at = yield from self._told(looks, lambda numbers: [(i, hole) for i in numbers], sign=1.0)
        each = None if at is None else self.found[at, hole]
        return None if at is None or each is None else (self.steps[at], float(each.rate_N_per_mm[_place(each, hole)]))

    def _told(
        self,
        looks: Generator[Sequence[int], Sequence[float], int | None],
        asked: Callable[[Sequence[int]], Sequence[tuple[int, str | None]]],
        *,
        sign: float,
    ) -> _Search[int | None]:
        """What `looks` finds when it is told the scores of the steps it looks at, at the holes that `asked` says."""
        try:
            numbers = next(looks)
            while True:
                at = asked(numbers)
                answer = yield self, at
                numbers = looks.send(
                    [sign * self.score(each, hole) for (_, hole), each in zip(at, answer, strict=True)]
                )
        except StopIteration as end:
            return end.value

    def _hopeless(self, drawn: float) -> bool:
        """Whether by proportion not even half of what is missing is to be had along the way: none of it is solved."""
        shares = [step.share for step in self.steps]
        return bool(shares) and all(math.isfinite(each) for each in shares) and -math.log(min(shares)) < -0.5 * drawn

    def in_turn(self, hole: str) -> _Search[_Found]:
        """As `first`, of steps that do not get better one by one: peening alone may do where a finer finish does not.

        All of them after the first have its shape and its forces, so that they cost little.
        """
        for numbers in ([0], list(range(len(self.steps)))) if self.steps else ():
            answer = yield self, [(i, hole) for i in numbers]
            for i, each in zip(numbers, answer, strict=True):
                if each is not None and each.passes[_place(each, hole)]:
                    return self.steps[i], float(each.rate_N_per_mm[_place(each, hole)])
        return None

    def whole(self, number: int) -> _Search[Step | None]:
        """A step, where all hole settings pass at it."""
        (each,) = yield self, [(number, None)]
        return self.steps[number] if each is not None and each.passes.all() else None

    def last(self, hole: str, drawn: float) -> _Search[int | None]:
        """Number of the last step before the first at which any hole setting fails; None where the first step fails.

        `hole` is the weakest as drawn, with that score: where it fails the others need not be asked.
        """

        def search(asked: Callable[[Sequence[int]], Sequence[tuple[int, str | None]]]) -> _Search[int | None]:
            looks = first_good(len(self.steps), before=-drawn, guess=self._at(drawn), at=self._far(), sure=True)
            first = yield from self._told(looks, asked, sign=-1.0)
            return len(self.steps) - 1 if first is None else first - 1

        at = yield from search(lambda numbers: [(i, hole if i > numbers[0] else None) for i in numbers])
        if at is not None and at >= 0:
            (each,) = yield self, [(at, None)]
            if not self.score(each, None) > 0.0:
                at = yield from search(lambda numbers: [(i, None) for i in numbers])
        return at if at is not None and at >= 0 else None

    def _at(self, drawn: float) -> float | None:
        """Number of the first step whose stress is as far from the drawn bar's as its score, or of the last."""
        far = self._far()
        return min(bisect_left(far, abs(drawn)), len(far) - 1) if far else None

    def _far(self) -> list[float] | None:
        """How far each step's stress is from the drawn bar's, in logarithms; None where not known, or not in order."""
        far = [abs(math.log(step.share)) + 1e-9 * i for i, step in enumerate(self.steps, 1) if step.share > 0.0]
        in_order = len(far) == len(self.steps) and all(one < other for one, other in pairwise([0.0, *far]))
        return far if in_order else None


def _side_by_side(
    searches: Mapping[Key, _Search[Result]], going: Callable[[], object], like: Solved | None = None
) -> dict[Key, Result]:
    """What each search finds. The bars that they ask for next are solved in one batch: that is quicker than by turns.

    `like` is the drawn bar, solved.
    """
    found: dict[Key, Result] = {}
    asked: dict[Key, _Asked] = {}
    answers: dict[Key, _Answer | None] = dict.fromkeys(searches)
    while answers:
        for key, answer in answers.items():
            try:
                asked[key] = searches[key].send(answer)  # type: ignore[arg-type]
            except StopIteration as end:
                found[key] = end.value
        going()
        _solve(asked.values(), like)
        answers = {key: [way.found[at] for at in wanted] for key, (way, wanted) in asked.items()}
        asked = {}
    return {key: found[key] for key in searches}


def _solve(asked: Iterable[_Asked], like: Solved | None) -> None:
    """Evaluate what is asked for and not known yet, in one go."""
    new = dict.fromkeys((way, *at) for way, wanted in asked for at in wanted if at not in way.found)
    requests = [way.request(i, hole) for way, i, hole in new]
    evaluations = evaluate_at([each for each in requests if each is not None], like=like, load_factors=True)
    for (way, i, hole), request in zip(new, requests, strict=True):
        way.found[i, hole] = None if request is None else next(evaluations)


def _place(each: Evaluation, hole: str) -> int:
    return [pair_name(*names) for names in zip(each.left, each.right, strict=True)].index(hole)
