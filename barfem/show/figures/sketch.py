"""The bar as drawn in three views with its main dimensions: small, to hold against paper before any number is read."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.dimensions import Dimensions, main_dimensions
from barfem.model.frozen import frozen
from barfem.model.links import joint_centres
from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture

__all__ = ["picture"]

Array = NDArray[np.float64]

ACROSS = {"plan": (-1.0, 1), "behind": (-1.0, 1), "left": (-1.0, 0)}
"""Sign and axis (x 0, y 1) of what runs to the right on paper in each view."""


@frozen
class _View:
    """Where a view lies on the sheet: `at` is the sheet's place of the drawing's origin of that view, mm."""

    name: str
    up: int
    at: tuple[float, float]

    def place(self, points: Array) -> Array:
        """Sheet coordinates (n, 2) of points (n, 3) in drawing axes."""
        sign, axis = ACROSS[self.name]
        return np.column_stack([sign * points[:, axis] + self.at[0], points[:, self.up] + self.at[1]])


def picture(data: FigureData) -> Picture:
    """Plan, view from behind and from the left, to one scale."""
    found = main_dimensions(data.bar)
    return Picture(
        slug="three-views",
        title="The bar in three views",
        caption=(
            "As drawn, at rest, to one scale, in mm: from above (forward is up), from behind (left is left) and from "
            "the left (forward is left). Circles: joints; bars across: mounts; chain line: the axis through the "
            "outermost mounts."
        ),
        alt=f"Three dimensioned views: {found.width_mm:.0f} mm wide between cut ends, {found.depth_mm:.0f} mm fore and "
        f"aft, {found.height_mm:.0f} mm high.",
        draw=lambda size: _draw(data.bar, found, size),
    )


def _draw(bar: Bar, found: Dimensions, size: style.Size) -> Figure:
    line = bar.centreline
    path, _ = line.evaluate(np.linspace(0.0, line.length_mm, 801))
    mounts, mount_frames = line.evaluate(sorted(mount.station_mm for mount in bar.mounts))
    joints = np.array([point for end in bar.ends for point in joint_centres(end, line).values()])
    points = np.concatenate([path, joints, mounts])
    low, high = points.min(axis=0), points.max(axis=0)
    width, depth, height = high[1] - low[1], high[0] - low[0], high[2] - low[2]
    gap = 0.24 * width  # room for dimensions between the views
    narrow = size == "narrow"
    behind_at = -max(height, 1.0) - gap
    views = (
        _View("plan", 0, (high[1], -low[0])),
        _View("behind", 2, (high[1], behind_at - low[2])),
        # Beside the view from behind; on a phone below it, since type does not shrink with the sheet.
        _View(
            "left", 2, (high[0], 2.0 * behind_at - low[2]) if narrow else (width + gap + high[0], behind_at - low[2])
        ),
    )
    sheet = (width if narrow else width + gap + depth, depth - (2.0 if narrow else 1.0) * behind_at)
    canvas = style.new_figure(size, height_in=min(max(7.0 * sheet[1] / sheet[0] if not narrow else 5.0, 3.0), 5.0))
    axes = canvas.figure.subplots()
    axes.set_axis_off()
    axes.set_aspect("equal")
    thick = bar.section.diameter_mm
    for view in views:
        _view(axes, view, path, mounts, mount_frames, joints, thick)
    plan, behind, left = views
    pad = 0.30 * gap
    tips = path[[0, -1]]
    flat = plan.place(tips)
    top = plan.place(points)[:, 1].max() + pad
    _across(axes, flat[1, 0], flat[0, 0], top, found.width_mm)
    inner = plan.place(mounts[[0, -1]])
    _across(axes, inner[1, 0], inner[0, 0], plan.place(points)[:, 1].min() - 0.6 * pad, abs(np.ptp(mounts[:, 1])))
    # Each arm has its own where they differ: beside the shorter one stood the longer one's number.
    reach, axis = flat[:, 1], float(inner[:, 1].mean())
    outer = width + pad
    at = ((outer, reach[0]), (-pad, reach[1])) if abs(np.ptp(reach)) > 0.5 else ((-pad, reach[1]),)
    for place, tip in at:
        _upright(axes, place, min(float(tip), axis), max(float(tip), axis), 0.6 * gap)
    axes.plot(inner[:, 0] + [0.1 * gap, -0.1 * gap], inner[:, 1], color=style.MUTED, lw=0.7, ls=(0, (8, 2, 2, 2)))
    seen = behind.place(points)
    if np.ptp(seen[:, 1]) > 0.5:
        _upright(axes, -pad, float(seen[:, 1].min()), float(seen[:, 1].max()), 0.6 * gap)
    side = left.place(points)
    _across(axes, float(side[:, 0].min()), float(side[:, 0].max()), float(side[:, 1].min()) - 0.7 * pad, depth)
    for view, title in ((plan, "from above"), (behind, "from behind"), (left, "from the left")):
        box = view.place(points)
        style.label(
            axes, 0.5 * (box[:, 0].min() + box[:, 0].max()), box[:, 1].min() - (1.45 if view is left else 1.25) * pad,
            title, color=style.MUTED, ha="center", va="top",
        )  # fmt: skip
    axes.set_xlim(-2.2 * pad, max(sheet[0], outer if len(at) > 1 else 0.0) + 0.8 * pad)
    lowest = min(float(view.place(points)[:, 1].min()) for view in views)
    axes.set_ylim(lowest - 2.6 * pad, depth + 2.2 * pad)
    return canvas.figure


def _view(axes: Axes, view: _View, path: Array, mounts: Array, frames: Array, joints: Array, thick: float) -> None:
    drawn = view.place(path)
    axes.plot(drawn[:, 0], drawn[:, 1], color=style.INK, lw=1.8, solid_capstyle="butt", zorder=2)
    for point, frame in zip(mounts, frames, strict=True):
        along = view.place(np.array([point, point + frame[0]]))
        along = along[1] - along[0]
        size = float(np.linalg.norm(along))
        # Across the bar; a mount seen along the bar is a square.
        across = np.array([-along[1], along[0]]) / size if size > 0.3 else np.array([0.0, 1.0])
        middle = view.place(point[None, :])[0]
        ends = np.array([middle - 1.6 * thick * across, middle + 1.6 * thick * across])
        axes.plot(ends[:, 0], ends[:, 1], color=style.OTHER, lw=3.0, solid_capstyle="butt", zorder=3)
    dots = view.place(joints)
    axes.plot(dots[:, 0], dots[:, 1], "o", ms=3.4, mfc=style.PAPER, mec=style.LEAD, mew=1.0, zorder=4)


def _across(axes: Axes, start: float, end: float, height: float, value: float) -> None:
    """A dimension that runs across the sheet, its figure over the middle of its line."""
    axes.annotate("", (start, height), (end, height), arrowprops=_ARROW)
    style.label(axes, 0.5 * (start + end), height, f"{value:.0f}", color=style.INK, ha="center", va="center")


def _upright(axes: Axes, at: float, low: float, high: float, room: float) -> None:
    """A dimension that runs up the sheet; one too short for its figure has it beside."""
    if high - low < 0.5:
        return
    short = high - low < room
    axes.annotate("", (at, low), (at, high), arrowprops={**_ARROW, "arrowstyle": "|-|"} if short else _ARROW)
    style.label(
        axes, at - 0.12 * room if short else at, 0.5 * (low + high), f"{high - low:.0f}", color=style.INK,
        ha="right" if short else "center", va="center", rotation=0 if short else 90,
    )  # fmt: skip


_ARROW = {
    "arrowstyle": "<|-|>", "color": style.MUTED, "lw": 0.7, "shrinkA": 0.0, "shrinkB": 0.0, "mutation_scale": 6.0
}  # fmt: skip
