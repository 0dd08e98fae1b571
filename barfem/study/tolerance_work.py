"""One chunk of a tolerance study: its bars made, solved and judged, and their numbers as columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.links import joint_centres
from barfem.solve.beam import HoleSetting
from barfem.solve.solid.nearby import bends_near
from barfem.study.bands import Variable, deviations
from barfem.study.chunks import finite_lists, with_nan
from barfem.study.evaluate import chosen_settings, evaluate
from barfem.study.evaluation import Evaluation, Places
from barfem.study.sampling import Design
from barfem.study.tolerance_bars import BarMaker

__all__ = ["BEYOND", "COLUMNS", "OF_PLACES", "OWN", "Columns", "Table", "ToleranceWork", "level_mm", "place_names"]

Array = NDArray[np.float64]

COLUMNS = (
    "rate_N_per_mm",
    "peak_MPa",
    "yield_margin",
    "safety_factor_at_target",
    "goodman_safety_factor",
    "target_share_at_survival",
    "life_at_survival_cycles",
    "runout_at_survival",
    "status",
    "repeats_at_survival",
    "passes",
)
"""Of an `Evaluation`, each (rows, settings)."""

OWN = ("force_right_N", "force_left_N", "level_mm")
"""Beside them, each (rows, settings)."""

OF_PLACES = (
    "peak_MPa",
    "yield_margin",
    "safety_factor_at_target",
    "goodman_safety_factor",
    "target_share_at_survival",
    "log10_life",
)
"""Of its `Places`, each (rows, settings, places)."""

BEYOND = 99.0
"""Of a log10 of life: beyond the knee; and with a minus, that none can be stated."""


@frozen
class Columns:
    """Numbers (rows, settings) of bars, NaN where one could not be made or solved; then `problems` says why.

    `places` are numbers of the places, (rows, settings, places); in a bar that lacks one they are NaN.
    """

    numbers: Mapping[str, Array]
    places: Mapping[str, Array]
    mass_kg: Array
    problems: tuple[str | None, ...]

    def to_plain(self) -> dict[str, Any]:
        """As JSON has it; `from_plain` gives the same bits back."""
        numbers = {**finite_lists({**self.numbers, "mass_kg": self.mass_kg}), "problems": list(self.problems)}
        return {**numbers, "places": finite_lists(self.places)}

    @staticmethod
    def from_plain(plain: Mapping[str, Any]) -> Columns:
        numbers = {name: np.array(with_nan(plain[name]), float) for name in (*COLUMNS, *OWN)}
        places = {name: np.array(with_nan(plain["places"][name]), float) for name in OF_PLACES}
        return Columns(numbers, places, np.array(with_nan(plain["mass_kg"]), float), tuple(plain["problems"]))


@frozen
class ToleranceWork:
    """Works on a chunk by its number; picklable, so that any process can. `places` are those of the bar as drawn."""

    bar: Bar
    variables: tuple[Variable, ...]
    design: Design
    places: tuple[tuple[str, int, int], ...]
    holes: tuple[str, ...] | None = None
    case: str | None = None

    @cached_property
    def settings(self) -> tuple[HoleSetting, ...]:
        return chosen_settings(self.bar, holes=self.holes, case=self.case)

    def __call__(self, number: int) -> dict[str, Any]:
        """The chunk's columns as plain lists."""
        return self.columns(number).to_plain()

    def moved(self, number: int) -> Array:
        """Deviations (rows, variables) of a chunk's bars."""
        return deviations(self.variables, self.design.uniform(number))

    def columns(self, number: int) -> Columns:
        made = BarMaker(self.bar, self.variables).made(self.moved(number))
        bars = [bar for bar in made if isinstance(bar, Bar)]
        with bends_near(self.bar):
            found = iter(evaluate(bars, holes=self.holes, case=self.case, halves=True))
            rows = [next(found) if isinstance(bar, Bar) else str(bar) for bar in made]
        numbers, places = _blank(len(rows), len(self.settings), len(self.places))
        mass = np.full(len(rows), np.nan)
        problems: list[str | None] = []
        for i, row in enumerate(rows):
            if isinstance(row, str):
                problems.append(f"it cannot be made: {row}")
                continue
            problem = next(filter(None, row.problems), None)
            problems.append(None if problem is None else f"it cannot be solved: {problem}")
            mass[i] = row.mass_kg
            _fill(numbers, i, row)
            if row.places is not None:
                self._fill_places(places, i, row.places)
        return Columns(numbers, places, mass, tuple(problems))

    def _fill_places(self, into: Mapping[str, Array], i: int, found: Places) -> None:
        """Place by place as the drawn bar has them: two whose middles change places do so here as well."""
        at = {name: p for p, name in enumerate(found.names)}
        have = [(p, at[name]) for p, name in enumerate(self.places) if name in at]
        here, there = (list(each) for each in zip(*have, strict=True))
        with np.errstate(divide="ignore"):
            life = np.clip(np.log10(found.ordered_life), -BEYOND, BEYOND)
        for name in OF_PLACES:
            values = life if name == "log10_life" else getattr(found, name)
            into[name][i][:, here] = values[:, there]


def place_names(
    bar: Bar, *, holes: Sequence[str] | None = None, case: str | None = None
) -> tuple[tuple[str, int, int], ...]:
    """Names of the places of a bar as the columns have them, every straight in two halves; none where it fails."""
    (found,) = evaluate([bar], holes=holes, case=case, halves=True)
    return () if found.places is None else found.places.names


def _blank(rows: int, settings: int, places: int) -> tuple[dict[str, Array], dict[str, Array]]:
    return (
        {name: np.full((rows, settings), np.nan) for name in (*COLUMNS, *OWN)},
        {name: np.full((rows, settings, places), np.nan) for name in OF_PLACES},
    )


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
    """Room for the columns of the first `rows` bars of a study, filled as chunks come."""

    def __init__(self, design: Design, settings: int, places: int, rows: int) -> None:
        self._design = design
        self._numbers, self._places = _blank(rows, settings, places)
        self._mass = np.full(rows, np.nan)
        self._problems: list[str | None] = [None] * rows

    def fill(self, number: int, part: Columns) -> None:
        """Put in the columns of chunk `number`."""
        chunk = self._design.rows(number)
        rows = slice(chunk.start, chunk.stop)
        for name, values in part.numbers.items():
            self._numbers[name][rows] = values
        for name, values in part.places.items():
            self._places[name][rows] = values
        self._mass[rows] = part.mass_kg
        self._problems[rows] = part.problems

    def columns(self, count: int) -> Columns:
        """Those of the first `count` bars."""
        numbers, places = ({name: each[:count] for name, each in of.items()} for of in (self._numbers, self._places))
        return Columns(numbers, places, self._mass[:count], tuple(self._problems[:count]))
