"""The fitted stress-life line with its tests, its 90 % band, and the handbook's line beside."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from barfem.show.figures import style
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole
from barfem.study.fit import Fit, TestPoint

__all__ = ["fit_picture"]

_LOADS = [a * 10.0**b for b in range(5) for a in (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)]
_Z_90 = 1.2816  # of a normal distribution at 10 %


def fit_picture(fit: Fit) -> Picture:
    """Tests, median line, the band that holds it with 90 %, and nine of ten bars."""
    line = fit.line
    return Picture(
        slug="fitted-line",
        title="Tests and their line",
        caption=(
            "Reversed amplitude and life of each bar; open with an arrow: stopped unbroken. The band holds the median "
            "line with 90 %; nine of ten bars last longer than the broken line."
        ),
        alt=f"Strength {line.strength_MPa:.0f} MPa at {line.at_cycles:g} cycles, exponent {line.exponent:.3g}.",
        draw=lambda size: _draw(fit, size),
    )


def _draw(fit: Fit, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=5.2 if size == "narrow" else 4.0)
    axes = canvas.figure.subplots()
    line = fit.line
    lives = [*(point.cycles for point in fit.points), line.at_cycles]
    first, last = min(lives) / 2.5, max(lives) * 3.0
    cycles = np.geomspace(first, last, 60)
    median = line.strength_MPa * (line.at_cycles / cycles) ** (1.0 / line.exponent)
    band = np.array([line.posterior.strength_quantiles(float(n), (0.05, 0.95)) for n in cycles])
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.fill_between(cycles, band[:, 0], band[:, 1], color=style.RULE, lw=0, alpha=0.75, label="median, 90 %")
    axes.plot(cycles, median, color=style.LEAD, lw=2.0, label="median")
    short = 10.0 ** (-_Z_90 * line.log10_life_deviation / line.exponent)
    axes.plot(cycles, short * median, color=style.LEAD, lw=1.2, ls=(0, (5, 2)), label="9 of 10 bars last")
    drawn = [*band.ravel(), *(short * median)]
    if fit.handbook is not None:
        handbook = fit.handbook.strength_at(cycles)
        axes.plot(cycles, handbook, color=style.OTHER, lw=1.4, ls=style.DOTTED, label="handbook's estimate")
        drawn += list(handbook)
    broken = [point for point in fit.points if point.broken]
    stopped = [point for point in fit.points if not point.broken]

    def dots(points: list[TestPoint], name: str, **look: Any) -> None:
        lives, loads = [point.cycles for point in points], [point.reversed_MPa for point in points]
        axes.plot(lives, loads, "o", label=name, zorder=5, **look)

    dots(broken, "broken", ms=6.0, color=style.INK)
    if stopped:
        dots(stopped, "stopped", ms=6.5, mfc=style.PAPER, mec=style.INK)
    arrow = {"arrowstyle": "-|>", "color": style.INK, "lw": 1.2, "shrinkA": 4, "shrinkB": 0}
    for point in stopped:
        start = (point.cycles, point.reversed_MPa)
        axes.annotate("", (point.cycles * 1.45, point.reversed_MPa), start, arrowprops=arrow, zorder=4)
    axes.axvline(
        line.at_cycles,
        color=style.INK,
        lw=1.0,
        ls=style.DOTTED,
        label=f"{printable(whole(line.at_cycles))} cycles",
    )
    loads = [point.reversed_MPa for point in fit.points]
    low, high = 0.94 * min(*drawn, *loads), 1.06 * max(*drawn, *loads)
    # A band of few tests opens without end; what was tested is to fill the picture.
    low, high = max(low, 0.45 * min(loads)), min(high, 2.2 * max(loads))
    axes.set_ylim(low, high)
    axes.set_xlim(first, last)
    style.axes_of(axes, x="Cycles", y="Reversed stress amplitude, MPa", grid="both")
    style.decades(axes, first, last)
    style.ticks(axes.yaxis, [load for load in _LOADS if low < load < high], lambda load: printable(whole(load)))
    style.key(canvas, axes)
    return canvas.figure
