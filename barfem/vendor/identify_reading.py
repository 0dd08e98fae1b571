"""Measured load-deflection curves as CSV: travel and force at the moving pickup, by hole pair, case and bar."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import counted
from barfem.vendor.csv_reading import Line, Sheet, read_sheet

__all__ = ["LEAST_POINTS", "Curve", "read_curves"]

Array = NDArray[np.float64]
LEAST_POINTS = 6
_KNOWN = ("x_mm", "force_N", "x_in", "force_lbf", "hole_left", "hole_right", "case", "bar", "branch")
_UNITS = {("mm", "N"): ("x_mm", 1.0, "force_N", 1.0), ("in", "lbf"): ("x_in", 25.4, "force_lbf", 4.4482216152605)}
_CASES = {"one_end_held": "one-wheel", "one-end-held": "one-wheel", "one end held": "one-wheel", "roll": "roll"}
_FARTHEST_MM, _LARGEST_N = 1000.0, 1e6
_BRANCHES = {"up": 1.0, "loading": 1.0, "down": -1.0, "unloading": -1.0, "": 0.0}


@frozen
class Curve:
    """One bar on one hole pair in one case: travel [mm] and force [N] at the moving pickup, in the file's order.

    `left`, `right` number the holes, `hole_left`, `hole_right` name them; `case` is "one-wheel" (one end held) or
    "roll"; `branch` is 1 where the travel
    rises, -1 where it falls, 0 where that is not known.
    """

    file: str
    bar: str
    left: int
    right: int
    case: str
    x_mm: Array
    force_N: Array
    branch: Array
    line: int
    hole_left: str
    hole_right: str

    @property
    def case_key(self) -> str:
        """The case as the file of curves says it."""
        return "one_end_held" if self.case == "one-wheel" else "roll"

    @property
    def words(self) -> str:
        """The hole pair and case, such as "hole 2, one end held"."""
        left, right = self.hole_left, self.hole_right
        hole = f"hole {left}" if left == right else f"holes {left}/{right}"
        return f"{hole}, {'one end held' if self.case == 'one-wheel' else 'roll'}" + (
            f", {self.bar}" if self.bar else ""
        )


def read_curves(path: str | os.PathLike[str], bar: Bar) -> tuple[list[Curve], tuple[str, ...]]:
    """The curves of a file, and notes of how it was read.

    Raises
    ------
    InputError
        Units, case or holes are missing or unknown, a number is none, or a curve has too few points.
    """
    sheet = read_sheet(path, kind="a load-deflection CSV file", known=_KNOWN)
    x_name, x_factor, force_name, force_factor = _units(sheet)
    sheet.require((x_name, force_name))
    told = cache(sheet.told)
    groups: dict[tuple[str, int, int, str], list[tuple[float, float, float, int]]] = {}
    for line in sheet.lines:
        x = line.required(x_name, "travel of the moving pickup.") * x_factor
        force = line.required(force_name, "force at the moving pickup.") * force_factor
        for column, value, most, unit in ((x_name, x, _FARTHEST_MM, "mm"), (force_name, force, _LARGEST_N, "N")):
            if abs(value) > most:
                raise line.error(
                    column, f"{value:g} {unit} is no bar's.", f"within {most:g} {unit}; is the unit right?"
                )
        branch = line.text("branch").lower()
        if branch not in _BRANCHES:
            raise line.error("branch", f"{branch!r} is no branch.", f"one of {', '.join(filter(None, _BRANCHES))}.")
        left, right = _hole(line, told, bar, "left"), _hole(line, told, bar, "right")
        key = (line.text("bar") or told("bar"), left, right, _case(line, told))
        groups.setdefault(key, []).append((x, force, _BRANCHES[branch], line.number))
    if not groups:
        raise sheet.error("there are no points.", "a line a point, below the column names.")
    curves = []
    for (name, left, right, case), points in groups.items():
        array = np.array(points)
        curve = Curve(
            sheet.file,
            name,
            left,
            right,
            case,
            array[:, 0],
            array[:, 1],
            _branch(array),
            int(array[0, 3]),
            bar.left.holes[left].name,
            bar.right.holes[right].name,
        )
        if len(points) < LEAST_POINTS or np.ptp(array[:, 0]) <= 0.0 or np.ptp(array[:, 1]) <= 0.0:
            raise sheet.error(
                f"{curve.words}: {counted(len(points), 'point')} over {np.ptp(array[:, 0]):g} mm and "
                f"{np.ptp(array[:, 1]):g} N.",
                f"at least {LEAST_POINTS} points over a travel and its force (ten a branch for slack and friction).",
                where=f"line {curve.line}",
            )
        curves.append(curve)
    return curves, sheet.notes


def _units(sheet: Sheet) -> tuple[str, float, str, float]:
    text = sheet.field("units", "mm, N")
    units = [unit.strip() for unit in text.split(",")]
    if tuple(units) not in _UNITS:
        raise sheet.error(f"units = {text}.", "mm, N (or in, lbf with columns x_in, force_lbf).", where="header, units")
    return _UNITS[units[0], units[1]]


def _case(line: Line, told: Callable[[str], str]) -> str:
    text = line.text("case") or told("case")
    if text.lower() not in _CASES:
        problem = f"{text!r} is no case." if text else "no case is given."
        raise line.error("case", problem, "# case = one_end_held or roll in the header, or a column case.")
    return _CASES[text.lower()]


def _hole(line: Line, told: Callable[[str], str], bar: Bar, side: str) -> int:
    names = [hole.name for hole in (bar.left if side == "left" else bar.right).holes]
    text = line.text(f"hole_{side}") or told(f"hole_{side}") or told("hole")
    if not text and len(names) == 1:
        return 0
    text = text.removeprefix("hole ").strip()
    if text not in names:
        problem = f"{text!r} is no hole of the {side} end." if text else f"which hole of the {side} end is not said."
        raise line.error(
            f"hole_{side}", problem, f"one of {', '.join(names)}, in a column or # hole = 2 in the header."
        )
    return names.index(text)


def _branch(points: Array) -> Array:
    """Given, or by which way the travel goes."""
    given = points[:, 2]
    if np.any(given != 0.0):
        return np.asarray(given)
    step = np.sign(np.diff(points[:, 0], prepend=points[0, 0]))
    step[0] = step[1] if len(step) > 1 else 0.0
    return np.asarray(step)


def several(paths: Sequence[str], bar: Bar) -> tuple[list[Curve], tuple[str, ...]]:
    """The curves of several files.

    Raises
    ------
    InputError
        As `read_curves`; or one curve stands in two files.
    """
    curves: list[Curve] = []
    notes: list[str] = []
    for path in paths:
        more, curve_notes = read_curves(path, bar)
        for curve in more:
            same = next(
                (
                    o
                    for o in curves
                    if (o.bar, o.left, o.right, o.case) == (curve.bar, curve.left, curve.right, curve.case)
                ),
                None,
            )
            if same is not None:
                raise InputError(
                    f"{curve.words} stands in {same.file} already.",
                    where=f"line {curve.line}",
                    expected="each curve once, or a column bar.",
                    file=curve.file,
                )
        curves += more
        notes += [f"{path}: {note}" for note in curve_notes]
    return curves, tuple(notes)
