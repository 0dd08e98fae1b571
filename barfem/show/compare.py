"""What `barfem compare` prints, and its tables by themselves, for the report."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rich.console import Console

from barfem.check.result import SettingResult, UnsolvedSetting
from barfem.model.frozen import frozen
from barfem.show.console import HEAD, print_table
from barfem.show.numbers import NONE, significant, whole
from barfem.show.parts import (
    bullets,
    change_cell,
    cycles_cell,
    heading,
    listed,
    paragraph,
    place,
    printing,
    repeats_cell,
)
from barfem.show.table import SETTING_PATHS, targets, unsolved_row
from barfem.show.tables import Cell, Table, column, judged, only_in_files, paths, table, words, yes_no
from barfem.study.compare import Comparison
from barfem.study.facts import Candidate, View, setting_of

__all__ = ["COLUMNS", "alike_holes", "notes_beside", "print_comparison", "settings_tables", "tables", "view_title"]

COLUMNS = (
    "Rate: of each end over its own travel; vs A: how far it is off A's. Stress: greatest von Mises. Yield margin: "
    "yield strength / stress, less 1. Safety factor: on stress amplitude, at the target cycles. Life: at survival to "
    "median; none: barfem check says why."
)


@printing
def print_comparison(console: Console, comparison: Comparison) -> None:
    """Print the whole comparison."""
    first = comparison.views[0].candidates[0].result
    paragraph(console, comparison.name, style=HEAD)
    paragraph(console, f"{targets(first)}. Model: {first.model}. barfem {first.barfem}.")
    for view in comparison.views:
        heading(console, view_title(view))
        for i, made in enumerate(tables(view)):
            if i:
                console.print()
            if made.title:
                paragraph(console, made.title)
            print_table(console, made)
        bullets(console, view.missing)
    listed(console, "What to see in it", comparison.facts)
    listed(console, "Told beside", notes_beside(comparison))
    console.print()
    paragraph(console, COLUMNS)
    for line in comparison.cautions[:1]:
        paragraph(console, line)


def notes_beside(comparison: Comparison) -> list[str]:
    """What was done to make the bars, and the warnings that they have, each with the letters of its bars."""
    return [*comparison.notes, *_warnings(comparison.views[0])]


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


def tables(view: View) -> list[Table]:
    """The bars of a view, then their hole settings in each load case."""
    return [_bars(view), *_settings_tables(view)]


def settings_tables(found: Comparison) -> list[Table]:
    """The hole settings of every view."""
    return [made for view in found.views for made in _settings_tables(view)]


def _settings_tables(view: View) -> list[Table]:
    """The hole settings of all bars, a table a load case, alike holes together."""
    cases = list(dict.fromkeys(row.case for row in view.candidates[0].result.rows))
    return [_settings(view, case, f"Load case {case}" if len(cases) > 1 else "") for case in cases]


def _bars(view: View) -> Table:
    first = view.candidates[0]

    def weakest(each: Candidate) -> str:
        if not each.result.settings:
            return NONE
        fatigue = each.result.governing_for_life.fatigue
        return fatigue.where if "bore" in fatigue.where else place(fatigue.where, fatigue.surface)

    return table(
        "bars",
        "",
        view.candidates,
        [
            words("", "letter"),
            words("Bar", lambda each: each.name + (f" (was {each.resized_from})" if each.resized_from else "")),
            column("Mass", "kg", lambda each: each.result.mass_kg),
            column("vs A", "%", lambda each: _off(each is first, each.result.mass_kg, first.result.mass_kg)),
            words("Weakest place, for life", weakest),
        ],
    )


def _off(is_first: bool, value: float | None, reference: float | None) -> str:
    return NONE if is_first else change_cell(value, reference)


@frozen
class _Row:
    """A hole setting of one bar, under the name of the hole, beside the first bar's (None: that cannot follow)."""

    name: str
    candidate: Candidate
    setting: SettingResult | UnsolvedSetting
    reference: SettingResult | None
    leads: bool

    @property
    def letter(self) -> str:
        """The bar's, with the setting's own name where it is another."""
        return self.candidate.letter + ("" if self.setting.holes == self.name else f" ({self.setting.holes})")


def _rows(view: View, case: str) -> list[_Row]:
    first = view.candidates[0]
    return [
        _Row(
            name,
            candidate,
            setting,
            rows[0][1] if rows[0][0] is first and isinstance(rows[0][1], SettingResult) else None,
            candidate is rows[0][0],
        )
        for name, rows in alike_holes(view, case)
        for candidate, setting in rows
    ]


def _settings(view: View, case: str, title: str) -> Table:
    # Where every bar is judged by its duty's blocks alone, their repeats are its life.
    cycles = any(each.result.target_cycles_judged for each in view.candidates)

    def life_of(row: _Row) -> Cell:
        fatigue = solved(row).fatigue
        if not cycles:
            return repeats_cell(fatigue.duty)
        return cycles_cell(fatigue, row.candidate.result)

    def factor(row: _Row) -> Cell:
        target = 1.0 if row.candidate.result.target_cycles_judged else None
        return judged(solved(row).fatigue.safety_factor_at_target, target)

    def solved(row: _Row) -> SettingResult:
        if not isinstance(row.setting, SettingResult):
            raise ValueError("an unsolved hole setting has no numbers")
        return row.setting

    every = _rows(view, case)
    made = table(
        "hole-settings",
        title,
        [row for row in every if isinstance(row.setting, SettingResult)],
        [
            words("Hole", lambda row: row.name if row.leads else "", key=""),
            words("", "letter", key=""),
            column("Rate", "N/mm", "setting.rate_N_per_mm", key=""),
            column(
                "vs A",
                "%",
                lambda row: _off(
                    row.reference is None or row.setting is row.reference,
                    row.setting.rate_N_per_mm,
                    row.reference and row.reference.rate_N_per_mm,
                ),
                key="",
            ),
            column("Stress", "MPa", "setting.peak.von_mises_MPa", show=whole, key=""),
            column(
                "Yield\nmargin",
                "",
                lambda row: judged(row.setting.yield_margin, row.candidate.result.yield_margin_target),
                key="",
            ),
            column("Safety\nfactor", "", factor, key=""),
            column("Life, cycles" if cycles else "Life, repeats", "", life_of, key=""),
            column("Passes", "", lambda row: yes_no(row.setting.passes), key=""),
            only_in_files("view", lambda row: view.kind),
            only_in_files("letter", lambda row: row.candidate.letter),
            only_in_files("bar", lambda row: row.candidate.name),
            only_in_files("mass_kg", lambda row: row.candidate.result.mass_kg),
            *paths(*SETTING_PATHS, inside="setting"),
        ],
    )
    of_solved = iter(made.rows)
    rows = tuple(
        next(of_solved) if isinstance(row.setting, SettingResult) else _unsolved(made, view, row, row.setting)
        for row in every
    )
    return replace(made, rows=rows)


def _unsolved(made: Table, view: View, row: _Row, setting: UnsolvedSetting) -> tuple[Cell, ...]:
    return unsolved_row(
        made,
        setting,
        {"Hole": row.name if row.leads else "", "": row.letter},
        {
            "view": view.kind,
            "letter": row.candidate.letter,
            "bar": row.candidate.name,
            "mass_kg": row.candidate.result.mass_kg,
        },
    )


def alike_holes(view: View, case: str) -> Iterator[tuple[str, list[tuple[Candidate, SettingResult | UnsolvedSetting]]]]:
    """Hole settings to stand together: of one name, or where the bars' names differ the softest and the stiffest.

    `View.missing` says why any could not be solved.
    """
    first = view.candidates[0].result
    matched = [
        (row.holes, [(each, setting_of(each.result, row)) for each in view.candidates])
        for row in first.rows
        if row.case == case
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
