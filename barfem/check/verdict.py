"""Whether a hole setting meets its targets, and why; and the fatigue record of its governing place."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.check.endurance import Judged, Ranking, judge, mean_stress_of
from barfem.check.lives import DutyLife, SurvivalLife
from barfem.check.local_factors import local_factors
from barfem.check.local_yielding import strain_life_of, yielding_words
from barfem.check.result import Fatigue, SurfaceLife
from barfem.model.bar import Bar
from barfem.model.load_case import FEELS_NOTHING
from barfem.model.skin import Skin
from barfem.solve.beam import HoleSetting
from barfem.strength.fatigue.assess import STATUS_REASONS, FatigueAssessment, LifeStatus, lives_at
from barfem.strength.fatigue.factors import log10_life_deviation
from barfem.strength.fatigue.residual import cyclic_yield, peening_holds_to
from barfem.strength.fatigue.sn_line import BEND_CYCLES, KNEE_CYCLES, LONGEST_LIFE_CYCLES, SHORTEST_LIFE_CYCLES
from barfem.strength.fatigue.strength import FatigueStrength
from barfem.strength.recover import UNLOADED, Recovery

__all__ = ["broken_out", "fatigue_of", "targets_met", "verdict_of"]

SURVIVALS = (0.5, 0.9, 0.99)
STATED = (LifeStatus.STANDS, LifeStatus.BEYOND_KNEE, LifeStatus.BELOW_1000_CYCLES)


def _number(value: object) -> float | None:
    found = float(np.asarray(value))
    return found if np.isfinite(found) else None


def _lives(found: FatigueAssessment) -> tuple[float | None, float | None, str | None]:
    """Median life, life at survival, and the reason where the median is missing."""
    return _number(found.life_cycles), _number(found.life_at_survival_cycles), found.reason() or None


def _with_surface(bar: Bar, recovery: Recovery, judged: Judged, copy: int, skin: Skin | None) -> SurfaceLife | None:
    if skin is None:
        return None
    found = judge(bar, recovery, copy, judged.region, skin).assessment
    life, at_survival, reason = _lives(found)
    return SurfaceLife(
        surface=skin.title,
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
    if not recovery.peak_MPa[copy].any():
        reason = FEELS_NOTHING
    elif bool(found.runout) and at_survival is not None:
        reason = f"the median is beyond the knee; the life at {100 * bar.targets.survival:g} % survival is not"
    if reason is None and at_survival is not None and at_survival < SHORTEST_LIFE_CYCLES:
        reason = f"at {100 * bar.targets.survival:g} % survival, {STATUS_REASONS[LifeStatus.BELOW_1000_CYCLES]}"
    limit = float(found.endurance_limit_MPa)
    lost = bool(found.peening_lost)
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
        surface_condition=judged.skin.title,
        residual_stress_MPa=float(found.residual_left_MPa),
        endurance_limit_MPa=limit if limit > 0.0 else None,
        strength_at_target_MPa=float(strength.strength_at(bar.duty.target_cycles)),
        knee_cycles=KNEE_CYCLES if bool(strength.has_knee) else None,
        factors={**_factors(judged.strength), **local_factors(bar, recovery.samples, sample)},
        better_surface=_with_surface(bar, recovery, judged, copy, judged.skin.better),
        worse_surface=_with_surface(bar, recovery, judged, copy, judged.skin.worse),
        mean_stress_rule=bar.targets.mean_stress,
        lives=_lives_at_survivals(bar, judged),
        log10_life_deviation=log10_life_deviation(exponent=_exponent(bar, judged), scatter=strength.scatter),
        peening_holds_to_MPa=_peening_holds(bar, judged, float(recovery.cycle_strength_scale[at])),
        peening_lost=lost,
        strain_life=strain_life_of(bar, recovery, judged, copy),
    )


def _factors(strength: FatigueStrength) -> dict[str, float]:
    """The numbers behind the line."""
    return {factor.name: float(np.asarray(factor.value)) for factor in strength.factors}


def _lives_at_survivals(bar: Bar, judged: Judged) -> tuple[SurvivalLife, ...]:
    """Lives at 50, 90 and 99 % survival; none where no life can be stated."""
    found, strength = judged.assessment, judged.strength
    if LifeStatus(int(found.status)) not in STATED or not np.isfinite(found.equivalent_amplitude_MPa):
        return ()
    shares = [strength.survival_factor(survival) for survival in SURVIVALS]
    lives = lives_at(strength, shares, rule=mean_stress_of(bar), **judged.stresses)
    return tuple(
        SurvivalLife(survival=survival, life=None if beyond else float(life), runout=bool(beyond))
        for survival, (life, beyond) in zip(SURVIVALS, lives, strict=True)
    )


def _exponent(bar: Bar, judged: Judged) -> float:
    """k of life against strength where the cycle lies: that of the site that decides; of the line where none is
    read.
    """
    step = 1.01
    (life, beyond), (other, _) = lives_at(
        judged.strength, (1.0, 1.0 / step), rule=mean_stress_of(bar), **judged.stresses
    )
    if beyond or not float(life) > float(other) > 0.0 or float(life) > BEND_CYCLES:
        return float(judged.strength.exponent)
    return float(np.log(life / other) / np.log(step))


def _peening_holds(bar: Bar, judged: Judged, scale: float) -> float | None:
    """Load above which peening counts for nothing at this place; None where nothing was peened."""
    if judged.residual_MPa >= 0.0:
        return None
    return peening_holds_to(
        cyclic_yield_MPa=cyclic_yield(bar.steel) * scale,
        residual_MPa=judged.residual_MPa,
        torsion_share=float(judged.strength.torsion_share),
    )


def broken_out(bar: Bar, setting: HoleSetting) -> tuple[str, ...]:
    """The holes in use that are open at the cut end, in words: with them no number makes a hole setting pass."""
    used = ((bar.right, setting.right), (bar.left, setting.left))
    return tuple(
        f'hole "{hole.name}" of the {end.side} end breaks out of the cut end ({hole.from_tip_mm:g} mm from it, '
        f"{hole.diameter_mm:g} mm in diameter): nothing holds the bolt"
        for end, number in used
        if (hole := end.holes[number]).breaks_out
    )


def verdict_of(
    bar: Bar, setting: HoleSetting, *, margin: float, fatigue: Fatigue, not_checked: tuple[str, ...]
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
    if fatigue.strain_life is not None:
        local = fatigue.strain_life.life_at_survival_cycles
        met[1] = met[1] and (local >= duty.target_cycles or not duty.target_cycles_given)
    # A margin that misses is never rounded up to its target.
    shown = margin if met[0] or round(margin, 2) < targets.yield_margin else np.floor(100.0 * margin) / 100.0
    why.append(
        f"yield margin {shown:.2f} is {'at least' if met[0] else 'below'} the target of {targets.yield_margin:g}"
        + ("" if margin >= 0.0 else ": the bar takes a set")
    )
    if not duty.target_cycles_given and (life is not None or fatigue.runout):
        why.append("")  # full articulation is shown, not judged: the blocks are
    elif fatigue.strain_life is not None and not met[1] and life is not None and life >= duty.target_cycles:
        local = fatigue.strain_life.life_at_survival_cycles
        why.append(
            f"life at {share} survival by strain-life, {local:,.0f} cycles, falls short of the target of "
            f"{duty.target_cycles:,.0f}: {yielding_words(fatigue)}"
        )
    elif life is not None:
        relation = "reaches" if met[1] else "falls short of"
        why.append(f"life at {share} survival, {life:,.0f} cycles, {relation} the target of {duty.target_cycles:,.0f}")
    elif fatigue.reason == FEELS_NOTHING:
        why.append(f"the bar {FEELS_NOTHING}")
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
        said = f"Goodman safety factor against the endurance limit {shown}, target {targets.goodman_safety_factor:.2f}"
        why.append("" if fatigue.reason == FEELS_NOTHING else said)
    if fatigue.duty is not None:
        met.append(fatigue.duty.reaches_target)
        why.append(_duty_words(fatigue.duty, share))
    for words in broken_out(bar, setting):
        met.append(False)
        why.append(words)
    passes = all(met)
    reasons = [reason for reason, good in zip(why, met, strict=True) if reason and (passes or not good)]
    return passes, (*reasons, *(f"not checked: {text}" for text in not_checked))


def _duty_words(found: DutyLife, share: str) -> str:
    target = f"the target of {found.target_repeats:,g}"
    if found.life_at_survival_repeats is not None:
        relation = "reaches" if found.reaches_target else "falls short of"
        shown = round_to(found.life_at_survival_repeats)
        return f"life at {share} survival in repeats of the blocks, {shown}, {relation} {target}"
    if found.runout_at_survival:
        return f"at {share} survival no cycle of the blocks lies above the endurance limit, which reaches {target}"
    return f"no life of the blocks can be stated: {found.reason or 'the stress is outside the method'}"


def round_to(value: float) -> str:
    """Two significant figures, rounded down, so that a number that is printed never flatters."""
    step = 10.0 ** (np.floor(np.log10(value)) - 1.0) if value > 0.0 else 1.0
    return f"{np.floor(value / step * (1.0 + 1e-12)) * step:,.12g}"


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
    than the knee (with none: the longest life that is claimed), beyond which nothing more is claimed. Where blocks are
    the target and `target_cycles` was not given, any life that can be stated will do.
    """
    targets, cycles = bar.targets, bar.duty.target_cycles
    shown = not bar.duty.target_cycles_given
    life = np.asarray(life_at_survival_cycles, float)
    claimed = np.where(np.asarray(has_knee, bool), KNEE_CYCLES, LONGEST_LIFE_CYCLES)
    beyond = np.isnan(life) & np.asarray(runout, bool) & ((cycles <= claimed) | shown)
    met = [np.asarray(yield_margin, float) >= targets.yield_margin, (life >= (0.0 if shown else cycles)) | beyond]
    if targets.goodman_safety_factor is not None:
        factor = np.asarray(goodman_safety_factor, float)
        # Without any stress there is no factor, and the margin is that of rounding: nothing is to be endured.
        unloaded = np.isnan(factor) & (np.asarray(yield_margin, float) >= UNLOADED)
        met.append((factor >= targets.goodman_safety_factor) | unloaded)
    return met
