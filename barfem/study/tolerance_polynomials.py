"""Numbers of bars as polynomials of their deviations: linear in all, quadratic with products in the strongest.

In the two strongest of all the line is bent at some knots as well: the fatigue strength of a place follows the steel's
strength by one rule up to some hardness and by another above it (a flaw of the skin, the relaxed residual stress), a
kink that no polynomial of few terms follows.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

__all__ = ["Polynomials", "fit_polynomials", "terms_wanted"]

Array = NDArray[np.float64]

STRONGEST = 6
"""Variables of each number that are in its squares and products."""

BENT = 2
"""Variables of each number in which its line is bent at knots."""

KNOTS = (0.05, 0.15, 0.3, 0.5, 0.7, 0.9)
"""Shares of the fitted bars that lie below each knot; closer where steel is weakest, for
there its rules change."""

LEAST_APART = 1e-4
"""What a term must have of its own, beside those before it, as a share of it: by normal equations its square counts."""

ROWS_A_TERM = 2.5
ROWS_A_SLOPE = 1.5
"""Bars for each coefficient of the whole, and of a plane: bars within usual bands lie near one."""


@dataclass(frozen=True)
class Polynomials:
    """Coefficients (terms, k) of k numbers over 1, x, the products x_i x_j of `pairs` (m, 2), i = j among them, and
    what x_i exceeds each of the `knots` (i, position) by.
    """

    coefficients: Array
    pairs: NDArray[np.intp]
    knots: tuple[tuple[int, float], ...] = ()

    def __call__(self, x: Array) -> Array:
        """Values (n, k) at x (n, variables), each over its band as -1 to 1."""
        return _terms(x, self.pairs, self.knots) @ self.coefficients


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
    in_order = np.argsort(-strength, axis=0, kind="stable")
    own = [list(combinations_with_replacement(column, 2)) for column in np.sort(in_order[:STRONGEST].T).tolist()]
    pairs = sorted({pair for each in own for pair in each})
    bent = sorted(set(in_order[:BENT].ravel().tolist()))
    knots = tuple((i, float(at)) for i in bent for at in np.quantile(x[:, i], KNOTS))
    number = {pair: len(plane) + i for i, pair in enumerate(pairs)}
    first_knot = {i: len(plane) + len(pairs) + len(KNOTS) * n for n, i in enumerate(bent)}
    whole = _terms(x, np.array(pairs, np.intp), knots)
    # By normal equations, whose products all numbers share.
    gram, right = whole.T @ whole, whole.T @ values
    coefficients = np.zeros((whole.shape[1], values.shape[1]))
    for k, mine in enumerate(own):
        firsts = [first_knot[i] for i in in_order[:BENT, k].tolist()]
        of_knots = [first + n for first in firsts for n in range(len(KNOTS))]
        taken = [*range(len(plane)), *(number[pair] for pair in mine), *of_knots]
        found = _solved(gram[np.ix_(taken, taken)], right[taken, k])
        if found is None:
            found = np.asarray(np.linalg.lstsq(whole[:, taken], values[:, k], rcond=None)[0], float)
        coefficients[taken, k] = found
    return Polynomials(coefficients, np.array(pairs, np.intp), knots)


def _solved(gram: Array, right: Array) -> Array | None:
    """Solution of normal equations; None where the terms are too much alike for them."""
    size = np.sqrt(np.diagonal(gram))
    if not np.all(size > 0.0):
        return None
    gram = gram / size / size[:, None]
    try:
        least = np.diagonal(np.linalg.cholesky(gram)).min()
    except np.linalg.LinAlgError:
        return None
    return np.asarray(np.linalg.solve(gram, right / size)) / size if least > LEAST_APART else None


def _terms(x: Array, pairs: NDArray[np.intp], knots: tuple[tuple[int, float], ...] = ()) -> Array:
    beyond = [np.maximum(x[:, i] - at, 0.0)[:, None] for i, at in knots]
    return np.concatenate([np.ones((len(x), 1)), x, x[:, pairs[:, 0]] * x[:, pairs[:, 1]], *beyond], axis=1)
