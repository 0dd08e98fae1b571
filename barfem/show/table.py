"""What `barfem check` prints: the hole settings, the verdict, the details, the warnings and cautions.

Tables are made by rich, prose by textwrap. Everything is plain ASCII but the tables' lines (and what the bar file
itself says), so that it survives logs, mail and old terminals.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from typing import TextIO

from rich.console import Console
from rich.table import Table
from rich.text import Text

from barfem.check.result import CheckResult, Fatigue
from barfem.show import details, notes
from barfem.show.console import BAD, GOOD, HEAD, make_console, plain_table, print_table, wrap
from barfem.show.numbers import NO_BREAK, NONE, life, life_band, printable, ratio, significant, whole
from barfem.show.parts import repeats_cell
from barfem.show.reasons import reasons
from barfem.strength.fatigue.factors import survival_factor

__all__ = ["column_notes", "head_lines", "life_target", "print_result", "render", "settings_table"]


def print_result(result: CheckResult, stream: TextIO | None = None) -> None:
    """Print the whole result on `stream`, standard output by default."""
    stream = sys.stdout if stream is None else stream
    stream.write(render(result, make_console(stream)))
    stream.flush()


def render(result: CheckResult, console: Console) -> str:
    """The printed result as text, with colour codes if the console has colour."""
    with console.capture() as capture:
        _head(result, console)
        for case in dict.fromkeys(setting.case for setting in result.settings):
            _case(result, case, console)
        _columns(result, console)
        _verdict(result, console)
        _section(console, "What governs")
        for paragraph in details.governing(result):
            _paragraph(console, paragraph)
        lessons = notes.lessons(result)
        if lessons:
            _section(console, "Where experience misleads")
            _bullets(console, lessons)
        for title, table, remark in details.tables(result):
            _section(console, title)
            print_table(console, table)
            if remark:
                _paragraph(console, remark)
        for title, lines in (
            ("Warnings", result.warnings),
            ("Assumptions", result.assumptions),
            ("Solution", details.solution(result)),
            ("Cautions", result.cautions),
        ):
            if lines:
                _section(console, title)
                _bullets(console, dict.fromkeys(lines))
        console.print()
        _verdict_sentence(result, console)
    text = printable(capture.get())
    return re.sub(r"[ ]+$", "", text, flags=re.MULTILINE)


def _head(result: CheckResult, console: Console) -> None:
    console.print(Text(result.name, style=HEAD))
    for line in head_lines(result):
        _paragraph(console, line)


def head_lines(result: CheckResult) -> list[str]:
    """What was checked, and against which targets."""
    drawing = " ".join(filter(None, (result.drawing, result.revision and f"revision {result.revision}")))
    lines = [f"drawing {drawing}" if drawing else "", *result.described]
    lines.append(
        f"Targets: {life_target(result)} at {100 * result.survival:g} % survival, yield margin "
        f"{result.yield_margin_target:g}"
        + (f", Goodman safety factor {result.goodman_target:g}" if result.goodman_target is not None else "")
        + f". Model: {result.model}. barfem {result.barfem}."
    )
    return [line for line in lines if line]


def life_target(result: CheckResult) -> str:
    """The cycles, repeats or both that a life is held against, in words."""
    named = [f"{whole(result.target_cycles)} cycles"] if result.target_cycles_judged else []
    if result.target_repeats is not None:
        named.append(f"{result.target_repeats:g} repeat{'s' if result.target_repeats != 1.0 else ''} of the blocks")
    return " and ".join(named)


def _case(result: CheckResult, case: str, console: Console) -> None:
    title, table, remarks = settings_table(result, case)
    _section(console, title)
    print_table(console, table)
    for line in remarks:
        _paragraph(console, line)


def settings_table(result: CheckResult, case: str) -> tuple[str, Table, list[str]]:
    """Title, table and remarks of the hole settings in one load case."""
    words = result.cases.get(case)
    title = f"Hole settings, {case}" + (f": {words}" if words else "")
    settings = [setting for setting in result.settings if setting.case == case]
    mixed = any(setting.left != setting.right for setting in settings)
    # What is judged is shown: cycles of full travel, repeats of the duty's blocks, or both.
    cycles, repeats = result.target_cycles_judged, result.target_repeats is not None
    solid = result.model == "solid"  # linear: it has a rate at rest alone
    table = plain_table(
        "Holes\nleft/\nright" if mixed else "Hole",
        "Rate\nat rest\nN/mm" if solid else "Rate\nN/mm",
        "Next\nhole\n%",
        "Link\nforce\nN",
        "Peak\nstress\nMPa",
        "Yield\nmargin",
        "Safety\nfactor",
        *([f"Life, cycles\n{100 * result.survival:g} % survival\nto median"] if cycles else []),
        *([f"Life, repeats\n{100 * result.survival:g} % survival\nto median"] if repeats else []),
        "Passes",
    )
    remarks: dict[str, list[str]] = {}
    for setting in settings:
        fatigue = setting.fatigue
        table.add_row(
            f"{setting.left}/{setting.right}" if mixed else setting.holes,
            significant(setting.rate_initial_N_per_mm if solid else setting.rate_N_per_mm),
            NONE if setting.step_to_next_percent is None else f"{setting.step_to_next_percent:+.1f}",
            whole(max(abs(setting.link_force_left_N), abs(setting.link_force_right_N))),
            whole(setting.peak.von_mises_MPa),
            _judged(setting.yield_margin, result.yield_margin_target),
            _judged(fatigue.safety_factor_at_target, 1.0 if cycles else None),
            *([_life_cell(fatigue)] if cycles else []),
            *([repeats_cell(fatigue.duty)] if repeats else []),
            Text("yes", style=GOOD) if setting.passes else Text("NO", style=BAD),
        )
        if fatigue.reason and not (fatigue.runout and fatigue.knee_cycles is not None):
            remarks.setdefault(_stop(fatigue.reason), []).append(setting.holes)
    moving = "the other end moving as far the other way" if case == "roll" else "the other end held"
    told = [f"Hole{'s' * (len(holes) > 1)} {', '.join(holes)}: {reason}" for reason, holes in remarks.items()]
    return title, table, [f"Rate: of each end over its own travel, {moving}.", *told]


def _columns(result: CheckResult, console: Console) -> None:
    console.print()
    for line in column_notes(result):
        _paragraph(console, line)


def column_notes(result: CheckResult) -> list[str]:
    """What the columns of the hole settings mean."""
    share = result.strength_share_at_survival or survival_factor(result.survival)
    lines = [
        "Next hole: how much stiffer the next stiffer hole setting is. Link force: the greater of left and right at "
        "full travel. Stress: von Mises. Yield margin: yield strength / stress, less 1. Safety factor: on "
        f"stress amplitude, for {whole(result.target_cycles)} cycles, with the median strength: that "
        f"{100 * result.survival:g} % survive takes {ratio(1.0 / share)}."
        + ("" if result.target_cycles_judged else " It is shown, not judged: the duty is in blocks."),
    ]
    if result.target_repeats is not None:
        lines.append(
            "Repeats: of the duty's blocks; no end: no cycle of them lies above the endurance limit."
            + f" Target {result.target_repeats:g}."
        )
    if result.target_cycles_judged and any(setting.fatigue.runout for setting in result.settings):
        lines.append("A life past the knee of the S-N line is over that many cycles; no more is claimed.")
    return lines


def _judged(value: float | None, target: float | None) -> Text:
    """A margin or factor, marked where it is below its target, if it has one."""
    return Text(ratio(value, target), style=BAD if value is not None and target is not None and value < target else "")


def _life_cell(fatigue: Fatigue) -> str:
    survival, median = fatigue.life_at_survival_cycles, fatigue.life_cycles
    if fatigue.runout:
        if survival is None:
            return "see below" if fatigue.knee_cycles is None else f"over {whole(fatigue.knee_cycles)}"
        return (
            f"{life(survival)} to{NO_BREAK}{'?' if fatigue.knee_cycles is None else '>' + whole(fatigue.knee_cycles)}"
        )
    if median is None or survival is None:
        return "none, see below"
    return life_band(survival, median)


def _verdict(result: CheckResult, console: Console) -> None:
    console.print()
    _verdict_sentence(result, console)
    if result.not_judged:
        _paragraph(console, f"Not judged in this run: {' and '.join(result.not_judged)}.")
    _bullets(console, reasons(result.settings))


def _verdict_sentence(result: CheckResult, console: Console) -> None:
    for line in wrap(notes.verdict(result), console.width):
        console.print(Text(line, style=GOOD if result.passes else BAD))


def _stop(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else text + "."


def _section(console: Console, title: str) -> None:
    console.print()
    for line in wrap(title, console.width):
        console.print(Text(line, style=HEAD))


def _paragraph(console: Console, text: str) -> None:
    for line in wrap(text, console.width):
        console.print(Text(line))


def _bullets(console: Console, lines: Iterable[str]) -> None:
    for text in lines:
        for line in wrap(text, console.width, first="- ", then="  "):
            console.print(Text(line))
