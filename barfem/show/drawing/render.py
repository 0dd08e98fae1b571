"""A sheet as PDF, SVG or PNG, the same bytes for the same sheet: fonts embedded in PDF, letters as outlines in SVG."""

from __future__ import annotations

import io
from collections import defaultdict
from typing import Any

from barfem.show.drawing.ink import CAPITAL, Ink, Sheet
from barfem.show.letters import missing_letters_told

__all__ = ["render"]

_WIDTHS = {"outline": 0.5, "frame": 0.7, "thin": 0.25, "centre": 0.25, "phantom": 0.25, "hidden": 0.25}
_DASHES = {"centre": (24, 3, 2, 3), "phantom": (16, 2.5, 2, 2.5, 2, 2.5), "hidden": (12, 3)}  # line widths (ISO 128)
_POINT = 72.0 / 25.4


def render(sheet: Sheet, kind: str) -> bytes:
    """The sheet as "pdf", "svg" or "png"."""
    import matplotlib
    from matplotlib.figure import Figure

    settings: dict[Any, Any] = {
        "pdf.fonttype": 42,
        "svg.fonttype": "path",
        "svg.hashsalt": "barfem",
        "font.family": "DejaVu Sans",
        "lines.scale_dashes": True,
        "path.simplify": False,
        "text.hinting": "none",
    }
    with matplotlib.rc_context(settings):
        figure = Figure(figsize=(sheet.width_mm / 25.4, sheet.height_mm / 25.4))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(0.0, sheet.width_mm)
        axes.set_ylim(0.0, sheet.height_mm)
        axes.set_axis_off()
        for ink in (sheet.ink, sheet.dimension_ink):
            _strokes(axes, ink, 1.4 if sheet.paper == "A1" else 1.0)
            for each in ink.writings:
                axes.text(
                    each.x_mm,
                    each.y_mm,
                    each.text,
                    fontsize=each.height_mm / CAPITAL * _POINT,
                    ha=each.align,
                    va="baseline",
                    rotation=90.0 if each.upright else 0.0,
                    rotation_mode="anchor",
                    fontweight="bold" if each.bold else "normal",
                    parse_math=False,
                )
        buffer = io.BytesIO()
        # matplotlib would write the date and its version.
        metadata = {
            "pdf": {"CreationDate": None, "Creator": "barfem", "Producer": "barfem", "Title": sheet.title},
            "svg": {"Date": None, "Creator": None, "Title": sheet.title},
            "png": {"Software": None},
        }[kind]
        with missing_letters_told():
            figure.savefig(buffer, format=kind, metadata=metadata, dpi=100.0)
    return buffer.getvalue()


def _strokes(axes: Any, ink: Ink, heavy: float) -> None:
    """All lines of one style at once: one artist for each would take most of the time."""
    from matplotlib.collections import LineCollection, PolyCollection

    lines = defaultdict(list)
    for stroke in ink.strokes:
        lines["filled" if stroke.filled else stroke.style].append(stroke.points_mm)
    for style, points in lines.items():
        if style == "filled":
            axes.add_collection(PolyCollection(points, facecolor="black", linewidth=0.0), autolim=False)
            continue
        dashes = (0.0, _DASHES[style]) if style in _DASHES else "solid"
        width = _WIDTHS[style] * heavy * _POINT
        made = LineCollection(
            points, colors="black", linewidths=width, linestyles=[dashes], capstyle="butt", joinstyle="round"
        )
        axes.add_collection(made, autolim=False)
