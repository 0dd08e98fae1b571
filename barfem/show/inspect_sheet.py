"""The inspection sheet to fill in, as PDF: A4, one line a value, nominal and limits beside the empty box."""

from __future__ import annotations

from barfem.model.bar import Bar, drawing_words
from barfem.model.bar_geometry import mass_kg
from barfem.show.drawing.ink import one_decimal
from barfem.show.drawing.sheet import expected_rates
from barfem.show.numbers import printable, significant
from barfem.show.paper_table import PaperTable, paper_pdf
from barfem.vendor.inspect_sheet import Asked, asked_of
from barfem.vendor.maker_tables import drawing_of
from barfem.vendor.views import datum_of

__all__ = ["sheet_pdf"]

NOTES = (
    "Points: on the centreline, where straights end and bends begin. Drawn in the datum of the drawing: A, line "
    "through the bar at its outermost mounts; B, the middle between them; C, both outermost holes equally off along "
    "the travel. Measured in any frame, the same for all points and hole axes of a bar. Right and left are the car's.",
    "Diameter where it is least. Holes from the cut end, along the bar, to their middle.",
    "Rates: left end moved, right end held, links at the hole named, travel as in the car; write the case beside if it "
    "is another. Rates drawn are estimates.",
    "Hardness and cracks on every bar. What stays empty is not judged.",
)


def sheet_pdf(bar: Bar) -> bytes:
    """The sheet; the same bar gives the same bytes."""
    drawing = drawing_of(bar)
    named = drawing_words(bar.drawing or drawing.number, bar.revision)
    asked = asked_of(bar)
    points = tuple(
        (each.place, *(one_decimal(value) for value in each.in_datum_mm), each.limits, "", "", "")
        for each in asked
        if each.in_datum_mm is not None
    )
    rates = {name: (rate, low, high) for name, rate, low, high in expected_rates(bar)}
    rows = tuple(
        (
            each.what,
            f"{each.place}{', ' + each.case.replace('_', ' ') if each.case else ''}",
            *_drawn(bar, each, rates),
            each.unit,
            "",
        )
        for each in asked
        if each.in_datum_mm is None
    )
    ways = [f"{way} +" for way in datum_of(bar).ways]
    tables = (
        PaperTable(
            ("Point", *ways, "Limits", "Measured x", "y", "z"),
            (28, 18, 18, 20, 28, 26, 26, 26),
            points,
            "Points, mm: as drawn in datum A-B-C, and as measured",
        ),
        PaperTable(("What", "Where", "Drawn", "Limits", "Unit", "Measured"), (28, 42, 44, 27, 20, 29), rows),
    )
    head = (
        f"Inspection of {bar.name}",
        f"Drawing {named or '-'}",
        "Bar no. ____________   Date ____________   Inspector ______________   Instrument ______________",
    )
    return paper_pdf(head, tables, NOTES)


def _drawn(bar: Bar, asked: Asked, rates: dict[str, tuple[float, float, float]]) -> tuple[str, str]:
    """Nominal and limits; those of rates and the mass are what the drawing says of them."""
    found = rates.get(asked.place.removeprefix("hole ")) if asked.what == "rate" else None
    if found is not None:
        rate, low, high = found
        least, most = (one_decimal(rate * (1.0 + 0.01 * off)) for off in (low, high))
        return one_decimal(rate), f"{least} to {most}"
    if asked.place == "mass":
        return printable(significant(mass_kg(bar))), asked.limits
    return asked.nominal, asked.limits
