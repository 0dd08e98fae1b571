"""Stress along the developed length, with what the bar passes on its way: flats, holes, bends, mounts."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from barfem.check.loads import STATE_NAMES
from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole
from barfem.strength.section_map import BORE, OUTSIDE

__all__ = ["draw_strip", "picture", "wash_bends"]

Array = NDArray[np.float64]

ROWS = ("mount", "hole", "flat", "bend")


def picture(data: FigureData) -> Picture | None:
    """Greatest von Mises stress round the section at every station, for each hole setting; None where
    the bar feels nothing.
    """
    if data.result.feels_nothing:
        return None
    peak = data.result.governing_for_stress.peak
    tube = data.fields.surface.max() == BORE
    return Picture(
        slug="stress-along-the-bar",
        title="Stress along the developed length",
        caption=(
            "Greatest von Mises stress round the section, the greatest of the states "
            f"{', '.join(STATE_NAMES)}; bend curvature included, hole concentration not"
            + (" (dashed: in the bore, for the hole setting that governs)." if tube else ".")
            + f" The strip below shows where flats, holes, bends and mounts are.{data.case_note(data.by_stress)}"
        ),
        alt=(
            f"Line chart of von Mises stress against station. {data.name(data.by_stress)} has the peak, "
            f"{printable(whole(peak.von_mises_MPa))} MPa at station {peak.station_mm:.0f} mm, {peak.where}."
        ),
        draw=lambda size: _draw(data, size),
    )


def _draw(data: FigureData, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=4.1)
    axes, strip = canvas.figure.subplots(2, 1, sharex=True, height_ratios=(3.6, 1.0))
    fields = data.fields
    outside = fields.along_MPa(OUTSIDE).max(axis=1)  # (j, m)
    stations = fields.station_mm
    top = 1.12 * float(np.nanmax(outside[list(data.shown(data.by_stress))]))
    wash_bends(data, axes)
    for j in data.shown(data.by_stress):
        lead = j == data.by_stress
        axes.plot(
            stations,
            outside[j],
            color=style.LEAD if lead else style.OTHER,
            lw=1.9 if lead else 1.0,
            zorder=4 if lead else 3,
        )
    if fields.surface.max() == BORE:
        bore = np.nanmax(np.nan_to_num(fields.along_MPa(BORE), nan=0.0), axis=1)[data.by_stress]
        axes.plot(stations, np.where(bore > 0.0, bore, np.nan), color=style.BORE, lw=1.2, ls=(0, (4, 2)), zorder=3)
        middle = int(np.argmin(np.abs(stations - data.bar.middle_mm)))
        style.label(
            axes, stations[middle], float(bore[middle]) - 0.02 * top, "bore", color=style.BORE, ha="center", va="top"
        )
    axes.set_ylim(0.0, top)
    axes.set_xlim(0.0, data.bar.centreline.length_mm)
    axes.tick_params(labelbottom=False)
    _limit(data, canvas, axes, top)
    _names(data, canvas, axes, outside, top)
    _peak(data, axes)
    draw_strip(data, strip, canvas)
    return canvas.figure


def _limit(data: FigureData, canvas: style.Canvas, axes: Axes, top: float) -> None:
    """The stress at which the yield margin is its target, where the axis reaches it; else said beside the title."""
    limit = data.bar.steel.yield_strength_MPa * data.fields.strength_scale / (1.0 + data.result.yield_margin_target)
    axes.plot(data.fields.station_mm, limit, color=style.BELOW, lw=1.0, ls=(0, (1, 1.6)), scalex=False, scaley=False)
    # The label stands on the line at the middle, so that it says the stress that counts there.
    middle = data.bar.middle_mm
    height, least = float(np.interp(middle, data.fields.station_mm, limit)), float(limit.min())
    text = f"yield margin {data.result.yield_margin_target:g} at {printable(whole(height))} MPa"
    if round(least) < round(height):
        text += f", {printable(whole(least))} where softer"
    title = "Von Mises stress, MPa"
    if height < top:
        style.label(axes, middle, height, text, color=style.BELOW, ha="center", va="bottom")
    else:
        text += ", off the chart" if least >= top else ""
        if canvas.narrow:
            title += f"\n({text})"
        else:
            axes.set_title(text, loc="right", color=style.MUTED, pad=8.0)
    style.axes_of(axes, x="", y=title)


def _names(data: FigureData, canvas: style.Canvas, axes: Axes, outside: Array, top: float) -> None:
    """Each line's name, on the middle half of the bar: where the lines are nearly level, and apart.

    The line that governs is named at its peak.
    """
    stations, named = data.fields.station_mm, [j for j in data.shown(data.by_stress) if j != data.by_stress]
    if not named:
        return
    length = data.bar.centreline.length_mm
    inner = np.flatnonzero((stations > 0.27 * length) & (stations < 0.73 * length))
    lines = outside[[*named, data.by_stress]][:, inner]
    spread = np.diff(np.sort(lines, axis=0), axis=0).min(axis=0)
    name_mm = (0.1 if canvas.narrow else 0.05) * length
    near = np.abs(stations[inner][:, None] - stations[inner]) < name_mm
    rise = np.array([np.ptp(lines[:, some], axis=1).max() for some in near])
    at = inner[int(np.argmax(spread - 2.0 * rise))]
    gap = top * 1.35 * canvas.points / 190.0
    heights = style.keep_apart([float(outside[j, at]) for j in named], gap, low=0.5 * gap, high=top - gap)
    for j, height in zip(named, heights, strict=True):
        name = f"hole {data.short(data.result.settings[j])}"
        # On its own line, which is not to show between the words.
        box = {"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6}
        style.label(axes, stations[at], height, name, color=style.OTHER, ha="center", zorder=6, bbox=box)


def _peak(data: FigureData, axes: Axes) -> None:
    setting = data.result.governing_for_stress
    peak = setting.peak
    axes.plot([peak.station_mm], [peak.von_mises_MPa], "o", color=style.LEAD, ms=5, zorder=7, clip_on=False)
    words = f"  hole {data.short(setting)}: {printable(whole(peak.von_mises_MPa))} MPa  "
    left = peak.station_mm > data.bar.middle_mm
    style.peak(axes, peak.station_mm, peak.von_mises_MPa, words, left=left)


def wash_bends(data: FigureData, axes: Axes) -> None:
    """A wash behind what is drawn over the bends."""
    for mark in data.marks:
        if mark.kind == "bend":
            axes.axvspan(mark.start_mm, mark.end_mm, color=style.WASH, lw=0, zorder=0)


def draw_strip(data: FigureData, axes: Axes, canvas: style.Canvas) -> None:
    """What lies where, a row a kind."""
    rows = [kind for kind in ROWS if any(mark.kind == kind for mark in data.marks)]
    bends = [mark for mark in data.marks if mark.kind == "bend"]
    least = 0.004 * data.bar.centreline.length_mm  # no mark thinner than can be seen
    for mark in data.marks:
        width = max(mark.end_mm - mark.start_mm, least)
        axes.barh(
            rows.index(mark.kind),
            width,
            left=mark.middle_mm - 0.5 * width,
            height=0.62,
            color=style.INK if mark.kind == "hole" else style.MUTED,
            lw=0,
        )
    if bends:
        gap = data.bar.centreline.length_mm * (0.05 if canvas.narrow else 0.02)
        wanted = [mark.middle_mm for mark in bends]
        places = style.keep_apart(wanted, gap, low=0.0, high=data.bar.centreline.length_mm)
        for mark, place in zip(bends, places, strict=True):
            axes.text(place, len(rows) - 0.45, mark.name.split()[-1], ha="center", va="bottom", color=style.MUTED)
    axes.set_ylim(-0.6, len(rows) + 0.7)
    axes.set_yticks(range(len(rows)), [f"{kind}s" for kind in rows])
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("Station, mm from the right tip")
