"""Stress-life diagram of a check: the line of the place that decides life, its scatter, and every hole setting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure

from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.figures.sn_chart import LifeChart, LifePoint, draw_lives
from barfem.show.numbers import printable, whole
from barfem.strength.fatigue.criteria import CRITERIA as MEAN_STRESS
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES

__all__ = ["picture"]


def picture(data: FigureData) -> Picture:
    """Life of each hole setting on its stress-life line."""
    j = data.by_life
    return Picture(
        slug="stress-life-diagram",
        title="Stress-life diagram",
        caption=(
            f"Reversed amplitude of the same harm ({MEAN_STRESS[data.bar.targets.mean_stress].title}) against "
            "cycles of full "
            f"travel, both logarithmic. Lines: the place that decides at {data.name(j)}, median and survivals; the "
            "band holds 98 % of bars. Each bar runs from the life at survival to the median life of one hole setting, "
            "by its own place's strength, so that it may lie off these lines. An arrow: over 10 000 000 cycles, no "
            "more is claimed. No life: the table says why. Below 1 000 cycles the line is an orientation only."
        ),
        alt="Stress-life line with its scatter and the life of each hole setting"
        + (
            f"; target {printable(whole(data.result.target_cycles))} cycles."
            if data.result.target_cycles_judged
            else "."
        ),
        draw=lambda size: _draw(data, size),
    )


def _draw(data: FigureData, size: style.Size) -> Figure:
    lead = data.endurance[data.by_life].strength
    points = [point for j in range(len(data.result.settings)) if (point := _point(data, j)) is not None]
    chart = LifeChart(
        strength_at=lead.strength_at,
        share_at=lambda survival: (
            data.strength_share if survival == data.result.survival else lead.survival_factor(survival)
        ),
        survival=data.result.survival,
        points=tuple(points),
        last_cycles=LONGEST_LIFE_CYCLES,
        target_cycles=data.result.target_cycles if data.result.target_cycles_judged else None,
        cycles_title="Cycles of full travel",
    )
    return draw_lives(chart, size)


def _point(data: FigureData, j: int) -> LifePoint | None:
    """A hole setting's life; None where it feels nothing, or the mean leaves no reversed amplitude to draw it at."""
    setting = data.result.settings[j]
    fatigue, assessment = setting.fatigue, data.endurance[j].assessment
    amplitude = float(assessment.equivalent_amplitude_MPa)
    if not (np.isfinite(amplitude) and amplitude > 0.0):
        return None
    point = LifePoint(
        "hole",
        data.called(j),
        amplitude,
        fatigue.life_at_survival_cycles,
        fatigue.life_cycles,
        beyond=False,
        good=data.reaches_target(j),
        bold=j == data.by_life,
    )
    if fatigue.runout:
        return replace(point, cycles_median=LONGEST_LIFE_CYCLES, beyond=True)
    return point
