"""A check's result as flat rows: one dict a row, the same keys in each, as spreadsheets and data frames want them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_origin, get_type_hints

from barfem.check.result import CheckResult, SettingResult, UnsolvedSetting
from barfem.model.errors import InputError
from barfem.model.nearest import did_you_mean
from barfem.model.plain import json_fields, record_in

__all__ = ["ROWS", "records"]

ROWS = ("settings", "places", "states", "mount_reactions", "lives", "blocks", "critical_planes")
"""What there are rows of: a row a hole setting, or a row for each of what every hole setting holds several of."""


def records(result: CheckResult, rows: str = "settings") -> list[dict[str, Any]]:
    """The rows of `CheckResult.records`.

    Raises
    ------
    InputError
        There are no such rows.
    """
    if rows not in ROWS:
        raise InputError(
            f"there are no rows of {rows!r}.{did_you_mean(str(rows), ROWS)}",
            where="rows",
            expected=", ".join(ROWS) + ".",
        )
    found = []
    for setting in result.settings:
        head = {"name": result.name, "left": setting.left, "right": setting.right, "case": setting.case}
        if rows == "settings":
            found.append(head | {key: value for key, value in _flat(SettingResult, setting) if key not in head})
        else:
            found += [head | dict(_flat(type(item), item)) for item in _several(setting, rows)]
    return found + ([_without_numbers(result.name, each) for each in result.unsolved] if rows == "settings" else [])


def _without_numbers(name: str, unsolved: UnsolvedSetting) -> dict[str, Any]:
    """The row of a hole setting that cannot follow its travel: it fails, says why, and holds no number.

    Without it, "every row passes" would be true of a check that fails.
    """
    known = dict(_flat(UnsolvedSetting, unsolved))
    return {"name": name} | {key: known.get(key) for key, _ in _flat(SettingResult, None)}


def _several(setting: SettingResult, rows: str) -> tuple[Any, ...]:
    if rows == "lives":
        return setting.fatigue.lives
    if rows == "blocks":
        return () if setting.fatigue.duty is None else setting.fatigue.duty.blocks
    several: tuple[Any, ...] = getattr(setting, rows)
    return several


def _flat(kind: type, record: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """(key, value) of every single value in a record of type `kind`, in the order of its fields.

    A record that is None gives the same keys with None, so that the keys never depend on the bar. Lists of records
    and mappings are left out: they have rows of their own, or are no columns.
    """
    hints = get_type_hints(kind)
    for item in json_fields(kind):
        key, value, hint = (
            f"{path}{item.name}",
            None if record is None else getattr(record, item.name),
            hints[item.name],
        )
        nested = record_in(hint)
        if get_origin(hint) is tuple:
            if nested is None:
                yield key, None if value is None else "; ".join(value)
        elif nested is not None:
            yield from _flat(nested, value, f"{key}_")
        elif get_origin(hint) is not Mapping:
            yield key, value
