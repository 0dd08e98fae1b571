"""The report as it is sent: page one, one sheet where asked, sources in one list, figures that say what they are."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.show.figures import render as drawn
from barfem.show.figures.catalogue import all_pictures
from barfem.show.figures.data import FigureData
from barfem.show.figures.files import _stamp
from barfem.show.figures.haigh_chart import CyclePoint, HaighChart
from barfem.show.report.page import report_page
from barfem.show.report.paper import page_count
from barfem.show.report.sections import Section
from barfem.show.report.sources import with_sources
from barfem.show.scene3d import build_scene
from barfem.show.screen import print_screen

ROOT = Path(__file__).parents[2]
BAR = ROOT / "geometries" / "pickup-front-solid.toml"


@pytest.fixture(scope="module")
def checked():  # type: ignore[no-untyped-def]
    return check_bar(BAR)


@pytest.fixture(scope="module")
def first_page(checked) -> str:  # type: ignore[no-untyped-def]
    return report_page(checked, date="1 March 2026", one_page=True)


def test_page_one_says_what_the_bar_is(checked, first_page) -> None:  # type: ignore[no-untyped-def]
    facts = dict(re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", first_page.replace("\u00a0", " ")))
    steel = checked.states.bar.steel
    assert facts["Drawing"] == "PF-001" and facts["Revision"] == "A" and facts["Date"] == "1 March 2026"
    assert facts["Steel"] == steel.grade and facts["Condition"] == steel.condition
    assert facts["Section"].startswith("round 22 mm, 5.11 kg")
    assert facts["Finish"] == "as hardened, scaled, shot-peened"
    assert "More columns: swipe the table sideways" in first_page and "An estimate for design" in first_page
    # It never dates itself, and page one alone has no further section.
    assert "<dt>Date</dt>" not in report_page(checked, one_page=True) and '<section id="' not in first_page


@pytest.mark.long
def test_one_page_is_one_sheet(browser_path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Sixteen unequal pairs of a bar with four holes as well, which at full size take more than a sheet."""
    pypdf = pytest.importorskip("pypdf")
    target = tmp_path / "one.pdf"
    bar = str(ROOT / "geometries" / "pickup-rear-tube.toml")
    assert main(["report", bar, "--mixed", "--pdf", str(target), "--one-page", "--date", "2026-03-01"]) == 1
    (sheet,) = pypdf.PdfReader(target).pages
    assert [round(float(x)) for x in sheet.mediabox[2:]] == [595, 842]  # A4, points
    assert page_count(target.read_bytes()) == 1
    text = sheet.extract_text()
    assert "2026-03-01" in text and "PR-014" in text and "not a release" in text


def test_a_set_up_sheet_is_one_sheet_however_many_holes(browser_path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Twelve holes a bar, which at full size take more than a sheet."""
    pypdf = pytest.importorskip("pypdf")
    rates = ", ".join(f'{{ hole = "{i}", one_end_held = {9 + i}.0 }}' for i in range(12))
    text = (ROOT / "geometries" / "coupe-car.toml").read_text(encoding="utf-8")
    text = re.sub(r"rates = \[.*?\n\]", f"rates = [{rates}]", text, flags=re.DOTALL)
    car, target = tmp_path / "car.toml", tmp_path / "sheet.pdf"
    car.write_text(text.replace('file = "', f'file = "{(ROOT / "geometries").as_posix()}/'), encoding="utf-8")
    assert main(["setup-sheet", str(car), "--pdf", str(target)]) == 0
    (sheet,) = pypdf.PdfReader(target).pages
    assert "Caution." in sheet.extract_text()


def test_sources_from_memory_stand_in_one_list_at_the_end() -> None:
    given = Section(
        "assumptions",
        "Assumptions",
        points=[
            "Survival by 8 % of strength (Shigley Eq. 6-29, from memory, sure).",
            "Knee at 1e6 cycles; usual value 7.85 g/cm3, from memory.",
            "Plain words.",
        ],
    )
    first, last = with_sources([given])
    assert [*first.points] == [
        "Survival by 8 % of strength (Shigley Eq. 6-29).",
        "Knee at 1e6 cycles; usual value 7.85 g/cm3.",
        "Plain words.",
    ]
    assert last.slug == "sources" and [*last.points] == [
        "Survival by 8 % of strength (Shigley Eq. 6-29)",
        "Usual value 7.85 g/cm3",
    ]
    assert with_sources([Section("a", "b", points=["Plain."])])[-1].slug == "a"


def test_a_number_is_the_same_on_screen_on_the_page_and_on_the_bar(checked) -> None:  # type: ignore[no-untyped-def]
    """A safety factor just short of 1 is never rounded up to it in one place and down in another."""
    result = checked
    short = tuple(replace(s, fatigue=replace(s.fatigue, safety_factor_at_target=0.9968)) for s in result.settings)
    result = replace(result, settings=short)
    page = report_page(result, one_page=True)
    screen = io.StringIO()
    print_screen(result, stream=screen)
    for text in (page, screen.getvalue()):
        assert "0.99" in text and not re.search(r"(?<![\d.])1\.00(?!\d)", text)
    assert "safety factor 0.99" in page and "safety factor 1.00" not in page


def test_figures_say_what_they_are_of(checked) -> None:  # type: ignore[no-untyped-def]
    stamp = _stamp(checked)
    for word in (checked.name, "PF-001", "revision A", checked.input_sha256[:12]):
        assert word in stamp
    picture = all_pictures(FigureData(checked))[0]
    pillow = pytest.importorskip("PIL.Image")
    plain, stamped = (pillow.open(io.BytesIO(drawn.png(picture, stamp=each))) for each in ("", stamp))
    assert stamped.height > plain.height  # its own line below, over nothing else
    foot = np.asarray(stamped.convert("L"))[-int(drawn.STAMP_IN * drawn.DOTS_PER_INCH) :]
    assert foot.min() < 160


def test_holes_lie_on_both_faces_of_the_flats(checked) -> None:  # type: ignore[no-untyped-def]
    scene, bar = build_scene(FigureData(checked)), checked.states.bar
    holes = [hole for end in bar.ends for hole in end.holes]
    assert scene.holes_mm.shape[:3] == (3, len(holes), 2)
    for h, hole in enumerate(holes):
        one, other = scene.holes_mm[0, h]
        across = np.linalg.norm(one.max(axis=0) - one.min(axis=0))
        assert across >= hole.diameter_mm
        thick = np.linalg.norm(one.mean(axis=0) - other.mean(axis=0))
        assert thick == pytest.approx(bar.right.flat.thickness_mm, rel=0.05)


def test_where_no_cycle_has_a_mean_the_rule_that_judges_stands_alone() -> None:
    def chart(mean: float) -> HaighChart:
        return HaighChart(
            reversed_MPa=300.0,
            level="",
            judged="gerber",
            points=(CyclePoint("hole", "1", mean, 200.0, True),),
            tensile_MPa=1400.0,
            yield_MPa=1200.0,
            coefficient_MPa=None,
        )

    assert list(chart(3.0).shown()) == ["gerber"]
    assert set(chart(100.0).shown()) == set(chart(100.0).rules()) and len(chart(100.0).shown()) > 3
