"""The sheets to fill in: what an inspector with a height gauge reads is what the drawing says, on as few pages."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from barfem.check.api import check_bar
from barfem.model.bar_geometry import mass_kg
from barfem.model.data_paths import demo_bars
from barfem.model.read import bar_from_dict, read_bar
from barfem.show.check_summary import summary_pdf
from barfem.show.drawing.sheet import expected_rates, sheet_of
from barfem.show.inspect_sheet import sheet_pdf
from barfem.show.paper_table import PaperTable, paper_pdf
from barfem.vendor.inspect_sheet import asked_of
from tests.check.test_one_hole_cannot_follow import BAR as SHORT_LINK
from tests.drawing.bars import drawn_in_inches, unequal_in_space


def _pages(pdf):
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.fixture(scope="module")
def words():
    return " ".join(" ".join(_pages(sheet_pdf(unequal_in_space()))).split())


def test_points_stand_on_the_sheet_as_on_the_drawing(words):
    """Limits are judged in datum A-B-C, in which the drawing gives them; the sheet gave the drawing's own axes."""
    drawn = [w.text for w in sheet_of(unequal_in_space()).writings]
    at = drawn.index("tip right")
    assert f"tip right {' '.join(drawn[at + 1 : at + 4])}" in words
    at = drawn.index("bend 3 start")
    assert f"bend 3 start {' '.join(drawn[at + 1 : at + 4])}" in words
    assert "left + up + forward + Limits" in words


def test_rate_and_mass_stand_on_the_sheet_as_on_the_drawing(words):
    """A rate to measure without what to expect is measured at the wrong hole and nobody sees it."""
    bar = read_bar(next(path for path in demo_bars() if path.stem == "pickup-front-solid"))
    text = " ".join(" ".join(_pages(sheet_pdf(bar))).split())
    name, rate, low, high = expected_rates(bar)[0]
    least, most = rate * (1.0 + 0.01 * low), rate * (1.0 + 0.01 * high)
    assert f"hole {name}, one end held {rate:.1f} {least:.1f} to {most:.1f} N/mm" in text
    assert f"mass {mass_kg(bar):.2f} kg" in text
    assert f"Mass {mass_kg(bar):.2f} kg" not in words


def test_limits_are_two_numbers_wherever_there_is_a_size():
    limits = {asked.limits for asked in asked_of(drawn_in_inches()) if asked.unit == "mm" and asked.what != "point"}
    assert all(re.fullmatch(r"[0-9.]+ to [0-9.]+", each) for each in limits), "hole diameters said: within 0.2"
    assert "12.50 to 12.90" in limits  # 1/2 in, ISO 2768-1 m


@pytest.mark.parametrize(("rows", "pages"), [(30, 1), (34, 1), (46, 1), (60, 2)])
def test_a_sheet_that_nearly_fits_one_page_takes_one(rows, pages):
    """Rows may be as low as 5 mm, which a pen still fills: a last page with a line or two was lost at the bench."""
    table = PaperTable(("What", "Measured"), (100, 90), tuple((f"row {i}", "") for i in range(rows)))
    made = _pages(paper_pdf(("Head", "drawing"), (table,), ("A note.",)))
    assert len(made) == pages and sum(page.count("row ") for page in made) == rows


def test_a_short_table_is_not_torn_in_two():
    long, short = (
        PaperTable(("What", "Measured"), (100, 90), tuple((f"{what} {i}", "") for i in range(count)), what)
        for what, count in (("long", 42), ("short", 8))
    )
    first, second = _pages(paper_pdf(("Head", "drawing"), (long, short), ("A note.",)))
    assert "short" not in first and second.count("short ") == 8


def test_the_check_in_short_says_at_what_travel_and_names_a_hole_that_cannot_follow():
    """A rate and a stress without their travel say nothing; the hole that failed the bar had no row."""
    text = " ".join(" ".join(_pages(summary_pdf(check_bar(bar_from_dict(SHORT_LINK))))).split())
    assert "Roll: left pickup up 55 mm, right pickup down 55 mm" in text
    assert "Targets: 200 000 cycles at 90 % survival, yield margin 0.25." in text
    assert re.search(r"near [-–]? ?.*NO", text) and "Hole near, roll: " in text
    assert "safety factor" in text.lower() and "Link force N" in text
