"""What `barfem plan` prints."""

from __future__ import annotations

from rich.console import Console

from barfem.check.plan import ProofPlan, rounded_up
from barfem.model.grouped import percent
from barfem.show.console import print_table
from barfem.show.numbers import whole
from barfem.show.parts import paragraph, printing
from barfem.show.tables import Cell, Table, column, table, words

__all__ = ["plan_table", "print_plan"]


def plan_table(plan: ProofPlan) -> Table:
    """For each number of bars, the life to test to, or the mean life to reach."""
    return table(
        "plan",
        "",
        plan.rows,
        [
            words("Bars", lambda row: Cell(str(row.bars), row.bars)),
            column(
                f"None fails\nbefore, {plan.unit}",
                "",
                lambda row: row.life,
                show=_life,
                key=f"none_fails_before_{plan.unit}",
            ),
            column("times the\ntarget", "", lambda row: row.ratio, show="{:.2f}".format, key="times_target"),
            column(
                "chance of\nthat, %",
                "",
                lambda row: None if row.chance is None else 100.0 * row.chance,
                show="{:.0f}".format,
                key="chance_percent",
                optional=True,
            ),
            column(
                f"or all fail: mean\nat least, {plan.unit}",
                "",
                lambda row: row.mean_life_if_failed,
                show=_life,
                key=f"mean_if_all_fail_{plan.unit}",
            ),
        ],
    )


@printing
def print_plan(console: Console, plan: ProofPlan) -> None:
    """Print the plan."""
    chance = any(row.chance is not None for row in plan.rows)
    repeats = "" if plan.unit == "cycles" else " of the duty's blocks"
    paragraph(
        console,
        f"To show that {percent(plan.survival)} of bars reach {_plain(plan.target)} {plan.unit}{repeats} at "
        f"{percent(plan.confidence)} confidence, by one row and one way, chosen before the test: all its bars last "
        "without a failure; or all are run until they fail, and the mean of their lives is high enough.",
    )
    if plan.tested is not None:
        paragraph(console, plan.tested.words)
    console.print()
    print_table(console, plan_table(plan))
    console.print()
    weibull = plan.scatter.startswith("Weibull")
    mean = "the mean of life^b, to the power 1/b, b the Weibull shape" if weibull else "the geometric mean"
    paragraph(
        console,
        f"Scatter: {plan.scatter}. Without a failure: Lipson and Sheth, 1973. Mean: {mean}, the scatter taken as known "
        f"({'Abernethy, from memory' if weibull else 'Natrella, NBS Handbook 91, 1963'}). Lives are rounded up."
        + (" Chance: if lives are those estimated." if chance else ""),
    )


def _life(life: float) -> str:
    return _plain(rounded_up(life))


def _plain(life: float) -> str:
    return whole(life) if life >= 100.0 else f"{life:g}"
