"""The numbers of a solved bar as an `Evaluation`; those of one that could not be solved, or not at every hole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from barfem.check.duty_life import duty_life
from barfem.check.loads import joint_angles_deg
from barfem.check.local_yielding import strain_life_of
from barfem.check.points import checked_points
from barfem.check.ranking import Ranking, judge
from barfem.check.solved import Solved
from barfem.check.verdict import broken_out, targets_met
from barfem.check.worked import how_worked
from barfem.model.bar import Bar
from barfem.model.bar_geometry import mass_kg
from barfem.model.load_case import Instant
from barfem.solve.beam import HoleSetting
from barfem.strength.fatigue.residual import cyclic_yield
from barfem.study.evaluation import NOT_SOLVED, Evaluation, Places

__all__ = ["Problems", "failed", "from_solved", "with_unsolved"]

Index = NDArray[np.intp]
Flags = NDArray[np.bool_]

Problems = tuple[str | None, ...]
"""Why each hole setting could not be solved; nothing where all could."""


def from_solved(number: int, found: Solved, ranking: Ranking) -> Evaluation:
    """What the check's functions find of a solved bar; `number` is its place among those evaluated.

    Raises
    ------
    BarfemError
        A stress or a life is not a finite number.
    """
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
        peak_where=_words(
            found, recovery.peak_sample[peak], recovery.peak_point[peak], recovery.peak_evenness[peak].tolist()
        ),
        fatigue_where=_words(found, recovery.cycle_sample[worst], recovery.cycle_point[worst], [0.0] * len(copy)),
        passes=np.logical_and.reduce(met) & np.isfinite(rate),
        unworked=tuple(" ".join(each.fails[:1]) for each in worked),
        places=_places(found, ranking),
        load_factor_at_survival=ranking.load_factor_at_survival,
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
        goodman_safety_factor=ranking.goodman_safety_factor[:, here],
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


def _words(found: Solved, sample: Index, point: Index, evenness: Sequence[float]) -> NDArray[np.object_]:
    where = map(found.words, sample.tolist(), point.tolist(), evenness)
    return np.array([*where], dtype=object)


def with_unsolved(found: Evaluation, settings: tuple[HoleSetting, ...], problems: Problems) -> Evaluation:
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


NOTHING = {"f": np.nan, "b": False, "i": 0, "O": None}
"""What stands in an array where there is no number, by its kind."""

Record = TypeVar("Record", bound=Evaluation | Places)


def _spread(record: Record, rows: Index, count: int) -> Record:
    """Every array of a record (j, ...) as one of `count` rows, with nothing in all but `rows`."""
    wide: dict[str, Any] = {}
    for item in fields(record):
        value: Any = getattr(record, item.name)
        if isinstance(value, Places):
            wide[item.name] = _spread(value, rows, count)
        elif isinstance(value, np.ndarray):
            wide[item.name] = np.full((count, *value.shape[1:]), NOTHING[value.dtype.kind], value.dtype)
            wide[item.name][rows] = value
    if "status" in wide:
        wide["status"][np.isnan(wide["rate_N_per_mm"])] = NOT_SOLVED
    return replace(record, **wide)


def failed(number: int, bar: Bar, settings: tuple[HoleSetting, ...], problems: Problems) -> Evaluation:
    """Of a bar that could not be solved at any of its hole settings."""
    none, no, nowhere = np.zeros(0), np.zeros(0, bool), np.zeros(0, object)
    arrays: dict[str, Any] = dict.fromkeys(
        ("rate_N_per_mm", "rate_initial_N_per_mm", "link_force_N", "joint_angle_deg", "peak_MPa", "yield_margin",
         "safety_factor_at_target", "goodman_safety_factor", "target_share_at_survival", "life_cycles",
         "life_at_survival_cycles", "repeats_at_survival"), none,
    )  # fmt: skip
    arrays |= dict.fromkeys(("runout", "runout_at_survival", "passes"), no)
    empty = Evaluation(
        number=number, bar=bar, settings=(), mass_kg=mass_kg(bar), side_force_N=np.zeros((0, 2)),
        status=np.zeros(0, np.int8), peak_where=nowhere, fatigue_where=nowhere, **arrays,
    )  # fmt: skip
    return with_unsolved(empty, settings, problems)
