"""barfem: rate, stress, yield margin and life of anti-roll bars, for every hole setting.

    bar = barfem.read_bar("geometries/pickup-front-solid.toml")
    check = barfem.check_bar(bar)
    check.governing_for_life.rate_N_per_mm          # a number, its unit in its name
    check.records()                                 # flat rows, for pandas.DataFrame
    check.plot("haigh-diagram")                     # shown by a notebook, or .save("haigh.svg")
    thicker = barfem.change(bar, {"section.diameter": 24})
    barfem.explain("yield_margin")                  # formula, unit, sign, source

Lengths mm, forces N, stresses MPa, angles deg. Importing barfem itself loads nothing heavy; each name is fetched when
it is first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from barfem.version import __version__

if TYPE_CHECKING:
    from barfem.api.bars import Bar, bar_from_dict, change, read_bar
    from barfem.api.checks import Check, check_bar
    from barfem.api.plots import Plot
    from barfem.model.errors import BarfemError, InputError
    from barfem.show.explain import Explanation, explain

__all__ = [
    "Bar",
    "BarfemError",
    "Check",
    "Explanation",
    "InputError",
    "Plot",
    "__version__",
    "bar_from_dict",
    "change",
    "check_bar",
    "explain",
    "read_bar",
]

_HOME = {
    "Bar": "barfem.api.bars",
    "BarfemError": "barfem.model.errors",
    "Check": "barfem.api.checks",
    "Explanation": "barfem.show.explain",
    "InputError": "barfem.model.errors",
    "Plot": "barfem.api.plots",
    "bar_from_dict": "barfem.api.bars",
    "change": "barfem.api.bars",
    "check_bar": "barfem.api.checks",
    "explain": "barfem.show.explain",
    "read_bar": "barfem.api.bars",
}
"""Where each public name is fetched from when it is first used."""


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'barfem' has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(set(globals()) | set(_HOME))
