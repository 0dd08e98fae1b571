"""What `barfem compare` prints, and its tables by themselves, for the report."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TextIO

from rich.console import Console
from rich.table import Table

from barfem.check.result import SettingResult
from barfem.show.console import HEAD, plain_table, print_table
from barfem.show.numbers import significant, whole
from barfem.show.parts import (
    bullets,
    change_cell,
    heading,
    judged,
    life_cell,
    paragraph,
    passes_cell,
    print_whole,
    repeats_cell,
)
from barfem.show.table import life_target
from barfem.study.compare import Comparison
from barfem.study.facts import Candidate, View, setting_of

__all__ = ["COLUMNS", "alike_holes", "print_comparison", "tables", "told_beside", "view_title"]

COLUMNS = (
    "Rate: of each end over its own travel; vs A: how far it is off A's. Stress: greatest von Mises. Yield margin: "
    "yield strength / stress, less 1. Safety factor: on stress amplitude, at the target cycles. Life: at survival to "
    "median; none: barfem check says why."
)


def print_comparison(comparison: Comparison, stream: TextIO | None = None) -> None:
    """Print the whole comparison on `stream`, standard output by default."""
    print_whole(lambda console: _write(comparison, console), stream)


def _write(comparison: Comparison, console: Console) -> None:
    first = comparison.views[0].candidates[0].result
    paragraph(console, comparison.name, style=HEAD)
    paragraph(
        console,
        f"Targets: {life_target(first)} at {100 * first.survival:g} % survival, yield margin "
        f"{first.yield_margin_target:g}. Model: {first.model}. barfem {first.barfem}.",
    )
    for view in comparison.views:
        heading(console, view_title(view))
        for i, (title, table) in enumerate(tables(view)):
            if i:
                console.print()
            if title:
                paragraph(console, title)
            print_table(console, table)
        bullets(console, view.missing)
    if comparison.facts:
        heading(console, "What to see in it")
        bullets(console, comparison.facts)
    told = told_beside(comparison)
    if told:
        heading(console, "Told beside")
        bullets(console, told)
    console.print()
    paragraph(console, COLUMNS)
    for line in comparison.cautions[:1]:
        paragraph(console, line)


def told_beside(comparison: Comparison) -> list[str]:
    """What was done to make the bars, and the warnings that they have, each with the letters of its bars."""
    return [*comparison.told, *_warnings(comparison.views[0])]


def view_title(view: View) -> str:
    """What the bars of a view have in common."""
    titles = {
        "equal geometry": "At equal geometry: one centreline, other sections",
        "as drawn": "As drawn: each bar file by itself",
    }
    if view.kind in titles:
        return titles[view.kind]
    what = {"mass": "mass", "rate": f"rate at hole {view.hole}", "stress": f"stress at hole {view.hole}"}
    return f"At equal {what[view.kind.split()[-1]]}: each resized to {significant(view.target, 4)} {view.unit}"


def tables(view: View) -> list[tuple[str, Table]]:
    """(title or nothing, table) of a view: the bars, then their hole settings in each load case."""
    cases = list(dict.fromkeys(setting.case for setting in view.candidates[0].result.settings))
    named = [(f"Load case {case}" if len(cases) > 1 else "", _settings(view, case)) for case in cases]
    return [("", _bars(view)), *named]


def _bars(view: View) -> Table:
    first = view.candidates[0]
    table = plain_table("", "Bar", "Mass\nkg", "vs A\n%", "Weakest place, for life", first_left=2)
    table.columns[4].justify = "left"
    for each in view.candidates:
        name = each.name if each.resized_from is None else f"{each.name} (was {each.resized_from})"
        fatigue = each.result.governing_for_life.fatigue
        table.add_row(
            each.letter,
            name,
            significant(each.result.mass_kg),
            "-" if each is first else change_cell(each.result.mass_kg, first.result.mass_kg),
            f"{fatigue.where}" + (" (bore)" if fatigue.surface == "bore" and "bore" not in fatigue.where else ""),
        )
    return table


def _settings(view: View, case: str) -> Table:
    # Where every bar is judged by its duty's blocks alone, their repeats are its life.
    cycles = any(each.result.target_cycles_judged for each in view.candidates)
    table = plain_table(
        "Hole",
        "",
        "Rate\nN/mm",
        "vs A\n%",
        "Stress\nMPa",
        "Yield\nmargin",
        "Safety\nfactor",
        "Life, cycles" if cycles else "Life, repeats",
        "Passes",
        first_left=2,
    )
    for name, rows in alike_holes(view, case):
        for i, (candidate, setting) in enumerate(rows):
            fatigue, result = setting.fatigue, candidate.result
            reference = rows[0][1].rate_N_per_mm
            own = "" if setting.holes == name else f" ({setting.holes})"
            table.add_row(
                name if i == 0 else "",
                candidate.letter + own,
                significant(setting.rate_N_per_mm),
                "-" if i == 0 else change_cell(setting.rate_N_per_mm, reference),
                whole(setting.peak.von_mises_MPa),
                judged(setting.yield_margin, result.yield_margin_target),
                judged(fatigue.safety_factor_at_target, 1.0 if result.target_cycles_judged else 0.0),
                life_cell(
                    at_survival=fatigue.life_at_survival_cycles,
                    median=fatigue.life_cycles,
                    runout=fatigue.runout,
                    knee_cycles=fatigue.knee_cycles,
                )
                if cycles
                else repeats_cell(fatigue.duty),
                passes_cell(setting.passes),
            )
    return table


def alike_holes(view: View, case: str) -> Iterator[tuple[str, list[tuple[Candidate, SettingResult]]]]:
    """Hole settings to stand together: of one name, or where the bars' names differ the softest and the stiffest."""
    first = view.candidates[0].result
    mine = [setting for setting in first.settings if setting.case == case]
    matched = [
        (setting.holes, [(each, setting_of(each.result, setting)) for each in view.candidates]) for setting in mine
    ]
    if all(found is not None for _, rows in matched for _, found in rows):
        for name, rows in matched:
            yield name, [(each, found) for each, found in rows if found is not None]
        return
    for name, pick in (("softest", min), ("stiffest", max)):
        own = [[s for s in each.result.settings if s.case == case] for each in view.candidates]
        yield (
            name,
            [
                (each, pick(some, key=lambda setting: setting.rate_N_per_mm or 0.0))
                for each, some in zip(view.candidates, own, strict=True)
                if some
            ],
        )


def _warnings(view: View) -> list[str]:
    """Warnings that some of the bars have, with their letters."""
    owners: dict[str, list[str]] = {}
    for each in view.candidates:
        for text in each.bar.warnings:
            owners.setdefault(text, []).append(each.letter)
    count = len(view.candidates)
    return [
        f"{', '.join(letters)}: {text}" if len(letters) < count else f"all: {text}" for text, letters in owners.items()
    ]
