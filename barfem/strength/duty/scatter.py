"""Life as a distribution, and the test that shows a target.

Lives are lognormal (normal in log10 life), or Weibull for planning tests. What a scatter of strength makes of life is
`fatigue.factors.log10_life_deviation`. Zero-failure tests by the success run: if at
most a share R of bars survived the test, n bars would all pass with probability R^n; n is enough when R^n <= 1 - C
(Lipson and Sheth, Statistical Design and Analysis of Engineering Experiments, 1973; from memory). Tested to L times the
target, a Weibull shape b turns R at the target into R^(L^b) at the end of the test (Weibayes: Abernethy, The New
Weibull Handbook; from memory); for a lognormal life it is Phi(z_R - log10 L / s).
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped

__all__ = [
    "LifeScatter",
    "bars_to_test",
    "chance_to_pass",
    "failed_mean_ratio",
    "required_life_ratio",
    "weibull_shape",
]

Array = NDArray[np.float64]

_NORMAL = NormalDist()
_MOST_BARS = 1_000_000


def weibull_shape(log10_life_deviation: float) -> float:
    """Weibull shape with the same standard deviation of log life: pi / (6^0.5 ln(10) s)."""
    _deviation(log10_life_deviation)
    return math.pi / (math.sqrt(6.0) * math.log(10.0) * log10_life_deviation)


@frozen
class LifeScatter:
    """How lives scatter about the median: exactly one of a Weibull shape and a standard deviation of log10 life.

    Raises
    ------
    InputError
        Not exactly one, or one that is not positive.
    """

    weibull_shape: float | None = None
    log10_life_deviation: float | None = None

    def __post_init__(self) -> None:
        if (self.weibull_shape is None) == (self.log10_life_deviation is None):
            raise InputError(
                "a test needs the scatter of life.",
                expected="either a Weibull shape (such as 2) or a standard deviation of log10 life (such as 0.2).",
            )
        if self.log10_life_deviation is not None:
            _deviation(self.log10_life_deviation)
        elif self.weibull_shape is not None and not (math.isfinite(self.weibull_shape) and self.weibull_shape > 0.0):
            raise InputError(
                f"a Weibull shape of {self.weibull_shape} is not possible.", expected="above 0, such as 2."
            )

    def reliability_later(self, reliability: float, *, life_ratio: float) -> float:
        """Share that survives `life_ratio` times a life which a share `reliability` survives."""
        if self.weibull_shape is not None:
            return float(reliability ** (life_ratio**self.weibull_shape))
        deviation = float(self.log10_life_deviation or 0.0)
        return _NORMAL.cdf(_NORMAL.inv_cdf(reliability) - math.log10(life_ratio) / deviation)

    def ratio_for(self, reliability: float, later: float) -> float:
        """Life ratio at which a share `reliability` at the target has fallen to `later`."""
        if self.weibull_shape is not None:
            return float((math.log(later) / math.log(reliability)) ** (1.0 / self.weibull_shape))
        deviation = float(self.log10_life_deviation or 0.0)
        return float(10.0 ** ((_NORMAL.inv_cdf(reliability) - _NORMAL.inv_cdf(later)) * deviation))


def bars_to_test(
    *, reliability: float, confidence: float, life_ratio: float = 1.0, scatter: LifeScatter | None = None
) -> int:
    """How many bars must all last `life_ratio` x the target, to show that a share `reliability` reaches the target.

    n = ln(1 - confidence) / ln R(test), rounded up. Without a longer (or shorter) test no scatter enters.

    Raises
    ------
    InputError
        Shares that are none, a ratio other than 1 without scatter, or a test too short to show anything.
    """
    _share(reliability, "reliability")
    _share(confidence, "confidence")
    at_end = _at_end(reliability, life_ratio, scatter)
    need = math.log(1.0 - confidence) / math.log(at_end) if 0.0 < at_end < 1.0 else (1.0 if at_end <= 0.0 else math.inf)
    if need > _MOST_BARS:
        raise InputError(
            f"a test to {life_ratio:g} times the target shows nothing: more than {grouped(_MOST_BARS)} bars would be "
            "needed.",
            expected="a longer test.",
        )
    # A need that is whole but for rounding does not ask for one bar more.
    return max(1, math.ceil(need - 1e-9))


def required_life_ratio(*, bars: int, reliability: float, confidence: float, scatter: LifeScatter) -> float:
    """How many times the target each of `bars` must last without failure to show the same.

    Raises
    ------
    InputError
        Shares that are none, or no bar.
    """
    _share(reliability, "reliability")
    _share(confidence, "confidence")
    _bars(bars)
    return scatter.ratio_for(reliability, (1.0 - confidence) ** (1.0 / bars))


def failed_mean_ratio(*, bars: int, reliability: float, confidence: float, scatter: LifeScatter) -> float:
    """How many times the target the mean life of `bars` that all were run to failure must be, to show the same.

    The mean is the geometric one for a lognormal life, (mean of life^b)^(1/b) for a Weibull shape b. The scatter is
    taken as known.

    Raises
    ------
    InputError
        Shares that are none, or no bar.
    """
    _share(reliability, "reliability")
    _share(confidence, "confidence")
    _bars(bars)
    if scatter.weibull_shape is not None:
        from scipy.stats import chi2

        mean_power = float(chi2.ppf(confidence, 2 * bars)) / (2.0 * bars)
        return float((mean_power / -math.log(reliability)) ** (1.0 / scatter.weibull_shape))
    deviations = _NORMAL.inv_cdf(reliability) + _NORMAL.inv_cdf(confidence) / math.sqrt(bars)
    return float(10.0 ** (deviations * float(scatter.log10_life_deviation or 0.0)))


def chance_to_pass(*, bars: int, median_over_target: float, life_ratio: float, scatter: LifeScatter) -> float:
    """Probability that all `bars` last `life_ratio` x the target, if the median life is `median_over_target` x it."""
    _bars(bars)
    ratio = _ratio(life_ratio) / _ratio(median_over_target)
    return scatter.reliability_later(0.5, life_ratio=ratio) ** bars


def _at_end(reliability: float, life_ratio: float, scatter: LifeScatter | None) -> float:
    _ratio(life_ratio)
    if life_ratio == 1.0:
        return reliability
    if scatter is None:
        raise InputError(
            f"a test to {life_ratio:g} times the target needs the scatter of life.",
            expected="a Weibull shape or a standard deviation of log10 life.",
        )
    return scatter.reliability_later(reliability, life_ratio=life_ratio)


def _share(value: float, name: str) -> None:
    if not 0.0 < value < 1.0:
        raise InputError(f"{name} {value} is not a share.", expected="between 0 and 1, such as 0.90.")


def _deviation(value: float) -> None:
    if not math.isfinite(value) or value <= 0.0:
        raise InputError(f"a standard deviation of log10 life of {value} is not possible.", expected="such as 0.2.")


def _bars(bars: int) -> None:
    if not 1 <= bars <= _MOST_BARS:
        raise InputError(f"{bars} bars cannot be tested.", where="bars", expected=f"1 to {grouped(_MOST_BARS)}.")


def _ratio(value: float) -> float:
    if not math.isfinite(value) or value <= 0.0:
        raise InputError(f"a life ratio of {value} is not possible.", expected="above 0.")
    return value
