"""Sizes that can be bought: the shipped list, or one's own in the same form.

A stock list is a TOML file with format = 1 and one or both of

    [round]
    source = "..."
    diameters = [20.0, 22.0, "0.875 in"]

    [tube]
    source = "..."
    sizes = [ { diameter = 28.0, walls = [3.5, 4.0, 4.5] } ]
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from barfem.model.bar import Section
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.toml_file import read_toml
from barfem.model.units import number

__all__ = ["SHAPES", "Stock", "default_stock_path", "read_stock"]

SHAPES = ("round", "tube")


@frozen
class Stock:
    """Sections that can be bought, and where the list says it has them from (by shape)."""

    name: str
    file: str
    sections: tuple[Section, ...]
    sources: Mapping[str, str]

    def of(self, *shapes: str) -> tuple[Section, ...]:
        """Those of the given shapes, by outside diameter and wall."""
        some = [section for section in self.sections if section.shape in shapes]
        return tuple(sorted(some, key=lambda section: (section.shape, section.diameter_mm, section.wall_mm or 0.0)))


def default_stock_path() -> Path:
    """The list that ships with barfem."""
    return Path(__file__).with_name("stock.toml")


def read_stock(path: str | os.PathLike[str] | None = None) -> Stock:
    """The stock list in a file, by default the shipped one.

    Raises
    ------
    InputError
        No such file, not TOML, or an entry that cannot be; the message names file, key and value.
    """
    file = default_stock_path() if path is None else Path(path)
    shown = str(file)
    expected = f"a stock list like {default_stock_path()}."
    data = read_toml(file, kind="stock list")
    if data.get("format") != 1:
        raise InputError(f"format is {data.get('format')!r}.", where="format", file=shown, expected="format = 1.")
    for key in data:
        if key not in ("format", "name", *SHAPES):
            raise InputError(f"unknown key {key!r}.", where=key, file=shown, expected="name, [round] and [tube].")
    sections = [*_rounds(data.get("round"), shown), *_tubes(data.get("tube"), shown)]
    if not sections:
        raise InputError("the list has no sizes.", file=shown, expected=expected)
    sources = {shape: str(data[shape].get("source", "no source given")) for shape in SHAPES if shape in data}
    return Stock(str(data.get("name", file.stem)), shown, tuple(dict.fromkeys(sections)), sources)


def _rounds(table: Any, file: str) -> list[Section]:
    if table is None:
        return []
    values = _list(table, "round", "diameters", file)
    return [Section("round", _length(value, f"[round] diameters {i}", file)) for i, value in enumerate(values, 1)]


def _tubes(table: Any, file: str) -> list[Section]:
    if table is None:
        return []
    found = []
    for i, entry in enumerate(_list(table, "tube", "sizes", file), start=1):
        where = f"[tube] sizes {i}"
        if not isinstance(entry, dict) or set(entry) != {"diameter", "walls"} or not isinstance(entry["walls"], list):
            raise InputError(
                f"{entry!r} is no size.",
                where=where,
                file=file,
                expected="{ diameter = 28.0, walls = [3.5, 4.0] }.",
            )
        diameter = _length(entry["diameter"], f"{where}, diameter", file)
        for wall in (_length(value, f"{where}, walls", file) for value in entry["walls"]):
            if wall >= 0.5 * diameter:
                raise InputError(
                    f"a wall of {wall:g} mm leaves no bore in {diameter:g} mm.",
                    where=f"{where}, walls",
                    file=file,
                    expected=f"walls below {0.5 * diameter:g} mm.",
                )
            found.append(Section("tube", diameter, wall))
    return found


def _list(table: Any, name: str, key: str, file: str) -> list[Any]:
    unknown = [other for other in table if other not in (key, "source")] if isinstance(table, dict) else []
    if not isinstance(table, dict) or not isinstance(table.get(key), list) or unknown:
        raise InputError(
            f"[{name}] holds {', '.join(unknown)}." if unknown else f"[{name}] has no list of {key}.",
            where=f"[{name}]",
            file=file,
            expected=f"source and {key}.",
        )
    return list(table[key])


def _length(value: Any, where: str, file: str) -> float:
    try:
        length = number(value, "length")
    except InputError as error:
        raise InputError(error.problem, where=where, file=file, expected=error.expected) from error
    if length <= 0.0:
        raise InputError(f"{length:g} mm is not possible.", where=where, file=file, expected="a length above 0.")
    return length
