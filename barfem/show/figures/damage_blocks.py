"""Damage by block: which travels of a mixed duty use up the bar's life."""

from __future__ import annotations

from matplotlib.figure import Figure

from barfem.check.lives import DutyLife
from barfem.check.result import SettingResult
from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole

__all__ = ["picture"]


def picture(data: FigureData) -> Picture | None:
    """Damage of each block in one repeat at the place that governs the duty; None without blocks."""
    found = _governing(data)
    if found is None:
        return None
    setting, duty = found
    share = f"{100 * data.result.survival:g} %"
    allowed = duty.critical_sum / duty.target_repeats
    return Picture(
        slug="damage-by-block",
        title="Damage by block",
        caption=(
            f"Miner's damage of one repeat of the duty, block by block, at {share} survival, at the place where it is "
            f"greatest: hole {setting.holes}, {setting.case}, {duty.where}. All blocks together may do "
            f"{allowed:.3g}: a critical sum of {duty.critical_sum:g} over {duty.target_repeats:g} repeats."
        ),
        alt="Bar chart of damage. " + "; ".join(_block_words(duty, i) for i in range(len(duty.blocks))) + ".",
        draw=lambda size: _draw(data, setting, duty, size),
    )


def _governing(data: FigureData) -> tuple[SettingResult, DutyLife] | None:
    """The hole setting whose duty ends first: without a life, else by life at survival, else by its largest stress.

    Of several alike, the one that governs life.
    """
    known = [(s, s.fatigue.duty) for s in data.result.settings if s.fatigue.duty is not None]
    if not known:
        return None

    def order(item: tuple[SettingResult, DutyLife]) -> tuple[float, bool, float]:
        setting, duty = item
        largest = max((block.equivalent_amplitude_MPa or 0.0 for block in duty.blocks), default=0.0)
        life = duty.life_at_survival_repeats
        if life is None:
            life = 1e300 if duty.runout_at_survival else -1.0
        return life, setting is not data.result.governing_for_life, -largest

    return min(known, key=order)


def _block_words(duty: DutyLife, i: int) -> str:
    damage = duty.blocks[i].damage
    return f"block {i + 1}: " + ("none can be stated" if damage is None else f"{damage:.2g}")


def _draw(data: FigureData, setting: SettingResult, duty: DutyLife, size: style.Size) -> Figure:
    blocks = duty.blocks
    canvas = style.new_figure(size, height_in=1.2 + (0.5 if size == "narrow" else 0.36) * (len(blocks) + 1))
    axes = canvas.figure.subplots()
    damages = [block.damage or 0.0 for block in blocks]
    total = sum(damages)
    rows = [*damages, total]
    known = all(block.damage is not None for block in blocks)
    allowed = duty.critical_sum / duty.target_repeats
    colors = [style.OTHER] * len(blocks) + [style.INK if duty.reaches_target else style.BELOW]
    axes.barh(range(len(rows)), rows, height=0.62, color=colors, lw=0)
    for i, value in enumerate(rows):
        text = f"{value:.2g}"
        if known and total > 0.0 and i < len(blocks):
            share = 100.0 * value / total
            text += " (under 1 %)" if 0.0 < share < 1.0 else f" ({share:.0f} %)"
        style.beside(axes, value, i, text if known else "none can be stated")
    far = not known or allowed > 4.0 * total
    greatest = max(*rows, 0.0 if far else allowed)
    axes.set_xlim(0.0, (1.6 if canvas.narrow else 1.3) * greatest if greatest > 0.0 else 1.0)
    if not far:
        axes.axvline(allowed, color=style.BELOW, lw=1.1, ls=style.DOTTED, zorder=5)
    names = [_row(canvas, block.pickup_mm, block.ratio, block.cycles) for block in blocks]
    axes.set_yticks(range(len(rows)), [*names, "all blocks"])
    axes.set_ylim(len(rows) - 0.45, -0.55)
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)
    break_ = "\n" if canvas.narrow else " "
    where = "off the chart" if far else "dotted"
    below = duty.reason or f"allowed {allowed:.2g}, {where}"
    style.axes_of(
        axes,
        x=f"Damage, cycles / life{chr(10) if len(below) > 40 else break_}"
        + style.wrapped(f"({below})", 40 if canvas.narrow else 70),
        y=f"One repeat, hole {data.short(setting)},{break_}{100 * data.result.survival:g} % survival",
        grid="x",
    )
    style.few_ticks(axes, 4 if canvas.narrow else 6)
    return canvas.figure


def _row(canvas: style.Canvas, pickup_mm: float, ratio: float, cycles: float) -> str:
    travel = f"\u00b1{pickup_mm:g} mm" if ratio == -1.0 else f"{pickup_mm:g} mm to {ratio * pickup_mm + 0.0:g} mm"
    return f"{travel}{',' + chr(10) if canvas.narrow else ', '}{printable(whole(cycles))} cycles"
