"""What `barfem plan` prints."""

from __future__ import annotations

import sys
from typing import TextIO

from barfem.check.plan import ProofPlan
from barfem.show.console import make_console, plain_table, wrap
from barfem.show.numbers import NO_BREAK, whole

__all__ = ["print_plan"]


def print_plan(plan: ProofPlan, stream: TextIO | None = None) -> None:
    """Print on `stream`, standard output by default."""
    stream = sys.stdout if stream is None else stream
    console = make_console(stream)
    chance = any(row.chance is not None for row in plan.rows)
    table = plain_table(
        "Bars", "Test each to\ncycles", "times the\ntarget", *(["chance to\npass, %"] if chance else [])
    )
    for row in plan.rows:
        cells = [str(row.bars), whole(row.cycles), f"{row.ratio:.2f}"]
        table.add_row(*cells, *([] if not chance else ["-" if row.chance is None else f"{100 * row.chance:.0f}"]))
    said = (
        f"To show that {100 * plan.survival:g} % of bars reach {whole(plan.target_cycles)} cycles at "
        f"{100 * plan.confidence:g} % confidence, all the bars of one row must last without a failure."
    )
    last = (
        f"Scatter: {plan.scatter}. Zero-failure test (Lipson and Sheth, 1973); a failed bar asks for more bars or a "
        "longer test. Chance to pass: if the median life is the one estimated."
        if chance
        else f"Scatter: {plan.scatter}. Zero-failure test (Lipson and Sheth, 1973)."
    )
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
