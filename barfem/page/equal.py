"""Solid against tube: the same bar with the other section, as it stands or at the rate that it has."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from barfem.model.bar import Bar, Section
from barfem.model.errors import InputError
from barfem.study.change import tables_of
from barfem.study.evaluate import evaluate_one
from barfem.study.resize import Met, bring_to
from barfem.study.sections import section_name, with_section
from barfem.study.stock import read_stock

__all__ = ["other_section"]

WALL = 0.16
"""Wall over diameter of a tube to begin with: what bars are commonly drawn with (common practice, no source)."""


def other_section(
    bar: Bar, changes: Mapping[str, Any], *, shape: str, equal_rate: bool
) -> tuple[dict[str, Any], list[str]]:
    """Changes that make of the bar one with the other section, and what was done beside, in words.

    At equal rate it is the rate at the stiffest hole in roll that stays, to three decimals of the diameter in mm.

    Raises
    ------
    InputError
        No such shape, or no such bar.
    """
    if shape not in ("round", "tube"):
        raise InputError(f'"{shape}" is no section.', where="shape", expected="round or tube.")
    old = bar.section
    share = WALL if old.wall_mm is None else old.wall_mm / old.diameter_mm

    def section(diameter: float) -> Section:
        return Section(shape, diameter, diameter * share if shape == "tube" else None)  # type: ignore[arg-type]

    def made(factor: float) -> Bar:
        return with_section(bar, section(factor * old.diameter_mm), bent="before-hardening").bar

    factor = 1.0
    if equal_rate:
        found = evaluate_one(bar, case="roll")
        wanted = float(np.nanmax(found.rate_N_per_mm))
        met = bring_to(made, measure="rate", target=wanted, hole=None, case="roll")
        if not isinstance(met, Met):
            raise InputError(
                f"no {shape} section gives {wanted:.3g} N/mm: {met.reason}.",
                where="[section] shape",
                expected="another rate, or the section as it is.",
            )
        factor = met.factor
    diameter = round(factor * old.diameter_mm, 3 if equal_rate else 1)
    wanted_section = Section(shape, diameter, round(diameter * share, 3) if shape == "tube" else None)  # type: ignore[arg-type]
    resized = with_section(bar, wanted_section, bent="before-hardening")
    before, after = tables_of(bar), tables_of(resized.bar)
    new = {key: value for key, value in changes.items() if key.split(".")[0] != "section"}
    new = {"section": after["section"], **new}
    for key in [key for key in ("bent", "bore_surface") if before["material"].get(key) != after["material"].get(key)]:
        if key in after["material"]:
            new[f"material.{key}"] = after["material"][key]
        else:  # a key goes only with its whole table
            new = {name: value for name, value in new.items() if name.split(".")[0] != "material"}
            new["material"] = after["material"]
            break
    for way in ("ends.flat", "ends.right.flat", "ends.left.flat"):
        flat = _at(after, way)
        if flat is not None and flat != _at(before, way):
            new = {name: value for name, value in new.items() if not f"{name}.".startswith(f"{way}.")}
            new[way] = flat
    return new, [f"{section_name(wanted_section)}.", *(_stocked(wanted_section) if equal_rate else ()), *resized.notes]


def _stocked(wanted: Section) -> list[str]:
    """The size that can be bought whose rate is nearest, of tubes with about the same wall; it is what to try next."""

    def second_moment(section: Section) -> float:
        bore = 0.0 if section.wall_mm is None else section.diameter_mm - 2.0 * section.wall_mm
        return section.diameter_mm**4 - bore**4

    def share(section: Section) -> float:
        return 1.0 if section.wall_mm is None else section.wall_mm / section.diameter_mm

    near = [size for size in read_stock().of(wanted.shape) if abs(share(size) / share(wanted) - 1.0) < 0.2]
    if not near:
        return []
    best = min(near, key=lambda size: abs(math.log(second_moment(size) / second_moment(wanted))))
    off = 100.0 * (second_moment(best) / second_moment(wanted) - 1.0)
    side = f"some {abs(off):.0f} % {'higher' if off > 0.0 else 'lower'}"
    side = side if abs(off) >= 1.0 else "within 1 % of it"
    return [f"The nearest that is stocked, {section_name(best)}, has a rate {side}."]


def _at(tables: Any, way: str) -> Any:
    for part in way.split("."):
        tables = tables.get(part) if isinstance(tables, Mapping) else None
    return tables
