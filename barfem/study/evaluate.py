"""Many bars at the speed of batches: what `check` finds of a bar, as arrays and without the words.

The same functions as `check` do the same work (solve, stress, life, targets), so that the numbers are the same. Bars
are solved many at a time; nothing is kept once a bar's row is out, so that memory does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import fields, replace
from itertools import groupby, islice, pairwise
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from barfem.check.api import cases_to_judge
from barfem.check.duty_life import duty_life
from barfem.check.hole_names import pairs_named
from barfem.check.loads import joint_angles_deg
from barfem.check.local_yielding import strain_life_of
from barfem.check.moves import block_moves
from barfem.check.points import checked_points
from barfem.check.ranking import Ranking, judge, rank_each, rank_regions
from barfem.check.solved import (
    NothingSolved,
    Solved,
    alike_in_mechanics,
    alike_in_shape,
    recover_stress,
    solve_what_can_be,
)
from barfem.check.verdict import broken_out, targets_met
from barfem.check.worked import how_worked
from barfem.model.bar import Bar
from barfem.model.bar_geometry import mass_kg
from barfem.model.errors import BarfemError
from barfem.model.load_case import Instant
from barfem.solve.beam import BeamSolution, HoleSetting, all_settings, solve_bars
from barfem.strength.fatigue.residual import cyclic_yield
from barfem.strength.places import KINDS
from barfem.strength.section_map import BORE
from barfem.study.evaluation import NOT_SOLVED, Evaluation, Places, Spots

__all__ = [
    "BARS_AT_ONCE",
    "chosen_settings",
    "evaluate",
    "evaluate_at",
    "evaluate_one",
    "evaluation_of",
    "greatest_rates_N_per_mm",
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

    A hole setting is named by its hole ("2"), an unequal pair by both ("1/3", left first).

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
    names = [_names(bar, setting) for setting in among]
    return tuple(among[i] for hole in holes for i in pairs_named(hole, names, of=bar.name, file=bar.source))


def _names(bar: Bar, setting: HoleSetting) -> tuple[str, str]:
    return bar.left.holes[setting.left].name, bar.right.holes[setting.right].name


def evaluate(
    bars: Iterable[Bar],
    *,
    holes: Sequence[str] | None = None,
    case: str | None = None,
    progress: Callable[[int], None] | None = None,
    chunk: int = BARS_AT_ONCE,
    halves: bool = False,
) -> Iterator[Evaluation]:
    """Evaluate bars, in order, a chunk at a time; `bars` may be a generator, and is drawn on as it goes.

    A hole setting without equilibrium within its travel has no numbers and fails; `Evaluation.problems` says why.

    Parameters
    ----------
    holes, case
        Which hole settings (`chosen_settings`): all that `check` judges by default.
    progress
        Called with the number of bars just finished.
    chunk
        Bars solved in one go.
    halves
        Every straight is two places: each is smooth in the dimensions. The bar's numbers are the same to 1e-6.
    """
    requests = ((bar, chosen_settings(bar, holes=holes, case=case)) for bar in bars)
    return evaluate_at(requests, progress=progress, chunk=chunk, halves=halves)


def evaluate_at(
    requests: Iterable[tuple[Bar, tuple[HoleSetting, ...]]],
    *,
    progress: Callable[[int], None] | None = None,
    chunk: int = BARS_AT_ONCE,
    halves: bool = False,
    like: Solved | None = None,
) -> Iterator[Evaluation]:
    """`evaluate` of bars at hole settings of their own.

    `like` is a bar solved before, in halves or not as these: the stress per load of one alike in shape is taken over.
    """
    source = iter(requests)
    number = 0
    last = like
    while some := list(islice(source, max(1, chunk))):
        rows: list[tuple[Bar, tuple[HoleSetting, ...], Solved | BarfemError, Problems]] = []
        for (bar, settings), (solution, unsolved) in zip(some, _solutions(some), strict=True):
            found = _recovered(solution, (last, like), halves)
            last = found if isinstance(found, Solved) else last
            rows.append((bar, settings, found, unsolved))
        solved = [found for *_, found, _ in rows if isinstance(found, Solved)]
        rankings = iter(rank_each([(found.bar, found.recovery) for found in solved]))
        del solved
        rows.reverse()
        while rows:  # what a row was made of goes with it
            bar, settings, found, unsolved = rows.pop()
            if isinstance(found, Solved):
                yield _with_unsolved(_evaluation(number, found, next(rankings)), settings, unsolved)
            else:
                yield _failed(number, bar, settings, unsolved or (str(found),) * len(settings))
            number += 1
        if progress:
            progress(len(some))


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
    """What `evaluate` would say of a bar that is solved already, at the hole settings that it was solved at."""
    return _evaluation(0, solved, rank_regions(solved.bar, solved.recovery))


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


Problems = tuple[str | None, ...]


def _recovered(
    solution: BeamSolution | BarfemError, known: Sequence[Solved | None], halves: bool
) -> Solved | BarfemError:
    """The stress of a solved bar; of one alike in shape to one of those `known`, by its maps."""
    if isinstance(solution, BarfemError):
        return solution
    try:
        like = next((each for each in known if each is not None and alike_in_shape(each.bar, solution.bar)), None)
        return recover_stress(solution, like=like, halves=halves)
    except BarfemError as error:
        return error


def _solutions(
    requests: Sequence[tuple[Bar, tuple[HoleSetting, ...]]],
) -> Iterator[tuple[BeamSolution | BarfemError, Problems]]:
    """The chunk's solutions in order; where one fails each is solved by itself, and of a failed one what can be.

    With each, why a hole setting of it could not be solved; nothing where all could. Bars that differ in their skin
    alone are solved once.
    """
    same = [False] + [
        settings == before and alike_in_mechanics(last, bar) for (last, before), (bar, settings) in pairwise(requests)
    ]
    new = [request for request, known in zip(requests, same, strict=True) if not known]
    try:
        solved: list[tuple[BeamSolution | BarfemError, Problems]] = [(each, ()) for each in _solved(new)]
    except BarfemError:
        solved = [_solved_alone(*request) for request in new]
    which = -1
    for (bar, _), known in zip(requests, same, strict=True):
        which += not known
        found, problems = solved[which]
        yield (replace(found, bar=bar) if isinstance(found, BeamSolution) else found), problems


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


def _evaluation(number: int, found: Solved, ranking: Ranking) -> Evaluation:
    bar, solution, recovery = found.bar, found.solution, found.recovery
    copy = np.arange(len(solution.settings))
    peak, worst = (copy, recovery.governing_peak()), (copy, ranking.order[:, 0])
    margin = recovery.yield_margin[:, recovery.checked].min(axis=1)
    life = ranking.assessment
    met = targets_met(
        bar,
        yield_margin=margin,
        life_at_survival_cycles=life.life_at_survival_cycles[worst],
        runout=life.runout[worst],
        goodman_safety_factor=ranking.least_goodman[0],
    )
    met.append(_holds_where_it_yields(bar, found, ranking))
    met.append(np.array([not broken_out(bar, setting) for setting in solution.settings]))
    initial = solution.initial
    worked = [
        how_worked(bar, setting, shares=shares, rate_N_per_mm=rate)
        for setting, shares, rate in zip(
            solution.settings, initial.shares.tolist(), initial.rate_N_per_mm.tolist(), strict=True
        )
    ]
    met.append(np.array([not each.fails for each in worked]))
    repeats = np.full(len(copy), np.nan)
    if bar.duty.blocks:
        points = checked_points(found)
        lives = [duty_life(found, j, points) for j in copy.tolist()]
        met.append(np.array([life is not None and life.reaches_target for life in lives]))
        repeats = np.array([np.nan if life is None else _or_nan(life.life_at_survival_repeats) for life in lives])
    rate = solution.rate_N_per_mm
    return Evaluation(
        number=number,
        bar=bar,
        settings=solution.settings,
        mass_kg=mass_kg(bar),
        rate_N_per_mm=rate,
        rate_initial_N_per_mm=solution.initial.rate_N_per_mm,
        link_force_N=np.abs(solution.link_force_N[:, Instant.TRAVEL]).max(axis=1),
        side_force_N=solution.link_force_N[:, Instant.TRAVEL],
        joint_angle_deg=joint_angles_deg(solution).max(axis=1),
        peak_MPa=recovery.peak_MPa[peak],
        yield_margin=margin,
        safety_factor_at_target=ranking.least_factor[0],
        goodman_safety_factor=ranking.least_goodman[0],
        target_share_at_survival=ranking.least_share,
        life_cycles=life.life_cycles[worst],
        life_at_survival_cycles=life.life_at_survival_cycles[worst],
        runout=life.runout[worst],
        runout_at_survival=life.runout_at_survival[worst],
        status=life.status[worst],
        repeats_at_survival=repeats,
        peak=_spots(found, peak, recovery.peak_sample[peak], recovery.peak_point[peak]),
        weakest=_spots(found, worst, recovery.cycle_sample[worst], recovery.cycle_point[worst]),
        passes=np.logical_and.reduce(met) & np.isfinite(rate),
        unworked=tuple(" ".join(each.fails[:1]) for each in worked),
        places=_places(found, ranking),
    )


def _places(found: Solved, ranking: Ranking) -> Places:
    recovery, life = found.recovery, ranking.assessment
    here = np.flatnonzero(recovery.checked)
    called = [(recovery.regions[i].kind, recovery.regions[i].index) for i in here.tolist()]
    return Places(
        names=tuple((*name, called[:i].count(name)) for i, name in enumerate(called)),
        peak_MPa=recovery.peak_MPa[:, here],
        yield_margin=recovery.yield_margin[:, here],
        safety_factor_at_target=life.safety_factor_at_target[:, here],
        goodman_safety_factor=life.goodman_safety_factor[:, here],
        target_share_at_survival=life.target_share_at_survival[:, here],
        ordered_life=ranking.life_at_survival_cycles[:, here],
    )


def _holds_where_it_yields(bar: Bar, found: Solved, ranking: Ranking) -> Flags:
    """False where a hole setting's governing place yields under its cycles and strain-life gives too few of them."""
    recovery = found.recovery
    copies = np.arange(len(found.solution.settings))
    regions = ranking.order[:, 0]
    out = np.ones(len(copies), bool)
    at = (copies, regions)
    # Cheap first: `strain_life_of` says nothing where amplitude and mean stay below the cyclic yield strength.
    high = recovery.cycle_amplitude_MPa[at] + ranking.assessment.mean_used_MPa[at]
    suspected = high > cyclic_yield(bar.steel) * recovery.cycle_strength_scale[at]
    for j in np.flatnonzero(suspected).tolist() if bar.duty.target_cycles_given else ():
        judged = judge(bar, recovery, j, int(regions[j]))
        local = strain_life_of(bar, recovery, judged, j)
        out[j] = local is None or local.life_at_survival_cycles >= bar.duty.target_cycles
    return out


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value


def _spots(found: Solved, at: tuple[Index, Index], sample: Index, point: Index) -> Spots:
    samples, maps = found.samples, found.maps
    regions = [samples.regions[number] for number in at[1].tolist()]
    angle = maps.angle_rad[maps.index[sample], point] - samples.inward_angle_rad[sample]
    return Spots(
        kind=np.array([KINDS.index(region.kind) for region in regions]),
        index=np.array([region.index for region in regions]),
        station_mm=samples.station_mm[sample],
        in_bore=maps.surface[point] == BORE,
        from_inside_rad=np.where(samples.in_bend[sample], (angle + np.pi) % (2 * np.pi) - np.pi, 0.0),
    )


def _with_unsolved(found: Evaluation, settings: tuple[HoleSetting, ...], problems: Problems) -> Evaluation:
    """`found` over all of `settings`: those with a problem have no numbers."""
    if not problems:
        return found
    rows = np.flatnonzero([problem is None for problem in problems])
    words = iter(found.unworked)
    return replace(
        _spread(found, rows, len(settings)),
        settings=settings,
        unworked=tuple(next(words) if problem is None else "" for problem in problems),
        problems=problems,
    )


NOTHING = {"f": np.nan, "b": False, "i": 0}
"""What stands in an array where there is no number, by its kind."""

Record = TypeVar("Record", bound=Evaluation | Spots | Places)


def _spread(record: Record, rows: Index, count: int) -> Record:
    """Every array of a record (j, ...) as one of `count` rows, with nothing in all but `rows`."""
    wide: dict[str, Any] = {}
    for item in fields(record):
        value: Any = getattr(record, item.name)
        if isinstance(value, Spots | Places):
            wide[item.name] = _spread(value, rows, count)
        elif isinstance(value, np.ndarray):
            wide[item.name] = np.full((count, *value.shape[1:]), NOTHING[value.dtype.kind], value.dtype)
            wide[item.name][rows] = value
    if "status" in wide:
        wide["status"][np.isnan(wide["rate_N_per_mm"])] = NOT_SOLVED
    return replace(record, **wide)


def _failed(number: int, bar: Bar, settings: tuple[HoleSetting, ...], problems: Problems) -> Evaluation:
    """Of a bar that could not be solved at any of its hole settings."""
    none, no, nowhere = np.zeros(0), np.zeros(0, bool), np.zeros(0, np.intp)
    spots = Spots(kind=nowhere, index=nowhere, station_mm=none, in_bore=no, from_inside_rad=none)
    arrays: dict[str, Any] = dict.fromkeys(
        ("rate_N_per_mm", "rate_initial_N_per_mm", "link_force_N", "joint_angle_deg", "peak_MPa", "yield_margin",
         "safety_factor_at_target", "goodman_safety_factor", "target_share_at_survival", "life_cycles",
         "life_at_survival_cycles", "repeats_at_survival"), none,
    )  # fmt: skip
    arrays |= dict.fromkeys(("runout", "runout_at_survival", "passes"), no)
    empty = Evaluation(
        number=number, bar=bar, settings=(), mass_kg=mass_kg(bar), side_force_N=np.zeros((0, 2)),
        status=np.zeros(0, np.int8), peak=spots, weakest=spots, **arrays,
    )  # fmt: skip
    return _with_unsolved(empty, settings, problems)
