"""Tables as comma-separated values, for spreadsheets and other programs.

Numbers keep all their digits; an empty field is no number. The semicolon dialect has decimal commas, as spreadsheets in
much of Europe read them. A text that a spreadsheet would take for a formula gets an apostrophe before it, which makes
it text there.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from barfem.show.tables import Table, Value

__all__ = ["DIALECTS", "columns_csv", "tables_csv"]

DIALECTS = {"comma": (",", "."), "semicolon": (";", ",")}
"""Name: what separates fields, and the decimal sign."""

_FORMULA = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
"""Text that begins so is a formula to some spreadsheet (OWASP, CSV Injection); the last four are the full-width signs,
which some take as well."""


def tables_csv(tables: Sequence[Table], dialect: str = "comma") -> str:
    """A header and a line for each row of all tables; what one of them has no column for stays empty there."""
    keys = list(dict.fromkeys(each.key for made in tables for each in made.columns if each.key))
    rows: list[list[Value]] = []
    for made in tables:
        at = {each.key: i for i, each in enumerate(made.columns)}
        rows += [[row[at[key]].value if key in at else None for key in keys] for row in made.rows]
    return _written(keys, rows, dialect)


def columns_csv(columns: Mapping[str, Sequence[Value]], dialect: str = "comma") -> str:
    """The same of columns by name, all of one length."""
    return _written(list(columns), zip(*columns.values(), strict=True), dialect)


def _written(keys: Sequence[str], rows: Iterable[Sequence[Value]], dialect: str) -> str:
    separator, decimal = DIALECTS[dialect]
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    writer.writerow([_field(key, decimal) for key in keys])
    writer.writerows([_field(value, decimal) for value in row] for row in rows)
    return out.getvalue()


def _field(value: Any, decimal: str) -> str:
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{value}" if value.lstrip(" ").startswith(_FORMULA) else value
    return str(value).replace(".", decimal)
