"""The picture of a comparison: each number of every bar at every hole, a panel a number, a mark a bar."""

from __future__ import annotations

import math
from collections.abc import Callable

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from barfem.check.result import CheckResult, SettingResult
from barfem.show.compare import alike_holes, view_title
from barfem.show.figures import style
from barfem.show.figures.picture import Picture
from barfem.show.lives import OVER
from barfem.show.numbers import printable, significant
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES
from barfem.study.compare import Comparison
from barfem.study.facts import Candidate, View

__all__ = ["comparison_picture", "comparison_pictures"]

MARKS = (("o", style.LEAD), ("s", style.OTHER), ("^", style.SHEAR), ("D", style.BORE), ("v", style.INK))
"""Shape and colour of each bar's mark: told apart without colour; of more than these, shapes begin anew."""

BEYOND = 1.6 * LONGEST_LIFE_CYCLES
"""Where lives over what is claimed stand."""

Rows = list[tuple[str, list[tuple[Candidate, SettingResult]]]]


def comparison_pictures(found: Comparison) -> list[Picture]:
    """A picture for each view."""
    return [comparison_picture(view, number) for number, view in enumerate(found.views, start=1)]


def comparison_picture(view: View, number: int = 1) -> Picture:
    """Rate, stress, yield margin and life of the bars of a view, side by side; `number` keeps its name its own."""
    names = [
        f"{each.letter}: {each.name}, {printable(significant(each.result.mass_kg))} kg" for each in view.candidates
    ]
    return Picture(
        slug=f"bars-side-by-side-{number}",
        title=view_title(view),
        caption=(
            f"{view_title(view)}. Rate of each end over its own travel, greatest von Mises stress, yield margin (yield "
            "strength / stress, less 1) and life at the survival judged. Dotted: the target of bar A. An open mark "
            f"misses its own target; {_beyond(view)}, and no more is claimed."
        ),
        alt=f"Rate, stress, yield margin and life at each hole. {'; '.join(names)}.",
        draw=lambda size: _draw(view, names, size),
    )


def _beyond(view: View) -> str:
    if any(each.result.target_cycles_judged for each in view.candidates):
        return f"a life {printable(OVER)} cycles stands right of that number"
    return "repeats without an end stand at twice their target"


def _draw(view: View, names: list[str], size: style.Size) -> Figure:
    cases = list(dict.fromkeys(row.case for row in view.candidates[0].result.rows))
    rows: Rows = [
        (
            f"{name}, {case}" if len(cases) > 1 else name,
            [(each, setting) for each, setting in found if isinstance(setting, SettingResult)],
        )
        for case in cases
        for name, found in alike_holes(view, case)
    ]
    narrow = size == "narrow"
    step = 0.16 + 0.12 * len(names)
    lines = 2 if narrow else 1
    canvas = style.new_figure(size, height_in=lines * (0.75 + step * len(rows)) + 0.22 * len(names))
    panels = canvas.figure.subplots(lines, 4 // lines, sharey=True, squeeze=False).ravel()
    first = view.candidates[0].result
    _panel(panels[0], rows, names, "Rate, N/mm", lambda s: s.rate_N_per_mm)
    _panel(panels[1], rows, names, "Peak stress, MPa", lambda s: s.peak.von_mises_MPa)
    _panel(panels[2], rows, names, "Yield margin", lambda s: s.yield_margin, targets=lambda r: r.yield_margin_target)
    panels[3].set_xscale("log")
    cycles = any(each.result.target_cycles_judged for each in view.candidates)
    if cycles:
        targets = (lambda r: r.target_cycles) if first.target_cycles_judged else None
        _panel(
            panels[3],
            rows,
            names,
            f"Life at {100 * first.survival:g} %, cycles",
            lambda s: BEYOND if s.fatigue.life.runout_at_survival else s.fatigue.life.at_survival,
            targets=targets,
        )
    else:  # the blocks alone are judged
        _panel(
            panels[3], rows, names, f"Life at {100 * first.survival:g} %, repeats", _repeats,
            targets=lambda r: r.target_repeats or 0.0,
        )  # fmt: skip
    low, high = panels[3].get_xlim()
    style.decades(panels[3], low, min(high, LONGEST_LIFE_CYCLES), every=2 if high / low > 1e3 else 1)
    if not cycles:
        panels[3].xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    panels[0].set_ylim(len(rows) - 0.45, -0.55)
    for axes in panels[:: 4 // lines]:
        axes.set_yticks(range(len(rows)), [style.wrapped(name, 14) for name, _ in rows])
        axes.set_ylabel("Hole")
    style.key_below(canvas, panels[0], handlelength=1.2)
    return canvas.figure


def _panel(
    axes: Axes,
    rows: Rows,
    names: list[str],
    title: str,
    value: Callable[[SettingResult], float | None],
    *,
    targets: Callable[[CheckResult], float] | None = None,
) -> None:
    count = len(names)
    letters = {name[0]: i for i, name in enumerate(names)}
    drawn: list[float] = []
    for row, (_, found) in enumerate(rows):
        for candidate, setting in found:
            number = value(setting)
            if number is None or not math.isfinite(number):
                continue
            i = letters[candidate.letter]
            shape, color = MARKS[i % len(MARKS)]
            misses = targets is not None and number < targets(candidate.result)
            axes.plot(
                [number],
                [row + 0.62 * ((i + 0.5) / count - 0.5)],
                shape,
                ms=6.0,
                mec=color,
                mfc=style.PAPER if misses else color,
                mew=1.3,
                zorder=4,
            )
            drawn.append(number)
    for i, name in enumerate(names):  # the key shows every bar filled, whatever its marks are
        shape, color = MARKS[i % len(MARKS)]
        axes.plot([], [], shape, ms=6.0, color=color, label=style.wrapped(name, 52))
    for row in range(1, len(rows)):
        axes.axhline(row - 0.5, color=style.RULE, lw=0.6, zorder=1)
    if targets is not None:
        axes.axvline(targets(rows[0][1][0][0].result), color=style.INK, lw=1.0, ls=style.DOTTED, zorder=2)
    if axes.get_xscale() == "linear":
        axes.margins(x=0.14)
        axes.xaxis.set_major_locator(MaxNLocator(nbins=3))
    else:
        ends = [*drawn, *([targets(rows[0][1][0][0].result)] if targets is not None else [])] or [
            1e4,
            LONGEST_LIFE_CYCLES,
        ]
        axes.set_xlim(0.4 * min(ends), 2.5 * max(ends))
    style.axes_of(axes, x="", y=title, grid="x")
    axes.tick_params(axis="y", length=0.0)


def _repeats(setting: SettingResult) -> float | None:
    """Life in repeats of the blocks; one without an end as long as twice its target."""
    duty = setting.fatigue.duty
    if duty is None:
        return None
    if duty.life_at_survival_repeats is None:
        return 2.0 * duty.target_repeats if duty.runout_at_survival else None
    return duty.life_at_survival_repeats
