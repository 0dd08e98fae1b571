"""Curves that the bar that was found does not have: of several bars taken as one, or of another hole than they say."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.solve.beam import HoleSetting, solve_bars
from barfem.solve.solid.nearby import bends_near
from barfem.vendor.held_end import right_end_rate
from barfem.vendor.identify_curves import RateFound

__all__ = ["moved_at_the_right", "several_bars", "strange_curves"]

Array = NDArray[np.float64]
STRANGE = 0.03
"""A rate so far from the found bar's is no scatter of a curve: a hole 3 mm off on an arm of 200 mm."""


def several_bars(rates: Sequence[RateFound]) -> tuple[str, ...]:
    """A warning where the curves are of more than one bar: one bar is sought."""
    bars = list(dict.fromkeys(rate.curve.bar for rate in rates))
    if len(bars) < 2:
        return ()
    named = ", ".join(bar or "one without a name" for bar in bars)
    return (f"curves of {len(bars)} bars ({named}) are taken as one bar's: identify each by its own file",)


def moved_at_the_right(bar: Bar, rates: Sequence[RateFound]) -> tuple[str, ...]:
    """A warning for each curve with one end held, of unlike arms, that fits the right end moved better than the left.

    The right end's rate is that of the drawing, and a tenth is as far as a drawing's bars differ.
    """
    held = [rate for rate in rates if rate.curve.case == "one-wheel" and abs(rate.scale - 1.0) > 0.1]
    out = []
    with bends_near(bar):
        for rate in held:
            settings = [HoleSetting(rate.curve.left, rate.curve.right, "roll")]
            roll = float(next(solve_bars([(bar, settings)])).initial.rate_N_per_mm[0])
            right = right_end_rate(roll, rate.expected_N_per_mm)
            if right is not None and abs(rate.rate_N_per_mm / right - 1.0) < 0.5 * abs(rate.scale - 1.0):
                out.append(
                    f"{rate.curve.words}: taken as the left end moved and the right one held; the right end moved, as "
                    f"drawn about {right:.3g} N/mm, is nearer: which was it?"
                )
    return tuple(out)


def strange_curves(bar: Bar, rates: Sequence[RateFound], scales: Array) -> tuple[str, ...]:
    """A warning for each curve whose rate is far from that of the bar that was found, `scales` (g,) over the drawing's.

    Names the hole whose rate it would be, the bar being as stiff as its curves say on the whole.
    """
    off = np.array([rate.scale for rate in rates]) / scales - 1.0
    far = np.flatnonzero(np.abs(off) > STRANGE)
    if not len(far):
        return ()
    names = [hole.name for hole in bar.left.holes]
    pairs = [(i, j) for i, name in enumerate(names) for j, hole in enumerate(bar.right.holes) if hole.name == name]
    out = []
    with bends_near(bar):
        for number in far.tolist():
            rate = rates[number]
            settings = [HoleSetting(i, j, rate.curve.case) for i, j in pairs]
            drawn = next(solve_bars([(bar, settings)])).initial.rate_N_per_mm
            away = np.abs(rate.rate_N_per_mm / (drawn * np.median(scales)) - 1.0)
            near = int(np.argmin(away))
            other = names[pairs[near][0]]
            hint = (
                f": is it of hole {other}?"
                if away[near] < 0.5 * abs(off[number]) and pairs[near] != (rate.curve.left, rate.curve.right)
                else ": another hole, another bar, or a rig that gives there alone?"
            )
            out.append(
                f"{rate.curve.words}: its rate is {abs(100 * off[number]):.0f} % "
                f"{'above' if off[number] > 0 else 'below'} that of the bar that was found{hint}"
            )
    return tuple(out)
