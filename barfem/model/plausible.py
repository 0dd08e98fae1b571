"""What a steel's numbers can be: a value outside is a slip of the unit or of the pen."""

from __future__ import annotations

__all__ = ["STEEL_UNITS", "TESTED_MM", "a_steels", "can_be_a_steels", "is_a_steels", "range_of"]

# Least, greatest and a usual value, in the unit of a table. Of tests the ranges are wide: common practice, no source.
_STEELS = {
    "E": (150_000.0, 250_000.0, 206_000.0, "MPa"),
    "nu": (0.2, 0.4, 0.3, ""),
    "density": (7000.0, 8500.0, 7850.0, "kg/m3"),
    "yield_strength": (100.0, 3000.0, 1200.0, "MPa"),
    "tensile_strength": (200.0, 3500.0, 1350.0, "MPa"),
}
_OF_TABLES = {
    "elongation": (0.5, 60.0, 6.0, "%"),
    "HRC": (20.0, 70.0, 45.0, "HRC"),
    "HBW": (80.0, 700.0, 430.0, "HBW"),
    "HV": (80.0, 1000.0, 450.0, "HV"),
    "fatigue_strength_coefficient": (200.0, 7000.0, 2000.0, "MPa"),
    "fatigue_strength_exponent": (-0.3, -0.02, -0.08, ""),
    "fatigue_ductility_coefficient": (1e-3, 20.0, 0.6, ""),
    "fatigue_ductility_exponent": (-1.4, -0.2, -0.6, ""),
    "cyclic_strength_coefficient": (200.0, 10_000.0, 2200.0, "MPa"),
    "cyclic_hardening_exponent": (0.01, 0.6, 0.13, ""),
    "strength": (10.0, 7000.0, 640.0, "MPa"),  # read elastically, up to twice the tensile strength
}
_ALL = {**_STEELS, **_OF_TABLES}
STEEL_UNITS = {key: unit for key, (_, _, _, unit) in _STEELS.items()}
"""Of the numbers that a bar file may give instead of a table's."""

TESTED_MM = (3.0, 150.0)  # diameters of test pieces and bars


def is_a_steels(key: str) -> bool:
    """Whether `key` of a material table says something of the steel, which has a range here."""
    return key in _ALL


def range_of(key: str) -> tuple[float, float]:
    """Least and greatest value of `key` that a steel has; of a hardness `key` is the scale."""
    return _ALL[key][:2]


def can_be_a_steels(key: str, value: float) -> bool:
    """Whether a steel could have this value of `key`; NaN none can."""
    least, greatest = range_of(key)
    return least <= value <= greatest


def a_steels(key: str) -> str:
    """What a steel has, for messages: the range of `key`, its unit and a usual value."""
    least, greatest, usual, unit = _ALL[key]
    return f"{least:g} to {greatest:g}{unit and ' ' + unit}, such as {usual:.10g}"
