"""Stress-life diagram: the line of the place that decides life, and each hole setting's life on it."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator
from numpy.typing import NDArray

from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole
from barfem.strength.fatigue.mean_stress import MEAN_TITLES
from barfem.strength.fatigue.sn_line import KNEE_CYCLES, LONGEST_LIFE_CYCLES, SHORTEST_LIFE_CYCLES

__all__ = ["picture"]

Array = NDArray[np.float64]
Bar = tuple[int, float, float, float, bool]  # as `_bar` gives it


def picture(data: FigureData) -> Picture:
    """Life of each hole setting on its stress-life line."""
    j = data.by_life
    return Picture(
        slug="stress-life-diagram",
        title="Stress-life diagram",
        caption=(
            f"Reversed amplitude of the same harm ({MEAN_TITLES[data.bar.targets.mean_stress]}) "
            "against cycles of full travel, both logarithmic. Bold: the "
            f"line at the place that decides at {data.name(j)}, {100 * data.result.survival:g} % survival; thin: the "
            "median. Each bar runs from the life at survival to the median life of one hole setting, by its own "
            "place's strength. An arrow: beyond the knee, and no more is claimed. Below 1 000 cycles the line is an "
            f"orientation only.{data.case_note(data.by_life)}"
        ),
        alt=f"Stress-life line with the life of each hole setting and the target of "
        f"{printable(whole(data.result.target_cycles))} cycles.",
        draw=lambda size: _draw(data, size),
    )


def _draw(data: FigureData, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=3.5)
    axes = canvas.figure.subplots()
    lead = data.endurance[data.by_life].strength
    target, share = data.result.target_cycles, data.strength_share
    knee = bool(lead.has_knee)
    last = 10.0 * KNEE_CYCLES if knee else LONGEST_LIFE_CYCLES
    bars = [bar for j in data.shown(data.by_life) if (bar := _bar(data, j)) is not None]
    shortest = min([SHORTEST_LIFE_CYCLES, target / 3.0, *(low / 6.0 for _, low, _, _, _ in bars)])
    cycles = np.geomspace(max(shortest, 0.1), max(last, 3.0 * target), 240)
    median = lead.strength_at(cycles)
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.plot(cycles, median, color=style.OTHER, lw=1.1, ls=(0, (5, 1.5)))
    axes.plot(cycles, share * median, color=style.LEAD, lw=1.9)
    amplitudes = [amplitude for _, _, _, amplitude, _ in bars]
    low = 0.72 * min([share * float(median.min()), *amplitudes])
    high = 1.25 * max([float(lead.strength_at(max(shortest, SHORTEST_LIFE_CYCLES))), *amplitudes])
    axes.set_ylim(low, high)
    axes.set_xlim(cycles[0], cycles[-1])
    axes.axvline(target, color=style.INK, lw=1.0, ls=(0, (1, 1.5)))
    style.axes_of(axes, x="Cycles of full travel", y="Reversed stress amplitude, MPa", grid="both")
    ticks = [t for t in (50, 70, 100, 150, 200, 300, 400, 500, 700, 1000, 1500, 2000) if low < t < high]
    axes.yaxis.set_major_locator(FixedLocator(ticks))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: printable(whole(value))))
    style.decades(axes, cycles[0], cycles[-1])
    style.label(axes, target, high * 0.985, " target", ha="left", va="top")
    _name_lines(data, canvas, axes, bars, cycles, median)
    _lives(data, canvas, axes, bars, low=low, high=high)
    return canvas.figure


def _name_lines(
    data: FigureData, canvas: style.Canvas, axes: Axes, bars: list[Bar], cycles: Array, median: Array
) -> None:
    """Names at the right end of the lines; at the left where hole settings lie close below the right end."""
    judged = data.strength_share * median
    end = cycles[-1] / 1.1
    style.label(axes, end, float(median[-1]) * 1.03, "median", color=style.OTHER, ha="right", va="bottom")
    name = f"{100 * data.result.survival:g} % survival"
    kept = {"color": style.LEAD, "va": "top", "fontweight": "bold"}
    if all(amplitude < 0.75 * judged[-1] or amplitude > judged[-1] for *_, amplitude, _ in bars):
        style.label(axes, end, 0.97 * float(judged[-1]), name, ha="right", **kept)
        return
    # Below the falling line from the left edge on: as low as the line is where the name ends.
    ends = int((0.5 if canvas.narrow else 0.24) * len(cycles))
    style.label(axes, cycles[0] * 1.15, float(judged[ends]), name, ha="left", **kept)


def _bar(data: FigureData, j: int) -> Bar | None:
    """Hole setting, life at survival, median life, amplitude, and whether the median lies beyond the knee."""
    fatigue, point = data.result.settings[j].fatigue, data.endurance[j]
    amplitude = float(point.assessment.equivalent_amplitude_MPa)
    if not np.isfinite(amplitude):
        return None
    beyond = fatigue.knee_cycles or LONGEST_LIFE_CYCLES
    if fatigue.runout:
        return j, fatigue.life_at_survival_cycles or beyond, beyond, amplitude, True
    if fatigue.life_cycles is None or fatigue.life_at_survival_cycles is None:
        return None
    return j, max(fatigue.life_at_survival_cycles, 1.0), max(fatigue.life_cycles, 1.0), amplitude, False


def _lives(data: FigureData, canvas: style.Canvas, axes: Axes, bars: list[Bar], *, low: float, high: float) -> None:
    if not bars:
        style.label(axes, 0.5, 0.5, "no life can be stated", ha="center", transform=axes.transAxes, color=style.BELOW)
        return
    gap = np.log(high / low) * 1.35 * canvas.points / 185.0
    height = np.inf
    # From the top down, each name pushed below the one above: to the left of the line there is room below alone.
    for j, at_survival, median, amplitude, beyond in sorted(bars, key=lambda bar: -bar[3]):
        height = min(float(np.log(amplitude)), height - gap)
        color = style.INK if data.reaches_target(j) else style.BELOW
        axes.plot([at_survival, median], [amplitude] * 2, color=color, lw=4.0, solid_capstyle="butt", zorder=5)
        if beyond:
            axes.annotate(
                "",
                (median * 2.4, amplitude),
                (median, amplitude),
                arrowprops={"arrowstyle": "-|>", "color": color, "lw": 1.4, "shrinkA": 0, "shrinkB": 0},
                zorder=5,
            )
        style.label(
            axes,
            at_survival / 1.12,
            float(np.exp(height)),
            f"hole {data.short(data.result.settings[j])}",
            color=color,
            ha="right",
            zorder=6,
            fontweight="bold" if j == data.by_life else "normal",
        )
