"""One number of a bar brought to a target by one parameter: a diameter to a rate, an arm to a life."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from barfem.model.bar import Bar, Section
from barfem.model.bar_geometry import mass_kg
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.load_case import CASES
from barfem.study.evaluate import evaluate, greatest_rates_N_per_mm

__all__ = ["MEASURES", "Met", "Unmet", "bring_to", "refuse_nothing_felt", "scaled"]

MEASURES = {"rate": "N/mm", "stress": "MPa", "mass": "kg"}
"""What can be brought to a target, and its unit."""

LOWEST, HIGHEST = 0.4, 2.5
TOLERANCE = 1e-6
STEPS = 12
TRIALS = 17

_SLOPE = {"rate": 4.0, "stress": 1.0, "mass": 2.0}  # first guess of d ln(number) / d ln(size); the search corrects it


@frozen
class Met:
    """The bar at which the number is what it should be; `factor` is that of the parameter."""

    bar: Bar
    factor: float
    value: float


@frozen
class Unmet:
    """No factor reaches the target: the bar whose number comes nearest (None if none can be made), and why."""

    bar: Bar | None
    factor: float
    value: float
    reason: str


def refuse_nothing_felt(value: float, *, measure: str, case: str, at: str, file: str | None) -> None:
    """Refuse to go by a bar's rate or stress in a load case in which it feels nothing.

    Raises
    ------
    InputError
        `value` is zero.
    """
    if value == 0.0:
        felt = [name for name, each in CASES.items() if not each.may_rest]
        raise InputError(
            f"in the load case {case} this bar feels nothing at {at}: it has no {measure} to go by.",
            file=file,
            where="--case",
            expected=" or ".join(felt) + ", in which a bar works.",
        )


def scaled(section: Section, factor: float) -> Section:
    """The section enlarged in all its dimensions: a tube's wall goes with its diameter, measured walls too."""
    return replace(
        section,
        diameter_mm=section.diameter_mm * factor,
        wall_mm=None if section.wall_mm is None else section.wall_mm * factor,
        bend_walls_mm=tuple((outside * factor, inside * factor) for outside, inside in section.bend_walls_mm),
    )


def bring_to(
    make: Callable[[float], Bar],
    *,
    measure: str,
    target: float,
    hole: str | None,
    case: str,
    slope: float | None = None,
) -> Met | Unmet:
    """The factor nearest 1 at which `measure` (of `MEASURES`) of `make(factor)` is `target`, to one in a million.

    `make` may raise InputError where there is no such bar. The number need not grow with the factor: where it does not,
    the range is looked over. `slope` is a guess of d ln(number) / d ln(factor).
    """
    factor, value, previous = 1.0, math.nan, 1.0
    slope = slope or _SLOPE[measure]
    for _ in range(STEPS):
        new = _measured(make, factor, measure, hole, case)
        if new is None:
            break
        bar, found = new
        if abs(found / target - 1.0) < TOLERANCE:
            return Met(bar, factor, found)
        if math.isfinite(value) and factor != previous:
            steeper = math.log(found / value) / math.log(factor / previous)
            slope = steeper if abs(steeper) > 0.05 else slope
        previous, value = factor, found
        step = math.log(target / found) / slope
        if abs(step) > 1.0:
            break
        factor *= math.exp(step)
        if not LOWEST < factor < HIGHEST:
            break
    return _looked_over(make, measure=measure, target=target, hole=hole, case=case)


def _measured(
    make: Callable[[float], Bar], factor: float, measure: str, hole: str | None, case: str
) -> tuple[Bar, float] | None:
    try:
        bar = make(factor)
        (value,) = _numbers([bar], measure, hole, case)
    except BarfemError:
        return None
    return (bar, value) if value > 0.0 else None


def _numbers(bars: Sequence[Bar], measure: str, hole: str | None, case: str) -> list[float]:
    """The number of each bar, of several hole settings the greatest; NaN where there is no equilibrium."""
    holes = None if hole is None else [hole]
    if measure == "mass":
        return [mass_kg(bar) for bar in bars]
    if measure == "rate":
        return greatest_rates_N_per_mm(bars, holes=holes, case=case)
    return [float(one.peak_MPa.max()) for one in evaluate(bars, holes=holes, case=case)]


def _looked_over(
    make: Callable[[float], Bar], *, measure: str, target: float, hole: str | None, case: str
) -> Met | Unmet:
    """Trials over the whole range, then the crossing nearest factor 1 by halving; or the trial that comes nearest."""
    factors, bars, reason = [], [], ""
    for factor in np.geomspace(LOWEST, HIGHEST, TRIALS).tolist():
        try:
            bars.append(make(factor))
            factors.append(factor)
        except InputError as error:
            reason = reason or error.problem
    if not bars:
        return Unmet(None, 1.0, math.nan, reason)
    values = _numbers(bars, measure, hole, case)
    off = np.array(values) / target - 1.0
    crossings = [i for i in range(len(off) - 1) if off[i] * off[i + 1] <= 0.0]
    if not crossings:
        if not np.isfinite(off).any():
            return Unmet(None, 1.0, math.nan, reason or "no such bar has an equilibrium within its travel")
        i = int(np.nanargmin(np.abs(off)))
        tried = f"the range tried is {LOWEST:g} to {HIGHEST:g} of the size"
        return Unmet(bars[i], factors[i], values[i], reason or tried)
    i = min(crossings, key=lambda i: abs(math.log(factors[i])))
    one, two, at_one, at_two = factors[i], factors[i + 1], off[i], off[i + 1]
    bar, factor, value = bars[i], one, values[i]
    for _ in range(40):
        share = min(max(at_one / (at_one - at_two) if at_one != at_two else 0.5, 0.05), 0.95)
        factor = one + (two - one) * share
        new = _measured(make, factor, measure, hole, case)
        if new is None:
            break
        bar, value = new
        here = value / target - 1.0
        if abs(here) < TOLERANCE:
            return Met(bar, factor, value)
        if here * at_one > 0.0:
            one, at_one = factor, here
        else:
            two, at_two = factor, here
    return Unmet(bar, factor, value, "the number jumps past the target")
