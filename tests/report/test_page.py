"""What stands on the page: the check's own numbers, escaped text, the same bytes each time, small enough to send."""

from __future__ import annotations

import base64
import html
import io
import json
import re
import struct
from dataclasses import replace
from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.data_paths import demo_bars
from barfem.model.read import read_bar
from barfem.show.figures.bar import picture
from barfem.show.figures.data import FigureData
from barfem.show.report.page import report_page
from barfem.show.report.scene_data import scene_data
from barfem.show.report.sections import Section
from barfem.show.report.sources import without_memory
from barfem.show.table import print_result
from barfem.show.tables import Cell, Column, Table
from tests.check.bar_files import without_pictures
from tests.often import often

ROOT = Path(__file__).parents[2]
BARS = demo_bars()


@pytest.fixture(scope="module")
def checked():
    return check_bar(ROOT / "geometries" / "coupe-front-splayed.toml")


@pytest.fixture(scope="module")
def page(checked) -> str:
    with without_pictures():
        return report_page(checked, bar_text="# the file & <its> text\n")


def plain(page: str) -> str:
    """The page's text as a reader sees it."""
    body = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " "))


def test_every_number_of_the_terminal_is_on_the_page(checked, page):
    """Terminal and page are made from the same tables: no number may be on one and not on the other."""
    printed = io.StringIO()
    print_result(checked, stream=printed)
    numbers = set(re.findall(r"\d+(?:\.\d+)?", printed.getvalue()))
    missing = numbers - set(re.findall(r"\d+(?:\.\d+)?", plain(page)))
    assert len(numbers) > 150 and missing == set()


def test_what_a_reader_asks_is_answered(checked, page):
    """Unit, sign, amplitude or mean; why it differs elsewhere; what was assumed; where exactly; which input."""
    text = plain(page)
    result = checked
    for asked in (
        "MPa",
        "tension positive",
        "whether it is a peak, an amplitude or a mean",
        "Against a handbook or another calculation",
        "Assumptions, with their sources",
        f"station {result.governing_for_stress.peak.station_mm:.0f} mm",
        result.governing_for_life.fatigue.where,
        result.input_sha256,
        f"barfem {result.barfem}",
        "residuals left",
        "Shigley",
        "# the file & <its> text",
    ):
        assert asked in text, asked
    for line in (*result.assumptions, *result.warnings, *result.cautions):
        # "From memory" stands once, in the list of sources.
        assert re.sub(r"(?<=\d),(?=\d{3})", " ", without_memory(line, {})) in text


def test_the_page_needs_nothing_else(report):
    page = report.read_text(encoding="utf-8")
    addresses = set(re.findall(r"https?://[^\"' )<]+", page))
    # Names of languages, which nobody fetches.
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "default-src 'none'" in page
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    references = set(re.findall(r'(?:href="#|url\(#)([^")]+)', page))
    assert references <= set(ids)


def test_four_holes_can_be_sent_by_mail(report):
    """Its speed is in tests/benchmarks."""
    assert report.stat().st_size < 6e6


@pytest.mark.parametrize("bar", often(BARS, 2), ids=lambda path: path.stem)
def test_the_scene_is_what_was_judged(bar):
    """The view's packed numbers, unpacked: its worst patch is the table's worst place, never better."""
    result = check_bar(bar)
    scene = json.loads(json.dumps(scene_data(FigureData(result)), allow_nan=False))
    each = (len(scene["stations"]) - 1) * scene["around"]

    def unpacked(key: str) -> tuple[int, ...]:
        raw = base64.b64decode(scene[key])
        return struct.unpack(f"<{len(raw) // 2}H", raw)

    stress, margin = unpacked("stress"), unpacked("margin")
    assert len(stress) == each * len(result.settings)
    for j, setting in enumerate(result.settings):
        outside = [place for place in setting.places if place.surface == "outside"]
        peak = max(place.von_mises_MPa for place in outside)
        shown = max(stress[j * each : (j + 1) * each]) * scene["stress_step"]
        assert peak <= shown + 1e-9 and shown <= peak + 1.01 * scene["stress_step"]
        least = min(place.yield_margin for place in outside if place.yield_margin is not None)
        shown = min(margin[j * each : (j + 1) * each]) * scene["margin_step"] - 1.0
        assert shown <= least + 1e-9 and least <= shown + 1.01 * scene["margin_step"]


@pytest.mark.long
def test_of_very_many_hole_settings_the_view_has_those_that_govern():
    bar = read_bar(ROOT / "geometries" / "pickup-rear-tube.toml")
    data = FigureData(check_bar(replace(bar, travel=replace(bar.travel, one_wheel_given=True)), mixed=True))
    scene = scene_data(data)
    assert len(data.result.settings) == 32 and len(scene["settings"]) == 16
    start = scene["settings"][scene["start"]["setting"]]
    assert start in (data.name(data.by_life), data.name(data.by_stress))
    assert {"hole 1, roll", "hole 4, roll", "hole 1, one-wheel", "hole 4, one-wheel"} <= set(scene["settings"])
    assert len(scene["scales"][0]["marks"]) == len(scene["links"]) == 16


def test_further_sections_are_drawn_only_when_given(checked, page, unpictured):
    table = Table(
        "rates", "Rates within tolerance", (Column("Hole", text=True), Column("N/mm")), ((Cell("<A>"), Cell("40.1")),)
    )
    extra = Section("tolerance", "Tolerance band", paragraphs=["From the drawing's tolerances."], tables=[table])
    more = report_page(checked, extra=[extra])
    assert "Tolerance band" not in page
    assert '<section id="tolerance">' in more and "&lt;A&gt;" in more and "<A>" not in more
    assert "<pre>" in page and "<pre>" not in more  # no bar file was given here, so none is echoed


def test_a_result_that_fails_for_a_number_says_so(checked, unpictured):
    result = checked
    broken = replace(result.settings[0], rate_initial_N_per_mm=float("nan"))
    made = report_page(replace(result, settings=(broken, *result.settings[1:])))
    assert 'class="verdict fails"' in made and "could not be computed" in made


def test_the_steel_is_named_with_its_own_numbers_and_units(checked, page):
    steel = checked.states.bar.steel
    for name, value, unit in (
        ("Young's modulus E", f"{steel.E_MPa:,.0f}", "MPa"),
        ("Poisson's ratio", f"{steel.nu:g}", ""),
        ("density", f"{steel.density_kg_per_m3:,.0f}", "kg/m3"),
        ("yield strength", f"{steel.yield_strength_MPa:,.0f}", "MPa"),
        ("tensile strength", f"{steel.tensile_strength_MPa:,.0f}", "MPa"),
    ):
        assert re.search(rf"\b{name} {value.replace(',', ' ')} {unit}", plain(page)), name


def test_holes_keep_their_letters_in_the_verdict_and_under_the_picture(checked):
    """Holes A, B and C were "holes b and c" in the verdict's bar and "Hole c" under the picture: other holes."""
    failing = replace(
        checked, settings=(checked.settings[0], *(replace(s, passes=False) for s in checked.settings[1:]))
    )
    with without_pictures():
        page = report_page(failing)
    assert "Fails at 5 of 6 hole settings judged: holes B and C in roll; holes A, B and C in one-wheel." in page
    assert re.match(r"Hole [A-C](, roll|, one-wheel)? at full travel", picture(FigureData(checked)).caption)
