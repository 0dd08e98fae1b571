"""Hole settings side by side: rate, peak stress, yield margin, life, with the targets they are judged against."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from barfem.check.fatigue import Fatigue
from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.lives import NO_LIFE, one_life
from barfem.show.numbers import printable, ratio, significant, whole
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES

__all__ = ["picture"]


def picture(data: FigureData) -> Picture:
    """Bars of what each hole setting does and how far it is from its targets."""
    settings = [data.result.settings[j] for j in data.rows]
    by_hole = [
        f"{data.name(j)}: {printable(significant(data.rate(s)))} N/mm, {printable(whole(s.peak.von_mises_MPa))} "
        f"MPa, margin {ratio(s.yield_margin, data.result.yield_margin_target)}"
        for j, s in zip(data.rows, settings, strict=True)
    ]
    return Picture(
        slug="hole-settings",
        title="The hole settings side by side",
        caption=(
            f"{data.rate_words} of each end over its own travel; peak von Mises stress; yield margin (yield strength / "
            f"stress, less 1); life that {100 * data.result.survival:g} % of bars survive, "
            f"{'cycles of full travel' if data.result.target_cycles_judged else 'repeats of the blocks'}, on a "
            f"logarithmic axis. Dotted: the target. A bar that misses it is dark.{data.rows_note()}"
        ),
        alt="Bar charts. " + "; ".join(by_hole) + ".",
        draw=lambda size: _draw(data, size),
    )


def _draw(data: FigureData, size: style.Size) -> Figure:
    result = data.result
    settings = [result.settings[j] for j in data.rows]
    rows = len(settings)
    narrow = size == "narrow"
    names = [style.wrapped(data.short(s), 14) + _case(data, s.case) for s in settings]
    height = 0.8 + style.rows_in(names, 0.27)
    canvas = style.new_figure(size, height_in=2.0 * height if narrow else height)
    grid = (2, 2) if narrow else (1, 4)
    rate, stress, margin, lives = canvas.figure.subplots(*grid, sharey=True).ravel()
    _bars(rate, f"{data.rate_words}, N/mm", [data.rate(s) for s in settings], significant)
    _bars(stress, "Peak stress, MPa", [s.peak.von_mises_MPa for s in settings], whole)
    target = result.yield_margin_target
    _bars(margin, "Yield margin", [s.yield_margin for s in settings], lambda v: ratio(v, target), target=target)
    _lives(lives, data)
    for axes in (rate, margin) if narrow else (rate,):
        axes.set_yticks(range(rows), names)
        axes.set_ylabel("Hole")
    rate.set_ylim(rows - 0.45, -0.55)
    return canvas.figure


def _case(data: FigureData, case: str) -> str:
    return f"\n{case}" if data.several_cases else ""


def _bars(axes: Axes, title: str, values: Sequence[float | None], shown, *, target: float | None = None) -> None:  # type: ignore[no-untyped-def]
    numbers = np.array([0.0 if value is None else value for value in values])
    colors = [style.BELOW if target is not None and n < target else style.OTHER for n in numbers]
    axes.barh(range(len(numbers)), numbers, height=0.62, color=colors, lw=0)
    low, high = min(0.0, float(numbers.min())), max(float(numbers.max()), target or 0.0, 1e-9)
    axes.set_xlim(1.15 * low, low + 1.42 * (high - low))
    for i, value in enumerate(values):
        style.beside(axes, max(float(numbers[i]), 0.0), i, printable(shown(value)))
    if target is not None:
        axes.axvline(target, color=style.INK, lw=1.0, ls=style.DOTTED)
    _finish(axes, title)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=3))


def _lives(axes: Axes, data: FigureData) -> None:
    """Cycles of full travel, or repeats of the blocks where they alone are judged."""
    result = data.result
    fatigues = [result.settings[j].fatigue for j in data.rows]
    if result.target_cycles_judged or result.target_repeats is None:
        target, what = result.target_cycles, "cycles"
        bars = [_life_bar(fatigue) for fatigue in fatigues]
    else:
        target, what = result.target_repeats, "repeats"
        bars = [_repeats_bar(fatigue, target) for fatigue in fatigues]
    lowest = max(min([target, *(life for life, _, _ in bars if life > 0.0)]) / 8.0, 1e-6)
    highest = max([target, *(life for life, _, _ in bars)])
    passes = [data.reaches_target(j) for j in data.rows]
    axes.set_xscale("log")
    for i, (life_, text, open_ended) in enumerate(bars):
        width = max(life_ - lowest, 0.0)
        axes.barh(i, width, left=lowest, height=0.62, color=style.OTHER if passes[i] else style.BELOW, lw=0)
        style.beside(axes, max(life_, lowest), i, text + (" \u2192" if open_ended else ""))
    axes.set_xlim(lowest, highest * (highest / lowest) ** 0.75)
    axes.axvline(target, color=style.INK, lw=1.0, ls=style.DOTTED)
    _finish(axes, f"Life at {100 * result.survival:g} %, {what}")
    style.decades(axes, lowest, highest, every=2 if highest / lowest > 1e3 else 1)
    if what == "repeats":
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def _life_bar(fatigue: Fatigue) -> tuple[float, str, bool]:
    """Length of the bar, its words, and whether the life goes on beyond it."""
    at_survival = fatigue.life_at_survival_cycles
    if at_survival is not None:
        return at_survival, printable(one_life(at_survival)), False
    if fatigue.runout:
        return LONGEST_LIFE_CYCLES, f"over {style.power_of_ten(LONGEST_LIFE_CYCLES)}", True
    return (0.0, one_life(None, runout=fatigue.runout), False)


def _repeats_bar(fatigue: Fatigue, target: float) -> tuple[float, str, bool]:
    """The same in repeats; a life without an end is drawn twice as long as its target."""
    duty = fatigue.duty
    if duty is None or (duty.life_at_survival_repeats is None and not duty.runout_at_survival):
        return 0.0, NO_LIFE, False
    if duty.life_at_survival_repeats is None:
        return 2.0 * target, "no end", True
    repeats = duty.life_at_survival_repeats
    return repeats, printable(one_life(repeats, unit="repeats")), False


def _finish(axes: Axes, title: str) -> None:
    style.axes_of(axes, x="", y=title, grid="x")
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)
    axes.axvline(0.0, color=style.MUTED, lw=0.8) if axes.get_xscale() == "linear" else None
