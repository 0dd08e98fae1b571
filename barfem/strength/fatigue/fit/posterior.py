"""What tests and a prior say together of slope, scatter and strength: the posterior, by quadrature on a grid.

With three to six bars the curvature at the greatest likelihood says little of how far off it may be, and it leaves
out that the scatter is found from few residuals. The posterior has neither fault: with a prior on slope and scatter,
or, without one, flat in the line and in log sigma (the reference prior of a regression: with no test stopped its
intervals are Student's and chi-square's, exact at any number of tests; Box & Tiao, Bayesian Inference in Statistical
Analysis (1973), sec. 2.7, from memory). The model is that of `likelihood`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["PRIOR", "Posterior", "Prior", "posterior"]

Array = NDArray[np.float64]

# What a slope and a scatter can be at all; the grid does not go beyond. 60 is also the end of a material table's slope.
K_LIMITS, SIGMA_LIMITS = (1.0, 60.0), (0.01, 3.0)
# A grid ends where the marginal density has fallen by this much (natural logarithm).
_TAIL = 14.0
_COARSE, _FINE = 25, 41
_INTERVAL = (0.05, 0.5, 0.95)


@frozen(kw_only=True)
class Prior:
    """What is taken of slope k and scatter sigma before any test: both lognormal, independent.

    `*_median` with a standard deviation of the natural logarithm, `*_log_deviation`.
    """

    exponent_median: float
    exponent_log_deviation: float
    deviation_median: float
    deviation_log_deviation: float

    @property
    def exponent_90(self) -> tuple[float, float]:
        return _lognormal_90(self.exponent_median, self.exponent_log_deviation)

    @property
    def deviation_90(self) -> tuple[float, float]:
        return _lognormal_90(self.deviation_median, self.deviation_log_deviation)

    @property
    def text(self) -> str:
        slope, scatter = self.exponent_90, self.deviation_90
        return (
            f"slope k lognormal, median {self.exponent_median:g}, 90 % between {slope[0]:.2g} and {slope[1]:.2g} "
            "(spans 5 and 8 of the FKM guideline, components under normal and shear stress, from memory, and 7 to 15 "
            "of polished hardened steel, Dowling Table 14.1); deviation of log10 life lognormal, median "
            f"{self.deviation_median:g}, 90 % between {scatter[0]:.2g} and {scatter[1]:.2g} (common practice, no "
            "source, for bars of one batch); nothing of the strength itself"
        )


def _lognormal_90(median: float, deviation: float) -> tuple[float, float]:
    return median * np.exp(-1.645 * deviation), median * np.exp(1.645 * deviation)


PRIOR = Prior(exponent_median=8.0, exponent_log_deviation=0.4, deviation_median=0.2, deviation_log_deviation=0.5)


@frozen
class Posterior:
    """Weights (sum 1) over a grid of slope k, scatter sigma and log10 life at the amplitude 10^`log_centre` MPa."""

    exponent: Array
    deviation: Array
    log_life: Array
    log_centre: float
    weight: Array

    def log_strength(self, cycles: float) -> Array:
        """log10 amplitude [MPa] that lasts `cycles` in the median, at every slope (axis 0) and life (axis 1)."""
        return self.log_centre + (self.log_life[None, :] - np.log10(cycles)) / self.exponent[:, None]

    def strength_quantiles(
        self, cycles: float, shares: tuple[float, ...] = _INTERVAL, *, weaker: float = 0.0
    ) -> tuple[float, ...]:
        """Quantiles of the amplitude [MPa] that lasts `cycles` in the median; of bars `weaker` by so many standard
        deviations of log10 life.
        """
        value, weight = self.log_strength(cycles)[..., None], self.weight
        if weaker:
            value = value - weaker * self.deviation / self.exponent[:, None, None]
        else:
            weight = weight.sum(axis=2, keepdims=True)
        value, weight = value.ravel(), weight.ravel()
        order = np.argsort(value)
        below = np.cumsum(weight[order]) - 0.5 * weight[order]
        return tuple((10.0 ** np.interp(shares, below, value[order])).tolist())


def posterior(log_s: Array, log_n: Array, broke: NDArray[np.bool_], prior: Prior | None) -> Posterior:
    """The posterior on a grid of ln k, log10 life at the centre and ln sigma, laid where it is and as wide as it is.

    Arrays (n,): log10 of reversed amplitude [MPa] and of cycles, and whether the bar broke.
    """
    centre = float(log_s.mean())
    tests = _Tests.of(log_s - centre, log_n, broke)
    limits = np.log([K_LIMITS, (1.0, 1.0), SIGMA_LIMITS])
    limits[1] = log_n.min() - 3.0, log_n.max() + 5.0
    axes = [_Axis(low, high, 0.5 * (low + high), high - low) for low, high in limits]
    for _ in range(12):
        density = _log_density([axis.at(_COARSE)[0] for axis in axes], tests, prior)
        before, axes = axes, [_fitted(axes[i], _highest(density, i), limits[i]) for i in range(3)]
        if all(new.like(old) for new, old in zip(axes, before, strict=True)):
            break
    nodes, spacing = zip(*(axis.at(_FINE) for axis in axes), strict=True)
    density = _log_density(list(nodes), tests, prior)
    weight = np.exp(density - density.max())
    for i in range(3):
        weight *= np.moveaxis(spacing[i][:, None, None], 0, i)
    return Posterior(np.exp(nodes[0]), np.exp(nodes[2]), nodes[1], centre, weight / weight.sum())


@frozen
class _Axis:
    """One axis of the grid: dense within `width` of `peak`, ever wider apart towards its ends.

    Few tests have Student's tails: an even grid that reached their ends would miss the middle.
    """

    low: float
    high: float
    peak: float
    width: float

    def at(self, points: int) -> tuple[Array, Array]:
        """Nodes, and what each counts (trapezoidal rule in u; x = peak + width sinh u)."""
        low, high = (np.arcsinh((end - self.peak) / self.width) for end in (self.low, self.high))
        u = np.linspace(low, high, points)
        spacing = np.cosh(u)
        spacing[[0, -1]] *= 0.5
        return self.peak + self.width * np.sinh(u), spacing

    def like(self, other: _Axis) -> bool:
        return abs(self.peak - other.peak) < 0.5 * self.width and 0.7 < self.width / other.width < 1.4


def _highest(density: Array, axis: int) -> Array:
    return np.asarray(density.max(axis=tuple(j for j in range(3) if j != axis)))


def _fitted(axis: _Axis, density: Array, limits: Array) -> _Axis:
    """The axis laid anew by the log density at its coarse nodes: where it peaks, how wide, `_TAIL` down."""
    x, _ = axis.at(_COARSE)
    top = int(density.argmax())
    inside = np.flatnonzero(density > density[top] - _TAIL)
    # One node more on either side; a peak at the end of the grid is beyond it.
    first, last = max(inside[0] - 1, 0), min(inside[-1] + 1, len(x) - 1)
    low = x[first] - (x[-1] - x[0]) * (inside[0] == 0)
    high = x[last] + (x[-1] - x[0]) * (inside[-1] == len(x) - 1)
    fallen = density[top] - density
    left = np.interp(2.0, fallen[: top + 1][::-1], x[: top + 1][::-1]) if top else x[0]
    right = np.interp(2.0, fallen[top:], x[top:]) if top < len(x) - 1 else x[-1]
    return _Axis(max(low, limits[0]), min(high, limits[1]), float(x[top]), max(0.4 * float(right - left), 1e-4))


@frozen
class _Tests:
    """What the likelihood needs: sums over broken bars, and stopped bars that are alike counted together."""

    broken: int
    sums: tuple[float, float, float, float, float]
    stopped_v: Array
    stopped_log_life: Array
    stopped_count: Array

    @classmethod
    def of(cls, v: Array, log_n: Array, broke: NDArray[np.bool_]) -> _Tests:
        vb, yb = v[broke], log_n[broke]
        alike, count = np.unique(np.column_stack([v[~broke], log_n[~broke]]), axis=0, return_counts=True)
        sums = (yb.sum(), vb.sum(), yb @ yb, vb @ yb, vb @ vb)
        return cls(len(vb), tuple(float(x) for x in sums), alike[:, 0], alike[:, 1], count.astype(float))  # type: ignore[arg-type]


def _log_density(axes: list[Array], tests: _Tests, prior: Prior | None) -> Array:
    """Log of the posterior's density in ln k, log10 life at the centre, ln sigma: an array of the three axes' sizes."""
    from scipy.special import log_ndtr

    log_k, a, log_sigma = axes[0][:, None, None], axes[1][None, :, None], axes[2][None, None, :]
    k, sigma = np.exp(log_k), np.exp(log_sigma)
    y, v, yy, vy, vv = tests.sums
    squares = yy + tests.broken * a * a + k * k * vv - 2.0 * a * y + 2.0 * k * vy - 2.0 * a * k * v
    found = -tests.broken * log_sigma - 0.5 * squares / sigma**2
    for at, life, count in zip(tests.stopped_v, tests.stopped_log_life, tests.stopped_count, strict=True):
        found = found + count * log_ndtr(-(life - a + k * at) / sigma)
    if prior is None:
        return np.asarray(found + log_k)  # flat in k itself, and in ln sigma
    slope = (log_k - np.log(prior.exponent_median)) / prior.exponent_log_deviation
    scatter = (log_sigma - np.log(prior.deviation_median)) / prior.deviation_log_deviation
    return np.asarray(found - 0.5 * slope**2 - 0.5 * scatter**2)


def quantiles(value: Array, weight: Array) -> tuple[float, float, float]:
    """5, 50 and 95 % of what is weighted at the nodes `value`, each weight lying half on either side of its node."""
    low, middle, high = np.exp(np.interp(_INTERVAL, np.cumsum(weight) - 0.5 * weight, np.log(value)))
    return float(low), float(middle), float(high)
