"""What rules a size out, and the windows of sizes that nothing rules out, each with what ends it on either side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from barfem.model.bar import Bar
from barfem.model.makeability import SMALLEST_RADIUS
from barfem.study.options import Option, Window, why_not

__all__ = ["limited", "too_tight", "windows_of"]


def limited(options: Sequence[Option], drawn: Bar, *, rate_N_per_mm: float, window_percent: float) -> list[Option]:
    """The options with their `limit`: what rules each out first, empty where nothing does.

    In this order: it cannot be made or solved; its bends are tighter than can be bent; mounts or links cannot follow; a
    target is missed; its rate is farther off `rate_N_per_mm` than the window.
    """
    return [replace(each, limit=_limit(each, drawn, rate_N_per_mm, window_percent)) for each in options]


def _limit(option: Option, drawn: Bar, rate: float, window_percent: float) -> str:
    if not option.solved or option.evaluation is None or option.bar is None:
        return option.problem or "it cannot be solved"
    tight = too_tight(option.bar, drawn)
    if tight:
        return tight
    for words in option.evaluation.unworked:
        if words:
            return words.partition(" (")[0].removeprefix("roll does not work this bar: ")
    if not option.passes:
        return why_not(option)
    off = 100.0 * (option.rate_N_per_mm / rate - 1.0)
    if not abs(off) <= window_percent:
        return f"rate {option.rate_N_per_mm:.3g} N/mm, {off:+.0f} % (window ±{window_percent:g} %)"
    return ""


def too_tight(bar: Bar, drawn: Bar) -> str:
    """Which bend is too tight for the section, in words; empty where none is, or where none is tighter than drawn."""
    least = SMALLEST_RADIUS[bar.section.shape]
    worst = min(
        ((bend.radius_mm or math.inf) / bar.section.diameter_mm, i, bend.radius_mm or 0.0)
        for i, bend in enumerate(bar.centreline.bends, start=1)
    ) if bar.centreline.bends else (math.inf, 0, 0.0)  # fmt: skip
    ratio, number, radius = worst
    alike = bar.section.shape == drawn.section.shape and bar.section.diameter_mm <= drawn.section.diameter_mm
    if alike or ratio >= least * (1.0 - 1e-9):
        return ""
    return f"bend {number}: radius {radius:g} mm is {ratio:.2g} diameters, and {least:g} can be bent (common practice)"


def windows_of(options: Sequence[Option]) -> tuple[Window, ...]:
    """Windows of a list of options, in the order of their rates (of their diameters, where one was not solved)."""
    order = sorted(options, key=_place)
    found: list[Window] = []
    start = 0
    while start < len(order):
        if order[start].limit:
            start += 1
            continue
        end = start
        while end + 1 < len(order) and not order[end + 1].limit:
            end += 1
        before = order[start - 1] if start else None
        after = order[end + 1] if end + 1 < len(order) else None
        found.append(
            Window(order[start].name, order[end].name, end - start + 1, *(_end(each) for each in (before, after)))
        )
        start = end + 1
    return tuple(found)


def _end(option: Option | None) -> str:
    return "" if option is None else f"{option.name}: {option.limit}"


def _place(option: Option) -> float:
    """Polar second moment but for its factor: sizes of one centreline have their rates in this order."""
    if option.section is None:
        return option.rate_N_per_mm
    return option.section.diameter_mm**4 - option.section.bore_mm**4
