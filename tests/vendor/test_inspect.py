"""Bars that came back: planted faults are named and no other, fits agree with outside ones, bad files are refused."""

from __future__ import annotations

import csv
import json

import numpy as np
import pytest

from barfem.cli.main import main
from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from barfem.vendor.inspect_fit import fit_function, match
from barfem.vendor.inspect_reading import read_inspection
from barfem.vendor.inspect_rows import explain_rows
from barfem.vendor.inspect_shape import MIRROR, drawn_points, drawn_rows, rigid_fit, walk
from tests.model.bar_data import U_BAR
from tests.often import often
from tests.vendor.bars import handed_bar
from tests.vendor.lots import EXPECTED, FAULTS, judged, lot_text, moved, planted_points, written

SEEDS = 100


@pytest.fixture(scope="module")
def bar() -> Bar:
    return handed_bar()


def test_each_planted_fault_is_named_and_no_other(bar, tmp_path):
    faults = list(FAULTS)
    found = judged(bar, tmp_path, lot_text(bar, faults, seed=5))
    texts = [[fault.kind for fault in each.faults] for each in found.bars]
    assert texts == [EXPECTED[fault] for fault in faults]
    by_fault = dict(zip(faults, found.bars, strict=True))
    assert by_fault["none"].verdict == by_fault["exchanged"].verdict == "accept"
    assert {by_fault[name].verdict for name in ("soft", "thin wall", "mirrored")} == {"reject"}
    (bend,) = by_fault["bend"].faults
    assert bend.row == 2 and bend.words.startswith("bend 2: ") and "instead of 80.0 deg" in bend.words
    (rotation,) = by_fault["rotation"].faults
    assert rotation.words.startswith("bend 2: rotation 2.") and rotation.nominal == pytest.approx(25.0)
    (arm,) = by_fault["long"].faults
    assert arm.row == 1 and "right arm" in arm.words and arm.measured - arm.nominal == pytest.approx(5.0, abs=0.6)


def test_a_decarburised_depth_that_nothing_limits_is_said_not_to_be_judged(bar, tmp_path):
    """Accepted, all that was measured within the drawing, and no word of the depth that the bar as received has."""
    line = "B-001,record,decarburisation,,,,0.2,mm,,\n"
    (one,) = judged(bar, tmp_path, lot_text(bar, ["none"], seed=5) + line).bars
    assert any(note.startswith("decarburised 0.20 mm deep") and "not judged" in note for note in one.notes)


@pytest.mark.parametrize(
    ("fault", "named"),
    [("none", ()), ("bend", ((2, "angle"),)), ("rotation", ((2, "rotation"),)), ("long", ((1, "length"),))],
)
def test_rows_are_named_rightly_for_a_hundred_seeds(bar, fault, named):
    rng = np.random.default_rng(11)
    nominal, drawn = drawn_points(bar), drawn_rows(bar)
    seen = []
    for _ in range(SEEDS):
        turn, shift = moved(rng)
        seen.append(planted_points(bar, fault, rng) @ turn.T + shift + rng.normal(0.0, 0.1, nominal.shape))
    lies = [match(points, nominal) for points in seen]
    assert all((lie.hand, lie.order) == ("as-drawn", "as named") for lie in lies)
    found = [tuple((each.row, each.what) for each in fit.differences) for fit in explain_rows(drawn, seen)]
    assert sum(each == named for each in found) >= 0.99 * SEEDS


@pytest.mark.parametrize("fault", often(["soft", "thin wall", "clocked"], 1))
@pytest.mark.long
def test_what_is_no_row_is_named_for_a_hundred_seeds(bar, tmp_path, monkeypatch, fault):
    """Named and nothing else accused; the whole checks of the bars as received are left out."""
    monkeypatch.setattr("barfem.vendor.inspect.check_received", lambda drawn, made, *_, **__: [None] * len(made))
    found = judged(bar, tmp_path, lot_text(bar, [fault] * SEEDS, seed=77))
    assert sum([each.kind for each in one.faults] == EXPECTED[fault] for one in found.bars) >= 0.99 * SEEDS


def test_hand_and_order_are_told_for_a_hundred_seeds(bar):
    rng = np.random.default_rng(12)
    nominal = drawn_points(bar)
    for made, expected in (
        (nominal[::-1], ("as-drawn", "ends exchanged")),
        ((nominal * MIRROR)[::-1], ("other", "as named")),
        (nominal * MIRROR, ("other", "ends exchanged")),
    ):
        for _ in range(SEEDS):
            turn, shift = moved(rng)
            lie = match(made @ turn.T + shift + rng.normal(0.0, 0.1, nominal.shape), nominal)
            assert (lie.hand, lie.order) == expected


def test_points_walked_from_rows_are_the_drawn_ones(bar):
    walked = walk(drawn_rows(bar).vector, 2)[0]
    turn, shift = rigid_fit(walked, drawn_points(bar))
    assert np.abs(walked @ turn.T + shift - drawn_points(bar)).max() < 1e-9


def test_in_function_the_tips_share_what_the_rotation_does():
    """A plain U, its left arm turned by 2 deg: by hand the left hole rises by lever x sin 2 deg, shared by both."""
    bar = bar_from_dict(U_BAR)
    rows = drawn_rows(bar)
    vector = rows.vector.copy()
    vector[3] += 2.0
    turn, shift = rigid_fit(walk(rows.vector, 2)[0], drawn_points(bar))
    points = walk(vector, 2)[0] @ turn.T + shift
    found = fit_function(bar, points)
    assert abs(found.tip_mismatch_mm) == pytest.approx(230.0 * np.sin(np.radians(2.0)), rel=1e-3)
    # However the bar lies in the measuring frame, and of the drawing itself nothing is left.
    spin, away = moved(np.random.default_rng(0))
    assert fit_function(bar, points @ spin.T + away).tip_mismatch_mm == pytest.approx(found.tip_mismatch_mm, abs=1e-9)
    assert abs(fit_function(bar, drawn_points(bar) @ spin.T).tip_mismatch_mm) < 1e-9
    assert fit_function(bar, drawn_points(bar)).distance_mm.max() < 1e-9


@pytest.mark.long
def test_a_plan_forgives_form_and_never_a_soft_bar(bar, tmp_path):
    from barfem.vendor.inspect_lot import lot_of
    from barfem.vendor.sampling import Plan

    plan = Plan(kind="attributes", lot=60, n=2, c=1, k=None, risks=((0.01, 1.0), (0.1, 0.5)), how="made up")
    for fault, accepts in (("none", True), ("mirrored", True), ("soft", False)):
        found = judged(bar, tmp_path, lot_text(bar, ["none", fault], seed=3))
        assert lot_of(bar, found.bars, found.limits, plan).plan_accepts is accepts, fault
    assert judged(bar, tmp_path, lot_text(bar, ["none"], seed=3), plan=plan).lot.plan_accepts is None


def test_a_bar_that_maps_onto_itself_says_so(tmp_path):
    bar = bar_from_dict(U_BAR)
    found = judged(bar, tmp_path, lot_text(bar, ["exchanged"], seed=1))
    assert found.two_fold and found.bars[0].lie.order == "as named"
    assert any("cannot be told apart" in note for note in found.bars[0].notes)


def test_rework_accept_with_note_and_reject_follow_the_drawing(tmp_path):
    text = lot_text(handed_bar(), ["bend"], seed=2)
    assert judged(handed_bar(), tmp_path, text).bars[0].verdict in ("accept with note", "reject")
    tables = dict(handed_bar().tables)
    rework = bar_from_dict({**tables, "inspection": {"rework": True}})
    assert judged(rework, tmp_path, text).bars[0].verdict == "rework"
    wide = bar_from_dict({**tables, "drawing": {**tables["drawing"], "profile_tolerance": 40.0, "tip_mismatch": 40.0}})
    only = judged(wide, tmp_path, text).bars[0]
    assert only.verdict == "accept" and [fault.kind for fault in only.faults] == ["bend angle"]


def test_the_bar_as_received_is_the_bar_of_what_was_measured(tmp_path):
    """Thickness and mismatch by hand: rate ~ d^4 within a few per cent, preload = mismatch / 2 x rate at rest."""
    bar = bar_from_dict(U_BAR)
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit,case\n"
    text = head + "A,diameter,middle,24,mm,\nB,diameter,middle,23.5,mm,\n"
    a, b = judged(bar, tmp_path, text).bars
    ratio = b.as_received.rate_N_per_mm / a.as_received.rate_N_per_mm
    assert ratio == pytest.approx((23.5 / 24.0) ** 4, rel=0.02)
    assert b.as_received.yield_margin != a.as_received.yield_margin
    assert any("bends as drawn" in text for text in a.missing)


@pytest.mark.parametrize("travel", [{"pickup": 40.0}, {"up": 50.0, "down": 20.0}])
def test_the_preload_of_a_mismatch_is_that_of_the_solved_bar(travel):
    """3 mm between the tips: half of it at each link, oppositely, is what the links carry at rest."""
    from barfem.solve.beam import all_settings, solve_bar
    from barfem.vendor.inspect_check import check_received
    from barfem.vendor.inspect_received import drawn_bands, received

    bar = bar_from_dict({**U_BAR, "travel": travel})
    limits = drawn_bands(bar)
    made = received(bar, limits, rows=None, values=dict.fromkeys(limits.bands, 0.0), tip_mismatch_mm=3.0)
    left, right = made.bar.left_link.length_error_mm, made.bar.right_link.length_error_mm
    assert (left, right) == pytest.approx((-1.5, 1.5))
    (found,) = check_received(bar, [made], [3.0])
    setting = next(s for s in all_settings(bar) if bar.left.holes[s.left].name == found.holes)
    at_rest = np.abs(solve_bar(made.bar, [setting]).link_force_N[0, 0])
    assert at_rest == pytest.approx(np.full(2, found.preload_N), rel=0.03)


def test_a_measured_roll_rate_is_that_of_both_ends_moving_as_far(tmp_path):
    """The bench moves both ends alike, whatever bump and droop the car has: 40 mm each, or 60 and 20."""
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit,case\n"
    alike, unlike = (
        judged(bar_from_dict({**U_BAR, "travel": travel}), tmp_path, head + "A,rate,hole 1,1,N/mm,roll\n")
        .bars[0]
        .judged[-1]
        for travel in ({"pickup": 40.0}, {"up": 60.0, "down": 20.0})
    )
    assert unlike.low == pytest.approx(alike.low, rel=1e-9) and unlike.high == pytest.approx(alike.high, rel=1e-9)


def test_a_measured_rate_of_the_other_case_is_asked_about(tmp_path):
    bar = bar_from_dict(U_BAR)
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit,case\n"
    right = judged(bar, tmp_path, head + "A,rate,hole 1,1,N/mm,roll\n").bars[0].judged[-1]
    roll = 0.5 * (right.low + right.high)
    good = judged(bar, tmp_path, head + f"A,rate,hole 1,{roll:.3f},N/mm,roll\n").bars[0]
    assert good.judged[-1].passes and good.verdict == "accept"
    wrong = judged(bar, tmp_path, head + f"A,rate,hole 1,{roll:.3f},N/mm,one_end_held\n").bars[0]
    assert wrong.judged[-1].passes is False and any("factor near 2" in note for note in wrong.notes)


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
        ("what,place", "thing,place", "column what missing"),
        ("24.0,mm", "24.0,", "line 4, column unit"),
        ("24.0,mm", "nan,mm", "line 4, column value"),
        ("24.0,mm", "0.945,mm", "drawn 24 mm"),
        ("24.0,mm", '"24,0",mm', "decimal comma"),
        ("45,HRC", "75,HRC", "line 5, column value: 75 HRC is outside the table"),
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
        (HARD, "A,ovality,bend 1,,,,-5,%,,", "ovality -5 % cannot be. Right would be: 0 to 100 %"),
        ("revision = B", "revision = C", "--any-revision"),
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
    for text, message in (
        (twice, "already"),
        (copied, "the same point"),
        (metres, "0.001 times as far apart"),
        (slipped, f"tip right of bar {cells[0]} lies far from where it is drawn"),
        (endless, "a coordinate of 1e.308 mm"),
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


def test_the_command_judges_writes_and_exits(bar, tmp_path, capsys):
    from barfem.study.json_values import in_nested

    bar_path = tmp_path / "bar.toml"
    bar_path.write_text(_toml(), encoding="utf-8")
    lot = written(
        tmp_path, lot_text(bar, ["none", "rotation", "mirrored"], seed=9).replace("revision = ", "revision = ")
    )
    out = tmp_path / "judged.json"
    assert main(["inspect", str(bar_path), str(lot), "--json", str(out)]) == 1
    printed = capsys.readouterr().out
    assert printed.splitlines()[-1].startswith("VERDICT: 1 accept")
    assert "bend 2: rotation 2." in printed and "other hand" in printed
    bars = json.loads(out.read_text(encoding="utf-8"))["bars"]
    assert [each["hand"] for each in bars] == ["as-drawn", "as-drawn", "other"]
    assert bars[1]["rows_difference"][0]["row"] == 2 and in_nested(bars[0], "as_received.rate_N_per_mm") > 0.0
    good = written(tmp_path, lot_text(bar, ["none"], seed=9), "good.csv")
    assert main(["inspect", str(bar_path), str(good)]) == 0
    half = written(tmp_path, lot_text(bar, ["none"], seed=9)[:620], "half.csv")
    assert main(["inspect", str(bar_path), str(half), "--json", str(tmp_path / "half.json")]) == 2
    assert not (tmp_path / "half.json").exists()
    came = tmp_path / "came"
    assert main(["inspect", str(bar_path), str(lot), "--as-received", str(came)]) == 1
    assert sorted(path.name for path in came.iterdir()) == [f"as-received-B-00{i}.toml" for i in (1, 2, 3)]
    turned = read_bar(came / "as-received-B-002.toml")
    drawn = drawn_rows(bar).rotation_deg[0]
    assert abs(drawn_rows(turned).rotation_deg[0] - drawn) == pytest.approx(2.5, abs=0.3)
    assert turned.left_link.length_error_mm == pytest.approx(-0.5 * bars[1]["tip_mismatch_mm"], abs=1e-3)


@pytest.mark.parametrize(("link", "share"), [([0, 0, -1], -1.0), ([0, 0, 1], 1.0), ([0.6, 0, -0.8], -0.8)])
def test_the_file_of_a_bar_as_received_is_the_bar_that_was_judged(link, share, tmp_path, capsys):
    """A joint too high leaves a hanging link too short and a standing one too long; a leaning one by its share."""
    bar_path = tmp_path / "bar.toml"
    bar_path.write_text(_toml(links={"length": 140.0, "direction": link}), encoding="utf-8")
    lot = written(tmp_path, lot_text(read_bar(bar_path), ["rotation"], seed=9))
    out, came = tmp_path / "judged.json", tmp_path / "came"
    main(["inspect", str(bar_path), str(lot), "--json", str(out), "--as-received", str(came)])
    (bar,) = json.loads(out.read_text(encoding="utf-8"))["bars"]
    (path,) = came.iterdir()
    half = 0.5 * bar["tip_mismatch_mm"]
    fitted = read_bar(path)
    assert fitted.left_link.length_error_mm == pytest.approx(share * half, abs=1e-3)
    assert fitted.right_link.length_error_mm == pytest.approx(-share * half, abs=1e-3)


def _toml(**more: object) -> str:
    import tomlkit

    return tomlkit.dumps(json.loads(json.dumps({**handed_bar().tables, **more})))


def test_the_sheet_asks_for_what_is_read(bar, tmp_path):
    from barfem.vendor.inspect_sheet import asked_of

    bar_path = tmp_path / "bar.toml"
    bar_path.write_text(_toml(), encoding="utf-8")
    pdf, csv = tmp_path / "sheet.pdf", tmp_path / "sheet.csv"
    assert main(["inspect", str(bar_path), "--sheet", str(pdf), "--csv", str(csv)]) == 0
    first = pdf.read_bytes()
    assert first.startswith(b"%PDF")
    assert main(["inspect", str(bar_path), "--sheet", str(pdf)]) == 0
    assert pdf.read_bytes() == first
    # Filled in with the drawing's own values the sheet is read and accepted.
    points = iter(drawn_points(bar).tolist())
    lines = []
    for line in csv.read_text(encoding="utf-8").splitlines():
        cells = line.split(",")
        if cells[0] == "" and cells[1] == "point":
            cells[3:6] = [f"{value:.3f}" for value in next(points)]
        elif cells[0] == "" and cells[1] == "diameter":
            cells[6] = "24.0"
        elif cells[0] == "" and cells[1] == "hardness":
            cells[6] = "45.5"
        elif cells[:3] == ["", "record", "crack test"]:
            cells[6] = "pass"
        if cells[0] == "":
            cells[0] = "S-1"
        lines.append(",".join(cells))
    assert len(asked_of(bar)) > 20
    assert main(["inspect", str(bar_path), str(written(tmp_path, "\n".join(lines)))]) == 0
