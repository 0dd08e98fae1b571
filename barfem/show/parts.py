"""Pieces that the tables of studies share: headings, paragraphs, bullets, and cells of a hole setting."""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from functools import wraps
from typing import Any, TextIO

from rich.console import Console
from rich.text import Text

from barfem.check.fatigue import Fatigue
from barfem.check.hole_names import pair_name
from barfem.check.lives import DutyLife
from barfem.check.result import CheckResult, SettingResult
from barfem.model.bar import Bar
from barfem.show.console import BAD, GOOD, HEAD, make_console, print_table, wrap
from barfem.show.lives import NO_LIFE, life_cell, one_life
from barfem.show.numbers import NONE, printable, whole
from barfem.show.tables import Cell, Entry, Table, paths, table, words
from barfem.strength.fatigue.life import Life
from barfem.study.evaluation import Evaluation

__all__ = [
    "NOTHING_GOVERNS",
    "bullets",
    "change_cell",
    "cycles_cell",
    "drawn",
    "evaluated_life",
    "evaluated_life_heading",
    "heading",
    "hole_columns",
    "hole_name",
    "last_line",
    "listed",
    "paragraph",
    "place",
    "printing",
    "repeats_cell",
    "settings_table",
    "stop",
    "targets_words",
    "titled_table",
    "unjudged_factors_words",
    "warned_and_assumed",
]

NOTHING_GOVERNS = "The bar feels nothing at any hole setting judged: no place governs."


def printing(write: Callable[..., None]) -> Callable[..., None]:
    """Makes what prints on a console, its first argument, print on `stream`, standard output by default.

    Nothing goes out before all is made.
    """

    @wraps(write)
    def printed(*given: Any, stream: TextIO | None = None, **named: Any) -> None:
        stream = sys.stdout if stream is None else stream
        stream.write(drawn(make_console(stream), write, *given, **named))
        stream.flush()

    return printed


def drawn(console: Console, write: Callable[..., None], *given: Any, **named: Any) -> str:
    """What `write` prints on a console, for its stream, which gets nothing yet."""
    with console.capture() as capture:
        write(console, *given, **named)
    return re.sub(r"[ ]+$", "", printable(capture.get()), flags=re.MULTILINE)


def heading(console: Console, title: str) -> None:
    """A line of space, and the title."""
    console.print()
    paragraph(console, title, style=HEAD)


def paragraph(console: Console, text: str, style: str = "", *, first: str = "", then: str = "") -> None:
    """Text, each of its lines but the first after `then`."""
    _lines(console, wrap(text, console.width, first=first, then=then), style)


def _lines(console: Console, lines: Sequence[str], style: str = "") -> None:
    """Print lines at once: each call of the console's costs as much as ten lines."""
    if lines:
        console.print(Text("\n".join(lines), style=style))


def last_line(console: Console, text: str, *, good: bool) -> None:
    """The line that stands above the prompt, whole however narrow the screen is: it is one line of the output."""
    console.print(Text(text, style=GOOD if good else BAD), soft_wrap=True)


def titled_table(console: Console, made: Table) -> None:
    """A table under its title, its remarks below it."""
    heading(console, made.title)
    print_table(console, made)
    for line in made.remarks:
        paragraph(console, line)


def bullets(console: Console, lines: Iterable[str]) -> None:
    _lines(console, [line for text in lines for line in wrap(text, console.width, first="- ", then="  ")])


def listed(console: Console, title: str, lines: Collection[str]) -> None:
    """Bullets under a heading, where there are any."""
    if lines:
        heading(console, title)
        bullets(console, lines)


def warned_and_assumed(console: Console, found: Any, *, assumed: bool = True) -> None:
    """The last headings of a result: its `warnings`, where there are any, and its `assumptions`."""
    listed(console, "Warnings", found.warnings)
    listed(console, "Assumed", found.assumptions if assumed else ())


def stop(text: str) -> str:
    """The sentence with its full stop."""
    return text if text.endswith((".", "!", "?")) else text + "."


def place(where: str, surface: str) -> str:
    """A place in words; the outside surface goes without saying, the bore does not."""
    return where if surface in ("", "outside") else f"{where} ({surface})"


def hole_name(setting: SettingResult) -> str:
    """A hole setting in a cell: "1", or left and right "1/2"."""
    return pair_name(setting.left, setting.right)


def hole_columns(result: CheckResult) -> list[Entry]:
    """The first columns of a table with a row a hole setting: its holes, and its load case where there are several."""
    several = len({setting.case for setting in result.settings}) > 1
    return [
        words("Hole", hole_name, key=""),
        *([words("Case", "case", key="")] if several else []),
        *paths("left", "right", "case"),
    ]


def settings_table(result: CheckResult, name: str, title: str, columns: Sequence[Entry], *remarks: str) -> Table:
    """A table with a row for each hole setting of a check."""
    return table(name, title, result.settings, [*hole_columns(result), *columns], *remarks)


def evaluated_life(found: Evaluation, j: int) -> Cell:
    """Life of hole setting number `j` of a study's bar: at survival to median, or in repeats, as it is judged."""
    survival, median = (
        None if math.isnan(values[j]) else float(values[j])
        for values in (found.life_at_survival_cycles, found.life_cycles)
    )
    if found.bar.duty.target_cycles_given:
        return life_cell(Life(survival, median, bool(found.runout[j])), found.bar.duty.target_cycles)
    repeats = float(found.repeats_at_survival[j])
    if math.isnan(repeats):  # none of the blocks does harm, or there is no life
        return Cell("no end" if found.passes[j] else NO_LIFE if found.ordered_life[j] == 0.0 else NONE)
    return Cell(one_life(repeats, unit="repeats"), repeats)


def evaluated_life_heading(bar: Bar) -> str:
    """Of a column of these: repeats at survival where the duty's blocks alone are judged."""
    return "Life, cycles" if bar.duty.target_cycles_given else "Life, repeats"


def targets_words(cycles: float | None, repeats: float | None, survival: float, yield_margin: float) -> str:
    """What every hole setting is held against: cycles, repeats of the blocks or both (None: not judged), and yield."""
    named = [] if cycles is None else [f"{whole(cycles)} cycles"]
    if repeats is not None:
        named.append(f"{repeats:g} repeat{'s' if repeats != 1.0 else ''} of the blocks")
    return f"{' and '.join(named)} at {100 * survival:g} % survival, yield margin {yield_margin:g}"


def unjudged_factors_words(cycles: float) -> str:
    """What safety factors in a table are for, where the duty's blocks alone are judged."""
    return f"safety factors are for {whole(cycles)} cycles of full travel, which are not judged"


def cycles_cell(fatigue: Fatigue, result: CheckResult) -> Cell:
    """Life in cycles of full travel; bad where that, or the one by strain-life that counts at a place that yields, is
    judged and falls short of its target.
    """
    target = result.target_cycles if result.target_cycles_judged else 0.0
    cell, strain = life_cell(fatigue.life, target), fatigue.strain_life
    return replace(cell, mood="bad") if strain is not None and strain.life_at_survival_cycles < target else cell


def repeats_cell(duty: DutyLife | None) -> Cell:
    """Life in repeats of the blocks, marked where it falls short of its target."""
    return Cell(NONE) if duty is None else replace(life_cell(duty.life), mood="" if duty.reaches_target else "bad")


def change_cell(value: float | None, reference: float | None) -> str:
    """By how many percent a number differs from its reference; a dash where either is missing."""
    if value is None or not reference:
        return NONE
    change = 100.0 * (value / reference - 1.0)
    if not math.isfinite(change):
        return NONE
    change = round(change)
    return "0" if change == 0 else f"{change:+d}"
