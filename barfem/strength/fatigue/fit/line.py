"""A stress-life line fitted to tests: the numbers with their 90 % intervals."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.strength.fatigue.fit.likelihood import most_likely
from barfem.strength.fatigue.fit.posterior import K_LIMITS, PRIOR, Posterior, Prior, posterior, quantiles

__all__ = ["LineFit", "fit_line"]


@frozen(kw_only=True)
class LineFit:
    """The line N ~ S^-exponent through `strength_MPa` at `at_cycles` (median), its scatter, and 90 % intervals.

    With a prior the numbers are the posterior's medians; without one they are those of greatest likelihood.
    `most_likely` holds exponent, strength_MPa and deviation of greatest likelihood, None where there is no maximum.
    `strength_at_survival_MPa` is what `survival` of bars have: the strength less so many deviations, by which a check
    judges; its interval tells how far few tests leave the scatter open. `open_upwards` says that nothing but the end of
    the grid bounds the slope from above.
    """

    at_cycles: float
    exponent: float
    exponent_90: tuple[float, float]
    strength_MPa: float
    strength_90: tuple[float, float]
    survival: float
    strength_at_survival_MPa: float
    strength_at_survival_90: tuple[float, float]
    log10_life_deviation: float
    log10_life_deviation_90: tuple[float, float]
    most_likely: tuple[float, float, float] | None
    open_upwards: bool
    posterior: Posterior


def fit_line(
    *,
    amplitude_MPa: ArrayLike,
    cycles: ArrayLike,
    broken: ArrayLike,
    at_cycles: float,
    prior: Prior | None = PRIOR,
    survival: float = 0.90,
) -> LineFit:
    """Fit the line to tests (n,): reversed amplitude, cycles, and whether the bar broke or was stopped there.

    Raises
    ------
    InputError
        No bar broke; or, without a prior, the tests alone have no most likely line.
    """
    log_s, log_n = np.log10(np.asarray(amplitude_MPa, float)), np.log10(np.asarray(cycles, float))
    broke = np.asarray(broken, bool)
    if not broke.any():
        raise InputError(
            "no bar broke: every test was stopped, and no line can be told.",
            expected="at least one broken bar; barfem plan says what unbroken bars show.",
        )
    try:
        best = most_likely(amplitude_MPa=amplitude_MPa, cycles=cycles, broken=broken)
    except InputError:
        if prior is None:
            raise
        best = None
    grid = posterior(log_s, log_n, broke, prior)
    exponent = quantiles(grid.exponent, grid.weight.sum(axis=(1, 2)))
    deviation = quantiles(grid.deviation, grid.weight.sum(axis=(0, 1)))
    strength = grid.strength_quantiles(at_cycles)
    middle = (exponent[1], strength[1], deviation[1])
    likely = None
    if best is not None:
        k, log_life, sigma = best
        likely = (k, 10.0 ** (float(log_s.mean()) + (log_life - np.log10(at_cycles)) / k), sigma)
        if prior is None:
            middle = likely
    z = NormalDist().inv_cdf(survival)
    weaker = grid.strength_quantiles(at_cycles, weaker=z)
    slopes = grid.weight.sum(axis=(1, 2))
    return LineFit(
        at_cycles=at_cycles,
        exponent=middle[0],
        exponent_90=(exponent[0], exponent[2]),
        strength_MPa=float(middle[1]),
        strength_90=(strength[0], strength[2]),
        survival=survival,
        strength_at_survival_MPa=float(middle[1]) * 10.0 ** (-z * middle[2] / middle[0]),
        strength_at_survival_90=(weaker[0], weaker[2]),
        log10_life_deviation=middle[2],
        log10_life_deviation_90=(deviation[0], deviation[2]),
        most_likely=likely,
        open_upwards=bool(grid.exponent[-1] > 0.99 * K_LIMITS[1] and slopes[-1] > 1e-3 * slopes.max()),
        posterior=grid,
    )
