"""Many bars at the speed of batches: what `check` finds of a bar, as arrays and without the words.

The same functions as `check` do the same work (solve, stress, life, targets), so that the numbers are the same. Bars
are solved many at a time; nothing is kept once a bar's row is out, so that memory does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby, islice, pairwise

import numpy as np
from numpy.typing import NDArray

from barfem.check.api import cases_to_judge
from barfem.check.hole_names import pairs_named
from barfem.check.moves import block_moves
from barfem.check.ranking import rank_each, rank_regions
from barfem.check.solved import (
    Loaded,
    NothingSolved,
    Solved,
    alike_in_mechanics,
    alike_in_shape,
    recover_together,
    solve_what_can_be,
)
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.solve.beam import BeamSolution, HoleSetting, all_settings, solve_bars
from barfem.study.evaluation import Evaluation
from barfem.study.from_solved import Problems, failed, from_solved, with_unsolved

__all__ = [
    "BARS_AT_ONCE",
    "chosen_settings",
    "evaluate",
    "evaluate_at",
    "evaluate_one",
    "evaluation_of",
    "greatest_rates_N_per_mm",
    "names_of",
]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Flags = NDArray[np.bool_]

BARS_AT_ONCE = 16
"""Bars solved in one go: enough to share the overhead, few enough to stay in the cache."""


def chosen_settings(
    bar: Bar, *, holes: Sequence[str] | None = None, case: str | None = None
) -> tuple[HoleSetting, ...]:
    """Hole settings of `bar`: all, or those named in `holes`; in the load case `case`, by default as `check` judges.

    A hole setting is named by its hole ("2"), an unequal pair by both ("1/3", left first); named twice it counts once.

    Raises
    ------
    InputError
        The bar has no such hole, or there is no such load case.
    """
    cases, _ = cases_to_judge(bar, case)
    given = all_settings(bar, cases=cases)
    if holes is None:
        return given
    pairs = any("/" in name for name in holes)
    among = all_settings(bar, cases=cases, mixed=True) if pairs else given
    names = [names_of(bar, setting) for setting in among]
    asked = (among[i] for hole in holes for i in pairs_named(hole, names, of=bar.name, file=bar.source))
    return tuple(dict.fromkeys(asked))


def names_of(bar: Bar, setting: HoleSetting) -> tuple[str, str]:
    """The holes' names of a hole setting, left and right."""
    return bar.left.holes[setting.left].name, bar.right.holes[setting.right].name


def evaluate(
    bars: Iterable[Bar],
    *,
    holes: Sequence[str] | None = None,
    case: str | None = None,
    chunk: int = BARS_AT_ONCE,
    halves: bool = False,
) -> Iterator[Evaluation]:
    """Evaluate bars, in order, a chunk at a time; `bars` may be a generator, and is drawn on as it goes.

    A hole setting without equilibrium within its travel has no numbers and fails; `Evaluation.problems` says why.

    Parameters
    ----------
    holes, case
        Which hole settings (`chosen_settings`): all that `check` judges by default.
    chunk
        Bars solved in one go.
    halves
        Every straight is two places: each is smooth in the dimensions. The bar's numbers are the same to 1e-6.
    """
    requests = ((bar, chosen_settings(bar, holes=holes, case=case)) for bar in bars)
    return evaluate_at(requests, chunk=chunk, halves=halves)


def evaluate_at(
    requests: Iterable[tuple[Bar, tuple[HoleSetting, ...]]],
    *,
    chunk: int = BARS_AT_ONCE,
    halves: bool = False,
    like: Solved | None = None,
    load_factors: bool = False,
    whole: bool = False,
    lives_alone: bool = False,
) -> Iterator[Evaluation]:
    """`evaluate` of bars at hole settings of their own.

    `like` is a bar solved before, in halves or not as these: the stress per load of one alike in shape is taken over.
    With `load_factors` those that bars at survival bear are found too. `whole`: of a bar of which one hole setting
    cannot follow its travel nothing else is asked, and no other is solved. `lives_alone` as `rank_each_by_life`: safety
    factors are those of the places that decide life.
    """
    source = iter(requests)
    number = 0
    last: Solved | Loaded | None = like
    while some := list(islice(source, max(1, chunk))):
        loaded: list[Loaded | BarfemError] = []
        problems: list[Problems] = []
        for solution, unsolved in _solutions(some, whole=whole):
            loaded.append(_loaded(solution, (last, like), halves))
            last = loaded[-1] if isinstance(loaded[-1], Loaded) else last
            problems.append(unsolved)
        rows = [
            (*request, found, unsolved)
            for request, found, unsolved in zip(some, _recovered(loaded, lives_alone), problems, strict=True)
        ]
        del loaded
        solved = [found for *_, found, _ in rows if isinstance(found, Solved)]
        rankings = iter(rank_each([(found.bar, found.recovery) for found in solved], at_survival=load_factors))
        del solved
        rows.reverse()
        while rows:  # what a row was made of goes with it
            bar, settings, found, unsolved = rows.pop()
            if isinstance(found, Solved):
                yield with_unsolved(from_solved(number, found, next(rankings)), settings, unsolved)
            else:
                yield failed(number, bar, settings, unsolved or (str(found),) * len(settings))
            number += 1


def evaluate_one(bar: Bar, *, holes: Sequence[str] | None = None, case: str | None = None) -> Evaluation:
    """Evaluate one bar; see `evaluate`.

    Raises
    ------
    BarfemError
        None of its hole settings has an equilibrium within its travel.
    """
    found = next(evaluate([bar], holes=holes, case=case))
    if found.problem is not None:
        raise BarfemError(found.problem)
    return found


def evaluation_of(solved: Solved) -> Evaluation:
    """What `evaluate_at` would say of a solved bar at its hole settings, load factors of bars at survival included."""
    return from_solved(0, solved, rank_regions(solved.bar, solved.recovery, at_survival=True))


def greatest_rates_N_per_mm(
    bars: Sequence[Bar], *, holes: Sequence[str] | None = None, case: str | None = None
) -> list[float]:
    """The greatest rate [N/mm] of each bar over the hole settings, without its stress: an eighth of the work.

    NaN of a bar of which any hole setting has no equilibrium within its travel.
    """
    requests = [(bar, chosen_settings(bar, holes=holes, case=case)) for bar in bars]
    return [
        float(solution.rate_N_per_mm.max()) if isinstance(solution, BeamSolution) and not any(problems) else np.nan
        for first in range(0, len(requests), BARS_AT_ONCE)
        for solution, problems in _solutions(requests[first : first + BARS_AT_ONCE])
    ]


def _loaded(
    solution: BeamSolution | BarfemError, known: Sequence[Solved | Loaded | None], halves: bool
) -> Loaded | BarfemError:
    """The loads of a solved bar; of one alike in shape to one of those `known`, with its maps."""
    if isinstance(solution, BarfemError):
        return solution
    try:
        like = next((each for each in known if each is not None and alike_in_shape(each.bar, solution.bar)), None)
        return Loaded.of(solution, like=like, halves=halves)
    except BarfemError as error:
        return error


def _recovered(several: Sequence[Loaded | BarfemError], lives_alone: bool) -> list[Solved | BarfemError]:
    """The stress of all at once; where that fails, of each by itself."""
    good = [each for each in several if isinstance(each, Loaded)]
    try:
        solved: list[Solved | BarfemError] = [*recover_together(good, lives_alone=lives_alone)]
    except BarfemError as error:
        solved = [error] if len(good) == 1 else [_recovered([each], lives_alone)[0] for each in good]
    found = iter(solved)
    return [next(found) if isinstance(each, Loaded) else each for each in several]


def _solutions(
    requests: Sequence[tuple[Bar, tuple[HoleSetting, ...]]], *, whole: bool = False
) -> Iterator[tuple[BeamSolution | BarfemError, Problems]]:
    """The chunk's solutions in order; where one fails each is solved by itself, and of a failed one what can be.

    With each, why a hole setting of it could not be solved; nothing where all could. Bars that differ in their skin
    alone are solved once. `whole` as for `evaluate_at`.
    """
    same = [False] + [
        settings == before and alike_in_mechanics(last, bar) for (last, before), (bar, settings) in pairwise(requests)
    ]
    new = [request for request, known in zip(requests, same, strict=True) if not known]
    try:
        solved: list[tuple[BeamSolution | BarfemError, Problems]] = [(each, ()) for each in _solved(new)]
    except BarfemError as error:
        if whole:
            solved = [(error, ())] if len(new) == 1 else [_solved_whole(request) for request in new]
        else:
            solved = [_solved_alone(*request) for request in new]
    which = -1
    for (bar, _), known in zip(requests, same, strict=True):
        which += not known
        found, problems = solved[which]
        yield (replace(found, bar=bar) if isinstance(found, BeamSolution) else found), problems


def _solved_whole(request: tuple[Bar, tuple[HoleSetting, ...]]) -> tuple[BeamSolution | BarfemError, Problems]:
    try:
        return next(_solved([request])), ()
    except BarfemError as error:
        return error, ()


def _solved_alone(bar: Bar, settings: tuple[HoleSetting, ...]) -> tuple[BeamSolution | BarfemError, Problems]:
    try:
        solution, unsolved = solve_what_can_be(settings, lambda some: next(_solved([(bar, tuple(some))])))
    except NothingSolved as error:
        return error, tuple(reason for _, reason in error.unsolved)
    except BarfemError as error:
        return error, ()
    reasons = dict(unsolved)
    return solution, tuple(reasons.get(setting) for setting in settings) if unsolved else ()


def _solved(requests: Sequence[tuple[Bar, tuple[HoleSetting, ...]]]) -> Iterator[BeamSolution]:
    """Solutions in order, with the states of the duty's blocks: bars of as many blocks go together."""
    for _, some in groupby(requests, key=lambda request: len(request[0].duty.blocks)):
        alike = list(some)
        yield from solve_bars(alike, more_moves=block_moves if alike[0][0].duty.blocks else None)
