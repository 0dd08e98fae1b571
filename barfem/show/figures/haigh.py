"""Haigh diagram: amplitude against mean, and the lines of the place that decides life, by the mean-stress rule."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.transforms import ScaledTranslation
from numpy.typing import NDArray

from barfem.check.endurance import mean_stress_of
from barfem.check.fields import EndurancePoint
from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole
from barfem.strength.fatigue.mean_stress import MEAN_TITLES

__all__ = ["picture"]

Array = NDArray[np.float64]
ALIKE = 0.03  # strengths this near share a line

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
            "included; the mean holds what is left of the residual stress and is never taken below zero. Lines: "
            f"{MEAN_TITLES[data.bar.targets.mean_stress]}, for {printable(whole(data.result.target_cycles))} cycles at "
            f"the place that decides at {data.name(j)}: a point on or below the bold line lasts them at "
            f"{100 * data.result.survival:g} % survival. A hole setting whose place has another strength by more than "
            f"{100 * ALIKE:.0f} % has its own, thin line.{data.case_note(j)}"
        ),
        alt=(
            f"Amplitude against mean stress. {data.name(j)}: amplitude {point.amplitude_MPa:.0f} MPa, mean used "
            f"{float(point.assessment.mean_used_MPa):.0f} MPa; the line of the target life at survival begins at "
            f"{_at_target(data, j):.0f} MPa at zero mean."
        ),
        draw=lambda size: _draw(data, size),
    )


def _at_target(data: FigureData, j: int) -> float:
    """Reversed amplitude that lasts the target cycles at the survival judged, MPa."""
    return data.strength_share * float(data.endurance[j].strength.strength_at(data.result.target_cycles))


def _allowed(data: FigureData, point: EndurancePoint, reversed_MPa: float, mean_MPa: Array) -> Array:
    """Amplitude at each mean that does the harm of a reversed amplitude, by the bar's mean-stress rule; zero if none.

    By bisection, since harm grows with the amplitude in every rule.
    """
    rule = mean_stress_of(data.bar)
    low, high = np.zeros(len(mean_MPa)), np.full(len(mean_MPa), reversed_MPa)
    for _ in range(40):
        middle = 0.5 * (low + high)
        harm = rule.equivalent(
            amplitude_MPa=middle,
            mean_MPa=mean_MPa,
            tensile_MPa=np.full(len(mean_MPa), point.tensile_strength_MPa),
            yield_MPa=np.full(len(mean_MPa), point.yield_strength_MPa),
        )
        low, high = np.where(harm <= reversed_MPa, middle, low), np.where(harm <= reversed_MPa, high, middle)
    return low


def _draw(data: FigureData, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=3.6)
    axes = canvas.figure.subplots()
    shown, lead = data.shown(data.by_life), data.endurance[data.by_life]
    target = float(lead.strength.strength_at(data.result.target_cycles))
    places = [(float(data.endurance[j].assessment.mean_used_MPa), data.endurance[j].amplitude_MPa) for j in shown]
    top = 1.25 * max(target, *(amplitude for _, amplitude in places))
    right = 1.04 * max(lead.tensile_strength_MPa, *(mean for mean, _ in places))
    axes.set_xlim(0.0, right)
    axes.set_ylim(0.0, top)
    style.axes_of(axes, x="Mean stress, MPa", y="Stress amplitude, MPa", grid="both")
    survival = f"{100 * data.result.survival:g} % survival"
    cycles = "" if canvas.narrow else f"{printable(whole(data.result.target_cycles))} cycles, "
    lines: list[Line] = [
        (_at_target(data, data.by_life), cycles + survival, style.LEAD, 1.9, "-"),
        (target, f"{cycles}median", style.OTHER, 1.1, (0, (5, 1.5))),
    ]
    limit = float(lead.strength.endurance_limit_MPa)
    if limit > 0.0 and abs(limit / target - 1.0) > ALIKE:
        name = "endurance limit" if canvas.narrow else "endurance limit, median"
        lines.append((limit, name, style.MUTED, 1.0, (0, (2, 1.5))))
    mean = np.linspace(0.0, right, 160)
    for at_zero, _, color, width, dashes in lines:
        allowed = _allowed(data, lead, at_zero, mean)
        axes.plot(mean, np.where(allowed > 1e-6 * at_zero, allowed, np.nan), color=color, lw=width, ls=dashes)
    _other_lines(data, axes, shown, mean)
    yield_ = lead.yield_strength_MPa
    axes.plot([yield_ - min(top, yield_), yield_], [min(top, yield_), 0.0], color=style.BELOW, lw=1.0, ls=(0, (1, 1.5)))
    height = min(0.93 * top, 0.8 * yield_)
    style.label(axes, yield_ - height, height, "  yield", color=style.BELOW)
    farthest = max(mean for mean, _ in places) / right
    _name_lines(data, axes, lines, right=right, at=min(max(0.34, farthest + 0.34), 0.6))
    _name_points(data, canvas, axes, shown, places, top)
    return canvas.figure


def _other_lines(data: FigureData, axes: Axes, shown: tuple[int, ...], mean: Array) -> None:
    """The lines of hole settings whose governing place has another strength."""
    lead = _at_target(data, data.by_life)
    for j in shown:
        own = _at_target(data, j)
        if abs(own / lead - 1.0) <= ALIKE:
            continue
        allowed = _allowed(data, data.endurance[j], own, mean)
        axes.plot(mean, np.where(allowed > 1e-6 * own, allowed, np.nan), color=style.LEAD, lw=0.7)
        at = int(0.72 * len(mean))
        if allowed[at] > 0.0:
            name = f"hole {data.short(data.result.settings[j])}"
            style.label(axes, mean[at], float(allowed[at]), name, color=style.LEAD, ha="center")


def _name_lines(data: FigureData, axes: Axes, lines: list[Line], *, right: float, at: float) -> None:
    """Names along the lines, beyond the points: the median's above its line, that of the line that judges below it."""
    lead = data.endurance[data.by_life]
    for at_zero, name, color, width, _ in lines:
        judged = width > 1.5
        x = (min(at + 0.26, 0.72) if name.startswith("endurance") else at) * right
        one, two, three = _allowed(data, lead, at_zero, np.array([0.96, 1.0, 1.04]) * x)
        if two <= 0.0:
            continue
        up = ScaledTranslation(0.0, (-4.0 if judged else 3.0) / 72.0, axes.figure.dpi_scale_trans)
        axes.text(
            x,
            two,
            name,
            transform=axes.transData + up,
            color=color,
            ha="center",
            va="top" if judged else "bottom",
            rotation=np.degrees(np.arctan2(three - one, 0.08 * x)),
            rotation_mode="anchor",
            transform_rotates_text=True,
            fontweight="bold" if judged else "normal",
            path_effects=[style.halo()],
        )


def _name_points(
    data: FigureData,
    canvas: style.Canvas,
    axes: Axes,
    shown: tuple[int, ...],
    places: list[tuple[float, float]],
    top: float,
) -> None:
    gap = top * 1.35 * canvas.points / 190.0
    heights = style.keep_apart([amplitude for _, amplitude in places], gap, low=gap, high=top - gap)
    for j, (mean, amplitude), height in zip(shown, places, heights, strict=True):
        good = data.reaches_target(j)
        color = style.INK if good else style.BELOW
        axes.plot([mean], [amplitude], "o" if good else "X", ms=7 if good else 8, clip_on=False, zorder=6, color=color)
        axes.annotate(
            f"hole {data.short(data.result.settings[j])}",
            (mean, amplitude),
            (0.025 * float(np.diff(axes.get_xlim())[0]) + mean, height),
            va="center",
            ha="left",
            color=color,
            fontweight="bold" if j == data.by_life else "normal",
            zorder=7,
            path_effects=[style.halo()],
        )
