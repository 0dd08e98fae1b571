"""Rows sent back in another convention: the bar file they are laid out beside tells what their header does not."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.cli.main import main

HEAD = (
    "# barfem bend data, format 1\n# units = mm, deg ; start_tip = right ; geometry = finished, no springback\n"
    "# rotation = right-handed about the walking direction\nrow,length_mm,rotation_deg,angle_deg,radius_mm\n"
)
PICKUP = "geometries/pickup-front-solid.toml"
STRAIGHT, MIDDLE, ANGLE, RADIUS = 327.17, 876.32, 81.656, 60.0
SHORTER = RADIUS * np.tan(np.radians(ANGLE / 2.0))  # 51.9 mm from an intersection to its tangents


def _back(tmp_path, straight, middle, angle=ANGLE):
    sent, made = tmp_path / "sent.csv", tmp_path / "made.toml"
    rows = f"1,{straight:.3f},0,{angle},{RADIUS}\n2,{middle:.3f},0,{angle},{RADIUS}\n3,{straight:.3f},,,\n"
    sent.write_text(HEAD + rows, encoding="utf-8")
    return main(["bends", str(sent), "--to", str(made), "--like", PICKUP]), made


def test_lengths_between_intersections_are_told_without_a_developed_length(tmp_path, capsys):
    """By hand, R tan(angle / 2) more beside each bend: 379.0 and 980.1 mm. Read as straights they made a bar 208 mm
    longer than its drawing."""
    status, made = _back(tmp_path, STRAIGHT + SHORTER, MIDDLE + 2.0 * SHORTER)
    said = capsys.readouterr().err
    assert status == 2 and not made.exists()
    assert "column length_mm: lengths are between intersections, not tangents: 379, 980, 379 mm" in said


@pytest.mark.parametrize(("longer", "angle"), [(0.0, ANGLE), (20.0, ANGLE), (-8.0, 76.0)])
def test_a_bar_changed_on_purpose_is_read(tmp_path, longer, angle):
    status, made = _back(tmp_path, STRAIGHT + longer, MIDDLE, angle)
    assert status == 0 and made.exists()


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("# section = round 25\n", "section round 25 in the file, round 22 kept"),
        ("# section = tube 22 x 4\n", "section tube 22 x 4 in the file, round 22 kept"),
        ("# drawing = PF-009 ; revision = C\n", "drawing PF-009 in the file, PF-001 kept"),
        ("# drawing = PF-001 ; revision = A ; section = round 22\n", None),
        ("# section = 22 round, ground\n", None),
    ],
)
def test_another_section_or_drawing_in_the_header_is_told(tmp_path, capsys, header, said):
    """Steel, section and ends are the bar file's: rows of a 25 mm bar were laid out as one of 22 without a word."""
    sent = tmp_path / "sent.csv"
    rows = f"1,{STRAIGHT},0,{ANGLE},{RADIUS}\n2,{MIDDLE},0,{ANGLE},{RADIUS}\n3,{STRAIGHT},,,\n"
    sent.write_text(HEAD.replace("row,", header + "row,"), encoding="utf-8")
    sent.write_text(sent.read_text("utf-8") + rows, encoding="utf-8")
    assert main(["bends", str(sent), "--to", str(tmp_path / "made.toml"), "--like", PICKUP]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert said in out if said else "kept" not in out
