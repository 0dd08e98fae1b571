"""A plain polynomial of each variable by itself, fitted to the bars, that takes most of the noise out of the shares.

Its own shares are known exactly; only what it leaves over has to be estimated from differences between bars (a control
variate). However badly it fits, the shares stay what they are: only their intervals grow.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["Surrogate", "basis_of", "fitted"]

Array = NDArray[np.float64]

ROWS_A_TERM = 5
ROWS_A_SLOPE = 3
"""Bars for each coefficient with squares, and of a plane: bars within usual bands lie near one."""


@frozen
class Surrogate:
    """Values (n,) at every row fitted over, and the variance that each variable gives it, (variables,)."""

    values: Array
    variances: Array
    r_squared: float


@frozen
class Basis:
    """Terms (rows, 2 variables) of mean zero that are uncorrelated over the bands, and their variances."""

    terms: Array
    variances: Array

    @cached_property
    def gram(self) -> Array:
        """`_gram` of all rows: it is the same for every number that is fitted."""
        return _gram(self.terms)


def _gram(terms: Array) -> Array:
    """(1 + 2 variables, the same): products of a column of ones and the terms with each other."""
    out = np.empty((1 + terms.shape[1],) * 2)
    out[0, 0] = len(terms)
    out[0, 1:] = out[1:, 0] = terms.sum(axis=0)
    out[1:, 1:] = terms.T @ terms
    return out


def basis_of(moved: Array, *, low: Array, high: Array, normal: NDArray[np.bool_]) -> Basis:
    """x and x^2 - its mean, of every variable over its band as -1 to 1. `moved` (rows, variables) are deviations."""
    from scipy.special import ndtr

    from barfem.study.bands import SIGMAS

    wide = high > low  # a band of one value (all bars of 45 HRC, say) moves nothing, and its terms are nothing
    x = np.where(wide, moved - 0.5 * (low + high), 0.0) / np.where(wide, 0.5 * (high - low), 1.0)
    # Moments of the normal distribution cut off at s deviations: m2 = 1 - 2 s p(s) / P, m4 = 3 m2 - 2 s^3 p(s) / P.
    density = np.exp(-0.5 * SIGMAS**2) / np.sqrt(2.0 * np.pi) / (1.0 - 2.0 * ndtr(-SIGMAS))
    second = 1.0 - 2.0 * SIGMAS * density
    fourth = 3.0 * second - 2.0 * SIGMAS**3 * density
    m2 = np.where(normal, second / SIGMAS**2, 1.0 / 3.0) * wide
    m4 = np.where(normal, fourth / SIGMAS**4, 1.0 / 5.0) * wide
    return Basis(np.concatenate([x, x**2 - m2], axis=1), np.concatenate([m2, m4 - m2**2]))


def fitted(basis: Basis, values: Array) -> Surrogate | None:
    """Fitted by least squares to the finite of `values`, one for each row; None where there are too few of them.

    With too few for squares it is linear.
    """
    count = basis.terms.shape[1] // 2
    good = np.isfinite(values)
    rows = np.count_nonzero(good)
    if rows >= ROWS_A_TERM * (2 * count + 1):
        kept = 2 * count
    elif rows >= ROWS_A_SLOPE * (count + 1):
        kept = count
    else:
        return None
    known, terms = (values, basis.terms) if rows == len(values) else (values[good], basis.terms[good])
    gram = basis.gram if rows == len(values) else _gram(terms)
    right = np.append(known.sum(), known @ terms[:, :kept])
    # By normal equations: the terms are nearly uncorrelated, and for many rows this is a hundredth of the work.
    solution, *_ = np.linalg.lstsq(gram[: 1 + kept, : 1 + kept], right, rcond=None)
    near = solution[0] + basis.terms[:, :kept] @ solution[1:]
    of_each = (solution[1:] ** 2 * basis.variances[:kept]).reshape(-1, count).sum(axis=0)
    spread = float(np.var(known))
    return Surrogate(near, of_each, 1.0 - float(np.var(known - near[good])) / spread if spread > 0.0 else 0.0)
