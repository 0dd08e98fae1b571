"""The map of hole pairs: balance over roll gradient, one point a pair, the region aimed at, steps of each bar."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from barfem.car.balance_result import BalanceResult, PairResult
from barfem.show.car.balance import pair_name
from barfem.show.car.words import bar_holes
from barfem.show.figures import style
from barfem.show.figures.picture import Picture

__all__ = ["balance_map"]

NAMED = 24
"""So many points carry their names; of more, the start pair and the fitted one."""


def balance_map(found: BalanceResult) -> Picture:
    """Front transfer share over roll gradient of every pair."""
    start = found.start.number
    chosen = "" if start is None else f" Start pair: {pair_name(found.pairs[start])} (front | rear)."
    target = "target" if found.target_given else "a starting point, not truth: static front share + 0.05"
    return Picture(
        slug="balance-map",
        title="Which pair of holes",
        caption=(
            f"Front share of the load transfer in {found.at.name} (up: the front gives up sooner) over roll gradient, "
            "a point a pair, named front | rear. Lines join pairs that differ by one hole of the front bar (solid) or "
            f"of the rear bar (dashed). Filled: the bars pass stress and life. Dotted: share aimed at ({target}); the "
            f"shaded region holds every target of roll and share that is given.{chosen}"
        ),
        alt=f"Front transfer share and roll gradient of {len(found.pairs)} pairs of holes.{chosen}",
        draw=lambda size: _draw(found, size),
    )


def _draw(found: BalanceResult, size: style.Size) -> Figure:
    canvas = style.new_figure(size, height_in=4.3 if size == "wide" else 3.9)
    axes = canvas.figure.subplots()
    points = [pair for pair in found.pairs if _at(pair) is not None]
    for pairs, dashes, color in ((_lines(points, 0), "-", style.OTHER), (_lines(points, 1), (0, (3, 2)), style.SHEAR)):
        for line in pairs:
            xs, ys = zip(*(_at(pair) or (0.0, 0.0) for pair in line), strict=True)
            axes.plot(xs, ys, ls=dashes, lw=0.9, color=color, zorder=2)
    for pair in points:
        x, y = _at(pair) or (0.0, 0.0)
        fill = style.INK if pair.bars_pass else style.PAPER
        axes.plot([x], [y], "o", ms=4.6, mec=style.INK, mfc=fill, mew=1.1, zorder=4)
    start = found.start.number
    if start is not None and _at(found.pairs[start]) is not None:
        x, y = _at(found.pairs[start]) or (0.0, 0.0)
        axes.plot([x], [y], "o", ms=11.0, mec=style.LEAD, mfc="none", mew=1.8, zorder=5)
    axes.margins(x=0.12, y=0.14)
    axes.axhline(found.target_share, color=style.LEAD, lw=1.1, ls=style.DOTTED, zorder=1)
    _region(axes, found)
    style.axes_of(axes, x="Roll gradient, deg/g", y="Front share of the load transfer", grid="both")
    axes.plot([], [], "-", color=style.OTHER, label="one hole of the front bar")
    axes.plot([], [], ls=(0, (3, 2)), color=style.SHEAR, label="one hole of the rear bar")
    axes.plot([], [], ls=style.DOTTED, color=style.LEAD, label="share aimed at")
    axes.plot([], [], "o", ms=9.0, mec=style.LEAD, mfc="none", mew=1.8, label="start pair")
    if any(not pair.bars_pass for pair in points):
        axes.plot([], [], "o", ms=4.6, mec=style.INK, mfc=style.PAPER, label="a bar fails stress or life")
    style.key_below(canvas, axes, ncols=1 if canvas.narrow else 3)
    _name(canvas, axes, _named(found, points), [_at(pair) or (0.0, 0.0) for pair in points])
    return canvas.figure


def _at(pair: PairResult) -> tuple[float, float] | None:
    if pair.roll_gradient_deg_per_g is None or pair.front_transfer_share is None:
        return None
    return pair.roll_gradient_deg_per_g, pair.front_transfer_share


def _lines(points: list[PairResult], moving: int) -> list[list[PairResult]]:
    """Equal hole pairs that differ on one axle alone, in the order of roll; `moving` 0 front, 1 rear."""
    groups: dict[object, list[PairResult]] = {}
    for pair in points:
        sides = (pair.front, pair.rear)
        if all(side is None or side[0] == side[1] for side in sides):
            groups.setdefault(sides[1 - moving], []).append(pair)
    return [sorted(line, key=lambda pair: pair.roll_gradient_deg_per_g or 0.0) for line in groups.values()]


def _named(found: BalanceResult, points: list[PairResult]) -> list[tuple[float, float, str]]:
    start = found.start.number
    chosen = None if start is None else found.pairs[start]
    out = []
    # The start pair and the fitted one are named first, so that there is room for them.
    first = sorted(points, key=lambda pair: (pair is not chosen, (pair.front, pair.rear) != found.fitted))
    for pair in first:
        fitted = (pair.front, pair.rear) == found.fitted
        if len(points) <= NAMED or pair is chosen or fitted:
            x, y = _at(pair) or (0.0, 0.0)
            text = f"{bar_holes(pair.front)} | {bar_holes(pair.rear)}" + (" (fitted)" if fitted else "")
            out.append((x, y, text))
    return out


PLACES = ((6.0, 6.0, "left"), (6.0, -7.0, "left"), (-6.0, 6.0, "right"), (-6.0, -7.0, "right"), (0.0, 13.0, "center"),
          (0.0, -14.0, "center"))  # fmt: skip
FAR = tuple(
    (right * ring, up * ring, "left" if right > 0.0 else "right")
    for ring in range(20, 260, 10)
    for right, up in ((1.0, 0.4), (1.0, -0.4), (-1.0, 0.4), (-1.0, -0.4), (0.4, 1.0), (0.4, -1.0))
)
"""Amid a mesh of pairs there is no room beside a point: further out, on a leader. Points of type."""


def _name(
    canvas: style.Canvas, axes: Axes, named: list[tuple[float, float, str]], points: list[tuple[float, float]]
) -> None:
    """Write each name where it meets no other name and no point, on a leader if need be; else leave it out."""
    canvas.figure.draw_without_rendering()
    renderer = canvas.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    dots = [axes.transData.transform(point) for point in points]
    frame = axes.get_window_extent()
    taken: list[Bbox] = []
    for x, y, text in named:
        for right, up, side in (*PLACES, *FAR):
            far = max(abs(right), abs(up)) > 15.0
            noted = axes.annotate(
                text,
                xy=(x, y),
                xytext=(right, up),
                textcoords="offset points",
                ha=side,
                va="center",
                fontsize=canvas.points - 1.5,
                path_effects=[style.halo()],
                zorder=8,
                arrowprops={"arrowstyle": "-", "lw": 0.7, "color": style.INK, "shrinkB": 3.0} if far else None,
            )
            noted.set_in_layout(False)
            noted.update_positions(renderer)
            box = Text.get_window_extent(noted, renderer)  # without its leader
            kept = box.padded(5.0 * canvas.figure.dpi / 72.0)  # clear of points as they are drawn
            clear = not any(box.overlaps(other) for other in taken) and not any(kept.contains(*dot) for dot in dots)
            if clear and frame.x0 <= box.x0 and box.x1 <= frame.x1 and frame.y0 <= box.y0 and box.y1 <= frame.y1:
                taken.append(box)
                break
            noted.remove()


def _region(axes: Axes, found: BalanceResult) -> None:
    """Shade what the targets of roll and share leave."""
    roll, share = found.car.targets.roll_gradient_deg_per_g, found.car.targets.front_transfer_share
    if roll is None and share is None:
        return
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    left, right = (max(x0, roll[0]), min(x1, roll[1])) if roll is not None else (x0, x1)
    low, high = (max(y0, share[0]), min(y1, share[1])) if share is not None else (y0, y1)
    if left < right and low < high:
        axes.fill_between([left, right], low, high, color=style.WASH, zorder=0, lw=0.0)
    axes.set_xlim(x0, x1)
    axes.set_ylim(y0, y1)
