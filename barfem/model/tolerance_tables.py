"""Tables of deviations by size that [tolerances] may name, such as h9: the standards' rows, each with its source."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

from barfem.model.errors import InputError
from barfem.model.nearest import did_you_mean

__all__ = ["table_of", "tables_of"]


def tables_of(key: str) -> dict[str, Any]:
    """The tables for a key of [tolerances], by name."""
    return {name: table for name, table in _tables().items() if table.get("of", key) == key}


def table_of(key: str, name: str) -> dict[str, Any]:
    """The table of that name for a key of [tolerances].

    Raises
    ------
    InputError
        There is none.
    """
    tables = tables_of(key)
    if name not in tables:
        raise InputError(
            f'there is no table of {key.replace("_", " ")}s called "{name}".{did_you_mean(name, tables)}',
            where=f"[tolerances] {key}",
            expected="one of " + ", ".join(tables) + "; or a band in mm.",
        )
    return dict(tables[name])


@lru_cache(maxsize=1)
def _tables() -> dict[str, Any]:
    text = files("barfem.model").joinpath("tolerance_tables.toml").read_text(encoding="utf-8")
    return dict(tomllib.loads(text)["tables"])
