"""A measured travel history: left and right pickup travel from rest over time.

The file is text with three columns, in this order or named in a header line in any order:

    time_s, left_mm, right_mm       (or plain: time, left, right; or "Time [s]", "left (mm)", ...)

Seconds and mm, no other unit; travel from rest, up positive, as in [travel] of the bar file. Further named columns are
left alone; without a header there are exactly three. Columns are separated by commas, semicolons or tabs; with
semicolons or tabs numbers may have decimal commas. Lines before the header that start with # are comments; the line
below it may say the units.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import TextIO

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped
from barfem.strength.duty.history_columns import COLUMNS, Layout, bad_line, find_layout
from barfem.strength.duty.reversals import filtered_turning_points

__all__ = ["History", "history_of", "read_history"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_LINES_AT_ONCE = 200_000
# A pause in the log this many typical steps long is no longer a lost sample.
_GAP_STEPS = 10.0
# Wheels hop at 10 to 15 Hz; slower logs lose peaks (common practice, no source).
_SLOW_STEP_S = 0.1
# Of a sine of n samples a period the peaks are low by 1 - sin(pi / n) / (pi / n) on average: of fewer by over 2.6 %,
# and a fifth of the damage is not seen (common practice asks for ten, no source). Large: of a quarter of the range.
_FEWEST_SAMPLES, _LARGE_SWING = 8.0, 0.25
# Faster than any log, and three hundred years: not seconds.
_FAST_STEP_S, _LONGEST_S = 1e-6, 1e10
# No pickup moves so far: another unit, raw counts, or a sensor that lost contact.
_FARTHEST_MM = 1000.0
# Sides of the polygon round a history's extremes; a log of a road has some twenty extremes.
_MOST_CORNERS = 32
_THINNEST = 0.01  # of its length, that the polygon follows closely
# Some 100 bytes of memory a sample.
_MOST_SAMPLES = 40_000_000


@frozen
class History:
    """Travel of both pickups from rest [mm, up positive] at times [s] that only grow; all (samples,), read-only.

    `first_line` is that of the first sample in the file it was read from.
    """

    time_s: Array
    left_mm: Array
    right_mm: Array
    source: str = "history"
    warnings: tuple[str, ...] = ()
    first_line: int | None = None

    def place(self, sample: int) -> str:
        """Where a sample (from 0) stands: its line in the file, or its number from 1."""
        return f"sample {sample + 1}" if self.first_line is None else f"line {self.first_line + sample}"

    @property
    def samples(self) -> int:
        return self.time_s.size

    @property
    def duration_s(self) -> float:
        """From the first sample to the last."""
        return float(self.time_s[-1] - self.time_s[0])

    @cached_property
    def extremes(self) -> Index:
        """Samples at the corners of the convex hull in the plane (left, right), ascending: all others lie between them.

        Two samples where travel keeps to a line.
        """
        left, right = self.left_mm, self.right_mm
        if np.ptp(left) > 0.0 and np.ptp(right) > 0.0:
            from scipy.spatial import ConvexHull, QhullError

            with suppress(QhullError):
                return np.sort(np.asarray(ConvexHull(np.stack([left, right], axis=1)).vertices, np.intp))
        # On a line, or as good as on one, the ends of either side are those of both.
        return np.unique([f(side) for f in (np.argmin, np.argmax) for side in (left, right)])

    @cached_property
    def corners(self) -> Array:
        """Travels (corners, 2), left and right [mm], few, between which all samples lie, in the range of either side.

        The extremes; of more than 32, as where a rig drives both sides by sines with a lag and every sample is one,
        the corners of a polygon of as many sides that touch them: at most 0.7 % further out than an ellipse is,
        1 / cos(pi / 28). For what takes every pair of them.
        """
        found = np.stack([self.left_mm[self.extremes], self.right_mm[self.extremes]], axis=1)
        if len(found) <= _MOST_CORNERS:
            return found
        middle = found.mean(axis=0)
        _, size, axes = np.linalg.svd(found - middle, full_matrices=False)
        angle = 2.0 * np.pi / (_MOST_CORNERS - 4) * np.arange(_MOST_CORNERS - 4)
        # Evenly round the history as if it were as wide as long; and the four sides that no travel goes beyond.
        round_it = np.stack([np.cos(angle), np.sin(angle)], axis=1) / np.maximum(size, _THINNEST * size[0]) @ axes
        square = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
        toward = np.concatenate([square, round_it])
        _, order = np.unique(np.round(np.arctan2(toward[:, 1], toward[:, 0]), 6), return_index=True)
        side = toward[order]
        reach = (found @ side.T).max(axis=0)
        lines = np.stack([side, np.roll(side, -1, axis=0)], axis=1)
        meet = np.linalg.solve(lines, np.stack([reach, np.roll(reach, -1)], axis=1)[..., None])[..., 0]
        return np.clip(meet, found.min(axis=0), found.max(axis=0))


def read_history(path: str | Path) -> History:
    """Read a travel history; see the module for what the file holds.

    Raises
    ------
    InputError
        Naming file, line, column and remedy.
    """
    name = str(path)
    try:
        with Path(path).open(encoding="utf-8-sig") as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):  # a device has no end, a pipe no way back
                raise InputError("this is a device or a pipe.", file=name, expected="a history in a file on the disk.")
            layout = find_layout(file, name)
            file.seek(0)
            table = _table(file, layout, name)
    except UnicodeDecodeError as error:
        raise InputError("this is not a text file.", file=name, expected="comma-separated text, UTF-8.") from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"the history cannot be read ({reason}).", file=name, expected="a readable file.") from error
    return history_of(*table, name, layout.first_line)


def _table(file: TextIO, layout: Layout, name: str) -> tuple[Array, Array, Array]:
    """Time, left and right of all lines from the layout's first on."""
    parts: tuple[list[Array], list[Array], list[Array]] = ([], [], [])
    for _ in islice(file, layout.first_line - 1):
        pass
    line, done = layout.first_line, 0
    while lines := list(islice(file, _LINES_AT_ONCE)):
        if len(lines) < _LINES_AT_ONCE:
            while lines and not lines[-1].strip():
                lines.pop()
        if not lines:
            break
        table = _numbers(lines, layout, line, name)
        for part, column in zip(parts, table.T, strict=True):
            part.append(column.copy())
        line += len(lines)
        done += len(lines)
        if done > _MOST_SAMPLES:
            raise InputError(
                f"the history holds more than {grouped(_MOST_SAMPLES)} samples, which need over 4 GB of memory.",
                file=name,
                where=f"line {layout.first_line + _MOST_SAMPLES}",
                expected="parts of it, one at a time (their damage adds up), or fewer samples a second.",
            )
    left, right = parts[1], parts[2]
    # One after another, so that no more than one column is held twice.
    time = np.concatenate(parts[0])
    parts[0].clear()
    return time, np.concatenate(left), np.concatenate(right)


def _numbers(lines: list[str], layout: Layout, first_line: int, name: str) -> Array:
    """(lines, 3): time, left, right."""
    cells = sum(line.count(layout.delimiter) for line in lines) + len(lines)
    if cells != len(lines) * layout.width:
        raise bad_line(lines, layout, first_line, name)
    text = [line.replace(",", ".") for line in lines] if layout.decimal_comma else lines
    try:
        table = np.loadtxt(text, delimiter=layout.delimiter, usecols=layout.use, comments=None, quotechar='"', ndmin=2)
    except ValueError as error:
        raise bad_line(lines, layout, first_line, name) from error
    if table.shape != (len(lines), 3) or not np.all(np.isfinite(table)):
        raise bad_line(lines, layout, first_line, name)
    return table


def history_of(time: Array, left: Array, right: Array, source: str, first_line: int | None) -> History:
    """The history of three columns of finite numbers [s, mm], each (samples,), read from file `source`.

    Raises:
        InputError: Fewer than two samples, times that do not grow or span three hundred years, travel of over a metre.
    """
    history = History(time, left, right, source, first_line=first_line)
    if time.size < 2:
        what = f"the history holds {time.size} sample{'s' if time.size != 1 else ''}; a cycle needs at least two."
        raise InputError(what, file=source, expected="a history of some duration.")
    step = np.diff(time)
    back = np.flatnonzero(step <= 0.0)
    if back.size:
        i = int(back[0])
        raise InputError(
            f"time goes from {time[i]:.9g} s to {time[i + 1]:.9g} s"
            + (f", and fails to grow {back.size} times in all." if back.size > 1 else "."),
            file=source,
            where=f"{history.place(i + 1)}, column {COLUMNS[0]}",
            expected="times in seconds, each greater than the last; enough decimals for the sample rate.",
        )
    if not history.duration_s <= _LONGEST_S:
        raise InputError(
            f"time goes from {time[0]:g} to {time[-1]:g} s, longer than any log.",
            file=source,
            where=COLUMNS[0],
            expected="seconds.",
        )
    for name, travel in zip(COLUMNS[1:], (left, right), strict=True):
        i = int(np.argmax(np.abs(travel)))
        if abs(travel[i]) > _FARTHEST_MM:
            raise InputError(
                f"a travel of {travel[i]:g} mm is not possible.",
                file=source,
                where=f"{history.place(i)}, column {name}",
                expected=f"mm of pickup travel from rest, within {_FARTHEST_MM:g} mm; check unit and sensor.",
            )
    if np.ptp(left) == 0.0 and np.ptp(right) == 0.0:
        raise InputError(
            f"the travel is constant (left {left[0]:g} mm, right {right[0]:g} mm): there is no cycle in it.",
            file=source,
            expected="travel that moves; check the columns and the sensor.",
        )
    for values in (time, left, right):
        values.flags.writeable = False
    return replace(history, warnings=tuple(_warnings(history, step)))


def _warnings(history: History, step: Array) -> Iterator[str]:
    """What the times (`step` between them [s]) say of what the log may have missed."""
    typical = float(np.median(step))
    gaps = np.flatnonzero(step > _GAP_STEPS * typical)
    if gaps.size:
        i = int(gaps[np.argmax(step[gaps])])
        yield (
            f"{history.source}: {gaps.size} gap{'s' if gaps.size > 1 else ''} in time, the longest {step[i]:.4g} s "
            f"before {history.place(i + 1)} (typical step {typical:.4g} s): cycles in a gap are not counted, "
            "its time is, in hours and km."
        )
    if typical > _SLOW_STEP_S:
        yield (
            f"{history.source}: a sample every {typical:.3g} s. Cycles between samples are not counted, and wheels hop "
            "at 10 to 15 Hz; or is the time not in seconds?"
        )
    else:
        samples = _samples_a_swing(history)
        if samples < _FEWEST_SAMPLES:
            lost = 1.0 - float(np.sinc(1.0 / samples))
            yield (
                f"{history.source}: the large swings have {samples:.2g} samples each, a sample every {typical:.3g} s. "
                f"Peaks between samples are not seen: of a sine they are low by {100.0 * lost:.0f} % on average, and "
                "damage is low by several times that. Log faster, or filter what is noise."
            )
    if typical < _FAST_STEP_S:
        yield f"{history.source}: a sample every {typical:.3g} s, faster than any log: is the time not in seconds?"


def _samples_a_swing(history: History) -> float:
    """Samples of a large swing there and back, in roll, or where there is none of the left side; the median."""
    roll = history.left_mm - history.right_mm
    signal = roll if np.ptp(roll) > 0.0 else history.left_mm
    large = filtered_turning_points(signal, hysteresis=_LARGE_SWING * float(np.ptp(signal)))
    # From the start and to the end they are no whole swings.
    return 2.0 * float(np.median(np.diff(large[1:-1]))) if large.size > 3 else np.inf
