"""What `barfem duty` prints: lives of each hole setting under a history, where they are decided, what was assumed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TextIO

from rich.console import Console
from rich.text import Text

from barfem.check.history_life import HistoryLife
from barfem.check.lives import SurvivalLife
from barfem.model.bar import Bar
from barfem.show.console import HEAD, make_console, plain_table, wrap
from barfem.show.numbers import NO_BREAK, life, significant, whole
from barfem.strength.duty.history import History

__all__ = ["print_history_lives"]


def print_history_lives(bar: Bar, history: History, found: Sequence[HistoryLife], stream: TextIO | None = None) -> None:
    """Print on `stream`, standard output by default."""
    stream = sys.stdout if stream is None else stream
    console = make_console(stream)
    with console.capture() as capture:
        _print(console, bar, history, found)
    lines = capture.get().replace(NO_BREAK, " ").splitlines()
    stream.write("\n".join(line.rstrip() for line in lines) + "\n")
    stream.flush()


def _print(console: Console, bar: Bar, history: History, found: Sequence[HistoryLife]) -> None:
    console.print(Text(bar.name, style=HEAD))
    _paragraph(
        console,
        f"History {history.source}: {whole(history.samples)} samples, {significant(history.duration_s)} s. Life in "
        f"repeats of it, from {100 * bar.targets.survival:g} % survival to the median, rounded down.",
    )
    console.print()
    km = any(item.lives_km for item in found)
    table = plain_table(
        "Hole", "Peak\nMPa", "Largest\nampl. MPa", "Damage of\none repeat", "Repeats", "Hours", *(["km"] if km else [])
    )
    share = bar.targets.survival
    for item in found:
        table.add_row(
            item.left if item.left == item.right else f"{item.left}/{item.right}",
            whole(item.peak_MPa),
            whole(item.largest_amplitude_MPa),
            "-" if item.damage_per_repeat is None else f"{item.damage_per_repeat:.2g}",
            _band(item.lives, share),
            _band(item.lives_hours, share),
            *([_band(item.lives_km, share)] if km else []),
        )
    console.print(table)
    console.print()
    for item in found:
        name = item.left if item.left == item.right else f"{item.left} left, {item.right} right"
        text = f"Hole {name}: decided at {item.where}; station {item.station_mm:.0f} mm."
        if item.reason:
            text += f" {item.reason[0].upper()}{item.reason[1:]}."
        text += f" {whole(item.places_counted)} of {whole(item.places)} points counted"
        if item.discarded_share is not None:
            text += f", the others bounded: none has more than {item.discarded_share:.3g} times its damage"
        if item.left_out_share is not None:
            text += f"; the turning points alone would miss {abs(item.left_out_share):.1%} of it"
        _paragraph(console, text + ".")
        row = ", ".join(f"{100 * x.survival:g} %: {_one(x)}" for x in item.lives)
        _paragraph(console, f"  Repeats at survival of {row}.")
    for title, lines in (
        ("Warnings", dict.fromkeys(text for item in found for text in item.warnings)),
        ("Assumptions", dict.fromkeys(text for item in found for text in item.assumptions)),
    ):
        if lines:
            console.print()
            console.print(Text(title, style=HEAD))
            for text in lines:
                for line in wrap(text, console.width, first="- ", then="  "):
                    console.print(line, no_wrap=True, overflow="ignore", crop=False)


def _one(item: SurvivalLife) -> str:
    return "beyond the knee" if item.runout else life(item.life)


def _band(lives: tuple[SurvivalLife, ...], survival: float) -> str:
    low = next((item for item in lives if item.survival == survival), None)
    median = next((item for item in lives if item.survival == 0.5), None)
    if low is None or median is None:
        return "-"
    if low.runout:
        return "no end"
    return f"{_one(low)} to {'no end' if median.runout else _one(median)}"


def _paragraph(console: Console, text: str) -> None:
    for line in wrap(text, console.width):
        console.print(line, no_wrap=True, overflow="ignore", crop=False)
