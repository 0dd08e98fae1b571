"""From one cycle's stresses to safety factors and lives, and why a life may be missing.

Goodman for sound steel unless another rule is asked for, a flaw's own mean-stress term for flaws (`sites`). The load's
mean counts as zero or more; residual stress is added with its own sign. Nothing is claimed above yield, at a mean that
reaches the tensile strength, or beyond the knee: there the life is NaN, and `status` and `reason` say why.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.model.grouped import grouped
from barfem.strength.fatigue.cycle_load import LARGEST_FACTOR, Load, load_factor, loaded
from barfem.strength.fatigue.goodman import endurance_limit_of, goodman_factor
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.root import rising_root
from barfem.strength.fatigue.sites import ROUNDING
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES, SHORTEST_LIFE_CYCLES
from barfem.strength.fatigue.strength import FatigueStrength

__all__ = [
    "ENDLESS_RANK",
    "STATUS_REASONS",
    "FatigueAssessment",
    "LifeAssessment",
    "LifeStatus",
    "amplitude_lasting",
    "assess",
    "assess_lives",
    "equivalent_and_factor",
    "life_rank",
    "lives_at",
    "use_of",
]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

GOODMAN = MeanStress()
_LN_10 = float(np.log(10.0))

ENDLESS_RANK = (1e6 / LONGEST_LIFE_CYCLES) ** 0.1
"""`life_rank` of what does not break within what is claimed is below this."""


class LifeStatus(IntEnum):
    """Whether the median life at a place stands, and if not, why not."""

    STANDS = 0
    BEYOND_KNEE = 1
    BELOW_1000_CYCLES = 2
    AMPLITUDE_AT_TENSILE = 3
    MEAN_AT_TENSILE = 4
    ABOVE_YIELD = 5
    MEAN_AT_LIMIT = 6


STATUS_REASONS: dict[LifeStatus, str] = {
    LifeStatus.STANDS: "",
    LifeStatus.BEYOND_KNEE: f"over {grouped(LONGEST_LIFE_CYCLES)} cycles: nothing more is claimed",
    LifeStatus.BELOW_1000_CYCLES: "below 1 000 cycles plastic strain decides: the life is an orientation only",
    LifeStatus.AMPLITUDE_AT_TENSILE: "the equivalent amplitude reaches the tensile strength: no life",
    LifeStatus.MEAN_AT_TENSILE: "the mean stress reaches the tensile strength: no life",
    LifeStatus.MEAN_AT_LIMIT: "the mean stress reaches the strength at which the mean-stress rule ends: no life",
    LifeStatus.ABOVE_YIELD: "the von Mises stress is above yield: the stress-life method does not hold",
}


@frozen(kw_only=True)
class LifeAssessment:
    """Lives of one cycle, one row a place; all arrays are of one shape. NaN stands only where a mask or `status` says
    why.

    Attributes
    ----------
    life_cycles, life_at_survival_cycles
        Median life, and the life that the stated share of bars survives. NaN where `runout` (`runout_at_survival`)
        or where `status` allows no life.
    runout, runout_at_survival
        Beyond the knee: no life is claimed, and none is short. A bar may run out at the median and not at survival.
    status
        A `LifeStatus` for the median life.
    """

    life_cycles: Array
    life_at_survival_cycles: Array
    runout: Bools
    runout_at_survival: Bools
    status: NDArray[np.int8]
    has_knee: Bools

    def reason(self, index: int | tuple[int, ...] = ()) -> str:
        """Why the life at place `index` is missing or only an orientation; empty if it stands."""
        status = LifeStatus(int(self.status[index]))
        if status is LifeStatus.BEYOND_KNEE and not self.has_knee[index]:
            return f"over {grouped(LONGEST_LIFE_CYCLES)} cycles, where nothing is claimed; there is no endurance limit"
        return STATUS_REASONS[status]


@frozen(kw_only=True)
class FatigueAssessment(LifeAssessment):
    """With what stands behind the lives, and by how much the load may grow.

    Attributes
    ----------
    equivalent_amplitude_MPa
        Reversed amplitude of the same harm by the mean-stress rule; NaN where the mean leaves none.
    mean_used_MPa
        Load mean and surviving residual stress together, zero at least.
    residual_left_MPa
        What the load leaves of the residual stress at the skin, tension positive.
    endurance_limit_MPa
        Reversed amplitude that lasts a million cycles, what peening earns included; zero where pits grow.
    goodman_safety_factor
        By how much amplitude and load mean may grow together until that limit by Goodman's rule (residual stress does
        not grow with load); NaN where there is no endurance limit or no load.
    safety_factor_at_target
        The same against the median strength at the target cycles, by the rule asked for; NaN where there is no load.
    target_share_at_survival
        Strength at the target cycles over the equivalent amplitude, for bars of the stated survival: 1 where their life
        is the target, as `life_at_survival_cycles` says it, and smooth where that goes on without end.
    peening_lost
        Where the load alone yields cyclically, so that nothing is left of peening's residual stress.
    """

    equivalent_amplitude_MPa: Array
    mean_used_MPa: Array
    residual_left_MPa: Array
    endurance_limit_MPa: Array
    goodman_safety_factor: Array
    safety_factor_at_target: Array
    target_share_at_survival: Array
    peening_lost: Bools

    def at(self, places: Any) -> FatigueAssessment:
        """The assessments of some of the places."""
        return FatigueAssessment(**{name: np.asarray(values[places]) for name, values in vars(self).items()})


def _harms(load: Load, rule: MeanStress, strength_shares: Sequence[float]) -> Array:
    """Equivalent amplitudes [MPa] for bars with shares (t,) of the median strength: (t, ...)."""
    shares = np.reshape(strength_shares, (-1, *[1] * load.amplitude.ndim))
    return load.harm(rule, strength_share=shares)


@frozen
class _Felt:
    """What bars feel of a load: harms [MPa] of the median and of those at survival, and where the mean leaves none."""

    residual: Array
    mean_used: Array
    equivalent: Array
    weaker: Array
    mean_too_high: Bools
    mean_at_limit: Bools

    @staticmethod
    def of(load: Load, survival: float, rule: MeanStress) -> _Felt:
        residual = load.residual()
        mean_used = np.maximum(load.mean + residual, np.minimum(load.mean, 0.0))
        equivalent, weaker = _harms(load, rule, [1.0, load.strength.survival_factor(survival)])
        return _Felt(residual, mean_used, equivalent, weaker, mean_used >= load.tensile, ~np.isfinite(equivalent))

    def lives(self, load: Load) -> dict[str, Any]:
        """The fields of a `LifeAssessment`."""
        strength, hopeless = load.strength, self.mean_too_high | self.mean_at_limit
        finite = np.where(hopeless, 0.0, self.equivalent)
        life, runout = strength.life(finite)
        at_survival, runout_at_survival = strength.life(np.where(hopeless, 0.0, self.weaker))
        above_yield = load.peak > load.yield_
        above_tensile = finite >= strength.tensile_MPa * (1.0 - ROUNDING)
        no_life = above_yield | hopeless | above_tensile
        status = np.select(
            [above_yield, self.mean_too_high, self.mean_at_limit, above_tensile, runout, life < SHORTEST_LIFE_CYCLES],
            [
                LifeStatus.ABOVE_YIELD,
                LifeStatus.MEAN_AT_TENSILE,
                LifeStatus.MEAN_AT_LIMIT,
                LifeStatus.AMPLITUDE_AT_TENSILE,
                LifeStatus.BEYOND_KNEE,
                LifeStatus.BELOW_1000_CYCLES,
            ],
            default=LifeStatus.STANDS,
        ).astype(np.int8)
        runout, runout_at_survival = runout & ~no_life, runout_at_survival & ~no_life
        return {
            "life_cycles": np.where(no_life | runout, np.nan, life),
            "life_at_survival_cycles": np.where(no_life | runout_at_survival, np.nan, np.maximum(at_survival, 0.0)),
            "runout": runout,
            "runout_at_survival": runout_at_survival,
            "status": status,
            "has_knee": np.broadcast_to(strength.has_knee, runout.shape),
        }


def assess_lives(
    strength: FatigueStrength, *, survival: float, rule: MeanStress = GOODMAN, **stresses: Any
) -> LifeAssessment:
    """Lives alone, in half the time; stresses as `assess`."""
    load = loaded(strength, **stresses)
    return LifeAssessment(**_Felt.of(load, survival, rule).lives(load))


def assess(
    strength: FatigueStrength,
    *,
    amplitude_MPa: ArrayLike,
    mean_MPa: ArrayLike,
    residual_MPa: ArrayLike = 0.0,
    max_von_mises_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    target_cycles: float,
    survival: float,
    cyclic_yield_MPa: ArrayLike | None = None,
    rule: MeanStress = GOODMAN,
    signed_mean: bool = False,
) -> FatigueAssessment:
    """Safety factors and lives of one cycle at every place. Arguments broadcast with the strength's shape.

    Parameters
    ----------
    amplitude_MPa, mean_MPa
        Von Mises amplitude and mean of the cycle, concentration included; the mean is taken positive.
    residual_MPa
        Residual stress at the surface, tension positive (`surface_residual`).
    max_von_mises_MPa
        Greatest von Mises stress of the cycle, concentration excluded: it is held against yield.
    yield_MPa, tensile_MPa
        Local strengths, strength scale included.
    cyclic_yield_MPa
        Limit for peening; by default estimated from `tensile_MPa`, and never above `yield_MPa`.
    rule
        Mean-stress rule.
    signed_mean
        Take the mean with its sign, for one stress with a sign of its own.

    Raises
    ------
    InputError
        `survival` is not between 0 and 1.
    BarfemError
        A stress is not a finite number.
    """
    load = loaded(
        strength,
        amplitude_MPa=amplitude_MPa,
        mean_MPa=mean_MPa,
        residual_MPa=residual_MPa,
        max_von_mises_MPa=max_von_mises_MPa,
        yield_MPa=yield_MPa,
        tensile_MPa=tensile_MPa,
        cyclic_yield_MPa=cyclic_yield_MPa,
        signed_mean=signed_mean,
    )
    felt = _Felt.of(load, survival, rule)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(np.isfinite(felt.weaker), strength.strength_at(target_cycles) / felt.weaker, 0.0)
    limit = endurance_limit_of(load)
    goodman = goodman_factor(limit, load, np.maximum(felt.residual, 0.0))
    return FatigueAssessment(
        **felt.lives(load),
        equivalent_amplitude_MPa=np.where(felt.mean_too_high | felt.mean_at_limit, np.nan, felt.equivalent),
        mean_used_MPa=felt.mean_used,
        residual_left_MPa=felt.residual,
        endurance_limit_MPa=np.broadcast_to(limit, load.amplitude.shape),
        goodman_safety_factor=np.where(goodman < LARGEST_FACTOR, goodman, np.nan),
        safety_factor_at_target=load_factor(strength.strength_at(target_cycles), rule, load),
        target_share_at_survival=np.where(np.isfinite(share), share, np.nan),
        peening_lost=(load.unrelaxed < 0.0) & (felt.residual == 0.0),
    )


def life_rank(load: Load, *, target_cycles: float, survival: float, rule: MeanStress = GOODMAN) -> Array:
    """Orders many places by life at `survival`, the shorter the greater, and those beyond what is claimed by how near
    they are to the strength at the target. Zero without load, 1e9 where the mean leaves none.

    (1e6 / life)^0.1, which goes about as stress does; beyond, less than that of any life.
    """
    strength = load.strength
    log_harm = load.log_harm(rule, strength_share=strength.survival_factor(survival))
    left = log_harm < np.inf
    log_harm = np.where(left, log_harm, -np.inf)
    log_life, beyond = strength.line.log_life(log_harm / _LN_10)
    rank = np.exp((0.1 * _LN_10) * (6.0 - np.maximum(log_life, -60.0)))
    if np.any(beyond):
        inverse_share = np.exp(strength.line.log_strength(target_cycles) * _LN_10 - log_harm)
        rank = np.where(beyond, ENDLESS_RANK / (1.0 + inverse_share), rank)
    return np.where(left, rank, 1e9)


def use_of(load: Load, *, target_cycles: float, rule: MeanStress = GOODMAN) -> Callable[[Array], Array]:
    """The logarithm of the equivalent amplitude of n times the load over the median strength at the target, as a
    function of the logarithm of n: zero at the safety factor.
    """
    log_strength = load.strength.line.log_strength(target_cycles) * _LN_10
    return lambda log_n: load.log_harm(rule, np.exp(log_n)) - log_strength


def lives_at(
    strength: FatigueStrength, strength_shares: Sequence[float], *, rule: MeanStress = GOODMAN, **stresses: Any
) -> list[tuple[Array, Bools]]:
    """Life, and whether it is beyond what is claimed, of bars with shares of the median strength; stresses as
    `assess`.
    """
    load = loaded(strength, **stresses)
    return list(zip(*strength.life(_harms(load, rule, strength_shares)), strict=True))


def amplitude_lasting(
    strength: FatigueStrength,
    cycles: ArrayLike,
    *,
    mean_MPa: ArrayLike = 0.0,
    residual_MPa: ArrayLike = 0.0,
    peak_share: float = 1.0,
    yield_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    cyclic_yield_MPa: ArrayLike | None = None,
    rule: MeanStress = GOODMAN,
    share: float = 1.0,
) -> Array:
    """Amplitude [MPa] that lasts `cycles` at a load mean; zero where the mean leaves none. Arguments broadcast.

    `peak_share` is the greatest stress held against yield over mean + amplitude, `share` that of the median strength
    that the bars have.
    """
    mean = np.asarray(mean_MPa, float)
    target = strength.strength_at(cycles)
    target = np.broadcast_to(target, np.broadcast_shapes(target.shape, mean.shape, np.shape(residual_MPa)))

    def log_harm_of(log_amplitude: Array) -> Array:
        amplitude = np.exp(log_amplitude) * target
        load = loaded(
            strength,
            amplitude_MPa=amplitude,
            mean_MPa=mean,
            residual_MPa=residual_MPa,
            max_von_mises_MPa=peak_share * (amplitude + np.maximum(mean, 0.0)),
            yield_MPa=yield_MPa,
            tensile_MPa=tensile_MPa,
            cyclic_yield_MPa=cyclic_yield_MPa,
            signed_mean=True,
        )
        return load.log_harm(rule, strength_share=share)

    found = np.exp(rising_root(log_harm_of, target))
    return np.where(found > 1e-5, found * target, 0.0)


def equivalent_and_factor(
    strength: FatigueStrength,
    strength_MPa: ArrayLike,
    *,
    rule: MeanStress = GOODMAN,
    within: float = 1e-13,
    strength_share: float = 1.0,
    **stresses: Any,
) -> tuple[Array, Array]:
    """Equivalent amplitude whatever forbids a life, and the load factor at which it is `strength_MPa`; as `assess`.

    `within` is what the factor may be off, as a share. `strength_share`: of bars with that of the median strength.
    """
    load = loaded(strength, **stresses)
    factor = load_factor(np.asarray(strength_MPa, float), rule, load, within, strength_share=strength_share)
    return load.harm(rule, strength_share=strength_share), factor
