"""The one screen that `barfem check` prints: shape, hole settings, what governs, what matters, what helps, verdict.

The verdict comes last, so that it stands above the prompt. Whatever else there is to say stands in `--full`, in the
report and in the JSON. Four holes and two mounts take at most 40 lines at 100 columns.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from shlex import quote

from rich.console import Console

from barfem.check.concerns import concerns
from barfem.check.hole_names import pair_name
from barfem.check.result import CheckResult, SettingResult
from barfem.model.bar import drawing_words
from barfem.show import notes
from barfem.show.console import HEAD, print_table
from barfem.show.numbers import NO_BREAK, ratio, significant, whole
from barfem.show.parts import NOTHING_GOVERNS, last_line, paragraph, place, printing
from barfem.show.reasons import reasons
from barfem.show.table import settings_tables, targets
from barfem.study.advice import Advice

__all__ = ["WIDTH", "nothing_else", "print_screen", "way_words"]

WIDTH = 100
"""Columns where the output is no terminal."""

MOST_WARNINGS = 3
MOST_REASONS = 4


@printing(piped=WIDTH)
def print_screen(console: Console, result: CheckResult, advice: Sequence[Advice] = ()) -> None:
    """Print the screen."""
    drawing = drawing_words(result.drawing, result.revision)
    paragraph(console, f"{result.name}{f' ({drawing})' if drawing else ''}", style=HEAD)
    for line in result.described:
        paragraph(console, line, then="  ")
    for made in settings_tables(result):
        console.print()
        paragraph(console, made.title.partition(": ")[2] or made.title, first=f"{_case(made.title)}: ", style=HEAD)
        print_table(console, made)
        for remark in made.remarks[1:]:  # the first says what the rate is; --full has it
            paragraph(console, remark, then="  ")
    console.print()
    for line in _governing(result):
        paragraph(console, line, then="  ")
    _warnings(console, result)
    _advice(console, result, advice)
    if not result.passes:
        lines = reasons(result.rows, not_checked=False)
        for line in lines[:MOST_REASONS]:
            paragraph(console, line, first="- ", then="  ")
        if len(lines) > MOST_REASONS:
            more = len(lines) - MOST_REASONS
            paragraph(console, f"- and {more} more reason{'s' * (more > 1)}: see --full")
    not_judged = f" Not judged in this run: {' and '.join(result.not_judged)}." if result.not_judged else ""
    last_line(console, notes.verdict_line(result) + not_judged, good=result.passes)


def _case(title: str) -> str:
    """ "roll" of "Hole settings, roll: ..."."""
    return title.partition(":")[0].removeprefix("Hole settings, ").capitalize()


def _governing(result: CheckResult) -> list[str]:
    """Where the bar is stressed most and where its life is decided, a line each; and the targets."""
    model = "" if result.model == "beam" else f" Model: {result.model}."
    held_against = f"{targets(result)}.{model} An estimate, not a release: validate by test."
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


def _warnings(console: Console, result: CheckResult) -> None:
    """The warnings that can turn the verdict, the weightiest first, each with its size; and how many more there are."""
    ranked = concerns(result)
    shown = [each for each in ranked if each.turns][:MOST_WARNINGS]
    for each in shown:
        size = f"; {each.size}" if each.size else ""
        paragraph(console, f"Warning: {_first_sentence(each.text).rstrip('.')}{size}.", then="  ")
    more = len(ranked) - len(shown)
    turning = sum(each.turns for each in ranked) - len(shown)
    some = f"{turning} of " if turning < more else ""
    kind = f"{some}which can turn the verdict" if turning else "which cannot turn the verdict"
    also = f"{more}{' more' if shown else ''} warning{'s' * (more > 1)} ({kind}), " if more else ""
    command = f"barfem check {quote(result.source or 'BAR.toml')} --full"
    if len(command) <= console.width:  # copied as one line
        command = command.replace(" ", NO_BREAK)
    pointer = f"{also}assumptions and all details: {command}"
    paragraph(console, pointer[0].upper() + pointer[1:])


def _first_sentence(text: str) -> str:
    """Up to the first full stop that ends a sentence; the rest stands in --full."""
    found = re.match(r".*?[.!?](?=\s+[A-Z]|$)", text)
    return found.group(0) if found else text


def _advice(console: Console, result: CheckResult, advice: Sequence[Advice]) -> None:
    """What would make each failing hole setting pass, a hole setting at a time; or what there is to spare."""
    if not advice:
        return
    if result.passes:
        paragraph(console, f"To spare: it passes up to {advice[0].words}.", then="  ")
        return
    several = len({setting.case for setting in result.settings}) > 1
    for key in dict.fromkeys((each.left, each.right, each.case) for each in advice):
        some = [each for each in advice if (each.left, each.right, each.case) == key]
        ways = "; or ".join(way_words(each) for each in some)
        paragraph(console, f"{passes_with(some[0], several_cases=several)} {ways}.", then="  ")
    if words := nothing_else(advice):
        paragraph(console, words, then="  ")


def passes_with(each: Advice, *, several_cases: bool) -> str:
    """What stands before the ways that make a hole setting, or all of them, pass."""
    case = f", {each.case}," if several_cases else ""
    return f"Hole {pair_name(each.left, each.right)}{case} passes with" if each.left else f"All holes{case} pass with"


def nothing_else(advice: Sequence[Advice]) -> str:
    """Of hole settings that pass with less travel alone: that all else was looked at; empty where there are none."""
    kinds: dict[str, list[str]] = {}
    for each in (each for each in advice if each.left):
        kinds.setdefault(pair_name(each.left, each.right), []).append(each.kind)
    holes = [hole for hole, of in kinds.items() if set(of) == {"travel"}]
    if not holes:
        return ""
    return (
        f"At hole{'s' * (len(holes) > 1)} {', '.join(holes)} no hole nearer the tip, longer arm, smaller stock size or "
        "better skin is enough alone (thicker is worse at equal travel)."
    )


def way_words(each: Advice) -> str:
    """One way that makes a hole setting pass, with the rate that it gives where that is another."""
    if each.rate_change_percent is None or abs(each.rate_change_percent) < 0.5 or each.rate_N_per_mm is None:
        return each.words
    return f"{each.words}: {significant(each.rate_N_per_mm)} N/mm, {each.rate_change_percent:+.0f} %"
