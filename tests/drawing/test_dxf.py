"""DXF read back by ezdxf: dimensions that measure the model, true centreline in space, no fault, the same bytes."""

from __future__ import annotations

import io
import itertools

import ezdxf
import numpy as np
import pytest
from ezdxf.entitydb import EntityDB

from barfem.show.drawing.dxf import LAYERS, dxf_text
from barfem.show.drawing.sheet import sheet_of
from barfem.vendor.part import part_of
from tests.drawing.bars import drawn_in_inches


@pytest.fixture(scope="module")
def read_back(drawn):
    bar, sheet = drawn
    return bar, sheet, ezdxf.read(io.StringIO(dxf_text(sheet, bar)))


def test_the_file_is_sound_and_in_millimetres(read_back):
    _, _, doc = read_back
    assert not doc.audit().has_errors
    assert doc.header["$INSUNITS"] == 4
    assert doc.dxfversion >= "AC1024"  # R2010
    assert set(LAYERS) <= {layer.dxf.name for layer in doc.layers}
    assert all(name.isascii() for name in LAYERS)


def test_every_dimension_measures_the_model_and_says_so(read_back):
    _, sheet, doc = read_back
    found = list(doc.modelspace().query("DIMENSION"))
    measured = sorted(float(each.get_measurement()) for each in found)
    assert measured == pytest.approx(sorted(d.value_mm for d in sheet.ink.dimensions), abs=1e-6)
    assert _shown(doc) == sorted(d.text for d in sheet.ink.dimensions)


def _shown(doc):
    """Texts of the dimensions' rendered blocks."""
    blocks = [doc.blocks.get(each.dxf.geometry) for each in doc.modelspace().query("DIMENSION")]
    entities = [entity for block in blocks for entity in block.query("TEXT MTEXT")]
    return sorted((e.dxf.text if e.dxftype() == "TEXT" else e.text).split(";")[-1] for e in entities)


def test_a_size_in_inches_has_one_number_at_both_ends_and_on_paper():
    """Holes 1.75 and 2.75 in from the cut ends of a bar of 40.5 in: 44.5 stood at one end and 44.4 at the other."""
    sheet = sheet_of(bar := drawn_in_inches())
    shown = _shown(ezdxf.read(io.StringIO(dxf_text(sheet, bar))))
    assert shown == sorted(d.text for d in sheet.ink.dimensions)
    assert shown.count("44.45") == shown.count("69.85") == 2
    assert [w.text for w in sheet.writings].count("69.85") == 4  # the details of both ends, and the table
    assert {"-514.4", "514.4"} <= {w.text for w in sheet.writings}


def test_the_centreline_in_space_is_the_bar(read_back):
    """Lines and arcs, one to the next without gap, from tip to tip, and of the developed length."""
    bar, _, doc = read_back
    parts = list(doc.modelspace().query('*[layer=="CENTRELINE_3D"]'))
    ends, length = [], 0.0
    for part in parts:
        if part.dxftype() == "LINE":
            ends.append((np.array(part.dxf.start), np.array(part.dxf.end)))
            length += float(np.linalg.norm(ends[-1][1] - ends[-1][0]))
        else:
            ends.append((np.array(part.start_point), np.array(part.end_point)))
            length += part.dxf.radius * float(np.radians((part.dxf.end_angle - part.dxf.start_angle) % 360.0))
    assert length == pytest.approx(part_of(bar).developed_length_mm, abs=1e-6)
    for (_, before), (after, _) in itertools.pairwise(ends):
        np.testing.assert_allclose(before, after, atol=1e-6)
    tips = [point.xyz_mm for point in part_of(bar).points if point.kind == "tip"]
    np.testing.assert_allclose([ends[0][0], ends[-1][1]], tips, atol=1e-6)


def test_the_paper_has_frame_and_title_and_a_window_on_each_group(read_back):
    bar, sheet, doc = read_back
    paper = doc.layout("Sheet")
    texts = [text.dxf.text for text in paper.query("TEXT")]
    assert any((bar.drawing or "Scale") in text for text in texts)
    groups = {stroke.group for stroke in sheet.ink.strokes if stroke.group is not None}
    scales = [port.dxf.height / port.dxf.view_height for port in paper.query("VIEWPORT") if port.dxf.id > 1]
    assert sorted(scales) == pytest.approx(sorted(group.scale for group in groups))


def test_the_same_bytes(drawn):
    bar, sheet = drawn
    assert dxf_text(sheet, bar) == dxf_text(sheet, bar)


def test_the_same_bytes_in_another_process(drawn, monkeypatch):
    """There a set of texts comes in another order: what the library goes over as a set must not decide on bytes."""
    bar, sheet = drawn
    in_use = EntityDB.dxf_types_in_use
    found = set()
    for backwards in (False, True):
        kinds = lambda self, way=backwards: dict.fromkeys(sorted(in_use(self), reverse=way))  # noqa: E731
        monkeypatch.setattr(EntityDB, "dxf_types_in_use", kinds)
        found.add(dxf_text(sheet, bar))
    assert len(found) == 1


def test_texts_of_dimensions_stand_where_they_stand_on_paper(read_back):
    """Left to the library, letters of 3.5 mm were run through by lines where there is room for 2.5, and cut in two by
    the edge of the sheet's window on them."""
    _, sheet, doc = read_back
    on_paper = sorted(
        (w.text, w.height_mm, *np.round((w.x_mm - 0.5 * w.height_mm, w.y_mm) if w.upright else
                                        (w.x_mm, w.y_mm + 0.5 * w.height_mm), 3))
        for w in sheet.dimension_ink.writings
    )  # fmt: skip
    windows = [port for port in doc.layout("Sheet").query("VIEWPORT") if port.dxf.id > 1]
    seen = []
    for each in doc.modelspace().query("DIMENSION"):
        (text,) = doc.blocks.get(each.dxf.geometry).query("MTEXT")
        for port in windows:
            k = port.dxf.height / port.dxf.view_height
            off = k * (np.array(text.dxf.insert)[:2] - np.array(port.dxf.view_center_point)[:2])
            if (np.abs(off) < 0.5 * np.array([port.dxf.width, port.dxf.height])).all():
                place = np.array(port.dxf.center)[:2] + off
                seen.append((text.text, round(text.dxf.char_height * k, 6), *np.round(place, 3)))
    assert [each[0] for each in sorted(seen)] == [each[0] for each in on_paper]
    np.testing.assert_allclose([e[1:] for e in sorted(seen)], [e[1:] for e in on_paper], atol=2e-3)
