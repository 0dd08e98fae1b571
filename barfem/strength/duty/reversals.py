"""Where a signal turns, and the removal of its small cycles: the arithmetic under rainflow counting, on many signals.

Signals of one length are laid one after another in a flat array and worked on together, so that nothing loops over
signals or samples. Between two signals there is a wall that no cycle crosses.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen

__all__ = ["Pairs", "as_signals", "filtered_turning_points", "pair_ranges", "reversals"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]

_NO_RANGE = -1.0
# A vectorised pass over n points costs about a thirtieth of one scalar sweep over them. Nested cycles may need a pass
# each; once the passes have cost as much as the sweep, the sweep takes over, so that the work stays linear in n.
_PASSES_WORTH_A_SWEEP = 30


@frozen
class Pairs:
    """Closed cycles as pairs of positions (`first` before `second`), and the `rest` that closes no cycle."""

    first: Index
    second: Index
    rest: Index


def as_signals(values: ArrayLike) -> Array:
    """`values` as (signals, samples).

    Raises
    ------
    BarfemError
        Not one or two axes, no sample, or a value that is not a finite number.
    """
    signals = np.atleast_2d(np.asarray(values, float))
    if signals.ndim != 2 or signals.size == 0:
        raise BarfemError(f"counting cycles: values of shape {np.shape(values)}, not (samples) or (signals, samples)")
    if not np.all(np.isfinite(signals)):
        raise BarfemError(f"counting cycles: {np.sum(~np.isfinite(signals))} values are not finite numbers")
    return signals


def reversals(signals: Array) -> Index:
    """Flat positions where each of the signals (signals, samples) turns, with the first and last of each signal.

    Of a level stretch its first sample stands for all; a constant signal leaves one position.
    """
    samples = signals.shape[1]
    flat = signals.ravel()
    moves = np.empty(flat.size, bool)
    np.not_equal(flat[1:], flat[:-1], out=moves[1:])
    moves[::samples] = True
    if moves.all():
        position, values = np.arange(flat.size), flat
    else:
        position = np.flatnonzero(moves)
        values = flat[position]
    keep = np.ones(values.size, bool)
    if values.size > 2:
        up = values[1:] > values[:-1]
        np.not_equal(up[1:], up[:-1], out=keep[1:-1])
    first = np.flatnonzero(position % samples == 0) if len(signals) > 1 else np.zeros(1, np.intp)
    keep[first] = True
    keep[first[1:] - 1] = True
    return position[keep]


def pair_ranges(values: Array, last: Bools, *, below: float = np.inf) -> Pairs:
    """The closed cycles of turning points by the four-point rule, and what remains.

    Of four turning points in a row the middle two are a cycle when their range is no greater than either neighbour's;
    both are taken out and the rule is applied again until nothing is left to take. The outcome does not depend on the
    order (but for which of equal cycles is taken). All smallest ranges are taken at once in each pass.

    Parameters
    ----------
    values (n,)
        Turning points of one signal after another.
    last (n,)
        True at the last point of each signal.
    below
        Only cycles of a smaller range are taken; by default all.

    Returns
    -------
    Pairs
        Positions in `values`. `rest` is ascending.
    """
    position: Index = np.arange(values.size)
    first: list[Index] = []
    second: list[Index] = []
    work, budget = 0, _PASSES_WORTH_A_SWEEP * values.size
    while position.size > 3:
        if work > budget:
            a, b, position = _sweep(values, last, position, below)
            first.append(a)
            second.append(b)
            break
        work += position.size
        x = values[position]
        size = np.abs(x[1:] - x[:-1])
        size[last[position[:-1]]] = _NO_RANGE
        take = np.zeros(size.size, bool)
        middle = size[1:-1]
        np.logical_and(middle <= size[:-2], middle <= size[2:], out=take[1:-1])
        # A wall is its own neighbour's least, and is never taken itself.
        take &= size >= 0.0
        if below < np.inf:
            take &= size < below
        found = np.flatnonzero(take)
        if found.size == 0:
            break
        found = _every_other_of_a_run(found)
        first.append(position[found])
        second.append(position[found + 1])
        keep = np.ones(position.size, bool)
        keep[found] = False
        keep[found + 1] = False
        position = position[keep]
    empty = np.zeros(0, np.intp)
    return Pairs(np.concatenate([empty, *first]), np.concatenate([empty, *second]), position)


def filtered_turning_points(values: ArrayLike, *, hysteresis: float = 0.0) -> Index:
    """Sample numbers where one signal (samples,) turns, cycles of a range below `hysteresis` taken out.

    First and last sample stay (of a level stretch, its first sample).
    """
    signal = np.asarray(values, float).ravel()
    position = reversals(signal[None, :])
    if hysteresis <= 0.0:
        return position
    last = np.zeros(position.size, bool)
    last[-1] = True
    return position[pair_ranges(signal[position], last, below=hysteresis).rest]


def _every_other_of_a_run(found: Index) -> Index:
    """Of neighbouring ranges (equal ones, or both could not be least) the first, third, fifth: they share no point."""
    step = np.diff(found) == 1
    if not step.any():
        return found
    order = np.arange(found.size)
    start = np.maximum.accumulate(np.where(np.concatenate([[True], ~step]), order, 0))
    return found[(order - start) % 2 == 0]


def _sweep(values: Array, last: Bools, position: Index, below: float) -> tuple[Index, Index, Index]:
    """The same by a stack, one point after another."""
    x, ends = values[position].tolist(), last[position].tolist()
    first, second, rest = [], [], []
    stack: list[int] = []
    for i, value in enumerate(x):
        stack.append(i)
        while len(stack) > 3:
            a, b, c = x[stack[-4]], x[stack[-3]], x[stack[-2]]
            inner = abs(c - b)
            if inner > abs(b - a) or inner > abs(value - c) or inner >= below:
                break
            first.append(stack[-3])
            second.append(stack[-2])
            del stack[-3:-1]
        if ends[i]:
            rest += stack
            stack = []
    rest += stack
    return position[np.array(first, int)], position[np.array(second, int)], position[np.array(rest, int)]
