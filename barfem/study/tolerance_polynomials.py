"""Numbers of bars as polynomials of their deviations: linear in all, quadratic with products in the strongest.

In the strongest of all the line is bent at some knots as well: the fatigue strength of a place follows the steel's
strength by one rule up to some hardness and by another above it (a flaw of the skin, the relaxed residual stress), a
kink that no polynomial of few terms follows.
"""

from __future__ import annotations

from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["KNOTS", "Polynomials", "fit_polynomials", "rows_wanted"]

Array = NDArray[np.float64]

LEVELS = ((3, 1), (6, 2))
"""How many variables of each number are in its squares and products, and in how many of them its line is bent at knots:
with few bars, and with more.
"""

KNOTS = (0.05, 0.15, 0.3, 0.5, 0.7, 0.9)
"""Shares of the fitted bars that lie below each knot; closer where steel is weakest, for
there its rules change."""

LEAST_APART = 1e-4
"""What a term must have of its own, beside those before it, as a share of it: by normal equations its square counts."""

ROWS_A_TERM = 1.4
ROWS_A_SLOPE = 1.3
"""Bars for each coefficient of a level, and of a plane: bars within usual bands lie near one."""


@frozen
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


def _rows_of(level: tuple[int, int], variables: int) -> int:
    strongest, bent = (min(each, variables) for each in level)
    return int(np.ceil(ROWS_A_TERM * (1 + variables + strongest * (strongest + 1) // 2 + bent * len(KNOTS))))


def rows_wanted(variables: int) -> int:
    """Bars that a polynomial of so many variables with squares and products is to be fitted to, at least."""
    return _rows_of(LEVELS[0], variables)


def fit_polynomials(x: Array, values: Array, *, rows: int | None = None) -> Polynomials | None:
    """Fitted by least squares to `values` (n, k) at x (n, variables), all finite.

    With too few bars for squares and products it is linear; None with fewer still. `rows` is the number of bars whose
    level of terms is taken, by default all.
    """
    variables = x.shape[1]
    rows = len(x) if rows is None else rows
    if rows < ROWS_A_SLOPE * (1 + variables):
        return None
    none = np.zeros((0, 2), np.intp)
    plane = np.asarray(np.linalg.lstsq(_terms(x, none), values, rcond=None)[0], float)
    levels = [level for level in LEVELS if rows >= _rows_of(level, variables)]
    if not levels:
        return Polynomials(plane, none)
    strongest, bends = levels[-1]
    strength = np.abs(plane[1:]) * x.std(axis=0)[:, None]
    in_order = np.argsort(-strength, axis=0, kind="stable")
    own = [list(combinations_with_replacement(column, 2)) for column in np.sort(in_order[:strongest].T).tolist()]
    pairs = sorted({pair for each in own for pair in each})
    bent = sorted(set(in_order[:bends].ravel().tolist()))
    knots = tuple((i, float(at)) for i in bent for at in np.quantile(x[:, i], KNOTS))
    number = {pair: len(plane) + i for i, pair in enumerate(pairs)}
    first_knot = {i: len(plane) + len(pairs) + len(KNOTS) * n for n, i in enumerate(bent)}
    whole = _terms(x, np.array(pairs, np.intp), knots)
    # By normal equations, whose products all numbers share.
    gram, right = whole.T @ whole, whole.T @ values
    coefficients = np.zeros((whole.shape[1], values.shape[1]))
    for k, mine in enumerate(own):
        firsts = [first_knot[i] for i in in_order[:bends, k].tolist()]
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
