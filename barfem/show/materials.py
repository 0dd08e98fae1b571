"""What `barfem materials` prints, and the same as tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from barfem.model.material_table import Condition, GradeTable, Quantity
from barfem.model.surfaces import DEFAULT_BORE_SURFACE, DEFAULT_SURFACE, SURFACES
from barfem.show.console import HEAD, print_table, wrap
from barfem.show.numbers import NONE, significant, whole
from barfem.show.parts import heading, paragraph, printing, titled_table
from barfem.show.tables import Cell, Table, column, table, words

__all__ = ["condition_table", "grades_table", "print_grade", "print_grades", "surfaces_table"]

Row = tuple[str, str, str]


@printing
def print_grades(console: Console, tables: Iterable[GradeTable]) -> None:
    """Print a line a condition of every grade."""
    made = grades_table(tables)
    print_table(console, made)
    console.print()
    for remark in made.remarks:
        paragraph(console, remark)


def grades_table(tables: Iterable[GradeTable]) -> Table:
    """Every condition of every grade with its strengths."""
    rows = [
        (grade.grade, i, name, condition)
        for grade in tables
        for i, (name, condition) in enumerate(grade.conditions.items())
    ]
    typical = any(condition.typical for *_, condition in rows)
    return table(
        "grades",
        "Grades",
        rows,
        [
            words("Grade", lambda row: Cell("" if row[1] else row[0], row[0])),
            words("Condition", lambda row: row[2]),
            column("Yield", "MPa", lambda row: _strength(row[3].yield_strength)),
            column("Tensile", "MPa", lambda row: _strength(row[3].tensile_strength)),
            column("Hardness", "", lambda row: row[3].hardness.text if row[3].hardness else None),
        ],
        "Strengths are the minimum of the condition" + ("; ~ marks a typical value." if typical else "."),
        "In the bar file: [material] grade = ... and condition = ..., spelled as here. barfem materials GRADE "
        'shows the sources, and where to copy the table from. A steel that is not here: grade = "custom" with '
        "its five numbers, or a table of your own beside the bar file.",
    )


@printing
def print_grade(console: Console, grade: GradeTable, path: Path) -> None:
    """Print one grade, every number with its source; `path` is its table's."""
    others = [name for name in grade.names if name != grade.grade]
    console.print(Text(grade.grade + (f" ({', '.join(others)})" if others else ""), style=HEAD))
    paragraph(console, f"{grade.standard}. Table: {path}")
    if grade.note:
        paragraph(console, f"Note: {grade.note}.")
    elastic = [
        (title, f"{f'{one.value:g}' if one.value < 1.0 else whole(one.value)} {unit}".strip(), one.source)
        for title, one, unit in (("E", grade.E, "MPa"), ("nu", grade.nu, ""), ("density", grade.density, "kg/m3"))
    ]
    titled_table(console, _values("elastic", "All conditions", elastic))
    for name, condition in grade.conditions.items():
        made = condition_table(name, condition)
        heading(console, made.title)
        paragraph(console, made.remarks[0])
        print_table(console, made)
    heading(console, "Sources")
    for key, text in grade.sources.items():
        for line in wrap(text, console.width, first=f"  {key}: ", then="    "):
            console.print(Text(line))
    titled_table(console, surfaces_table())


def condition_table(name: str, condition: Condition) -> Table:
    """Every number of a condition with the key of its source; the first remark says what it is."""
    description = condition.description + (f" ({condition.form} only)" if condition.form else "")
    return _values("condition", f'condition = "{name}"', list(_rows(condition)), description)


def _values(name: str, title: str, rows: Sequence[Row], *remarks: str) -> Table:
    return table(
        name,
        title,
        rows,
        [
            words("Quantity", lambda row: row[0]),
            column("Value", "", lambda row: row[1]),
            words("Source", lambda row: row[2]),
        ],
        *remarks,
    )


def _rows(condition: Condition) -> Iterator[Row]:
    for title, quantity, unit in (
        ("yield strength", condition.yield_strength, "MPa"),
        ("tensile strength", condition.tensile_strength, "MPa"),
        ("elongation", condition.elongation, "%"),
    ):
        if quantity:
            upper = f" to {whole(quantity.upper)}" if quantity.upper else ""
            number = f"{quantity.value:g}" if unit == "%" else whole(quantity.value)
            typical = "; typical, not a minimum" if quantity.typical else ""
            yield title, f"{number}{upper} {unit}", quantity.source + typical
    if condition.hardness:
        yield "hardness", condition.hardness.text, condition.hardness.source
    if c := condition.cyclic:
        for title, value in (
            ("strain-life: E of the fit", f"{whole(c.E)} MPa"),
            ("  tensile strength tested", f"{whole(c.tensile_strength)} MPa"),
            ("  fatigue strength coefficient", f"{whole(c.fatigue_strength_coefficient)} MPa"),
            ("  fatigue strength exponent", f"{c.fatigue_strength_exponent:g}"),
            ("  fatigue ductility coefficient", f"{c.fatigue_ductility_coefficient:g}"),
            ("  fatigue ductility exponent", f"{c.fatigue_ductility_exponent:g}"),
            ("  cyclic strength coefficient", f"{whole(c.cyclic_strength_coefficient)} MPa"),
            ("  cyclic hardening exponent", significant(c.cyclic_hardening_exponent)),
        ):
            if not value.startswith(NONE + " ") and value != NONE:
                yield title, value, c.source
    if line := condition.stress_life:
        yield "stress-life tests", f"{significant(line.strength, 4)} MPa at {line.cycles:.0e} cycles", line.source
        yield "  exponent", f"{line.exponent:g}", line.source
        yield "  tested", line.skin.title + (f", {line.diameter:g} mm" if line.diameter else ""), line.source
        yield "  tensile strength tested", f"{whole(line.tensile_strength)} MPa", line.source
        yield "  endurance limit at 1e6", "shown" if line.knee else "none shown", line.source
    if spread := condition.scatter:
        if spread.strength_deviation is not None:
            yield "standard deviation of strength", f"{100.0 * spread.strength_deviation:.1f} %", spread.source
        else:
            yield "standard deviation of log10 life", f"{spread.log10_life_deviation:g}", spread.source


def surfaces_table() -> Table:
    """The finishes that a bar file may name, from worst to best."""
    default = {DEFAULT_SURFACE: " (default)", DEFAULT_BORE_SURFACE: " (default of a bore)"}
    return table(
        "surfaces",
        "surface = ... (any grade; from worst to best)",
        SURFACES.values(),
        [
            words("Name", lambda each: Cell(f'"{each.name}"', each.name)),
            words("What it is", lambda each: each.description + default.get(each.name, "")),
        ],
    )


def _strength(quantity: Quantity) -> Cell:
    return Cell(("~" if quantity.typical else "") + whole(quantity.value), quantity.value)
