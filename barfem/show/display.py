"""What a bar and every result show of themselves in a notebook or at a prompt; whatever a file says is escaped.

One table, by the name of the record: a result that is to show itself is an entry here, and a `Shown`.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from html import escape
from typing import Any

from barfem.check.result import CheckResult
from barfem.model.bar import Bar, End
from barfem.model.errors import InputError
from barfem.show.by_name import function
from barfem.show.figures.picture import Picture
from barfem.show.figures.plot import plot_of

__all__ = ["html", "pictures", "plot_of", "text"]

LEFT = 'style="text-align:left"'


def bar_lines(bar: Bar) -> list[tuple[str, str]]:
    """(what, words) of a bar, lengths in mm."""
    from barfem.check.api import describe, describe_case, look_twice
    from barfem.model.bar_geometry import mass_kg
    from barfem.model.load_case import ROLL
    from barfem.show.numbers import printable, significant, whole

    steel, body = describe(bar)[:2]
    size = f"developed length {whole(bar.centreline.length_mm)} mm, mass {significant(mass_kg(bar))} kg"
    lines = [("look twice", text) for text in look_twice(bar)]
    lines += [("steel", steel), ("body", body), ("", printable(size))]
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
    from barfem.show.numbers import counted
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
        f"<p>{counted(len(result.warnings), 'warning')}, {counted(len(result.assumptions), 'assumption')}: read them "
        "before acting.</p>"
    )
    return f"<div>{''.join(parts)}</div>"


def _printed(result: Any, home: str) -> str:
    """What the command prints of a result, by the function at `home`."""
    stream = io.StringIO()
    function(home)(result, stream=stream)
    return stream.getvalue().rstrip()


_SPECIAL: dict[str, tuple[Callable[[Any], str], Callable[[Any], str]]] = {
    "Bar": (bar_text, bar_html),
    "CheckResult": (check_text, check_html),
}
"""Text and HTML of what no command prints just so."""

_PRINTED = {
    "Comparison": "compare:print_comparison",
    "HolePlan": "holes:print_holes",
    "ToleranceResult": "tolerance:print_tolerance",
    "CarResult": "car.tables:print_car",
    "BalanceResult": "car.balance:print_balance",
    "Inspection": "inspect:print_inspection",
}
"""The function that prints a result, by the name of its record."""

_PICTURES = {
    "CheckResult": "figures.catalogue:pictures_of_check",
    "Comparison": "compare_picture:comparison_pictures",
    "ToleranceResult": "tolerance_picture:tolerance_picture",
    "BalanceResult": "car.balance_map:balance_map",
}
"""The function that makes a result's figure or figures."""


def text(result: Any) -> str:
    """A record as plain text, as its command prints it; units in the headings."""
    name = type(result).__name__
    return _SPECIAL[name][0](result) if name in _SPECIAL else _printed(result, _PRINTED[name])


def html(result: Any) -> str:
    """A record for a notebook; whatever a file says is escaped."""
    name = type(result).__name__
    return _SPECIAL[name][1](result) if name in _SPECIAL else f"<pre>{escape(text(result))}</pre>"


def pictures(result: Any) -> tuple[Picture, ...]:
    """The figures that a record has numbers for.

    Raises
    ------
    InputError
        There are none of its kind, or it holds its numbers alone.
    """
    home = _PICTURES.get(type(result).__name__)
    if home is None:
        raise InputError("there are no figures of this.", where="plot", expected=f"one of {', '.join(_PICTURES)}.")
    made = function(home)(result)
    return (made,) if isinstance(made, Picture) else tuple(made)
