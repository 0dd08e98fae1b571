"""Tables that come back from other people's spreadsheets: read with tolerance, refused with the line and the column.

A file has lines that begin with `#` (fields `key = value`, several on one line with `;` between), one line of column
names, and lines of values. Read and named in a note: a byte order mark, CRLF, semicolons with decimal commas, tabs,
quoted fields, blank lines, columns in another order, columns that nobody asked for. Refused: decimal commas in a file
whose columns are separated by commas, missing columns, numbers that are none.
"""

from __future__ import annotations

import csv
import math
import os
import re
from collections.abc import Mapping, Sequence

from barfem.model.csv_lines import refuse_long_lines
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import counted

__all__ = ["Line", "Sheet", "numbered", "read_sheet"]

LARGEST_BYTES = 20_000_000
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


@frozen
class Line:
    """One line of values: its number in the file (1 is the first) and its cells by column name, stripped."""

    number: int
    cells: Mapping[str, str]
    file: str
    decimal: str

    def where(self, column: str) -> str:
        return f"line {self.number}, column {column}"

    def error(self, column: str, problem: str, expected: str) -> InputError:
        return InputError(problem, where=self.where(column), expected=expected, file=self.file)

    def text(self, column: str) -> str:
        """The cell's text; empty where the column or the cell is missing."""
        return self.cells.get(column, "")

    def number_in(self, column: str, expected: str = "a number.", *, most: float = math.inf) -> float | None:
        """The cell as a number of at most that size; None where it is empty.

        Raises
        ------
        InputError
            It is no finite number, or too large; the message names line, column and value.
        """
        raw = self.text(column)
        if not raw:
            return None
        value = raw
        if self.decimal == ",":
            if "," in value and "." in value:
                raise self.error(column, f"{raw!r} has a point and a comma.", f"no thousands separators; {expected}")
            value = value.replace(",", ".")
        elif "," in value:
            raise self.error(
                column,
                f"{raw!r} has a decimal comma in a file whose columns are separated by commas.",
                "decimal points, or semicolons between the columns.",
            )
        if not _NUMBER.fullmatch(value) or not math.isfinite(float(value)):
            raise self.error(column, f"{raw!r} is no finite number.", expected)
        if abs(float(value)) > most:
            raise self.error(column, f"{raw} is far out of range.", f"{expected.rstrip('.')}, at most {most:.10g}.")
        return float(value)

    def required(self, column: str, expected: str = "a number.", *, most: float = math.inf) -> float:
        """The cell as a number that must be there."""
        value = self.number_in(column, expected, most=most)
        if value is None:
            raise self.error(column, "the cell is empty.", expected)
        return value


@frozen
class Sheet:
    """What a file holds.

    Attributes
    ----------
    file
        Its path, for messages.
    fields
        Header fields by their key, lower case; of a key that comes twice the first.
    field_lines
        Fields of each header line by itself, with the line's number: for keys that repeat, such as holes.
    title
        Header text without an equals sign, such as "barfem bend data, format 1".
    columns, lines
        Column names as written, and lines of values.
    notes
        What was read with tolerance.
    """

    file: str
    fields: Mapping[str, str]
    field_lines: tuple[tuple[int, Mapping[str, str]], ...]
    title: tuple[str, ...]
    columns: tuple[str, ...]
    lines: tuple[Line, ...]
    notes: tuple[str, ...]

    def error(self, problem: str, expected: str, *, where: str | None = None) -> InputError:
        return InputError(problem, where=where, expected=expected, file=self.file)

    def told(self, key: str) -> str:
        """A header field of the whole file; empty where it is missing.

        Raises
        ------
        InputError
            Two lines give it different values: files put together by hand, of which only one would count.
        """
        said: tuple[int, str] | None = None
        for number, here in self.field_lines:
            value = here.get(key)
            if not value:
                continue
            if said is not None and value.lower() != said[1].lower():
                raise self.error(
                    f"{key} = {said[1]!r} on line {said[0]} and {value!r} on line {number}.",
                    "one value for the whole file; what differs from line to line in columns, or in another file.",
                    where="header",
                )
            said = said or (number, value)
        return "" if said is None else said[1]

    def field(self, key: str, expected: str) -> str:
        """A header field that must be there."""
        text = self.told(key)
        if not text:
            raise self.error(
                f'the header has no "{key}".', f"a line # {key} = {expected}, above the columns.", where="header"
            )
        return text

    def header_number(self, key: str, text: str, *, most: float, where: str = "header") -> float:
        """A number of the header, its decimals with a point or a comma.

        Raises
        ------
        InputError
            It is no finite number, or its size is above `most`.
        """
        value = text.replace(",", ".")
        if not _NUMBER.fullmatch(value) or not abs(float(value)) <= most:
            raise self.error(f"{key} = {text!r} cannot be.", f"a number, at most {most:.10g}.", where=where)
        return float(value)

    def require(self, columns: Sequence[str]) -> None:
        """Refuse a file that misses columns."""
        missing = [name for name in columns if name not in self.columns]
        if missing:
            raise self.error(
                f"column{'s' * (len(missing) > 1)} {', '.join(missing)} missing; there are {', '.join(self.columns)}.",
                f"the columns {', '.join(columns)}, in any order.",
                where="column names",
            )


def read_sheet(path: str | os.PathLike[str], *, kind: str = "a CSV file", known: Sequence[str] = ()) -> Sheet:
    """Read a file of header fields, column names and values. `known` are column names that raise no note.

    Raises
    ------
    InputError
        It cannot be read, is no text, has no columns, or a line has more cells than there are columns.
    """
    shown = os.fspath(path)
    text, notes = _text(shown, kind)
    head: list[tuple[int, str]] = []
    body: list[tuple[int, str]] = []
    blank = 0
    for number, line in enumerate(text.split("\n"), start=1):
        stripped = line.strip().strip(",;\t").strip()
        if not stripped.strip('"'):
            blank += bool(body)
        elif stripped.lstrip('"').startswith("#"):
            head.append((number, line))
        else:
            body.append((number, line))
    if not body:
        raise InputError("there are no columns.", file=shown, expected=f"{kind} with a line of column names.")
    if blank > 1:
        notes.append("blank lines were left out")
    names_line = body[0][1]
    delimiter = max(";\t,", key=lambda mark: names_line.count(mark)) if re.search(r"[;\t,]", names_line) else ","
    decimal = "." if delimiter == "," else ","
    if delimiter != ",":
        notes.append("columns are separated by " + ("semicolons" if delimiter == ";" else "tabs"))
    if '"' in "".join(line for _, line in body):
        notes.append("quoted fields")
    columns = tuple(cell.strip().lstrip("\ufeff") for cell in _split(names_line, delimiter))
    while columns and not columns[-1]:
        columns = columns[:-1]
    lowered = tuple(name.lower() for name in columns)
    if known and not {name.lower() for name in known} & set(lowered) and any(map(_is_no_name, columns)):
        raise InputError(
            f"the line of column names is missing: values begin with {names_line.strip()!r}.",
            where=f"line {body[0][0]}",
            expected=f"{kind} with a line of names above them, some of {', '.join(known)}.",
            file=shown,
        )
    columns = tuple(
        next((k for k in known if k.lower() == low), name) for low, name in zip(lowered, columns, strict=True)
    )
    twice = [name for i, name in enumerate(columns) if name in columns[:i]]
    if twice:
        raise InputError(
            f"column {twice[0]} stands twice.", where=f"line {body[0][0]}", expected="each column once.", file=shown
        )
    if known:
        surplus = [name for name in columns if name not in known]
        if surplus:
            notes.append(f"column{'s' * (len(surplus) > 1)} {', '.join(surplus)} not known here, left out")
        order = [known.index(name) for name in columns if name in known]
        if order != sorted(order):
            notes.append("columns are in another order")
    lines, commas = [], False
    for number, line in body[1:]:
        cells = [cell.strip() for cell in _split(line, delimiter)]
        if len(cells) > len(columns) and any(cells[len(columns) :]):
            raise InputError(
                f"{counted(len(cells), 'cell')} for {counted(len(columns), 'column')}: {line.strip()!r}"
                + (" (decimal commas and comma separators together?)." if delimiter == "," else "."),
                where=f"line {number}",
                expected="decimal points, or semicolons between the columns."
                if delimiter == ","
                else "one cell for each column.",
                file=shown,
            )
        commas = commas or (decimal == "," and any(re.fullmatch(r"[+-]?\d+,\d+", cell) for cell in cells))
        filled = [*cells, *[""] * (len(columns) - len(cells))]
        lines.append(Line(number, dict(zip(columns, filled, strict=False)), shown, decimal))
    if commas:
        notes.append("decimal commas")
    fields: dict[str, str] = {}
    per_line: list[tuple[int, Mapping[str, str]]] = []
    title: list[str] = []
    for number, line in head:
        here: dict[str, str] = {}
        for part in _header_text(line, delimiter).split(";"):
            key, equals, value = part.partition("=")
            if equals:
                here[key.strip().lower().replace("-", "_")] = value.strip().rstrip("*").strip()
            elif part.strip():
                title.append(part.strip().rstrip("*").strip())
        for key, value in here.items():
            fields.setdefault(key, value)
        per_line.append((number, here))
    return Sheet(shown, fields, tuple(per_line), tuple(title), columns, tuple(lines), tuple(notes))


def _is_no_name(cell: str) -> bool:
    """Whether a cell is a value: empty, or a number with a point or a comma."""
    return not cell or _NUMBER.fullmatch(cell.replace(",", ".")) is not None


def _header_text(line: str, delimiter: str) -> str:
    """A header line without marks and quotes; where a spreadsheet cut it at its commas, these are put back."""
    if delimiter != ",":
        cells = [cell for cell in _split(line, delimiter) if cell.strip()]
        line = cells[0] + "".join(f"{' ;' if '=' in cell.partition(';')[0] else ','} {cell}" for cell in cells[1:])
    return line.strip().strip(",;\t").strip().strip('"').replace('""', '"').lstrip("#").strip()


def _split(line: str, delimiter: str) -> list[str]:
    return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])


def _text(path: str, kind: str) -> tuple[str, list[str]]:
    notes: list[str] = []
    try:
        with open(path, "rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise InputError(
            f"the file cannot be read: {error.strerror or error}.", file=path, expected=f"the path of {kind}."
        ) from error
    if path.lower().endswith(".toml"):
        raise InputError("this is a TOML file, such as a bar file.", file=path, expected=f"{kind}.")
    if len(raw) > LARGEST_BYTES:
        raise InputError("the file is larger than 20 MB.", file=path, expected=f"{kind}.")
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError("the text is UTF-16.", file=path, expected=f"{kind} saved as CSV UTF-8.")
    if raw.startswith(b"\xef\xbb\xbf"):
        notes.append("a byte order mark at the start")
        raw = raw[3:]
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(
            f"byte {error.start + 1} is no UTF-8.",
            where=f"line {line}",
            expected=f"{kind} saved as UTF-8.",
            file=path,
        ) from error
    if "\0" in text:
        raise InputError("the file holds zero bytes: it is no text.", file=path, expected=f"{kind}.")
    if "\r" in text:
        notes.append("line ends CR LF")
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    refuse_long_lines(text, file=path, expected=kind)
    return text, notes


def numbered(sheet: Sheet, name: str, notes: list[str]) -> list[Line]:
    """Lines in the order of their numbers, which count 1, 2, 3 without gap or repeat."""
    if not sheet.lines:
        raise sheet.error("there are no rows.", "one line for each bend, and a last with a length alone.")
    seen: dict[int, Line] = {}
    for line in sheet.lines:
        value = line.required(name, "1, 2, 3, ...")
        if value != int(value):
            raise line.error(name, f"{line.text(name)} is no row number.", "1, 2, 3, ...")
        if int(value) in seen:
            raise line.error(
                name, f"number {int(value)} stands on line {seen[int(value)].number} already.", "each number once."
            )
        seen[int(value)] = line
    for expected in range(1, len(seen) + 1):
        if expected not in seen:
            raise sheet.error(
                f"there are {len(seen)} {name}s, and number {expected} is missing: the rows do not close.",
                f"numbers 1 to {len(seen)}, none left out.",
                where=f"column {name}",
            )
    if list(seen) != sorted(seen):
        notes.append("lines are not in the order of their numbers; their numbers count")
    return [seen[i] for i in sorted(seen)]
