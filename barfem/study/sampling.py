"""Which bars are made: the points of scrambled Sobol' sequences.

The bars that are solved are one sequence, row by row, however many chunks it is worked on in. The bars that a fit is
asked about are another one; and the shares of the variance are taken from a radial design, in which each base point has
two independent bars, A and B, and for each band one more: A with that band's dimensions taken from B (Saltelli et al.,
Comput. Phys. Commun. 181 (2010) 259).
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import field, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import counted, grouped

__all__ = ["FEWEST_SAMPLES", "FEWEST_SOLVED", "ROWS_A_CHUNK", "Design", "blocks", "design_of", "radial"]

Array = NDArray[np.float64]

ROWS_A_CHUNK = 8
FEWEST_SAMPLES = 16

FEWEST_SOLVED = 64
"""Bars that a fit takes, at least."""

MOST_SAMPLES = 1_000_000
"""Bars that can be kept in some hundred MB; a day of one processor's time where each is solved."""

ROWS_A_BLOCK = 2**15


@frozen
class Design:
    """The first `samples` points of the sequence of `seed` over so many `variables`, in chunks.

    `points` (samples, variables) where they are made already.
    """

    seed: int
    samples: int
    variables: int
    points: Array | None = field(default=None, compare=False, repr=False)

    def with_points(self) -> Design:
        """The same, its points made."""
        return replace(self, points=_points(self.variables, (self.seed,), 0, self.samples))

    @property
    def count(self) -> int:
        """Chunks in all: the same whoever works on them; what a chunk holds depends on the design alone."""
        return -(-self.samples // ROWS_A_CHUNK)

    def rows(self, number: int) -> range:
        """The rows of a chunk, counted from zero."""
        return range(number * ROWS_A_CHUNK, min((number + 1) * ROWS_A_CHUNK, self.samples))

    def uniform(self, number: int) -> Array:
        """Numbers (rows, variables) of a chunk, evenly spread over 0 to 1."""
        rows = self.rows(number)
        if self.points is not None:
            return self.points[rows.start : rows.stop]
        return _points(self.variables, (self.seed,), rows.start, len(rows))


def design_of(*, samples: int, seed: int, variables: int) -> Design:
    """A design of exactly so many bars.

    Raises
    ------
    InputError
        Too few or too many samples, or a seed below 0.
    """
    if samples < FEWEST_SAMPLES:
        raise InputError(
            f"{counted(samples, 'bar')} {'is' if samples == 1 else 'are'} too few to tell how they spread.",
            where="--samples",
            expected=f"at least {FEWEST_SAMPLES}; some thousands for chances below 1 %.",
        )
    if samples > MOST_SAMPLES:
        raise InputError(
            f"{grouped(samples)} bars are more than can be kept.",
            where="--samples",
            expected=f"at most {grouped(MOST_SAMPLES)}.",
        )
    if seed < 0:
        raise InputError(f"a seed of {seed} is below 0.", where="--seed", expected="0 or a whole number above.")
    return Design(seed, samples, variables)


def blocks(*, samples: int, seed: int, variables: int) -> Iterator[Array]:
    """`samples` points (rows, variables) of another sequence than the design's, a block at a time."""
    for start in range(0, samples, ROWS_A_BLOCK):
        yield _points(variables, (seed, 1), start, min(ROWS_A_BLOCK, samples - start))


def radial(*, points: int, seed: int, columns: Sequence[Sequence[int]]) -> Array:
    """Base points with their mixed ones, (points, 2 + bands, variables): A, B, then one for each band."""
    variables = sum(len(each) for each in columns)
    both = _points(2 * variables, (seed, 2), 0, points)
    one, two = both[:, :variables], both[:, variables:]
    made = [one, two]
    for each in columns:
        mixed = one.copy()
        mixed[:, list(each)] = two[:, list(each)]
        made.append(mixed)
    return np.stack(made, axis=1)


@lru_cache(maxsize=4)
def _sequence(dimensions: int, seed: tuple[int, ...]) -> Any:
    """Scrambled once: that takes a tenth of a second, and each chunk asks."""
    from scipy.stats import qmc

    return qmc.Sobol(d=dimensions, scramble=True, seed=np.random.default_rng(seed))


def _points(dimensions: int, seed: tuple[int, ...], start: int, count: int) -> Array:
    sequence = deepcopy(_sequence(dimensions, seed))
    if start:
        sequence.fast_forward(start)
    with warnings.catch_warnings():  # that a chunk is no power of two; the whole is judged by its spread
        warnings.simplefilter("ignore", UserWarning)
        return np.asarray(sequence.random(count))
