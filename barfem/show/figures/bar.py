"""The bar as it lies at full travel, seen from behind and above, coloured by how far it is from its target."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from barfem.model.sentences import with_capital
from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import ratio
from barfem.show.scene3d import Bands, Scene, build_scene, default_view, margin_bands, project, safety_bands

__all__ = ["picture"]

Array = NDArray[np.float64]

MOUNT_OPACITY = 0.45
CUT_FACE = "#8793a0"


def picture(data: FigureData) -> Picture:
    """The hole setting that governs, coloured by safety factor or yield margin, whichever is nearer to its target."""
    by_life = data.governs_by_life
    j = data.by_life if by_life else data.by_stress
    setting = data.result.settings[j]
    what = "safety factor on stress amplitude at the target life" if by_life else "yield margin"
    where = setting.fatigue.where if by_life else setting.peak.where
    return Picture(
        slug="bar-at-full-travel",
        title="The bar at full travel",
        caption=(
            f"{with_capital(data.name(j))} at full travel, true to scale, coloured by {what}; at each place the "
            "worst of all states, so that both ends of the cycle are in it. Dashed: the bar as drawn. Grey: mounts and "
            "links, dark: holes. x points forward, y left, z up."
        ),
        alt=f"The bar in three dimensions at {data.name(j)}, coloured by {what}. Its worst place: {where}.",
        draw=lambda size: _draw(data, j, by_life, size),
    )


def _draw(data: FigureData, j: int, by_life: bool, size: style.Size) -> Figure:
    scene = build_scene(data)
    bands = safety_bands(data.result, data.strength_share) if by_life else margin_bands(data.result)
    values = (scene.safety_factor if by_life else scene.yield_margin)[j]
    canvas = style.new_figure(size, height_in=3.5 if size == "wide" else 3.1)
    view, key = canvas.figure.subplots(2, 1, height_ratios=(6.0, 1.0) if size == "wide" else (4.2, 1.6))
    azimuth, elevation = default_view()

    def seen(points: Array) -> tuple[Array, Array]:
        return project(points - scene.center_mm, azimuth_rad=azimuth, elevation_rad=elevation)

    _skin(view, scene, j, bands.index(values), bands, seen)
    _holes(view, scene.holes_mm[j], seen)
    rest, _ = seen(scene.rest_mm)
    view.plot(rest[:, 0], rest[:, 1], color=style.MUTED, lw=0.9, ls=(0, (4, 2)), zorder=1)
    for side, name in enumerate(("right", "left")):
        link, _ = seen(scene.links_mm[j, side])
        view.plot(link[:, 0], link[:, 1], color=style.MUTED, lw=1.6, zorder=1, marker="o", ms=3.0)
        style.label(view, link[1, 0], link[1, 1], f"{name} pickup", color=style.MUTED, ha="center", va="top", zorder=5)
    setting = data.result.settings[j]
    worst, _ = seen((scene.weakest_mm if by_life else scene.peaks_mm)[j])
    value = setting.fatigue.safety_factor_at_target if by_life else setting.yield_margin
    target = bands.target if by_life else data.result.yield_margin_target
    name = "safety factor" if by_life else "yield margin"
    # What is seen is coloured by the outside.
    inside = " in the bore" if (setting.fatigue if by_life else setting.peak).surface == "bore" else ""
    view.plot(*worst, "o", ms=9.0, mfc="none", mec=style.INK, mew=1.3, zorder=6)
    view.annotate(
        f"{name} {ratio(value, 1.0 if by_life else target)}{inside}",
        worst,
        (0.0, 20.0),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontweight="bold",
        zorder=7,
        path_effects=[style.halo()],
        arrowprops={"arrowstyle": "-", "color": style.INK, "lw": 0.8, "shrinkB": 5.0},
    )
    view.set_aspect("equal", adjustable="datalim")
    view.margins(0.06)
    view.set_axis_off()
    _axes_cross(view)
    _key(key, bands)
    return canvas.figure


def _skin(view: Axes, scene: Scene, j: int, band: NDArray[np.intp], bands: Bands, seen) -> None:  # type: ignore[no-untyped-def]
    """Patches and mounts, the farthest first, shaded as if lit from the eye's upper left."""
    skin = scene.skin_mm[j]
    patches = _patches(skin)[scene.joined]
    colors = np.array([to_rgb(color) for color in bands.colors])[band[scene.joined]]
    quads, shades = [patches.reshape(-1, 4, 3)], [np.insert(colors.reshape(-1, 3), 3, 1.0, axis=1)]
    grey = np.array([*to_rgb("#7d8894"), MOUNT_OPACITY])  # what is worst often lies in a mount: it must show through
    for rings in scene.mounts_mm:
        ring = _patches(rings).reshape(-1, 4, 3)
        quads.append(ring)
        shades.append(np.broadcast_to(grey, (len(ring), 4)))
    for cap in scene.caps_mm(j):
        quads.append(cap)
        shades.append(np.broadcast_to(np.array([*to_rgb(CUT_FACE), 1.0]), (len(cap), 4)))
    corners, rgba = np.concatenate(quads), np.concatenate(shades)
    flat, depth = seen(corners)
    normal = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    _, facing = seen(normal + scene.center_mm)
    light = np.array([-0.35, 0.55, 0.76])
    sideways, towards = seen(normal + scene.center_mm)
    lit = np.column_stack([sideways, towards]) @ (light / np.linalg.norm(light))
    front = facing > 0.0
    shade = (0.62 + 0.38 * np.clip(lit, 0.0, 1.0))[:, None]
    order = np.argsort(depth.mean(axis=1)[front])
    rgba = np.concatenate([np.clip(rgba[:, :3] * shade, 0.0, 1.0), rgba[:, 3:]], axis=1)
    faces = rgba[front][order]
    collection = PolyCollection(
        list(flat[front][order]), facecolors=faces, edgecolors=faces, linewidths=0.15, rasterized=True, zorder=3
    )
    view.add_collection(collection)


def _holes(view: Axes, rims: Array, seen) -> None:  # type: ignore[no-untyped-def]
    """Those rims of holes (h, 2, p, 3) that face the eye, dark."""
    flat, depth = seen(rims)
    nearer = depth.mean(axis=2).argmax(axis=1)
    shown = [flat[i, side] for i, side in enumerate(nearer.tolist())]
    view.add_collection(PolyCollection(shown, facecolors=style.INK, edgecolors=style.PAPER, linewidths=0.4, zorder=4))


def _patches(grid: Array) -> Array:
    """(s - 1, p, 4, 3) corners of the quadrilaterals of a grid (s, p, 3) closed round p, seen anticlockwise outside."""
    turned = np.roll(grid, -1, axis=1)
    return np.stack([grid[:-1], turned[:-1], turned[1:], grid[1:]], axis=2)


def _axes_cross(view: Axes) -> None:
    """The car's axes in a corner: x forward, y left, z up."""
    cross = view.inset_axes((0.0, 0.66, 0.2, 0.34))
    cross.set_axis_off()
    cross.set_aspect("equal")
    cross.set_xlim(-2.2, 2.2)
    cross.set_ylim(-2.2, 2.2)
    azimuth, elevation = default_view()
    ends, _ = project(np.eye(3), azimuth_rad=azimuth, elevation_rad=elevation)
    for end, name in zip(ends, ("x", "y", "z"), strict=True):
        cross.annotate("", end, (0.0, 0.0), arrowprops={"arrowstyle": "-|>", "color": style.MUTED, "lw": 0.9})
        x, y = end + 0.55 * end / np.linalg.norm(end)
        cross.text(x, y, name, ha="center", va="center", color=style.MUTED, clip_on=False)


def _key(axes: Axes, bands: Bands) -> None:
    """The scale: a step a colour, its limits between them, the target marked."""
    axes.set_axis_off()
    count = len(bands.colors)
    for i, color in enumerate(bands.colors):
        axes.add_patch(Rectangle((i, 0.0), 1.0, 0.8, facecolor=color, lw=0))
    for i, edge in enumerate(bands.edges, start=1):
        at_target = abs(edge - bands.target) < 0.006
        axes.text(i, -0.15, f"{edge:.3g}", ha="center", va="top", fontweight="bold" if at_target else "normal")
        if at_target:
            axes.plot([i, i], [-0.05, 1.0], color=style.INK, lw=1.6)
            axes.text(i, 1.15, "misses \u2190 target \u2192 meets", ha="center", va="bottom")
    axes.text(0.0, -1.9, bands.name, ha="left", va="top", color=style.INK)
    axes.set_xlim(-0.1, count + 0.1)
    axes.set_ylim(-3.2, 2.2)
