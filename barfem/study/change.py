"""A bar changed by the keys of its bar file, read again by the same reader: whatever it refuses is refused here too.

A key is a path such as "section.diameter", "mounts.1.from_middle", "ends.holes.stiff.from_tip" or "mounts.*.length".
Entries of lists are counted from 1, as in messages; holes may be named; * is every entry.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.given import a, keys, takes
from barfem.model.read import bar_from_dict

__all__ = ["change", "rebuilt", "tables_of"]

Tables = dict[str, Any]


def tables_of(bar: Bar) -> Tables:
    """The tables of the bar's file, to be changed at will.

    Raises
    ------
    InputError
        The bar was not read from a bar file or its tables.
    """
    if bar.tables is None:
        raise InputError(
            f"{bar.name} was not read from a bar file, so none of its keys can be changed.",
            expected="a bar from read_bar or bar_from_dict.",
        )
    return deepcopy(dict(bar.tables))


def rebuilt(bar: Bar, tables: Mapping[str, Any]) -> Bar:
    """The bar of changed tables, in the place of `bar` (paths in it are relative to the same file).

    Raises
    ------
    InputError
        The changed tables are no bar; the message names table, key and value.
    """
    return bar_from_dict(tables, source=bar.source)


@takes(
    bar=a("a bar", Bar, "a bar from read_bar or bar_from_dict."),
    values=keys('new values by key: {"section.diameter": 24}.'),
)
def change(bar: Bar, values: Mapping[str, Any]) -> Bar:
    """A bar with some keys of its file changed, in their order; the bar itself stays as it is.

    Parameters
    ----------
    bar
        A bar from `read_bar`, `bar_from_dict` or `change`.
    values
        New values by key: ``{"section.diameter": 24, "mounts.*.radial_stiffness": 6000}``. Units as in the file. List
        entries count from 1, holes go by name (``"ends.holes.stiff.from_tip"``), ``*`` is every entry. A table that the
        file leaves out is made; give a whole one to replace it: ``{"section": {"shape": "round", "diameter": 24}}``.

    Raises
    ------
    InputError
        No such entry, or no bar, in the words of `read_bar`; the message names the key.
    """
    tables = tables_of(bar)
    for key, value in values.items():
        if _holds_none(value):
            raise InputError(
                "nothing stands where a value is needed.",
                where=key,
                expected="a value as the bar file has it; to leave a key out, its whole table without it.",
            )
        places = _places(tables, key, make=True)
        if not places:
            raise InputError(f"{key} names no entry of the bar file.", where=key, expected="an entry that is there.")
        for table, last in places:
            table[last] = deepcopy(value)
    return rebuilt(bar, tables)


def _holds_none(value: Any) -> bool:
    inside = value.values() if isinstance(value, Mapping) else value if isinstance(value, list | tuple) else ()
    return value is None or any(map(_holds_none, inside))


def _places(tables: Tables, key: str, *, make: bool) -> list[tuple[Any, Any]]:
    """(container, last key or index) of every entry that `key` names."""
    parts = key.split(".")
    if not all(part.strip() for part in parts):
        raise InputError(f'"{key}" is no key.', where=key, expected='a path such as "section.diameter".')
    found: list[tuple[Any, Any]] = [({"": tables}, "")]
    for depth, part in enumerate(parts):
        way = ".".join(parts[: depth + 1])
        following: list[tuple[Any, Any]] = []
        for container, at in found:
            held = container.get(at) if isinstance(container, dict) else container[at]
            if held is None and make:
                if at == "holes":  # of one end: a table would be made where the file has none of its own
                    raise InputError(
                        f"the bar file has no {'.'.join(parts[:depth])}.",
                        where=key,
                        expected="ends.holes, or a bar file in which [ends.left] and [ends.right] have holes.",
                    )
                held = container[at] = {}
            if isinstance(held, dict):
                following += [(held, name) for name in (held if part == "*" else (part,))]
            elif isinstance(held, list):
                following += [(held, index) for index in _indices(held, part, way)]
            elif held is not None:
                raise InputError(
                    f"there is no {way}: {'.'.join(parts[:depth])} is {held!r}, not a table.",
                    where=key,
                    expected="a key of the bar file.",
                )
        found = following
    return found


def _indices(entries: list[Any], part: str, way: str) -> list[int]:
    if part == "*":
        return list(range(len(entries)))
    names = [str(entry.get("name")) for entry in entries if isinstance(entry, dict) and "name" in entry]
    if part in names:
        return [i for i, entry in enumerate(entries) if isinstance(entry, dict) and str(entry.get("name")) == part]
    if part.isdecimal() and 1 <= int(part) <= len(entries):
        return [int(part) - 1]
    known = f"1 to {len(entries)}" + (f", or {', '.join(names)}" if names else "") if entries else "none: it is empty"
    raise InputError(f'there is no "{part}" in the list.', where=way, expected=f"an entry from {known}; or * for all.")
