"""The pictures of `barfem duty`: which amplitudes use up life, and the load spectrum on the stress-life line."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator, NullLocator
from numpy.typing import ArrayLike, NDArray

from barfem.check.history_cycles import HistoryCycles
from barfem.check.history_life import HistoryLife, HistoryLives
from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar
from barfem.show.figures import style
from barfem.show.figures.picture import Picture
from barfem.show.figures.sn_chart import LifeChart, Spectrum, draw_lives
from barfem.show.lives import one_life
from barfem.show.numbers import printable, whole
from barfem.strength.fatigue.factors import strength_share
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES, StressLifeLine

__all__ = ["history_pictures"]

Array = NDArray[np.float64]

CLASSES = 24
LEAST = 0.1


def history_pictures(found: HistoryLives) -> tuple[Picture, ...]:
    """Two pictures for each hole setting, numbered in their order where there are several."""
    bar, made = found.bar, []
    for number, (life, cycles) in enumerate(found.counted, start=1):
        suffix = f"-{number}" if len(found.counted) > 1 else ""
        made += [_by_amplitude(bar, life, cycles, suffix), _spectrum(bar, life, cycles, suffix)]
    return tuple(made)


def _hole(life: HistoryLife) -> str:
    return f"hole {pair_name(life.left, life.right)}"


def _share(bar: Bar) -> str:
    return f"{100 * bar.targets.survival:g} % survival"


def _by_amplitude(bar: Bar, life: HistoryLife, cycles: HistoryCycles, suffix: str) -> Picture:
    return Picture(
        slug=f"damage-by-amplitude{suffix}",
        title="Damage by amplitude",
        caption=(
            f"Rainflow cycles of one repeat of the history at {_hole(life)}, {life.where}, sorted by their von Mises "
            f"amplitude (concentration included): how many there are, and what share of the damage at {_share(bar)} "
            "they do."
        ),
        alt=f"Bar charts of {life.cycles_counted:.0f} cycles by amplitude, and of the damage they do.",
        draw=lambda size: _draw_amplitudes(bar, life, cycles, size),
    )


def _draw_amplitudes(bar: Bar, life: HistoryLife, cycles: HistoryCycles, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=4.6)
    counts, shares = canvas.figure.subplots(2, 1, sharex=True)
    top = 1.02 * float(cycles.amplitude_MPa.max(initial=1.0))
    edges = np.linspace(0.0, top, CLASSES + 1)
    number, _ = np.histogram(cycles.amplitude_MPa, edges, weights=cycles.count)
    known = bool(np.all(np.isfinite(cycles.damage)))
    damage, _ = np.histogram(
        cycles.amplitude_MPa, edges, weights=np.where(np.isfinite(cycles.damage), cycles.damage, 0)
    )
    total = float(damage.sum())
    middle, width = 0.5 * (edges[1:] + edges[:-1]), 0.86 * (edges[1] - edges[0])
    counts.set_yscale("log")
    # A half cycle is the least there is; the axis begins below it.
    counts.bar(middle, np.maximum(number - LEAST, 0.0), width=width, bottom=LEAST, color=style.OTHER, lw=0)
    counts.set_ylim(LEAST, 4.0 * max(1.0, float(number.max(initial=1.0))))
    counts.yaxis.set_major_locator(LogLocator(base=10.0, numticks=7))
    counts.yaxis.set_minor_locator(NullLocator())
    counts.yaxis.set_major_formatter(lambda value, _: style.power_of_ten(value))
    style.axes_of(counts, x="", y=f"Cycles in one repeat, {_hole(life)}")
    shares.bar(middle, 100.0 * damage / total if total > 0.0 else damage, width=width, color=style.LEAD, lw=0)
    shares.set_ylim(0.0, 1.15 * max(100.0 * float(damage.max(initial=0.0)) / total if total > 0.0 else 0.0, 1.0))
    shares.set_xlim(0.0, top)
    style.axes_of(shares, x="Von Mises stress amplitude, MPa", y=f"Share of the damage at {_share(bar)}, %")
    if not known or not total > 0.0:
        words = style.wrapped(life.reason or "no damage", 40 if canvas.narrow else 80)
        style.label(shares, 0.5, 0.5, words, ha="center", transform=shares.transAxes)
    _limit(cycles, counts, shares, top, strength_share(bar.targets.survival, cycles.line.scatter))
    return canvas.figure


def _limit(cycles: HistoryCycles, counts: Axes, shares: Axes, top: float, share: float) -> None:
    """Where the endurance limit lies at the survival judged, at zero mean."""
    limit = share * float(cycles.line.at_1e6_MPa[0])
    if not bool(cycles.line.has_knee[0]) or limit >= top:
        return
    for axes in (counts, shares):
        axes.axvline(limit, color=style.INK, lw=1.0, ls=style.DOTTED)
    right = limit < 0.6 * top
    style.label(
        counts,
        limit,
        counts.get_ylim()[1] * 0.75,
        "  endurance limit  ",
        ha="left" if right else "right",
        va="top",
    )


def _spectrum(bar: Bar, life: HistoryLife, cycles: HistoryCycles, suffix: str) -> Picture:
    repeats = life.life_at_survival_repeats
    until = (
        "one repeat of the history"
        if repeats is None
        else f"{printable(one_life(repeats, unit='repeats'))} repeats of the history"
    )
    return Picture(
        slug=f"spectrum-on-the-stress-life-line{suffix}",
        title="Load spectrum on the stress-life line",
        caption=(
            f"Cycles of {until} at {_hole(life)}, {life.where}: how many reach each reversed amplitude of the same "
            "harm"
            + ("" if repeats is None else f", until the life at {_share(bar)} is used up")
            + ". Lines: the place's stress-life line, median and survivals; the band holds 98 % of bars."
        ),
        alt=f"Stress-life line and the cumulative spectrum of {printable(whole(life.cycles_counted))} cycles a repeat.",
        draw=lambda size: _draw_spectrum(bar, life, cycles, size),
    )


def _draw_spectrum(bar: Bar, life: HistoryLife, cycles: HistoryCycles, size: style.Size) -> Figure:
    line = cycles.line
    finite = np.isfinite(cycles.equivalent_MPa) & (cycles.equivalent_MPa > 0.0)
    order = np.argsort(-cycles.equivalent_MPa[finite], kind="stable")
    amplitude = cycles.equivalent_MPa[finite][order]
    repeats = life.life_at_survival_repeats or 1.0
    many = repeats * np.cumsum(cycles.count[finite][order])
    # What lies far below the line cannot be seen on it, and a long history has millions of points.
    kept = amplitude > 0.25 * min(float(line.at_1e6_MPa[0]), float(amplitude.max(initial=1.0)))
    amplitude, many = _thinned(amplitude[kept], many[kept])
    name = "one repeat" if life.life_at_survival_repeats is None else "until life is used up"
    chart = LifeChart(
        strength_at=lambda n: _strength(cycles, n),
        share_at=lambda survival: strength_share(survival, line.scatter),
        survival=bar.targets.survival,
        points=(),
        last_cycles=LONGEST_LIFE_CYCLES,
        cycles_title="Cycles that reach the amplitude",
        spectrum=Spectrum(f"spectrum, {name}", amplitude, many) if amplitude.size else None,
    )
    return draw_lives(chart, size)


def _strength(cycles: HistoryCycles, n: ArrayLike) -> Array:
    line = cycles.line
    return StressLifeLine.of(
        at_1_MPa=float(line.at_1_MPa[0]),
        at_1e3_MPa=float(line.at_1e3_MPa[0]),
        at_1e6_MPa=float(line.at_1e6_MPa[0]),
        has_knee=bool(line.has_knee[0]),
    ).strength(n)


def _thinned(amplitude: Array, many: Array) -> tuple[Array, Array]:
    """At most some hundred points, evenly by the logarithm of how many cycles there are."""
    if amplitude.size <= 400:
        return amplitude, many
    wanted = np.geomspace(many[0], many[-1], 400)
    at = np.unique(np.clip(np.searchsorted(many, wanted), 0, many.size - 1))
    return amplitude[at], many[at]
