"""The units that drawings use, converted without loading a library: what is not here goes to pint.

Each unit is a factor and its powers of (mm, N, rad, kg). Inch, pound and pound-force are exact by definition (the
international yard and pound agreement of 1959; standard gravity 9.80665 m/s2, ISO 80000-3).
"""

from __future__ import annotations

import math
import re

__all__ = ["UNIT_TEXT", "plain_factor"]

Powers = tuple[int, int, int, int]

_L, _F, _A, _M = (1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1)
_P = (-2, 1, 0, 0)
_LBF = 0.45359237 * 9.80665

_UNITS: dict[str, tuple[float, Powers]] = {
    "mm": (1.0, _L), "cm": (10.0, _L), "m": (1000.0, _L), "in": (25.4, _L), "inch": (25.4, _L), "ft": (304.8, _L),
    "N": (1.0, _F), "kN": (1000.0, _F), "lbf": (_LBF, _F),
    "MPa": (1.0, _P), "GPa": (1000.0, _P), "psi": (_LBF / 25.4**2, _P), "ksi": (1000.0 * _LBF / 25.4**2, _P),
    "rad": (1.0, _A), "deg": (math.pi / 180.0, _A),
    "kg": (1.0, _M), "g": (1e-3, _M), "lb": (0.45359237, _M),
}  # fmt: skip

_TERM = r"[A-Za-z\u00b5\u03bc]{1,20}(?:\s*(?:\*\*|\^)?\s*-?[1-9])?"
UNIT_TEXT = rf"{_TERM}(?:\s*[*/.]\s*{_TERM}|\s+{_TERM}){{0,5}}"
"""What a unit may look like: names with one-digit powers, joined by `*`, `/`, `.` or a space."""

_SPLIT = re.compile(r"([*/])?\s*([A-Za-z]+)\s*(?:(?:\*\*|\^)?\s*(-?[1-9]))?\s*")


def plain_factor(unit: str, base: str) -> float | None:
    """What one `unit` is in the unit `base`; None where either is not of the plain ones, or their kinds differ.

    >>> plain_factor("lbf/in", "N/mm") == 0.45359237 * 9.80665 / 25.4
    True
    """
    given, wanted = _reduced(unit), _reduced(base)
    if given is None or wanted is None or given[1] != wanted[1]:
        return None
    return given[0] / wanted[0]


def _reduced(unit: str) -> tuple[float, Powers] | None:
    """A compound unit as a factor and its powers of mm, N, rad and kg."""
    factor, powers, at = 1.0, [0, 0, 0, 0], 0
    text = unit.replace("**", "^").replace(".", "*")
    while at < len(text):
        found = _SPLIT.match(text, at)
        if found is None or found[2] not in _UNITS or (at > 0) != (found[1] is not None):
            return None
        power = int(found[3] or 1) * (-1 if found[1] == "/" else 1)
        size, of = _UNITS[found[2]]
        factor *= size**power
        powers = [have + power * each for have, each in zip(powers, of, strict=True)]
        at = found.end()
    a, b, c, d = powers
    return factor, (a, b, c, d)
