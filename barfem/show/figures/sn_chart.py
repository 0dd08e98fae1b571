"""A stress-life diagram of any line: median, survivals, the band in which nearly all bars lie, and lives on it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.show.figures import style
from barfem.show.figures.labels import Named, name_points
from barfem.show.numbers import printable, whole
from barfem.strength.fatigue.sn_line import SHORTEST_LIFE_CYCLES

__all__ = ["LifeChart", "LifePoint", "Spectrum", "draw_lives"]

Array = NDArray[np.float64]

BAND = (0.01, 0.99)  # survivals between which 98 % of bars lie
STANDING = {0.5: (6.0, 1.5), 0.9: (3.0, 1.5), 0.99: (1.0, 1.5)}  # with their dashes


@frozen
class LifePoint:
    """One life, called `noun` `name`: reversed amplitude of the same harm, cycles at survival and median.

    Cycles are None where no life is stated. `beyond`: the median lies beyond `cycles_median`, and no more is claimed.
    """

    noun: str
    name: str
    reversed_MPa: float
    cycles_at_survival: float | None
    cycles_median: float | None
    beyond: bool
    good: bool
    bold: bool = False


@frozen
class Spectrum:
    """Reversed amplitudes, falling, and how many cycles reach each."""

    name: str
    reversed_MPa: Array
    cycles: Array


@frozen(kw_only=True)
class LifeChart:
    """What a stress-life diagram shows; `strength_at` is the median line, `share_at` strength over it at a survival."""

    strength_at: Callable[[ArrayLike], Array]
    share_at: Callable[[float], float]
    survival: float
    points: tuple[LifePoint, ...]
    last_cycles: float
    target_cycles: float | None = None
    cycles_title: str = "Cycles"
    judges: str = "judges"
    spectrum: Spectrum | None = None


def draw_lives(chart: LifeChart, size: style.Size) -> Figure:
    """The diagram; call within `style.context`."""
    canvas = style.new_figure(size, height_in=5.2 if size == "narrow" else 3.8)
    axes = canvas.figure.subplots()
    lives = [
        cycles
        for point in chart.points
        for cycles in (point.cycles_at_survival, point.cycles_median)
        if cycles is not None and cycles > 0.0
    ]
    target = [] if chart.target_cycles is None else [chart.target_cycles]
    if chart.spectrum is not None:
        lives += [float(chart.spectrum.cycles[0]), float(chart.spectrum.cycles[-1])]
    first = max(min([SHORTEST_LIFE_CYCLES, *(0.3 * x for x in target), *(0.3 * x for x in lives)]), 0.3)
    last = max([chart.last_cycles, *(3.0 * x for x in target), *(3.0 * x for x in lives)])
    cycles = np.geomspace(first, last, 300)
    median = np.asarray(chart.strength_at(cycles), float)
    axes.set_xscale("log")
    axes.set_yscale("log")
    weak, strong = chart.share_at(BAND[1]), chart.share_at(BAND[0])
    axes.fill_between(cycles, weak * median, strong * median, color=style.RULE, lw=0, alpha=0.75, label="98 % of bars")
    for share in sorted({*STANDING, chart.survival}):
        judged = share == chart.survival
        axes.plot(
            cycles,
            chart.share_at(share) * median,
            color=style.LEAD if judged else style.OTHER,
            lw=2.0 if judged else 1.1,
            ls="-" if judged else (0, STANDING[share]),
            label=("median" if share == 0.5 else f"{100 * share:g} % survival")
            + (f": {chart.judges}" if judged else ""),
            zorder=4 if judged else 3,
        )
    _limits(chart, axes, first, last, median)
    if chart.target_cycles is not None:
        name = f"target, {printable(whole(chart.target_cycles))}"
        axes.axvline(chart.target_cycles, color=style.INK, lw=1.2, ls=style.DOTTED, label=name)
    if chart.spectrum is not None:
        spectrum = chart.spectrum
        axes.step(spectrum.cycles, spectrum.reversed_MPa, where="pre", color=style.INK, lw=1.6, label=spectrum.name)
    elif not chart.points:
        style.label(axes, 0.5, 0.92, "no reversed amplitude, no life", ha="center", transform=axes.transAxes)
    named = _lives(chart, axes, first, last)
    style.key(canvas, axes)
    upper = [item for item, falls in named if falls]
    lower = [item for item, falls in named if not falls]
    name_points(canvas, axes, upper, above=lambda x: strong * float(chart.strength_at(x)))
    name_points(canvas, axes, lower, below=lambda x: weak * float(chart.strength_at(x)))
    return canvas.figure


def _limits(chart: LifeChart, axes: Axes, first: float, last: float, median: Array) -> None:
    amplitudes = [point.reversed_MPa for point in chart.points]
    if chart.spectrum is not None:
        amplitudes += [float(chart.spectrum.reversed_MPa.max()), float(chart.spectrum.reversed_MPa.min())]
    # Names of lives beyond the knee stand below the line.
    low = (0.5 if any(point.beyond for point in chart.points) else 0.8) * min(
        [chart.share_at(BAND[1]) * float(median.min()), *amplitudes]
    )
    start = float(chart.strength_at(max(first, SHORTEST_LIFE_CYCLES)))
    high = 1.2 * max([chart.share_at(BAND[0]) * start, *amplitudes])
    axes.set_ylim(low, high)
    axes.set_xlim(first, last)
    style.axes_of(axes, x=chart.cycles_title, y="Reversed stress amplitude, MPa", grid="both")
    steps = [a * 10.0**b for b in range(-3, 6) for a in (1.0, 1.5, 2.0, 3.0, 5.0, 7.0)]
    ticks = [step for step in steps if low < step < high]
    heights = np.log10(high / low)
    if heights > 1.6:
        powers = np.arange(np.ceil(np.log10(low)), np.log10(high), np.ceil(heights / 7.0))
        ticks = [float(10.0**power) for power in powers]
    style.ticks(axes.yaxis, ticks, lambda value: printable(whole(value)) if value >= 1.0 else f"{value:g}")
    decades = np.log10(last / first)
    style.decades(axes, first, last, every=1 if decades <= 8.0 else int(np.ceil(decades / 8.0)))


def _lives(chart: LifeChart, axes: Axes, first: float, last: float) -> list[tuple[Named, bool]]:
    """Draw the lives; where each is named, and whether that is to the right above the falling line."""
    named = []
    for point in chart.points:
        color = style.INK if point.good else style.BELOW
        y = point.reversed_MPa
        if not y > 0.0:
            continue
        if point.cycles_median is None:
            x = first * (last / first) ** 0.02
            axes.plot([x], [y], "X", ms=7.5, color=color, zorder=6, clip_on=False)
            named.append((Named(x, y, point.noun, f"{point.name} (no life)", color, point.bold), True))
            continue
        low = max(point.cycles_at_survival or point.cycles_median, first)
        axes.plot([low, point.cycles_median], [y, y], color=color, lw=3.0, solid_capstyle="butt", zorder=5)
        if point.beyond:
            end = min(point.cycles_median * 2.2, last)
            arrow = {"arrowstyle": "-|>", "color": color, "lw": 1.3, "shrinkA": 0, "shrinkB": 0}
            axes.annotate("", (end, y), (point.cycles_median, y), arrowprops=arrow, zorder=6)
            named.append((Named(low, y, point.noun, point.name, color, point.bold), False))
            continue
        axes.plot([point.cycles_median], [y], "o" if point.good else "X", ms=6.0, color=color, zorder=6)
        named.append((Named(point.cycles_median, y, point.noun, point.name, color, point.bold), True))
    return named
