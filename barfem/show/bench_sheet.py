"""The test sheet as PDF: what is tested, strokes, forces and strains to expect, how many bars, when to stop."""

from __future__ import annotations

from barfem.check.bench import BenchRow, Gauge, bench_rows, gauge_of
from barfem.check.plan import ProofPlan, TestedPair, rounded_up
from barfem.model.bar import Bar, drawing_words
from barfem.model.errors import InputError
from barfem.model.grouped import percent
from barfem.show.numbers import printable, whole
from barfem.show.paper_table import PaperTable, paper_pdf
from barfem.study.bands import rate_band

__all__ = ["bench_sheet_pdf"]

NOTES = (
    "Ends: travel of each pickup from rest, at both ends of the cycle, up +. As in the car: both ends move at once. "
    "Right end held: the left one moves as far as gives the same force. Forces are without preload and friction; a "
    "link that leans carries somewhat more along itself. Write which rig was used.",
    "Gauge at 45 deg: +45 is right-handed about the outward direction, from the axis towards the left tip. Strains are "
    "changes from rest, in microstrain; torsion shows as their difference. If more than 5 % off, find out why first.",
    "Frequency: below 3 Hz, and the bar below 50 C where it is touched (common practice, no source).",
    "Stop: force down by 10 %; a crack; a clamp or bushing that slips. Record: bar number, cycles, place and picture "
    "of the break, force at start and every 10 000 cycles, strain at start, temperature, rig.",
    "A tested bar never goes on a car. Expected values are estimates: the test decides. Licensed practice and local "
    "rules apply.",
)

BLOCKS = (
    "Lives are in repeats of the duty's blocks, not in cycles of full travel. A block's travel is that of the left "
    "pickup as in the car, the right one's as at full travel; with the right end held it grows in the proportion that "
    "full travel does."
)


def bench_sheet_pdf(bar: Bar, plan: ProofPlan, tested: TestedPair) -> bytes:
    """The sheet; the same bar and plan give the same bytes.

    Raises
    ------
    InputError, BarfemError
        No travel; a hole pair cannot follow its stroke.
    """
    if bar.travel.up_mm <= 0.0:
        raise InputError(
            "the bar has no travel to test.", where="[travel]", expected="pickup = 40.0 (mm).", file=bar.source
        )
    try:
        gauge = gauge_of(bar)
    except InputError:
        gauge = None
    rows = bench_rows(bar, gauge or Gauge(bar.middle_mm, 0.0, "", 0.0))
    named = drawing_words(bar.drawing, bar.revision)
    head = (
        f"Test of {bar.name}",
        f"Drawing {named or '-'}. {tested.words}",
        "Bar no. ____________   Date ____________   Rig ____________   Tested by ______________",
    )
    tables = [_forces(bar, rows)]
    if gauge is not None:
        tables.append(_strain_table(gauge, rows))
    tables.append(_bars(plan))
    return paper_pdf(head, tables, NOTES if tested.one_repeat is None else (BLOCKS, *NOTES))


def _forces(bar: Bar, rows: tuple[BenchRow, ...]) -> PaperTable:
    low, high, _ = rate_band(bar)
    return PaperTable(
        ("Hole", "Rig", "Left end mm", "Right end mm", "Force N", "Band N", "Measured N", "Rate N/mm"),
        (14, 28, 29, 29, 17, 29, 23, 21),
        tuple(
            (
                row.hole,
                row.rig,
                _travel(row.left_mm),
                _travel(row.right_mm),
                printable(whole(row.force_N)),
                f"{printable(whole(row.force_N * (1 + low)))} to {printable(whole(row.force_N * (1 + high)))}",
                "",
                "",
            )
            for row in rows
        ),
        "Travel of both ends over the cycle; force along the travel at the left one, at the first figure",
    )


def _travel(ends: tuple[float, float]) -> str:
    """Of one pickup over a cycle: "+40 to -40", "held"."""
    return " to ".join(f"{round(end, 1) + 0:+g}" for end in ends) if any(ends) else "held"


def _strain_table(gauge: Gauge, rows: tuple[BenchRow, ...]) -> PaperTable:
    return PaperTable(
        ("Hole", "Rig", "Stroke", "Along", "+45 deg", "-45 deg", "Meas. along", "+45 deg", "-45 deg"),
        (16, 28, 16, 20, 20, 20, 24, 23, 23),
        tuple(
            (row.hole, row.rig, f"{100 * share:.0f} %", *(f"{round(each) + 0:d}" for each in strains), "", "", "")
            for row in rows
            for share, *strains in row.strains
        ),
        f"Gauge: {gauge.where}, {gauge.station_mm:.0f} mm from the right tip "
        f"({round(gauge.from_middle_mm) + 0:+d} from the middle); strains in microstrain",
    )


def _bars(plan: ProofPlan) -> PaperTable:
    return PaperTable(
        ("Bars", f"None fails before, {plan.unit}", "Or all fail, mean at least", f"{plan.unit.capitalize()} reached"),
        (20, 55, 55, 60),
        tuple(
            (
                str(row.bars),
                printable(whole(rounded_up(row.life))),
                printable(whole(rounded_up(row.mean_life_if_failed))),
                "",
            )
            for row in plan.rows
        ),
        f"To show {printable(whole(plan.target))} {plan.unit} at {percent(plan.survival)} survival, "
        f"{percent(plan.confidence)} confidence: one row, chosen before the test",
    )
