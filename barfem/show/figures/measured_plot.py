"""Predicted over measured strength of published fatigue tests, by kind of skin: how far lives can be trusted."""

from __future__ import annotations

from matplotlib.figure import Figure

from barfem.model.skin import Skin
from barfem.show.figures import style
from barfem.show.figures.picture import Picture
from barfem.strength.fatigue.measured import compared, comparison_words

__all__ = ["measured_picture"]

_WANTED = (0.65, 1.10)
_TICKS = (0.5, 0.65, 0.8, 1.0, 1.25, 1.5)


def measured_picture(skin: Skin | None = None) -> Picture:
    """A dot a series; `skin` is marked, where tests of its kind are known."""
    known = compared()
    series = sum(len(ratios) for ratios in known.values())
    inside = sum(_WANTED[0] <= ratio <= _WANTED[1] for ratios in known.values() for ratio in ratios)
    caption = (
        "Strength that barfem predicts for published tests over the strength measured; a dot is a series (one source, "
        "steel family, skin and load; its median). Left of 1 the estimate is on the safe side. Shaded: 0.65 to 1.10. "
        "Nothing is fitted to these tests; materials/measured names their sources."
    )
    if skin is not None:
        caption += f" This bar's skin ({skin.title}): {comparison_words(skin)}."
    return Picture(
        slug="predicted-over-measured",
        title="Predicted over measured strength",
        caption=caption,
        alt=f"{inside} of {series} series of tests lie between 0.65 and 1.10.",
        draw=lambda size: _draw(known, skin, size),
    )


def _draw(known: dict[str, list[float]], skin: Skin | None, size: style.Size) -> Figure:
    kinds = sorted(known, key=lambda kind: (len(kind.split(" + ")), kind))
    canvas = style.new_figure(size, height_in=1.1 + (0.5 if size == "narrow" else 0.36) * len(kinds))
    axes = canvas.figure.subplots()
    axes.set_xscale("log")
    axes.axvspan(*_WANTED, color=style.RULE, lw=0, alpha=0.6)
    axes.axvline(1.0, color=style.INK, lw=1.0)
    for row, kind in enumerate(kinds):
        mine = skin is not None and kind == skin.kind
        axes.plot(known[kind], [row] * len(known[kind]), "o", ms=6.0, color=style.LEAD if mine else style.OTHER)
    break_ = "\n+ " if canvas.narrow else " + "
    axes.set_yticks(range(len(kinds)), [f"{kind.replace(' + ', break_)} ({len(known[kind])})" for kind in kinds])
    axes.set_ylim(len(kinds) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)
    lowest = min(ratio for ratios in known.values() for ratio in ratios)
    highest = max(ratio for ratios in known.values() for ratio in ratios)
    axes.set_xlim(min(_TICKS[0], 0.9 * lowest), max(_TICKS[-1], 1.1 * highest))
    style.ticks(axes.xaxis, _TICKS, "{:g}".format)
    style.axes_of(axes, x="Predicted / measured strength, ratio", y="Skin (number of series)", grid="x")
    return canvas.figure
