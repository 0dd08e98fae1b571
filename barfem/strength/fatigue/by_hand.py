"""One life from one amplitude and mean, by any of the mean-stress rules: the pocket-calculator view of the module."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.material import Scatter
from barfem.strength.fatigue import mean_stress
from barfem.strength.fatigue.criteria import CRITERIA, NEEDS
from barfem.strength.fatigue.factors import survival_factor
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES, SHORTEST_LIFE_CYCLES
from barfem.strength.fatigue.strength import FatigueStrength

__all__ = ["METHODS", "HandLife", "Line", "MeanStressRule", "bare_strength", "life_by_hand", "mean_stress_rule"]

METHODS = tuple(CRITERIA)


class Line(Protocol):
    """A stress-life line: `FatigueStrength` or `BasquinStrength`."""

    def life(self, reversed_amplitude_MPa: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.bool_]]: ...

    def strength_at(self, cycles: ArrayLike) -> NDArray[np.float64]: ...


@dataclass(frozen=True)
class MeanStressRule:
    """One mean-stress rule with its strengths filled in.

    Attributes
    ----------
    equivalent
        Equivalent reversed amplitude [MPa] of (amplitude, mean); infinite where the mean reaches `limit_MPa`.
    limit_MPa, limit_name
        The strength at which the rule leaves no amplitude; None where it has none.
    """

    method: str
    formula: str
    source: str
    equivalent: Callable[[float, float], float]
    limit_MPa: float | None = None
    limit_name: str = ""


@dataclass(frozen=True)
class HandLife:
    """What one amplitude and mean come to. None where there is no number; `reason` says why."""

    mean_used_MPa: float
    equivalent_amplitude_MPa: float | None
    safety_factor: float | None
    life_cycles: float | None
    life_at_survival_cycles: float | None
    runout: bool
    runout_at_survival: bool
    reason: str


def mean_stress_rule(
    method: str,
    *,
    tensile_MPa: float | None = None,
    yield_MPa: float | None = None,
    coefficient_MPa: float | None = None,
    gamma: float | None = None,
) -> MeanStressRule:
    """The rule called `method`, given the strengths that it needs.

    Raises
    ------
    InputError
        An unknown method, or a strength that it needs is None.
    """

    criterion = CRITERIA.get(method)
    if criterion is None:
        raise InputError(
            f'there is no method "{method}".', where="--method", expected="one of " + ", ".join(CRITERIA) + "."
        )
    known = {
        "tensile_MPa": tensile_MPa,
        "yield_MPa": yield_MPa,
        "fatigue_strength_coefficient_MPa": coefficient_MPa,
        "gamma": float(mean_stress.walker_gamma(tensile_MPa)) if gamma is None and tensile_MPa is not None else gamma,
    }
    given: dict[str, float] = {}
    for need in criterion.needs:
        value, (what, option) = known[need], NEEDS[need]
        if value is None:
            also = ", or --tensile" if need == "gamma" else ""
            raise InputError(
                f"{method} needs the {what}, and none is given.",
                where="--method",
                expected=f"{option}{also} with it, or another method.",
            )
        given[need] = value
    return MeanStressRule(
        method,
        criterion.formula + (f", gamma {given['gamma']:.4g}" if "gamma" in given else ""),
        criterion.source,
        lambda a, m: float(criterion.function(amplitude_MPa=a, mean_MPa=m, **given)),
        None if criterion.limit is None else given[criterion.limit],
        "" if criterion.limit is None else NEEDS[criterion.limit][0],
    )


def bare_strength(*, tensile_MPa: float, endurance_MPa: float, fraction: float) -> FatigueStrength:
    """The handbook line from f x tensile strength at 1,000 cycles to the endurance limit at 1,000,000, as given.

    No factor is applied. The sloping line continues above its start.

    Raises
    ------
    InputError
        The line does not slope down.
    """
    start = fraction * tensile_MPa
    if endurance_MPa >= start:
        raise InputError(
            f"the endurance limit {endurance_MPa:g} MPa is not below the strength at 1,000 cycles, {fraction:g} x "
            f"{tensile_MPa:g} = {start:g} MPa.",
            where="--endurance",
            expected="a limit below it, about half the tensile strength at most.",
        )
    one = np.ones(())
    return FatigueStrength(
        # The same slope carried on to one cycle.
        tensile_MPa=one * start * start / endurance_MPa,
        at_1e3_cycles_MPa=one * start,
        at_1e6_cycles_MPa=one * endurance_MPa,
        has_knee=np.array(True),
        peening_gain=one,
        torsion_share=one,
    )


def life_by_hand(
    line: Line,
    rule: MeanStressRule,
    *,
    amplitude_MPa: float,
    mean_MPa: float,
    survival: float,
    endurance_limit_MPa: float | None,
    tensile_MPa: float | None = None,
    yield_MPa: float | None = None,
    residual_MPa: float = 0.0,
    coefficient_MPa: float | None = None,
    scatter: Scatter | None = None,
) -> HandLife:
    """Median life, life at survival and safety factor of one amplitude and mean.

    `residual_MPa` is compression that may cancel the load's mean and earns no more. `coefficient_MPa` is the start of
    a Basquin line, at which no life is left. A strength that is None is not held against the stress.
    """

    def with_residual(mean: float) -> float:
        return max(mean + residual_MPa, min(mean, 0.0))

    mean = with_residual(mean_MPa)
    peak = amplitude_MPa + abs(mean_MPa)
    equivalent = rule.equivalent(amplitude_MPa, mean)
    safety = _safety_factor(
        lambda n: rule.equivalent(n * amplitude_MPa, with_residual(n * mean_MPa)), limit=endurance_limit_MPa
    )
    reason = ""
    if yield_MPa is not None and peak > yield_MPa:
        reason = f"amplitude and mean together, {peak:.4g} MPa, are above yield ({yield_MPa:g} MPa)"
    elif tensile_MPa is not None and mean >= tensile_MPa:
        reason = f"the mean, {mean:.4g} MPa, reaches the tensile strength ({tensile_MPa:g} MPa)"
    elif not np.isfinite(equivalent):
        reason = f"the mean, {mean:.4g} MPa, reaches the {rule.limit_name} ({rule.limit_MPa:g} MPa)"
    elif tensile_MPa is not None and equivalent >= tensile_MPa:
        reason = f"the equivalent amplitude, {equivalent:.4g} MPa, reaches the tensile strength ({tensile_MPa:g} MPa)"
    elif coefficient_MPa is not None and equivalent >= coefficient_MPa:
        reason = f"the equivalent amplitude reaches the fatigue strength coefficient ({coefficient_MPa:g} MPa)"
    finite = equivalent if np.isfinite(equivalent) else None
    if reason:
        return HandLife(mean, finite, safety, None, None, False, False, "no life: " + reason)
    if equivalent == 0.0:
        return HandLife(mean, 0.0, safety, None, None, True, True, "no life: this cycle does no harm by this rule")
    (life, beyond), (survived, survived_beyond) = (
        line.life(equivalent), line.life(equivalent / survival_factor(survival, scatter))
    )  # fmt: skip
    if beyond:
        reason = "no life: at or below the endurance limit, and nothing more is claimed"
        if endurance_limit_MPa is None:
            reason = f"no life: beyond {LONGEST_LIFE_CYCLES:,.0f} cycles, where nothing is claimed"
    elif life < SHORTEST_LIFE_CYCLES:
        reason = "below 1,000 cycles plastic strain decides: an orientation only"
    elif life > LONGEST_LIFE_CYCLES:
        reason = f"beyond {LONGEST_LIFE_CYCLES:,.0f} cycles no test went: a number of the line, not a claim"
    return HandLife(
        mean_used_MPa=mean,
        equivalent_amplitude_MPa=finite,
        safety_factor=safety,
        life_cycles=None if beyond else float(life),
        life_at_survival_cycles=None if survived_beyond else float(survived),
        runout=bool(beyond),
        runout_at_survival=bool(survived_beyond),
        reason=reason,
    )


def _safety_factor(equivalent: Callable[[float], float], *, limit: float | None) -> float | None:
    """Load factor n at which the equivalent amplitude of n times the load is the endurance limit.

    By bisection, for every rule alike; None without a limit, or where no factor reaches it.
    """
    if not limit:
        return None
    low, high = 1e-9, 1e9
    if equivalent(high) <= limit or equivalent(low) > limit:
        return None
    while high - low > 1e-13 * high:
        middle = (low * high) ** 0.5
        if middle in (low, high):
            break
        low, high = (middle, high) if equivalent(middle) <= limit else (low, middle)
    return low
