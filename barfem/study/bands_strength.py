"""How strong the bars of one drawing may be: the window of tensile strength that its steel is bought to."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.hardness import HARDNESS_SOURCE, parse_hardness, tensile_from_hardness
from barfem.model.material_table import Condition, find_table
from barfem.model.tolerance_types import GivenBand

__all__ = ["StrengthWindow", "strength_window"]


@frozen
class StrengthWindow:
    """Least and greatest tensile strength, where they come from, and what has to be said."""

    low_MPa: float
    high_MPa: float
    source: str
    note: str = ""


def strength_window(
    bar: Bar, own: GivenBand | None, default: Mapping[str, Any], *, by_hardness: bool
) -> StrengthWindow:
    """The window by the bar file, else that of the steel's condition, else a share about what is known.

    `own` is the bar file's [tolerances] tensile_strength, or `by_hardness` its hardness; `default` the shares of
    `tolerances.toml`.
    """
    nominal = bar.steel.tensile_strength_MPa
    if own is not None:
        source = f"{own.text}, {HARDNESS_SOURCE}" if by_hardness else "the bar file"
        return _placed(own.low, own.high, source, nominal)
    material = {} if bar.tables is None else dict(bar.tables.get("material", {}))
    if material.get("hardness") is not None:
        found = parse_hardness(material["hardness"])
        if found.high > found.low:
            high = tensile_from_hardness(found.high, scale=found.scale)
            return _placed(nominal, high, f"{found.text} of the bar file, {HARDNESS_SOURCE}", nominal)
    condition = None
    if not {"hardness", "tensile_strength"} & set(material):
        condition = _condition(bar, material)
    if condition is None:
        share = float(default["typical_share"])
        return _placed((1.0 - share) * nominal, (1.0 + share) * nominal, str(default["source"]), nominal)
    tensile, source = condition.tensile_strength, bar.steel.sources["tensile_strength"]
    if tensile.upper is not None:
        return _placed(tensile.value, tensile.upper, source, nominal)
    if tensile.typical:
        share = float(default["typical_share"])
        return _placed((1.0 - share) * nominal, (1.0 + share) * nominal, str(default["source"]), nominal)
    hard = condition.hardness
    if hard is not None and hard.max > hard.min:
        try:
            high = tensile_from_hardness(hard.max, scale=hard.scale)
        except InputError:  # a window beyond the table of conversion
            high = 0.0
        if high > nominal:
            return _placed(nominal, high, f"{source}; greatest {HARDNESS_SOURCE}", nominal)
    share = float(default["minimum_share"])
    return _placed(nominal, (1.0 + share) * nominal, f"least: {source}; greatest: {default['source']}", nominal)


def _placed(low: float, high: float, source: str, nominal: float) -> StrengthWindow:
    note = ""
    if low >= nominal < high:
        note = (
            f"The check takes the least tensile strength, {nominal:.0f} MPa; bars are {low:.0f} to {high:.0f} MPa. "
            "Their yield margins are better than the check's; their lives need not be, on a rough surface."
        )
    elif high < nominal:
        note = (
            f"The check takes a tensile strength of {nominal:.0f} MPa, and bars are {low:.0f} to {high:.0f} MPa: "
            "every one is weaker than what is checked. Which is meant, [material] or this window?"
        )
    return StrengthWindow(low, high, source, note)


def _condition(bar: Bar, material: Mapping[str, Any]) -> Condition | None:
    grade = str(material.get("grade", bar.steel.grade))
    if grade.lower() == "custom":
        return None
    folder = Path(bar.source).resolve().parent if bar.source else None
    try:
        table, _, _ = find_table(grade, bar_dir=folder)
    except InputError:  # a bar that was not read from a file, of a steel that no table holds
        return None
    return table.conditions.get(bar.steel.condition)
