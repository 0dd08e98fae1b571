"""The most likely Basquin line of tests, some of them stopped before they broke.

The model: log10 life is normal about the line,

    log10 N = log10 N_ref - k log10(S / S_ref) + sigma z,        z standard normal,

with one scatter sigma at all loads. A bar that broke gives the density of its life, a bar that was stopped the chance
of having lasted so long (right-censored): Nelson, Accelerated Testing (Wiley, 1990), ch. 5. In the unknowns 1 / sigma
and line / sigma the log likelihood is concave (Olsen, Econometrica 46 (1978) 1211): Newton finds its one maximum.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError

__all__ = ["most_likely"]

Array = NDArray[np.float64]


def most_likely(*, amplitude_MPa: ArrayLike, cycles: ArrayLike, broken: ArrayLike) -> tuple[float, float, float]:
    """Slope k, log10 life at the geometric mean of the amplitudes, and deviation of log10 life, of greatest likelihood.

    Newton's method with halved steps on Olsen's concave form. With n broken bars and none stopped the deviation is
    the root of the sum of squares over n, which is low by (1 - 2 / n)^0.5.

    Raises
    ------
    InputError
        There is no maximum: fewer than three broken bars, all at one load, or all on one line.
    """
    log_s, log_n = np.log10(np.asarray(amplitude_MPa, float)), np.log10(np.asarray(cycles, float))
    broke = np.asarray(broken, bool)
    v = log_s - log_s.mean()
    loads = len(np.unique(log_s[broke].round(9)))
    if broke.sum() < 3 or np.ptp(v[broke]) < 1e-9:
        raise InputError(
            f"{int(broke.sum())} broken bars at {loads} load{'s' if loads > 1 else ''}, alone, have no most likely "
            "line.",
            expected="three broken bars or more over at least two loads, or the prior.",
        )
    from scipy.special import log_ndtr

    centre = float(log_n.mean())
    y = log_n - centre
    basis = np.column_stack([y, -np.ones_like(v), -v])  # residual over sigma = basis @ (1 / sigma, line / sigma)
    start, *_ = np.linalg.lstsq(np.column_stack([np.ones_like(v), v]), y, rcond=None)
    spread = max(float(np.std(y - start[0] - start[1] * v)), 0.05)
    theta = np.array([1.0, *start]) / spread
    stopped = ~broke

    def value(at: Array) -> float:
        r = basis @ at
        if at[0] <= 0.0:
            return -np.inf
        return float(broke.sum() * np.log(at[0]) - 0.5 * r[broke] @ r[broke] + log_ndtr(-r[stopped]).sum())

    now = value(theta)
    for _ in range(200):
        r = basis @ theta
        mills = np.exp(-0.5 * r * r - log_ndtr(-r)) / np.sqrt(2.0 * np.pi)
        slope = np.where(broke, -r, -mills)
        bend = np.where(broke, -1.0, -mills * (mills - r))
        gradient = basis.T @ slope + np.array([broke.sum() / theta[0], 0.0, 0.0])
        hessian = (basis * bend[:, None]).T @ basis
        hessian[0, 0] -= broke.sum() / theta[0] ** 2
        step = -np.linalg.lstsq(hessian, gradient, rcond=None)[0]
        share = 1.0
        while value(theta + share * step) < now and share > 1e-10:
            share *= 0.5
        theta = theta + share * step
        now = value(theta)
        if float(gradient @ step) < 1e-18 * max(1.0, abs(now)) or 1.0 / theta[0] < 1e-4:
            break
    sigma = 1.0 / float(theta[0])
    k = -float(theta[2]) * sigma
    if sigma < 1e-3:
        raise InputError(
            "the broken bars lie on one line: their scatter cannot be told.", expected="more tests, or the prior."
        )
    if not k > 0.0:
        raise InputError(
            "life does not fall with load in these tests: they have no Basquin line.",
            expected="lives that are shorter at higher amplitude; check the columns.",
        )
    return k, centre + float(theta[1]) * sigma, sigma
