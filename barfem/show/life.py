"""What `barfem life` prints: each factor on its own line, then the life; and the same as tables."""

from __future__ import annotations

from rich.console import Console

from barfem.show.console import BAD, print_table
from barfem.show.lives import NO_LIFE, one_life
from barfem.show.numbers import NONE, significant
from barfem.show.parts import listed, paragraph, printing
from barfem.show.tables import Cell, Table, column, table, words
from barfem.strength.fatigue.hand_estimate import LifeEstimate

__all__ = ["life_tables", "print_life"]

Row = tuple[str, float | Cell | None, str, str]


@printing()
def print_life(console: Console, estimate: LifeEstimate) -> None:
    """Print the estimate."""
    for i, made in enumerate(life_tables(estimate)):
        if i:
            console.print()
        print_table(console, made)
    if estimate.compared is not None:
        console.print()
        paragraph(console, f"Compared with tests of this kind of skin: {estimate.compared}.")
    reason = estimate.life.reason
    if reason:
        console.print()
        paragraph(console, f"{reason[0].upper()}{reason[1:]}.", BAD)
    listed(console, "Warnings", estimate.warnings)


def life_tables(estimate: LifeEstimate) -> list[Table]:
    """What the life rests on, each number with its source; and the life."""
    inputs, found, rule = estimate.inputs, estimate.life, estimate.rule
    given: list[Row] = [
        ("stress amplitude", inputs.amplitude_MPa, "MPa", "as given"),
        ("mean stress", inputs.mean_MPa, "MPa", "as given"),
        *((each.name, float(each.value), each.unit, each.source) for each in estimate.factors),
    ]
    answer: list[Row] = []
    if abs(found.mean_used_MPa - inputs.mean_MPa) > 1e-9:
        answer.append(("mean stress used", found.mean_used_MPa, "MPa", "residual stress added"))
    by_rule = f"{rule.method}: {rule.criterion.formula}; {rule.criterion.source}"
    answer.append(("equivalent amplitude", found.equivalent_amplitude_MPa, "MPa", by_rule))
    limited = "against the endurance limit, amplitude and mean in constant ratio"
    if found.safety_factor is None:
        limited = "there is no endurance limit" if estimate.endurance_limit_MPa is None else "no load reaches the limit"
    answer.append(("safety factor", found.safety_factor, "", limited))
    at_survival = f"life at {100 * inputs.survival:g} % survival"
    for name, cycles, runout, remark in (
        ("life, median", found.life_cycles, found.runout, "half of all bars last longer"),
        (at_survival, found.life_at_survival_cycles, found.runout_at_survival, "two figures are the most that count"),
    ):
        shown = Cell(one_life(cycles, runout=runout), cycles)
        answer.append(
            (
                name,
                shown,
                "cycles",
                remark if cycles is not None else "nothing more is claimed" if runout else "see below",
            )
        )
    return [_table("factors", "What it rests on", given), _table("life", "Life", answer)]


def _table(name: str, title: str, rows: list[Row]) -> Table:
    def unit(row: Row) -> str:
        none = row[1] is None or (isinstance(row[1], Cell) and row[1].text == NO_LIFE)
        return "" if none else row[2]

    return table(
        name,
        title,
        rows,
        [
            words("What", lambda row: row[0]),
            column("Value", "", lambda row: row[1], show=lambda value: significant(value, 4)),
            words("Unit", lambda row: unit(row)),
            words("Source", lambda row: row[3] or NONE),
        ],
    )
