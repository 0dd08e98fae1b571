"""Whether a hole setting meets its targets, and why; and the fatigue record of its governing place."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.check.endurance import Judged, Ranking, judge
from barfem.check.result import Fatigue, SurfaceLife
from barfem.model.bar import Bar
from barfem.model.surfaces import SURFACES, next_better, next_worse
from barfem.strength.fatigue.assess import FatigueAssessment
from barfem.strength.fatigue.sn_line import KNEE_CYCLES, LONGEST_LIFE_CYCLES
from barfem.strength.recover import Recovery

__all__ = ["fatigue_of", "targets_met", "verdict_of"]


def _number(value: object) -> float | None:
    found = float(np.asarray(value))
    return found if np.isfinite(found) else None


def _lives(found: FatigueAssessment) -> tuple[float | None, float | None, str | None]:
    """Median life, life at survival, and the reason where the median is missing."""
    return _number(found.life_cycles), _number(found.life_at_survival_cycles), found.reason() or None


def _with_surface(bar: Bar, recovery: Recovery, judged: Judged, copy: int, name: str | None) -> SurfaceLife | None:
    if name is None:
        return None
    found = judge(bar, recovery, copy, judged.region, name).assessment
    life, at_survival, reason = _lives(found)
    return SurfaceLife(
        surface=SURFACES[name].title,
        life_cycles=life,
        life_at_survival_cycles=at_survival,
        runout=bool(found.runout),
        reason=reason,
    )


def fatigue_of(bar: Bar, recovery: Recovery, copy: int, ranking: Ranking, words: Callable[[int, int], str]) -> Fatigue:
    """The fatigue record of the place with the shortest life in hole setting number `copy`."""
    region = int(ranking.order[copy, 0])
    judged = judge(bar, recovery, copy, region)
    found, strength, at = judged.assessment, judged.strength, (copy, region)
    sample, point = int(recovery.cycle_sample[at]), int(recovery.cycle_point[at])
    station = float(recovery.samples.station_mm[sample])
    life, at_survival, reason = _lives(found)
    limit = float(strength.endurance_limit_MPa)
    return Fatigue(
        station_mm=station,
        where=words(sample, point),
        surface="bore" if recovery.cycle_in_bore[at] else "outside",
        amplitude_MPa=float(recovery.cycle_amplitude_MPa[at]),
        mean_MPa=float(recovery.cycle_mean_MPa[at]),
        goodman_safety_factor=_number(found.goodman_safety_factor),
        safety_factor_at_target=_number(found.safety_factor_at_target),
        life_cycles=life,
        life_at_survival_cycles=at_survival,
        runout=bool(found.runout),
        reason=reason,
        from_middle_mm=station - bar.middle_mm,
        surface_condition=SURFACES[judged.condition].title,
        residual_stress_MPa=judged.residual_MPa,
        endurance_limit_MPa=limit if limit > 0.0 else None,
        strength_at_target_MPa=float(strength.strength_at(bar.duty.target_cycles)),
        knee_cycles=KNEE_CYCLES if bool(strength.has_knee) else None,
        factors={factor.name: float(np.asarray(factor.value)) for factor in strength.factors},
        better_surface=_with_surface(bar, recovery, judged, copy, next_better(judged.condition)),
        worse_surface=_with_surface(bar, recovery, judged, copy, next_worse(judged.condition)),
    )


def verdict_of(
    bar: Bar, *, margin: float, fatigue: Fatigue, not_checked: tuple[str, ...]
) -> tuple[bool, tuple[str, ...]]:
    """Whether every target is met; and why: the targets that are not, or all of them; then places not checked."""
    targets, duty = bar.targets, bar.duty
    share = f"{100 * targets.survival:g} %"
    life, goodman = fatigue.life_at_survival_cycles, fatigue.goodman_safety_factor
    met = [
        bool(each)
        for each in targets_met(
            bar,
            yield_margin=margin,
            life_at_survival_cycles=np.nan if life is None else life,
            runout=fatigue.runout,
            has_knee=fatigue.knee_cycles is not None,
            goodman_safety_factor=np.nan if goodman is None else goodman,
        )
    ]
    why = []
    why.append(
        f"yield margin {margin:.2f} is {'at least' if met[0] else 'below'} the target of {targets.yield_margin:.2f}"
        + ("" if margin >= 0.0 else ": the bar takes a set")
    )
    if life is not None:
        relation = "reaches" if met[1] else "falls short of"
        why.append(f"life at {share} survival, {life:,.0f} cycles, {relation} the target of {duty.target_cycles:,.0f}")
    elif fatigue.runout:
        relation = "reaches" if met[1] else "does not show (nothing more is claimed)"
        beyond = fatigue.knee_cycles or LONGEST_LIFE_CYCLES
        why.append(
            f"life at {share} survival is beyond {beyond:,.0f} cycles, which {relation} the target of "
            f"{duty.target_cycles:,.0f}"
        )
    else:
        why.append(f"no life can be stated: {fatigue.reason or 'the stress is outside the method'}")
    if targets.goodman_safety_factor is not None:
        shown = "none (no endurance limit)" if goodman is None else f"{goodman:.2f}"
        why.append(
            f"Goodman safety factor against the endurance limit {shown}, target {targets.goodman_safety_factor:.2f}"
        )
    passes = all(met)
    reasons = [reason for reason, good in zip(why, met, strict=True) if passes or not good]
    return passes, (*reasons, *(f"not checked: {text}" for text in not_checked))


def targets_met(
    bar: Bar,
    *,
    yield_margin: ArrayLike,
    life_at_survival_cycles: ArrayLike,
    runout: ArrayLike,
    has_knee: ArrayLike,
    goodman_safety_factor: ArrayLike,
) -> list[NDArray[np.bool_]]:
    """Which targets are met: yield margin, life and, where the bar file sets one, Goodman safety factor.

    Arguments broadcast. A life or factor that there is none of is NaN; then a runout reaches the target no farther
    than the knee (with none: the longest life that is claimed), beyond which nothing more is claimed.
    """
    targets, cycles = bar.targets, bar.duty.target_cycles
    life = np.asarray(life_at_survival_cycles, float)
    claimed = np.where(np.asarray(has_knee, bool), KNEE_CYCLES, LONGEST_LIFE_CYCLES)
    beyond = np.isnan(life) & np.asarray(runout, bool) & (cycles <= claimed)
    met = [np.asarray(yield_margin, float) >= targets.yield_margin, (life >= cycles) | beyond]
    if targets.goodman_safety_factor is not None:
        met.append(np.asarray(goodman_safety_factor, float) >= targets.goodman_safety_factor)
    return met
