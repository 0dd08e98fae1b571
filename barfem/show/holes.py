"""What `barfem holes` prints."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from barfem.model.load_case import CASES
from barfem.show.console import BAD, GOOD, HEAD, print_table
from barfem.show.numbers import significant, whole
from barfem.show.parts import evaluated_life, evaluated_life_heading, heading, listed, paragraph, printing
from barfem.show.tables import Table, column, judged, nested_columns, only_in_files, table, words, yes_no
from barfem.study.evaluation import Evaluation
from barfem.study.hole_plan import HolePlan
from barfem.study.holes import BLUR_PERCENT
from barfem.study.json_values import LIFE_PATHS, hole_setting_json
from barfem.vendor.rules import rules_of

__all__ = ["holes_tables", "print_holes"]


@printing
def print_holes(console: Console, plan: HolePlan) -> None:
    """Print the plan."""
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
        "the transition or bend (common practice, no source); "
        f"{f'rounded to {rules.round_mm:g} mm' if rules.round_mm else 'not rounded'}.",
    )
    shown = plan if plan.nearest is None else plan.nearest
    if shown.evaluation is not None:
        made = _table(shown, shown.evaluation)
        heading(console, "Nearest possible" if shown is not plan else made.title)
        print_table(console, made)
    listed(console, "What to see in it", [*_lessons(shown), *plan.notes])
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


def holes_tables(plan: HolePlan) -> list[Table]:
    """The holes of a plan or, where it is not possible, of the nearest that is; none where none is."""
    shown = plan if plan.nearest is None else plan.nearest
    return [] if shown.evaluation is None else [_table(shown, shown.evaluation, not_possible=plan.problems)]


def _table(plan: HolePlan, found: Evaluation, *, not_possible: Sequence[str] = ()) -> Table:
    """The holes of a plan, from the tip inwards, and what the bar does at each; in files, why what was asked is not
    possible where these are the nearest holes that are.
    """
    rows = [hole_setting_json(found, i) for i in range(len(plan.from_tip_mm))]
    rates = [row["rate_N_per_mm"] for row in rows]
    targets = found.bar.targets
    factor = 1.0 if found.bar.duty.target_cycles_given else None

    def step(i: int) -> float | None:
        return None if i == 0 else 100.0 * (rates[i] / rates[i - 1] - 1.0)

    return table(
        "holes",
        "Holes, from the tip inwards",
        range(len(rows)),
        [
            words("Hole", lambda i: found.left[i], key="name"),
            column("From\ntip", "mm", lambda i: plan.from_tip_mm[i], show="{:g}".format),
            column(
                "Gap",
                "mm",
                lambda i: None if i == 0 else plan.from_tip_mm[i] - plan.from_tip_mm[i - 1],
                show="{:g}".format,
            ),
            column("Rate", "N/mm", lambda i: rates[i]),
            column("Step", "%", step, show="{:+z.1f}".format),
            column("Asked", "N/mm", lambda i: plan.wanted_N_per_mm[i], key="wanted_N_per_mm"),
            column("Stress", "MPa", lambda i: rows[i]["peak"]["von_mises_MPa"], show=whole, key="peak_von_mises_MPa"),
            column("Yield\nmargin", "", lambda i: judged(rows[i]["yield_margin"], targets.yield_margin)),
            column(
                "Safety\nfactor", "", lambda i: judged(rows[i]["fatigue"]["safety_factor_at_target"], factor), key=""
            ),
            column(evaluated_life_heading(found.bar), "", lambda i: evaluated_life(found, i), key=""),
            column("Passes", "", lambda i: yes_no(rows[i]["passes"])),
            only_in_files("not_possible", lambda i: "; ".join(not_possible) or None),
            *nested_columns(rows.__getitem__, ("fatigue.safety_factor_at_target", *LIFE_PATHS)),
        ],
    )


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
    if note := CASES[plan.case].rate_note(found.bar.travel):
        lines.append(f"Bump and droop differ: {note}, what is asked too.")
    asked = rules_of(found.bar)["hole_to_end"]
    if plan.hole_mm and asked.severity(gap := plan.from_tip_mm[0] / plan.hole_mm - 0.5):
        lines.append(
            f"The edge of the first hole is {gap:.2f} hole diameters from the cut end; barfem review asks about less "
            f"than {asked.ask:g}: --edge {(asked.ask or 0.0) + 0.5:g} keeps clear of that."
        )
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
