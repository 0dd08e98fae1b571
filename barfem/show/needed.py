"""The safety factor that the survival judged asks for, in agreement with the verdict.

The safety factor grows the load until the median bar fails; the verdict takes a weaker bar at the load as it is.
Without residual stress both come to one number, one over the strength share at survival. With peening they part: a
greater load takes peening away, so that a bar whose weaker brothers last may have a smaller factor than that number.
"""

from __future__ import annotations

import math

from barfem.check.result import CheckResult

__all__ = ["needed_factor", "needed_words"]


def needed_factor(result: CheckResult, strength_share: float) -> float:
    """One over `strength_share`, but at most what a hole setting has whose life suffices, and above one's that fails.

    Rounded to the two decimals that are printed, towards the side of the hole settings that it must agree with.
    """
    needed = 1.0 / strength_share
    if not result.target_cycles_judged:
        return needed
    lasts: list[float] = []
    breaks: list[float] = []
    for row in result.settings:
        fatigue = row.fatigue
        if fatigue.safety_factor_at_target is None:
            continue
        life = fatigue.life_at_survival_cycles
        enough = fatigue.runout if life is None else life >= result.target_cycles
        (lasts if enough else breaks).append(fatigue.safety_factor_at_target)
    if lasts and min(lasts) < needed:
        needed = math.floor(100.0 * min(lasts)) / 100.0
    elif breaks and max(breaks) >= needed:
        needed = math.ceil(100.0 * max(breaks) + 1e-9) / 100.0
    return needed


def needed_words(result: CheckResult, strength_share: float) -> str:
    """ "90 % survival needs 1.16"; where peening makes it less at these hole settings, that it does."""
    needed, usual = needed_factor(result, strength_share), 1.0 / strength_share
    least = " at most here (less where a greater load would take peening away)" if needed < usual else ""
    return f"{100 * result.survival:g} % survival needs {needed:.2f}{least}"
