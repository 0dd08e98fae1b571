"""Records as JSON knows them: the one way from results to plain dictionaries, lists, text and finite numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

__all__ = ["plain"]


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
        value = {item.name: getattr(value, item.name) for item in fields(value)}
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
