"""What `barfem holes` prints."""

from __future__ import annotations

import math
from typing import TextIO

from rich.console import Console

from barfem.show.console import BAD, GOOD, HEAD, plain_table, print_table
from barfem.show.numbers import significant, whole
from barfem.show.parts import bullets, heading, judged, life_cell, paragraph, passes_cell, print_whole
from barfem.strength.fatigue.sn_line import KNEE_CYCLES
from barfem.study.evaluate import Evaluation
from barfem.study.holes import BLUR_PERCENT, HolePlan

__all__ = ["print_holes"]


def print_holes(plan: HolePlan, stream: TextIO | None = None, *, written: str | None = None) -> None:
    """Print the plan on `stream`, standard output by default; `written` is the bar file that was written."""
    print_whole(lambda console: _write(plan, console, written), stream)


def _write(plan: HolePlan, console: Console, written: str | None) -> None:
    paragraph(console, plan.name, style=HEAD)
    rules = plan.rules
    size = "" if plan.hole_mm is None else f", for holes of {plan.hole_mm:g} mm"
    paragraph(
        console,
        f"Room: {plan.lowest_mm:g} to {plan.highest_mm:g} mm from the tip{size}: "
        f"{significant(plan.softest_N_per_mm)} to {significant(plan.stiffest_N_per_mm)} N/mm ({plan.case}).",
    )
    paragraph(
        console,
        f"Rules: {rules.edge:g} d from the cut end, {rules.spacing:g} d between centres, {rules.inboard:g} d before "
        f"the transition or bend (common practice, no source); rounded to {rules.round_mm:g} mm.",
    )
    shown = plan if plan.nearest is None else plan.nearest
    if shown.evaluation is not None:
        heading(console, "Nearest possible" if shown is not plan else "Holes, from the tip inwards")
        _table(shown, shown.evaluation, console)
    lines = [*_lessons(shown), *plan.told]
    if lines:
        heading(console, "What to see in it")
        bullets(console, lines)
    console.print()
    for problem in plan.problems:
        paragraph(console, f"NOT POSSIBLE: {problem}.", style=BAD)
    if shown.evaluation is not None:
        places = ", ".join(f"{place:g}" for place in shown.from_tip_mm)
        fate = "meets the targets at every hole" if shown.passes else "does not meet the targets at every hole"
        paragraph(
            console,
            f"{'ANSWER' if shown is plan else 'Nearest possible'}: from_tip {places} mm, steps of "
            f"{shown.step_percent:.1f} %; {fate}.",
            style=GOOD if plan.passes else BAD if shown is plan else "",
        )
    if written is not None:
        paragraph(console, f"Written: {written}. Next: barfem check {written}")


def _table(plan: HolePlan, found: Evaluation, console: Console) -> None:
    table = plain_table(
        "Hole",
        "From\ntip\nmm",
        "Gap\nmm",
        "Rate\nN/mm",
        "Step\n%",
        "Asked\nN/mm",
        "Stress\nMPa",
        "Yield\nmargin",
        "Safety\nfactor",
        "Life, cycles",
        "Passes",
    )
    targets = found.bar.targets
    for i, place in enumerate(plan.from_tip_mm):
        rate = float(found.rate_N_per_mm[i])
        step = "-" if i == 0 else f"{100.0 * (rate / float(found.rate_N_per_mm[i - 1]) - 1.0):+.1f}"
        table.add_row(
            found.left[i],
            f"{place:g}",
            "-" if i == 0 else f"{place - plan.from_tip_mm[i - 1]:g}",
            significant(rate),
            step,
            significant(plan.wanted_N_per_mm[i]),
            whole(float(found.peak_MPa[i])),
            judged(float(found.yield_margin[i]), targets.yield_margin),
            judged(float(found.safety_factor_at_target[i]), 1.0),
            life_cell(
                at_survival=_or_none(found.life_at_survival_cycles[i]),
                median=_or_none(found.life_cycles[i]),
                runout=bool(found.runout[i]),
                knee_cycles=KNEE_CYCLES if found.has_knee[i] else None,
            ),
            passes_cell(bool(found.passes[i])),
        )
    print_table(console, table)


def _or_none(value: float) -> float | None:
    return None if math.isnan(float(value)) else float(value)


def _lessons(plan: HolePlan) -> list[str]:
    """Sentences that are true of this plan."""
    lines = []
    if plan.step_percent < BLUR_PERCENT:
        lines.append(
            f"Steps of {plan.step_percent:.1f} % are smaller than the {BLUR_PERCENT:g} % or so that bushings and the "
            "tolerance on the diameter blur (common practice, no source; 1 % of diameter is 4 % of rate): two bars, or "
            "left and right, may differ by as much. Fewer holes say more."
        )
    found = plan.evaluation
    if found is None:
        return lines
    gaps = [b - a for a, b in zip(plan.from_tip_mm, plan.from_tip_mm[1:], strict=False)]
    if len(gaps) > 1 and max(gaps) > 1.05 * min(gaps):
        lines.append(
            "Equal percent steps are not equal distances: the shorter the arm already is, the more a mm counts."
        )
    good = found.passes.tolist()
    if not all(good) and any(good):
        names = ", ".join(found.left[i] for i, fine in enumerate(good) if not fine)
        lines.append(
            f"The stiff holes decide: {names} would not meet the targets. At equal travel a shorter arm stresses the "
            "bar more; barfem size finds a section that lasts there."
        )
    if not any(good):
        lines.append("No hole meets the targets: the bar is too weak for its travel, wherever it is drilled.")
    rounding = max(abs(float(r) / w - 1.0) for r, w in zip(found.rate_N_per_mm, plan.wanted_N_per_mm, strict=True))
    if rounding > 0.005:
        lines.append(f"Rounding the places moves a rate by up to {100 * rounding:.1f} %.")
    return lines
