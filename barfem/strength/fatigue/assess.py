"""From one cycle's stresses to safety factors and lives, and why a life may be missing.

Goodman unless another rule is asked for. The load's mean counts as zero or more; a residual stress is added with its
own sign, and a negative sum counts as zero. Nothing is claimed above yield, at a mean that reaches the tensile
strength, or beyond the knee: there the life is NaN, and `status` and `reason` say why.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import cyclic_yield_estimate, peak_with_residual, surviving_tension
from barfem.strength.fatigue.sn_line import KNEE_CYCLES, LONGEST_LIFE_CYCLES, SHORTEST_LIFE_CYCLES
from barfem.strength.fatigue.strength import FatigueStrength

__all__ = ["STATUS_REASONS", "FatigueAssessment", "LifeStatus", "assess", "safety_factor_at"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

GOODMAN = MeanStress()


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
    LifeStatus.BEYOND_KNEE: f"beyond {KNEE_CYCLES:,.0f} cycles: below the endurance limit, and nothing more is claimed",
    LifeStatus.BELOW_1000_CYCLES: "below 1,000 cycles plastic strain decides: the life is an orientation only",
    LifeStatus.AMPLITUDE_AT_TENSILE: "the equivalent amplitude reaches the tensile strength: no life",
    LifeStatus.MEAN_AT_TENSILE: "the mean stress reaches the tensile strength: no life",
    LifeStatus.MEAN_AT_LIMIT: "the mean stress reaches the strength at which the mean-stress rule ends: no life",
    LifeStatus.ABOVE_YIELD: "the von Mises stress is above yield: the stress-life method does not hold",
}


@dataclass(frozen=True)
class FatigueAssessment:
    """One row a place; all arrays are of one shape. NaN stands only where a mask or `status` says why.

    Attributes
    ----------
    equivalent_amplitude_MPa
        Reversed amplitude of the same harm by the mean-stress rule; NaN where the mean leaves none.
    mean_used_MPa
        Load mean and surviving residual stress together, zero at least.
    goodman_safety_factor
        By how much amplitude and load mean may grow together until the endurance limit by Goodman's rule (residual
        stress does not grow with load); NaN where there is no endurance limit or no load.
    safety_factor_at_target
        The same against the median strength at the target cycles, by the rule asked for; NaN where there is no load.
    life_cycles, life_at_survival_cycles
        Median life, and the life that the stated share of bars survives. NaN where `runout` (`runout_at_survival`)
        or where `status` allows no life.
    runout, runout_at_survival
        Beyond the knee: no life is claimed, and none is short. A bar may run out at the median and not at survival.
    peening_lost
        Where peening earns nothing, because peak and residual stress exceed the cyclic yield strength.
    status
        A `LifeStatus` for the median life.
    """

    equivalent_amplitude_MPa: Array
    mean_used_MPa: Array
    goodman_safety_factor: Array
    safety_factor_at_target: Array
    life_cycles: Array
    life_at_survival_cycles: Array
    runout: Bools
    runout_at_survival: Bools
    peening_lost: Bools
    status: NDArray[np.int8]
    has_knee: Bools

    def reason(self, index: int | tuple[int, ...] = ()) -> str:
        """Why the life at place `index` is missing or only an orientation; empty if it stands."""
        status = LifeStatus(int(self.status[index]))
        if status is LifeStatus.BEYOND_KNEE and not self.has_knee[index]:
            return f"beyond {LONGEST_LIFE_CYCLES:,.0f} cycles, where nothing is claimed; there is no endurance limit"
        return STATUS_REASONS[status]


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

    Raises
    ------
    InputError
        `survival` is not between 0 and 1.
    BarfemError
        A stress is not a finite number.
    """
    strength, load, peak, yield_, lost = _loaded(
        strength,
        amplitude_MPa=amplitude_MPa,
        mean_MPa=mean_MPa,
        residual_MPa=residual_MPa,
        max_von_mises_MPa=max_von_mises_MPa,
        yield_MPa=yield_MPa,
        tensile_MPa=tensile_MPa,
        cyclic_yield_MPa=cyclic_yield_MPa,
    )
    amplitude, mean, residual, tensile = (load[key] for key in ("amplitude", "mean", "residual", "tensile"))
    mean_used = np.maximum(mean + residual, 0.0)
    mean_too_high = mean_used >= tensile
    equivalent = rule.equivalent(amplitude_MPa=amplitude, mean_MPa=mean_used, tensile_MPa=tensile, yield_MPa=yield_)
    mean_at_limit = ~np.isfinite(equivalent)
    finite = np.where(mean_too_high | mean_at_limit, 0.0, equivalent)
    life, runout = strength.life(finite)
    at_survival, runout_at_survival = strength.life(finite / strength.survival_factor(survival))
    above_yield = peak > yield_
    above_tensile = finite >= strength.tensile_MPa
    no_life = above_yield | mean_too_high | mean_at_limit | above_tensile
    status = np.select(
        [above_yield, mean_too_high, mean_at_limit, above_tensile, runout, life < SHORTEST_LIFE_CYCLES],
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
    return FatigueAssessment(
        equivalent_amplitude_MPa=np.where(mean_too_high | mean_at_limit, np.nan, equivalent),
        mean_used_MPa=mean_used,
        goodman_safety_factor=_safety_factor(strength.endurance_limit_MPa, **load),
        safety_factor_at_target=_by_rule(strength.strength_at(target_cycles), rule, yield_, load),
        life_cycles=np.where(no_life | runout, np.nan, life),
        life_at_survival_cycles=np.where(no_life | runout_at_survival, np.nan, np.maximum(at_survival, 0.0)),
        runout=runout,
        runout_at_survival=runout_at_survival,
        peening_lost=lost,
        status=status,
        has_knee=np.broadcast_to(strength.has_knee, runout.shape),
    )


def safety_factor_at(
    strength: FatigueStrength,
    *,
    cycles: float,
    amplitude_MPa: ArrayLike,
    mean_MPa: ArrayLike,
    residual_MPa: ArrayLike = 0.0,
    max_von_mises_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    cyclic_yield_MPa: ArrayLike | None = None,
    rule: MeanStress = GOODMAN,
) -> Array:
    """The `safety_factor_at_target` of `assess` alone, where there are many places to rank; arguments as there.

    Raises
    ------
    BarfemError
        A stress is not a finite number.
    """
    strength, load, _, yield_, _ = _loaded(
        strength,
        amplitude_MPa=amplitude_MPa,
        mean_MPa=mean_MPa,
        residual_MPa=residual_MPa,
        max_von_mises_MPa=max_von_mises_MPa,
        yield_MPa=yield_MPa,
        tensile_MPa=tensile_MPa,
        cyclic_yield_MPa=cyclic_yield_MPa,
    )
    return _by_rule(strength.strength_at(cycles), rule, yield_, load)


def _loaded(
    strength: FatigueStrength,
    *,
    amplitude_MPa: ArrayLike,
    mean_MPa: ArrayLike,
    residual_MPa: ArrayLike,
    max_von_mises_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    cyclic_yield_MPa: ArrayLike | None,
) -> tuple[FatigueStrength, dict[str, Array], Array, Array, Bools]:
    """Strength and load with the residual stress that survives the load; peak, yield, and where peening is lost."""
    shape = strength.at_1e6_cycles_MPa.shape
    given = [amplitude_MPa, mean_MPa, residual_MPa, max_von_mises_MPa, yield_MPa, tensile_MPa]
    amplitude, mean, residual, peak, yield_, tensile, _ = np.broadcast_arrays(
        *(np.asarray(stress, float) for stress in given), np.empty(shape)
    )
    for name, stress in (("amplitude", amplitude), ("mean", mean), ("residual stress", residual), ("peak", peak)):
        if not np.all(np.isfinite(stress)):
            raise BarfemError(f"fatigue: the {name} is not a finite number at {np.sum(~np.isfinite(stress))} places")
    amplitude, mean = np.abs(amplitude), np.abs(mean)
    cyclic = np.minimum(yield_, cyclic_yield_estimate(tensile) if cyclic_yield_MPa is None else cyclic_yield_MPa)

    compression = np.minimum(residual, 0.0)
    peened = (compression < 0.0) | (strength.peening_gain > 1.0)
    lost = np.zeros(shape, bool)
    if peened.any():
        worst = peak_with_residual(
            max_von_mises_MPa=peak, residual_MPa=compression, torsion_share=strength.torsion_share
        )
        lost = peened & (worst > cyclic)
        strength = strength.without_peening(lost)
    tension = surviving_tension(residual_MPa=residual, max_von_mises_MPa=peak, yield_MPa=yield_)
    residual = np.where(residual > 0.0, tension, np.where(lost, 0.0, compression))
    load = {"amplitude": amplitude, "mean": mean, "residual": residual, "tensile": tensile}
    return strength, load, peak, yield_, lost


def _by_rule(strength: Array, rule: MeanStress, yield_: Array, load: dict[str, Array]) -> Array:
    """Load factor against `strength` by `rule`: Goodman's in closed form, others by bisection; NaN without load."""
    if rule.method == "goodman":
        return _safety_factor(strength, **load)
    amplitude, mean, residual, tensile = (load[key] for key in ("amplitude", "mean", "residual", "tensile"))
    usable = (strength > 0.0) & (amplitude + mean > 0.0)

    def holds(n: Array) -> Bools:
        equivalent = rule.equivalent(
            amplitude_MPa=n * amplitude,
            mean_MPa=np.maximum(n * mean + residual, 0.0),
            tensile_MPa=tensile,
            yield_MPa=yield_,
        )
        return np.asarray(equivalent <= strength)

    low, high = np.full(amplitude.shape, -6.0), np.full(amplitude.shape, 6.0)
    for _ in range(48):
        middle = 0.5 * (low + high)
        good = holds(10.0**middle)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return np.where(usable & (low < 5.9), 10.0**low, np.nan)


def _safety_factor(strength: Array, *, amplitude: Array, mean: Array, residual: Array, tensile: Array) -> Array:
    """Load factor n at which n sigma_a / S + max(0, n sigma_m + residual) / Sut = 1; NaN without strength or load.

    Without residual stress this is Goodman's 1 / (sigma_a / S + sigma_m / Sut), Shigley Eq. 6-46.
    """
    usable = strength > 0.0
    amplitude_share = amplitude / np.where(usable, strength, 1.0)
    both = amplitude_share + mean / tensile
    usable = usable & (both > 0.0)
    with_mean = np.maximum(1.0 - residual / tensile, 0.0) / np.where(both > 0.0, both, 1.0)
    # A compressive sum counts as zero, so that the amplitude alone limits.
    alone = np.where(amplitude_share > 0.0, 1.0 / np.where(amplitude_share > 0.0, amplitude_share, 1.0), np.inf)
    return np.where(usable, np.minimum(with_mean, alone), np.nan)
