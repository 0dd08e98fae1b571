"""Rainflow counting by ASTM E1049-85 (section 5.4.4), and its simplified form for a repeated history (5.4.5).

What remains after all closed cycles are taken (the residue) counts as half cycles, one for each of its ranges: that is
what the standard's three-point rule gives when it discards starting points. Counted as `repeat`, the history starts and
ends at its highest point and follows itself for ever; then every cycle closes.

The standard's rule and the four-point rule used here give the same cycles. E1049 counts range Y (points b, c) as one
cycle when the next range X is no smaller and Y does not hold the start. Had the range W before Y been smaller than Y,
W would have been counted when Y was its X; so W is no smaller either, which is the four-point rule.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.strength.duty.reversals import as_signals, pair_ranges, reversals

__all__ = ["Cycles", "Residue", "count_cycles"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

Residue = Literal["half", "repeat"]

_GROUP_SAMPLES = 1 << 17


@frozen
class Cycles:
    """Cycles of one or more signals; all arrays are of one length.

    Attributes
    ----------
    signal
        Which signal (row) the cycle belongs to.
    first, second
        Sample numbers of the cycle's two ends in the signal, in the order of time (a cycle of a repeated history
        that closes over its end may have `second` before `first`).
    count
        1 for a cycle, 0.5 for a half cycle.
    range, mean
        Of the signal over the cycle, in its own unit; the range is positive.
    """

    signal: Index
    first: Index
    second: Index
    count: Array
    range: Array
    mean: Array


def count_cycles(values: ArrayLike, *, residue: Residue = "half") -> Cycles:
    """Rainflow cycles of `values`: one signal (samples,), or several (signals, samples), each counted on its own.

    Parameters
    ----------
    residue
        "half": by ASTM E1049 5.4.4, what closes no cycle counts half. "repeat": by 5.4.5, the history is one of many
        repeats.

    Raises
    ------
    BarfemError
        No sample, or a value that is not a finite number.
    """
    signals = as_signals(values)
    if residue == "repeat":
        return _count_repeated(signals)
    # A group of signals at a time: working arrays that fit the cache are several times faster.
    rows = max(1, _GROUP_SAMPLES // signals.shape[1])
    groups = [_count_group(signals[i : i + rows], i) for i in range(0, len(signals), rows)]
    if len(groups) == 1:
        return groups[0]
    return Cycles(
        **{field.name: np.concatenate([getattr(group, field.name) for group in groups]) for field in fields(Cycles)}
    )


def _count_group(signals: Array, number: int) -> Cycles:
    """E1049 5.4.4 for signals numbered from `number` on."""
    flat, samples = signals.ravel(), signals.shape[1]
    position = reversals(signals)
    signal = position // samples
    last = np.concatenate([signal[1:] != signal[:-1], [True]])
    pairs = pair_ranges(flat[position], last)
    rest = pairs.rest
    joined = signal[rest[1:]] == signal[rest[:-1]]
    first = position[np.concatenate([pairs.first, rest[:-1][joined]])]
    second = position[np.concatenate([pairs.second, rest[1:][joined]])]
    a, b = flat[first], flat[second]
    return Cycles(
        signal=first // samples + number,
        first=first % samples,
        second=second % samples,
        count=np.repeat([1.0, 0.5], [pairs.first.size, int(joined.sum())]),
        range=np.abs(a - b),
        mean=0.5 * (a + b),
    )


def _count_repeated(signals: Array) -> Cycles:
    """From each signal's highest point once round to itself."""
    samples = signals.shape[1]
    top = np.argmax(signals, axis=1)
    order = (top[:, None] + np.arange(samples + 1)) % samples
    found = count_cycles(np.take_along_axis(signals, order, axis=1))
    first, second = order[found.signal, found.first], order[found.signal, found.second]
    return Cycles(found.signal, first, second, found.count, found.range, found.mean)
