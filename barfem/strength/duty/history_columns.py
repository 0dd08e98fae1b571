"""How a travel history's columns are laid out, and what is wrong with a line that does not fit."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TextIO

from barfem.model.errors import InputError
from barfem.model.frozen import frozen

__all__ = ["COLUMNS", "Layout", "bad_line", "find_layout"]

COLUMNS = ("time_s", "left_mm", "right_mm")

_NAMES = {"time": 0, "left": 1, "right": 2}
_UNITS = ("s", "mm", "mm")
# "time_s", "time", "Time [s]", "left (mm)"
_NAME = re.compile(r"(time|left|right)(?:[ _]*[\[(]?(s|mm)[\])]?)?")
_RIGHT = "three columns: time_s, left_mm, right_mm (seconds; mm of pickup travel from rest, up positive)."


@frozen
class Layout:
    """`use` are the columns of time, left, right among `width`; `first_line` (from 1) is the first line of numbers."""

    delimiter: str
    width: int
    use: tuple[int, int, int]
    first_line: int
    decimal_comma: bool

    def cells(self, line: str) -> list[str]:
        return [cell.strip().strip('"').strip() for cell in line.strip("\r\n").split(self.delimiter)]

    def number(self, cell: str) -> float:
        """The number in a cell; ValueError if there is none."""
        return float(cell.replace(",", ".") if self.decimal_comma else cell)


def find_layout(file: TextIO, name: str) -> Layout:
    """Read the head of `file`, up to the first line of numbers, and find how its columns are laid out.

    Raises
    ------
    InputError
        The file is empty, or its head does not give the three columns.
    """
    at, line, header = 0, "", None
    for text in file:
        at += 1
        if not text.strip() or text.lstrip().startswith("#"):
            continue
        if header is None and not _starts_with_number(text):
            header = (at, text)
            continue
        if header is not None and at == header[0] + 1 and _is_units(header, text, name):
            continue
        line = text
        break
    if not line:
        what = "the history holds a header and no samples." if header else "the history is empty."
        raise InputError(what, file=name, expected=_RIGHT)
    delimiter = _delimiter(header[1] if header else line, line)
    decimal_comma = delimiter != ","
    if header is None:
        layout = Layout(delimiter, 3, (0, 1, 2), at, decimal_comma)
        width = len(layout.cells(line))
        if width != 3:
            raise InputError(
                f"{width} column{'s' if width != 1 else ''} and no header.{_hint(layout, line)}",
                file=name,
                where=f"line {at}",
                expected=_RIGHT,
            )
        return layout
    names = Layout(delimiter, 3, (0, 1, 2), at, decimal_comma).cells(header[1])
    return Layout(delimiter, len(names), _use(names, header[0], name), at, decimal_comma)


def _starts_with_number(text: str) -> bool:
    first = text.replace(";", ",").replace("\t", ",").split(",")[0].strip().strip('"')
    try:
        float(first.split()[0] if first else first)
    except ValueError:
        # An empty cell, or a "nan" spelled out, is a bad sample and no header.
        return first == ""
    return True


def _is_units(header: tuple[int, str], text: str, file: str) -> bool:
    """Whether `text`, below the header, is a row of units and they are ours.

    Raises
    ------
    InputError
        A row of units that are not.
    """
    if _starts_with_number(text):
        return False
    layout = Layout(_delimiter(header[1], text), 3, (0, 1, 2), header[0], False)
    names, units = layout.cells(header[1]), layout.cells(text)
    use = _use(names, header[0], file)
    if len(units) != len(names):
        return False
    given = [units[column].strip("[]() ").lower() for column in use]
    if any(len(unit) > 6 or any(sign.isdigit() for sign in unit) for unit in given):
        return False
    if tuple(given) != _UNITS:
        raise InputError(
            f"units of {', '.join(given)} for {', '.join(COLUMNS)}.",
            file=file,
            where=f"line {header[0] + 1}",
            expected="s, mm and mm. Other units are not converted.",
        )
    return True


def _delimiter(head: str, line: str) -> str:
    for delimiter in (";", "\t", ","):
        if delimiter in head and delimiter in line:
            return delimiter
    return ","


def _use(names: Sequence[str], line: int, file: str) -> tuple[int, int, int]:
    found: dict[int, int] = {}
    for column, text in enumerate(names):
        match = _NAME.fullmatch(text.lower())
        if match is None:
            continue
        which = _NAMES[match[1]]
        if match[2] not in (None, _UNITS[which]):
            continue
        if which in found:
            raise InputError(f"two columns for {COLUMNS[which]}.", file=file, where=f"line {line}", expected=_RIGHT)
        found[which] = column
    missing = [COLUMNS[i] for i in range(3) if i not in found]
    if missing:
        listed = ", ".join(repr(text) for text in names[:12])
        raise InputError(
            f"the header names no column {' and no column '.join(missing)}; it names {listed}.{_spaces(names)}",
            file=file,
            where=f"line {line}",
            expected=f"{_RIGHT} Other units are not converted.",
        )
    return found[0], found[1], found[2]


def _hint(layout: Layout, line: str) -> str:
    """What may be the matter with a line of another number of columns."""
    cells = layout.cells(line)
    if len(cells) == layout.width + 1 and not cells[-1]:
        return f" The last is empty: take the {layout.delimiter!r} at the end of each line away, or name the column."
    if layout.delimiter == "," and len(cells) in (4, 5, 6):
        return " If these are decimal commas, separate the columns with semicolons."
    return _spaces(cells)


def _spaces(cells: Sequence[str]) -> str:
    if len(cells) == 1 and len(cells[0].split()) > 1:
        return " Separate the columns with commas, semicolons or tabs; spaces do not."
    return ""


def bad_line(lines: Sequence[str], layout: Layout, first_line: int, file: str) -> InputError:
    """The error for the first of `lines` (numbered from `first_line` on) that is not three finite numbers."""
    for line, text in enumerate(lines, start=first_line):
        problem = _problem(text, layout)
        if problem:
            column, what = problem
            where = f"line {line}" + (f", column {COLUMNS[column]}" if column is not None else "")
            return InputError(what, file=file, where=where, expected="a finite number in each column of every line.")
    last = first_line + len(lines) - 1
    return InputError(
        "a line cannot be read.", file=file, where=f"lines {first_line} to {last}", expected="plain numbers."
    )


def _problem(text: str, layout: Layout) -> tuple[int | None, str] | None:
    if not text.strip():
        return None, "a blank line amid the samples."
    cells = layout.cells(text)
    if len(cells) != layout.width:
        hint = _hint(layout, text)
        return None, f"{len(cells)} column{'s' if len(cells) != 1 else ''} where {layout.width} are needed.{hint}"
    for which, column in enumerate(layout.use):
        cell = cells[column]
        if not cell:
            return which, "an empty cell."
        try:
            value = layout.number(cell)
        except ValueError:
            return which, f"{cell!r} is not a number."
        if not math.isfinite(value) and any(sign.isdigit() for sign in cell):
            return which, f"{cell!r} is too large for a number."
        if not math.isfinite(value):
            return which, f"{cell!r} is not a finite number: a sample is missing. Cut it out or fill it in."
        if "_" in cell:
            return which, f"{cell!r} is not a plain number."
    return None
