"""Haigh diagram: amplitude against mean, and the Goodman lines of the place that decides life."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole

__all__ = ["picture"]

Line = tuple[float, str, str, float, Any]  # amplitude at zero mean, name, colour, width, dashes


def picture(data: FigureData) -> Picture:
    """Where each hole setting's cycle lies against the strength at its governing place."""
    j = data.by_life
    point = data.endurance[j]
    return Picture(
        slug="haigh-diagram",
        title="Haigh diagram",
        caption=(
            "Von Mises stress amplitude and mean at the place that decides each hole setting's life, concentration "
            "included; the mean holds the residual stress and is never taken below zero. Lines: Goodman, for the "
            f"target of {printable(whole(data.result.target_cycles))} cycles at the place that decides at "
            f"{data.name(j)}: "
            f"a point on or below the bold line meets it at {100 * data.result.survival:g} % survival. Points "
            f"of places with another strength are drawn hollow, scaled to this line.{data.case_note(data.by_life)}"
        ),
        alt=(
            f"Amplitude against mean stress. {data.name(j)}: amplitude {point.amplitude_MPa:.0f} MPa, mean used "
            f"{float(point.assessment.mean_used_MPa):.0f} MPa; Goodman line for the target life at survival from "
            f"{_at_target(data, j):.0f} MPa at zero mean to the tensile strength."
        ),
        draw=lambda size: _draw(data, size),
    )


def _at_target(data: FigureData, j: int) -> float:
    """Reversed amplitude that lasts the target cycles at the survival judged, MPa."""
    return data.strength_share * float(data.endurance[j].strength.strength_at(data.result.target_cycles))


def _draw(data: FigureData, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=3.6)
    axes = canvas.figure.subplots()
    lead = data.endurance[data.by_life]
    tensile, target = lead.tensile_strength_MPa, float(lead.strength.strength_at(data.result.target_cycles))
    judged = data.strength_share * target
    places = [_place(data, j) for j in data.shown(data.by_life)]
    top = 1.25 * max(target, *(amplitude for _, amplitude, _ in places))
    right = 1.04 * max(tensile, *(mean for mean, _, _ in places))
    axes.set_xlim(0.0, right)
    axes.set_ylim(0.0, top)
    style.axes_of(axes, x="Mean stress, MPa", y="Stress amplitude, MPa", grid="both")
    survival = f"{100 * data.result.survival:g} % survival"
    cycles = "" if canvas.narrow else f"{printable(whole(data.result.target_cycles))} cycles, "
    lines: list[Line] = [
        (judged, cycles + survival, style.LEAD, 1.9, "-"),
        (target, f"{cycles}median", style.OTHER, 1.1, (0, (5, 1.5))),
    ]
    limit = float(lead.strength.endurance_limit_MPa)
    if limit > 0.0 and abs(limit / target - 1.0) > 0.02:
        lines.append(
            (limit, "endurance limit" if canvas.narrow else "endurance limit, median", style.MUTED, 1.0, (0, (2, 1.5)))
        )
    for at_zero, _, color, width, dashes in lines:
        axes.plot([0.0, tensile], [at_zero, 0.0], color=color, lw=width, ls=dashes)
    yield_ = lead.yield_strength_MPa
    axes.plot([yield_ - min(top, yield_), yield_], [min(top, yield_), 0.0], color=style.BELOW, lw=1.0, ls=(0, (1, 1.5)))
    _name_lines(axes, lines, tensile=tensile, yield_MPa=yield_, top=top)
    _name_points(data, canvas, axes, places, top)
    return canvas.figure


def _place(data: FigureData, j: int) -> tuple[float, float, bool]:
    """Mean, amplitude, and whether both were scaled because that place's strength differs from the governing one's."""
    point, lead = data.endurance[j], data.endurance[data.by_life]
    mean, amplitude = float(point.assessment.mean_used_MPa), point.amplitude_MPa
    by_strength = _at_target(data, data.by_life) / _at_target(data, j)
    by_tensile = lead.tensile_strength_MPa / point.tensile_strength_MPa
    scaled = abs(by_strength - 1.0) > 0.005 or abs(by_tensile - 1.0) > 0.005
    return (mean * by_tensile, amplitude * by_strength, True) if scaled else (mean, amplitude, False)


def _name_lines(axes: Axes, lines: list[Line], *, tensile: float, yield_MPa: float, top: float) -> None:
    """Names along the lines: the median's above its line, that of the line that judges below it."""
    for at_zero, name, color, width, _ in lines:
        judged = width > 1.5
        share = 0.62 if name.startswith("endurance") else 0.36
        slope = np.degrees(np.arctan2(-at_zero, tensile))
        axes.annotate(
            name,
            (share * tensile, at_zero * (1.0 - share)),
            (0.0, -4.0 if judged else 3.0),
            textcoords="offset points",
            color=color,
            ha="center",
            va="top" if judged else "bottom",
            rotation=slope,
            rotation_mode="anchor",
            transform_rotates_text=True,
            fontweight="bold" if judged else "normal",
            path_effects=[style.halo()],
        )
    height = min(0.93 * top, 0.8 * yield_MPa)
    style.label(axes, yield_MPa - height, height, "  yield", color=style.BELOW)


def _name_points(
    data: FigureData, canvas: style.Canvas, axes: Axes, places: list[tuple[float, float, bool]], top: float
) -> None:
    gap = top * 1.35 * canvas.points / 190.0
    heights = style.keep_apart([amplitude for _, amplitude, _ in places], gap, low=gap, high=top - gap)
    for j, (mean, amplitude, scaled), height in zip(data.shown(data.by_life), places, heights, strict=True):
        good = data.reaches_target(j)
        axes.plot(
            [mean],
            [amplitude],
            "o" if good else "X",
            ms=7 if good else 8,
            clip_on=False,
            zorder=6,
            mfc=style.PAPER if scaled else (style.INK if good else style.BELOW),
            mec=style.INK if good else style.BELOW,
        )
        bold = "bold" if j == data.by_life else "normal"
        axes.annotate(
            f"hole {data.short(data.result.settings[j])}",
            (mean, amplitude),
            (0.025 * np.diff(axes.get_xlim())[0] + mean, height),
            va="center",
            ha="left",
            color=style.INK if good else style.BELOW,
            fontweight=bold,
            zorder=7,
            path_effects=[style.halo()],
        )
