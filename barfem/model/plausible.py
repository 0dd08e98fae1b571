"""What a steel's numbers can be: a value outside is a slip of the unit or of the pen."""

from __future__ import annotations

__all__ = ["STEEL_UNITS", "a_steels", "can_be_a_steels", "range_of"]

# Least, greatest and a usual value, in the unit of a table.
_STEELS = {
    "E": (150_000.0, 250_000.0, 206_000.0),
    "nu": (0.2, 0.4, 0.3),
    "density": (7000.0, 8500.0, 7850.0),
    "yield_strength": (100.0, 3000.0, 1200.0),
    "tensile_strength": (200.0, 3500.0, 1350.0),
}
STEEL_UNITS = {"E": "MPa", "nu": "", "density": "kg/m3", "yield_strength": "MPa", "tensile_strength": "MPa"}


def range_of(key: str) -> tuple[float, float]:
    """Least and greatest value of `key` that a steel has."""
    return _STEELS[key][:2]


def can_be_a_steels(key: str, value: float) -> bool:
    """Whether a steel could have this value of `key`; NaN none can."""
    least, greatest = range_of(key)
    return least <= value <= greatest


def a_steels(key: str) -> str:
    """What a steel has, for messages: the range of `key`, its unit and a usual value."""
    least, greatest, usual = _STEELS[key]
    unit = f" {STEEL_UNITS[key]}" if STEEL_UNITS[key] else ""
    return f"{least:g} to {greatest:g}{unit}, such as {usual:.10g}"
