"""Which bars are made: a scrambled Sobol' sequence, arranged so that spread and shares come out of one run.

Each base point gives two independent bars, A and B. The first base points give one bar more for each band: A with that
band's dimensions taken from B (the radial design of Saltelli et al., Comput. Phys. Commun. 181 (2010) 259). Spreads and
chances are taken from A and B alone, since the others repeat them; shares from base points that have all.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import InputError

__all__ = ["Chunk", "Design", "design_of"]

Array = NDArray[np.float64]

FOR_SHARES = 0.6  # of the bars, before rounding down to a power of two
ROWS_A_CHUNK = 32
FEWEST_BASE_POINTS = 8
MOST_SHARED = 4096
"""Base points that shares rest on: more would only make known shares better known."""

S_A_BAR = 0.02

MOST_SAMPLES = 1_000_000
"""Bars that can be kept in some hundred MB; a day of one processor's time."""


@dataclass(frozen=True)
class Chunk:
    """Base points `start` to `stop`, worked on in one go; with `blocks` each gives a bar for each band as well."""

    index: int
    start: int
    stop: int
    blocks: bool


@dataclass(frozen=True)
class Design:
    """`base` points of which the first `shared` have a bar for each band; `columns` are the variables of each band.

    The rows of a chunk are ordered by base point: A, B, and then one for each band where it has those.
    """

    seed: int
    base: int
    shared: int
    variables: int
    columns: tuple[tuple[int, ...], ...]

    @property
    def samples(self) -> int:
        """Bars in all."""
        return 2 * self.base + self.shared * len(self.columns)

    @property
    def _steps(self) -> tuple[int, int]:
        """Base points a chunk: of those with a bar for each band, and of the rest."""
        return max(1, ROWS_A_CHUNK // (2 + len(self.columns))), ROWS_A_CHUNK // 2

    @property
    def count(self) -> int:
        """Chunks in all: the same whoever works on them; what a chunk holds depends on the design alone."""
        wide, narrow = self._steps
        return -(-self.shared // wide) - (-(self.base - self.shared) // narrow)

    def chunk(self, number: int) -> Chunk:
        """The chunk of this number, from zero; first those with a bar for each band."""
        wide, narrow = self._steps
        blocks = -(-self.shared // wide)
        if number < blocks:
            return Chunk(number, number * wide, min((number + 1) * wide, self.shared), blocks=True)
        start = self.shared + (number - blocks) * narrow
        return Chunk(number, start, min(start + narrow, self.base), blocks=False)

    @property
    def chunks(self) -> tuple[Chunk, ...]:
        """All of them."""
        return tuple(self.chunk(number) for number in range(self.count))

    def rows(self, chunk: Chunk) -> int:
        """Bars of a chunk."""
        return (chunk.stop - chunk.start) * (2 + (len(self.columns) if chunk.blocks else 0))

    def first_row(self, chunk: Chunk) -> int:
        """Bars in the chunks before this one."""
        wide = 2 + len(self.columns)
        return wide * chunk.start if chunk.blocks else wide * self.shared + 2 * (chunk.start - self.shared)

    def uniform(self, chunk: Chunk) -> Array:
        """Numbers (rows, variables) evenly spread over 0 to 1."""
        from scipy.stats import qmc

        sequence = qmc.Sobol(d=2 * self.variables, scramble=True, seed=np.random.default_rng(self.seed))
        if chunk.start:
            sequence.fast_forward(chunk.start)
        count = chunk.stop - chunk.start
        with warnings.catch_warnings():  # that a chunk is no power of two; the whole is judged by its spread
            warnings.simplefilter("ignore", UserWarning)
            points = sequence.random(count)
        one, two = points[:, : self.variables], points[:, self.variables :]
        made = [one, two]
        if chunk.blocks:
            for columns in self.columns:
                mixed = one.copy()
                mixed[:, columns] = two[:, columns]
                made.append(mixed)
        return np.stack(made, axis=1).reshape(count * len(made), self.variables)


def design_of(*, samples: int, seed: int, columns: tuple[tuple[int, ...], ...]) -> Design:
    """The design nearest to `samples` bars in all, not above; about half of them for the shares.

    Raises
    ------
    InputError
        Too few samples for these bands, or a seed below 0.
    """
    bands = len(columns)
    least = FEWEST_BASE_POINTS * (bands + 2)
    if samples < least:
        raise InputError(
            f"{samples} bars are too few for {bands} bands.",
            where="--samples",
            expected=f"at least {least}; some thousands for chances below 1 %.",
        )
    if samples > MOST_SAMPLES:
        raise InputError(
            f"{samples:,} bars are more than can be kept, and some {samples * S_A_BAR / 3600.0:,.0f} hours of one "
            "processor's work.",
            where="--samples",
            expected=f"at most {MOST_SAMPLES:,}.",
        )
    if seed < 0:
        raise InputError(f"a seed of {seed} is below 0.", where="--seed", expected="0 or a whole number above.")
    shared = max(FEWEST_BASE_POINTS, 2 ** int(math.log2(FOR_SHARES * samples / max(bands, 1))))
    shared = min(shared, samples // (bands + 2), MOST_SHARED)
    base = max(shared, (samples - shared * bands) // 2)
    return Design(seed, base, shared, sum(len(c) for c in columns), columns)
