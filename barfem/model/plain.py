"""Records as JSON knows them: the one way from results to plain dictionaries, lists, text and finite numbers.

A record's JSON is its fields, under their names. Metadata of a field leaves it out (`NOT_IN_JSON`) or names its key
otherwise (`json_key`); `_json_also` of its class adds what stands elsewhere, by its path from the record. `Json` makes
the whole of a result.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import Field, fields, is_dataclass
from functools import cache
from operator import attrgetter
from typing import Any, ClassVar, get_args

from barfem.version import __version__

__all__ = ["NOT_IN_JSON", "Json", "finite", "json_as", "json_fields", "json_key", "plain", "record_in"]

NOT_IN_JSON = {"json": False}
"""Metadata of a field that is kept with a record, but is no number or word of it."""


def json_key(name: str) -> dict[str, str]:
    """Metadata of a field whose key in the JSON is not its name."""
    return {"key": name}


def json_as(made: Callable[[Any], Any], *, key: str | None = None) -> dict[str, Any]:
    """Metadata of a field that the JSON has as `made` makes it, under its name or `key`."""
    return {"as": made} | ({} if key is None else {"key": key})


class Json:
    """A result that JSON can hold: `to_json_dict`. `_json_also`: keys beside the fields', each with its path."""

    _json_also: ClassVar[Mapping[str, str]] = {}

    def to_json_dict(self) -> dict[str, Any]:
        """As plain dictionaries, lists, strings, booleans and finite numbers or null."""
        return {"format": 1, "barfem": __version__, **plain(self)}


def finite(value: Any) -> float | None:
    """A number; None where there is none, or it is not finite."""
    number = math.nan if value is None else float(value)
    return number if math.isfinite(number) else None


_AS_THEY_ARE = frozenset((str, bool, int))


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
    if value is None or type(value) in _AS_THEY_ARE or (type(value) is float and math.isfinite(value)):
        return value  # most of a result: it is looked over at every check
    if is_dataclass(value) and not isinstance(value, type):
        record = value
        value = {
            item.metadata.get("key", item.name): _with_keys(item, getattr(record, item.name))
            for item in json_fields(record)
        }
        also: Mapping[str, str] = getattr(record, "_json_also", {})
        value |= {key: attrgetter(path)(record) for key, path in also.items()}
    if isinstance(value, Mapping):
        return {
            str(key): plain(item, not_finite=not_finite, path=f"{path}.{key}" if path else str(key))
            for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [plain(item, not_finite=not_finite, path=f"{path}[{i}]") for i, item in enumerate(value)]
    if isinstance(value, str | bool):
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
    """The value as its field's metadata "as" makes it; a mapping whose names are words with the keys of "keys"."""
    if (made := item.metadata.get("as")) is not None:
        return made(value)
    key_of = item.metadata.get("keys")
    return value if key_of is None else {key_of(name): each for name, each in value.items()}


def json_fields(record: Any) -> list[Field[Any]]:
    """The fields of a record, or of its type, that JSON has."""
    return _json_fields(record if isinstance(record, type) else type(record))


@cache
def _json_fields(kind: type) -> list[Field[Any]]:
    return [item for item in fields(kind) if item.metadata.get("json", True)]


def record_in(hint: Any) -> type | None:
    """The record type that a type hint names, alone, optional or in a tuple."""
    if isinstance(hint, type) and is_dataclass(hint):
        return hint
    return next((found for found in map(record_in, get_args(hint)) if found is not None), None)
