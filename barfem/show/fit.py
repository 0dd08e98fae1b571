"""What `barfem fit` prints."""

from __future__ import annotations

from rich.console import Console

from barfem.model.grouped import percent
from barfem.show.console import print_table
from barfem.show.numbers import counted, printable, significant, whole
from barfem.show.parts import listed, paragraph, printing, titled_table
from barfem.show.tables import Table, column, table, words
from barfem.strength.fatigue.factors import strength_share
from barfem.study.fit import Fit

__all__ = ["fit_tables", "print_fit"]

CAUTION = (
    "An estimate, not a release. A line of few bars holds for their batch, vendor and skin: test again when one of "
    "them changes. Licensed practice and local rules decide."
)


def fit_tables(fit: Fit) -> list[Table]:
    """The line, and the tests."""
    return [_result_table(fit), _tests_table(fit)]


def _result_table(fit: Fit) -> Table:
    """The line's three numbers with their intervals, and the handbook's beside."""
    line, handbook = fit.line, fit.handbook
    rows = [
        (
            f"strength at {printable(whole(line.at_cycles))} cycles, MPa",
            line.strength_MPa,
            line.strength_90,
            None if handbook is None else handbook.strength_MPa,
        ),
        (
            f"the same that {percent(line.survival)} of bars have, MPa",
            line.strength_at_survival_MPa,
            line.strength_at_survival_90,
            None
            if handbook is None
            else float(handbook.strength_at(line.at_cycles, share=strength_share(line.survival))),
        ),
        ("exponent k", line.exponent, line.exponent_90, None if handbook is None else handbook.exponent),
        ("deviation of log10 life", line.log10_life_deviation, line.log10_life_deviation_90, None),
    ]
    return table(
        "line",
        "",
        rows,
        [
            words("Line, N ~ amplitude^-k", get=lambda row: row[0], key="quantity"),
            column("Tests", "", lambda row: row[1], key="value"),
            column("90 % from", "", lambda row: row[2][0], key="least"),
            column("to", "", lambda row: row[2][1], key="greatest"),
            column("Handbook", "", lambda row: row[3], key="handbook"),
        ],
    )


def _tests_table(fit: Fit) -> Table:
    """Every test as it was fitted."""
    return table(
        "tests",
        "Tests",
        fit.points,
        [
            column("Line", "", "line", show=str),
            words("Bar", get=lambda point: point.bar or "-", key="bar"),
            column("Amplitude", "MPa", "amplitude_MPa", show=whole),
            column("Mean", "MPa", "mean_MPa", show=whole),
            column("Reversed", "MPa", "reversed_MPa", show=whole),
            column("Cycles", "", "cycles", show=whole),
            words("Result", get=lambda point: "broken" if point.broken else "stopped", key="result"),
            words("Where", get=lambda point: point.where or "-", key="where"),
        ],
    )


@printing
def print_fit(console: Console, fit: Fit) -> None:
    """Print the fit."""
    broken = len(fit.points) - fit.stopped
    size = "" if fit.diameter_mm is None else f", diameter {fit.diameter_mm:g} mm"
    paragraph(
        console,
        f"{counted(len(fit.points), 'bar')}, {broken} broken and {fit.stopped} stopped: {fit.skin.text}{size}.",
    )
    console.print()
    print_table(console, _result_table(fit))
    console.print()
    paragraph(console, _beside(fit))
    titled_table(console, _tests_table(fit))
    listed(console, "Warnings", fit.warnings)
    listed(console, "Assumptions", (*fit.assumptions, f"prior: {fit.prior}", _method(fit)))
    listed(console, "Caution", (CAUTION,))


def _beside(fit: Fit) -> str:
    """One sentence on tests and handbook."""
    if fit.handbook is None:
        return "No steel was given (--bar, or --grade and --condition): no handbook's line stands beside."
    ratio = fit.line.strength_MPa / fit.handbook.strength_MPa
    where = "above" if ratio >= 1.0 else "below"
    inside = fit.line.strength_90[0] <= fit.handbook.strength_MPa <= fit.line.strength_90[1]
    return (
        f"The tests lie {abs(100.0 * (ratio - 1.0)):.0f} % {where} the handbook's estimate ({fit.handbook.of}), which "
        f"is {'inside' if inside else 'outside'} their interval."
    )


def _method(fit: Fit) -> str:
    if fit.prior == "none":
        return (
            "numbers of greatest likelihood; intervals by the posterior that is flat in the line and in log deviation"
        )
    likely = fit.line.most_likely
    alone = (
        "the tests alone have no most likely line"
        if likely is None
        else f"without the prior the most likely line has {significant(likely[1])} MPa, k {significant(likely[0])}, "
        f"deviation {significant(likely[2], 2)}"
    )
    return f"numbers are medians of what tests and prior say together; {alone}"
