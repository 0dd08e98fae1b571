"""A firm's table of bar tests, one bar a line: what `barfem fit` reads."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from barfem.model.csv_lines import refuse_long_lines
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import counted
from barfem.model.load_case import CASES
from barfem.model.nearest import nearest
from barfem.model.plausible import TESTED_MM
from barfem.model.sentences import enumerated
from barfem.model.surfaces import surface_condition
from barfem.model.units import UNITS, number

__all__ = ["COLUMNS", "LOADS", "BarTest", "read_bar_tests"]

# Column: the quantity that its cells hold (a kind of `barfem.model.units`, or force) and the unit in its name.
_QUANTITIES = {
    "amplitude": ("stress", "MPa"),
    "mean": ("stress", "MPa"),
    "travel": ("length", "mm"),
    "force": ("force", "N"),
    "diameter": ("length", "mm"),
}
_WORDS = ("bar", "hole", "case", "result", "place", "surface", "peening", "note")
_NUMBERS = {"cycles": "cycles", "r": "R"}  # columns of numbers without a unit, as they are called
COLUMNS = (*(f"{name}_{unit}" for name, (_, unit) in _QUANTITIES.items()), *_NUMBERS.values(), *_WORDS)
LOADS = ("amplitude_MPa", "travel_mm", "force_N")
_PEENING = ("none", "shot")
_RESULTS = {"broken": True, "stopped": False}
_RIGHT = (
    "a header such as bar,amplitude_MPa,cycles,result (or travel_mm or force_N with --bar); others that are read: "
    + ", ".join(name for name in COLUMNS if name not in ("bar", *LOADS, "cycles", "result"))
    + "."
)
# A name and, behind an underscore or in brackets, its unit: amplitude_MPa, "amplitude (ksi)", Travel [in].
_HEADING = re.compile(r"([a-z]+)(?:[\s_]*[\[(]\s*(.+?)\s*[\])]|_(\S+))?", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?[\d.,]+(e[+-]?\d+)?", re.IGNORECASE)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}([.,  ' ]\d{3})+")
_OF_A_CYCLE = ("range", "max", "min", "maximum", "minimum", "stress")  # what a cycle is given by elsewhere
_FORCE_UNITS = {"n": 1.0, "kn": 1000.0, "lbf": 4.4482216152605}


@frozen(kw_only=True)
class BarTest:
    """One bar's test. Exactly one of `amplitude_MPa` (local), `travel_mm` and `force_N` is not None.

    `cycles` to the break, or to where an unbroken bar was stopped. Words that the line leaves out are None.
    """

    line: int
    cycles: float
    broken: bool
    amplitude_MPa: float | None = None
    travel_mm: float | None = None
    force_N: float | None = None
    mean_MPa: float | None = None
    diameter_mm: float | None = None
    bar: str | None = None
    hole: str | None = None
    case: str | None = None
    place: str | None = None
    surface: str | None = None
    peening: str | None = None
    unused_loads: tuple[str, ...] = ()

    @property
    def load(self) -> tuple[str, float]:
        """The column that gives the load, and its value."""
        for name in LOADS:
            value = getattr(self, name)
            if value is not None:
                return name, float(value)
        raise AssertionError("a test without a load was read")


def read_bar_tests(path: Path) -> tuple[tuple[BarTest, ...], tuple[str, ...]]:
    """The tests of a CSV file, and what has to be said of them.

    Columns by name in any order, separated by commas, semicolons or tabs; with the latter two decimals may be commas.
    UTF-8 with or without a byte-order mark; lines that are blank or start with # are passed over.

    Raises
    ------
    InputError
        The file or a cell cannot be right; names file, line, column and value, and what would be right.
    """
    file = str(path)
    rows = _rows(path)
    if not rows:
        raise InputError("the table of tests is empty.", file=file, expected=_RIGHT)
    (head_line, head), body = rows[0], rows[1:]
    headings, warnings = _headings(head, head_line, file)
    if not body:
        raise InputError("the table holds a header and no tests.", file=file, expected="one test a line below it.")
    tests = tuple(_test(cells, line, headings, file) for line, cells in body)
    for name in LOADS[1:]:
        unused = [test.line for test in tests if name in test.unused_loads]
        if unused:
            of = "lines" if len(unused) > 1 else "line"
            warnings.append(
                f"{name} of {of} {', '.join(map(str, unused))} is not used: a load nearer to the steel stands there"
            )
    return tests, (*warnings, *_repeated(tests))


@frozen
class _Cell:
    """A cell with where it stands; `decimal_comma` where no comma separates the columns."""

    text: str
    file: str
    line: int
    column: str
    decimal_comma: bool

    def wrong(self, problem: str, expected: str) -> InputError:
        return InputError(problem, file=self.file, where=f"line {self.line}, column {self.column}", expected=expected)


def _rows(path: Path) -> list[tuple[int, list[_Cell]]]:
    try:
        data = path.read_bytes()
    except IsADirectoryError as error:
        raise InputError("this is a folder.", file=str(path), expected="a CSV file of tests.") from error
    except FileNotFoundError as error:
        raise InputError("there is no such file.", file=str(path), expected="a CSV file of tests.") from error
    except OSError as error:
        raise InputError(
            f"the file cannot be read: {error.strerror}.", file=str(path), expected="a CSV file of tests."
        ) from error
    if b"\x00" in data:
        raise InputError(
            "this is no plain text.", file=str(path), expected="a CSV file (save the sheet as CSV, in UTF-8)."
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")  # what spreadsheets write where they do not write UTF-8
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    refuse_long_lines(text, file=str(path), expected="a CSV file of tests")
    lines = text.split("\n")
    kept = [
        (number_, line) for number_, line in enumerate(lines, 1) if line.strip() and not line.lstrip().startswith("#")
    ]
    if not kept:
        return []
    delimiter = next((sign for sign in (";", "\t") if sign in kept[0][1]), ",")
    read = []
    for number_, line in kept:
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
        if any(cells):
            read.append((number_, [_Cell(cell, str(path), number_, "", delimiter != ",") for cell in cells]))
    return read


def _headings(head: Sequence[_Cell], line: int, file: str) -> tuple[list[tuple[str, str] | None], list[str]]:
    """(Column, unit of its cells) of each heading, None for one that is not read."""
    found: list[tuple[str, str] | None] = []
    unread = []
    for cell in head:
        text = cell.text
        match = _HEADING.fullmatch(text)
        name = match[1].lower() if match else ""
        unit = (match[2] or match[3] or "") if match else ""
        if name in _QUANTITIES:
            kind, usual = _QUANTITIES[name]
            if not unit:
                raise InputError(
                    f'the column "{text}" has no unit.', file=file, where=f"line {line}", expected=f"{name}_{usual}."
                )
            _known_unit(unit, kind, usual, replace(cell, column=text))
            column = f"{name}_{usual}"
        elif name in (*_WORDS, *_NUMBERS) and not unit:
            column, unit = _NUMBERS.get(name, name), ""
        else:
            near = None if name in _OF_A_CYCLE else nearest(text, COLUMNS)
            near = "R" if "ratio" in text.lower() else near  # passed over, its tests would be called reversed
            if near is not None:
                raise InputError(
                    f'no column is called "{text}". Did you mean "{near}"?',
                    file=file,
                    where=f"line {line}",
                    expected=_RIGHT,
                )
            found.append(None)
            unread.append(text)
            continue
        if any(known is not None and known[0] == column for known in found):
            raise InputError(f"two columns for {column}.", file=file, where=f"line {line}", expected="one of them.")
        found.append((column, unit))
    names = [known[0] for known in found if known is not None]
    missing = [name for name in ("cycles", "result") if name not in names]
    if not set(names) & set(LOADS):
        missing.insert(0, "amplitude_MPa, travel_mm or force_N")
    if missing and not names and any(_NUMBER.fullmatch(text) for text in unread):
        raise InputError(
            f"the line of column names is missing: values begin with {', '.join(unread)[:60]!r}.",
            file=file,
            where=f"line {line}",
            expected=_RIGHT,
        )
    of_cycle = [text for text in unread if text.lower().split("_")[0] in _OF_A_CYCLE]
    if missing and of_cycle:
        raise InputError(
            f'"{of_cycle[0]}" is no amplitude.',
            file=file,
            where=f"line {line}",
            expected="amplitude_MPa, half of greatest less least stress; and R, least over greatest, or mean_MPa.",
        )
    if missing:
        listed = ", ".join(f'"{cell.text}"' for cell in head[:12])
        raise InputError(
            f"the header has no column {' and no column '.join(missing)}; it has {listed}.",
            file=file,
            where=f"line {line}",
            expected=_RIGHT,
        )
    named = ", ".join(f'"{text}"' for text in unread if text)
    return found, [f"columns that are not read: {named} (what is free text goes into note)"] if named else []


def _known_unit(unit: str, kind: str, usual: str, cell: _Cell) -> None:
    try:
        _in_own_unit("1", unit, kind)
    except InputError as error:
        raise cell.wrong(f'"{unit}" is not a unit of {kind} that is known.', f"{usual} in the name.") from error


def _in_own_unit(text: str, unit: str, kind: str) -> float:
    if kind == "force":
        if unit.lower() not in _FORCE_UNITS:
            raise InputError(f"{unit} is not known.")
        return float(text) * _FORCE_UNITS[unit.lower()]
    if unit == UNITS[kind]:
        return float(text)
    return number(f"{text} {unit}", kind)


def _test(cells: Sequence[_Cell], line: int, headings: Sequence[tuple[str, str] | None], file: str) -> BarTest:
    if any(cell.text for cell in cells[len(headings) :]):
        raise InputError(
            f"{counted(len(cells), 'cell')} where the header names {len(headings)}. If these are decimal commas, "
            "separate the columns by semicolons.",
            file=file,
            where=f"line {line}",
            expected="a cell for each column, empty where nothing is to be said.",
        )
    given: dict[str, tuple[_Cell, str]] = {}
    for heading, cell in zip(headings, cells, strict=False):
        if heading is not None and cell.text:
            given[heading[0]] = (replace(cell, column=heading[0]), heading[1])
    values: dict[str, float | None] = {}
    for name, (kind, usual) in _QUANTITIES.items():
        column = f"{name}_{usual}"
        values[column] = None if column not in given else _number(*given[column], kind, signed=name == "mean")
    diameter = values["diameter_mm"]
    if diameter is not None and not TESTED_MM[0] <= diameter <= TESTED_MM[1]:
        least, most = TESTED_MM
        raise given["diameter_mm"][0].wrong(f"no bar is {diameter:g} mm thick.", f"{least:g} to {most:g} mm.")
    loads = tuple(name for name in LOADS if values[name] is not None)
    if not loads:
        raise InputError(
            "no load is given.", file=file, where=f"line {line}", expected=f"a number under one of {', '.join(LOADS)}."
        )
    for name in loads[1:]:  # the nearest to the steel is taken: the measured stress, then the travel
        values[name] = None
    if loads[0] != "amplitude_MPa" and values["mean_MPa"] is not None:
        raise given["mean_MPa"][0].wrong(
            f"a mean stress beside {loads[0]}, whose own comes from the bar file.",
            "amplitude_MPa with it, or no mean_MPa on this line.",
        )
    if "R" in given:
        values["mean_MPa"] = _mean_of_ratio(given, values["amplitude_MPa"])
    for column in ("cycles", "result"):
        if column not in given:
            raise InputError(
                f"{column} is empty.", file=file, where=f"line {line}, column {column}", expected=_EMPTY[column]
            )
    cycles = _number(given["cycles"][0], "", "cycles")
    if cycles < 1.0:
        raise given["cycles"][0].wrong(f"{cycles:g} cycles are no test.", "1 or more.")
    words = {name: given[name][0].text if name in given else None for name in _WORDS}
    return BarTest(
        line=line,
        cycles=cycles,
        broken=_RESULTS[_one_of(given["result"][0], tuple(_RESULTS))],
        amplitude_MPa=values["amplitude_MPa"],
        travel_mm=values["travel_mm"],
        force_N=values["force_N"],
        mean_MPa=values["mean_MPa"],
        diameter_mm=values["diameter_mm"],
        bar=words["bar"],
        hole=words["hole"],
        case=_one_of(given["case"][0], tuple(CASES)) if "case" in given else None,
        place=words["place"],
        surface=_surface(given["surface"][0]) if "surface" in given else None,
        peening=_one_of(given["peening"][0], _PEENING) if "peening" in given else None,
        unused_loads=loads[1:],
    )


def _mean_of_ratio(given: Mapping[str, tuple[_Cell, str]], amplitude_MPa: float | None) -> float:
    """Mean stress [MPa] of an amplitude at the stress ratio R of its line: amplitude (1 + R) / (1 - R)."""
    cell = given["R"][0]
    ratio = _number(cell, "", "ratio", signed=True)
    if ratio >= 1.0:
        raise cell.wrong(
            f"R = {ratio:g} is not the least over the greatest stress of a cycle.",
            "below 1: -1 reversed, 0 from zero to tension.",
        )
    if amplitude_MPa is None:
        raise cell.wrong(
            "a stress ratio beside a load whose own comes from the bar file, by its [duty] ratio.",
            "amplitude_MPa with it, or no R on this line.",
        )
    if "mean_MPa" in given:
        raise cell.wrong("a mean stress and a stress ratio on one line.", "one of them.")
    return amplitude_MPa * (1.0 + ratio) / (1.0 - ratio)


_EMPTY = {"cycles": "cycles to the break, or to where the bar was stopped.", "result": "broken or stopped."}


def _number(cell: _Cell, unit: str, kind: str, *, signed: bool = False) -> float:
    """The cell's number in the column's own unit."""
    if kind == "cycles" and _THOUSANDS.fullmatch(cell.text):
        plain = re.sub(r"\D", "", cell.text)
        raise cell.wrong(f'"{cell.text}" may be thousands or a decimal.', f"{plain}, or a number of whole cycles.")
    text = re.sub(r"^([+-]?\d*),(\d+)", r"\1.\2", cell.text) if cell.decimal_comma else cell.text
    try:
        if "_" in text:
            raise ValueError
        value = float(text) if kind in ("cycles", "ratio") else _in_own_unit(text, unit, kind)
    except (ValueError, InputError):
        comma = " (with commas between the columns, decimals have a point)" if re.search(r"\d,\d", text) else ""
        raise cell.wrong(
            f'"{cell.text}" is not a number{comma}.', "a plain number, its unit in the column's name."
        ) from None
    if not math.isfinite(value):
        raise cell.wrong(f'"{cell.text}" is not a finite number.', "a number; leave the line out where there is none.")
    if not signed and value <= 0.0:
        raise cell.wrong(f"{cell.text} is not above zero.", "a number above zero.")
    if abs(value) > 1e12:
        raise cell.wrong(f"{cell.text} is far beyond any test.", "a smaller number.")
    return value


def _one_of(cell: _Cell, known: tuple[str, ...]) -> str:
    word = cell.text.lower()
    if word not in known:
        raise cell.wrong(f'"{cell.text}" is not known here.', " or ".join(known) + ".")
    return word


def _surface(cell: _Cell) -> str:
    try:
        surface_condition(cell.text.lower())
        return cell.text.lower()
    except InputError as error:
        raise cell.wrong(error.problem, error.expected or "") from error


def _repeated(tests: Sequence[BarTest]) -> list[str]:
    """Lines that say the same twice, and bars that were tested twice."""
    warnings = []
    same: dict[tuple[object, ...], list[int]] = {}
    bars: dict[str, list[int]] = {}
    for test in tests:
        same.setdefault((test.bar, test.load, test.mean_MPa, test.cycles, test.broken), []).append(test.line)
        if test.bar is not None:
            bars.setdefault(test.bar, []).append(test.line)
    twice = [lines for lines in same.values() if len(lines) > 1]
    for lines in twice:
        warnings.append(f"lines {enumerated(lines)} are alike: if that is one test, delete all but one (each counts)")
    for bar, lines in bars.items():
        if len(lines) > 1 and lines not in twice:
            warnings.append(
                f"bar {bar} stands on lines {enumerated(lines)}: a bar tested again has a past, and is not one bar "
                "more; keep its first test"
            )
    return warnings
