"""The check in short, as PDF, for a package that may carry results: its hole settings, as every check prints them."""

from __future__ import annotations

from barfem.check.result import CheckResult
from barfem.model.bar import drawing_words
from barfem.model.sentences import with_capital
from barfem.show.notes import look_twice, verdict
from barfem.show.numbers import printable
from barfem.show.paper_table import PaperTable, paper_pdf
from barfem.show.table import settings_tables, targets_and_factors
from barfem.show.tables import Table

__all__ = ["summary_pdf"]

LIFE_MM, ALL_MM = 40.0, 190.0
NOTES = (
    "Stress is the greatest von Mises stress, hole concentration excluded; yield margin is yield strength over stress, "
    "less 1; life is that at the survival asked for to the median, its worst place included.",
    "Estimates, not a release: validate by test; licensed practice and local rules decide.",
)


def summary_pdf(result: CheckResult) -> bytes:
    """The page; the same result gives the same bytes."""
    named = drawing_words(result.drawing, result.revision)
    cases = dict.fromkeys(row.case for row in result.rows)
    head = (
        f"Check of {result.name}",
        f"Drawing {named or '-'}. barfem {result.barfem}.",
        *(f"{with_capital(case)}: {result.cases[case]}." for case in cases if result.cases.get(case)),
        f"{targets_and_factors(result)}.",
        *look_twice(result.look_twice),
        verdict(result),
    )
    tables = settings_tables(result)
    failing = [f"Hole {row.holes}, {row.case}: {'; '.join(row.why)}." for row in result.rows if not row.passes]
    remarks = [f"{made.title.partition(':')[0]}. {remark}" for made in tables for remark in made.remarks]
    notes = [printable(text) for text in (*failing, *remarks, *NOTES)]
    return paper_pdf([printable(text) for text in head], [_on_paper(made) for made in tables], notes)


def _on_paper(made: Table) -> PaperTable:
    drawn = [made.columns[i] for i in made.drawn]
    lives = sum(each.heading.startswith("Life") for each in drawn)
    other = (ALL_MM - LIFE_MM * lives) / (len(drawn) - lives)
    return PaperTable(
        tuple(printable(each.line) for each in drawn),
        tuple(LIFE_MM if each.heading.startswith("Life") else other for each in drawn),
        tuple(tuple(printable(row[i].text) for i in made.drawn) for row in made.rows),
        made.title.partition(":")[0],
    )
