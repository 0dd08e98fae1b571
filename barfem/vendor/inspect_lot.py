"""A lot in numbers, without false precision: mean and spread of each quantity, capability with its interval, drift.

s is the sample's (n - 1). Pp and Ppk from s over all bars; Cpk only where the order of making is known, its sigma the
mean moving range / 1.128 (ISO 22514, from memory). Intervals are 95 %: of Pp by chi-square, of Ppk by the approximation
of Bissell, Appl. Statist. 39 (1990) 331, from memory. Below ten bars no index is stated. Outliers: Grubbs, two-sided
5 %, once. Drift: t-test of the slope over the order, 1 %.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.hardness import parse_hardness, tensile_from_hardness
from barfem.model.plain import NOT_IN_JSON, json_as
from barfem.vendor.inspect_judge import CLOCKING_DEG
from barfem.vendor.inspect_received import DrawnBands
from barfem.vendor.inspect_shape import drawn_rows
from barfem.vendor.maker_tables import drawing_of
from barfem.vendor.part import clocking_deg
from barfem.vendor.sampling import SAME, Plan, bad_allowed, variables_take

if TYPE_CHECKING:
    from barfem.vendor.inspect import InspectedBar

__all__ = ["LEAST_FOR_INDEX", "Lot", "Quantity", "capability", "grubbs", "lot_of", "quantity_of"]

Array = NDArray[np.float64]
Interval = tuple[float, float]
LEAST_FOR_INDEX = 10
DRIFT_CHANCE = 0.01


@frozen(kw_only=True)
class Quantity:
    """One quantity over the lot; limits None where there are none, indices None below ten bars or without limits.

    `share_outside` of the bars measured, with its 95 % interval (Clopper and Pearson); `outliers` are bars by name.
    """

    name: str = field(metadata=NOT_IN_JSON)
    n: int
    mean: float
    s: float
    least: float
    greatest: float
    lower: float | None = None
    upper: float | None = None
    Pp: float | None = None
    Pp_95: Interval | None = None
    Ppk: float | None = None
    Ppk_95: Interval | None = None
    Cpk: float | None = None
    drift_per_bar: float | None = None
    drift_p: float | None = None
    outliers: tuple[str, ...] = ()
    share_outside: float | None = None
    share_outside_95: Interval | None = None


@frozen
class Lot:
    """All bars: verdicts counted, quantities, the plan (None: none asked), and how their order is known.

    `too_few`: quantities that the plan would judge, by name, and that fewer bars have than it asks for.
    """

    n: int
    counts: dict[str, int] = field(metadata=NOT_IN_JSON)
    quantities: tuple[Quantity, ...] = field(metadata=json_as(lambda several: {each.name: each for each in several}))
    order: str | None
    plan: Plan | None
    verdict: str
    too_few: tuple[str, ...] = ()

    @property
    def plan_accepts(self) -> bool | None:
        """Whether the plan accepts the lot; None where there is none, or too few bars were measured for it."""
        return None if self.plan is None else self.plan.accept


def capability(values: Sequence[float], *, lower: float | None, upper: float | None) -> dict[str, object]:
    """Pp, Ppk and their 95 % intervals of values (n >= 2, s > 0), as fields of `Quantity`."""
    x = np.asarray(values, float)
    return capability_of(n=len(x), mean=float(x.mean()), s=float(x.std(ddof=1)), lower=lower, upper=upper)


def capability_of(*, n: int, mean: float, s: float, lower: float | None, upper: float | None) -> dict[str, object]:
    """The same of mean and s."""
    from scipy.special import gammaincinv, ndtri

    out: dict[str, object] = {}
    if lower is not None and upper is not None:
        pp = (upper - lower) / (6.0 * s)
        ends = np.sqrt(2.0 * gammaincinv((n - 1) / 2.0, [0.025, 0.975]) / (n - 1))  # chi-square's
        out |= {"Pp": pp, "Pp_95": (pp * float(ends[0]), pp * float(ends[1]))}
    sides = _room(mean, lower, upper)
    if sides:
        ppk = min(sides) / (3.0 * s)
        half = float(ndtri(0.975)) * float(np.sqrt(1.0 / (9.0 * n) + ppk**2 / (2.0 * (n - 1))))
        out |= {"Ppk": ppk, "Ppk_95": (ppk - half, ppk + half)}
    return out


def _room(mean: float, lower: float | None, upper: float | None) -> list[float]:
    """From the mean to each limit that there is."""
    return [*([] if upper is None else [upper - mean]), *([] if lower is None else [mean - lower])]


def grubbs(values: Sequence[float]) -> int | None:
    """Number of the value that Grubbs' two-sided test at 5 % calls an outlier; None where it calls none (n >= 3)."""
    from scipy.special import stdtrit

    x = np.asarray(values, float)
    n = len(x)
    s = float(x.std(ddof=1)) if n > 2 else 0.0
    if s <= 0.0:
        return None
    away = np.abs(x - x.mean()) / s
    quantile = -float(stdtrit(n - 2, 0.05 / (2 * n)))
    limit = (n - 1) / np.sqrt(n) * np.sqrt(quantile**2 / (n - 2 + quantile**2))
    return int(away.argmax()) if away.max() > limit else None


def lot_of(bar: Bar, bars: Sequence[InspectedBar], limits: DrawnBands, plan: Plan | None = None) -> Lot:
    """The lot's numbers."""
    order = _order(bars)
    names: dict[str, None] = {}
    for each in bars:
        names |= dict.fromkeys(each.numbers)
    quantities = []
    for name in names:
        having = [each for each in bars if name in each.numbers and each.lie.hand == "as-drawn"]
        if having:
            lower, upper = _limits(bar, limits, name)
            quantities.append(
                quantity_of(
                    name, [b.bar for b in having], [b.numbers[name] for b in having], lower, upper, order is not None
                )
            )
    counts = dict.fromkeys(("accept", "accept with note", "rework", "reject"), 0)
    for each in bars:
        counts[each.verdict] += 1
    accepts, too_few = _plan_accepts(plan, bars, quantities)
    return Lot(
        len(bars),
        counts,
        tuple(quantities),
        order,
        plan and replace(plan, accept=accepts),
        _lot_verdict(counts, plan, accepts, too_few),
        too_few,
    )


def _order(bars: Sequence[InspectedBar]) -> str | None:
    """How the order of making is known: by numbers that rise at the end of the bars' names, or not at all."""
    numbers = [re.search(r"(\d+)\D*$", each.bar) for each in bars]
    values = [int(match[1]) for match in numbers if match]
    if len(bars) > 1 and len(values) == len(bars) and all(b > a for a, b in itertools.pairwise(values)):
        return "bars numbered in the order of the file are taken as made in it"
    return None


def quantity_of(
    name: str, bars: Sequence[str], values: Sequence[float], lower: float | None, upper: float | None, ordered: bool
) -> Quantity:
    """Numbers of one quantity, value by value with the bars' names; `ordered`: in the order of making."""
    from scipy.special import betaincinv

    x = np.asarray(values, float)
    n = len(x)
    s = float(x.std(ddof=1)) if n > 1 else 0.0
    s = s if s > SAME else 0.0
    one = Quantity(
        name=name,
        n=n,
        mean=float(x.mean()),
        s=s,
        least=float(x.min()),
        greatest=float(x.max()),
        lower=lower,
        upper=upper,
    )
    if lower is not None or upper is not None:
        low, high = -np.inf if lower is None else lower - SAME, np.inf if upper is None else upper + SAME
        outside = int(np.sum((x < low) | (x > high)))
        low = 0.0 if outside == 0 else float(betaincinv(outside, n - outside + 1, 0.025))
        high = 1.0 if outside == n else float(betaincinv(outside + 1, n - outside, 0.975))
        one = replace(one, share_outside=outside / n, share_outside_95=(low, high))
    if s > 0.0:
        far = grubbs(values)
        one = replace(one, outliers=() if far is None else (bars[far],))
    if n < LEAST_FOR_INDEX or s <= 0.0:
        return one
    one = replace(one, **capability(values, lower=lower, upper=upper))  # type: ignore[arg-type]
    if ordered:
        sigma = float(np.abs(np.diff(x)).mean()) / 1.128
        sides = _room(one.mean, lower, upper)
        slope, chance = _drift(x)
        one = replace(
            one,
            Cpk=min(sides) / (3.0 * sigma) if sides and sigma > 0.0 else None,
            drift_per_bar=slope,
            drift_p=chance,
        )
    return one


def _drift(x: Array) -> tuple[float, float]:
    """Slope a bar, and by the t-test how likely one as steep is without any. scipy.stats would take half a second."""
    from scipy.special import stdtr

    n, at = len(x), np.arange(len(x)) - 0.5 * (len(x) - 1)
    slope = float(at @ x / (at @ at))
    left = float(np.sum((x - x.mean() - slope * at) ** 2)) / (n - 2)
    error = np.sqrt(left / (at @ at))
    return slope, 0.0 if error == 0.0 else float(2.0 * stdtr(n - 2, -abs(slope) / error))


def _limits(bar: Bar, limits: DrawnBands, name: str) -> tuple[float | None, float | None]:
    """Limits of a quantity by its name: the drawing's, or those of its band."""
    drawing, bands, rows = drawing_of(bar), limits, drawn_rows(bar)
    if name == "tip_mismatch_mm":
        limit = drawing.tip_mismatch
        return (None, None) if limit is None else (-limit, limit)
    if name == "largest_mm":
        return None, None if drawing.profile_tolerance is None else 0.5 * drawing.profile_tolerance
    if name.startswith("hardness_"):
        window = parse_hardness(drawing.hardness) if drawing.hardness else None
        return (window.low, window.high) if window and name.endswith(window.scale) else (None, None)
    if name == "strength_MPa" and drawing.hardness:
        window = parse_hardness(drawing.hardness)
        low, high = (tensile_from_hardness(each, scale=window.scale) for each in (window.low, window.high))
        return low, high
    if name == "strength_MPa":
        band, size = bands.of("tensile_strength"), bar.steel.tensile_strength_MPa
    elif name in ("diameter_mm", "wall_mm"):
        key = name.removesuffix("_mm")
        band, size = bands.of(key), bands.sizes[key, 0]
    elif name.startswith("clocking "):
        side = name.removeprefix("clocking ").removesuffix("_deg")
        angle, _ = clocking_deg(bar, bar.right if side == "right" else bar.left)
        limit = drawing.clocking_tolerance or CLOCKING_DEG
        return (None, None) if angle is None else (angle - limit, angle + limit)
    elif match := re.fullmatch(r"(straight|bend) (\d+)(?: (angle|rotation))?_(?:mm|deg)", name):
        number = int(match[2])
        if match[1] == "straight":
            band, size = bands.of("straight_length", number - 1), float(rows.straight_mm[number - 1])
        elif match[3] == "angle":
            band, size = bands.of("bend_angle", number - 1), float(rows.angle_deg[number - 1])
        else:
            band, size = bands.of("bend_rotation", number - 2), float(rows.rotation_deg[number - 2])
    else:
        return None, None
    return (None, None) if band is None else (size + band[0], size + band[1])


def _plan_accepts(
    plan: Plan | None, bars: Sequence[InspectedBar], quantities: Sequence[Quantity]
) -> tuple[bool | None, tuple[str, ...]]:
    """Whether the plan takes the lot, and what it cannot tell that by.

    By attributes every bar that is not plainly accepted is a bad one: it is outside the drawing. By variables the
    numbers that are judged are held by `variables_take`, each of as many bars as the plan asks for (its chances are of
    so many: one value has no s at all); what is judged beside may be out on no bar.
    """
    if plan is None or not bars or len(bars) < plan.n:
        return None, ()
    # Hardness and cracks are looked at on every bar: no number of good ones makes up for them.
    if any(fault.kind in ("soft", "crack") for each in bars for fault in each.faults):
        return False, ()
    if plan.k is None:
        return sum(each.verdict != "accept" for each in bars) <= bad_allowed(plan, len(bars)), ()
    judged = [one for each in bars for one in each.judged]
    limited = {each.name: _room(each.mean, each.lower, each.upper) for each in quantities}
    held = {one.quantity for one in judged if limited.get(one.quantity)}
    if any(one.passes is False and one.quantity not in held for one in judged):
        return False, ()
    numbers = [each for each in quantities if each.name in held]
    if not all(variables_take(plan, each.n, limited[each.name], each.s) for each in numbers):
        return False, ()
    too_few = tuple(q.name for q in numbers if q.n < plan.n and not q.name.startswith(("hardness", "strength")))
    return (True if held and not too_few else None), too_few


def _lot_verdict(counts: dict[str, int], plan: Plan | None, accepts: bool | None, too_few: Sequence[str]) -> str:
    if plan is not None and accepts is not None:
        return "accept" if accepts else "reject"
    if too_few:
        return "too few readings for the plan"
    if plan is not None:
        few = sum(counts.values()) < plan.n
        return "not enough bars for the plan" if few else "nothing measured that the plan could judge by"
    if counts["reject"]:
        return "reject"
    return "rework" if counts["rework"] else "accept with note" if counts["accept with note"] else "accept"
