"""Whether a hole setting meets its targets, and why; and the fatigue record of its governing place."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.check.endurance import mean_stress_of, strength_and_stresses
from barfem.check.fatigue import Fatigue, SurfaceLife
from barfem.check.lives import DutyLife, SurvivalLife
from barfem.check.local_factors import local_factors
from barfem.check.local_yielding import strain_life_of, yielding_words
from barfem.check.ranking import Ranking, RegionLife, judge_each
from barfem.check.stronger_steel import gain_of_stronger_steel
from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped, two_decimals
from barfem.model.load_case import FEELS_NOTHING
from barfem.model.plain import finite
from barfem.model.skin import Skin
from barfem.solve.beam import HoleSetting
from barfem.strength.fatigue.assess import STATUS_REASONS, FatigueAssessment, LifeStatus, assess_lives
from barfem.strength.fatigue.factors import log10_life_deviation, strength_share
from barfem.strength.fatigue.residual import cyclic_yield, peening_holds_to
from barfem.strength.fatigue.sn_line import BEND_CYCLES, LONGEST_LIFE_CYCLES, SHORTEST_LIFE_CYCLES
from barfem.strength.fatigue.strength import FatigueStrength
from barfem.strength.recover import UNLOADED, Recovery

__all__ = ["broken_out", "fatigue_records", "life_beside", "targets_met", "verdict_of"]

SURVIVALS = (0.5, 0.9, 0.99)
_STEP = 1.01  # of strength, for the slope of life against it
STATED = (LifeStatus.STANDS, LifeStatus.BEYOND_KNEE, LifeStatus.BELOW_1000_CYCLES)


def _lives(found: FatigueAssessment) -> tuple[float | None, float | None, str | None]:
    """Median life, life at survival, and the reason where the median is missing."""
    return finite(found.life_cycles), finite(found.life_at_survival_cycles), found.reason() or None


def _with_surfaces(
    bar: Bar, recovery: Recovery, places: Sequence[tuple[int, int]], skins: Sequence[Skin | None]
) -> list[SurfaceLife | None]:
    """The lives of places with other skins, one each."""
    out: list[SurfaceLife | None] = [None] * len(places)
    for skin in dict.fromkeys(skins):
        if skin is None:
            continue
        members = [number for number, other in enumerate(skins) if other == skin]
        cycle = recovery.cycle_at(tuple(np.array([places[number] for number in members]).T))
        strength, stresses = strength_and_stresses(bar, skin, cycle)
        found = assess_lives(strength, **stresses, survival=bar.targets.survival, rule=mean_stress_of(bar))
        for i, number in enumerate(members):
            out[number] = SurfaceLife(
                surface=skin.title,
                life_cycles=finite(found.life_cycles[i]),
                life_at_survival_cycles=finite(found.life_at_survival_cycles[i]),
                runout=bool(found.runout[i]),
                reason=found.reason((i,)) or None,
            )
    return out


@frozen
class _Least:
    """The least of all places, and where it is; None where nothing is loaded."""

    value: float | None
    where: str | None = None
    station_mm: float | None = None


def fatigue_records(
    bar: Bar, recovery: Recovery, ranking: Ranking, words: Callable[[int, int], str]
) -> tuple[Fatigue, ...]:
    """The fatigue record of the place with the shortest life in each hole setting."""
    places = [(copy, int(order[0])) for copy, order in enumerate(ranking.order)]
    shares = [*(strength_share(survival, bar.steel.scatter) for survival in SURVIVALS), 1.0 / _STEP]
    governing = judge_each(bar, recovery, places, strength_shares=shares, known=ranking.assessment)
    better, worse = (
        _with_surfaces(bar, recovery, places, [getattr(judged.skin, how) for judged in governing])
        for how in ("better", "worse")
    )
    factor, weakest = ranking.least_factor
    gains = gain_of_stronger_steel(bar, recovery, list(enumerate(weakest.tolist())), ranking)
    goodman, goodman_region = ranking.least_goodman

    def least(value: float, copy: int, region: int, which: str) -> _Least:
        at = (copy, region)
        if not recovery.cycle_amplitude_MPa[at] > 0.0:
            return _Least(finite(value))
        sample, point = (int(getattr(recovery, f"{which}_{name}")[at]) for name in ("sample", "point"))
        return _Least(finite(value), words(sample, point), float(recovery.samples.station_mm[sample]))

    def first(copy: int, region: int, judged: int) -> str:
        """A bend is one region: the point that breaks first may lie at its other end."""
        return "first" if region != judged or ranking.first_elsewhere[copy, region] else "cycle"

    return tuple(
        _fatigue_of(
            bar,
            recovery,
            copy,
            judged,
            words,
            better=better[copy],
            worse=worse[copy],
            gain=gains[copy],
            factor=least(factor[copy], copy, int(weakest[copy]), first(copy, int(weakest[copy]), judged.region)),
            goodman=least(goodman[copy], copy, int(goodman_region[copy]), "goodman"),
        )
        for copy, judged in enumerate(governing)
    )


def _fatigue_of(
    bar: Bar,
    recovery: Recovery,
    copy: int,
    judged: RegionLife,
    words: Callable[[int, int], str],
    *,
    better: SurfaceLife | None,
    worse: SurfaceLife | None,
    gain: float | None,
    factor: _Least,
    goodman: _Least,
) -> Fatigue:
    region = judged.region
    found, strength, at = judged.assessment, judged.strength, (copy, region)
    sample, point = int(recovery.cycle_sample[at]), int(recovery.cycle_point[at])
    station = float(recovery.samples.station_mm[sample])
    life, at_survival, reason = _lives(found)
    if not recovery.peak_MPa[copy].any():
        reason = FEELS_NOTHING
    elif bool(found.runout) and at_survival is not None:
        reason = f"the median is over what is claimed; the life at {100 * bar.targets.survival:g} % survival is not"
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
        goodman_safety_factor=finite(found.goodman_safety_factor),
        safety_factor_at_target=factor.value,
        safety_factor_where=factor.where,
        safety_factor_station_mm=factor.station_mm,
        life_cycles=life,
        life_at_survival_cycles=at_survival,
        runout=bool(found.runout),
        reason=reason,
        from_middle_mm=station - bar.middle_mm,
        surface_condition=judged.skin.title,
        residual_stress_MPa=float(found.residual_left_MPa),
        endurance_limit_MPa=limit if limit > 0.0 else None,
        strength_at_target_MPa=float(strength.strength_at(bar.duty.target_cycles)),
        knee_cycles=LONGEST_LIFE_CYCLES if bool(strength.has_knee) else None,
        factors={**_factors(judged.strength), **local_factors(bar, recovery.samples, sample)},
        better_surface=better,
        worse_surface=worse,
        stronger_steel_ratio=gain,
        mean_stress_rule=bar.targets.mean_stress,
        lives=_lives_at_survivals(judged),
        log10_life_deviation=log10_life_deviation(exponent=_exponent(judged), scatter=strength.scatter),
        peening_holds_to_MPa=_peening_holds(bar, judged, float(recovery.cycle_strength_scale[at])),
        peening_lost=lost,
        strain_life=strain_life_of(bar, recovery, judged, copy),
        least_goodman_safety_factor=goodman.value,
        least_goodman_where=goodman.where,
    )


def _factors(strength: FatigueStrength) -> dict[str, float]:
    """The numbers behind the line."""
    return {factor.name: float(np.asarray(factor.value)) for factor in strength.factors}


def _lives_at_survivals(judged: RegionLife) -> tuple[SurvivalLife, ...]:
    """Lives at 50, 90 and 99 % survival; none where no life can be stated."""
    found = judged.assessment
    if LifeStatus(int(found.status)) not in STATED or not np.isfinite(found.equivalent_amplitude_MPa):
        return ()
    return tuple(
        SurvivalLife(survival=survival, life=None if beyond else life, runout=beyond)
        for survival, (life, beyond) in zip(SURVIVALS, judged.lives, strict=False)
    )


def _exponent(judged: RegionLife) -> float:
    """k of life against strength where the cycle lies; where no life is read, of bars that just last the target."""
    (life, beyond), (weaker, _) = judged.lives[0], judged.lives[-1]
    if beyond or not life > weaker > 0.0 or life > BEND_CYCLES:
        return judged.exponent
    return float(np.log(life / weaker) / np.log(_STEP))


def _peening_holds(bar: Bar, judged: RegionLife, scale: float) -> float | None:
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
    life, goodman = fatigue.life_at_survival_cycles, fatigue.least_goodman_safety_factor
    met = [
        bool(each)
        for each in targets_met(
            bar,
            yield_margin=margin,
            life_at_survival_cycles=np.nan if life is None else life,
            runout=fatigue.runout,
            goodman_safety_factor=np.nan if goodman is None else goodman,
        )
    ]
    why = []
    if fatigue.strain_life is not None:
        local = fatigue.strain_life.life_at_survival_cycles
        met[1] = met[1] and (local >= duty.target_cycles or not duty.target_cycles_given)
    why.append(
        f"yield margin {two_decimals(margin, targets.yield_margin):.2f} is {'at least' if met[0] else 'below'} "
        f"the target of {targets.yield_margin:g}" + ("" if margin >= 0.0 else ": the bar takes a set")
    )
    if not duty.target_cycles_given and (life is not None or fatigue.runout):
        why.append("")  # full articulation is shown, not judged: the blocks are
    elif fatigue.strain_life is not None and not met[1] and life is not None and life >= duty.target_cycles:
        local = fatigue.strain_life.life_at_survival_cycles
        why.append(
            f"life at {share} survival by strain-life, {life_beside(local, duty.target_cycles)}, falls short of the "
            f"target of {grouped(duty.target_cycles)}: {yielding_words(fatigue)}"
        )
    elif life is not None:
        relation = "reaches" if met[1] else "falls short of"
        why.append(
            f"life at {share} survival, {life_beside(life, duty.target_cycles)}, {relation} the target of "
            f"{grouped(duty.target_cycles)}"
        )
    elif fatigue.reason == FEELS_NOTHING:
        why.append(f"the bar {FEELS_NOTHING}")
    elif fatigue.runout:
        relation = "reaches" if met[1] else "does not show (nothing more is claimed)"
        why.append(
            f"life at {share} survival is over {grouped(LONGEST_LIFE_CYCLES)} cycles, which {relation} the target of "
            f"{grouped(duty.target_cycles)}"
        )
    else:
        why.append(f"no life can be stated: {fatigue.reason or 'the stress is outside the method'}")
    if targets.goodman_safety_factor is not None:
        asked = targets.goodman_safety_factor
        factor = "none (no endurance limit)" if goodman is None else f"{two_decimals(goodman, asked):.2f}"
        shortfall = f"Goodman safety factor against the endurance limit {factor}, target {asked:g}" + (
            "" if fatigue.least_goodman_where in (None, fatigue.where) else f" ({fatigue.least_goodman_where})"
        )
        why.append("" if fatigue.reason == FEELS_NOTHING else shortfall)
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
    target = f"the target of {grouped(found.target_repeats)}"
    if found.life_at_survival_repeats is not None:
        relation = "reaches" if found.reaches_target else "falls short of"
        shown = round_to(found.life_at_survival_repeats)
        return f"life at {share} survival in repeats of the blocks, {shown}, {relation} {target}"
    if found.runout_at_survival:
        shown = (
            f"which reaches {target}"
            if found.reaches_target
            else f"which is shown for no more than {round_to(found.runout_repeats or 0.0)} repeats, below {target}"
        )
        return f"at {share} survival no cycle of the blocks lies above the endurance limit, {shown}"
    return f"no life of the blocks can be stated: {found.reason or 'the stress is outside the method'}"


def life_beside(life: float, target: float) -> str:
    """Two figures of a life, or all of them where those would stand on the other side of the target, with its unit."""
    if life < 1.0:
        return "less than one cycle"
    shown = round_to(life)
    return f"{shown if (float(shown.replace(' ', '')) >= target) == (life >= target) else grouped(life)} cycles"


def round_to(value: float) -> str:
    """Two significant figures, rounded down, so that a number that is printed never flatters."""
    step = 10.0 ** (np.floor(np.log10(value)) - 1.0) if value > 0.0 else 1.0
    return f"{grouped(np.floor(value / step * (1.0 + 1e-12)) * step)}"


def targets_met(
    bar: Bar,
    *,
    yield_margin: ArrayLike,
    life_at_survival_cycles: ArrayLike,
    runout: ArrayLike,
    goodman_safety_factor: ArrayLike,
) -> list[NDArray[np.bool_]]:
    """Which targets are met: yield margin, life and, where the bar file sets one, Goodman safety factor.

    Arguments broadcast. A life or factor that there is none of is NaN; then a runout reaches the target no farther
    than the longest life that is claimed, save of a bar that feels nothing. Where blocks are the target and
    `target_cycles` was not given, any life that can be stated will do.
    """
    targets, cycles = bar.targets, bar.duty.target_cycles
    shown = not bar.duty.target_cycles_given
    life = np.asarray(life_at_survival_cycles, float)
    margin = np.asarray(yield_margin, float)
    # Without any stress there is no factor, and the margin is that of rounding: nothing is to be endured.
    unloaded = margin >= UNLOADED
    beyond = np.isnan(life) & np.asarray(runout, bool) & ((cycles <= LONGEST_LIFE_CYCLES) | shown | unloaded)
    met = [margin >= targets.yield_margin, (life >= (0.0 if shown else cycles)) | beyond]
    if targets.goodman_safety_factor is not None:
        factor = np.asarray(goodman_safety_factor, float)
        met.append((factor >= targets.goodman_safety_factor) | (np.isnan(factor) & unloaded))
    return met
