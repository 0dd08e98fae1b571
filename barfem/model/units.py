"""Numbers as the bar file gives them: plain in the field's own unit, or a string with a unit.

The units of drawings are converted here (`plain_units`); pint is imported when another one occurs, not before.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Any

from barfem.model.errors import InputError
from barfem.model.plain_units import UNIT_TEXT, plain_factor

__all__ = ["LARGEST", "UNITS", "as_written", "number"]

UNITS: dict[str, str] = {
    "length": "mm",
    "angle": "deg",
    "force per length": "N/mm",
    "torsional stiffness": "N*mm/rad",
    "stress": "MPa",
    "density": "kg/m**3",
    "mass": "kg",
    "force": "N",
    "distance": "km",
    "speed": "km/h",
    "acceleration": "g",
    "angle per length": "deg/mm",
    "roll gradient": "deg/g",
    "percent": "%",
    "plain": "",
}
"""Each kind of number and the unit in which a plain one is read; "plain" has none."""

LARGEST: dict[str, float] = {
    "length": 1e4,  # 10 m: more than a car holds
    "angle": 3600.0,
    "force per length": 1e12,
    "torsional stiffness": 1e15,
    "stress": 1e7,
    "density": 1e5,
    "mass": 1e5,
    "force": 1e7,
    "distance": 1e6,
    "speed": 500.0,
    "acceleration": 1e3,
    "angle per length": 100.0,
    "roll gradient": 1e3,
    "percent": 1e6,
    "plain": 1e15,
}
"""Largest magnitude of each kind, in its own unit: far above any bar's, far below what overflows."""

_NAMES = {
    "plain": "number",
    "percent": "number in %",
    "force per length": "stiffness in N/mm",
    "torsional stiffness": "stiffness in N·mm/rad",
}
_EXAMPLES = {
    "length": '24.0 (mm) or "0.945 in"',
    "angle": '12.5 (deg) or "0.2 rad"',
    "force per length": '5000.0 (N/mm) or "1200 lbf/in"',
    "torsional stiffness": '50000.0 (N·mm/rad) or "50 N*m/rad"',
    "stress": '1200.0 (MPa) or "174 ksi"',
    "density": '7850.0 (kg/m3) or "7.85 g/cm**3"',
    "mass": '290.0 (kg) or "640 lb"',
    "force": '3000.0 (N) or "675 lbf"',
    "distance": '21.4 (km) or "13.3 mi"',
    "speed": '60.0 (km/h) or "37 mph"',
    "acceleration": '0.9 (g) or "8.8 m/s2"',
    "angle per length": '-0.02 (deg/mm) or "-0.5 deg/in"',
    "roll gradient": '1.5 (deg/g) or "1.5 deg/g"',
    "percent": '3.0 (%) or "3 %"',
    "plain": "a number without quotes",
}
_OF_ANGLES = ("angle", "torsional stiffness", "angle per length")
_MASSES = {"pound": "lb", "kilogram": "kg"}
"""Units of mass that are written for forces, and as they are written."""
_OWN = {
    "acceleration": {"g": 1.0, "m/s2": 1.0 / 9.81, "m/s**2": 1.0 / 9.81, "m/s^2": 1.0 / 9.81},
    "roll gradient": {"deg/g": 1.0},
    "percent": {"percent": 1.0},
}
"""Units of one kind alone: g is 9.81 m/s2 there, as everywhere in car files, and no gram; 3 % is 3, and not 0.03."""
_STRING = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)(?:\s*/\s*(\d+(?:\.\d*)?))?\s*(.*?)\s*")
_MIXED = re.compile(r"\s*(\d{1,4})(?:\s+|-)(\d{1,4})/(\d{1,4})\s*([A-Za-z]+)\s*")  # 1 1/16 in, as on drawings


def number(value: Any, kind: str, *, example: str | None = None, most: float | None = None) -> float:
    """`value` as a finite float in the unit of `kind` (a key of `UNITS`); `example` of what is right, for messages.

    `most` stands in place of `LARGEST` where who asks has limits, and words, of its own.

    A string holds a number (or a fraction such as 15/16) and a unit of the right dimension. A rotational stiffness
    must name its angle unit: N*m alone could be per rad or per deg.

    Raises
    ------
    InputError
        Not a number, not finite, no unit, an unknown unit, or a unit of another dimension.
    """
    right = example or _EXAMPLES[kind]
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise InputError(f"{as_written(value)} is not a number.", expected=f"{right}.")
    if isinstance(value, str):
        value = _from_string(value, kind, right)
    try:
        result = float(value)
    except OverflowError:
        result = math.inf
    if not math.isfinite(result):
        raise InputError(f"{result} is not a finite number.", expected=f"{right}.")
    if abs(result) > (LARGEST[kind] if most is None else most):
        unit = UNITS[kind].replace("**", "").replace("*", "·")
        limit = f"; at most {LARGEST[kind]:g} {unit}".rstrip() if example is None else ""
        raise InputError(f"{result:g} is far out of range.", expected=f"{right}{limit}.")
    return result


def as_written(value: Any) -> str:
    """A value for a message as a file writes it, not as Python does; a long one cut."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    text = "nothing" if value is None else value.isoformat() if hasattr(value, "isoformat") else repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:40]}..."


def _from_string(text: str, kind: str, right: str) -> float:
    mixed = _MIXED.fullmatch(text)
    if mixed is not None:
        whole, part, of = (int(digits) for digits in mixed.groups()[:3])
        one = f'one fraction, "{whole * of + part}/{of} {mixed[4]}"'
        raise InputError(f'"{text}" is a mixed fraction.', expected=f"{one}, or {right}.")
    match = _STRING.fullmatch(text)
    if match is None or match[3].startswith(","):
        hint = " (decimals are written with a point)" if re.match(r"\s*[+-]?\d+,\d", text) else ""
        raise InputError(f'"{text}" is not a number with a unit{hint}.', expected=f"{right}.")
    magnitude = float(match[1])
    if match[2] is not None:
        if float(match[2]) == 0.0:
            raise InputError(f'"{text}" divides by zero.', expected=f"{right}.")
        magnitude /= float(match[2])
    unit = match[3].replace("·", "*").replace("⋅", "*").replace("°", "deg").replace("³", "**3").replace("%", "percent")
    unit = unit.replace("²", "**2")
    if not unit:
        raise InputError(f'"{text}" has no unit.', expected=f"{right}.")
    if re.fullmatch(UNIT_TEXT, unit) is None:
        raise InputError(
            f'"{_short(text)}" does not end in a unit.',
            expected=f"{right}; a unit is letters with one-digit powers, joined by *, / or a point.",
        )
    if kind in _OWN:
        if unit.replace(" ", "") not in _OWN[kind]:
            raise InputError(f'"{text}" is not {_a(kind)}.', expected=f"{right}.")
        return magnitude * _OWN[kind][unit.replace(" ", "")]
    factor = plain_factor(unit, UNITS[kind]) if UNITS[kind] else None
    return magnitude * (_factor(unit, kind, text, right) if factor is None else factor)


def _a(kind: str) -> str:
    what = _NAMES.get(kind, kind)
    return f"{'an' if what[0] in 'aeiou' else 'a'} {what}"


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@lru_cache(maxsize=256)
def _factor(unit: str, kind: str, text: str, right: str) -> float:
    """What one `unit` is in the unit of `kind`."""
    registry = _registry()
    unit = re.sub(r"(?<=[A-Za-z])\s*(?:\*\*|\^)?\s*(-?\d)", r"**\1", unit.replace(".", "*"))
    example = f"{right}."
    try:
        given = registry.parse_units(unit)
    except Exception as error:  # pint raises several kinds, some of them Python's own, on text it cannot parse
        raise InputError(f'unit "{unit}" in "{text}" is not known.', expected=example) from error
    base = registry.parse_units(UNITS[kind] or "dimensionless")
    names = {str(name) for name in given._units}
    has_angle = bool(names & {"radian", "degree", "turn", "arcminute", "arcsecond", "milliradian", "grade"})
    if given.dimensionality != base.dimensionality or has_angle != (kind in _OF_ANGLES):
        hint = ""
        mass = next((short for name, short in _MASSES.items() if name in names), None)
        if kind == "force per length" and mass is not None:
            hint = f" ({mass} is a mass; the force is {mass}f)"
        elif kind == "torsional stiffness" and given.dimensionality == base.dimensionality:
            hint = " (per rad or per deg?)"
        raise InputError(f'"{text}" is not {_a(kind)}{hint}.', expected=example)
    return float(registry.Quantity(1.0, given).to(base).magnitude)
