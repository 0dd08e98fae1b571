"""How far hole settings are from their targets: where along a way to look next."""

from __future__ import annotations

import math

from barfem.study.evaluation import Evaluation

__all__ = ["score_of"]

_HAIR = 1e-9
_GROWTHS = (1.0, 6.0)


def score_of(each: Evaluation, j: int) -> float:
    """How far hole setting `j` is from its targets: above zero it passes, zero or less it fails.

    Logarithm of the share by which the load could rise, as far as yield and life tell; a hint, but for its sign.
    """
    ratio = _to_yield(each, j)
    if each.bar.duty.target_cycles_given and each.load_factor_at_survival is not None:
        ratio = min(ratio, float(each.load_factor_at_survival[j]))
    return _signed(each, j, ratio)


def _to_yield(each: Evaluation, j: int) -> float:
    """By what the load could grow until the yield margin is the target."""
    return (1.0 + float(each.yield_margin[j])) / (1.0 + each.bar.targets.yield_margin)


def _signed(each: Evaluation, j: int, ratio: float) -> float:
    """The logarithm of a ratio, of the sign that says whether the hole setting passes."""
    score = -math.inf if math.isnan(ratio) else math.log(max(ratio, 1e-6))
    return max(score, _HAIR) if each.passes[j] else min(score, -_HAIR)
