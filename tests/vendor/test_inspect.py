"""Bars that came back: planted faults are named and no other, fits agree with outside ones, bad files are refused."""

from __future__ import annotations

import json

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.bar import Bar
from barfem.model.read import bar_from_dict, read_bar
from barfem.show.drawing.notes import drawing_notes
from barfem.vendor.inspect_fit import fit_function, match
from barfem.vendor.inspect_rows import explain_rows
from barfem.vendor.inspect_shape import MIRROR, drawn_points, drawn_rows, rigid_fit, walk
from barfem.vendor.inspect_sheet import asked_of
from tests.model.bar_data import TUBE, U_BAR, changed
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


@pytest.mark.parametrize(("band", "limit"), [(None, "0.08"), ([0.0, 0.12], "0.12")])
def test_the_depth_that_the_drawing_orders_is_the_depth_that_is_judged(bar, tmp_path, band, limit):
    """Ordered was at most 0.08 mm, accepted up to half as much again: by the spread that is usual about it."""
    data = bar.tables | {"material": {**bar.tables["material"], "decarburised_depth": 0.08}}
    ordered = bar_from_dict(data | ({} if band is None else {"tolerances": {"decarburised_depth": band}}))
    assert f"Decarburisation at most {limit} mm." in drawing_notes(ordered)
    assert [each.limits for each in asked_of(ordered) if each.place == "decarburisation"] == [f"at most {limit}"]
    text = lot_text(ordered, ["none"] * 3, seed=5)
    text += "".join(
        f"B-00{i + 1},record,decarburisation,,,,{depth},mm,,\n" for i, depth in enumerate((0.08, 0.1, 0.14))
    )
    found = judged(ordered, tmp_path, text).bars
    assert [bool(each.faults) for each in found] == [False, band is None, True]
    assert found[2].verdict == "reject"
    (said,) = found[2].why  # once, with its limit
    assert said.startswith(f"decarburised 0.14 mm deep (limit at most {limit}, [")


@pytest.mark.parametrize(
    ("reading", "told"),
    [
        ("58,HRC", "too hard, middle: 58 HRC, over 1995 MPa"),  # forgotten in tempering
        ("640,HV", "too hard, middle: 640 HV, over 1995 MPa"),
        ("21,HRC", "too soft, middle: 21 HRC, under 800 MPa"),  # never hardened
        ("170,HBW", "too soft, middle: 170 HBW, under 640 MPa"),
    ],
)
def test_a_hardness_beyond_the_table_is_a_bad_bar_and_no_bad_file(bar, tmp_path, reading, told):
    """One bar that was not tempered, and the whole file was refused."""
    text = lot_text(bar, ["none", "none"], seed=5)
    (old,) = [line for line in text.splitlines() if line.startswith("B-001,hardness,middle")]
    path = written(tmp_path, text.replace(old, f"B-001,hardness,middle,,,,{reading},,"))
    bar_file = tmp_path / "bar.toml"
    bar_file.write_text(_toml(), encoding="utf-8")
    one, good = judged(bar, tmp_path, path.read_text("utf-8")).bars
    assert one.verdict == "reject" and good.verdict == "accept"
    assert one.faults[0].words == told
    assert any("beyond the table of ISO 18265" in note for note in one.notes)
    assert main(["inspect", str(bar_file), str(path), "--as-received", str(tmp_path / "came")]) == 1
    came = read_bar(next((tmp_path / "came").glob("*B-001*.toml")))
    assert came.steel.tensile_strength_MPa == pytest.approx(one.strength_MPa, abs=0.1)


def test_a_bar_whose_peening_failed_is_received_unpeened(tmp_path):
    """It was said to pass every target with the life that peening gives, which it was recorded not to have."""
    peened = bar_from_dict(changed(("material.surface", "machined"), ("material.peening", "shot"), base=U_BAR))
    bare = bar_from_dict(changed(("material.surface", "machined"), base=U_BAR))
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit\n"
    size = "{},diameter,middle,24,mm\n"
    text = head + size.format("A") + size.format("B") + "B,record,peening,fail,\n"
    good, failed = judged(peened, tmp_path, text).bars
    (never,) = judged(bare, tmp_path, head + size.format("A")).bars
    assert good.as_received.safety_factor_at_target > 1.02 * never.as_received.safety_factor_at_target
    assert failed.as_received.settings == never.as_received.settings
    assert "peening recorded as failed: the bar as received is taken as unpeened" in failed.notes
    assert not any("peening" in note for note in good.notes)


@pytest.mark.parametrize("place", ["coating", "peening"])
def test_a_record_in_other_words_is_said_not_to_be_judged(bar, tmp_path, monkeypatch, place):
    monkeypatch.setattr("barfem.vendor.inspect.check_received", lambda bar, made, *_, **__: [None] * len(made))
    line = f"B-001,record,{place},,,,flakes off,,,\n"
    (one,) = judged(bar, tmp_path, lot_text(bar, ["none"], seed=5) + line).bars
    assert f'{place}: "flakes off" as recorded, neither pass nor fail: noted, not judged' in one.notes


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


@pytest.mark.parametrize("body", [(), TUBE], ids=["solid", "tube"])
@pytest.mark.parametrize("band", [0.4, [-0.2, 0.0]], ids=["both ways", "never thicker"])
def test_a_diameter_that_was_not_measured_is_never_better_than_one_measured_as_drawn(tmp_path, body, band):
    """At equal travel a thicker bar is stiffer and more stressed: the worse edge of its band is the upper one.

    It was taken to be the lower one, and a bar gained margin and life by not being measured.
    """
    bar = bar_from_dict(changed(*body, ("tolerances.diameter", band)))
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit,case\n"
    text = head + "A,record,crack test,pass,,\nB,diameter,middle,24,mm,\nC,diameter,middle,23.8,mm,\n"
    unknown, as_drawn, thin = judged(bar, tmp_path, text).bars
    for key in ("yield_margin", "safety_factor_at_target"):
        worst, drawn, thinner = (getattr(each.as_received, key) for each in (unknown, as_drawn, thin))
        assert drawn < thinner and (worst < drawn if band == 0.4 else worst == pytest.approx(drawn, rel=1e-9))
    assert unknown.as_received.rate_N_per_mm == pytest.approx(as_drawn.as_received.rate_N_per_mm, rel=1e-3)
    (said,) = [text for text in unknown.missing if "24 mm for the rate" in text]
    assert said.endswith("24.4 mm for stress" if band == 0.4 else "24 mm for the rate and for stress")


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


def test_a_measured_rate_is_held_against_the_drawn_size_where_none_was_measured(tmp_path):
    """A rate alone leaves the bar as drawn; the thin edge of its diameter is for stress, and 2.4 % of rate less."""
    bar = bar_from_dict({**U_BAR, "tolerances": {"diameter": [-0.13, 0.0]}})
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit,case\n"
    found = judged(bar, tmp_path, head + "A,rate,hole 1,1,N/mm,roll\n").bars[0]
    (own,) = [each for each in found.as_received.settings if (each["left"], each["case"]) == ("1", "roll")]
    assert any("for the rate" in text and "for stress" in text for text in found.missing)
    assert 0.5 * (found.judged[-1].low + found.judged[-1].high) == pytest.approx(own["rate_N_per_mm"], rel=1e-4)
    (drawn,) = [each for each in check_bar(bar).settings if (each.left, each.case) == ("1", "roll")]
    assert own["rate_N_per_mm"] == pytest.approx(drawn.rate_N_per_mm, rel=1e-4)


def test_a_measured_rate_of_the_other_case_is_asked_about(tmp_path):
    bar = bar_from_dict(U_BAR)
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit,case\n"
    right = judged(bar, tmp_path, head + "A,rate,hole 1,1,N/mm,roll\n").bars[0].judged[-1]
    roll = 0.5 * (right.low + right.high)
    good = judged(bar, tmp_path, head + f"A,rate,hole 1,{roll:.3f},N/mm,roll\n").bars[0]
    assert good.judged[-1].passes and good.verdict == "accept"
    wrong = judged(bar, tmp_path, head + f"A,rate,hole 1,{roll:.3f},N/mm,one_end_held\n").bars[0]
    assert wrong.judged[-1].passes is False and any("factor near 2" in note for note in wrong.notes)


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
