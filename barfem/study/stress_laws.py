"""How stress goes along the ways, learnt from the bar as drawn: where along them to look first.

A law gives the logarithm of stress, over that of the drawn bar, of a step's `share`.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from barfem.strength.fatigue.residual import bending_leaves_tension
from barfem.study.evaluation import Evaluation
from barfem.study.target_score import score_of
from barfem.study.ways import arm_mm

__all__ = ["Law", "law_of_arm", "law_of_section", "law_of_travel"]

Law = Callable[[float], float]

POWER_OF_ARM = 1.2
"""By which power of the arm stress falls at equal travel, where the bar does not tell: 1.0 to 1.3 in bars solved. The
force falls by nearly two, and the moment that it has rises by one."""

_POWERS = (0.8, 2.0)
_OF_THE_FORCE = ("flat", "transition", "hole")


def law_of_travel(drawn: Evaluation, j: int) -> Law:
    """Of the travel of hole setting `j`: force over travel u is about k u (1 + c u^2), and stress rises about half as
    far beyond proportion, as links lean away from the arms.
    """
    rate, initial = float(drawn.rate_N_per_mm[j]), float(drawn.rate_initial_N_per_mm[j])
    more = rate / initial - 1.0 if initial > 0.0 else 0.0
    half = 0.5 * more if -0.5 < more < 0.5 else 0.0

    def law(share: float) -> float:
        grown = share * (1.0 + half * share**2) / (1.0 + half)
        return math.log(grown) if grown > 0.0 else math.nan  # a rate that falls: so far the law does not reach

    return law


def law_of_arm(drawn: Evaluation, j: int, *, of_first_hole: bool = False) -> Law:
    """Of the arm of hole setting `j`: the hole beside it tells how stress falls with a longer arm.

    `of_first_hole`: the steps' shares are those of the first hole's arm.
    """
    bar = drawn.bar
    arms = [arm_mm(bar, bar.left.holes[setting.left].station_mm) for setting in drawn.settings]
    apart = [
        (abs(math.log(arm / arms[j])), k)
        for k, arm in enumerate(arms)
        if drawn.cases[k] == drawn.cases[j] and abs(arm - arms[j]) > 1.0
    ]
    power = POWER_OF_ARM
    if apart:
        far, k = min(apart)
        found = (score_of(drawn, k) - score_of(drawn, j)) / math.copysign(far, arms[k] - arms[j])
        # Beyond, what is weakest at the one hole is not what is at the other.
        power = found if _POWERS[0] < found < _POWERS[1] else power
    if of_first_hole:
        power *= arm_mm(bar, bar.left.holes[0].station_mm) / arms[j]
    return lambda share: power * math.log(share)


def law_of_section(drawn: Evaluation, j: int) -> Law:
    """Of the section's diameter, whose share stress goes with at equal travel; no law where a tube's wall counts too.

    That is where the force decides, at a flat or a hole, and in a bend made cold, whose tension goes with the bore: a
    thin wall may pass there where a thick one of the same diameter does not.
    """
    steel, places = drawn.bar.steel, drawn.places
    if drawn.bar.section.wall_mm is None or places is None:
        return math.log
    told = [of[j] for of in (places.yield_margin, places.safety_factor_at_target)]
    weakest = [int(np.nanargmin(of)) for of in told if not np.isnan(of).all()]
    if bending_leaves_tension(steel) or any(places.names[i][0] in _OF_THE_FORCE for i in weakest):
        return lambda share: math.nan
    return math.log
