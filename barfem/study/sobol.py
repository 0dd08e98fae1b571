"""Shares of the variance by what they come from: Sobol' indices, first-order and total, with intervals.

From f(A), f(B) and f(A with one band from B): first-order share S_i = mean(f_B (f_ABi - f_A)) / V of centred f
(Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, Table 2 b), total share T_i = mean((f_A - f_ABi)^2) / (2 V)
(Jansen 1999; Table 2 f there). V is the variance of A and B together. Bands are groups of variables; the indices of
groups follow the same formulas. With g, an approximation of f whose shares are known, f = g + r is put into both, and
the products of g alone are replaced by what they tend to.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["Known", "Shares", "shares_of", "unknown_shares"]

Array = NDArray[np.float64]

RESAMPLED = 400
CONFIDENCE = 0.95

RESOLVED = 0.15
"""Half the width of an interval above which a share says little of where to save."""


@frozen
class Shares:
    """Shares of one number's variance, arrays (bands,), and ends (bands, 2) of their 95 % bootstrap intervals.

    `first` is the part that a band makes by itself, `total` with its interactions: what would be left of the variance
    if all other bands were nothing, and what would go if this one were (on average), lie between them. `alone` is the
    sum of the first: what is left of 1 is made by bands together. All lie from 0 to 1, as shares do; estimates and ends
    beyond are at 0 or 1. `points` is the number of base points they rest on, `by_fit` says that they rest on an
    approximation as well. `constant` says that the number does not vary: all shares are then zero.
    """

    first: Array
    total: Array
    first_interval: Array
    total_interval: Array
    points: int
    constant: bool = False
    alone: float = 0.0
    alone_interval: tuple[float, float] = (0.0, 0.0)
    by_fit: bool = False

    @property
    def resolved(self) -> bool:
        """Whether every total share is known within `RESOLVED` to either side; else there are too few bars for it."""
        return bool(np.all(np.ptp(self.total_interval, axis=1) <= 2.0 * RESOLVED))

    @property
    def order(self) -> NDArray[np.intp]:
        """Bands by their total share, the greatest first."""
        return np.argsort(-self.total, kind="stable")

    def with_unexplained(self, share: float) -> Shares:
        """The shares of a number of whose variance an approximation leaves out `share`: any band may have that."""
        if self.constant or share <= 0.0:
            return self
        share = min(share, 1.0)
        more = np.array([0.0, share])
        low, high = self.alone_interval
        return replace(
            self,
            first_interval=_as_share(self.first_interval * (1.0 - share) + more),
            total_interval=_as_share(self.total_interval * (1.0 - share) + more),
            alone_interval=(low * (1.0 - share), min(high + share, 1.0)),
        )


def unknown_shares(bands: int) -> Shares:
    """What is said where nothing is known: any share, of every band."""
    any_ = np.tile([0.0, 1.0], (bands, 1))
    return Shares(np.zeros(bands), np.zeros(bands), any_, any_, 0, alone_interval=(0.0, 1.0))


@frozen
class Known:
    """An additive approximation at the same places, with the variance that each band gives it, (bands,)."""

    A: Array
    B: Array
    AB: Array
    variances: Array


def shares_of(f_A: Array, f_B: Array, f_AB: Array, *, seed: int, known: Known | None = None) -> Shares:
    """Shares from values (n,), (n,) and (n, bands); base points with a value that is not finite are left out."""
    whole = np.isfinite(f_A) & np.isfinite(f_B) & np.isfinite(f_AB).all(axis=1)
    a, b, ab = f_A[whole], f_B[whole], f_AB[whole]
    count, bands = ab.shape
    both = np.concatenate([a, b])
    if count < 2 or np.ptp(both) <= 1e-12 * np.abs(both).max():
        zero = np.zeros(bands)
        none = np.zeros((bands, 2))
        return Shares(zero, zero, none, none, count, constant=True)
    if known is None:
        g_a, g_b, g_ab, variances = np.zeros(count), np.zeros(count), np.zeros((count, bands)), np.zeros(bands)
    else:
        g_a, g_b, g_ab, variances = known.A[whole], known.B[whole], known.AB[whole], known.variances

    of_f, of_g = _Moments(a, b, ab), _Moments(g_a, g_b, g_ab)
    first, total = (each[0] for each in _indices(np.ones((1, count)), of_f, of_g, variances))
    picked = np.random.default_rng(seed).integers(0, count, (RESAMPLED, count))
    times = np.array([np.bincount(row, minlength=count) for row in picked], float)
    resampled = np.stack(_indices(times, of_f, of_g, variances), axis=1)  # (RESAMPLED, 2, bands)
    tail = 50.0 * (1.0 - CONFIDENCE)
    ends = np.percentile(resampled, [tail, 100.0 - tail], axis=0)
    sums = np.percentile(resampled[:, 0].sum(axis=1), [tail, 100.0 - tail])
    low, high = _as_share(sums).tolist()
    return Shares(
        _as_share(first),
        _as_share(total),
        _as_share(ends[:, 0].T),
        _as_share(ends[:, 1].T),
        count,
        alone=float(_as_share(first.sum())),
        alone_interval=(low, high),
        by_fit=known is not None,
    )


def _as_share(value: Any) -> Array:
    return np.clip(value, 0.0, 1.0)


class _Moments:
    """Means of a function's values over base points that are each taken so many times; all points stand about zero."""

    def __init__(self, a: Array, b: Array, ab: Array) -> None:
        middle = 0.5 * (a.mean() + b.mean())
        a, b, change = a - middle, b - middle, ab - a[:, None]
        self._values = np.stack([0.5 * (a + b), 0.5 * (a**2 + b**2)], axis=1)
        self._changes = [b[:, None] * change, change, 0.5 * change**2]

    def __call__(self, times: Array) -> tuple[Array, Array, Array]:
        """Variance (r,), and first and total share times it (r, bands), of points taken `times` (r, n) each."""
        count = times.shape[1]
        centre, square = (times @ self._values / count).T
        product, mean_change, total = (times @ change / count for change in self._changes)
        return square - centre**2, product - centre[:, None] * mean_change, total


def _indices(times: Array, of_f: _Moments, of_g: _Moments, known: Array) -> tuple[Array, Array]:
    """First and total shares (r, bands), the base points taken `times` (r, n) each."""
    (variance, first, total), (g_variance, g_first, g_total) = of_f(times), of_g(times)
    variance = variance - g_variance + known.sum()
    usable = variance > 0.0  # a resample of one point only has none
    shares = (np.where(usable[:, None], each + known, 0.0) for each in (first - g_first, total - g_total))
    first, total = (each / np.where(usable, variance, 1.0)[:, None] for each in shares)
    return first, total
