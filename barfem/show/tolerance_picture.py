"""The picture of a tolerance study: how far each number spreads at each hole, and what that comes from."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from barfem.show.figures import style
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, significant, whole
from barfem.show.tolerance import SHARE_NUMBERS, hole_name, least_shown
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES
from barfem.study.tolerance_result import SettingTolerance, ToleranceResult
from barfem.study.tolerance_summary import Spread

__all__ = ["tolerance_picture"]

MOST_BANDS = 9


def tolerance_picture(result: ToleranceResult) -> Picture:
    """Spread at every hole above, shares at the weakest hole below, where a band has any."""
    governing = result.settings[result.governing]
    below = ""
    if least_shown(result, governing):
        below = f" Below: total Sobol' shares at hole {hole_name(result, governing)} with 95 % intervals."
    ranges = [
        f"{hole_name(result, each)}: rate {printable(significant(each.spreads['rate_N_per_mm'].low))} to "
        f"{printable(significant(each.spreads['rate_N_per_mm'].high))} N/mm"
        for each in result.settings
    ]
    return Picture(
        slug="tolerance",
        title="How far bars of this drawing differ",
        caption=(
            "Above: 95 % of bars lie on the line, half of them on each side of the tick; the open circle is the bar as "
            f"drawn; dotted: the target, or the ends of the rate's band.{below}"
        ),
        alt="Ranges of rate, stress, yield margin and life. " + "; ".join(ranges) + ".",
        draw=lambda size: _draw(result, governing, size),
    )


def _draw(result: ToleranceResult, governing: SettingTolerance, size: style.Size) -> Figure:
    bands = least_shown(result, governing)[:MOST_BANDS]
    rows, narrow = len(result.settings), size == "narrow"
    heights = [0.9 + 0.26 * rows, *([1.0 + 0.24 * len(bands)] if bands else [])]
    columns = 2 if narrow else 4
    lines = 4 // columns
    canvas = style.new_figure(size, height_in=lines * sum(heights))
    grid = canvas.figure.add_gridspec(
        len(heights) * lines, columns, height_ratios=[h for h in heights for _ in range(lines)]
    )
    spreads = [canvas.figure.add_subplot(grid[i // columns, i % columns]) for i in range(4)]
    low, high, _ = result.rate_band
    names = [hole_name(result, each) for each in result.settings]
    _ranges(spreads[0], result, "rate_N_per_mm", "Rate, N/mm", names)
    for j, each in enumerate(result.settings):
        drawn = each.spreads["rate_N_per_mm"].drawn
        for end in (low, high):
            spreads[0].plot([drawn * (1 + end)] * 2, [j - 0.3, j + 0.3], color=style.INK, lw=1.0, ls=style.DOTTED)
    _ranges(spreads[1], result, "peak_MPa", "Stress, MPa", names)
    _ranges(spreads[2], result, "yield_margin", "Yield margin", names, target=result.bar.targets.yield_margin)
    duty = result.bar.duty
    target = duty.target_cycles if duty.target_cycles_given else None
    _ranges(spreads[3], result, "life_at_survival_cycles", "Life, cycles", names, target=target)
    for i, axes in enumerate(spreads):
        if i % columns:
            axes.set_yticklabels([])
        else:
            axes.set_ylabel("Hole")
    for i, (name, title) in enumerate(SHARE_NUMBERS.items() if bands else ()):
        axes = canvas.figure.add_subplot(grid[lines + i // columns, i % columns])
        _shares(axes, result, governing, name, title.replace("\n", " "), bands)
        if i % columns:
            axes.set_yticklabels([])
    return canvas.figure


def _ranges(
    axes: Axes, result: ToleranceResult, name: str, title: str, names: list[str], *, target: float | None = None
) -> None:
    log = name == "life_at_survival_cycles"
    spreads = [each.spreads[name] for each in result.settings]
    for j, spread in enumerate(spreads):
        low, middle, high, drawn = (
            _shown(value, log) for value in (spread.low, spread.middle, spread.high, spread.drawn)
        )
        if not all(math.isfinite(value) for value in (low, middle, high)):
            continue
        missing = target is not None and spread.low < target
        axes.plot([low, high], [j, j], color=style.BELOW if missing else style.OTHER, lw=3.0, solid_capstyle="butt")
        axes.plot([middle] * 2, [j - 0.18, j + 0.18], color=style.INK, lw=1.2)
        axes.plot([drawn], [j], "o", ms=5.0, mfc=style.PAPER, mec=style.INK, mew=1.0)
    axes.set_ylim(len(spreads) - 0.45, -0.55)
    axes.set_yticks(range(len(spreads)), [style.wrapped(each, 14) for each in names])
    if log:
        _life_axis(axes, spreads, target)
    else:
        axes.margins(x=0.12)
        axes.xaxis.set_major_locator(MaxNLocator(nbins=3))
    if target is not None and (log or _near(spreads, target)):
        axes.axvline(target, color=style.INK, lw=1.0, ls=style.DOTTED)
    style.axes_of(axes, x="", y=title, grid="x")


def _near(spreads: list[Spread], target: float) -> bool:
    """Whether a target lies so near the spreads that drawing it leaves something to see of them."""
    low, high = min(s.low for s in spreads), max(s.high for s in spreads)
    return low - 1.5 * (high - low) <= target


def _shown(value: float, log: bool) -> float:
    """Lives over what is claimed stand a little above it, and those that there are none of at the least."""
    if not log:
        return value
    return 1.0 if value <= 0.0 else min(value, 1.3 * LONGEST_LIFE_CYCLES)


def _life_axis(axes: Axes, spreads: list[Spread], target: float | None) -> None:
    values = [_shown(value, True) for s in spreads for value in (s.low, s.high, s.drawn) if not math.isnan(value)]
    if target is not None:
        values.append(target)
    low, high = 0.75 * min(values, default=1e3), 1.35 * max(values, default=1e6)
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    steps = np.array([mantissa * 10.0**power for power in range(9) for mantissa in (1.0, 2.0, 5.0)])
    inside = steps[(steps >= low) & (steps <= high)]
    while len(inside) > 2 and np.diff(np.log(inside)).min() < 0.4 * math.log(high / low):
        inside = inside[::2]
    style.ticks(axes.xaxis, inside.tolist(), lambda value: printable(whole(value)))


def _shares(
    axes: Axes, result: ToleranceResult, setting: SettingTolerance, name: str, title: str, bands: list[int]
) -> None:
    found = setting.shares[name]
    total = 100.0 * found.total[bands]
    ends = 100.0 * np.clip(found.total_interval[bands], 0.0, None)
    top = int(np.argmax(total))
    colors = [style.LEAD if i == top else style.OTHER for i in range(len(bands))]
    axes.barh(range(len(bands)), np.clip(total, 0.0, None), height=0.62, color=colors, lw=0)
    axes.hlines(range(len(bands)), ends[:, 0], ends[:, 1], color=style.INK, lw=1.0)
    for i, value in enumerate(total):
        if value >= 1.0:
            axes.annotate(
                f"{value:.0f}", (max(value, ends[i, 1]), i), xytext=(3, 0), textcoords="offset points", va="center"
            )
    axes.set_xlim(0.0, 128.0)
    axes.set_xticks([0, 50, 100])
    axes.set_ylim(len(bands) - 0.45, -0.55)
    axes.set_yticks(range(len(bands)), [result.bands[i].title for i in bands])
    style.axes_of(axes, x="", y=f"{title}: share, %", grid="x")
