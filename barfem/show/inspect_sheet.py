"""The inspection sheet to fill in, as PDF: A4, one line a value, nominal and limits beside the empty box."""

from __future__ import annotations

from barfem.model.bar import Bar, drawing_words
from barfem.show.paper_table import PaperTable, paper_pdf
from barfem.vendor.inspect_sheet import asked_of
from barfem.vendor.maker_tables import drawing_of

__all__ = ["sheet_pdf"]

NOTES = (
    "Points: right tip to left tip on the centreline, where straights end and bends begin; any measuring frame, the "
    "same for all points and hole axes of a bar. Diameter where it is least.",
    "Rates: left end moved, right end held, links at the hole named, travel as in the car; write the case beside if it "
    "is another.",
    "Hardness and cracks on every bar. What stays empty is not judged.",
)


def sheet_pdf(bar: Bar) -> bytes:
    """The sheet; the same bar gives the same bytes."""
    drawing = drawing_of(bar)
    named = drawing_words(bar.drawing or drawing.number, bar.revision)
    rows = tuple(
        (
            each.what,
            f"{each.place}{', ' + each.case.replace('_', ' ') if each.case else ''}",
            each.nominal,
            each.limits,
            each.unit,
            "",
        )
        for each in asked_of(bar)
    )
    table = PaperTable(("What", "Where", "Drawn", "Limits", "Unit", "Measured"), (28, 36, 38, 32, 21, 35), rows)
    head = (
        f"Inspection of {bar.name}",
        f"Drawing {named or '-'}",
        "Bar no. ____________   Date ____________   Inspector ______________   Instrument ______________",
    )
    return paper_pdf(head, (table,), NOTES)
