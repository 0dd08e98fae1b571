"""Whose share of the tip deflection: torsion, arms, centre, mounts, links."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture

__all__ = ["picture"]

PARTS = (
    ("torsion", "torsion", style.OTHER),
    ("arm_bending", "arms", style.LEAD),
    ("centre_bending", "centre", style.SHEAR),
    ("mounts", "mounts", style.MUTED),
    ("links", "links", style.BORE),
    ("shear_and_axial", "shear, axial", style.INK),
)
SMALL = 0.02  # shares below this at every hole setting are drawn together


def picture(data: FigureData) -> Picture | None:
    """Shares of the deflection, a bar a hole setting; None where the result has no split."""
    rows = [j for j in data.rows if data.result.settings[j].compliance is not None]
    if not rows:
        return None
    lead = data.result.settings[rows[-1]].compliance
    shares = ", ".join(f"{name} {100 * getattr(lead, key):.0f} %" for key, name, _ in PARTS)
    return Picture(
        slug="compliance-split",
        title="Whose share of the tip deflection",
        caption=(
            "Share of each part in the deflection at the pickup, for a small travel from rest, in %. What is "
            f"largest is what a change moves most.{data.rows_note()}"
        ),
        alt=f"Stacked bars, one a hole setting. {data.name(rows[-1])}: {shares}.",
        draw=lambda size: _draw(data, rows, size),
    )


def _draw(data: FigureData, rows: list[int], size: style.Size) -> Figure:
    labels = [_row(data, j) for j in rows]
    canvas = style.new_figure(size, height_in=0.95 + style.rows_in(labels, 0.32))
    axes = canvas.figure.subplots()
    splits = [data.result.settings[j].compliance for j in rows]
    shares = np.array([[100.0 * getattr(split, key) for key, _, _ in PARTS] for split in splits])
    large = shares.max(axis=0) >= 100.0 * SMALL
    names = [name for (_, name, _), keep in zip(PARTS, large, strict=True) if keep]
    colors = [color for (_, _, color), keep in zip(PARTS, large, strict=True) if keep]
    values = shares[:, large]
    if not large.all():
        values = np.column_stack([values, 100.0 - values.sum(axis=1)])
        names.append("rest")
        colors.append(style.RULE)
    starts = np.cumsum(values, axis=1) - values
    for part, color in enumerate(colors):
        # A gap of paper between neighbours, whose colours not every eye tells apart.
        axes.barh(
            range(len(rows)), values[:, part], left=starts[:, part], height=0.7, color=color, lw=0.7, ec=style.PAPER
        )
        for i, value in enumerate(values[:, part]):
            if value >= (7.0 if canvas.narrow else 4.0):
                axes.text(starts[i, part] + 0.5 * value, i, f"{value:.0f}", ha="center", va="center", color=_on(color))
    middles = (starts + 0.5 * values)[0]
    gap = min(17.5 if canvas.narrow else 9.5, 100.0 / len(names))
    places = style.keep_apart(middles.tolist(), gap, low=0.0, high=100.0 - 0.25 * gap)
    for name, color, place in zip(names, colors, places, strict=True):
        axes.annotate(
            name,
            (place, -0.42),
            xytext=(0.0, 5.0),
            textcoords="offset points",
            ha="center",
            va="bottom",
            color=style.MUTED if color == style.RULE else color,
            annotation_clip=False,
            fontweight="normal" if canvas.narrow else "bold",
        )
    axes.set_xlim(0.0, 100.0)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_yticks(range(len(rows)), labels)
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("Share of the deflection, %")
    axes.set_title(" ", pad=14.0)  # room for the parts' names
    return canvas.figure


def _row(data: FigureData, j: int) -> str:
    setting = data.result.settings[j]
    return style.wrapped(f"hole {data.short(setting)}" + (f", {setting.case}" if data.several_cases else ""), 16)


def _on(color: str) -> str:
    """Ink or paper, whichever reads on `color`."""
    red, green, blue = to_rgb(color)
    return style.INK if 0.3 * red + 0.59 * green + 0.11 * blue > 0.55 else style.PAPER
