"""The bands of a bar: what may differ from its drawing, by how much, by which standard.

A band is of one key of [tolerances] ("bend_angle"); its variables are the single dimensions it goes over (each bend's
angle), which vary independently of each other.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.schema import TolerancesTable
from barfem.model.tolerance_tables import table_of, tables_of
from barfem.model.tolerance_types import WIDEST_DEG, Distribution, GivenBand, another_bar
from barfem.study.bands_dimensions import Dimension, dimensions_of
from barfem.study.bands_strength import strength_window

__all__ = ["Band", "Variable", "bands_of", "deviations", "hole_diameter_band", "rate_band"]

Array = NDArray[np.float64]
Unit = Literal["mm", "deg", "%", "MPa"]

_WIDEST_SHARE = 0.5  # of the largest dimension that a band goes over: farther from the drawing it is another bar
SIGMAS = 3.0
"""A normal band reaches so many standard deviations to both sides of its middle, and no farther."""


@frozen
class Variable:
    """One dimension that varies: `where` names it ("left", "bend 1"); deviations from the drawing in its own unit."""

    key: str
    where: str
    index: int
    low: float
    high: float
    distribution: Distribution


@frozen
class Band:
    """One key of [tolerances] on this bar. `given`: the bar file says it; `note` is what has to be told of it."""

    key: str
    title: str
    unit: str
    source: str
    variables: tuple[Variable, ...]
    given: bool = False
    note: str = ""

    @property
    def text(self) -> str:
        """The band in short, such as "±0.3 to 0.5 mm, 3 of them"."""
        return _spoken(self)


def bands_of(bar: Bar, *, given_alone: bool = False) -> tuple[Band, ...]:
    """Every band that is wider than nothing, in the order of `tolerances.toml`; or those that the bar file gives alone.

    Raises
    ------
    InputError
        A table that does not reach this bar's size, a band that makes another bar, a key that this bar has nothing for.
    """
    given, shape = _given(bar), _defaults()["distribution"]
    shape = given.distribution or shape
    found: list[Band] = []
    for key, default in _defaults()["defaults"].items():
        if key == "rate_band":
            continue
        own: GivenBand | None = getattr(given, key)
        if own is not None and own.off:
            continue
        if given_alone and own is None and not (key == "tensile_strength" and given.hardness):
            continue
        if key == "tensile_strength":
            band = _strength(bar, given, default)
        elif own is None and key == "decarburised_depth" and bar.steel.decarburised_depth_mm is None:
            continue
        else:
            band = _band(bar, key, own, default)
        if band is None:
            continue
        distribution = _own_distribution(given, key) or shape
        kept = tuple(replace(v, distribution=distribution) for v in band.variables if v.high > v.low or v.low != 0.0)
        if kept:
            found.append(replace(band, variables=kept))
    return tuple(found)


def rate_band(bar: Bar) -> tuple[float, float, bool]:
    """Shares of the drawn rate, least and greatest, within which a bar must be; and whether the bar file says so."""
    own: GivenBand | None = _given(bar).rate_band
    if own is not None:
        return own.low, own.high, True
    share = float(_defaults()["defaults"]["rate_band"]["share"])
    return -share, share, False


def deviations(variables: tuple[Variable, ...], uniform: Array) -> Array:
    """Deviations (n, v) of numbers (n, v) evenly spread over 0 to 1.

    Uniform over the band; or normal about its middle, three standard deviations to each end and cut off there.
    """
    from scipy.special import ndtr, ndtri

    low = np.array([v.low for v in variables])
    high = np.array([v.high for v in variables])
    tail = ndtr(-SIGMAS)
    inner = ndtri(tail + (1.0 - 2.0 * tail) * uniform) / SIGMAS
    normal = np.array([v.distribution == "normal" for v in variables])
    share = np.where(normal, 0.5 + 0.5 * inner, uniform)
    return low + (high - low) * np.clip(share, 0.0, 1.0)


def _given(bar: Bar) -> TolerancesTable:
    table = {} if bar.tables is None else bar.tables.get("tolerances", {})
    return TolerancesTable.model_validate(table)


def _own_distribution(given: TolerancesTable, key: str) -> Distribution | None:
    own = getattr(given, key) or (given.hardness if key == "tensile_strength" else None)
    return None if own is None else own.distribution


def _band(bar: Bar, key: str, own: GivenBand | None, default: dict[str, Any]) -> Band | None:
    dimensions = dimensions_of(bar, key)
    if not dimensions:
        if own is not None and (own.low or own.high or own.table):
            raise InputError(
                f"this bar has no {default['title']} that could vary.",
                where=f"[tolerances] {key}",
                expected="no such key for this bar.",
                file=bar.source,
            )
        return None
    unit = default.get("unit", "mm")
    if own is not None and own.table is None:
        variables = [_of_given(key, i, each, own) for i, each in enumerate(dimensions)]
        _refuse_other_bars(bar, key, dimensions, variables, unit)
        return Band(key, default["title"], unit, "the bar file", tuple(variables), given=True)
    name = own.table if own is not None else _default_table(bar, default)
    if name is not None:
        table = table_of(key, name)
        variables = [_of_table(bar, key, i, each, name, table) for i, each in enumerate(dimensions)]
        source = table["source"] + ("" if own is None else " (named by the bar file)")
        return Band(key, default["title"], unit, source, tuple(variables), given=own is not None)
    variables = [_of_default(key, i, each, default) for i, each in enumerate(dimensions)]
    return Band(key, default["title"], unit, default["source"], tuple(variables))


def _refuse_other_bars(bar: Bar, key: str, dimensions: list[Dimension], variables: list[Variable], unit: str) -> None:
    """A band of half the dimension itself is another unit and no tolerance; what needs no bar is held by the reader."""
    if unit not in ("mm", "deg") or key == "decarburised_depth":
        return
    largest = max(abs(dimension.size) for dimension in dimensions)
    most, of = (_WIDEST_SHARE * largest, f", half of {largest:.5g} mm") if unit == "mm" else (WIDEST_DEG, "")
    widest = max(max(abs(v.low), abs(v.high)) for v in variables)
    if most and widest > most:  # of none: a mount in the middle, say
        raise InputError(
            another_bar(widest, unit),
            where=f"[tolerances] {key}",
            expected=f"at most {most:.5g} {unit}{of}; is the unit right?",
            file=bar.source,
        )


def _of_given(key: str, index: int, dimension: Dimension, own: GivenBand) -> Variable:
    if key == "decarburised_depth":  # a window: the depths themselves
        return Variable(key, dimension.where, index, own.low - dimension.size, own.high - dimension.size, "normal")
    factor = dimension.size if own.relative and not dimension.share else 1.0
    return Variable(key, dimension.where, index, own.low * factor, own.high * factor, "normal")


def _of_table(bar: Bar, key: str, index: int, dimension: Dimension, name: str, table: dict[str, Any]) -> Variable:
    for over, up_to, low, high in table["rows"]:
        if over < dimension.size <= up_to:
            return Variable(key, dimension.where, index, float(low), float(high), "normal")
    if dimension.size == 0.0:  # bends that follow each other without a straight
        return Variable(key, dimension.where, index, 0.0, 0.0, "normal")
    rows = table["rows"]
    reach = f"over {rows[0][0]:g} to {rows[-1][1]:g} mm"
    raise InputError(
        f"{dimension.where} {dimension.size:g} mm is outside the table {name} ({reach}).",
        where=f"[tolerances] {key}",
        expected=f"{key} = 0.1 (mm to both sides) or another table: {', '.join(tables_of(key))}.",
        file=bar.source,
    )


def _of_default(key: str, index: int, dimension: Dimension, default: dict[str, Any]) -> Variable:
    if "band" in default:
        size = float(default["band"])
    elif "per_length" in default:
        size = float(default["per_length"]) * dimension.size
    else:
        size = float(default["share"]) * (1.0 if dimension.share else dimension.size)
        size = max(size, float(default.get("least", 0.0)))
    return Variable(key, dimension.where, index, -size, size, "normal")


def _default_table(bar: Bar, default: dict[str, Any]) -> str | None:
    if "tables" in default:
        tables = default["tables"]
        return str(tables["tube"] if bar.section.shape == "tube" else tables.get(bar.steel.surface, tables["other"]))
    return _general_table(bar) if default.get("general") else default.get("table")


def _general_table(bar: Bar) -> str:
    """The table of the drawing's general tolerance; ISO 2768-1 m where the file names none."""
    drawing = {} if bar.tables is None else bar.tables.get("drawing")
    wanted = drawing.get("general_tolerance") if isinstance(drawing, dict) else None
    return next((name for name, table in tables_of("").items() if table["title"] == wanted), "ISO 2768-m")


def hole_diameter_band(bar: Bar, diameter_mm: float) -> tuple[float, str]:
    """Deviation [mm] to both sides of a hole's diameter by the drawing's general tolerance, and its source."""
    table = table_of("", _general_table(bar))
    return next(float(high) for over, up_to, _, high in table["rows"] if over < diameter_mm <= up_to), table["source"]


def _strength(bar: Bar, given: TolerancesTable, default: dict[str, Any]) -> Band | None:
    own: GivenBand | None = given.tensile_strength or given.hardness
    window = strength_window(bar, own, default, by_hardness=given.hardness is not None)
    low, high = window.low_MPa - bar.steel.tensile_strength_MPa, window.high_MPa - bar.steel.tensile_strength_MPa
    variable = Variable("tensile_strength", "tensile strength", 0, low, high, "normal")
    return Band(
        "tensile_strength", default["title"], "MPa", window.source, (variable,), given=own is not None, note=window.note
    )


def _spoken(band: Band) -> str:
    percent = 100.0 if band.unit == "%" else 1.0
    ends = sorted({(round(percent * v.low, 6), round(percent * v.high, 6)) for v in band.variables})
    if all(low == -high for low, high in ends):
        sizes = sorted({high for _, high in ends})
        limits = f"±{sizes[0]:.3g}" + (f" to {sizes[-1]:.3g}" if len(sizes) > 1 else "")
    else:
        limits = f"{min(low for low, _ in ends):+.3g} to {max(high for _, high in ends):+.3g}"
    count = len(band.variables)
    return f"{limits} {band.unit}" + (f", {count} of them" if count > 1 else "")


@lru_cache(maxsize=1)
def _defaults() -> dict[str, Any]:
    text = files("barfem.study").joinpath("tolerances.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
