"""The one screen that `barfem check` prints: shape, hole settings, what governs, what matters, what helps, verdict.

The verdict comes last, so that it stands above the prompt. Whatever else there is to say stands in `--full`, in the
report and in the JSON. Four holes and two mounts take at most 40 lines at 100 columns: what would go beyond is said
shorter.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from shlex import quote
from typing import TextIO

from rich.console import Console

from barfem.check.concerns import concerns
from barfem.check.result import CheckResult, SettingResult
from barfem.model.bar import drawing_words
from barfem.model.sentences import with_capital
from barfem.show import life_details, notes
from barfem.show.console import HEAD, make_console, print_table
from barfem.show.numbers import NO_BREAK, ratio, whole
from barfem.show.parts import NOTHING_GOVERNS, drawn, last_line, paragraph, place
from barfem.show.reasons import reasons
from barfem.show.table import greater_forces, settings_tables, targets_and_factors
from barfem.show.tables import Cell, Column, Table
from barfem.show.ways import spare_words, way_lines
from barfem.study.advice import Advice

__all__ = ["MOST_WARNINGS", "WIDTH", "print_screen", "turning_warnings"]

WIDTH = 100
"""Columns where the output is no terminal."""

MOST_WARNINGS = 3
MOST_REASONS = 4


MOST_LINES = 40
FEW_HOLES = 4
"""Of more hole settings in a load case each has its line beyond `MOST_LINES`."""

ALL, REASONS_TOGETHER, ONE_WARNING, WAYS_FOR_ALL, CASES_TOGETHER, NUMBERS_ALONE = range(6)
"""What is given up, one after another, until the screen holds it: each includes those before it."""


def print_screen(
    result: CheckResult, advice: Sequence[Advice] = (), *, asked: str = "", stream: TextIO | None = None
) -> None:
    """Print the screen on `stream`, standard output by default; `asked` are the check's options, as they are typed."""
    stream = sys.stdout if stream is None else stream
    rows = Counter(row.case for row in result.rows)
    most = MOST_LINES + max(max(rows.values(), default=0) - FEW_HOLES, 0)
    console = make_console(stream, piped=WIDTH)
    for brief in range(NUMBERS_ALONE + 1):
        screen = drawn(console, _print, result, advice, asked, brief)
        if screen.count("\n") <= most * max(WIDTH / console.width, 1.0):
            break
    stream.write(screen)
    stream.flush()


def _print(console: Console, result: CheckResult, advice: Sequence[Advice], asked: str, brief: int) -> None:
    drawing = drawing_words(result.drawing, result.revision)
    paragraph(console, f"{result.name}{f' ({drawing})' if drawing else ''}", style=HEAD)
    for line in (*notes.look_twice(result.look_twice), *result.described):
        paragraph(console, line, then="  ")
    tables = settings_tables(result)
    together = brief >= CASES_TOGETHER and len({made.columns for made in tables}) == 1 < len(tables)
    for made in tables:
        if not together or made is tables[0]:
            console.print()
        paragraph(console, made.title.partition(": ")[2] or made.title, first=f"{_case(made.title)}: ", style=HEAD)
        if not together:
            _print_table(console, made)
    if together:
        merged = _one(tables)
        if brief >= NUMBERS_ALONE:  # save one that no column has
            merged = replace(merged, remarks=("", *greater_forces(result, *{row.case for row in result.rows})))
        _print_table(console, merged)
    else:
        console.print()
    for line in _governing(result, brief):
        paragraph(console, line, then="  ")
    most = 0 if brief >= NUMBERS_ALONE else 1 if brief >= ONE_WARNING else MOST_WARNINGS
    left_out = brief >= WAYS_FOR_ALL and not result.passes and any(each.left for each in advice)
    also_there = "what each hole passes with, " if left_out else ""
    _warnings(console, result, most, brief >= REASONS_TOGETHER, also_there, asked)
    if advice and result.passes:
        paragraph(console, spare_words(advice), then="  ")
    elif advice:
        for line in way_lines(result, advice, own=brief < WAYS_FOR_ALL):
            paragraph(console, line, then="  ")
    if not result.passes:
        lines = reasons(result.rows, not_checked=False, alike=1 if brief >= REASONS_TOGETHER else MOST_REASONS)
        for line in lines[:MOST_REASONS]:
            paragraph(console, line, first="- ", then="  ")
        if len(lines) > MOST_REASONS:
            more = len(lines) - MOST_REASONS
            paragraph(console, f"- and {more} more reason{'s' * (more > 1)}: see --full")
    last_line(console, " ".join([notes.verdict_line(result), *notes.not_judged(result)]), good=result.passes)


def _print_table(console: Console, made: Table) -> None:
    print_table(console, made)
    for remark in made.remarks[1:]:  # the first says what the rate is; --full has it
        paragraph(console, remark, then="  ")


def _one(tables: Sequence[Table]) -> Table:
    """Tables of like columns as one, the load case before each row and each remark."""
    first = tables[0]
    case = Column("Case", text=True)
    rows = tuple((Cell(_case(made.title)), *row) for made in tables for row in made.rows)
    said = tuple(f"{_case(made.title)}: {remark}" for made in tables for remark in made.remarks[1:])
    return replace(first, columns=(case, *first.columns), rows=rows, remarks=(*first.remarks[:1], *said))


def _case(title: str) -> str:
    """ "roll" of "Hole settings, roll: ..."."""
    return title.partition(":")[0].removeprefix("Hole settings, ").capitalize()


def _governing(result: CheckResult, brief: int) -> list[str]:
    """Where the bar is stressed most and where its life is decided, a line each; and the targets."""
    model = "" if result.model == "beam" else f" Model: {result.model}."
    caution = "An estimate, not a release" if brief < NUMBERS_ALONE else "Estimate, no release"  # on one line
    held_against = f"{targets_and_factors(result)}.{model} {caution}: validate by test."
    if not result.settings:
        return [held_against]
    if result.feels_nothing:
        return [NOTHING_GOVERNS, held_against]
    stress, by_life = result.governing_for_stress, result.governing_for_life
    peak, fatigue = stress.peak, by_life.fatigue
    several = len({setting.case for setting in result.settings}) > 1
    lines = [
        f"Stress: {whole(peak.von_mises_MPa)} MPa at hole {_named(stress, several)}, {place(peak.where, peak.surface)}."
    ]
    if not result.target_cycles_judged and (shortest := life_details.shortest_duty(result)) is not None:
        of_blocks, duty = shortest
        decided = f"the blocks decide it at hole {_named(of_blocks, several)}, {place(duty.where, duty.surface)}"
        harmless = "no cycle of the blocks lies above the endurance limit"
        return [*lines, f"Life: {harmless if duty.runout_at_survival else decided}.", held_against]
    factor = fatigue.safety_factor_at_target
    if fatigue.where == peak.where and stress is by_life:
        lines = [lines[0].replace("Stress:", "Stress and life:")]
    else:
        lines.append(f"Life: decided at hole {_named(by_life, several)}, {place(fatigue.where, fatigue.surface)}.")
    mean = f", mean {whole(fatigue.mean_MPa)}" if round(fatigue.mean_MPa) else ""
    lines[-1] += f" Amplitude {whole(fatigue.amplitude_MPa)}{mean} MPa"
    elsewhere = f" (of {fatigue.factor_elsewhere})" if fatigue.factor_elsewhere else ""
    lines[-1] += "." if factor is None else f", safety factor {ratio(factor, 1.0)}{elsewhere}."
    lines.append(held_against)
    return lines


def _named(setting: SettingResult, several: bool) -> str:
    return setting.holes + (f" ({setting.case})" if several else "")


def _warnings(console: Console, result: CheckResult, most: int, short: bool, also_there: str, asked: str) -> None:
    """The warnings that can turn the verdict, the weightiest first, each with its size; and how many more there are."""
    ranked = concerns(result)
    shown = turning_warnings(result, short=short)[:most]
    for line in shown:
        paragraph(console, line, then="  ")
    more = len(ranked) - len(shown)
    turning = sum(each.turns for each in ranked) - len(shown)
    some = f"{turning} of " if turning < more else ""
    kind = f"{some}which can turn the verdict" if turning else "which cannot turn the verdict"
    also = f"{more}{' more' if shown else ''} warning{'s' * (more > 1)} ({kind}), " if more else ""
    command = f"barfem check {quote(result.source or 'BAR.toml')}{asked} --full"
    if len(command) <= console.width:  # copied as one line
        command = command.replace(" ", NO_BREAK)
    pointer = f"{also}{also_there}assumptions and all details: {command}"
    paragraph(console, with_capital(pointer))


def turning_warnings(result: CheckResult, *, short: bool = False) -> list[str]:
    """The warnings that can turn the verdict, the weightiest first, each with its size: the first sentence of each."""
    lines = []
    for each in (each for each in concerns(result) if each.turns):
        size = f"; {each.size}" if each.size else ""
        text = _first_sentence(each.text).rstrip(".")
        lines.append(f"Warning: {_counted(text) if short else text}{size}.")
    return lines


def _counted(text: str) -> str:
    """A warning of many holes or bends: "(and 7 more)"."""

    def count(found: re.Match[str]) -> str:
        others = found["others"].count(", ") + 1
        return f"({found['and']} {others} more)" if others > 1 else found.group(0)

    return re.sub(r"\((?P<and>and(?: with their own numbers)?) (?P<others>[^()]*)\)", count, text, count=1)


def _first_sentence(text: str) -> str:
    """Up to the first full stop that ends a sentence; the rest stands in --full."""
    found = re.match(r".*?[.!?](?=\s+[A-Z]|$)", text)
    return found.group(0) if found else text
