"""What `barfem life` prints: each factor on its own line, then the life; and the same as tables."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console

from barfem.model.sentences import with_capital
from barfem.show.console import BAD, print_table
from barfem.show.lives import NO_LIFE, one_life
from barfem.show.numbers import NONE, significant
from barfem.show.parts import listed, paragraph, printing
from barfem.show.tables import Cell, Table, column, table, words
from barfem.strength.fatigue.flaws import FLAW_MEAN_SOURCE, FLAW_MEAN_WORDS
from barfem.strength.fatigue.hand_estimate import LifeEstimate

__all__ = ["life_tables", "print_life"]

Row = tuple[str, float | Cell | None, str, str]


@printing
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
        paragraph(console, f"{with_capital(reason)}.", BAD)
    listed(console, "Warnings", estimate.warnings)


def life_tables(estimate: LifeEstimate) -> list[Table]:
    """What the life rests on, each number with its source; and the life."""
    inputs, found = estimate.inputs, estimate.life
    given: list[Row] = [
        ("stress amplitude", inputs.amplitude_MPa, "MPa", "as given"),
        ("mean stress", inputs.mean_MPa, "MPa", "as given"),
        *((each.name, float(each.value), each.unit, each.source) for each in estimate.factors),
    ]
    answer: list[Row] = [*_felt(estimate), ("safety factor", found.safety_factor, "", _limited(estimate))]
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


def _felt(estimate: LifeEstimate) -> Iterator[Row]:
    """What the steel and its skin feel of the load, and which of them decides."""
    found, rule, steel = estimate.life, estimate.rule, estimate.tensile_MPa
    equivalent, flaw = found.equivalent_amplitude_MPa, estimate.flaw_MPa
    if abs(found.mean_used_MPa - estimate.inputs.mean_MPa) > 1e-9:
        left = estimate.residual_left_MPa
        yield "mean stress used", found.mean_used_MPa, "MPa", f"residual stress added, {left:.1f} MPa after the load"
    nothing = ", compression earns nothing" if _earns_nothing(estimate) else ""
    by_rule = f"{rule.method}{nothing}: {'amplitude' if nothing else rule.criterion.formula}; {rule.criterion.source}"
    surplus = -estimate.residual_left_MPa - max(estimate.inputs.mean_MPa, 0.0)
    pressed = surplus > 0.0 and steel is not None and not rule.criterion.signed
    if equivalent is None or (flaw is None and not pressed):
        yield "equivalent amplitude", equivalent, "MPa", by_rule
        return
    if pressed:
        by_rule = f"{rule.method}, without tension; compression beyond the mean, {surplus:.1f} MPa, earns amplitude / "
        by_rule += "(1 + compression / tensile strength), and no more than the steel under it stands (ours)"
    yield "felt by sound steel", estimate.sound_MPa, "MPa", by_rule
    if flaw is None:
        yield "equivalent amplitude", equivalent, "MPa", "that of sound steel: there is no flaw"
        return
    own = f"{FLAW_MEAN_WORDS}, of the stress across it, with residual stress at its depth; {FLAW_MEAN_SOURCE}"
    yield "felt by the flaw", flaw, "MPa", own if rule.criterion.leaves_flaws else f"{rule.method}, asked for by name"
    which = "the flaw" if abs(equivalent - flaw) <= 1e-9 * flaw else "sound steel"
    yield "equivalent amplitude", equivalent, "MPa", f"the worse of both by equal life, on this skin's line: {which}"


def _earns_nothing(estimate: LifeEstimate) -> bool:
    """Whether the load's mean is compression, which the rule gives no credit for."""
    return estimate.inputs.mean_MPa < 0.0 and not estimate.residual_MPa and not estimate.rule.criterion.signed


def _limited(estimate: LifeEstimate) -> str:
    """What the safety factor is, or why there is none."""
    limit = estimate.endurance_limit_MPa
    if limit is None:
        return "there is no endurance limit"
    if estimate.life.safety_factor is None:
        return "no load reaches the limit"
    if estimate.rule.method != "goodman":
        return (
            f"growth of amplitude and mean alike until the equivalent amplitude is the endurance limit, {limit:.1f} MPa"
        )
    earned = ", with what residual stress earns" if estimate.residual_MPa else ""
    formula = "1 / (amplitude / endurance limit + mean / tensile strength), Shigley Eq. 6-46"
    if _earns_nothing(estimate):
        formula = "endurance limit / amplitude: a mean of compression earns nothing"
    return f"{formula}; the limit of this skin is {limit:.1f} MPa{earned}"


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
