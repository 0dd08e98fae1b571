"""Numbers of bars as polynomials of their deviations: linear in all, quadratic with products in the strongest."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

__all__ = ["Polynomials", "fit_polynomials", "terms_wanted"]

Array = NDArray[np.float64]

STRONGEST = 6
"""Variables of each number that are in its squares and products."""

ROWS_A_TERM = 2.5
ROWS_A_SLOPE = 1.5
"""Bars for each coefficient of the whole, and of a plane: bars within usual bands lie near one."""


@dataclass(frozen=True)
class Polynomials:
    """Coefficients (terms, k) of k numbers over 1, x and the products x_i x_j of `pairs` (m, 2), i = j among them."""

    coefficients: Array
    pairs: NDArray[np.intp]

    def __call__(self, x: Array) -> Array:
        """Values (n, k) at x (n, variables), each over its band as -1 to 1."""
        return _terms(x, self.pairs) @ self.coefficients


def terms_wanted(variables: int) -> int:
    """Bars that the whole polynomial of so many variables is to be fitted to, at least."""
    strongest = min(STRONGEST, variables)
    return int(np.ceil(ROWS_A_TERM * (1 + variables + strongest * (strongest + 1) // 2)))


def fit_polynomials(x: Array, values: Array) -> Polynomials | None:
    """Fitted by least squares to `values` (n, k) at x (n, variables), all finite.

    With too few bars for squares and products it is linear; None with fewer still.
    """
    count, variables = x.shape
    if count < ROWS_A_SLOPE * (1 + variables):
        return None
    none = np.zeros((0, 2), np.intp)
    plane = np.asarray(np.linalg.lstsq(_terms(x, none), values, rcond=None)[0], float)
    if count < terms_wanted(variables):
        return Polynomials(plane, none)
    strength = np.abs(plane[1:]) * x.std(axis=0)[:, None]
    strongest = np.sort(np.argsort(-strength, axis=0, kind="stable")[:STRONGEST], axis=0)
    own = [list(combinations_with_replacement(column, 2)) for column in strongest.T.tolist()]
    pairs = sorted({pair for each in own for pair in each})
    number = {pair: len(plane) + i for i, pair in enumerate(pairs)}
    coefficients = np.zeros((len(plane) + len(pairs), values.shape[1]))
    whole = _terms(x, np.array(pairs, np.intp))
    for k, mine in enumerate(own):
        taken = [*range(len(plane)), *(number[pair] for pair in mine)]
        coefficients[taken, k] = np.linalg.lstsq(whole[:, taken], values[:, k], rcond=None)[0]
    return Polynomials(coefficients, np.array(pairs, np.intp))


def _terms(x: Array, pairs: NDArray[np.intp]) -> Array:
    return np.concatenate([np.ones((len(x), 1)), x, x[:, pairs[:, 0]] * x[:, pairs[:, 1]]], axis=1)
