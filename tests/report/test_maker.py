"""The report's section for the maker: the bar's rows and what is open, where the bar file speaks to a maker."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from barfem.model.read import read_bar
from barfem.show.report.maker import for_the_maker
from barfem.vendor.part import part_of

BAR = read_bar(Path(__file__).parents[2] / "geometries" / "pickup-front-solid.toml")


def test_it_says_rows_cut_length_and_what_is_open():
    section = for_the_maker(BAR)
    part = part_of(BAR, end_allowance_mm=5.0)
    lengths = section.paragraphs[1].replace("\u00a0", " ")
    assert f"cut length {part.cut_length_mm:.1f} mm" in lengths and "5 mm at each end" in lengths
    assert len(section.tables[0].rows) == len(part.rows)
    words = " ".join(section.points_after).replace("\u00a0", " ")
    assert "ask: hole edge 1.47 hole diameters" in words and "barfem package" in words
    assert "no profile tolerance" not in words


def test_what_the_drawing_leaves_open_is_among_it():
    tables = {key: value for key, value in (BAR.tables or {}).items() if key != "drawing"}
    assert "no profile tolerance" in " ".join(for_the_maker(replace(BAR, tables=tables)).points_after)
