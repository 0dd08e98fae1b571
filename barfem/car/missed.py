"""Targets of a car file that a state or a pair of holes misses: the sentences of `barfem car` and `barfem balance`."""

from __future__ import annotations

import math

from barfem.car.car import Pair, Targets

__all__ = ["missed_at_rest", "missed_goodman", "missed_in_state", "missed_margin"]

MOST_DIGITS = 9


def missed_at_rest(targets: Targets, gradient_deg_per_g: float) -> list[str]:
    """Of the roll gradient, which is the slope at rest; NaN where the car finds none."""
    band = targets.roll_gradient_deg_per_g
    if band is None or math.isnan(gradient_deg_per_g) or band[0] <= gradient_deg_per_g <= band[1]:
        return []
    return [f"the roll gradient of {_apart(gradient_deg_per_g, band, 3, 'g')} deg/g is {_outside(band)}"]


def missed_in_state(targets: Targets, *, share: float, cross_weight: float | None, least_N: float) -> list[str]:
    """Of one state: its front transfer share (NaN where none is defined), cross-weight (None: not asked) and lift."""
    out, band = [], targets.front_transfer_share
    if band is not None and math.isfinite(share) and not band[0] <= share <= band[1]:
        out.append(f"the front transfer share of {_apart(share, band, 3)} is {_outside(band)}")
    band = targets.cross_weight
    if band is not None and cross_weight is not None and not band[0] <= cross_weight <= band[1]:
        out.append(f"the cross-weight of {_apart(cross_weight, band, 4)} is {_outside(band)}")
    margin = targets.lift_margin_N
    if margin is not None and least_N < margin:
        out.append(f"the least wheel load of {_apart(least_N, (margin, math.inf), 0)} N is below {margin:g} N")
    return out


def missed_margin(axle: str, margin: float, target: float, *, where: str = "") -> list[str]:
    """Of a bar's yield margin."""
    if not margin < target:
        return []
    return [f"the {axle} bar's yield margin{where} of {_apart(margin, (target, math.inf), 2)} is below {target:g}"]


def missed_goodman(axle: str, factor: float, target: float | None, *, where: str = "") -> list[str]:
    """Of a bar's Goodman safety factor; NaN: it has none, for want of an endurance limit."""
    if target is None or factor >= target:
        return []
    shown = "none" if math.isnan(factor) else _apart(factor, (target, math.inf), 2)
    return [f"the {axle} bar's Goodman safety factor{where} of {shown} is below {target:g}"]


def _outside(band: Pair) -> str:
    return f"outside {band[0]:g} to {band[1]:g}"


def _apart(value: float, band: Pair, digits: int, kind: str = "f") -> str:
    """A number outside a band with so many digits, or more: as many as it takes to be read outside of it."""
    shown = (f"{value:.{more}{kind}}" for more in range(digits, MOST_DIGITS))
    return next((text for text in shown if not band[0] <= float(text) <= band[1]), repr(value))
