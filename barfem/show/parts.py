"""Pieces that the tables of studies share: headings, paragraphs, bullets, and cells of a hole setting."""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable, Iterable
from typing import TextIO

from rich.console import Console
from rich.text import Text

from barfem.check.lives import DutyLife
from barfem.show.console import BAD, GOOD, HEAD, make_console, wrap
from barfem.show.numbers import NO_BREAK, life, life_band, printable, ratio, repeats_band, whole

__all__ = [
    "bullets",
    "change_cell",
    "heading",
    "judged",
    "life_cell",
    "paragraph",
    "passes_cell",
    "print_whole",
    "repeats_cell",
]


def print_whole(write: Callable[[Console], None], stream: TextIO | None = None) -> None:
    """Collect what `write` prints on a console and write it on `stream`, standard output by default."""
    stream = sys.stdout if stream is None else stream
    console = make_console(stream)
    with console.capture() as capture:
        write(console)
    stream.write(re.sub(r"[ ]+$", "", printable(capture.get()), flags=re.MULTILINE))
    stream.flush()


def heading(console: Console, title: str) -> None:
    """A line of space, and the title."""
    console.print()
    for line in wrap(title, console.width):
        console.print(Text(line, style=HEAD))


def paragraph(console: Console, text: str, style: str = "") -> None:
    for line in wrap(text, console.width):
        console.print(Text(line, style=style))


def bullets(console: Console, lines: Iterable[str]) -> None:
    for text in lines:
        for line in wrap(text, console.width, first="- ", then="  "):
            console.print(Text(line))


def judged(value: float | None, target: float) -> Text:
    """A margin or factor, marked where it is below its target."""
    bad = value is not None and math.isfinite(value) and value < target
    return Text(ratio(value, target), style=BAD if bad else "")


def passes_cell(passes: bool) -> Text:
    return Text("yes", style=GOOD) if passes else Text("NO", style=BAD)


def life_cell(*, at_survival: float | None, median: float | None, runout: bool, knee_cycles: float | None) -> str:
    """Life at survival to median; "over" the knee where both lie beyond it, "none" where there is no life."""
    if runout:
        beyond = "?" if knee_cycles is None else whole(knee_cycles)
        if at_survival is None:
            return f"over {beyond}" if knee_cycles is not None else "very long"
        return f"{life(at_survival)} to{NO_BREAK}{'?' if knee_cycles is None else '>' + beyond}"
    if median is None or at_survival is None:
        return "none"
    return life_band(at_survival, median)


def repeats_cell(duty: DutyLife | None) -> Text:
    """Life in repeats of the blocks, marked where it falls short of its target."""
    if duty is None:
        return Text("-")
    if duty.life_at_survival_repeats is None:
        return Text("no end", "") if duty.runout_at_survival else Text("none", BAD)
    text = repeats_band(duty.life_at_survival_repeats, None if duty.runout else duty.life_repeats)
    return Text(text, style="" if duty.reaches_target else BAD)


def change_cell(value: float | None, reference: float | None) -> str:
    """By how many percent a number differs from its reference; a dash for the reference itself."""
    if value is None or not reference:
        return "-"
    change = round(100.0 * (value / reference - 1.0))
    return "0" if change == 0 else f"{change:+d}"
