"""barfem: rate, stress, yield margin and life of anti-roll bars, for every hole setting.

    bar = barfem.read_bar("geometries/pickup-front-solid.toml")
    check = barfem.check_bar(bar)
    check.governing_for_life.rate_N_per_mm          # a number, its unit in its name
    check.records()                                 # flat rows, for pandas.DataFrame
    check.plot("haigh-diagram")                     # shown by a notebook, or .save("haigh.svg")
    thicker = barfem.change(bar, {"section.diameter": 24})
    barfem.compare(bar, ["tube 24x4"])              # sections side by side
    barfem.place_holes(bar, count=3)                # in equal percent steps
    barfem.tolerance(bar, samples=512)              # how far bars of this drawing differ
    barfem.check_car("geometries/coupe-car.toml")   # what the bars do to a car
    barfem.hole_pairs("geometries/coupe-car.toml")  # every pair of front and rear holes
    barfem.inspect_bars(bar, "lot.csv")             # bars that came back, judged
    barfem.explain("yield_margin")                  # formula, unit, sign, source

Lengths mm, forces N, stresses MPa, angles deg. Importing barfem itself loads nothing heavy; each name is fetched when
it is first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from barfem.version import __version__

if TYPE_CHECKING:
    from barfem.api.bars import Bar, bar_from_dict, change, read_bar
    from barfem.api.cars import CarCheck, HolePairs, check_car, hole_pairs
    from barfem.api.checks import Check, check_bar
    from barfem.api.plots import Plot
    from barfem.api.received import ReceivedBars, inspect_bars
    from barfem.api.studies import Comparison, HolePlan, Tolerance, compare, place_holes, tolerance
    from barfem.model.errors import BarfemError, InputError
    from barfem.show.explain import Explanation, explain

__all__ = [
    "Bar",
    "BarfemError",
    "CarCheck",
    "Check",
    "Comparison",
    "Explanation",
    "HolePairs",
    "HolePlan",
    "InputError",
    "Plot",
    "ReceivedBars",
    "Tolerance",
    "__version__",
    "bar_from_dict",
    "change",
    "check_bar",
    "check_car",
    "compare",
    "explain",
    "hole_pairs",
    "inspect_bars",
    "place_holes",
    "read_bar",
    "tolerance",
]

_HOME = {
    "Bar": "barfem.api.bars",
    "BarfemError": "barfem.model.errors",
    "CarCheck": "barfem.api.cars",
    "Check": "barfem.api.checks",
    "Comparison": "barfem.api.studies",
    "Explanation": "barfem.show.explain",
    "HolePairs": "barfem.api.cars",
    "HolePlan": "barfem.api.studies",
    "InputError": "barfem.model.errors",
    "Plot": "barfem.api.plots",
    "ReceivedBars": "barfem.api.received",
    "Tolerance": "barfem.api.studies",
    "bar_from_dict": "barfem.api.bars",
    "change": "barfem.api.bars",
    "check_bar": "barfem.api.checks",
    "check_car": "barfem.api.cars",
    "compare": "barfem.api.studies",
    "explain": "barfem.show.explain",
    "hole_pairs": "barfem.api.cars",
    "inspect_bars": "barfem.api.received",
    "place_holes": "barfem.api.studies",
    "read_bar": "barfem.api.bars",
    "tolerance": "barfem.api.studies",
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
