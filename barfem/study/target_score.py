"""How far hole settings are from their targets: where along a way to look next."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from barfem.check.endurance import safety_factors
from barfem.check.hole_names import pair_name
from barfem.check.solved import Solved
from barfem.strength.fatigue.factors import strength_share
from barfem.study.evaluation import Evaluation

__all__ = ["score_of", "scores_of"]

_HAIR = 1e-9
_NEAR = 1e-3  # what a hint of where to look may be off


def score_of(each: Evaluation, j: int, eased: Mapping[str, float]) -> float:
    """How far hole setting `j` is from its targets: above zero it passes, zero or less it fails.

    Logarithm of the share by which the load could rise, as far as yield and life tell; a hint, but for its sign. Of the
    median bar that is the least safety factor of all places; `eased` is what those at survival have of it, by hole.
    """
    ratio = _to_yield(each, j)
    if each.bar.duty.target_cycles_given and each.places is not None:
        factors = each.places.safety_factor_at_target[j]
        share = eased.get(pair_name(each.left[j], each.right[j]))
        share = strength_share(each.bar.targets.survival, each.bar.steel.scatter) if share is None else share
        ratio = min(ratio, share * np.min(factors, initial=np.inf, where=np.isfinite(factors)))
    return _signed(each, j, ratio)


def scores_of(drawn: Evaluation, solved: Solved | None) -> tuple[list[float], dict[str, float]]:
    """`score_of` each hole setting of the drawn bar, and where it is solved what bars at survival have of the median's
    safety factor: as the load grows peening goes, and another place may come to be the worst.
    """
    bar, eased = drawn.bar, {}
    if solved is not None and bar.duty.target_cycles_given:
        found = solved.recovery
        at = np.nonzero(np.broadcast_to(found.checked, found.peak_MPa.shape))
        factors = np.full((2, *found.peak_MPa.shape), np.inf)
        for number, survival in enumerate((0.5, bar.targets.survival)):
            factors[number][at] = safety_factors(bar, found.cycle_at(at), within=_NEAR, survival=survival)
        for left, right, (median, weaker) in zip(drawn.left, drawn.right, factors.min(axis=2).T, strict=True):
            eased[pair_name(left, right)] = weaker / median if np.isfinite(median) else 1.0
    return [score_of(drawn, j, eased) for j in range(len(drawn.settings))], eased


def _to_yield(each: Evaluation, j: int) -> float:
    """By what the load could grow until the yield margin is the target."""
    return (1.0 + float(each.yield_margin[j])) / (1.0 + each.bar.targets.yield_margin)


def _signed(each: Evaluation, j: int, ratio: float) -> float:
    """The logarithm of a ratio, of the sign that says whether the hole setting passes."""
    score = -math.inf if math.isnan(ratio) else math.log(max(ratio, 1e-6))
    return max(score, _HAIR) if each.passes[j] else min(score, -_HAIR)
