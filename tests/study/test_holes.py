"""Holes: equal percent steps, the room and its rules, and what is said where they do not fit."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.show.holes import print_holes
from barfem.study.hole_plan import Rules
from barfem.study.holes import place_holes
from tests.model.bar_data import FLAT, U_BAR, changed
from tests.study.bars import SOLID, TUBE, UNEQUAL, as_json, demo, ran

EXACT = Rules(round_mm=0.0)


def test_equal_percent_steps_checked_again() -> None:
    plan = place_holes(demo(TUBE), softest_N_per_mm=50.0, stiffest_N_per_mm=75.0, count=3, rules=EXACT)
    assert plan.bar is not None
    rates = [setting.rate_N_per_mm for setting in check_bar(plan.bar).settings]
    # 50, 50 x 1.5^0.5, 75; the curve through nine solved holes is good to 1e-4.
    assert rates == pytest.approx([50.0, 61.237, 75.0], rel=2e-4)
    assert plan.step_percent == pytest.approx(22.474, abs=1e-3)
    assert [hole.name for hole in plan.bar.left.holes] == ["1", "2", "3"]
    assert plan.bar.left.holes[0].diameter_mm == demo(TUBE).left.holes[0].diameter_mm


def test_rounding_to_what_is_drilled() -> None:
    plan = place_holes(demo(TUBE), softest_N_per_mm=50.0, stiffest_N_per_mm=75.0, count=3)
    assert np.allclose(np.array(plan.from_tip_mm) * 2.0 % 1.0, 0.0)
    exact = place_holes(demo(TUBE), softest_N_per_mm=50.0, stiffest_N_per_mm=75.0, count=3, rules=EXACT)
    assert np.abs(np.array(plan.from_tip_mm) - exact.from_tip_mm).max() <= 0.25 + 1e-9


def test_room_by_hand() -> None:
    bar = bar_from_dict(changed(("ends.flat", FLAT), ("ends.holes.0.diameter", 10.0)))
    plan = place_holes(bar, count=2)
    # Edge 1.5 x 10 mm; the full flat is 95 - 25 mm long, and one diameter before its end.
    assert (plan.lowest_mm, plan.highest_mm) == (15.0, 60.0)
    assert plan.from_tip_mm == (15.0, 60.0)
    # A round end: up to one diameter before the first bend, 250 - 48 mm from the tip.
    bare = place_holes(bar_from_dict(changed(("ends.holes.0.diameter", 10.0))), count=2)
    assert bare.highest_mm == pytest.approx(202.0 - 10.0)


def test_the_room_is_that_of_the_shorter_end_and_never_rounded_outwards() -> None:
    """Holes of 10.3 mm: the edge at 15.45 mm rounds up to 15.5. The left flat is full over 70 mm, the right one over
    75 - 25 = 50: less 10.3 that is 39.7, down to 39.5.
    """
    flats = {"holes": [{"name": "1", "from_tip": 30.0, "diameter": 10.3}], "flat": FLAT}
    bar = bar_from_dict(changed(("ends", {**flats, "right": {"flat": {"length": 75.0}}})))
    for rules, room in ((None, (15.5, 39.5)), (EXACT, (15.45, 39.7))):
        plan = place_holes(bar, count=2, rules=rules)
        assert (plan.lowest_mm, plan.highest_mm) == pytest.approx(room)


@pytest.mark.parametrize(("hole", "told"), [(16.6, False), (16.7, True)])
def test_a_flat_that_leaves_little_beside_a_hole_is_told(hole: float, told: bool) -> None:
    """40 mm of flat for 2.4 diameters: 16.67 mm."""
    bar = bar_from_dict(changed(("ends.flat", FLAT), ("ends.holes", [{"name": "1", "from_tip": 30.0}])))
    notes = place_holes(bar, count=2, hole_mm=hole).notes
    assert any("less than 2.4 hole diameters" in note for note in notes) is told


def test_a_drawn_hole_outside_the_room_is_named() -> None:
    """Hole of 10 mm at 12 mm from the cut end: 1.5 x 10 mm is the least. Holes within the room are not named."""
    near = bar_from_dict(changed(("ends.flat", FLAT), ("ends.holes.0.diameter", 10.0), ("ends.holes.0.from_tip", 12.0)))
    (note,) = (each for each in place_holes(near, count=2).notes if each.startswith("Drawn outside"))
    assert note.startswith(f"Drawn outside the room of 15 to 60 mm: hole {near.left.holes[0].name} at 12 mm")
    within = bar_from_dict(changed(("ends.flat", FLAT), ("ends.holes.0.diameter", 10.0)))
    assert not any("outside the room" in each for each in place_holes(within, count=2).notes)


def test_holes_too_close_are_fewer() -> None:
    bar = demo(SOLID)
    plan = place_holes(bar, count=5)
    assert not plan.fits and plan.bar is None and plan.nearest is not None
    assert "apart, less than 2 x 12.2 mm" in plan.problems[0]
    assert plan.nearest.fits and len(plan.nearest.from_tip_mm) == 3
    assert np.diff(plan.nearest.from_tip_mm).min() >= 24.4
    tight = place_holes(bar, count=5, rules=Rules(spacing=1.2))
    assert tight.fits and np.diff(tight.from_tip_mm).min() >= 1.2 * 12.2


def test_rates_out_of_reach() -> None:
    plan = place_holes(demo(SOLID), softest_N_per_mm=10.0, stiffest_N_per_mm=30.0, count=2)
    assert not plan.fits and f"{plan.softest_N_per_mm:.4g}" in plan.problems[0]
    assert plan.nearest is not None and plan.nearest.from_tip_mm[0] == plan.lowest_mm
    rates = plan.nearest.evaluation
    assert rates is not None and rates.rate_N_per_mm[0] == pytest.approx(plan.softest_N_per_mm, rel=1e-6)
    five = place_holes(demo(SOLID), softest_N_per_mm=10.0, count=5)  # which find no room in what is left of the range
    assert five.nearest is not None and len(five.nearest.from_tip_mm) == 3
    assert len(five.problems) == 2 and "3 of 5 holes find room in equal steps, 24.4 mm apart" in five.problems[1]
    none = place_holes(demo(SOLID), softest_N_per_mm=100.0, stiffest_N_per_mm=120.0, count=2)
    assert not none.fits and none.nearest is None and len(none.problems) == 1


@pytest.mark.parametrize("softest", [-5.0, 0.0])
def test_a_softest_rate_that_is_none_is_refused(softest: float) -> None:
    """From Python too: equal percent steps from nothing are none, and once numpy warned of a logarithm instead."""
    with pytest.raises(InputError, match="is not above 0"):
        place_holes(demo(SOLID), softest_N_per_mm=softest, stiffest_N_per_mm=30.0, count=3)


def test_a_joint_offset_that_only_a_later_hole_has_is_not_dropped_unsaid() -> None:
    holes = [{"name": "1", "from_tip": 20.0}, {"name": "2", "from_tip": 45.0, "offset": [0, 15, 0]}]
    plan = place_holes(bar_from_dict(changed(("ends.holes", holes))))
    assert "All holes have the offset of hole 1; that of hole 2 differs and is dropped." in plan.notes


def test_unequal_ends_keep_their_own_offsets() -> None:
    bar = demo(UNEQUAL)
    plan = place_holes(bar, count=2)
    assert plan.bar is not None
    for end, old in zip(plan.bar.ends, bar.ends, strict=True):
        assert [hole.from_tip_mm for hole in end.holes] == list(plan.from_tip_mm)
        assert {hole.offset_mm for hole in end.holes} == {old.holes[0].offset_mm}


def test_steps_that_bushings_blur(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ("holes", SOLID, "--softest", "26", "--stiffest", "30", "--count", "3", "--diameter", "5")
    status, out, _ = ran(capsys, *arguments)
    assert status == 0 and "7.4 %" in out and "blur" in out  # (30 / 26)^0.5 = 1.074
    status, out, _ = ran(capsys, *arguments[:-4], "--count", "2")
    assert "blur" not in out


def test_the_command_writes_and_passes_on(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    new = tmp_path / "new.toml"
    status, out, _ = ran(capsys, "holes", SOLID, "--softest", "26", "--stiffest", "36", "--count", "2", "--write", new)
    assert status == 0 and "ANSWER: from_tip 33, 84 mm" in out
    # A name of a file is not broken over lines.
    assert max(len(line) for line in out.splitlines() if str(tmp_path) not in line) <= 80
    result = check_bar(new)
    assert [setting.rate_N_per_mm for setting in result.settings] == pytest.approx([26.0, 36.0], rel=5e-3)
    status, data = as_json(capsys, "holes", SOLID, "--count", "9")
    assert status == 1 and data["fits"] is False and data["nearest"]["fits"] is True
    # The nearest holes that are possible meet their targets, but are not what was asked for: the file says so.
    _, out, _ = ran(capsys, "holes", SOLID, "--count", "9", "--csv", "-")
    found = list(csv.DictReader(out.splitlines()))
    assert all(row["passes"] == "true" and "9 holes" in row["not_possible"] for row in found) and found
    _, out, _ = ran(capsys, "holes", SOLID, "--count", "2", "--csv", "-")
    assert [row["not_possible"] for row in csv.DictReader(out.splitlines())] == ["", ""]
    # From a rate to a stock size to holes: the written bar is an input of the next command.
    sized = tmp_path / "sized.toml"
    assert ran(capsys, "size", SOLID, "--rate", "40", "--write", sized)[0] == 0
    assert ran(capsys, "holes", sized, "--stiffest", "38", "--count", "2")[0] == 0


def test_a_bar_that_fails_at_its_stiff_holes(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = ran(capsys, "holes", TUBE, "--softest", "50", "--stiffest", "75", "--count", "3")
    assert status == 1 and "stiff holes decide" in out and "does not meet" in out


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--count", "1"], "2 or more"),
        (["--softest", "40", "--stiffest", "30"], "not below"),
        (["--diameter", "-2"], "above 0"),
        (["--diameter", "60"], "room"),
        (["--softest", "x"], "x"),
        (["--count", "1000000000"], "find no room"),
    ],
)
def test_wrong_input(capsys: pytest.CaptureFixture[str], arguments: list[str], word: str) -> None:
    status, out, err = ran(capsys, "holes", SOLID, *arguments)
    assert status == 2 and out == "" and word in err


def test_holes_without_a_diameter_say_so() -> None:
    plan = place_holes(bar_from_dict(U_BAR), count=3)
    assert plan.hole_mm is None and any("--diameter" in text for text in plan.notes)
    with pytest.raises(InputError, match="load case"):
        place_holes(bar_from_dict(U_BAR), count=3, case="heave")


def test_a_bar_of_one_hole_is_told_to_say_how_many_and_exact_places_are_not_rounded_to_nothing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    bar = bar_from_dict(changed(("ends.holes", [{"name": "1", "from_tip": 20.0, "diameter": 10.0}])))
    with pytest.raises(InputError, match="the bar file's single hole at the left end is no range of holes") as told:
        place_holes(bar)
    assert told.value.where == "--count"
    print_holes(place_holes(bar, count=2, rules=EXACT))
    assert "no source); not rounded." in " ".join(capsys.readouterr().out.split())


def test_holes_that_rounding_puts_in_one_place_are_none() -> None:
    """Without a diameter no rule keeps them apart, and a coarse drawing may leave two in one place."""
    bar = bar_from_dict(changed(("ends.holes", [{"name": "1", "from_tip": 20.0}])))
    plan = place_holes(bar, softest_N_per_mm=80.0, stiffest_N_per_mm=90.0, count=3, rules=Rules(round_mm=40.0))
    assert plan.bar is None and plan.problems and "0 mm apart." in plan.problems[0]


def test_the_plan_tells_of_an_edge_that_the_review_asks_about(capsys: pytest.CaptureFixture[str]) -> None:
    """1.5 diameters to the centre leave one from the edge; the review asks about less than 1.5."""
    question = "barfem review asks about less than 1.5: --edge 2 keeps clear of that."
    for more, told in (([], True), (["--edge", "2"], False)):
        _, out, _ = ran(capsys, "holes", SOLID, "--count", "2", *more)
        assert (question in " ".join(out.split())) == told
