"""Tables as data: title, headings with their unit, cells with text, mood and value, remarks.

A table is made once, from records and columns, and drawn by whoever shows it: `show.console` in a terminal,
`show.report.html_table` on a page and in a notebook. `show.csv_file` writes its values, which are not rounded.

    table("holes", "Holes", bar.left.holes, [
        words("Hole", lambda hole: hole.name, key="hole"),
        column("From tip", "mm", "from_tip_mm"),
    ])
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Literal

from barfem.model.frozen import frozen
from barfem.show.numbers import NONE, ratio, significant
from barfem.study.json_values import in_nested

__all__ = [
    "Cell",
    "Column",
    "Entry",
    "Mood",
    "Table",
    "Value",
    "column",
    "judged",
    "nested_columns",
    "only_in_files",
    "paths",
    "table",
    "words",
    "yes_no",
]

Mood = Literal["", "good", "bad"]
Value = float | int | bool | str | None
"""What a cell holds besides its text; None, and a number that is not finite, stand for no value."""


@frozen
class Cell:
    """What is read (`text`), how it is meant (`mood`), and what it stands for (`value`: unrounded, None for none)."""

    text: str
    value: Value = None
    mood: Mood = ""


@frozen
class Column:
    """A column's heading, which may break at its newlines, and its unit.

    `key` names it in files, its unit in the name; empty: in no file. A column without heading and unit that has a key
    and is not `drawn` stands in files alone. `text` columns are set to the left, numbers to the right.
    """

    heading: str
    unit: str = ""
    key: str = ""
    text: bool = False
    drawn: bool = True

    @property
    def lines(self) -> str:
        """The heading with its unit below, for a narrow column."""
        return f"{self.heading}\n{self.unit}" if self.unit else self.heading

    @property
    def line(self) -> str:
        """The heading with its unit in one line: words broken for a narrow column ("left/\\nright") are whole again."""
        return re.sub(r"(?<=/)\n", "", self.lines).replace("\n", " ")


@frozen
class Table:
    """A table as data. `name` is its own in files and options, `title` may be empty.

    Raises
    ------
    ValueError
        A row has more or fewer cells than there are columns, or two columns have one key.
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"table {self.name}: every row must have {len(self.columns)} cells")
        keys = [each.key for each in self.columns if each.key]
        if len(set(keys)) != len(keys):
            raise ValueError(f"table {self.name}: two columns have one key: {keys}")

    @property
    def drawn(self) -> tuple[int, ...]:
        """Numbers of the columns that are drawn."""
        return tuple(i for i, each in enumerate(self.columns) if each.drawn)


@frozen
class Entry:
    """A column, and how its cell is made from a row's record."""

    column: Column
    get: Callable[[Any], Any]
    show: Callable[[Any], str] | None
    optional: bool

    def cell(self, row: Any) -> Cell:
        found = self.get(row)
        if isinstance(found, Cell):
            return found
        found = None if isinstance(found, float) and not math.isfinite(found) else found
        if found is None:
            return Cell(NONE)
        return Cell((self.show or _shown)(found), found if isinstance(found, float | int | str) else float(found))


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else significant(float(value))


def column(
    heading: str,
    unit: str = "",
    get: Callable[[Any], Any] | str = str,
    *,
    show: Callable[[Any], str] | None = None,
    key: str | None = None,
    optional: bool = False,
) -> Entry:
    """A column of numbers.

    Parameters
    ----------
    heading, unit
        As printed; a newline is where a narrow column may break.
    get
        The row's record to a value, or to a whole `Cell` where its mood matters; or where the value stands in the
        record, such as "peak.von_mises_MPa".
    show
        The value to text; three significant figures by default.
    key
        Its name in files; None makes it from the place in the record, else from heading and unit; "" leaves it out.
    optional
        The column is left out where no row has a value for it.
    """
    return Entry(Column(heading, unit, _key_of(key, get, heading, unit)), _getter(get), show, optional)


def words(
    heading: str,
    get: Callable[[Any], Any] | str,
    *,
    key: str | None = None,
    optional: bool = False,
) -> Entry:
    """A column of text, set to the left; parameters as of `column`."""
    return Entry(Column(heading, "", _key_of(key, get, heading), text=True), _getter(get), None, optional)


def only_in_files(key: str, get: Callable[[Any], Value]) -> Entry:
    """A column that is written to files and not drawn."""
    return Entry(Column("", "", key, drawn=False), get, None, False)


def paths(*names: str, inside: str = "") -> list[Entry]:
    """Columns in files alone, of what stands in a record at paths such as "peak.von_mises_MPa".

    Their keys are the paths with underscores, as in the rows of the API's `records`: peak_von_mises_MPa. `inside` is
    the path to the record in the row, which is no part of them.
    """
    before = f"{inside}." if inside else ""
    return [only_in_files(path.replace(".", "_"), _getter(before + path)) for path in names]


def nested_columns(get: Callable[[Any], Mapping[str, Any]], names: Iterable[str]) -> list[Entry]:
    """The same of nested dictionaries, as JSON has them: `get` makes that of a row."""

    def value(path: str) -> Callable[[Any], Value]:
        return lambda row: in_nested(get(row), path)

    return [only_in_files(name.replace(".", "_"), value(name)) for name in names]


def table(name: str, title: str, rows: Iterable[Any], columns: Sequence[Entry | None], *remarks: str) -> Table:
    """A table with a row for each record of `rows`; columns that are None, and empty remarks, are left out."""
    records = list(rows)
    made = [(each, [each.cell(row) for row in records]) for each in columns if each is not None]
    kept = [
        (each.column, cells)
        for each, cells in made
        if not each.optional or any(cell.value is not None for cell in cells)
    ]
    return Table(
        name,
        title,
        tuple(column for column, _ in kept),
        tuple(zip(*(cells for _, cells in kept), strict=True)) if kept else (),
        tuple(remark for remark in remarks if remark),
    )


def judged(value: float | None, target: float | None) -> Cell:
    """A margin or factor to two decimals, bad where it is below its target, if it has one."""
    known = value if value is not None and math.isfinite(value) else None
    bad = known is not None and target is not None and known < target
    return Cell(ratio(known, target), known, "bad" if bad else "")


def yes_no(passes: bool) -> Cell:
    """Whether a thing passes."""
    return Cell("yes", True, "good") if passes else Cell("NO", False, "bad")


def _getter(get: Callable[[Any], Any] | str) -> Callable[[Any], Any]:
    """What finds a value in a record or a dictionary; None where anything on the way to it is None."""
    if callable(get):
        return get
    path = get.split(".")

    def found(record: Any) -> Any:
        for name in path:
            if record is None:
                return None
            record = record[name] if isinstance(record, Mapping) else getattr(record, name)
        return "; ".join(record) if isinstance(record, tuple) else record

    return found


def _key_of(key: str | None, get: Callable[[Any], Any] | str, heading: str, unit: str = "") -> str:
    if key is not None:
        return key
    return get.replace(".", "_") if isinstance(get, str) else _key(heading, unit)


_UNIT_KEYS = {"%": "percent", "N m": "Nm", "deg": "deg"}


def _key(heading: str, unit: str) -> str:
    """A name for files: "Rate", "N/mm" to rate_N_per_mm.

    >>> _key("Rate\\nat rest", "N/mm"), _key("Yield\\nmargin", "")
    ('rate_at_rest_N_per_mm', 'yield_margin')
    """
    name = re.sub(r"[^a-z0-9]+", "_", heading.lower().replace("%", "percent")).strip("_")
    measure = _UNIT_KEYS.get(unit, re.sub(r"\W+", "", unit.replace("/", "_per_")))
    return f"{name}_{measure}" if measure else name
