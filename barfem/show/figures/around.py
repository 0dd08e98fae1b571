"""Stress round the section that holds the peak: outside, and bore of a tube."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole

__all__ = ["picture"]

STATES = {"travel": "full travel", "other end": "the other end of the cycle", "rest": "rest"}


def picture(data: FigureData) -> Picture | None:
    """Components and von Mises stress round the hot section of the hole setting that governs stress; None where
    the bar feels nothing.
    """
    if data.result.feels_nothing:
        return None
    hot, peak = data.hot, data.result.governing_for_stress.peak
    greatest = [
        f"{name} {printable(whole(float(v.max())))} MPa"
        for name, v in zip(hot.surfaces, hot.von_mises_MPa, strict=True)
    ]
    return Picture(
        slug="stress-round-the-hot-section",
        title="Stress round the hot section",
        caption=(
            f"Station {hot.station_mm:.0f} mm, {data.name(hot.setting)}, at {STATES[hot.state]}: {peak.where}. Normal "
            "stress is along the bar, tension positive; shear is that of torsion and transverse force together; both "
            "are signed, von Mises is not."
        ),
        alt=f"Stress against the angle round the section at station {hot.station_mm:.0f} mm. Greatest von Mises "
        f"stress: {', '.join(greatest)}.",
        draw=lambda size: _draw(data, size),
    )


def _draw(data: FigureData, size: style.Size) -> Figure:
    hot = data.hot
    count = len(hot.surfaces)
    stacked = size == "narrow"
    canvas = style.new_figure(size, height_in=2.9 * count if stacked else 3.1)
    rows, columns = (count, 1) if stacked else (1, count)
    panels = canvas.figure.subplots(rows, columns, sharey=True, squeeze=False).ravel()
    high = max(float(v.max()) for v in hot.von_mises_MPa)
    low = min(float(s.min()) for s in hot.stress_MPa)
    for i, axes in enumerate(panels):
        _panel(data, canvas, axes, i, low=min(1.12 * low, -0.04 * high), high=1.12 * high, titled=count > 1)
    return canvas.figure


def _panel(
    data: FigureData, canvas: style.Canvas, axes: Axes, i: int, *, low: float, high: float, titled: bool
) -> None:
    hot = data.hot
    closed = np.append(hot.angle_deg[i], 360.0)
    ss, hoop, shear = (np.append(part, part[0]) for part in hot.stress_MPa[i])
    von_mises = np.append(hot.von_mises_MPa[i], hot.von_mises_MPa[i][0])
    lines = [
        ("von Mises", von_mises, style.LEAD, 1.9, "-"),
        ("normal", ss, style.OTHER, 1.3, (0, (5, 1.5))),
        ("shear", shear, style.SHEAR, 1.3, (0, (2, 1.5))),
    ]
    if np.abs(hoop).max() > 0.01 * von_mises.max():
        lines.append(("hoop", hoop, style.BORE, 1.2, style.DOTTED))
    axes.axhline(0.0, color=style.MUTED, lw=0.8)
    for _, values, color, width, dashes in lines:
        axes.plot(closed, values, color=color, lw=width, ls=dashes)
    axes.set_ylim(low, high)
    axes.set_xlim(0.0, 360.0)
    sides = [*hot.sides, hot.sides[0]]
    axes.set_xticks(range(0, 361, 90), [f"{90 * k}\n{side}" for k, side in enumerate(sides)])
    title = f"Stress, MPa, {hot.surfaces[i]}" if titled else "Stress, MPa"
    style.axes_of(axes, x="Angle round the section, deg", y=title, grid="both")
    axes.yaxis.set_tick_params(labelleft=True)
    gap = (high - low) * 1.3 * canvas.points / 165.0
    heights = style.keep_apart([float(values[-1]) for _, values, *_ in lines], gap, low=low, high=high)
    for (name, _, color, *_), height in zip(lines, heights, strict=True):
        axes.annotate(
            name,
            (1.0, height),
            xycoords=("axes fraction", "data"),
            xytext=(5.0, 0.0),
            textcoords="offset points",
            color=color,
            va="center",
            annotation_clip=False,
            fontweight="bold" if name == "von Mises" else "normal",
        )
    top = int(np.argmax(von_mises[:-1]))
    axes.plot([closed[top]], [von_mises[top]], "o", color=style.LEAD, ms=5, clip_on=False, zorder=6)
    words = f"{printable(whole(float(von_mises[top])))} MPa"
    style.peak(axes, closed[top], von_mises[top], words, left=closed[top] > 240.0, gap=8.0, zorder=6)
