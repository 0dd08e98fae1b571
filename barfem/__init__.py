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
    from barfem.api.cars import check_car, hole_pairs
    from barfem.api.received import inspect_bars
    from barfem.car.balance_result import BalanceResult
    from barfem.car.result import CarResult
    from barfem.check.api import check_bar
    from barfem.check.result import CheckResult
    from barfem.model.bar import Bar
    from barfem.model.errors import BarfemError, InputError
    from barfem.model.read import bar_from_dict, read_bar
    from barfem.show.explain import Explanation, explain
    from barfem.show.figures.plot import Plot
    from barfem.study.change import change
    from barfem.study.compare import Comparison, compare
    from barfem.study.hole_plan import HolePlan
    from barfem.study.holes import place_holes
    from barfem.study.tolerance import tolerance
    from barfem.study.tolerance_result import ToleranceResult
    from barfem.vendor.inspect import Inspection

__all__ = [
    "BalanceResult",
    "Bar",
    "BarfemError",
    "CarResult",
    "CheckResult",
    "Comparison",
    "Explanation",
    "HolePlan",
    "InputError",
    "Inspection",
    "Plot",
    "ToleranceResult",
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
    "BalanceResult": "barfem.car.balance_result",
    "Bar": "barfem.model.bar",
    "BarfemError": "barfem.model.errors",
    "CarResult": "barfem.car.result",
    "CheckResult": "barfem.check.result",
    "Comparison": "barfem.study.compare",
    "Explanation": "barfem.show.explain",
    "HolePlan": "barfem.study.hole_plan",
    "InputError": "barfem.model.errors",
    "Inspection": "barfem.vendor.inspect",
    "Plot": "barfem.show.figures.plot",
    "ToleranceResult": "barfem.study.tolerance_result",
    "bar_from_dict": "barfem.model.read",
    "change": "barfem.study.change",
    "check_bar": "barfem.check.api",
    "check_car": "barfem.api.cars",
    "compare": "barfem.study.compare",
    "explain": "barfem.show.explain",
    "hole_pairs": "barfem.api.cars",
    "inspect_bars": "barfem.api.received",
    "place_holes": "barfem.study.holes",
    "read_bar": "barfem.model.read",
    "tolerance": "barfem.study.tolerance",
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
