"""Tensile strength from a hardness on a certificate: ISO 18265 Table A.1, unalloyed and low-alloy steels.

The standard itself calls the tensile column its least reliable: what comes out is an estimate. Rows from memory, sure;
the hardness columns agree with ASTM E140 within one HRC point. Between rows linear; outside of them refused. Vickers
(HV), Brinell with a carbide ball (HBW, also written HB) and Rockwell C (HRC).
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen

__all__ = [
    "HARDNESS_SOURCE",
    "HardnessValue",
    "brinell_from_tensile",
    "parse_hardness",
    "tensile_from_hardness",
    "vickers_from_tensile",
    "within_table",
]

HARDNESS_SOURCE = "converted from hardness by ISO 18265 Table A.1 (from memory, sure): an estimate"

# HV, HBW, HRC (NaN below the scale's start), tensile strength in MPa.
_ROWS = np.array(
    [
        (200, 190, np.nan, 640),
        (250, 238, 22.2, 800),
        (300, 285, 29.8, 965),
        (350, 333, 35.5, 1125),
        (380, 361, 38.8, 1220),
        (400, 380, 40.8, 1290),
        (420, 399, 42.7, 1350),
        (430, 409, 43.6, 1385),
        (450, 428, 45.3, 1455),
        (470, 447, 46.9, 1520),
        (480, 456, 47.7, 1555),
        (500, 475, 49.1, 1630),
        (520, 494, 50.5, 1700),
        (550, 523, 52.3, 1810),
        (600, 570, 55.2, 1995),
    ]
)
_COLUMN = {"HV": 0, "HBW": 1, "HRC": 2}
_TENSILE = 3

_FORM = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s*(?:(?:-|to)\s*(\d+(?:\.\d+)?))?\s*(HRC|HBW|HB|HV)(?:\s*\d+(?:\.\d+)?"
    r"(?:/\d+(?:\.\d+)?){0,2})?\s*",  # ball, load and seconds: 430 HBW 10/3000, 446 HV 30/20 (ISO 6506, 6507)
    re.IGNORECASE,
)
_EXPECTED = '"45 HRC", "421 HBW" or "446 HV", or a window such as "43-46 HRC", of which the lower end counts.'


@frozen
class HardnessValue:
    """A hardness or a window of it on one scale ("HRC", "HBW", "HV"); `low` is what strength is taken from."""

    low: float
    high: float
    scale: str

    @property
    def text(self) -> str:
        window = f"{self.low:g}" if self.low == self.high else f"{self.low:g}-{self.high:g}"
        return f"{window} {self.scale}"


def parse_hardness(text: object, *, where: str = "[material] hardness") -> HardnessValue:
    """A hardness as a certificate writes it.

    Raises
    ------
    InputError
        No number with a scale, a window that ends below its start, or outside of the table.
    """
    match = _FORM.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise InputError(f"{text!r} is not a hardness with its scale.", where=where, expected=_EXPECTED)
    low = float(match[1])
    high = float(match[2]) if match[2] else low
    scale = match[3].upper()
    scale = "HBW" if scale == "HB" else scale
    if high < low:
        raise InputError(f'the window "{text}" ends below its start.', where=where, expected=_EXPECTED)
    tensile_from_hardness(low, scale=scale, where=where)
    return HardnessValue(low, high, scale)


def tensile_from_hardness(value: float, *, scale: str, where: str = "[material] hardness") -> float:
    """Tensile strength [MPa] that belongs to a hardness on `scale` "HRC", "HBW" or "HV".

    Raises
    ------
    InputError
        Unknown scale, or a hardness outside of the table (22.2 to 55.2 HRC, 190 to 570 HBW, 200 to 600 HV).
    """
    if scale not in _COLUMN:
        raise InputError(f'there is no hardness scale "{scale}" here.', where=where, expected=_EXPECTED)
    column = _ROWS[:, _COLUMN[scale]]
    known = np.isfinite(column)
    low, high = _ends(scale)
    if not low <= value <= high:
        raise InputError(
            f"{value:g} {scale} is outside the table of ISO 18265 that is used here.",
            where=where,
            expected=f"{low:g} to {high:g} {scale}; beyond that give the strengths themselves.",
        )
    return float(np.interp(value, column[known], _ROWS[known, _TENSILE]))


def within_table(value: float, *, scale: str) -> float:
    """The hardness itself, or the end of the table that it lies beyond."""
    low, high = _ends(scale)
    return min(max(value, low), high)


def _ends(scale: str) -> tuple[float, float]:
    column = _ROWS[:, _COLUMN[scale]]
    return float(np.nanmin(column)), float(np.nanmax(column))


def vickers_from_tensile(tensile_MPa: ArrayLike) -> NDArray[np.float64]:
    """Vickers hardness of a tensile strength [MPa], by the same table; beyond its ends in proportion to the end row."""
    return _from_tensile(tensile_MPa, _COLUMN["HV"])


def brinell_from_tensile(tensile_MPa: ArrayLike) -> NDArray[np.float64]:
    """Brinell hardness of a tensile strength [MPa], by the same table; beyond its ends in proportion to the end row."""
    return _from_tensile(tensile_MPa, _COLUMN["HBW"])


def _from_tensile(tensile_MPa: ArrayLike, column: int) -> NDArray[np.float64]:
    tensile = np.asarray(tensile_MPa, float)
    inside = np.interp(tensile, _ROWS[:, _TENSILE], _ROWS[:, column])
    below, above = _ROWS[0], _ROWS[-1]
    ends = np.where(tensile < below[_TENSILE], tensile * below[column] / below[_TENSILE], inside)
    return np.where(tensile > above[_TENSILE], tensile * above[column] / above[_TENSILE], ends)
