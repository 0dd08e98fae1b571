"""One chunk of a tolerance study: its bars made, solved and judged, and their numbers as columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.links import joint_centres
from barfem.solve.beam import HoleSetting
from barfem.solve.solid.nearby import bends_near
from barfem.study.bands import Variable, deviations
from barfem.study.chunks import finite_lists, with_nan
from barfem.study.evaluate import Evaluation, chosen_settings, evaluate
from barfem.study.sampling import Design
from barfem.study.tolerance_bars import BarMaker

__all__ = ["COLUMNS", "Columns", "Table", "ToleranceWork", "level_mm"]

Array = NDArray[np.float64]

COLUMNS = (
    "rate_N_per_mm",
    "peak_MPa",
    "yield_margin",
    "safety_factor_at_target",
    "life_at_survival_cycles",
    "runout_at_survival",
    "status",
    "passes",
)
"""Of an `Evaluation`, each (rows, settings); beside them force_right_N, force_left_N and level_mm."""

OWN = ("force_right_N", "force_left_N", "level_mm")


@dataclass(frozen=True)
class Columns:
    """Numbers (rows, settings) of bars, NaN where one could not be made or solved; then `problems` says why."""

    numbers: Mapping[str, Array]
    mass_kg: Array
    problems: tuple[str | None, ...]

    def to_plain(self) -> dict[str, Any]:
        """As JSON has it; `from_plain` gives the same bits back."""
        return {**finite_lists({**self.numbers, "mass_kg": self.mass_kg}), "problems": list(self.problems)}

    @staticmethod
    def from_plain(plain: Mapping[str, Any]) -> Columns:
        numbers = {name: np.array(with_nan(plain[name]), float) for name in (*COLUMNS, *OWN)}
        return Columns(numbers, np.array(with_nan(plain["mass_kg"]), float), tuple(plain["problems"]))


@dataclass(frozen=True)
class ToleranceWork:
    """Works on a chunk by its number; picklable, so that any process can."""

    bar: Bar
    variables: tuple[Variable, ...]
    design: Design
    holes: tuple[str, ...] | None = None
    case: str | None = None

    @cached_property
    def settings(self) -> tuple[HoleSetting, ...]:
        return chosen_settings(self.bar, holes=self.holes, case=self.case)

    def __call__(self, number: int) -> dict[str, Any]:
        """The chunk's columns as plain lists."""
        return self.columns(number).to_plain()

    def columns(self, number: int) -> Columns:
        chunk = self.design.chunk(number)
        moved = deviations(self.variables, self.design.uniform(chunk))
        made = BarMaker(self.bar, self.variables).made(moved)
        bars = [bar for bar in made if isinstance(bar, Bar)]
        with bends_near(self.bar):
            found = iter(evaluate(bars, holes=self.holes, case=self.case, keep_failures=True))
            rows = [next(found) if isinstance(bar, Bar) else str(bar) for bar in made]
        count = (len(rows), len(self.settings))
        numbers = {name: np.full(count, np.nan) for name in (*COLUMNS, *OWN)}
        mass = np.full(len(rows), np.nan)
        problems: list[str | None] = []
        for i, row in enumerate(rows):
            if isinstance(row, str):
                problems.append(f"it cannot be made: {row}")
                continue
            problems.append(None if row.problem is None else f"it cannot be solved: {row.problem}")
            mass[i] = row.mass_kg
            if row.problem is None:
                _fill(numbers, i, row)
        return Columns(numbers, mass, tuple(problems))


def _fill(numbers: Mapping[str, Array], i: int, row: Evaluation) -> None:
    for name in COLUMNS:
        numbers[name][i] = getattr(row, name)
    numbers["force_right_N"][i], numbers["force_left_N"][i] = row.side_force_N.T
    numbers["level_mm"][i] = level_mm(row.bar, row.settings)


def level_mm(bar: Bar, settings: Sequence[HoleSetting]) -> Array:
    """By how much the left joint stands higher than the right one at rest, (settings,), each along its own travel."""
    x, y, z = bar.travel.direction
    heights = []
    for end, direction in ((bar.right, (x, -y, z)), (bar.left, (x, y, z))):
        joints = joint_centres(end, bar.centreline)
        heights.append([float(np.dot(joints[hole.name], direction)) for hole in end.holes])
    right, left = heights
    return np.array([left[setting.left] - right[setting.right] for setting in settings])


class Table:
    """Room for the columns of every chunk of a study, filled as they come; `columns` is the whole."""

    def __init__(self, design: Design, settings: int) -> None:
        self._design = design
        count = (design.samples, settings)
        self._numbers = {name: np.full(count, np.nan) for name in (*COLUMNS, *OWN)}
        self._mass = np.full(design.samples, np.nan)
        self._problems: list[str | None] = [None] * design.samples

    def fill(self, number: int, part: Columns) -> None:
        """Put in the columns of chunk `number`."""
        first = self._design.first_row(self._design.chunk(number))
        rows = slice(first, first + len(part.mass_kg))
        for name, values in part.numbers.items():
            self._numbers[name][rows] = values
        self._mass[rows] = part.mass_kg
        self._problems[rows] = part.problems

    @property
    def columns(self) -> Columns:
        return Columns(self._numbers, self._mass, tuple(self._problems))
