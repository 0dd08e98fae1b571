"""What is to vary, from text: "section.diameter=20:26:7" or "material.surface=ground,machined"."""

from __future__ import annotations

import math
import re
import tomllib
from typing import Any

import numpy as np

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped

__all__ = ["SweepKey", "parse_key"]

MOST_VALUES = 100_000
EXPECTED = 'KEY=FIRST:LAST:COUNT, such as section.diameter=20:26:7; or KEY=A,B,C, such as "section.wall=3.5,4,4.5".'

_WITH_UNIT = re.compile(r"(?P<number>[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit>[^\d\s.+-].*)")


@frozen
class SweepKey:
    """A key of the bar file and the values that it takes."""

    key: str
    values: tuple[Any, ...]


def parse_key(text: str) -> SweepKey:
    """The key and its values.

    FIRST:LAST:COUNT is COUNT numbers evenly from FIRST to LAST, both included, which may carry a unit. A list holds
    TOML values, or words and numbers with a unit as they stand; in brackets it is a TOML list.

    Raises
    ------
    InputError
        No key, no values, a number that is not finite, or a range that is none.
    """
    key, equals, values_text = text.partition("=")
    key, values_text = key.strip(), values_text.strip()
    if not (equals and key and values_text):
        raise InputError(f"{text!r} is no key with values.", where="sweep", expected=EXPECTED)
    if values_text.startswith("["):
        return SweepKey(key, _toml_list(key, values_text))
    if ":" in values_text and not values_text.startswith(("'", '"')) and "," not in values_text:
        return SweepKey(key, _range(key, values_text))
    values = tuple(_value(entry.strip()) for entry in values_text.split(","))
    if any(value == "" for value in values):
        raise InputError(f"{key} has an empty value in {values_text!r}.", where=key, expected=EXPECTED)
    if any(isinstance(value, float) and not math.isfinite(value) for value in values):
        raise InputError(f"{values_text!r} holds what is not a finite number.", where=key, expected=EXPECTED)
    return SweepKey(key, values)


def _range(key: str, text: str) -> tuple[float | str, ...]:
    try:
        first, last, count = (part.strip() for part in text.split(":"))
        (start, unit), (end, end_unit), number = _end(first), _end(last), int(count)
    except ValueError as error:
        raise InputError(f"{text!r} is no range.", where=key, expected=EXPECTED) from error
    if unit != end_unit:
        raise InputError(
            f"the ends of {text!r} have unlike units.",
            where=key,
            expected="both ends in one unit, such as section.diameter=0.8in:1in:5.",
        )
    if not (math.isfinite(start) and math.isfinite(end)) or not 1 <= number <= MOST_VALUES:
        raise InputError(f"{text!r} is no range of 1 to {grouped(MOST_VALUES)} numbers.", where=key, expected=EXPECTED)
    if number == 1 and start != end:
        raise InputError(f"{text!r} is one value between two ends.", where=key, expected="a COUNT of 2 or more.")
    # Twelve digits: 20.1, not 20.100000000000001.
    values = [f"{value:.12g}" for value in np.linspace(start, end, number)]
    return tuple(f"{value} {unit}" if unit else float(value) for value in values)


def _end(text: str) -> tuple[float, str]:
    """One end of a range and its unit, "" where it has none; raises ValueError where it is no number."""
    match = _WITH_UNIT.fullmatch(text)
    return (float(text), "") if match is None else (float(match["number"]), match["unit"])


def _toml_list(key: str, text: str) -> tuple[Any, ...]:
    try:
        values = tomllib.loads(f"values = {text}")["values"]
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"{text!r} is no TOML list: {error}.", where=key, expected='["a", "b"] or [[0, 0, 1], ...].'
        ) from error
    if not isinstance(values, list) or not values:
        raise InputError(f"{text!r} holds no values.", where=key, expected=EXPECTED)
    return tuple(values)


def _value(text: str) -> Any:
    """A TOML value (number, true, "text"), else the text itself."""
    try:
        found = tomllib.loads(f"value = {text}")
    except tomllib.TOMLDecodeError:
        return text
    return found["value"] if set(found) == {"value"} else text
