"""What rules a size out, and the windows of sizes that nothing rules out, each with what ends it on either side."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from barfem.model.bar import Bar, Section
from barfem.model.makeability import SMALLEST_RADIUS
from barfem.model.review_rules import JOINT_ANGLE_DEG, rules_with
from barfem.model.warned import Effect, Warned
from barfem.solve.beam import solve_bar
from barfem.solve.rate import SHARES
from barfem.study.evaluation import Evaluation
from barfem.study.options import Option, Window, why_not

SURELY = (0.05, 0.3)
"""How far beyond the window, below and above, a rate by proportion must lie to be out of it without being solved."""
MORE_DEG = 0.5
"""How much farther than drawn a joint must turn for a size to be to blame, where the drawn bar's is over already."""

__all__ = ["joint_jams", "limited", "out_of_reach", "too_tight", "unseated", "windows_of"]


def limited(
    options: Sequence[Option], as_drawn: Evaluation, *, rate_N_per_mm: float, window_percent: float
) -> list[Option]:
    """The options with their `limit`: what rules each out first, empty where nothing does.

    In this order: it cannot be made or solved; its bends are tighter than can be bent; a mount would lie on a bend or a
    flat, or the body is thicker than its steel's condition is stated for; mounts or links cannot follow; a link's joint
    would have to turn farther than it allows, and than drawn; a target is missed; its rate is farther off
    `rate_N_per_mm` than the window.
    """
    return [replace(each, limit=_limit(each, as_drawn, rate_N_per_mm, window_percent)) for each in options]


def _limit(option: Option, as_drawn: Evaluation, rate: float, window_percent: float) -> str:
    if not option.solved or option.evaluation is None or option.bar is None:
        return option.problem or "it cannot be solved"
    stands_against = too_tight(option.bar, as_drawn.bar) or unseated(option.bar, as_drawn.bar)
    if stands_against:
        return stands_against
    for words in option.evaluation.unworked:
        if words:
            return words.partition(" (")[0].removeprefix("roll does not work this bar: ")
    jammed = joint_jams(option.evaluation, as_drawn)
    if jammed:
        return jammed
    if not option.passes:
        return why_not(option)
    off = 100.0 * (option.rate_N_per_mm / rate - 1.0)
    if not abs(off) <= window_percent:
        return f"rate {option.rate_N_per_mm:.3g} N/mm, {off:+z.0f} % (window ±{window_percent:g} %)"
    return ""


def out_of_reach(
    as_drawn: Evaluation, at: int, sections: Sequence[Section], *, rate_N_per_mm: float, window_percent: float
) -> dict[Section, str]:
    """Sections that need no solving to be ruled out, each with why: too tight to bend, or far outside the window.

    The rate by proportion: the bar's share of the deflection goes with one over d^4 - bore^4, that of mounts and links
    stays. It is a few percent off, for the wall of a thin tube in its bends up to a sixth too high: `SURELY` more than
    the window is asked for.
    """
    bar = as_drawn.bar
    shares = solve_bar(bar, [as_drawn.settings[at]]).initial.shares[0].tolist()
    held = sum(shares[SHARES.index(name)] for name in ("mounts", "links"))
    drawn = _stiffness(bar.section)
    out: dict[Section, str] = {}
    for section in sections:
        if section == bar.section:
            continue
        rate = float(as_drawn.rate_N_per_mm[at]) / ((1.0 - held) * drawn / _stiffness(section) + held)
        off = 100.0 * (rate / rate_N_per_mm - 1.0)
        low, high = -window_percent - 100.0 * SURELY[0], window_percent + 100.0 * SURELY[1]
        tight = too_tight(replace(bar, section=section), bar)
        if tight:
            out[section] = tight
        elif not low <= off <= high:
            out[section] = f"rate about {rate:.3g} N/mm, {off:+z.0f} % (window ±{window_percent:g} %), by proportion"
    return out


def _stiffness(section: Section) -> float:
    return section.diameter_mm**4 - section.bore_mm**4


def joint_jams(one: Evaluation, as_drawn: Evaluation) -> str:
    """Which link's joint would turn farther than it allows, in words; empty where none does, or none more than drawn.

    By [review] limits joint_angle of the bar file, or `JOINT_ANGLE_DEG`.
    """
    limit, source = _joint_limit_deg(as_drawn.bar)
    angle = one.joint_angle_deg
    drawn = as_drawn.joint_angle_deg
    over = np.flatnonzero((angle > limit) & ((drawn <= limit) | (angle > drawn + MORE_DEG)))
    if not len(over):
        return ""
    j = int(over[np.argmax(angle[over])])
    hole = one.left[j] if one.left[j] == one.right[j] else f"{one.left[j]}/{one.right[j]}"
    return f"a link's joint turns {angle[j]:.1f} deg at hole {hole}, more than {limit:g} ({source})"


def _joint_limit_deg(bar: Bar) -> tuple[float, str]:
    limits = (bar.tables or {}).get("review", {}).get("limits", {})
    given = limits.get("joint_angle", {"ask": JOINT_ANGLE_DEG})
    rule = rules_with(limits)["joint_angle"]
    said = [getattr(rule, key) for key in (given if isinstance(given, Mapping) else ("ask",))]
    limit = min((each for each in said if each is not None), default=math.inf)
    return limit, "common practice" if limit == JOINT_ANGLE_DEG else "[review] limits"


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


def unseated(bar: Bar, drawn: Bar) -> str:
    """Which mount would lie on a bend or a flat, or that the body is too thick for its steel's condition, in words.

    Empty where nothing is, or as much as drawn.
    """
    for effect in (Effect.UNSEATED, Effect.THICKER):
        now, before = (
            [text for text in each.warnings if isinstance(text, Warned) and text.effect is effect]
            for each in (bar, drawn)
        )
        if len(now) > len(before):
            words = now[0].partition(":")[0]
            return f"{words[0].lower()}{words[1:]}" if effect is Effect.UNSEATED else words
    return ""


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
    return _stiffness(option.section)
