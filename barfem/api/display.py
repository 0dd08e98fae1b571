"""What a bar and a check show of themselves in a notebook or at a prompt; whatever the bar file says is escaped."""

from __future__ import annotations

import io
from dataclasses import replace
from html import escape

from barfem.check.result import CheckResult
from barfem.model.bar import Bar, End

__all__ = ["bar_html", "bar_text", "check_html", "check_text"]

LEFT = 'style="text-align:left"'


def bar_lines(bar: Bar) -> list[tuple[str, str]]:
    """(what, words) of a bar, lengths in mm."""
    from barfem.check.api import describe, describe_case
    from barfem.model.bar_geometry import mass_kg
    from barfem.model.load_case import ROLL
    from barfem.show.numbers import printable, significant, whole

    steel, body = describe(bar)[:2]
    size = f"developed length {whole(bar.centreline.length_mm)} mm, mass {significant(mass_kg(bar))} kg"
    lines = [("steel", steel), ("body", body), ("", printable(size))]
    if bar.right.holes == bar.left.holes or _holes(bar.right) == _holes(bar.left):
        lines.append(("holes", _holes(bar.left)))
    else:
        lines += [("holes, left", _holes(bar.left)), ("holes, right", _holes(bar.right))]
    lines.append(("travel", describe_case(bar, ROLL.name)))
    if bar.warnings:
        lines.append(("warnings", str(len(bar.warnings))))
    return lines


def _holes(end: End) -> str:
    return ", ".join(f"{hole.name} at {hole.from_tip_mm:g} mm" for hole in end.holes) + " from the tip"


def bar_text(bar: Bar) -> str:
    """A bar in a few lines of plain text, lengths in mm."""
    return "\n".join([bar.name, *(f"  {what + ': ' if what else ''}{words}" for what, words in bar_lines(bar))])


def bar_html(bar: Bar) -> str:
    """A bar as a small table, lengths in mm; names are escaped."""
    rows = "".join(
        f"<tr><th {LEFT}>{escape(what)}</th><td {LEFT}>{escape(words)}</td></tr>" for what, words in bar_lines(bar)
    )
    return f"<div><strong>{escape(bar.name)}</strong><table>{rows}</table></div>"


def check_text(result: CheckResult) -> str:
    """Name, hole settings and verdict as plain text, units in the headings."""
    from barfem.show.console import make_console, print_table
    from barfem.show.notes import verdict
    from barfem.show.numbers import printable
    from barfem.show.table import settings_tables

    console = make_console(io.StringIO())
    with console.capture() as capture:
        for made in settings_tables(result):
            console.print(made.title)
            print_table(console, made)
    return printable(
        "\n".join(line.rstrip() for line in f"{result.name}\n{capture.get()}{verdict(result)}".split("\n"))
    )


def check_html(result: CheckResult) -> str:
    """Name, verdict and hole settings as HTML, units in the headings; whatever the bar file says is escaped."""
    from barfem.show.notes import verdict
    from barfem.show.reasons import reasons
    from barfem.show.report.html_table import prose, table_in_notebook
    from barfem.show.table import settings_tables

    parts = [f"<strong>{escape(result.name)}</strong>"]
    parts += [table_in_notebook(replace(made, remarks=())) for made in settings_tables(result)]
    parts.append(f"<p><strong>{escape(verdict(result))}</strong></p>")
    why = "".join(f"<li>{escape(prose(line))}</li>" for line in reasons(result.settings))
    if why:
        parts.append(f"<ul>{why}</ul>")
    parts.append(
        f"<p>{_counted(len(result.warnings), 'warning')}, {_counted(len(result.assumptions), 'assumption')}: read them "
        "before acting.</p>"
    )
    return f"<div>{''.join(parts)}</div>"


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
