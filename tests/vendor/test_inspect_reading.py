"""The inspection sheet as it comes back: a spreadsheet's ways are read, what is wrong is named by line and column."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.vendor.inspect_reading import read_inspection
from tests.model.bar_data import U_BAR
from tests.vendor.bars import handed_bar
from tests.vendor.lots import judged, lot_text, written


@pytest.fixture(scope="module")
def bar() -> Bar:
    return handed_bar()


def test_missing_points_are_missing_and_rows_are_as_good_as_points(bar, tmp_path):
    lines = lot_text(bar, ["bend"], seed=8).splitlines()
    some = judged(bar, tmp_path, "\n".join(line for line in lines if "bend 1 end" not in line)).bars[0]
    assert any(text.startswith("points bend 1 end: profile and tip mismatch not judged") for text in some.missing)
    assert some.numbers.get("tip_mismatch_mm") is None and "straight 1_mm" not in some.numbers
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit\n"
    rows = judged(bar, tmp_path, head + "R,row,row 2,22.5,rotation\nR,row,row 1,202.0,length\n").bars[0]
    (difference,) = rows.rows.differences
    assert (difference.row, difference.what) == (2, "rotation")
    assert difference.difference == pytest.approx(-2.5, abs=1e-3)
    assert "rotation 2.5 deg short" in rows.faults[0].words


HARD = "A,hardness,middle,,,,45,HRC,,"


GOOD = """# barfem inspection, format 1
# drawing = T-1 ; revision = B ; units = mm, N, deg, HRC
bar,what,place,x_mm,y_mm,z_mm,value,unit,case,note
A,diameter,middle,,,,24.0,mm,,
A,hardness,middle,,,,45,HRC,,
"""


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("# barfem inspection, format 1\n", "", "barfem inspection, format 1"),
        ("units = mm, N, deg, HRC", "", 'no "units"'),
        ("units = mm", "units = furlong", "furlong"),
        # Two files put together by hand: of the second's header nothing counted.
        ("bar,what", "# revision = C\nbar,what", "revision = 'B' on line 2 and 'C' on line 3"),
        (
            "bar,what",
            "# units = in, N, deg, HRC\nbar,what",
            "units = 'mm, N, deg, HRC' on line 2 and 'in, N, deg, HRC'",
        ),
        ("what,place", "thing,place", "column what missing"),
        ("24.0,mm", "24.0,", "line 4, column unit"),
        ("24.0,mm", "nan,mm", "line 4, column value"),
        ("24.0,mm", "0.945,mm", "drawn 24 mm"),
        ("24.0,mm", '"24,0",mm', "decimal comma"),
        (
            "45,HRC",
            "75,HRC",
            "line 5, column value: 75 HRC cannot be. Right would be: 20 to 70 HRC; is the scale right?",
        ),
        ("45,HRC", "45,HBW", "45 HBW cannot be. Right would be: 80 to 700 HBW; is the scale right?"),
        ("45,HRC", "450,HRC", "is the scale right?"),
        ("diameter,middle,,,,24.0", "flat thickness,right end,,,,0.47", "flat thickness 0.47 mm, drawn 12 mm"),
        ("45,HRC", "45,HRQ", "is no unit of hardness"),
        ("diameter,middle", "diametre,middle", "line 4, column what"),
        ("A,hardness,middle,,,,45,HRC,,", "A,diameter,middle,,,,24.1,mm,,", "stands on line 4 already"),
        ("A,hardness,middle,,,,45,HRC,,", "A,rate,hole 1,,,,20,N/mm,,", "a rate without its case"),
        ("A,hardness,middle,,,,45,HRC,,", "A,rate,hole 9,,,,20,N/mm,roll,", "hole 1, hole 2"),
        ("A,hardness,middle,,,,45,HRC,,", "A,point,bend 7 start,1,2,3,,,,", "tip right"),
        ("A,hardness,middle,,,,45,HRC,,", "A,point,tip right,1,2,,,,,", "line 5, column z_mm"),
        ("A,hardness,middle,,,,45,HRC,,", "A,point,tip right,1,2,3,,,,", "1 of 6 points"),
        # -374,8 -545,3 0,4 between commas: read as -374, 8, -545 the whole bar was bent wrong, and rejected.
        (HARD, "A,point,tip right,-374,8,-545,3,0,4,,,,", "3, 0, 4 beside the coordinates -374, 8, -545 (decimal"),
        (HARD, "A,hole axis,right end,0,3,0,9,0,3,,,,", "decimal commas and comma separators together"),
        (HARD, "A,hole axis,right end,1e308,1e308,0,,,,", "column x_mm: 1e308 is far out of range"),
        # What no such bar can have: inf % of the drawing would be printed, or a hole sought for minutes.
        (
            HARD,
            "A,hole diameter,hole 1 right,,,,0.012,mm,,",
            "hole diameter 0.012 mm cannot be. Right would be: 1 to 48 mm",
        ),
        (HARD, "A,hole from_tip,hole 1 right,,,,2400,mm,,", "hole from_tip 2400 mm cannot be"),
        (HARD, "A,record,mass,,,,1e308,kg,,", "mass 1e+308 kg, drawn"),
        (HARD, "A,record,mass,,,,-3,kg,,", "mass -3 kg, drawn"),
        (
            HARD,
            "A,record,decarburisation,,,,-0.1,mm,,",
            "decarburisation -0.1 mm cannot be. Right would be: 0 to 12 mm",
        ),
        (HARD, "A,rate,hole 1,,,,1e308,N/mm,roll,", "rate 1e+308 N/mm cannot be"),
        (HARD, "A,row,row 1,,,,1e308,length,,", "length 1e+308 mm cannot be"),
        (HARD, "A,row,row 1,,,,900,angle,,", "angle 900 deg cannot be. Right would be: 0 to 360 deg"),
        (
            HARD,
            "A,ovality,bend 7,,,,5,%,,",
            "line 5, column place: there is no bend 7. Right would be: bend 1 to bend 2",
        ),
        (HARD, "A,hardness,bend 0 outside,,,,45,HRC,,", "there is no bend 0"),
        (HARD, "A,ovality,bend 1,,,,-5,%,,", "ovality -5 % cannot be. Right would be: 0 to 100 %"),
        ("revision = B", "revision = C", "--any-revision"),
        # Points that may lie beside the bar say nothing of it: every fault was within the noise, and the bar accepted.
        (
            "; units",
            "; uncertainty = 100 mm ; units",
            "header, uncertainty: uncertainty = 100 mm is more than half the bar's diameter. Right would be: the "
            "standard deviation of one coordinate, at most 12 mm: uncertainty = 0.05 mm; is the unit right",
        ),
        ("; units", "; uncertainty = 0.5 in ; units", "more than half the bar's diameter"),
        # Without names the first bar's values would be taken for them, and the longer lines for decimal commas.
        (
            "bar,what,place,x_mm,y_mm,z_mm,value,unit,case,note\n",
            "",
            "line 3: the line of column names is missing: values begin with 'A,diameter",
        ),
    ],
)
def test_bad_files_are_refused_with_line_and_column(bar, tmp_path, old, new, message):
    assert old in GOOD
    bar_with_names = bar_from_dict({**dict(bar.tables), "revision": "B"})
    with pytest.raises(InputError) as refused:
        read_inspection(written(tmp_path, GOOD.replace(old, new)), bar_with_names)
    assert message in str(refused.value) and "lot.csv" in str(refused.value)


def test_points_twice_in_metres_or_on_each_other_are_refused(bar, tmp_path):
    lines = lot_text(bar, ["none"], seed=4).splitlines()
    points = [i for i, line in enumerate(lines) if ",point," in line]
    twice = [*lines, lines[points[2]]]
    copied = list(lines)
    copied[points[3]] = lines[points[2]].replace("bend 1 end", "bend 2 start")
    metres = list(lines)
    for i in points:
        cells = lines[i].split(",")
        metres[i] = ",".join([*cells[:3], *(f"{float(cell) / 1000:.7f}" for cell in cells[3:6]), *cells[6:]])
    slipped, endless = list(lines), list(lines)
    cells = lines[points[0]].split(",")
    slipped[points[0]] = ",".join([*cells[:4], f"{10 * float(cells[4]):.2f}", *cells[5:]])
    endless[points[0]] = ",".join([*cells[:4], "1e308", *cells[5:]])
    beside = list(lines)
    cells = lines[points[2]].split(",")
    beside[points[2]] = ",".join([*cells[:4], f"{float(cells[4]) + 60.0:.2f}", *cells[5:]])
    for text, message in (
        (twice, "already"),
        (copied, "the same point"),
        (metres, "0.001 times as far apart"),
        (slipped, f"tip right of bar {cells[0]} lies far from where it is drawn"),
        (endless, "a coordinate of 1e.308 mm"),
        # Too small a slip for the distances of all points: it made a bend of radius -140 mm out of a good bar.
        (beside, "bend 1 end of bar .* lies 6. mm from where the other points have it"),
    ):
        with pytest.raises(InputError, match=message):
            read_inspection(written(tmp_path, "\n".join(text)), bar)


def test_a_spreadsheets_ways_are_read(bar, tmp_path):
    text = lot_text(bar, ["none"], seed=4)
    plain = read_inspection(written(tmp_path, text), bar).bars[0]
    body = [line if line.startswith("#") else line.replace(",", ";").replace(".", ",") for line in text.splitlines()]
    path = tmp_path / "excel.csv"
    path.write_bytes(("\ufeff" + "\r\n".join(body) + "\r\n").encode("utf-8"))
    other = read_inspection(path, bar)
    assert np.array_equal(other.bars[0].points_mm, plain.points_mm)
    assert {"a byte order mark at the start", "line ends CR LF", "decimal commas"} <= set(other.notes)
    # A spreadsheet of the decimal comma that opened the file with commas, and saved it: headers are cut at commas too.
    cut = [next(csv.reader([line])) for line in text.splitlines()]
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, delimiter=";").writerows(
            [cell if line[0].startswith("#") else cell.replace(".", ",") for cell in line] for line in cut
        )
    assert np.array_equal(read_inspection(path, bar).bars[0].points_mm, plain.points_mm)
    inches = text.replace("units = mm", "units = in").replace("x_mm,y_mm,z_mm", "x_in,y_in,z_in")
    found = read_inspection(written(tmp_path, _in_inches(inches)), bar).bars[0]
    assert np.abs(found.points_mm - plain.points_mm).max() < 1e-4


def _in_inches(text: str) -> str:
    out = []
    for line in text.splitlines():
        cells = line.split(",")
        if ",point," in line:
            cells[3:6] = [f"{float(cell) / 25.4:.9f}" for cell in cells[3:6]]
        out.append(",".join(cells))
    return "\n".join(out)


def test_a_long_arm_is_a_bar_and_no_slip_of_a_point(bar, tmp_path):
    """A tip alone may lie far off: by the length of its straight."""
    lines = lot_text(bar, ["none"], seed=4, noise_mm=0.05).splitlines()
    at = next(i for i, line in enumerate(lines) if ",tip right," in line)
    tip, start = (np.array([float(cell) for cell in lines[i].split(",")[3:6]]) for i in (at, at + 1))
    x, y, z = (tip + 60.0 * (tip - start) / np.linalg.norm(tip - start)).tolist()
    lines[at] = ",".join([*lines[at].split(",")[:3], f"{x:.3f},{y:.3f},{z:.3f}", *lines[at].split(",")[6:]])
    (one,) = judged(bar, tmp_path, "\n".join(lines) + "\n").bars
    (fault,) = one.faults
    assert fault.words.startswith("straight 1: right arm: 60.")


HOLES = ("hole 1 right", "hole 2 right")


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ((45.0, 20.0), "bar A: hole 1 right and hole 2 right look exchanged: 45 and 20 mm, drawn 20 and 45"),
        ((0.787, 1.772), "line 3, column value: hole from_tip 0.787 mm, drawn 20 mm: as many inches"),
        ((2.0, 4.5), "line 3, column value: hole from_tip 2 mm, drawn 20 mm: as many cm"),
        ((22.0, 45.0), None),  # a bad hole
        ((47.0, 44.0), None),
    ],
)
def test_places_of_holes_in_another_unit_or_under_each_other_s_name_are_asked_about(tmp_path, found, told):
    """They were bars with holes 40 mm off, rejected."""
    plain = bar_from_dict(U_BAR)
    assert [hole.from_tip_mm for hole in plain.right.holes] == [20.0, 45.0]
    text = "# barfem inspection, format 1 ; units = mm, N, deg, HRC\nbar,what,place,value,unit\n"
    text += "".join(f"A,hole from_tip,{hole},{value},mm\n" for hole, value in zip(HOLES, found, strict=True))
    path = written(tmp_path, text)
    if told is None:
        assert len(read_inspection(path, plain).bars[0].readings) == 2
        return
    with pytest.raises(InputError) as refused:
        read_inspection(path, plain)
    assert told in str(refused.value)


def test_bars_with_the_very_same_points_are_told(bar, tmp_path):
    """No two bars measure alike in every digit: one was copied, and a lot of copies looks capable."""
    text = lot_text(bar, ["none", "none"], seed=4)
    copied = [line.replace("B-001", "B-009") for line in text.splitlines() if line.startswith("B-001,point")]
    assert not any("same points" in note for note in read_inspection(written(tmp_path, text), bar).notes)
    found = read_inspection(written(tmp_path, text + "\n".join([*copied, ""])), bar)
    assert "bars B-001, B-009 have the very same points, as if one were copied from another" in found.notes
