"""The check in short, as PDF, for a package that may carry results: every hole with rate, stress, margin and life."""

from __future__ import annotations

from barfem.check.result import CheckResult
from barfem.model.bar import drawing_words
from barfem.show.lives import life_text
from barfem.show.notes import verdict
from barfem.show.numbers import printable, whole
from barfem.show.paper_table import PaperTable, paper_pdf

__all__ = ["summary_pdf"]

NOTES = (
    "Rates are of one pickup; in roll both ends move oppositely. Stress is the greatest von Mises stress at full "
    "travel, hole concentration excluded; life is that at the survival asked for, its worst place included.",
    "Estimates, not a release: validate by test; licensed practice and local rules decide.",
)


def summary_pdf(result: CheckResult) -> bytes:
    """The page; the same result gives the same bytes."""
    rows = tuple(
        (
            each.holes,
            each.case,
            "-" if each.rate_N_per_mm is None else f"{each.rate_N_per_mm:.1f}",
            printable(whole(each.peak.von_mises_MPa)),
            f"{each.yield_margin:.2f}",
            printable(life_text(each.fatigue.life)),
            "yes" if each.passes else "no: " + "; ".join(each.why),
        )
        for each in result.settings
    )
    heads = ("Hole", "Case", "Rate N/mm", "Peak MPa", "Yield margin", "Life, cycles", "Passes")
    table = PaperTable(heads, (26, 20, 20, 18, 22, 28, 56), rows)
    named = drawing_words(result.drawing, result.revision)
    head = (f"Check of {result.name}", f"Drawing {named or '-'}", printable(verdict(result)))
    return paper_pdf(head, (table,), NOTES)
