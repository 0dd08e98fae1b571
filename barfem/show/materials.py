"""What `barfem materials` prints."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TextIO

from rich.console import Console
from rich.text import Text

from barfem.model.material_table import Condition, MaterialTable, Quantity
from barfem.model.surfaces import DEFAULT_BORE_SURFACE, DEFAULT_SURFACE, SURFACES
from barfem.show.console import HEAD, make_console, plain_table, wrap
from barfem.show.numbers import NO_BREAK, NONE, significant, whole

__all__ = ["print_grade", "print_grades"]


def print_grades(tables: Iterable[MaterialTable], stream: TextIO | None = None) -> None:
    """A line a condition of every grade."""
    stream = sys.stdout if stream is None else stream
    console = make_console(stream)
    table = plain_table("grade", "condition", "yield\nMPa", "tensile\nMPa", "hardness", first_left=2)
    typical = False
    for grade in tables:
        for i, (name, condition) in enumerate(grade.conditions.items()):
            typical |= condition.typical
            table.add_row(
                grade.grade if i == 0 else "",
                name,
                _strength(condition.yield_strength),
                _strength(condition.tensile_strength),
                condition.hardness.text if condition.hardness else NONE,
            )
    with console.capture() as capture:
        console.print(table)
        console.print()
        _paragraph(
            console, "Strengths are the minimum of the condition" + ("; ~ marks a typical value." if typical else ".")
        )
        _paragraph(
            console,
            "In the bar file: [material] grade = ... and condition = ..., spelled as here. barfem materials GRADE "
            'shows the sources, and where to copy the table from. A steel that is not here: grade = "custom" with '
            "its five numbers, or a table of your own beside the bar file.",
        )
    _write(stream, capture.get())


def print_grade(table: MaterialTable, path: Path, stream: TextIO | None = None) -> None:
    """One grade: every number of every condition with its source; then the surfaces there are."""
    stream = sys.stdout if stream is None else stream
    console = make_console(stream)
    with console.capture() as capture:
        others = [name for name in table.names if name != table.grade]
        console.print(Text(table.grade + (f" ({', '.join(others)})" if others else ""), style=HEAD))
        _paragraph(console, f"{table.standard}. Table: {path}")
        if table.note:
            _paragraph(console, f"Note: {table.note}.")
        elastic = plain_table("all conditions", "value", "source")
        elastic.columns[2].justify = "left"
        for title, quantity, unit in (("E", table.E, "MPa"), ("nu", table.nu, ""), ("density", table.density, "kg/m3")):
            value = f"{quantity.value:g}" if quantity.value < 1.0 else whole(quantity.value)
            elastic.add_row(title, f"{value} {unit}".strip(), quantity.source)
        console.print()
        console.print(elastic)
        for name, condition in table.conditions.items():
            _condition(console, name, condition)
        _section(console, "Sources")
        for key, text in table.sources.items():
            for line in wrap(text, console.width, first=f"  {key}: ", then="    "):
                console.print(line, no_wrap=True, overflow="ignore", crop=False)
        _surfaces(console)
    _write(stream, capture.get())


def _condition(console: Console, name: str, condition: Condition) -> None:
    _section(console, f'condition = "{name}"')
    _paragraph(console, condition.description + (f" ({condition.form} only)" if condition.form else ""))
    rows = plain_table("quantity", "value", "source")
    rows.columns[2].justify = "left"
    for title, quantity, unit in (
        ("yield strength", condition.yield_strength, "MPa"),
        ("tensile strength", condition.tensile_strength, "MPa"),
        ("elongation", condition.elongation, "%"),
    ):
        if quantity:
            upper = f" to {whole(quantity.upper)}" if quantity.upper else ""
            number = f"{quantity.value:g}" if unit == "%" else whole(quantity.value)
            rows.add_row(
                title,
                f"{number}{upper} {unit}",
                quantity.source + ("; typical, not a minimum" if quantity.typical else ""),
            )
    if condition.hardness:
        rows.add_row("hardness", condition.hardness.text, condition.hardness.source)
    if condition.cyclic:
        c = condition.cyclic
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
                rows.add_row(title, value, c.source)
    if condition.stress_life:
        line = condition.stress_life
        for title, value in (
            ("stress-life tests", f"{significant(line.strength, 4)} MPa at {line.cycles:.0e} cycles"),
            ("  exponent", f"{line.exponent:g}"),
            ("  tested", line.skin.title + (f", {line.diameter:g} mm" if line.diameter else "")),
            ("  tensile strength tested", f"{whole(line.tensile_strength)} MPa"),
            ("  endurance limit at 1e6", "shown" if line.knee else "none shown"),
        ):
            rows.add_row(title, value, line.source)
    if condition.scatter:
        spread = condition.scatter
        rows.add_row(
            "standard deviation " + ("of strength" if spread.strength_deviation is not None else "of log10 life"),
            f"{spread.strength_deviation:.1%}"
            if spread.strength_deviation is not None
            else f"{spread.log10_life_deviation:g}",
            spread.source,
        )
    console.print(rows)


def _surfaces(console: Console) -> None:
    _section(console, "surface = ... (any grade; from worst to best)")
    table = plain_table("name", "what it is", first_left=2)
    for surface in SURFACES.values():
        default = {DEFAULT_SURFACE: " (default)", DEFAULT_BORE_SURFACE: " (default of a bore)"}.get(surface.name, "")
        table.add_row(f'"{surface.name}"', surface.description + default)
    console.print(table)


def _strength(quantity: Quantity) -> str:
    return ("~" if quantity.typical else "") + whole(quantity.value)


def _section(console: Console, title: str) -> None:
    console.print()
    console.print(Text(title, style=HEAD))


def _paragraph(console: Console, text: str) -> None:
    for line in wrap(text, console.width):
        console.print(line, no_wrap=True, overflow="ignore", crop=False)


def _write(stream: TextIO, text: str) -> None:
    stream.write(re.sub(r"[ ]+$", "", text.replace(NO_BREAK, " "), flags=re.MULTILINE))
    stream.flush()
