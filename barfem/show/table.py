"""What `barfem check` prints: the hole settings, the verdict, the details, the warnings and cautions.

Tables are made by rich, prose by textwrap. Everything is plain ASCII but the tables' lines (and what the bar file
itself says), so that it survives logs, mail and old terminals.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from rich.console import Console
from rich.text import Text

from barfem.check.concerns import concerns
from barfem.check.hole_names import pair_name
from barfem.check.result import CheckResult, SettingResult, UnsolvedSetting
from barfem.model.bar import drawing_words
from barfem.model.load_case import CASES, FEELS_NOTHING
from barfem.show import details, notes
from barfem.show.console import BAD, GOOD, HEAD, wrap
from barfem.show.lives import OVER
from barfem.show.needed import needed_words
from barfem.show.numbers import NONE, whole
from barfem.show.parts import (
    bullets,
    cycles_cell,
    heading,
    listed,
    paragraph,
    printing,
    repeats_cell,
    stop,
    targets_words,
    titled_table,
    unjudged_factors_words,
)
from barfem.show.reasons import reasons
from barfem.show.tables import Cell, Table, column, judged, paths, table, words, yes_no
from barfem.show.ways import spare_words, way_lines
from barfem.strength.fatigue.factors import strength_share
from barfem.study.advice import Advice

__all__ = [
    "RANKED",
    "column_notes",
    "greater_forces",
    "head_lines",
    "print_result",
    "remarks",
    "settings_table",
    "settings_tables",
    "targets",
    "targets_and_factors",
    "unsolved_row",
    "warning_lines",
]


@printing
def print_result(console: Console, result: CheckResult, advice: Sequence[Advice] = ()) -> None:
    """Print the whole result, and what would make it pass or what it has to spare."""
    console.print(Text(result.name, style=HEAD))
    for line in head_lines(result):
        paragraph(console, line)
    for made in settings_tables(result):
        titled_table(console, made)
    console.print()
    for line in column_notes(result):
        paragraph(console, line)
    _verdict(result, console)
    if advice and result.passes:
        paragraph(console, spare_words(advice))
    elif advice:
        listed(console, "Passes with", way_lines(result, advice))
    if result.settings:
        heading(console, "What governs")
        for text in details.governing(result):
            paragraph(console, text)
        listed(console, "Where experience misleads", notes.lessons(result))
        for made in details.tables(result):
            titled_table(console, made)
    for title, lines in (
        (RANKED, warning_lines(result)),
        ("Assumptions", result.assumptions),
        ("Solution", details.solution(result)),
        ("Cautions", result.cautions),
    ):
        listed(console, title, dict.fromkeys(lines))
    console.print()
    _verdict_sentence(result, console)


RANKED = "Warnings, those first that can turn the verdict"


def warning_lines(result: CheckResult) -> list[str]:
    """Every warning with its size, those first that can turn the verdict; of one kind in one line."""
    return [f"{each.text.rstrip('.')}. Size: {each.size}." if each.size else each.text for each in concerns(result)]


def head_lines(result: CheckResult) -> list[str]:
    """What was checked, and against which targets."""
    drawing = drawing_words(result.drawing, result.revision)
    lines = [f"drawing {drawing}" if drawing else "", *notes.look_twice(result.look_twice), *result.described]
    lines.append(f"{targets(result)}. Model: {result.model}. barfem {result.barfem}.")
    return [line for line in lines if line]


def targets(result: CheckResult) -> str:
    """What every hole setting is held against: cycles, repeats or both, the yield margin, and Goodman's factor."""
    cycles = result.target_cycles if result.target_cycles_judged else None
    goodman = "" if result.goodman_target is None else f", Goodman safety factor {result.goodman_target:g}"
    asked = targets_words(cycles, result.target_repeats, result.survival, result.yield_margin_target)
    return f"Targets: {asked}{goodman}"


def targets_and_factors(result: CheckResult) -> str:
    """`targets`, and what safety factors are for where that is none of them."""
    if result.target_cycles_judged:
        return targets(result)
    return f"{targets(result)}; {unjudged_factors_words(result.target_cycles)}"


def settings_tables(result: CheckResult) -> list[Table]:
    """The hole settings, a table a load case."""
    return [settings_table(result, case) for case in dict.fromkeys(setting.case for setting in result.rows)]


def settings_table(result: CheckResult, case: str) -> Table:
    """The hole settings in one load case, with remarks; in files every number that a comparison wants."""
    words_of_case = result.cases.get(case)
    settings = [setting for setting in result.settings if setting.case == case]
    mixed = any(setting.left != setting.right for setting in settings)
    # What is judged is shown: cycles of full travel, repeats of the duty's blocks, or both.
    cycles, repeats = result.target_cycles_judged, result.target_repeats is not None
    solid = result.model == "solid"  # linear: it has a rate at rest alone
    band = f"{100 * result.survival:g} % survival\nto median"
    moving = CASES[case].rate_words
    made = table(
        "hole-settings",
        f"Hole settings, {case}" + (f": {words_of_case}" if words_of_case else ""),
        settings,
        [
            words("Holes\nleft/\nright", lambda s: f"{s.left}/{s.right}", key="")
            if mixed
            else words("Hole", "holes", key=""),
            column("Rate\nat rest", "N/mm", "rate_initial_N_per_mm", key="")
            if solid
            else column("Rate", "N/mm", "rate_N_per_mm", key=""),
            column("Next\nhole", "%", "step_to_next_percent", show="{:+z.1f}".format, key=""),
            column("Link\nforce", "N", _link_force, show=whole, key=""),
            column("Peak\nstress", "MPa", "peak.von_mises_MPa", show=whole, key=""),
            column("Yield\nmargin", "", lambda s: judged(s.yield_margin, result.yield_margin_target), key=""),
            column(
                "Safety\nfactor",
                "",
                lambda s: judged(s.fatigue.safety_factor_at_target, 1.0 if cycles else None),
                key="",
            ),
            column(f"Life, cycles\n{band}", "", lambda s: cycles_cell(s.fatigue, result), key="") if cycles else None,
            column(f"Life, repeats\n{band}", "", lambda s: repeats_cell(s.fatigue.duty), key="") if repeats else None,
            column("Passes", "", lambda s: yes_no(s.passes), key=""),
            *paths(*SETTING_PATHS),
        ],
        f"Rate: of each end over its own travel, {moving}.",
        *remarks(result, case),
    )
    unsolved = (
        unsolved_row(made, row, {made.columns[0].heading: pair_name(row.left, row.right)})
        for row in result.unsolved
        if row.case == case
    )
    return replace(made, rows=(*made.rows, *unsolved))


def remarks(result: CheckResult, case: str) -> list[str]:
    """What columns of one load case leave out: a line a reason why there is no life, and of greater link forces."""
    found: dict[str, list[str]] = {}
    for setting in result.settings:
        fatigue = setting.fatigue
        if setting.case == case and fatigue.reason and (fatigue.reason == FEELS_NOTHING or not fatigue.runout):
            found.setdefault(stop(fatigue.reason), []).append(setting.holes)
    reasons = [f"Hole{'s' * (len(holes) > 1)} {', '.join(holes)}: {reason}" for reason, holes in found.items()]
    return reasons + greater_forces(result, case)


def greater_forces(result: CheckResult, *cases: str) -> list[str]:
    """Where links carry more than at full travel, which their column is of: joints are chosen by the greatest."""
    words = {"rest": "at rest", "other end": "at the other end of the cycle"}
    found = [
        (abs(force), _link_force(setting), words[state.at], side, setting)
        for setting in result.settings
        for state in setting.states
        if setting.case in cases and state.at in words
        for side, force in (("left", state.link_force_left_N), ("right", state.link_force_right_N))
    ]
    more = [each for each in found if each[0] > GREATER * each[1]]
    if not more:
        return []
    force, _, when, side, setting = max(more, key=lambda each: each[0])
    at = setting.holes + (f", {setting.case}" if len(cases) > 1 else "")
    return [f"Greater link force {when}: up to {whole(force)} N (hole {at}, {side})."]


def unsolved_row(
    made: Table, row: UnsolvedSetting, by_heading: Mapping[str, str], by_key: Mapping[str, Any] = MappingProxyType({})
) -> tuple[Cell, ...]:
    """The row of a hole setting that could not be solved: that it fails, and in files why; and what else is known, by
    heading and by key.
    """
    headed = {heading: Cell(text) for heading, text in by_heading.items()} | {"Passes": yes_no(False)}
    known = {"left": row.left, "right": row.right, "case": row.case, "why": row.why[0], **by_key}
    keyed = {key: Cell(str(value), value) for key, value in known.items()} | {"passes": yes_no(False)}
    return tuple(
        keyed.get(each.key, Cell(NONE)) if each.key else headed.get(each.heading, Cell(NONE)) for each in made.columns
    )


SETTING_PATHS = (
    "left",
    "right",
    "case",
    "rate_N_per_mm",
    "rate_initial_N_per_mm",
    "step_to_next_percent",
    "link_force_left_N",
    "link_force_right_N",
    "peak.von_mises_MPa",
    "peak.where",
    "peak.surface",
    "peak.station_mm",
    "yield_margin",
    "fatigue.where",
    "fatigue.surface",
    "fatigue.station_mm",
    "fatigue.amplitude_MPa",
    "fatigue.mean_MPa",
    "fatigue.goodman_safety_factor",
    "fatigue.safety_factor_at_target",
    "fatigue.life_at_survival_cycles",
    "fatigue.life_cycles",
    "fatigue.runout",
    "fatigue.duty.life_at_survival_repeats",
    "fatigue.duty.life_repeats",
    "fatigue.reason",
    "passes",
    "why",
)
"""What a file holds of each hole setting, by the paths of the JSON."""


GREATER = 1.01
"""Below this share of the force at full travel another state's is as good as the same."""


def _link_force(setting: SettingResult) -> float:
    return max(abs(setting.link_force_left_N), abs(setting.link_force_right_N))


def column_notes(result: CheckResult) -> list[str]:
    """What the columns of the hole settings mean."""
    share = result.strength_share_at_survival or strength_share(result.survival)
    lines = [
        "Next hole: how much stiffer the next stiffer hole setting is. Link force: the greater of left and right at "
        "full travel. Stress: von Mises. Yield margin: yield strength / stress, less 1. Safety factor: on "
        f"stress amplitude, for {whole(result.target_cycles)} cycles, with the median strength: "
        f"{needed_words(result, share)}."
        + ("" if result.target_cycles_judged else " It is shown, not judged: the duty is in blocks."),
    ]
    if result.target_repeats is not None:
        lines.append(
            "Repeats: of the duty's blocks; no end: no cycle of them lies above the endurance limit."
            + f" Target {result.target_repeats:g}."
        )
    if result.target_cycles_judged and any(setting.fatigue.runout for setting in result.settings):
        lines.append(f"A life {OVER} cycles is past what is claimed of any line; no more is said of it.")
    return lines


def _verdict(result: CheckResult, console: Console) -> None:
    console.print()
    _verdict_sentence(result, console)
    for line in notes.not_judged(result):
        paragraph(console, line)
    bullets(console, reasons(result.rows))


def _verdict_sentence(result: CheckResult, console: Console) -> None:
    for line in wrap(notes.verdict(result), console.width):
        console.print(Text(line, style=GOOD if result.passes else BAD))
