"""The picture of a sizing: mass against life of every size, those near the rate named, the front drawn."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from barfem.show.figures import style
from barfem.show.figures.picture import Picture
from barfem.show.lives import OVER
from barfem.show.numbers import printable, significant, whole
from barfem.show.size import rate_to_order
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES
from barfem.study.options import Option, Sizing

__all__ = ["size_picture"]

LONGEST = 2.0 * LONGEST_LIFE_CYCLES
"""Where lives over what is claimed are drawn."""

MOST_NAMES = 12


def size_picture(sizing: Sizing) -> Picture:
    """Mass against life of a stock list's sizes on one bar."""
    rate = rate_to_order(sizing)
    return Picture(
        slug="mass-against-life",
        title="Mass against life",
        caption=(
            "Life at survival, at the hole where it is shortest, against mass, for every size on the same centreline. "
            f"Named and filled: within {sizing.near_percent:g} % of {significant(rate)} N/mm at hole {sizing.hole}; "
            "the line joins those than which no lighter one lives longer. Circles are rounds, squares tubes."
        ),
        alt=f"Scatter of {len(sizing.options)} sizes: mass in kg against life in cycles.",
        draw=lambda size: _draw(sizing, rate, size),
    )


def _life(option: Option) -> float:
    return min(option.life_rank[0], LONGEST)


def _draw(sizing: Sizing, rate: float, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=4.4)
    axes = canvas.figure.subplots()
    target = sizing.bar.duty.target_cycles
    drawn = [option for option in sizing.options if option.solved and _life(option) > 0.0]
    near = [o for o in drawn if abs(o.rate_N_per_mm / rate - 1.0) <= sizing.near_percent / 100.0]
    lives = [target, *(_life(option) for option in near or drawn)]
    low, high = 0.45 * min(lives), min(2.2 * max(lives), 1.4 * LONGEST)
    masses = [option.mass_kg for option in near or drawn] or [1.0]
    left, right = 0.75 * min(masses), 1.15 * max(masses)
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    axes.set_xlim(left, right)
    if high > LONGEST_LIFE_CYCLES:
        axes.axhspan(LONGEST_LIFE_CYCLES, high, color=style.WASH, lw=0)
        style.label(
            axes, 0.01, 0.985, f"{printable(OVER)}: no more is claimed", color=style.MUTED, va="top", halo=style.WASH,
            transform=axes.transAxes,
        )  # fmt: skip
    axes.axhline(target, color=style.INK, lw=1.0, ls=style.DOTTED)
    for option in drawn:
        if low <= _life(option) <= high and left <= option.mass_kg <= right:
            _mark(axes, option, near=option in near, answer=_is(option, sizing.answer))
    front = sorted((option for option in near if option.on_front), key=lambda option: option.mass_kg)
    axes.plot([o.mass_kg for o in front], [_life(o) for o in front], color=style.LEAD, lw=1.3, zorder=2)
    _names(axes, near, sizing, target=target)
    style.axes_of(
        axes,
        x=f"Mass, kg. Circles: rounds; squares: tubes; filled: within {sizing.near_percent:g} % of "
        f"{significant(rate)} N/mm at hole {sizing.hole}",
        y="Life at survival, cycles",
        grid="both",
    )
    ticks = [
        t
        for d in range(8)
        for t in (10.0**d, 2 * 10.0**d, 5 * 10.0**d)
        if low < t < min(high, LONGEST_LIFE_CYCLES * 1.01)
    ]
    style.ticks(axes.yaxis, ticks, _grouped)
    return canvas.figure


def _is(option: Option, other: Option | None) -> bool:
    return other is not None and option.name == other.name


def _grouped(value: float) -> str:
    return printable(whole(value))


def _mark(axes: Axes, option: Option, *, near: bool, answer: bool) -> None:
    tube = option.section is not None and option.section.shape == "tube"
    color = (style.LEAD if answer else style.OTHER if option.passes else style.BELOW) if near else style.MUTED
    axes.plot(
        option.mass_kg,
        _life(option),
        marker="s" if tube else "o",
        ms=9.0 if answer else 6.5 if near else 4.0,
        mfc=color if near else style.PAPER,
        mec=color if near else style.RULE,
        ls="",
        zorder=4 if near else 1,
    )


def _names(axes: Axes, near: list[Option], sizing: Sizing, *, target: float) -> None:
    """Names in a column beside the plot, each joined to its mark; the answer, the front and a few more."""
    near = sorted(near, key=lambda o: (not _is(o, sizing.answer), not o.on_front, abs(math.log(_life(o) / target))))
    named = sorted(near[:MOST_NAMES], key=_life)
    low, high = axes.get_ylim()
    span = math.log(high / low)
    rows = [(math.log(_life(o) / low) / span, o) for o in named]
    # The target has a line of its own in the column.
    at_target = math.log(target / low) / span
    places = style.keep_apart([*(y for y, _ in rows), at_target], 0.055, low=0.02, high=0.98)
    words = f"target {_grouped(target)}" if sizing.bar.duty.target_cycles_given else f"{_grouped(target)}, not judged"
    axes.annotate(
        words, xy=(1.0, at_target), xytext=(1.04, places[-1]), xycoords="axes fraction",
        textcoords="axes fraction", va="center", color=style.MUTED, annotation_clip=False,
        arrowprops={"arrowstyle": "-", "color": style.RULE, "lw": 0.7, "relpos": (0.0, 0.5)},
    )  # fmt: skip
    for (_, option), y in zip(rows, places, strict=False):
        fails = "" if option.passes else ", fails"
        axes.annotate(
            f"{option.name}: {significant(option.rate_N_per_mm)} N/mm{fails}",
            xy=(option.mass_kg, _life(option)),
            xytext=(1.04, y),
            xycoords="data",
            textcoords="axes fraction",
            va="center",
            color=style.LEAD if _is(option, sizing.answer) else style.INK,
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": style.RULE, "lw": 0.7, "shrinkB": 4.0, "relpos": (0.0, 0.5)},
            zorder=1,
        )
