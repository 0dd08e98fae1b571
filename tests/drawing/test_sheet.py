"""The sheet: every text readable and inside the frame, every dimension the model's, the same bytes again."""

from __future__ import annotations

import io
import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from barfem.cli.main import main
from barfem.model.data_paths import demo_bars
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from barfem.show.drawing.ink import size, text_box
from barfem.show.drawing.layout import make_sheet
from barfem.show.drawing.notes import drawing_notes
from barfem.show.drawing.render import render
from barfem.show.drawing.sheet import expected_rates, sheet_of
from barfem.vendor.part import part_of
from tests.drawing.bars import forward_tube, small_kart, unequal_in_space, wide_with_drops
from tests.model.bar_data import FLAT, TUBE, U_BAR, changed

BAR = str(next(path for path in demo_bars() if path.stem == "pickup-front-solid"))


def test_no_two_texts_overlap_and_all_stand_inside_the_frame(drawn):
    _, sheet = drawn
    left, bottom, right, top = sheet.frame
    for text, box in [(writing.text, text_box(writing)) for writing in sheet.writings]:
        assert left <= box[0] and bottom <= box[1] and box[2] <= right and box[3] <= top, f"{text!r} crosses the frame"
    assert _overlapping(sheet) == []


def _overlapping(sheet):
    boxes = [(writing.text, text_box(writing)) for writing in sheet.writings]
    return [
        (one, other)
        for (one, a), (other, b) in itertools.combinations(boxes, 2)
        if not (a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1])
    ]


def test_no_line_of_a_view_leaves_the_frame_and_no_outline_runs_through_a_word(drawn):
    _, sheet = drawn
    left, bottom, right, top = sheet.frame
    for stroke in [*sheet.ink.strokes, *sheet.dimension_ink.strokes]:
        if stroke.group is None and stroke.style == "frame":
            continue
        x, y = stroke.points_mm.T
        inside = x.min() >= left and x.max() <= right and y.min() >= bottom and y.max() <= top
        assert inside or stroke.group is None  # grid and centring marks stand outside
    assert _run_through(sheet) == []


def _run_through(sheet):
    """Words of the views that an outline runs through."""
    share = np.linspace(0.0, 1.0, 40)[:, None]
    pieces = [
        np.concatenate([a + share * (b - a) for a, b in itertools.pairwise(stroke.points_mm)])
        for stroke in sheet.ink.strokes
        if stroke.group is not None and stroke.style == "outline"
    ]
    x, y = np.concatenate(pieces).T
    out = []
    for writing in [w for w in sheet.writings if w.group is not None]:
        low_x, low_y, high_x, high_y = text_box(writing)
        if ((x > low_x) & (x < high_x) & (y > low_y) & (y < high_y)).any():
            out.append(writing.text)
    return out


def _struck(sheet):
    """Words of the views through whose letters, above their baseline, a line of a dimension runs."""
    out = []
    for writing in [w for w in sheet.writings if w.group is not None]:
        low_x, low_y, high_x, high_y = text_box(writing)
        low_x, low_y = (low_x, writing.y_mm) if not writing.upright else (low_x, low_y)
        high_x = writing.x_mm if writing.upright else high_x
        for stroke in [s for s in sheet.dimension_ink.strokes if not s.filled]:
            (x0, y0), (x1, y1) = stroke.points_mm.min(axis=0), stroke.points_mm.max(axis=0)
            if x0 < high_x and x1 > low_x and y0 < high_y and y1 > low_y:
                out.append(writing.text)
    return out


def _u_with_holes(*places):
    bar = {**U_BAR, "ends": {"flat": {**FLAT, "length": 120.0}}}
    bar["ends"]["holes"] = [{"name": str(i), "from_tip": d, "diameter": 10.16} for i, d in enumerate(places)]
    return bar_from_dict(bar)


# width, arms, diameter, mounts at y and holes of bars that wrote a tip's name over a datum, the tolerance or the bar,
# or ran an extension line through a height.
AWKWARD = {
    "short arms that lean in": ({"width": 333.0, "length": 41.0, "splay": -14.4}, 10.0, 140.0, (9.0, 20.0)),
    "short arms that lean out": ({"width": 631.0, "length": 77.5, "splay": 11.8}, 8.0, 280.0, (7.2, 16.7)),
    "tips and middle raised": (
        {"width": 820.0, "length": 190.0, "rise": 55.0, "crank": {"x": 0.0, "z": 28.0, "inner": 110.0, "outer": 219.0}},
        25.0, 300.0, (22.5, 51.5)),
    "tips high over a narrow bar": ({"width": 490.0, "length": 133.0, "rise": 97.0}, 12.0, 170.0, (10.8, 27.0)),
}  # fmt: skip


@pytest.mark.parametrize("projection", ["first", "third"])
@pytest.mark.parametrize("name", sorted(AWKWARD))
def test_words_stand_clear_on_bars_with_little_room_for_them(name, projection):
    arms, diameter, mounts, places = AWKWARD[name]
    mount = {"radial_stiffness": 5000.0, "axial_stiffness": 200.0, "length": 15.0}
    holes = [{"name": str(i), "from_tip": place, "diameter": 0.4 * diameter} for i, place in enumerate(places)]
    tables = {key: value for key, value in U_BAR.items() if key != "centreline"} | {
        "arms": {**arms, "bend_radius": 2.5 * diameter},
        "section": {"shape": "round", "diameter": diameter},
        "ends": {"holes": holes},
        "mounts": [{"y": y, **mount} for y in (-mounts, mounts)],
        "travel": {"pickup": 6.0},
        "drawing": {"projection": projection, "profile_tolerance": 3.0},
    }
    sheet = sheet_of(bar_from_dict(tables))
    assert (_overlapping(sheet), _run_through(sheet), _struck(sheet)) == ([], [], [])


def test_no_line_of_a_dimension_runs_through_a_word(drawn):
    assert _struck(drawn[1]) == []


def test_the_letters_of_the_section_stand_clear_of_the_dimension_below_a_thin_bar():
    assert _struck(sheet_of(bar_from_dict({**U_BAR, "section": {"shape": "round", "diameter": 16.0}}))) == []


@pytest.mark.parametrize("places", [(10.0, 24.0), (6.0, 18.0, 40.0), (12.0, 28.0)])
def test_no_extension_line_runs_through_the_number_of_a_hole_near_the_cut_end(places):
    """10.0 at 1:1 has no room between its arrows, and beside them the extension line of the next hole passes."""
    assert _struck(sheet_of(_u_with_holes(*places))) == []


def test_the_section_is_cut_on_the_bar_where_its_arms_lean_over_its_middle():
    tables = {key: value for key, value in U_BAR.items() if key != "centreline"}
    tables["arms"] = {"width": 960.0, "length": 250.0, "splay": -22.0, "bend_radius": 52.0}
    sheet = sheet_of(bar_from_dict(tables))
    letters = [w for w in sheet.ink.writings if w.text == "A" and w.align == "left" and w.group is not None]
    datums = [w.y_mm for w in sheet.ink.writings if w.text == "B" and w.group is not None]
    assert len(letters) == 2 and all(0.0 < datums[0] - w.y_mm < 25.0 for w in letters), "the bar is below its datum"


def test_the_end_detail_says_the_outline_of_the_transition_where_the_file_does():
    def texts(bar):
        return [writing.text for writing in sheet_of(bar).writings if "transition:" in writing.text]

    assert texts(wide_with_drops()) == ["transition: straight sides, fillets R 12.0"]
    assert texts(unequal_in_space()) == []


def test_no_letter_is_below_two_and_a_half_millimetres(drawn):
    assert min(writing.height_mm for writing in drawn[1].writings) >= 2.5


def test_every_dimension_spans_what_it_says_and_is_the_model(drawn):
    """On paper the distance between its ends, over the scale, is the value; the value is found anew from the part."""
    bar, sheet = drawn
    for d in sheet.ink.dimensions:
        axis = 1 if d.vertical else 0
        assert abs(d.one_mm[axis] - d.other_mm[axis]) / d.group.scale == pytest.approx(d.value_mm, abs=1e-6), d.key
    values = {d.key: d.value_mm for d in sheet.ink.dimensions}
    points = np.array([point.xyz_mm for point in part_of(bar).points])
    assert values["between cut ends"] == pytest.approx(abs(points[-1, 1] - points[0, 1]))
    corners = np.array([point.xyz_mm for point in part_of(bar).points if point.kind == "intersection"])
    arm = abs(points[0, 0] - corners[0, 0])
    # An arm shorter than 1 mm, of ends that stand upright, is not dimensioned.
    assert values.get("left arm to cut end", 0.0) == pytest.approx(arm, abs=1.0 if arm < 1.0 else 1e-6)
    for end in bar.ends:
        words = [key for key in values if end.side in key.split(",")[0] or key.startswith("both")]
        for hole in end.holes:
            assert any(values[key] == hole.from_tip_mm for key in words if "hole at" in key)
        if end.flat is not None:
            assert any(values[key] == end.flat.length_mm for key in words if key.endswith("flat"))
            assert any(values[key] == end.flat.width_mm for key in words if key.endswith("width"))


def test_a_point_180_mm_to_the_right_is_not_to_the_left():
    """Half a turn is one number with either sign, a place is not: the right tip of a bar of 360 mm stood at +180.0."""
    bar = small_kart()
    texts = [w.text for w in sheet_of(bar).writings]
    places = np.array([point.xyz_mm[1] for point in part_of(bar).points if point.kind != "intersection"])
    assert sorted(places)[:2] == pytest.approx([-180.0, -180.0])
    assert texts.count("-180.0") == texts.count("180.0") == 2


@pytest.fixture(scope="module")
def pdf(drawn):
    return render(drawn[1], "pdf")


def test_the_pdf_says_the_numbers_of_the_part(drawn, pdf):
    """Read back by pypdf: rows, tangent points, holes, dimensions, rates."""
    from pypdf import PdfReader

    bar, sheet = drawn
    page = PdfReader(io.BytesIO(pdf)).pages[0]
    # A PDF's page is said in points of 0.35 mm, of which a renderer may keep a fraction.
    assert float(page.mediabox.width) / 72.0 * 25.4 == pytest.approx(sheet.width_mm, abs=0.1)
    found = re.findall(r"\d+\.\d+", page.extract_text())
    part = part_of(bar)
    wanted = [f"{row.length_mm:.1f}" for row in part.rows]
    wanted += [f"{row.angle_deg:.1f}" for row in part.rows if row.angle_deg is not None]
    wanted += [f"{part.developed_length_mm:.1f}", *(size(hole.from_tip_mm) for hole in part.holes)]
    wanted += [d.text for d in sheet.ink.dimensions]
    wanted += [f"{rate:.1f}" for _, rate, _, _ in expected_rates(bar)]
    assert not [each for each in wanted if each not in found]


def test_the_glyphs_of_the_pdf_stay_inside_the_frame(drawn, pdf):
    """Found by another program (PDFium), glyph by glyph: the widths that the layout reckons with are the real ones."""
    pdfium = pytest.importorskip("pypdfium2")
    _, sheet = drawn
    page = pdfium.PdfDocument(pdf)[0].get_textpage()
    boxes = np.array([page.get_rect(i) for i in range(page.count_rects())]) / 72.0 * 25.4
    left, bottom, right, top = sheet.frame
    assert len(boxes) > 50
    assert boxes[:, 0].min() >= left and boxes[:, 2].max() <= right
    assert boxes[:, 1].min() >= bottom and boxes[:, 3].max() <= top


@pytest.mark.long
def test_the_same_bar_gives_the_same_bytes():
    bar = forward_tube()
    for kind in ("pdf", "svg"):
        assert render(sheet_of(bar), kind) == render(sheet_of(bar), kind)


def test_an_empty_field_stays_empty_and_no_date_comes_by_itself(drawn):
    bar, sheet = drawn
    if "date" not in (bar.tables or {}).get("drawing", {}):
        assert not [w for w in sheet.writings if re.search(r"\d{4}-\d\d-\d\d", w.text)]


def test_a_thin_bar_is_drawn_so_large_that_its_outlines_stand_apart():
    """At 1:5 a rod of 8 mm was 1.6 mm thick, its holes black dots; a bar of 22 mm stays at 1:5 on the same paper."""
    assert sheet_of(small_kart()).scale == 2
    assert (sheet_of(read_bar(BAR)).scale, sheet_of(read_bar(BAR)).paper) == (5, "A2")


def test_dimensions_of_an_end_go_outwards_by_length_where_holes_lie_past_the_full_flat():
    """Full thickness to 70 mm, a hole at 80 in the transition: the longer dimension stood within the shorter ones."""
    flat = {**FLAT, "length": 100.0, "transition": 30.0}
    holes = [{"name": str(i), "from_tip": d, "diameter": 6.0} for i, d in enumerate((20.0, 50.0, 80.0))]
    sheet = sheet_of(bar_from_dict({**U_BAR, "ends": {"flat": flat, "holes": holes}}))
    lines = sorted(
        (-d.line_mm, d.value_mm) for d in sheet.ink.dimensions if d.key.startswith("both") and not d.vertical
    )
    assert [value for _, value in lines] == [20.0, 50.0, 70.0, 80.0, 100.0]


def test_the_sheet_says_what_the_blank_has_more_than_the_bar():
    """A cut length alone: rows laid off from the blank's end made each arm 5 mm short."""
    made = sheet_of(read_bar(BAR))  # 1701.7 mm, 5 mm at each end
    assert {"developed 1701.7 on the centreline", "cut 1711.7: 5.0 more at each end"} <= {w.text for w in made.writings}
    assert "cut 522.8: nothing more at the ends" in {w.text for w in sheet_of(small_kart()).writings}


def test_the_sheet_says_whose_right_and_left_it_means():
    assert "Right and left are the car's" in " ".join(drawing_notes(small_kart()))


def test_third_angle_sets_the_plan_above_the_front_and_first_angle_below():
    heights = {}
    for projection in ("first", "third"):
        sheet = make_sheet(unequal_in_space(), ["one note"], projection=projection)
        heights[projection] = {w.text.split()[0]: w.y_mm for w in sheet.writings if " 1:" in w.text}
    assert heights["first"]["Front"] > heights["first"]["Plan"]
    assert heights["third"]["Front"] < heights["third"]["Plan"]


def test_paper_that_is_too_small_is_refused_by_name():
    with pytest.raises(InputError, match="does not fit on A4") as refused:
        make_sheet(unequal_in_space(), ["one note"], paper="A4")
    assert refused.value.where == "--paper"


@pytest.mark.parametrize(
    ("material", "says"),
    [
        ({}, "Surface: as hardened, scaled. Peening: none given. Coating: none given."),
        ({"surface": "shot-peened"}, "Peening: shot-peened outside; intensity and coverage not given: to be agreed."),
        ({"peening": {"kind": "shot", "coverage": 200}}, "coverage 200 %; intensity not given: to be agreed."),
        ({"plating": "zinc"}, "Coating: zinc plated; process not given: to be agreed."),
    ],
)
def test_the_skin_that_the_check_counts_on_is_ordered(material, says):
    """A life of a peened bar is none of one that the maker was told not to peen."""
    bar = bar_from_dict(changed(*((f"material.{key}", value) for key, value in material.items())))
    assert says in " ".join(drawing_notes(bar))


def test_peening_in_the_drawings_own_words_goes_before():
    bar = bar_from_dict(changed(("material.peening", "shot"), ("drawing", {"peening": "0.40-0.50 mm A, 200 %"})))
    assert "Peening: 0.40-0.50 mm A, 200 %. Coating" in " ".join(drawing_notes(bar))


def test_the_bore_of_a_tube_has_its_finish_on_the_sheet():
    assert "Bore: as hardened, scaled. Peening:" in " ".join(drawing_notes(forward_tube()))


@pytest.mark.long
def test_results_stand_on_the_sheet_only_where_they_are_asked_for(tmp_path):
    from pypdf import PdfReader

    texts = []
    for more in ([], ["--with-results"]):
        assert main(["drawing", BAR, "--out", str(tmp_path / "d.pdf"), *more]) == 0
        texts.append(PdfReader(tmp_path / "d.pdf").pages[0].extract_text())
    assert "MPa" not in texts[0] and "margin" not in texts[0]
    assert "yield margin" in texts[1]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "nothing is asked for"),
        (["--out", "x.txt"], r"\.pdf"),
        (["--out", "d.pdf", "--paper", "A4"], "does not fit on A4"),
        (["--step", "x.pdf"], r"\.step"),
    ],
)
def test_bad_orders_are_refused_and_write_nothing(words, says, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["drawing", BAR, *words]) == 2
    assert re.search(says, capsys.readouterr().err)
    assert not list(tmp_path.iterdir())


def test_a_moved_dimension_would_be_seen():
    """The test above can fail: a dimension whose value is not the model's is found."""
    sheet = make_sheet(unequal_in_space(), ["one note"])
    d = replace(sheet.ink.dimensions[0], value_mm=sheet.ink.dimensions[0].value_mm + 0.1)
    axis = 1 if d.vertical else 0
    assert abs(d.one_mm[axis] - d.other_mm[axis]) / d.group.scale != pytest.approx(d.value_mm, abs=1e-6)


def test_the_sheet_says_the_tolerances_that_bars_are_judged_by():
    """[tolerances] of the bar file, and the body's own where it says none, stood on no sheet and rejected bars."""

    limits = {"general_tolerance": "ISO 2768-1 m", "profile_tolerance": 3.0}

    def told(*changes, drawing=limits):
        notes = drawing_notes(bar_from_dict(changed(("drawing", drawing), *changes)))
        return [each for each in notes if each.startswith("Tolerances")]

    before = "Tolerances, before the general one: "
    assert told() == [f"{before}by default diameter -0.13 to +0 mm."]  # h11
    given = ("tolerances", {"diameter": "h9", "bend_angle": 0.5, "hole_position": [-0.1, 0.2], "E": "2 %"})
    assert told(given) == [f"{before}diameter -0.052 to +0 mm; bend angle ±0.5 deg; hole position -0.1 to +0.2 mm."]
    assert told(*TUBE) == [f"{before}by default diameter ±0.08 mm; wall ±0.4 mm."]
    # 90 mm is beyond the tables of bars.
    assert told(("section.diameter", 90.0), ("centreline.bend_radius", 150.0)) == []
    # Holes are judged by the sheet's general tolerance, rows by their own where nothing else limits the form.
    assert told(drawing={**limits, "general_tolerance": "ISO 2768-1 c"}) == told()
    (none,) = told(("tolerances", {"bend_angle": 0.5}), drawing={"profile_tolerance": 3.0})
    assert none == "Tolerances: bend angle ±0.5 deg; by default diameter -0.13 to +0 mm; hole position ±0.2 to 0.3 mm."
    (bare,) = told(drawing={"general_tolerance": "ISO 2768-1 m"})
    assert "bend angle ±" in bare and "straights ±" in bare and "hole position" not in bare
