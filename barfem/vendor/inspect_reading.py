"""Measured bars as CSV, one value a line: read with the tolerance of `csv_reading`, refused with line and column."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.grouped import counted
from barfem.model.nearest import did_you_mean
from barfem.model.plausible import range_of
from barfem.vendor.csv_reading import Line, Sheet, read_sheet
from barfem.vendor.inspect_plausible import (
    refuse_exchanged_holes,
    refuse_implausible,
    refuse_other_rows,
    refuse_shifted_cells,
)
from barfem.vendor.inspect_points import points_as_listed, same_points
from barfem.vendor.inspect_shape import point_names

__all__ = ["COLUMNS", "FORMAT", "WHATS", "InspectionFile", "MeasuredBar", "Reading", "read_inspection", "wall_in_bend"]

Array = NDArray[np.float64]
FORMAT = "barfem inspection, format 1"
_FARTHEST_MM = 1e6  # of a point from the origin of the measuring frame
COLUMNS = ("bar", "what", "place", "x_mm", "y_mm", "z_mm", "value", "unit", "case", "note")
_INCHES = ("x_in", "y_in", "z_in")
_LENGTH = {"mm": 1.0, "in": 25.4}
_RATE = {"N/mm": 1.0, "lbf/in": 0.17512683524647636}
_SCALES = {"HRC": 1.0, "HBW": 1.0, "HB": 1.0, "HV": 1.0}
WHATS: Mapping[str, Mapping[str, float]] = {
    "point": {},
    "row": {"length": 1.0, "rotation": 1.0, "angle": 1.0},
    "diameter": _LENGTH,
    "wall": _LENGTH,
    "ovality": {"%": 1.0},
    "flat thickness": _LENGTH,
    "flat width": _LENGTH,
    "hole diameter": _LENGTH,
    "hole from_tip": _LENGTH,
    "hole axis": {},
    "hardness": _SCALES,
    "rate": _RATE,
    "record": {"mm": 1.0, "in": 25.4, "kg": 1.0, "lb": 0.45359237, "%": 1.0},
}
"""What can be measured, with the units it may have and their factors to mm, N/mm, kg, deg and %."""
RECORDS = ("crack test", "coating", "decarburisation", "peening", "mass")
CASES = ("one_end_held", "roll")
_PASSED = dict.fromkeys(("pass", "passed", "ok", "yes", "good"), True)
_PASSED |= dict.fromkeys(("fail", "failed", "no", "not ok", "nok", "bad", "rejected"), False)


@frozen
class Reading:
    """One line's value in mm, deg, N/mm, kg, % or on its hardness scale (`unit`); `passed` of a record in words."""

    what: str
    place: str
    value: float | None
    unit: str
    case: str
    line: int
    passed: bool | None = None
    axis: tuple[float, float, float] | None = None


@frozen
class MeasuredBar:
    """One bar: `points_mm` (p, 3) in the order of the sheet, NaN where missing (None: none at all); its readings.

    `noise_mm`: standard deviation of a coordinate, if its file says it.
    """

    name: str
    points_mm: Array | None
    readings: tuple[Reading, ...]
    line: int
    noise_mm: float | None = None

    def all_of(self, what: str) -> list[Reading]:
        return [reading for reading in self.readings if reading.what == what]


@frozen
class InspectionFile:
    """Measured bars in the order of the file."""

    file: str
    bars: tuple[MeasuredBar, ...]
    notes: tuple[str, ...]


def read_inspection(path: str | os.PathLike[str], bar: Bar, *, any_revision: bool = False) -> InspectionFile:
    """Read measured bars of the drawing `bar`.

    Raises
    ------
    InputError
        No such file or columns; another drawing or revision (unless `any_revision`); a value, unit, place or case that
        cannot be; a point twice. The message names line, column and value.
    """
    sheet = read_sheet(path, kind="an inspection CSV file", known=(*COLUMNS, *_INCHES))
    _refuse_a_cut_line(sheet)
    inch = _header(sheet, bar, any_revision)
    names = point_names(len(bar.centreline.bends))
    axes = _INCHES if inch else COLUMNS[3:6]
    sheet.require(("bar", "what", "place"))
    used = {line.text("what").lower() for line in sheet.lines}
    if used & {"point", "hole axis"}:
        sheet.require(axes)
    if used - {"point", "hole axis"}:
        sheet.require(("value", "unit"))
    readings: dict[str, list[Reading]] = {}
    points: dict[str, dict[str, tuple[Array, int]]] = {}
    first: dict[str, int] = {}
    empty: list[int] = []
    for line in sheet.lines:
        if not any(line.text(column) for column in (*axes, "value")):
            empty.append(line.number)  # of the sheet, never filled in
            continue
        who = line.text("bar")
        if not who:
            raise line.error("bar", "the cell is empty.", "the bar's own number, on every line.")
        first.setdefault(who, line.number)
        what = _what(line)
        if what in ("point", "hole axis"):
            refuse_shifted_cells(line, axes)
        if what == "point":
            _add_point(points.setdefault(who, {}), line, names, axes, 25.4 if inch else 1.0)
        else:
            _add(readings.setdefault(who, []), _reading(line, what, bar, axes, length=25.4 if inch else 1.0), line)
    if not first:
        raise sheet.error("there are no measured values.", "one value a line, below the column names.")
    bars = [_bar(who, first[who], points.get(who, {}), readings.get(who, []), names, bar, sheet) for who in first]
    notes = [*sheet.notes, *same_points({each.name: each.points_mm for each in bars})]
    if empty:
        shown = ", ".join(str(number) for number in empty[:8]) + (", ..." if len(empty) > 8 else "")
        notes.append(f"line{'s' * (len(empty) > 1)} {shown} without a value, left out")
    if inch:
        notes.append("lengths in inches")
    noise_mm = _noise(sheet, inch, bar)
    return InspectionFile(sheet.file, tuple(replace(each, noise_mm=noise_mm) for each in bars), tuple(notes))


def _refuse_a_cut_line(sheet: Sheet) -> None:
    """A last line without its line end and with fewer cells than the columns is where a copy broke off."""
    with open(sheet.file, "rb") as file:
        text = file.read()
    last = text.rsplit(b"\n", 1)[-1]
    mark = max((b";", b"\t", b","), key=lambda each: last.count(each))
    if (
        last.strip()
        and sheet.lines
        and not last.lstrip().startswith(b"#")
        and last.count(mark) < len(sheet.columns) - 1
    ):
        raise sheet.error(
            f"the file breaks off: {last.decode('utf-8', 'replace').strip()!r}.",
            f"{counted(len(sheet.columns), 'cell')} and a line end: is the file whole?",
            where=f"line {sheet.lines[-1].number}",
        )


def _header(sheet: Sheet, bar: Bar, any_revision: bool) -> bool:
    """Whether lengths are in inches."""
    if not any(title.lower() == FORMAT for title in sheet.title):
        raise sheet.error(
            f'the header does not say "{FORMAT}".', f"a first line # {FORMAT}, as on the sheet.", where="header"
        )
    units = [unit.strip() for unit in sheet.field("units", "mm, N, deg, HRC").split(",")]
    if units[0] not in ("mm", "in"):
        raise sheet.error(f"units = {', '.join(units)}: {units[0]!r} is no length here.", "mm or in.", where="header")
    for key, own in (("drawing", bar.drawing), ("revision", bar.revision)):
        found = sheet.told(key)
        if found and own and found != own and not any_revision:
            raise sheet.error(
                f"the bars were measured against {key} {found}, the bar file is {key} {own}.",
                f"the same {key}, or --any-revision.",
                where=f"header, {key}",
            )
    return units[0] == "in"


def _noise(sheet: Sheet, inch: bool, bar: Bar) -> float | None:
    text = sheet.told("uncertainty")
    if not text:
        return None
    match = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(mm|in)?", text)
    value = float(match[1].replace(",", ".")) if match else 0.0
    value *= 25.4 if (match and match[2] == "in") or (inch and not (match and match[2])) else 1.0
    most = 0.5 * bar.section.diameter_mm
    if not 0.0 < value <= most:
        problem, remedy = ("more than half the bar's diameter", "; is the unit right?") if value else ("no length", ".")
        raise sheet.error(
            f"uncertainty = {text} is {problem}.",
            f"the standard deviation of one coordinate, at most {most:.4g} mm: uncertainty = 0.05 mm{remedy}",
            where="header, uncertainty",
        )
    return value


def _what(line: Line) -> str:
    what = re.sub(r"\s+", " ", line.text("what").lower().replace("_", " ")).replace("from tip", "from_tip")
    if what not in WHATS:
        raise line.error(
            "what",
            f"{line.text('what')!r} is not measured here.{did_you_mean(what, WHATS)}",
            f"one of {', '.join(WHATS)}.",
        )
    return what


def _add_point(
    points: dict[str, tuple[Array, int]], line: Line, names: Sequence[str], axes: Sequence[str], factor: float
) -> None:
    place = _words(line.text("place"))
    turned = " ".join(reversed(place.split())) if place in ("right tip", "left tip") else place
    if turned not in names:
        raise line.error("place", f"{line.text('place')!r} is no point of this bar.", f"one of {', '.join(names)}.")
    if turned in points:
        raise line.error(
            "place",
            f"{turned!r} of bar {line.text('bar')} stands on line {points[turned][1]} already.",
            "each point once.",
        )
    expected = f"a coordinate in the measuring frame, within {_FARTHEST_MM:g} mm."
    xyz = np.array([line.required(axis, expected) for axis in axes]) * factor
    for axis, value in zip(axes, xyz, strict=True):
        if abs(value) > _FARTHEST_MM:
            raise line.error(axis, f"a coordinate of {value:g} mm.", expected)
    points[turned] = (xyz, line.number)


def _reading(line: Line, what: str, bar: Bar, axes: Sequence[str], *, length: float) -> Reading:
    """`length`: mm in the file's own unit of length, which a row's length has."""
    place = _words(line.text("place"))
    if what == "hole axis":
        place = _end_place(line, place, bar)
        vector = np.array([line.required(axis, "a component of the unit vector.", most=1.1) for axis in axes])
        size = float(np.linalg.norm(vector))
        if not 0.9 <= size <= 1.1:
            raise line.error(axes[0], f"the axis has length {size:.3g}.", "a unit vector along the hole.")
        x, y, z = (vector / size).tolist()
        return Reading(what, place, None, "", "", line.number, axis=(x, y, z))
    if what == "record":
        return _record(line, place, bar)
    units = WHATS[what]
    unit = line.text("unit")
    scale = next((each for each in units if each.lower() == unit.lower()), None)
    if scale is None:
        problem = "the cell is empty." if not unit else f"{unit!r} is no unit of {what}."
        raise line.error("unit", problem, f"one of {', '.join(units)}.")
    factor = length if scale == "length" else units[scale]
    value = line.required("value", f"a number in {unit}.") * factor
    case = re.sub(r"[ -]+", "_", _words(line.text("case")))
    if what == "rate":
        if case not in CASES:
            raise line.error(
                "case",
                "a rate without its case." if not case else f"{line.text('case')!r} is no case.",
                "one_end_held (the other end fixed: about half of the roll rate) or roll (both ends move oppositely).",
            )
        place = _hole_place(line, place, bar)
    elif what in ("hole diameter", "hole from_tip"):
        place = _hole_end(line, place, bar)
    elif what in ("flat thickness", "flat width"):
        place = _end_place(line, place, bar)
    elif what == "row":
        place = _row_place(line, place, bar, scale)
    elif what in ("diameter", "wall") and bar.section.wall_mm is not None and place.startswith("bend"):
        _refuse_a_vague_bend(line, what, place, len(bar.centreline.bends))
    bends, at = len(bar.centreline.bends), re.match(r"bend (\d+)", place)
    if at is not None and not 1 <= int(at[1]) <= bends:
        raise line.error("place", f"there is no bend {int(at[1])}.", f"bend 1 to bend {bends}, or another place.")
    if value <= 0.0 and what not in ("row", "ovality"):
        raise line.error("value", f"{line.text('value')} {unit}.", "a number above 0.")
    if what == "hardness":
        scale = "HBW" if scale == "HB" else scale
        least, most = range_of(scale)
        if not least <= value <= most:
            right = f"{least:g} to {most:g} {scale}; is the scale right?"
            raise line.error("value", f"{value:g} {scale} cannot be.", right)
    if scale == "rotation" and place == "row 1" and value != 0.0:
        raise line.error("value", f"{value:g} deg in row 1, which has no bend before it.", "0 in the first row.")
    refuse_implausible(line, what, place, value, bar, of_row=scale if what == "row" else "")
    return Reading(what, place, value, scale if what in ("row", "hardness") else "", case, line.number)


def _record(line: Line, place: str, bar: Bar) -> Reading:
    if place not in RECORDS:
        raise line.error("place", f"{line.text('place')!r} is no record.", f"one of {', '.join(RECORDS)}.")
    text = line.text("value")
    if place in ("decarburisation", "mass"):
        unit = line.text("unit")
        allowed = ("mm", "in") if place == "decarburisation" else ("kg", "lb")
        if unit not in allowed:
            raise line.error("unit", f"{unit!r} is no unit of {place}.", f"one of {', '.join(allowed)}.")
        value = line.required("value") * WHATS["record"][unit]
        refuse_implausible(line, place, place, value, bar)
        return Reading("record", place, value, "", "", line.number)
    if not text:
        raise line.error("value", "the cell is empty.", "pass or fail, or what was found.")
    passed = _PASSED.get(text.lower())
    if passed is None and place == "crack test":
        raise line.error("value", f"{text!r} is no result.", "pass or fail.")
    return Reading("record", place, None, text, "", line.number, passed=passed)


def _end_place(line: Line, place: str, bar: Bar) -> str:
    """ "right end" or "left end"; of an axis that is one hole's "hole 2 left"."""
    match = re.fullmatch(r"(?:(hole .+) )?(right|left)(?: end| flat)?", place)
    if match is None:
        raise line.error("place", f"{line.text('place')!r} is no end.", 'right end, left end, or "hole 2 left".')
    return _hole_end(line, place.removesuffix(" end"), bar) if match[1] else f"{match[2]} end"


def _hole_end(line: Line, place: str, bar: Bar) -> str:
    for end in bar.ends:
        for hole in end.holes:
            if place == f"hole {_words(hole.name)} {end.side}":
                return f"hole {hole.name} {end.side}"
    known = [f"hole {hole.name} {end.side}" for end in bar.ends for hole in end.holes]
    raise line.error("place", f"{line.text('place')!r} is no hole of this bar.", f"one of {', '.join(known)}.")


def _hole_place(line: Line, place: str, bar: Bar) -> str:
    names = [hole.name for hole in bar.left.holes]
    for name in names:
        if place in (f"hole {_words(name)}", _words(name)):
            return f"hole {name}"
    known = ", ".join(f"hole {name}" for name in names)
    raise line.error("place", f"{line.text('place')!r} is no hole of this bar.", f"one of {known}.")


def wall_in_bend(place: str) -> tuple[int, str] | None:
    """Number and side of a bend whose wall was measured, such as "bend 1 outside"; None elsewhere."""
    match = re.fullmatch(r"bend (\d+),? (outside|inside)", place)
    return None if match is None else (int(match[1]), match[2])


def _refuse_a_vague_bend(line: Line, what: str, place: str, bends: int) -> None:
    """A tube is oval in its bends, and its wall thinner outside and thicker inside."""
    if what == "diameter":
        right = "a place on a straight; a bend's is what = ovality, in %."
        raise line.error("place", f"the diameter of a tube at {line.text('place')!r}, where it is oval.", right)
    at = wall_in_bend(place)
    if at is None or not 1 <= at[0] <= bends:
        right = f"bend 1 outside to bend {bends} inside, or a place on a straight."
        raise line.error("place", f"the wall at {line.text('place')!r}: which side of which bend?", right)


def _row_place(line: Line, place: str, bar: Bar, scale: str) -> str:
    last = len(bar.centreline.bends) + 1
    match = re.fullmatch(r"row (\d+)", place)
    if match is None or not 1 <= int(match[1]) <= last:
        raise line.error("place", f"{line.text('place')!r} is no row of this bar.", f"row 1 to row {last}.")
    if int(match[1]) == last and scale != "length":
        raise line.error("unit", f"row {last} is the last: it has a length alone.", "length.")
    return f"row {int(match[1])}"


def _words(text: str) -> str:
    return re.sub(r"\s+", " ", text.strip().lower())


def _add(readings: list[Reading], new: Reading, line: Line) -> None:
    for old in readings:
        if (old.what, old.place, old.case) == (new.what, new.place, new.case) and (
            new.what != "row" or old.unit == new.unit
        ):
            raise line.error(
                "place",
                f"{new.what} at {line.text('place')!r} of bar {line.text('bar')} stands on line {old.line} already.",
                "each value once.",
            )
    readings.append(new)


def _bar(
    who: str,
    line: int,
    points: dict[str, tuple[Array, int]],
    readings: list[Reading],
    names: Sequence[str],
    bar: Bar,
    sheet: Sheet,
) -> MeasuredBar:
    refuse_exchanged_holes(who, readings, bar, file=sheet.file)
    refuse_other_rows(who, readings, bar, file=sheet.file)
    if not points:
        return MeasuredBar(who, None, tuple(readings), line)
    array = points_as_listed(who, points, names, bar, line=line, file=sheet.file)
    return MeasuredBar(who, array, tuple(readings), line)
