"""Records as JSON knows them: the one way from results to plain dictionaries, lists, text and finite numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import Field, fields, is_dataclass
from typing import Any, get_args

__all__ = ["NOT_IN_JSON", "json_fields", "plain", "record_in"]

NOT_IN_JSON = {"json": False}
"""Metadata of a field that is kept with a record, but is no number or word of it."""


def plain(value: Any, *, not_finite: list[str] | None = None, path: str = "") -> Any:
    """`value` with dataclasses and mappings as dictionaries, sequences and arrays as lists.

    Parameters
    ----------
    not_finite
        Takes the paths of numbers that are not finite, which become null.

    Raises
    ------
    TypeError
        Something in it is nothing that JSON can hold.
    """
    if is_dataclass(value) and not isinstance(value, type):
        value = {item.name: _with_keys(item, getattr(value, item.name)) for item in json_fields(value)}
    if isinstance(value, Mapping):
        return {
            str(key): plain(item, not_finite=not_finite, path=f"{path}.{key}" if path else str(key))
            for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [plain(item, not_finite=not_finite, path=f"{path}[{i}]") for i, item in enumerate(value)]
    if value is None or isinstance(value, str | bool):
        return value
    if hasattr(value, "tolist"):  # numpy arrays and scalars
        return plain(value.tolist(), not_finite=not_finite, path=path)
    if isinstance(value, int | float):
        if math.isfinite(value):
            return value
        if not_finite is not None:
            not_finite.append(path)
        return None
    raise TypeError(f"{path} is a {type(value).__name__}, which JSON cannot hold")


def _with_keys(item: Field[Any], value: Any) -> Any:
    """A mapping whose names are words, with the keys that its field's metadata "keys" makes of them."""
    key_of = item.metadata.get("keys")
    return value if key_of is None else {key_of(name): each for name, each in value.items()}


def json_fields(record: Any) -> list[Field[Any]]:
    """The fields of a record, or of its type, that JSON has."""
    return [item for item in fields(record) if item.metadata.get("json", True)]


def record_in(hint: Any) -> type | None:
    """The record type that a type hint names, alone, optional or in a tuple."""
    if isinstance(hint, type) and is_dataclass(hint):
        return hint
    return next((found for found in map(record_in, get_args(hint)) if found is not None), None)
