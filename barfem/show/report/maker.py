"""The report's section on having the bar made: rows, holes and lengths, and what its drawing leaves open."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.show.bends import bend_tables, facts, rotation_words
from barfem.show.report.html_table import all_prose, prose
from barfem.show.report.sections import Section
from barfem.vendor.maker_tables import bending_of
from barfem.vendor.part import part_of
from barfem.vendor.review_making import making
from barfem.vendor.review_paper import on_paper
from barfem.vendor.rules import Finding, rules_of

__all__ = ["for_the_maker"]

NEXT = (
    "These are the findings on making and on paper; barfem review goes through links, keep-out and stress too, and "
    "barfem package writes drawing, solid, bend data and sheets."
)


def for_the_maker(bar: Bar) -> Section:
    """Bend rows from the right tip, holes, lengths and tools, and the findings that need no solution."""
    part = part_of(bar, end_allowance_mm=bending_of(bar).end_allowance)
    rows, _, holes = bend_tables(part)
    rules = rules_of(bar)
    found = [each for each in (*making(bar, rules), *on_paper(bar, rules)) if each.severity != "note"]
    found.sort(key=lambda each: each.severity != "stop")
    return Section(
        "maker",
        "To have it made",
        paragraphs=[
            "Geometry of the finished part; springback is not in it.",
            *(prose(line) for line in facts(bar, part)),
        ],
        tables=[rows, holes],
        points_after=all_prose((*rotation_words(), *_sentences(found), NEXT)),
    )


def _sentences(found: list[Finding]) -> list[str]:
    """Findings in a line each, those of several places with one text together."""
    places: dict[tuple[str, str], list[str]] = {}
    for each in found:
        places.setdefault((each.severity, each.what), []).append(each.where)
    return [f"{severity}: {what} ({'; '.join(where)})." for (severity, what), where in places.items()]
