"""Hole settings of a study as JSON has them: the check's keys for the same quantities, numbers finite or null."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from barfem.model.plain import plain
from barfem.study.evaluation import Evaluation

__all__ = [
    "KEYS",
    "LIFE_PATHS",
    "flat",
    "flat_key",
    "hole_setting_json",
    "in_nested",
    "nested",
]

KEYS = {
    "mass_kg": "mass_kg",
    "rate_N_per_mm": "rate_N_per_mm",
    "rate_initial_N_per_mm": "rate_initial_N_per_mm",
    "link_force_N": "link_force_N",
    "peak_MPa": "peak.von_mises_MPa",
    "peak_where": "peak.where",
    "yield_margin": "yield_margin",
    "safety_factor_at_target": "fatigue.safety_factor_at_target",
    "goodman_safety_factor": "fatigue.least_goodman_safety_factor",
    "life_cycles": "fatigue.life_cycles",
    "life_at_survival_cycles": "fatigue.life_at_survival_cycles",
    "runout": "fatigue.runout",
    "runout_at_survival": "fatigue.runout_at_survival",
    "passes": "passes",
    "fatigue_where": "fatigue.where",
}
"""Numbers of an `Evaluation`, and the path at which the check's JSON has each; the link force is the greater one."""

LIFE_PATHS = ("fatigue.life_at_survival_cycles", "fatigue.life_cycles", "fatigue.runout", "fatigue.where")


def flat_key(name: str) -> str:
    """The key of a number of an `Evaluation` in a row: peak_von_mises_MPa."""
    return KEYS[name].replace(".", "_")


def nested(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values by path as dictionaries in dictionaries.

    >>> nested({"rate_N_per_mm": 40.0, "peak.von_mises_MPa": 700.0})
    {'rate_N_per_mm': 40.0, 'peak': {'von_mises_MPa': 700.0}}
    """
    out: dict[str, Any] = {}
    for path, value in values.items():
        *before, last = path.split(".")
        inside = out
        for name in before:
            inside = inside.setdefault(name, {})
        inside[last] = value
    return out


def in_nested(data: Mapping[str, Any], path: str) -> Any:
    """What stands at a path in dictionaries in dictionaries; None where nothing does."""
    found: Any = data
    for name in path.split("."):
        found = None if found is None else found.get(name)
    return found


def flat(data: Mapping[str, Any], path: str = "") -> dict[str, Any]:
    """Nested values as one row: keys joined by _, intervals as low and high, lists of text as text.

    Lists of anything else are left out: they have rows of their own.
    """
    row: dict[str, Any] = {}
    for key, value in data.items():
        name = f"{path}{key}"
        if isinstance(value, Mapping):
            row |= flat(value, f"{name}_")
        elif isinstance(value, list):
            if name.endswith("interval") and len(value) == 2:
                row |= {f"{name}_low": value[0], f"{name}_high": value[1]}
            elif all(isinstance(item, str) for item in value):
                row[name] = "; ".join(value)
        else:
            row[name] = value
    return row


def hole_setting_json(found: Evaluation, j: int) -> dict[str, Any]:
    """The numbers of hole setting number `j` of a bar in a study."""
    values: dict[str, Any] = {"left": found.left[j], "right": found.right[j], "case": found.cases[j]}
    for name, path in KEYS.items():
        if name != "mass_kg":
            values[path] = plain(getattr(found, name)[j])
    return nested(values | {"problem": found.problem_at(j)})
