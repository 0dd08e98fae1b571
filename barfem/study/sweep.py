"""Any keys of a bar file over lists or ranges: every combination made, solved and judged, a row a hole setting."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped
from barfem.study.change import change
from barfem.study.chunks import bar_hash, finite_lists, with_nan
from barfem.study.evaluate import evaluate
from barfem.study.json_values import KEYS, flat, flat_key, hole_setting_json
from barfem.study.saved_chunks import saved_chunks
from barfem.study.sweep_keys import SweepKey

__all__ = ["NUMBERS", "SweepResult", "SweepWork", "sweep"]

POINTS_A_CHUNK = 16
MOST_POINTS = 1_000_000
TRIED = 24

FLAGS = tuple(flat_key(name) for name in ("runout", "runout_at_survival", "passes"))
PLACES = tuple(flat_key(name) for name in ("peak_where", "fatigue_where"))
NUMBERS = tuple(key for name in KEYS if (key := flat_key(name)) not in (*FLAGS, *PLACES))
"""Columns of a sweep that hold numbers: the check's keys, with underscores."""


@frozen
class SweepWork:
    """Works on a chunk of points by its number; picklable, so that any process can."""

    bar: Bar
    keys: tuple[SweepKey, ...]
    paired: bool
    holes: tuple[str, ...] | None = None
    case: str | None = None

    @property
    def points(self) -> int:
        counts = [len(key.values) for key in self.keys]
        return counts[0] if self.paired else math.prod(counts)

    @property
    def chunks(self) -> range:
        return range(-(-self.points // POINTS_A_CHUNK))

    def in_chunk(self, number: int) -> int:
        """Points of a chunk."""
        return min(POINTS_A_CHUNK, self.points - number * POINTS_A_CHUNK)

    def point(self, number: int) -> dict[str, Any]:
        """The values of each key at a point; in a grid the last key changes fastest."""
        if self.paired:
            return {key.key: key.values[number] for key in self.keys}
        found: dict[str, Any] = {}
        for key in reversed(self.keys):
            number, at = divmod(number, len(key.values))
            found[key.key] = key.values[at]
        return {key.key: found[key.key] for key in self.keys}

    def __call__(self, number: int) -> dict[str, Any]:
        """The chunk's columns as plain lists, a row for each hole setting of each point."""
        first = number * POINTS_A_CHUNK
        points = range(first, first + self.in_chunk(number))
        made: list[Bar | str] = []
        for point in points:
            try:
                made.append(change(self.bar, self.point(point)))
            except InputError as error:
                made.append(str(error))
        bars = (bar for bar in made if isinstance(bar, Bar))
        found = iter(evaluate(bars, holes=self.holes, case=self.case))
        columns: dict[str, list[Any]] = {
            name: [] for name in ("point", "left", "right", "case", *NUMBERS, *FLAGS, *PLACES, "problem")
        }
        for point, bar in zip(points, made, strict=True):
            if isinstance(bar, str):
                _add(columns, point, {"problem": bar})
                continue
            one = next(found)
            for j in range(len(one.settings)):
                row = flat(hole_setting_json(one, j)) | {"mass_kg": one.mass_kg}
                if row["problem"] is not None:
                    row |= dict.fromkeys(FLAGS) | {"passes": False}  # as check judges it
                _add(columns, point, row)
        return finite_lists(columns)


def _add(columns: Mapping[str, list[Any]], point: int, row: Mapping[str, Any]) -> None:
    columns["point"].append(point)
    for name, column in columns.items():
        if name != "point":
            column.append(row.get(name))


@frozen
class SweepResult:
    """Columns of equal length, by name: the keys, the hole setting, its numbers (NaN where there are none), `problem`.

    `passes` is False of a hole setting that cannot follow its travel, None of a point that makes no bar.
    `unsolved` counts points that could not be made, or not be solved at one hole setting or more.
    """

    bar: Bar
    keys: tuple[SweepKey, ...]
    points: int
    columns: Mapping[str, list[Any]]
    unsolved: int

    @property
    def rows(self) -> int:
        return len(self.columns["point"])


def sweep(
    bar: Bar,
    keys: Sequence[SweepKey],
    *,
    paired: bool = False,
    holes: Sequence[str] | None = None,
    case: str | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    save: str | Path | None = None,
    progress: Callable[[int, int], None] | None = None,
    taken_up: Callable[[int], None] | None = None,
) -> SweepResult:
    """Every combination of the keys' values, or with `paired` the first of each, the second of each, ...

    A combination that makes no bar, or none that can be solved, is a row with its `problem` and no numbers.

    Parameters
    ----------
    keys
        `barfem.study.sweep_keys.parse_key` reads them from text.
    holes, case
        As `barfem.study.evaluate.evaluate`.
    workers, cluster, save, progress, taken_up
        As `barfem.study.tolerance.tolerance`.

    Raises
    ------
    InputError
        No keys, keys that no bar has, lists of unequal length that are to be paired.
    """
    _refuse(keys, paired)
    work = SweepWork(bar, tuple(keys), paired, None if holes is None else tuple(holes), case)
    if work.points > MOST_POINTS:
        raise InputError(
            f"{grouped(work.points)} combinations are more than can be kept.",
            where="sweep",
            expected=f"at most {grouped(MOST_POINTS)}: fewer values, or --paired.",
        )
    _refuse_keys_of_no_bar(work)
    found: dict[int, dict[str, Any]] = {}
    count = 0
    results = saved_chunks(
        work,
        work.chunks,
        header={
            "study": "sweep",
            "name": bar.name,
            "points": work.points,
            "input": bar_hash(bar, bar.tables, work.keys, paired, work.holes, case),
        },
        save=save,
        workers=workers,
        cluster=cluster,
        taken_up=None if taken_up is None else lambda: taken_up(count),
    )
    for number, plain in results:
        found[number] = plain
        count += work.in_chunk(number)
        if progress:
            progress(count, work.points)
    return _result(work, [found[number] for number in work.chunks])


def _result(work: SweepWork, parts: Sequence[Mapping[str, Any]]) -> SweepResult:
    joined = {name: list(itertools.chain.from_iterable(part[name] for part in parts)) for name in parts[0]}
    values = [work.point(number) for number in joined["point"]]
    columns: dict[str, list[Any]] = {"point": [number + 1 for number in joined["point"]]}
    columns |= {key.key: [value[key.key] for value in values] for key in work.keys}
    columns |= {
        name: with_nan(column) if name in NUMBERS else column for name, column in joined.items() if name != "point"
    }
    bad = {point for point, problem in zip(columns["point"], columns["problem"], strict=True) if problem is not None}
    return SweepResult(work.bar, work.keys, work.points, columns, len(bad))


def _refuse(keys: Sequence[SweepKey], paired: bool) -> None:
    if not keys:
        raise InputError(
            "nothing varies.", where="sweep", expected="a key with values, such as section.diameter=20:26:7."
        )
    names = [key.key for key in keys]
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"{name} is given twice.", where="sweep", expected="each key once, with all its values.")
    counts = {key.key: len(key.values) for key in keys}
    if paired and len(set(counts.values())) > 1:
        counted = ", ".join(f"{name} {count}" for name, count in counts.items())
        raise InputError(
            f"the lists to be paired differ in length: {counted}.", where="--paired", expected="equally many values."
        )


def _refuse_keys_of_no_bar(work: SweepWork) -> None:
    """A misspelt key spoils every point: some, spread over all, are tried before any work is done."""
    step = max(1, work.points // TRIED)
    first: BarfemError | None = None
    for number in range(0, work.points, step):
        try:
            change(work.bar, work.point(number))
        except InputError as error:
            first = first or error
        else:
            return
    if first is not None:
        raise first
