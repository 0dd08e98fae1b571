"""Rows, points and clocking of the part, and bend data written and read back, as a bender needs them."""

from __future__ import annotations

from copy import deepcopy

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings

from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.lra import rows_from_points
from barfem.model.read import bar_from_dict, read_bar
from barfem.vendor.bend_data import points_csv, read_bend_data, rows_csv
from barfem.vendor.bent_bar import bar_with_rows, hole_differences
from barfem.vendor.inspect_sheet import asked_of
from barfem.vendor.part import clocking_deg, end_inward, part_of
from tests.model.bar_data import FLAT, U_BAR
from tests.vendor.bars import LRA_ROWS, bars_in_space, flat_bar, handed_bar, lra_bar

QUICK = (Phase.explicit, Phase.generate)  # no shrinking: an example of a few numbers needs none
WAYS = [(start, hand) for start in ("right", "left") for hand in ("as-drawn", "other")]


def test_the_published_example_of_rows():
    """Polyline with R 50, recomputed independently to four decimals; developed length 1499.9275 mm."""
    part = part_of(lra_bar())
    for row, (length, rotation, angle) in zip(part.rows, LRA_ROWS, strict=False):
        assert (row.length_mm, row.rotation_deg, row.angle_deg) == pytest.approx((length, rotation, angle), abs=6e-5)
    assert part.rows[-1].length_mm == pytest.approx(210.6772, abs=6e-5)
    assert part.developed_length_mm == pytest.approx(1499.9275, abs=6e-5)


def test_cut_length_of_a_planar_u_by_hand():
    """Legs 250 - 48, middle 1000 - 2 x 48, two quarter arcs of 48; 6 mm at each end are cut off after bending."""
    part = part_of(flat_bar(), end_allowance_mm=6.0)
    assert part.developed_length_mm == pytest.approx(2 * 202.0 + 904.0 + np.pi * 48.0)
    assert part.cut_length_mm == part.developed_length_mm + 12.0
    assert part.shortest_between_bends_mm == pytest.approx(904.0)


@pytest.mark.parametrize(("start", "hand"), WAYS)
def test_rows_from_any_tip_and_of_any_hand_are_those_of_the_corner_points(start, hand):
    """The long way round: mirror and reverse the corner points themselves, then take rows from them."""
    corners = np.array([p.xyz_mm for p in part_of(lra_bar()).points if p.kind in ("tip", "intersection")])
    if hand == "other":
        corners = (corners * [1, -1, 1])[::-1]  # its right tip is the drawn left tip
    if start == "left":
        corners = corners[::-1]
    expected = rows_from_points(points_mm=corners, bend_radii_mm=50.0)
    part = part_of(lra_bar(), start_tip=start, hand=hand)
    for row, other in zip(part.rows, expected, strict=True):
        assert row.length_mm == pytest.approx(other.length_mm, abs=1e-9)
        assert row.rotation_deg == pytest.approx(other.rotation_deg, abs=1e-9)
    listed = np.array([p.xyz_mm for p in part.points if p.kind in ("tip", "intersection")])
    np.testing.assert_allclose(listed, corners, atol=1e-9)


@pytest.mark.parametrize(("start", "hand"), WAYS)
def test_half_a_turn_is_180_and_never_less_than_minus_180(start, hand):
    """A crank up and down again: the middle bends lie in one plane, each half a turn from the one before."""
    corners = [[-265, -470, -20], [0, -450, 0], [0, -230, 0], [45, -130, 70], [45, 130, 70], [0, 230, 0], [0, 450, 0]]
    corners = [*corners, [-265, 470, -20]]
    radii = [50.0, 65.0, 65.0, 65.0, 65.0, 50.0]
    bar = bar_from_dict({**U_BAR, "centreline": {"points": corners, "bend_radius": radii}})
    written = rows_csv(bar, part_of(bar, start_tip=start, hand=hand))
    rotations = [line.split(",")[2] for line in written.splitlines() if line[0].isdigit() and line.split(",")[2]]
    assert len(rotations) == 6 and rotations.count("180") == 2 and "-180" not in rotations


def test_clocking_by_hand():
    """Right tip at (-250, -500, 0), the first bend turns to +y. The hole axis is turned about +x, from +y: by the
    right-hand rule 30 deg lead to (0, cos 30, sin 30). On the left tip the same sense leads to (0, -cos 30, sin 30)."""
    c, s = np.cos(np.radians(30.0)), np.sin(np.radians(30.0))
    for side, normal, expected in (
        ("right", [0, c, s], 30.0),
        ("left", [0, -c, s], -30.0),
        ("right", [0, -c, -s], 30.0),  # an axis is a line
        ("right", [0, 0, -1], 90.0),
        ("left", [0, 1, 0], 0.0),
    ):
        tables = deepcopy(U_BAR)
        tables["ends"][side] = {"flat": {**FLAT, "normal": normal}}
        bar = bar_from_dict(tables)
        end = bar.right if side == "right" else bar.left
        assert clocking_deg(bar, end) == (pytest.approx(expected, abs=1e-9), "bend")
        found = [h for h in part_of(bar, start_tip="left").holes if h.end == side]
        assert found[0].clocking_deg == pytest.approx(expected, abs=1e-9), "the same from both start tips"
    round_end = part_of(bar_from_dict(U_BAR)).holes[0]
    assert round_end.clocking_deg is None


def test_an_end_without_bend_plane_is_clocked_to_the_other_hole():
    tables = deepcopy(U_BAR)
    tables["centreline"] = {"points": [[0, -500, 0], [0, 0, 0], [20, 500, 0]], "bend_radius": 100.0}
    tables["ends"]["flat"] = {**FLAT, "normal": [1, 0, 0]}
    tables["ends"]["right"] = {"flat": {**FLAT, "normal": [1, 0, 0.5]}}
    bar = bar_from_dict(tables)
    # from the left hole's axis (x) to (1, 0, 0.5), about the walking direction +y: x turns to -z
    assert clocking_deg(bar, bar.right) == (pytest.approx(-np.degrees(np.arctan(0.5)), abs=0.01), "hole")


def test_bend_data_and_the_sheet_say_that_an_end_is_clocked_to_the_other_hole(tmp_path):
    """Without it a maker would set the axis from the plane of a bend of 3 deg, here 83 deg off."""
    tables = deepcopy(U_BAR)
    tables["centreline"] = {
        "points": [[-400, -505, 0], [-200, -500, 5], [0, -500, 0], [0, 500, 0], [-250, 500, 0]],
        "bend_radius": [200.0, 50.0, 50.0],
    }
    tables["ends"]["flat"] = {**FLAT, "normal": [0.1, 1, 0.3]}
    bar = bar_from_dict(tables)
    path = tmp_path / "b.csv"
    for start in ("right", "left"):
        for write in (rows_csv, points_csv):
            path.write_text(write(bar, part_of(bar, start_tip=start)), encoding="utf-8")
            lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("# hole")]
            told = {line.split(" ; ")[1]: line.endswith(" ; clocked_from = hole of the other end") for line in lines}
            assert told == {"end = right": True, "end = left": False}
            assert hole_differences(read_bend_data(path), bar) == []
    axes = {asked.place: asked.nominal for asked in asked_of(bar) if asked.what == "hole axis"}
    assert axes["right end"].endswith("deg from the other end's hole") and axes["left end"].endswith("deg")


def test_points_of_a_bend_without_intersection_ask_for_rows(tmp_path):
    tables = deepcopy(U_BAR)
    del tables["centreline"]
    tables["bends"] = {
        "start_tip": "right", "start": [-230, -470, 15], "direction": [0, -1, 0], "first_bend_towards": [1, 0, 0.2],
        "rows": [[120, 0, 200, 50], [300, 20, 30, 60], [500, -40, 95, 55], [250]],
    }  # fmt: skip
    bar, path = bar_from_dict(tables), tmp_path / "b.csv"
    path.write_text(points_csv(bar, part_of(bar)), encoding="utf-8")
    with pytest.raises(InputError, match="180 deg or more") as caught:
        read_bend_data(path)
    assert "as rows" in str(caught.value)
    path.write_text(rows_csv(bar, part_of(bar)), encoding="utf-8")
    assert [row.angle_deg for row in read_bend_data(path).rows[:3]] == pytest.approx([200.0, 30.0, 95.0])


@settings(max_examples=20, deadline=None, phases=QUICK)
@given(bar=bars_in_space())
def test_round_trips_are_exact_to_a_millionth_of_a_mm(bar, tmp_path_factory):
    """Bar file to CSV of rows or points, from either tip, of either hand, and back: every tangent point lies where it
    was; the other hand's other hand is the bar."""
    path = tmp_path_factory.mktemp("csv") / "b.csv"
    there = np.array([p.xyz_mm for p in part_of(bar).points])
    for start, hand in WAYS:
        part = part_of(bar, start_tip=start, hand=hand)
        for write in (rows_csv, points_csv):
            path.write_text(write(bar, part), encoding="utf-8")
            data = read_bend_data(path)
            if hand == "as-drawn":
                back = bar_with_rows(data, bar)
                np.testing.assert_allclose([p.xyz_mm for p in part_of(back).points], there, atol=1e-6)
            else:
                for row, sent in zip(data.rows, part.rows, strict=True):
                    assert row.length_mm == pytest.approx(sent.length_mm, abs=1e-6)
                    assert row.angle_deg is None or row.angle_deg == pytest.approx(sent.angle_deg, abs=1e-8)


@settings(max_examples=15, deadline=None, phases=QUICK)
@given(bar=bars_in_space())
def test_the_other_hand_is_the_mirror_image(bar):
    """The tables of the mirrored corner points, right tip first, make a bar whose rows are those of hand other."""
    assume(len(bar.centreline.bends) > 1)
    corners = [p for p in part_of(bar).points if p.kind in ("tip", "intersection")]
    tables = deepcopy(dict(bar.tables))
    del tables["bends"]
    tables["centreline"] = {
        "points": [[p.xyz_mm[0], -p.xyz_mm[1], p.xyz_mm[2]] for p in reversed(corners)],
        "bend_radius": [p.radius_mm for p in reversed(corners) if p.radius_mm is not None],
    }
    mirrored = part_of(bar_from_dict(tables))
    for row, other in zip(mirrored.rows, part_of(bar, hand="other").rows, strict=True):
        assert row.length_mm == pytest.approx(other.length_mm, abs=1e-6)
        assert abs((row.rotation_deg - other.rotation_deg + 180.0) % 360.0 - 180.0) < 1e-6


@pytest.fixture
def sent(tmp_path):
    """Bend data of the published example."""
    bar = lra_bar()
    path = tmp_path / "sent.csv"
    path.write_text(rows_csv(bar, part_of(bar)), encoding="utf-8")
    return path


QUIRKS = {
    "a byte order mark": lambda text: "\ufeff" + text,
    "CR LF": lambda text: text.replace("\n", "\r\n"),
    "semicolons": lambda text: "\n".join(
        line if line.startswith("#") else line.replace(",", ";").replace(".", ",") for line in text.splitlines()
    ),
    "quoted": lambda text: "\n".join(
        line if line.startswith("#") else ",".join(f'"{cell}"' for cell in line.split(","))
        for line in text.splitlines()
    ),
    "blank lines": lambda text: text.replace("\n1,", "\n\n\n1,").replace("\n3,", "\n\n3,"),
    "another order": lambda text: "\n".join(
        line if line.startswith("#") else ",".join(line.split(",")[::-1]) for line in text.splitlines()
    ),
}


@pytest.mark.parametrize("named", QUIRKS)
def test_what_spreadsheets_do_is_read_and_named(sent, named):
    plain = read_bend_data(sent)
    sent.write_bytes(QUIRKS[named](sent.read_text()).encode("utf-8"))
    data = read_bend_data(sent)
    assert data.rows == plain.rows
    assert any(named in note for note in data.notes), data.notes


def test_inches_are_read(sent):
    lines = []
    for line in sent.read_text().splitlines():
        cells = line.split(",")
        if line.startswith("row"):
            line = line.replace("_mm", "_in")
        elif not line.startswith("#"):
            cells[1] = repr(float(cells[1]) / 25.4)
            cells[4] = repr(float(cells[4]) / 25.4) if cells[4] else ""
            line = ",".join(cells)
        lines.append(line.replace("units = mm", "units = in").replace("developed_length", "length_told"))
    sent.write_text("\n".join(lines))
    data = read_bend_data(sent)
    assert "inches" in data.notes and data.rows[0].length_mm == pytest.approx(210.6772, abs=1e-4)


REFUSED = {
    "a column missing": ("radius_mm", "radius", "radius_mm missing"),
    "decimal commas between commas": ("210.677", "210,677", "decimal commas and comma separators"),
    "a first rotation": (",0,76", ",5,76", "no bend before it"),
    "a negative length": ("\n2,164", "\n2,-164", "negative"),
    "a negative radius": ("19.471220634,50", "19.471220634,-50", "not above 0"),
    "no radius": ("19.471220634,50", "19.471220634,", "radius is missing"),
    "a number twice": ("\n2,", "\n1,", "already"),
    "a row lost": ("\n3,582", "\n#3,582", "3 is missing"),
    "no last straight": ("\n5,210", "\n#5,210", "do not close"),
    "not a number": ("164.23", "NaN#", "no finite number"),
    "springback": ("finished, no springback", "with springback", "springback"),
    "springback beside it": ("units = mm, deg", "units = mm, deg ; springback = 1.02", "springback"),
    "springback in a remark": (
        "\nrow,",
        "\n# bent with springback added\nrow,",
        "the header says 'bent with springback added'",
    ),
    "springback in a second remark": (
        "\nrow,",
        "\n# remark = none\n# remark = springback of 3 deg is in it\nrow,",
        "the header says 'remark = springback of 3 deg is in it'",
    ),
    "two units": (
        "\nrow,",
        "\n# units = in, deg\nrow,",
        "units = 'mm, deg' on line 3 and 'in, deg' on line",
    ),
    "the other sense": ("right-handed about", "left-handed about", "another sense"),
    "no start": ("start_tip = right ;", "", "start_tip"),
    "no units": ("units = mm, deg ;", "", "units"),
    "no format": ("# barfem bend data, format 1", "#", "format"),
    "half a file": ("\n3,582", "\n3\n#", "cell is empty"),
    # A cell that no bar has is named itself: the developed length of the header would be blamed for it otherwise.
    "a straight of 1e308": ("\n2,164.230596302", "\n2,1e308", "line .*, column length_mm: 1e308 is far out of range"),
    "a radius in another unit": (
        "19.471220634,50\n",
        "19.471220634,50000\n",
        "column radius_mm: 50000 is far out of range",
    ),
    "an angle of 1e308": (",19.471220634,", ",1e308,", "column angle_deg: 1e\\+308 deg"),
    "a developed length that is none": ("developed_length = ", "developed_length = nan ", "developed_length = 'nan"),
    "a developed length of 1e308": ("developed_length = ", "developed_length = 1e308 #", "developed_length = '1e308'"),
    "no column names": ("row,length_mm,rotation_deg,angle_deg,radius_mm\n", "", "the line of column names is missing"),
    "a straight changed": ("\n3,582", "\n3,592", "add up to"),
}


@pytest.mark.parametrize("fault", REFUSED)
def test_what_could_scrap_a_batch_is_refused(sent, fault):
    old, new, words = REFUSED[fault]
    text = sent.read_text()
    assert old in text
    sent.write_text(text.replace(old, new, 1))
    with pytest.raises(InputError, match=words):
        read_bend_data(sent)


@pytest.mark.parametrize(
    ("row", "column", "cell", "words"),
    [
        ("2,tangent_in,1", 6, "55", "line .*, column radius_mm: 55, and bend 1 has 50"),
        ("2,tangent_in,1", 6, "fifty", "line .*, column radius_mm: 'fifty' is no finite number"),
        ("4,tangent_out,1", 2, "2", "line .*, column bend: bend 2 stands where bend 1 is"),
        ("3,intersection,1", 2, "one", "line .*, column bend: 'one' is no finite number"),
    ],
)
def test_points_that_contradict_each_other_are_refused(tmp_path, row, column, cell, words):
    bar = lra_bar()
    path = tmp_path / "points.csv"
    lines = points_csv(bar, part_of(bar)).splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(f"{row},"))
    cells = lines[at].split(",")
    cells[column] = cell
    path.write_text("\n".join([*lines[:at], ",".join(cells), *lines[at + 1 :]]), encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_bend_data(path)


def test_lengths_between_intersections_are_recognised(sent):
    """Each straight of the file longer by R tan(A / 2) of the bends beside it."""
    out = []
    takes = [0.0, *(50.0 * np.tan(np.radians(angle / 2.0)) for _, _, angle in LRA_ROWS), 0.0]
    for line in sent.read_text().splitlines():
        cells = line.split(",")
        if cells[0].isdigit():
            i = int(cells[0])
            cells[1] = f"{float(cells[1]) + takes[i - 1] + takes[i]:.6f}"
        out.append(",".join(cells))
    sent.write_text("\n".join(out))
    with pytest.raises(InputError, match="between intersections, not tangents"):
        read_bend_data(sent)


def test_included_angles_are_asked_about(sent):
    text = sent.read_text().replace("76.3669", "103.633").replace("19.471220634", "160.5288")
    text = "\n".join(line.replace("developed_length", "message") for line in text.splitlines())
    sent.write_text(text)
    with pytest.raises(InputError, match="included angles"):
        read_bend_data(sent)
    assert read_bend_data(sent, angles_turned=True).rows[0].angle_deg == pytest.approx(103.633, abs=0.01)


def test_the_command_writes_and_reads_back(tmp_path, capsys):
    """A demo bar out as rows from the left tip, back as a bar file: the same points, flats, and check of its reader."""
    bar, csv, new = "geometries/pickup-rear-tube.toml", tmp_path / "b.csv", tmp_path / "new.toml"
    assert main(["bends", bar, "--start", "left", "--csv", str(csv), "--xyz", str(tmp_path / "p.csv")]) == 0
    out = capsys.readouterr().out
    assert "walking direction" in out and "material moves" in out and "Tool" in out and "springback" in out
    assert main(["bends", str(csv), "--to", str(new), "--like", bar]) == 0
    one, two = read_bar(bar), read_bar(new)
    for there, back in zip(part_of(one).points, part_of(two).points, strict=True):
        assert back.xyz_mm == pytest.approx(there.xyz_mm, abs=1e-6)
    for there, back in zip(part_of(one).holes, part_of(two).holes, strict=True):
        assert back.clocking_deg == pytest.approx(there.clocking_deg, abs=1e-6)
    assert main(["bends", str(csv), "--to", str(new), "--like", bar]) == 2, "a bar file is not replaced unasked"
    assert main(["bends", str(csv)]) == 2


def test_a_hole_whose_end_is_not_said_is_told_as_such(sent):
    sent.write_text(sent.read_text().replace(" ; end = right", ""))
    told = hole_differences(read_bend_data(sent), lra_bar())
    assert 'the file has a hole "1" of no end, the bar file has none of that name' in told


def test_rows_that_the_other_file_s_links_do_not_fit_are_named_beside_it(tmp_path, capsys):
    """The other file is in order by itself: it was named alone."""
    bar, csv = "geometries/coupe-rear-cranked.toml", tmp_path / "b.csv"
    assert main(["bends", bar, "--csv", str(csv)]) == 0
    csv.write_text(csv.read_text(encoding="utf-8").replace(",127.0", ",-5.0"), encoding="utf-8")
    assert main(["bends", str(csv), "--to", str(tmp_path / "new.toml"), "--like", bar]) == 2
    assert f"{csv}, the rest from coupe-rear-cranked.toml: [links] pickup" in capsys.readouterr().err
    assert not (tmp_path / "new.toml").exists()


def test_a_named_bend_clocks_both_ends(tmp_path, capsys):
    """Bend 1 lies in the drawing's x-y plane, bend 2 turned by 25 deg from it: the left axis seen from both."""
    bar = handed_bar()
    left = clocking_deg(bar, bar.left)[0]
    assert left != pytest.approx(90.0, abs=1.0)
    named = handed_bar(datum_bend=1)
    assert clocking_deg(named, named.right) == (pytest.approx(clocking_deg(bar, bar.right)[0]), "named bend")
    # Bend 1's plane is the drawing's x-y plane: a left axis that lies in it is clocked 0, one along z is 90.
    u, zero = end_inward(named, named.left, 1)
    assert abs(zero[2]) < 1e-9 and abs(zero @ u) < 1e-12
    axis = np.array(named.left.flat.normal)
    by_hand = np.degrees(np.arctan2(u @ np.cross(zero, axis), zero @ axis))
    assert clocking_deg(named, named.left)[0] == pytest.approx((by_hand + 90.0) % 180.0 - 90.0)
    # From the other tip the same angle, and the bend has the other number; the other hand turns its sign.
    part, back = part_of(named), part_of(named, start_tip="left")
    assert (part.datum_bend, back.datum_bend) == (1, 2)
    assert [hole.clocking_deg for hole in part.holes] == [hole.clocking_deg for hole in back.holes]
    assert part_of(named, hand="other").datum_bend == 2
    path = tmp_path / "rows.csv"
    path.write_text(rows_csv(named, back), encoding="utf-8")
    assert "clocked_from = bend 2" in path.read_text(encoding="utf-8")
    data = read_bend_data(path)
    again = bar_with_rows(data, named)
    assert clocking_deg(again, again.left)[0] == pytest.approx(clocking_deg(named, named.left)[0], abs=1e-6)
    assert hole_differences(data, again) == []
    assert any("clocked from bend 2 in the file" in text for text in hole_differences(data, bar))


@pytest.mark.parametrize(("number", "message"), [(3, "there is no bend 3"), (0, "datum_bend")])
def test_a_named_bend_that_is_none_is_refused(number, message):
    with pytest.raises(InputError, match=message):
        part_of(handed_bar(datum_bend=number))
