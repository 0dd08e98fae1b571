"""Damage along the developed length: where the duty, or the target of full travel, uses up the bar's life."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from barfem.check.duty_life import critical_sum_of, damage_along
from barfem.show.figures import style
from barfem.show.figures.along import draw_strip, wash_bends
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, significant, whole

__all__ = ["picture"]

Array = NDArray[np.float64]

DECADES = 4  # below the greatest or the limit; what is less cannot matter


def picture(data: FigureData) -> Picture:
    """Damage of the worst point of each section, for each hole setting."""
    limit, lead = _limit(data), data.by_life
    station, damage = damage_along(data.solved, lead)
    at = int(np.argmax(damage))
    of = "one repeat of the blocks" if data.bar.duty.blocks else _target(data)
    share = f"{100 * data.result.survival:g} %"
    worst = (
        "no life can be stated" if np.isinf(damage[at]) else f"damage {printable(significant(float(damage[at]), 2))}"
    )
    if not damage.max() > 0.0:
        worst = "no cycle above the endurance limit anywhere"
    return Picture(
        slug="damage-along-the-bar",
        title="Damage along the developed length",
        caption=(
            f"Miner's damage of {of} at the worst point round each section, edges of holes and contacts included, at "
            f"{share} survival, on a logarithmic axis. Above the dotted line, {limit:.3g}, the target is not "
            "reached. Where a line leaves the chart below, damage is less than can matter, or no cycle lies above "
            "the endurance limit. Hatched: no life can be stated there (above yield, or at the tensile strength). The "
            f"strip below shows where flats, holes, bends and mounts are.{data.case_note(lead)}"
        ),
        alt=f"Line chart of damage against station. {data.name(lead)}: {worst}, at station {station[at]:.0f} mm.",
        draw=lambda size: _draw(data, size),
    )


def _target(data: FigureData) -> str:
    return f"{printable(whole(data.result.target_cycles))} cycles of full travel"


def _limit(data: FigureData) -> float:
    """Damage at which the target is just missed."""
    return critical_sum_of(data.bar) / data.bar.duty.repeats if data.bar.duty.blocks else 1.0


def _draw(data: FigureData, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=4.3)
    axes, strip = canvas.figure.subplots(2, 1, sharex=True, height_ratios=(3.6, 1.0))
    limit, shown = _limit(data), data.shown(data.by_life)
    found = {j: damage_along(data.solved, j) for j in shown}
    finite = [float(x[np.isfinite(x)].max(initial=0.0)) for _, x in found.values()]
    top = 6.0 * max(limit, *finite)
    low = max(min(limit, max([x for x in finite if x > 0.0], default=limit)), 1e-4 * top) / 10.0**DECADES
    wash_bends(data, axes)
    axes.set_yscale("log")
    for j, (station, damage) in found.items():
        lead = j == data.by_life
        at = np.where(np.isfinite(damage), np.maximum(damage, 0.01 * low), top)
        axes.plot(
            station,
            at,
            color=style.LEAD if lead else style.OTHER,
            lw=1.7 if lead else 0.9,
            zorder=4 if lead else 3,
        )
        if lead:
            _lifeless(axes, station, damage)
    axes.axhline(limit, color=style.BELOW, lw=1.1, ls=style.DOTTED, zorder=5)
    axes.set_ylim(low, top)
    axes.set_xlim(0.0, data.bar.centreline.length_mm)
    axes.tick_params(labelbottom=False)
    powers = range(int(np.ceil(np.log10(low))), int(np.floor(np.log10(top))) + 1)
    every = 2 if len(powers) > 7 else 1
    style.ticks(axes.yaxis, [10.0**power for power in powers if power % every == 0], style.power_of_ten)
    of = "one repeat of the blocks" if data.bar.duty.blocks else _target(data)
    narrow = "\n" if canvas.narrow else " "
    style.axes_of(axes, x="", y=f"Damage of {of}{narrow}at {100 * data.result.survival:g} % survival, cycles / life")
    if not max(finite) > 0.0 and all(np.all(np.isfinite(x)) for _, x in found.values()):
        words = style.wrapped("no cycle lies above the endurance limit: no damage", 30 if canvas.narrow else 60)
        style.label(axes, 0.5, 0.5, words, ha="center", transform=axes.transAxes)
    else:
        _name(data, axes, found, top)
    style.label(
        axes,
        0.01 * data.bar.centreline.length_mm,
        limit * 1.15,
        "target" if canvas.narrow else f"target: {limit:.3g}",
        color=style.BELOW,
        ha="left",
        va="bottom",
        zorder=6,
    )
    draw_strip(data, strip, canvas)
    return canvas.figure


def _lifeless(axes: Axes, station: Array, damage: Array) -> None:
    """Hatch the stations without a life."""
    gone = ~np.isfinite(damage)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], gone.astype(int), [0]])))
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        axes.axvspan(
            station[first], station[end - 1], facecolor="none", edgecolor=style.BELOW, hatch="////", lw=0, zorder=2
        )


def _name(data: FigureData, axes: Axes, found: dict[int, tuple[Array, Array]], top: float) -> None:
    """The line that governs, at its worst place."""
    station, damage = found[data.by_life]
    at = int(np.argmax(damage))
    setting = data.result.settings[data.by_life]
    height = float(damage[at])
    height_words = "no life" if np.isinf(height) else printable(significant(height, 2))
    if np.isfinite(height):
        axes.plot([station[at]], [height], "o", color=style.LEAD, ms=5, zorder=7, clip_on=False)
    style.peak(
        axes,
        station[at],
        min(1.15 * height, 0.8 * top),
        f"  hole {data.short(setting)}: {height_words}  ",
        left=station[at] > data.bar.middle_mm,
        va="bottom" if np.isfinite(height) else "top",
    )
