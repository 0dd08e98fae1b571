"""What `barfem plan` prints."""

from __future__ import annotations

import sys
from typing import TextIO

from barfem.check.plan import ProofPlan, rounded_up
from barfem.show.console import make_console, plain_table, wrap
from barfem.show.numbers import NO_BREAK, whole

__all__ = ["print_plan"]


def print_plan(plan: ProofPlan, stream: TextIO | None = None) -> None:
    """Print on `stream`, standard output by default."""
    stream = sys.stdout if stream is None else stream
    console = make_console(stream)
    chance = any(row.chance is not None for row in plan.rows)
    table = plain_table(
        "Bars",
        f"None fails\nbefore, {plan.unit}",
        "times the\ntarget",
        *(["chance of\nthat, %"] if chance else []),
        f"or all fail: mean\nat least, {plan.unit}",
    )
    for row in plan.rows:
        table.add_row(
            str(row.bars),
            _life(row.life),
            f"{row.ratio:.2f}",
            *([] if not chance else ["-" if row.chance is None else f"{100 * row.chance:.0f}"]),
            _life(row.mean_life_if_failed),
        )
    repeats = "" if plan.unit == "cycles" else " of the duty's blocks"
    said = (
        f"To show that {100 * plan.survival:g} % of bars reach {_plain(plan.target)} {plan.unit}{repeats} at "
        f"{100 * plan.confidence:g} % confidence, by one row and one way, chosen before the test: all its bars last "
        "without a failure; or all are run until they fail, and the mean of their lives is high enough."
    )
    weibull = plan.scatter.startswith("Weibull")
    mean = "the mean of life^b, to the power 1/b, b the Weibull shape" if weibull else "the geometric mean"
    last = (
        f"Scatter: {plan.scatter}. Without a failure: Lipson and Sheth, 1973. Mean: {mean}, the scatter taken as known "
        f"({'Abernethy, from memory' if weibull else 'Natrella, NBS Handbook 91, 1963'}). Lives are rounded up."
    )
    if chance:
        last += " Chance: if the median life is the one estimated."
    with console.capture() as capture:
        for line in wrap(said, console.width):
            console.print(line, no_wrap=True, overflow="ignore", crop=False)
        console.print()
        console.print(table)
        console.print()
        for line in wrap(last, console.width):
            console.print(line, no_wrap=True, overflow="ignore", crop=False)
    lines = capture.get().replace(NO_BREAK, " ").splitlines()
    stream.write("\n".join(line.rstrip() for line in lines) + "\n")
    stream.flush()


def _life(life: float) -> str:
    return _plain(rounded_up(life))


def _plain(life: float) -> str:
    return whole(life) if life >= 100.0 else f"{life:g}"
