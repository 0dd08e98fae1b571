"""Sections that only some reports have: how far bars of the drawing differ, and other bars beside this one."""

from __future__ import annotations

from dataclasses import replace

from barfem.show import compare, tolerance
from barfem.show.compare_picture import comparison_picture
from barfem.show.numbers import whole
from barfem.show.report.html_table import all_prose, prose
from barfem.show.report.sections import Section, drawn
from barfem.show.tolerance_picture import tolerance_picture
from barfem.study.compare import Comparison
from barfem.study.tolerance_result import ToleranceResult

__all__ = ["comparison_sections", "tolerance_section"]


def tolerance_section(found: ToleranceResult) -> Section:
    """Bands of rate, stress, margin and life at every hole, and which dimension they come from."""
    return Section(
        "tolerance",
        "How far bars of this drawing differ",
        paragraphs=[prose(tolerance.made_of(found))],
        headline=prose(
            f"Within the drawing's bands, {whole(found.any_hole['any'].misses)} of {whole(found.any_hole['any'].of)} "
            "bars miss a target at one hole or another."
        ),
        pictures=[drawn(tolerance_picture(found))],
        tables=tolerance.tables(found),
        points_after=all_prose(tolerance.band_lines(found)),
        points_title="The bands, with their sources",
    )


def comparison_sections(found: Comparison) -> list[Section]:
    """The bars side by side: a section a view, what there is to see in the first."""
    made = []
    for number, view in enumerate(found.views, start=1):
        tables = [
            each if each.title else replace(each, title="The hole settings" if i else "The bars")
            for i, each in enumerate(compare.tables(view))
        ]
        first = number == 1
        made.append(
            Section(
                f"compared-{number}",
                "Side by side with other bars" if first else "Side by side: " + view.kind,
                paragraphs=[prose(compare.COLUMNS)] if first else [],
                points=all_prose((*(found.facts if first else ()), *view.missing)),
                pictures=[drawn(comparison_picture(view, number))],
                tables=tables,
                points_after=all_prose(compare.notes_beside(found)) if first else [],
                points_title="How the other bars were made, and warnings",
            )
        )
    return made
