"""A plain polynomial of each variable by itself, fitted to the bars, that takes most of the noise out of the shares.

Its own shares are known exactly; only what it leaves over has to be estimated from differences between bars (a control
variate). However badly it fits, the shares stay what they are: only their intervals grow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Surrogate", "basis_of", "fitted"]

Array = NDArray[np.float64]

ROWS_A_TERM = 5
ROWS_A_SLOPE = 3
"""Bars for each coefficient with squares, and of a plane: bars within usual bands lie near one."""


@dataclass(frozen=True)
class Surrogate:
    """Values (n,) at every row fitted over, and the variance that each variable gives it, (variables,)."""

    values: Array
    variances: Array
    r_squared: float


@dataclass(frozen=True)
class Basis:
    """Terms (rows, 2 variables) of mean zero that are uncorrelated over the bands, and their variances."""

    terms: Array
    variances: Array


def basis_of(moved: Array, *, low: Array, high: Array, normal: NDArray[np.bool_]) -> Basis:
    """x and x^2 - its mean, of every variable over its band as -1 to 1. `moved` (rows, variables) are deviations."""
    from scipy.special import ndtr

    from barfem.study.bands import SIGMAS

    x = (moved - 0.5 * (low + high)) / (0.5 * (high - low))
    # Moments of the normal distribution cut off at s deviations: m2 = 1 - 2 s p(s) / P, m4 = 3 m2 - 2 s^3 p(s) / P.
    density = np.exp(-0.5 * SIGMAS**2) / np.sqrt(2.0 * np.pi) / (1.0 - 2.0 * ndtr(-SIGMAS))
    second = 1.0 - 2.0 * SIGMAS * density
    fourth = 3.0 * second - 2.0 * SIGMAS**3 * density
    m2 = np.where(normal, second / SIGMAS**2, 1.0 / 3.0)
    m4 = np.where(normal, fourth / SIGMAS**4, 1.0 / 5.0)
    return Basis(np.concatenate([x, x**2 - m2], axis=1), np.concatenate([m2, m4 - m2**2]))


def fitted(basis: Basis, values: Array) -> Surrogate | None:
    """Fitted by least squares to the finite of `values`, one for each row; None where there are too few of them.

    With too few for squares it is linear.
    """
    count = basis.terms.shape[1] // 2
    good = np.flatnonzero(np.isfinite(values))
    if len(good) >= ROWS_A_TERM * (2 * count + 1):
        kept = slice(None)
    elif len(good) >= ROWS_A_SLOPE * (count + 1):
        kept = slice(0, count)
    else:
        return None
    terms, variances = basis.terms[:, kept], basis.variances[kept]
    matrix = np.concatenate([np.ones((len(good), 1)), terms[good]], axis=1)
    # By normal equations: the terms are nearly uncorrelated, and for many rows this is a hundredth of the work.
    solution, *_ = np.linalg.lstsq(matrix.T @ matrix, matrix.T @ values[good], rcond=None)
    left = values[good] - matrix @ solution
    of_each = solution[1:] ** 2 * variances
    of_each = of_each.reshape(-1, count).sum(axis=0)
    spread = float(np.var(values[good]))
    return Surrogate(
        solution[0] + terms @ solution[1:], of_each, 1.0 - float(np.var(left)) / spread if spread > 0.0 else 0.0
    )
