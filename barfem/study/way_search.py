"""The search along ways: which bars are asked for next, and many searches' bars solved in one batch."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from barfem.check.endurance import mean_stress_of, strength_and_stresses_of_all
from barfem.check.hole_names import pair_name
from barfem.check.solved import Solved
from barfem.check.verdict import targets_met
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.solve.beam import HoleSetting
from barfem.strength.fatigue.assess import assess_lives
from barfem.study.change import change
from barfem.study.evaluate import chosen_settings, evaluate_at, names_of
from barfem.study.evaluation import Evaluation
from barfem.study.first_step import first_good
from barfem.study.stress_laws import Law
from barfem.study.target_score import score_of
from barfem.study.ways import Step

__all__ = ["Found", "Search", "Way", "place_of", "side_by_side"]

Found = tuple[Step, float] | None
"""The step at which a hole setting passes, and its rate there; None where none is found."""

At = tuple[int, str | tuple[str, ...] | None]
"""A step of a way by its number, at one hole, at several or at all."""

Asked = tuple["Way", Sequence[At]]
"""Steps of a way that a search wants to know about."""

Answer = list[Evaluation | None]
Result = TypeVar("Result")
Key = TypeVar("Key")
Search = Generator[Asked, Answer, Result]


class Way:
    """The bars along one way in a load case, each evaluated once at each of the holes that are asked about.

    A bar at one hole costs half of what it does at four, and each hole has its own steps.
    """

    def __init__(self, bar: Bar, steps: list[Step], case: str) -> None:
        self.bar, self.steps, self.case = bar, steps, case
        self.found: dict[At, Evaluation | None] = {}
        self.bars: dict[int, Bar | None] = {}
        self.borne: dict[int, NDArray[np.bool_]] = {}

    def at(self, number: int) -> Bar | None:
        """A step's bar; None where there is no such bar."""
        if number not in self.bars:
            try:
                self.bars[number] = change(self.bar, self.steps[number].changes)
            except BarfemError:
                self.bars[number] = None
        return self.bars[number]

    def request(self, number: int, hole: str | tuple[str, ...] | None) -> tuple[Bar, tuple[HoleSetting, ...]] | None:
        """A step's bar and hole settings."""
        bar = self.at(number)
        if bar is None:
            return None
        return bar, chosen_settings(bar, holes=[hole] if isinstance(hole, str) else hole, case=self.case)

    def score(self, each: Evaluation | None, hole: str | None) -> float:
        """`score_of` a hole setting, or the least of all of them; NaN where there is no such bar."""
        if each is None:
            return math.nan
        of = range(len(each.settings)) if hole is None else [place_of(each, hole)]
        return min(score_of(each, j) for j in of)

    def first(self, hole: str, drawn: float, *, sure: bool = False, law: Law = math.log) -> Search[Found]:
        """The first step at which a hole setting passes. `drawn` is its score as drawn, `sure` where it says where.

        `law` is how its stress goes along the way.
        """
        if self._hopeless(drawn, law):
            return None
        far = self._far(law)
        guess = _nearest(far, drawn)
        looks = first_good(len(self.steps), before=drawn, guess=guess, sure=sure, at=far, looked_at="good")
        at = yield from self._told(looks, lambda numbers: [(i, hole) for i in numbers], sign=1.0)
        each = None if at is None else self.found[at, hole]
        return None if at is None or each is None else (self.steps[at], float(each.rate_N_per_mm[place_of(each, hole)]))

    def _told(
        self,
        looks: Generator[Sequence[int], Sequence[float], int | None],
        asked: Callable[[Sequence[int]], Sequence[tuple[int, str | None]]],
        *,
        sign: float,
    ) -> Search[int | None]:
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

    def _hopeless(self, drawn: float, law: Law) -> bool:
        """Whether by proportion not even half of what is missing is to be had along the way: none of it is solved."""
        shares = [step.share for step in self.steps]
        return bool(shares) and all(math.isfinite(each) for each in shares) and -law(min(shares)) < -0.5 * drawn

    def in_turn(self, hole: str, drawn: Solved | None, j: int) -> Search[Found]:
        """As `first`, of skins, which do not get better one by one: peening may do where a finer finish does not.

        All of them after the first have its shape and its forces, so that they cost little; those that fail at the
        worst places of the bar as `drawn`, at its hole setting `j`, are not looked at.
        """
        hopeful = [i for i in range(len(self.steps)) if drawn is None or self._bears(i, drawn, j)]
        for numbers in (hopeful[:1], hopeful) if hopeful else ():
            answer = yield self, [(i, hole) for i in numbers]
            for i, each in zip(numbers, answer, strict=True):
                if each is not None and each.passes[place_of(each, hole)]:
                    return self.steps[i], float(each.rate_N_per_mm[place_of(each, hole)])
        return None

    def _bears(self, number: int, drawn: Solved, j: int) -> bool:
        """Whether a step's skin does at the drawn bar's worst places: elsewhere it may be worse, but not better."""
        if number not in self.borne:
            self.borne[number] = self._borne(self.at(number), drawn)
        return bool(self.borne[number][j])

    @staticmethod
    def _borne(bar: Bar | None, drawn: Solved) -> NDArray[np.bool_]:
        """(c,) the same of a bar at every hole setting."""
        recovery = drawn.recovery
        margin = recovery.yield_margin
        if bar is None:
            return np.zeros(len(margin), bool)
        at = np.nonzero(np.broadcast_to(recovery.checked, margin.shape))
        strength, stresses = strength_and_stresses_of_all(bar, recovery.cycle_at(at))
        life = assess_lives(strength, **stresses, survival=bar.targets.survival, rule=mean_stress_of(bar))
        met = np.ones(margin.shape, bool)
        met[at] = np.all(
            targets_met(
                bar,
                yield_margin=margin[at],
                life_at_survival_cycles=life.life_at_survival_cycles,
                runout=life.runout,
                goodman_safety_factor=np.full(len(at[0]), np.inf),
            ),
            axis=0,
        )
        return np.asarray(met.all(axis=1))

    def whole(self, number: int) -> Search[Step | None]:
        """A step, where all hole settings pass at it: those that have been asked about are looked up."""
        bar = self.at(number)
        if bar is None:
            return None
        names = [pair_name(*names_of(bar, each)) for each in chosen_settings(bar, case=self.case)]
        known = [(number, name) for name in names if (number, name) in self.found]
        new = tuple(name for name in names if (number, name) not in self.found)
        found = yield self, [*known, (number, new)] if new else known
        return self.steps[number] if all(each is not None and each.passes.all() for each in found) else None

    def last(self, hole: str, drawn: float, *, law: Law) -> Search[int | None]:
        """Number of the last step before the first at which any hole setting fails; None where the first step fails.

        `hole` is the weakest as drawn, with that score and `law` (`first`): where it fails the others need not
        be asked, and of the step behind one at which all pass they aren't.
        """
        far = self._far(law)

        def search(asked: Callable[[Sequence[int]], Sequence[tuple[int, str | None]]]) -> Search[int | None]:
            guess = _nearest(far, drawn)
            looks = first_good(len(self.steps), before=-drawn, guess=guess, sure=True, at=far, looked_at="bad")
            first = yield from self._told(looks, asked, sign=-1.0)
            return len(self.steps) - 1 if first is None else first - 1

        def weakest_behind(numbers: Sequence[int]) -> Sequence[tuple[int, str | None]]:
            return [(i, hole if i > numbers[0] or (i - 1, None) in self.found else None) for i in numbers]

        at = yield from search(weakest_behind)
        if at is not None and at >= 0:
            (each,) = yield self, [(at, None)]
            if not self.score(each, None) > 0.0:
                at = yield from search(lambda numbers: [(i, None) for i in numbers])
        return at if at is not None and at >= 0 else None

    def _far(self, law: Law) -> list[float] | None:
        """How far each step's stress is from the drawn bar's, in logarithms; None where not known, or not in order."""
        far = [abs(law(step.share)) + 1e-9 * i for i, step in enumerate(self.steps, 1) if step.share > 0.0]
        in_order = len(far) == len(self.steps) and all(one < other for one, other in pairwise([0.0, *far]))
        return far if in_order else None


def _nearest(far: Sequence[float] | None, drawn: float) -> float | None:
    """Number of the first step whose stress is as far from the drawn bar's as its score, or of the last."""
    return min(bisect_left(far, abs(drawn)), len(far) - 1) if far else None


def side_by_side(
    searches: Mapping[Key, Search[Result]], going: Callable[[], object], like: Solved | None = None
) -> dict[Key, Result]:
    """What each search finds. The bars that they ask for next are solved in one batch: that is quicker than by turns.

    `like` is the drawn bar, solved.
    """
    found: dict[Key, Result] = {}
    asked: dict[Key, Asked] = {}
    answers: dict[Key, Answer | None] = dict.fromkeys(searches)
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


def _solve(asked: Iterable[Asked], like: Solved | None) -> None:
    """Evaluate what is asked for and not known yet, in one go."""
    new = dict.fromkeys((way, *at) for way, wanted in asked for at in wanted if at not in way.found)
    requests = [way.request(i, hole) for way, i, hole in new]
    bars = [each for each in requests if each is not None]
    evaluations = evaluate_at(bars, like=like, load_factors=True, whole=True, lives_alone=True)
    for (way, i, hole), request in zip(new, requests, strict=True):
        way.found[i, hole] = None if request is None else next(evaluations)


def place_of(each: Evaluation, hole: str) -> int:
    """Number of a hole setting, named by its hole or pair, among those evaluated."""
    return [pair_name(*names) for names in zip(each.left, each.right, strict=True)].index(hole)
