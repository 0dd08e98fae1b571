"""What `barfem life` prints: each factor on its own line, then the life."""

from __future__ import annotations

import sys
from typing import TextIO

from rich.console import Console
from rich.table import Table
from rich.text import Text

from barfem.show.console import BAD, HEAD, make_console, wrap
from barfem.show.lives import NO_LIFE
from barfem.show.numbers import NO_BREAK, NONE, significant, whole
from barfem.strength.fatigue.hand_estimate import LifeEstimate

__all__ = ["print_life"]


def print_life(estimate: LifeEstimate, stream: TextIO | None = None) -> None:
    """Print the estimate on `stream`, standard output by default."""
    stream = sys.stdout if stream is None else stream
    console = make_console(stream)
    with console.capture() as capture:
        _print(estimate, console)
    lines = capture.get().replace(NO_BREAK, " ").splitlines()
    stream.write("\n".join(line.rstrip() for line in lines) + "\n")
    stream.flush()


def _print(estimate: LifeEstimate, console: Console) -> None:
    life, inputs, rule = estimate.life, estimate.inputs, estimate.rule
    rows = _rows()
    rows.add_row("stress amplitude", *_value(inputs.amplitude_MPa, "MPa"), "as given")
    rows.add_row("mean stress", *_value(inputs.mean_MPa, "MPa"), "as given")
    for factor in estimate.factors:
        rows.add_row(factor.name, *_value(float(factor.value), factor.unit), factor.source)
    console.print(rows)
    console.print()
    answer = _rows()
    if abs(life.mean_used_MPa - inputs.mean_MPa) > 1e-9:
        answer.add_row("mean stress used", *_value(life.mean_used_MPa, "MPa"), "residual stress added")
    answer.add_row(
        "equivalent amplitude",
        *_value(life.equivalent_amplitude_MPa, "MPa"),
        f"{rule.method}: {rule.criterion.formula}; {rule.criterion.source}",
    )
    limited = "against the endurance limit, amplitude and mean in constant ratio"
    if life.safety_factor is None:
        limited = "there is no endurance limit" if estimate.endurance_limit_MPa is None else "no load reaches the limit"
    answer.add_row("safety factor", *_value(life.safety_factor, ""), limited)
    answer.add_row(
        "life, median",
        *_cycles(life.life_cycles, life.runout),
        "half of all bars last longer" if life.life_cycles is not None else "see below",
    )
    answer.add_row(
        f"life at {100 * inputs.survival:g} % survival",
        *_cycles(life.life_at_survival_cycles, life.runout_at_survival),
        "two figures of a life are the most that mean anything" if life.life_at_survival_cycles is not None else "",
    )
    console.print(answer)
    if estimate.compared is not None:
        console.print()
        for line in wrap(f"Compared with tests of this kind of skin: {estimate.compared}.", console.width):
            console.print(line, no_wrap=True, overflow="ignore", crop=False)
    if life.reason:
        console.print()
        for line in wrap(life.reason[0].upper() + life.reason[1:] + ".", console.width):
            console.print(Text(line, style=BAD), no_wrap=True, overflow="ignore", crop=False)
    if estimate.warnings:
        console.print()
        console.print(Text("Warnings", style=HEAD))
        for warning in estimate.warnings:
            for line in wrap(warning, console.width, first="- ", then="  "):
                console.print(line, no_wrap=True, overflow="ignore", crop=False)


def _rows() -> Table:
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)
    table.add_column(width=27, overflow="fold")
    table.add_column(justify="right", no_wrap=True, width=9)
    table.add_column(no_wrap=True, width=6)
    table.add_column(overflow="fold")
    return table


def _value(value: float | None, unit: str) -> tuple[str, str]:
    """A number to four significant figures, and its unit if there is a number."""
    shown = significant(value, 4)
    return shown, unit if shown != NONE else ""


def _cycles(value: float | None, runout: bool) -> tuple[str, str]:
    if value is None:
        return ("beyond", "knee") if runout else (NONE, "")
    if value < 1.0:
        return NO_LIFE, ""
    if value >= 1e9:
        return f"{value:.2e}", "cycles"
    return whole(value) if value >= 10.0 else significant(value, 2), "cycles"
