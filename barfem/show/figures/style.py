"""The one look of every figure: colours, type, sizes, axes without junk, and labels that stand beside what they name.

Colours are chosen to differ in lightness as well as in hue, so that they hold for colour-blind readers and in grey
print; nothing is said by colour alone.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Literal

import matplotlib
import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator

from barfem.model.frozen import frozen

__all__ = [
    "BELOW",
    "BORE",
    "DOTTED",
    "INK",
    "LEAD",
    "MUTED",
    "OTHER",
    "PAPER",
    "RULE",
    "SHEAR",
    "WASH",
    "Canvas",
    "Size",
    "axes_of",
    "beside",
    "context",
    "decades",
    "few_ticks",
    "halo",
    "keep_apart",
    "key",
    "key_below",
    "label",
    "new_figure",
    "peak",
    "power_of_ten",
    "ticks",
    "wrapped",
]

INK = "#1c2430"  # text, axes
MUTED = "#5b6775"  # what stands back
RULE = "#cbd3db"  # rules and grids
WASH = "#edf1f4"  # areas behind the data
PAPER = "#ffffff"
LEAD = "#b4460f"  # what governs
OTHER = "#2c6a99"  # what is compared with it
BORE = "#4b1d6b"  # the bore of a tube
SHEAR = "#0f7d73"  # shear stress
BELOW = "#8c1c13"  # what misses its target

DOTTED = (0, (1, 1.5))  # targets and limits

Size = Literal["wide", "narrow"]

WIDTH_IN = {"wide": 7.4, "narrow": 3.55}
_POINTS = {"wide": 9.0, "narrow": 8.5}


@frozen
class Canvas:
    """A new figure with its size and its one size of type."""

    figure: Figure
    size: Size

    @property
    def narrow(self) -> bool:
        return self.size == "narrow"

    @property
    def points(self) -> float:
        return _POINTS[self.size]


@contextmanager
def context(size: Size) -> Iterator[None]:
    """matplotlib set to this look, whatever the user's own settings are; back to those afterwards."""
    points = _POINTS[size]
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(
            {
                "font.family": "DejaVu Sans",  # ships with matplotlib: the same letters everywhere
                "font.size": points,
                "axes.titlesize": points,
                "axes.labelsize": points,
                "xtick.labelsize": points,
                "ytick.labelsize": points,
                "text.color": INK,
                "axes.labelcolor": INK,
                "axes.edgecolor": MUTED,
                "xtick.color": MUTED,
                "ytick.color": MUTED,
                "xtick.labelcolor": INK,
                "ytick.labelcolor": INK,
                "axes.spines.top": False,
                "axes.spines.right": False,
                "axes.linewidth": 0.8,
                "axes.grid.axis": "y",
                "grid.color": RULE,
                "grid.linewidth": 0.6,
                "axes.axisbelow": True,
                "lines.solid_capstyle": "round",
                "figure.facecolor": PAPER,
                "savefig.facecolor": PAPER,
                "text.parse_math": False,  # a hole may be called "$1$"
                "svg.fonttype": "path",
                "svg.hashsalt": "barfem",
            }
        )
        yield


def new_figure(size: Size, *, height_in: float) -> Canvas:
    """An empty figure; call within `context`."""
    figure = Figure(figsize=(WIDTH_IN[size], height_in), layout="constrained")
    FigureCanvasAgg(figure)
    figure.get_layout_engine().set(w_pad=0.04, h_pad=0.05)  # type: ignore[union-attr, call-arg]
    return Canvas(figure, size)


def axes_of(axes: Axes, *, x: str, y: str, grid: Literal["x", "y", "both"] = "y") -> None:
    """Label both axes, the vertical one on top where it reads without turning one's head."""
    axes.set_xlabel(x)
    axes.set_title(y, loc="left", fontsize=axes.xaxis.label.get_fontsize(), color=INK, pad=8.0)
    axes.grid(True, axis=grid)
    axes.tick_params(length=3.0)


def label(axes: Axes, x: Any, y: Any, text: str, *, color: str = INK, **more: Any) -> Any:
    """Text with a thin halo of paper, so that it reads across lines."""
    halo = [patheffects.withStroke(linewidth=2.6, foreground=more.pop("halo", PAPER))]
    settings = {"ha": "left", "va": "center", "path_effects": halo, **more}
    return axes.text(x, y, text, color=color, **settings)


def beside(axes: Axes, x: float, y: float, text: str) -> None:
    """A value to the right of the end of its bar."""
    axes.annotate(
        text, (x, y), xytext=(4.0, 0.0), textcoords="offset points", va="center", zorder=6, path_effects=[halo()]
    )


def peak(axes: Axes, x: float, y: float, text: str, *, left: bool, gap: float = 0.0, **more: Any) -> None:
    """The name of what governs, above the place where it is worst, to the `left` of it or to its right."""
    settings = {"va": "bottom", "zorder": 7, **more}
    label(
        axes,
        x - gap if left else x + gap,
        y,
        text,
        color=LEAD,
        ha="right" if left else "left",
        fontweight="bold",
        **settings,
    )


def key_below(canvas: Canvas, axes: Axes, **more: Any) -> None:
    """What each mark is, below all axes."""
    handles, labels = axes.get_legend_handles_labels()
    canvas.figure.legend(handles, labels, loc="outside lower left", frameon=False, fontsize=canvas.points, **more)


def key(canvas: Canvas, axes: Axes, *, title: str = "") -> None:
    """What each line is, outside the axes: beside them, or below where the figure is narrow."""
    legend = canvas.figure.legend(
        *axes.get_legend_handles_labels(),
        loc="outside lower left" if canvas.narrow else "outside right upper",
        title=title or None,
        frameon=False,
        fontsize=canvas.points,
        title_fontsize=canvas.points,
        alignment="left",
        handlelength=2.8,
        borderaxespad=0.2,
        labelspacing=0.45,
    )
    legend.get_title().set_fontweight("bold")


def keep_apart(places: Sequence[float], gap: float, *, low: float, high: float) -> list[float]:
    """The nearest places to those asked for that are at least `gap` apart and within `low` to `high`, same order.

    >>> keep_apart([1.0, 1.1, 5.0], 1.0, low=0.0, high=10.0)
    [0.55, 1.55, 5.0]
    """
    order = np.argsort(places, kind="stable")
    wanted = np.array(places, float)[order]
    groups: list[list[float]] = []  # [first wanted sum, count]: labels that push each other move as one block
    for value in wanted:
        groups.append([float(value), 1.0])
        while len(groups) > 1:
            (a, m), (b, n) = groups[-2], groups[-1]
            if a / m + 0.5 * (m - 1) * gap + gap <= b / n - 0.5 * (n - 1) * gap + 1e-12:
                break
            groups[-2:] = [[a + b, m + n]]
    out: list[float] = []
    for total, count in groups:
        first = total / count - 0.5 * (count - 1) * gap
        out += [first + i * gap for i in range(int(count))]
    # Blocks pushed back within the limits may meet again: from the top down, then from the bottom up.
    for i in reversed(range(len(out))):
        out[i] = min(out[i], high - (len(out) - 1 - i) * gap, out[i + 1] - gap if i + 1 < len(out) else high)
    for i in range(len(out)):
        out[i] = max(out[i], low + i * gap, out[i - 1] + gap if i else low)
    placed = [0.0] * len(out)
    for place, index in zip(out, order, strict=True):
        placed[int(index)] = round(place, 9)
    return placed


def wrapped(text: str, width: int) -> str:
    """Text broken into lines of at most `width` letters."""
    return "\n".join(textwrap.wrap(text, width)) or text


def rows_in(labels: Sequence[str], least_in: float) -> float:
    """Height of rows with such labels, inches: `least_in` each, more where a label has more than two lines."""
    lines = max((label.count("\n") + 1 for label in labels), default=1)
    return len(labels) * max(least_in, 0.16 * lines if lines > 2 else 0.0)


def decades(axes: Axes, low: float, high: float, *, every: int = 1) -> None:
    """Powers of ten on a logarithmic x axis, written as such (matplotlib's own need its mathematics, which is off)."""
    first, last = int(np.ceil(np.log10(low) - 1e-9)), int(np.floor(np.log10(high) + 1e-9))
    ticks(axes.xaxis, [10.0**power for power in range(first, last + 1, every)], power_of_ten)


def ticks(axis: Axis, places: Sequence[float], words: Callable[[float], str]) -> None:
    """Ticks at these places and nowhere else, each in `words`."""
    axis.set_major_locator(FixedLocator(list(places)))
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(FuncFormatter(lambda value, _: words(value)))


def few_ticks(axes: Axes, count: int) -> None:
    """At most `count` ticks on the x axis, written plainly (an offset or factor at its end is overlooked)."""
    axes.xaxis.set_major_locator(MaxNLocator(nbins=count))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def power_of_ten(value: float) -> str:
    """10 with the nearest exponent above it."""
    digits = "\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u2077\u2078\u2079"
    return "10" + "".join("\u207b" if sign == "-" else digits[int(sign)] for sign in str(round(np.log10(value))))


def halo() -> Any:
    """The outline of paper that lets text read across lines."""
    return patheffects.withStroke(linewidth=2.6, foreground=PAPER)
