"""From the numbers of many bars to what is said of them: spread, chance of a miss, with intervals.

Intervals are 95 %, and those of independent random bars; the sequence is more even than random, so they are rather too
wide than too narrow.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["CONFIDENCE", "Chance", "Spread", "chance_of", "mean_chance", "spread_of"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

CONFIDENCE = 0.95
LOW, HIGH = 0.025, 0.975


@frozen
class Spread:
    """How one number spreads over `count` bars.

    `drawn` is that of the bar as drawn. 95 % of bars lie from `low` to `high`, `middle` is the median. A life may be
    infinite (beyond the knee); mean and deviation are then NaN. The intervals are (least, greatest).
    """

    drawn: float
    mean: float
    deviation: float
    low: float
    middle: float
    high: float
    mean_interval: tuple[float, float]
    deviation_interval: tuple[float, float]
    low_interval: tuple[float, float]
    high_interval: tuple[float, float]
    count: int


@frozen
class Chance:
    """`misses` of `of` bars, and the chance of one with its interval (least, greatest)."""

    misses: int
    of: int
    share: float
    interval: tuple[float, float]


def spread_of(values: Array, drawn: float) -> Spread:
    """Of values (n,); NaN is left out, infinity is a value above all others.

    The interval of a quantile is from the order statistics (binomial, no distribution assumed), that of the mean by the
    normal distribution, that of the deviation by the fourth moment.
    """
    sorted_ = np.sort(values[~np.isnan(values)])
    count = len(sorted_)
    if count == 0:
        none = (math.nan, math.nan)
        return Spread(drawn, math.nan, math.nan, math.nan, math.nan, math.nan, none, none, none, none, 0)
    mean = deviation = math.nan
    mean_ends = deviation_ends = (math.nan, math.nan)
    if np.isfinite(sorted_[-1]) and count > 3:
        mean = float(sorted_.mean())
        centred = sorted_ - mean
        second, fourth = float(np.mean(centred**2)), float(np.mean(centred**4))
        deviation = math.sqrt(second * count / (count - 1))
        off = 1.96 * deviation / math.sqrt(count)
        mean_ends = (mean - off, mean + off)
        # Variance of the sample variance: (m4 - m2^2 (n - 3) / (n - 1)) / n.
        of_variance = math.sqrt(max(fourth - second**2 * (count - 3) / (count - 1), 0.0) / count)
        square = deviation**2
        deviation_ends = (
            math.sqrt(max(square - 1.96 * of_variance, 0.0)),
            math.sqrt(square + 1.96 * of_variance),
        )
    low, middle, high = (_quantile(sorted_, share) for share in (LOW, 0.5, HIGH))
    ends = [_quantile_interval(sorted_, share) for share in (LOW, HIGH)]
    return Spread(drawn, mean, deviation, low, middle, high, mean_ends, deviation_ends, ends[0], ends[1], count)


def _quantile(sorted_: Array, share: float) -> float:
    """Between neighbours linear, never between a number and infinity."""
    place = share * (len(sorted_) - 1)
    below, above = sorted_[math.floor(place)], sorted_[math.ceil(place)]
    if not np.isfinite(above):
        return float(below if place - math.floor(place) < 0.5 else above)
    return float(below + (above - below) * (place - math.floor(place)))


def _quantile_interval(sorted_: Array, share: float) -> tuple[float, float]:
    from scipy.stats import binom

    count = len(sorted_)
    low = int(binom.ppf(0.5 * (1.0 - CONFIDENCE), count, share)) - 1
    high = int(binom.ppf(0.5 * (1.0 + CONFIDENCE), count, share))
    return float(sorted_[max(low, 0)]), float(sorted_[min(high, count - 1)])


def chance_of(missed: Flags) -> Chance:
    """Of flags (n,), with the exact binomial interval (Clopper and Pearson 1934)."""
    from scipy.special import betaincinv

    misses, of = int(missed.sum()), len(missed)
    tail = 0.5 * (1.0 - CONFIDENCE)
    low = 0.0 if misses == 0 else float(betaincinv(misses, of - misses + 1, tail))
    high = 1.0 if misses == of else float(betaincinv(misses + 1, of - misses, 1.0 - tail))
    return Chance(misses, of, misses / of, (low, high))


def mean_chance(chances: Array) -> Chance:
    """Of a chance (n,) for each bar: their mean, its interval by the normal distribution; `misses` is -1."""
    mean = float(chances.mean())
    off = 1.96 * float(chances.std(ddof=1)) / math.sqrt(len(chances))
    return Chance(-1, len(chances), mean, (max(mean - off, 0.0), min(mean + off, 1.0)))
