"""Load cases are records: parallel travel against sums by hand, and a case of one's own that says its own words."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

import barfem
from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model import load_case
from barfem.model.load_case import CASES, ROLL, LoadCase
from barfem.model.read import bar_from_dict
from barfem.study.evaluate import evaluate_one
from tests.check.bar_files import BUILT, PLAIN, check, checked_file, toml
from tests.model.bar_data import changed

SPLAYED = Path(__file__).parents[2] / "geometries" / "coupe-front-splayed.toml"
PARALLEL = {"case": "parallel"}


def bushings(torsional_Nmm_per_rad: float, **more: Any) -> list[dict[str, Any]]:
    """The mounts of the plain bar, with bushings that hold on to it."""
    return [{**mount, "torsional_stiffness": torsional_Nmm_per_rad, **more} for mount in PLAIN["mounts"]]


def row(found: dict[str, Any]) -> dict[str, Any]:
    return dict(found["settings"][0])


def test_a_bar_that_turns_freely_feels_nothing_and_passes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Equal holes, free bushings, no preload: both links lift a bar that turns along (no source needed: statics)."""
    file = tmp_path / "bar.toml"
    file.write_text(toml(changed(("travel.parallel", 30.0), base=BUILT)), encoding="utf-8")
    ended = checked_file(file, capsys)
    assert ended.json is not None
    assert [setting["case"] for setting in ended.json["settings"]] == ["roll"] * 3 + ["parallel"] * 3
    for setting in ended.json["settings"][3:]:
        fatigue = setting["fatigue"]
        assert setting["passes"] and setting["rate_N_per_mm"] == 0.0 and setting["rate_initial_N_per_mm"] == 0.0
        assert fatigue["life_cycles"] is None and fatigue["life_at_survival_cycles"] is None and fatigue["runout"]
        assert fatigue["safety_factor_at_target"] is None and fatigue["goodman_safety_factor"] is None
        assert fatigue["reason"] == "feels nothing" and "the bar feels nothing" in setting["why"]
        assert setting["peak"]["von_mises_MPa"] == 0.0 and setting["roll_rate_Nm_per_deg"] is None
        assert setting["compliance"] is None
    assert "Holes 1, 2, 3: feels nothing." in ended.out
    assert "1000000000" not in ended.out
    assert ended.json["governing"]["stress"]["case"] == ended.json["governing"]["life"]["case"] == "roll"


@pytest.mark.parametrize(("right", "left"), [(150.0, 250.0), (250.0, 150.0), (250.0, 250.0)])
def test_a_short_right_arm_is_said_to_load_the_bar_more(right: float, left: float) -> None:
    """The middle turns by travel / arm: one wheel alone loads the bar as the reciprocal of its own arm (levers).

    Held against the same bar with its ends exchanged, whose left wheel is this one's right.
    """

    def bar(right: float, left: float) -> dict[str, Any]:
        points = [[-right, -500, 0], [0, -500, 0], [0, 500, 0], [-left, 500, 0]]
        return check(("travel.one_wheel", 20.0), ("centreline.points", points), base=PLAIN, case="one-wheel")

    found, exchanged = bar(right, left), bar(left, right)
    told = [words for words in found["warnings"] if "right wheel alone" in words]
    if right >= left:
        assert not told
        return
    percent = float(told[0].partition("about ")[2].partition(" %")[0])
    peaks = [row(each)["peak"]["von_mises_MPa"] for each in (found, exchanged)]
    assert 1.0 + 0.01 * percent == pytest.approx(peaks[1] / peaks[0], rel=0.06)
    # Force goes with the arm at equal travel by hand; corners, bushings and links give some of it back.
    assert 1.0 + 0.01 * percent == pytest.approx(left / right, rel=0.1)


@pytest.mark.parametrize(("up", "down"), [(20.0, 10.0), (10.0, 20.0), (24.0, 6.0)])
def test_bump_and_droop_that_differ_are_told_and_leave_the_roll_rate_as_it_is(up: float, down: float) -> None:
    """Between two mounts a bar of equal arms is one spring in left less right: F = k (up + down) / 2 at either end.

    Source: that spring. Each end's force over its own travel makes k (up + down)^2 / (4 up down) of the two, which
    is the rate that is printed; couple over angle makes k L^2 / 2 as equal travels do.
    """
    alike = row(check(("travel", {"pickup": 15.0}), base=PLAIN))
    found = check(("travel", {"up": up, "down": down}), base=PLAIN)
    unlike, over = row(found), (up + down) ** 2 / (4.0 * up * down)
    assert unlike["roll_rate_Nm_per_deg"] == pytest.approx(alike["roll_rate_Nm_per_deg"], rel=2e-3)
    assert unlike["rate_initial_N_per_mm"] == pytest.approx(over * alike["rate_initial_N_per_mm"], rel=1e-6)
    assert unlike["rate_N_per_mm"] == pytest.approx(over * alike["rate_N_per_mm"], rel=5e-3)
    (told,) = [words for words in found["warnings"] if "up and down differ" in words]
    assert f"{100.0 * (over - 1.0):.1f} % above that of equal travels" in told
    assert found["cases"]["roll"].endswith(f"rates are {100.0 * (over - 1.0):.0f} % above those of equal travels")


@pytest.mark.parametrize(
    "words",
    [["size", "--rate", "60"], ["holes", "--softest", "65", "--stiffest", "90", "--count", "2", "--diameter", "10"]],
)
def test_who_asks_for_a_rate_is_told_which(words: list[str], tmp_path: Path, capsys: Any) -> None:
    """20 mm up and 10 down: a bar sized for 60 N/mm of that rate has an eighth less at equal travels."""
    path = tmp_path / "bar.toml"
    path.write_text(toml(changed(("travel", {"up": 20.0, "down": 10.0}), base=PLAIN)), encoding="utf-8")
    main([words[0], str(path), *words[1:]])
    printed = " ".join(capsys.readouterr().out.split())
    assert "Bump and droop differ: rates are 12 % above those of equal travels, what is asked too." in printed


def test_one_wheel_alone_rolls_bushings_that_hold_the_bar_as_much_as_both_do() -> None:
    """What bushings hold against both arms is no couple: the roll rate is the bar's, whichever wheels move.

    Source: F_left = k u / 2 + t m, F_right = -k u / 2 + t m of any bar with equal ends, u and m the difference and the
    mean of the travels; couple over angle is k L^2 / 2 whatever t and m are.
    """
    changes = ("mounts", bushings(300000.0)), ("travel", {"pickup": 5.0, "one_wheel": 10.0})
    roll, wheel = check(*changes, base=PLAIN)["settings"]
    assert abs(wheel["link_force_left_N"]) > 1.1 * abs(wheel["link_force_right_N"])
    assert wheel["roll_rate_Nm_per_deg"] == pytest.approx(roll["roll_rate_Nm_per_deg"], rel=5e-3)


def test_the_roll_rate_of_one_wheel_is_of_the_couple_of_both_links() -> None:
    """Arms of 250 and 150 mm: the held end needs more force than the end that moves, and both make the couple.

    Source: statics; links upright, so that couple = (F_left - F_right) L / 2 over the angle travel / L, L = 1000 mm.
    """
    points = [[-150, -500, 0], [0, -500, 0], [0, 500, 0], [-250, 500, 0]]
    found = row(check(("travel.one_wheel", 5.0), ("centreline.points", points), base=PLAIN, case="one-wheel"))
    left, right = found["link_force_left_N"], found["link_force_right_N"]
    assert abs(right) > 1.4 * abs(left)
    by_hand = 0.5 * abs(left - right) * 1000.0**2 / 5.0 / 1000.0 * math.pi / 180.0
    assert found["roll_rate_Nm_per_deg"] == pytest.approx(by_hand, rel=2e-3)


def test_the_other_end_is_said_as_it_is_solved_where_bump_and_droop_differ() -> None:
    """30 mm up and 20 down at ratio -0.5: the left pickup goes 10 mm down and the right one 15 up, not 15 and 10."""
    changes = ("travel", {"up": 30.0, "down": 20.0}), ("duty", {"ratio": -0.5})
    bar = bar_from_dict(changed(*changes, base=BUILT))
    assert ROLL.moves_mm(bar.travel, -0.5).tolist() == [[0.0, 0.0], [-20.0, 30.0], [15.0, -10.0]]  # right, left
    assert ROLL.describe(bar.travel, -0.5) == (
        "left pickup up 30 mm, right pickup down 20 mm; the other end of the cycle is 0.5 times that travel with left "
        "and right exchanged"
    )


def test_the_roll_rate_of_links_that_lean_is_of_the_pickups_travel(tmp_path: Path, capsys: Any) -> None:
    """Work of both ends, k z^2 / 2 each, is that of a couple K over the angle 2 z / L: hence K = k L^2 / 2.

    z is the pickups' travel, along their direction. The joints of leaning links go elsewhere (13 % less far, and the
    couple over their own angle 13 % more, of a bar with links 18 deg off a travel that leans itself), and the check
    said that the angle was theirs.
    """
    path = tmp_path / "bar.toml"
    path.write_text(toml(changed(("links.direction", [-0.2, 0.3, -1]), base=PLAIN)), encoding="utf-8")
    assert main(["check", str(path), "--full"]) in (0, 1)
    printed = " ".join(capsys.readouterr().out.split())
    assert "couple of the pickups' forces along their travel, per degree that the travel makes" in printed
    found = row(check(("links.direction", [-0.2, 0.3, -1]), base=PLAIN))
    by_hand = 0.5 * found["rate_N_per_mm"] * 1100.0**2 / 1000.0 * math.pi / 180.0
    assert found["roll_rate_Nm_per_deg"] == pytest.approx(by_hand, rel=1e-6)


def test_what_feels_nothing_decides_no_life_even_where_every_life_is_beyond_what_is_claimed() -> None:
    """Of run-outs alone the least safety factor governs; a bar without load has none, and is the last to break."""
    found = check_bar(bar_from_dict(changed(("travel", {"pickup": 5.0, "parallel": 5.0}), base=BUILT)))
    assert all(setting.fatigue.runout for setting in found.settings)
    assert found.governing_for_life.case == "roll"
    assert found.governing_for_life.fatigue.safety_factor_at_target == min(
        setting.fatigue.safety_factor_at_target for setting in found.settings if setting.case == "roll"
    )


@pytest.mark.parametrize("torsional", [2e4, 1e6])
def test_the_rate_of_bushings_that_wind_up_equals_a_sum_by_hand(torsional: float) -> None:
    """Springs in series on each side, by symmetry with no torque between the mounts.

    u / F = L^2 / k_t + L^2 a / (G J) + L^3 / (3 E I) + F's bending between mount and arm, a^3 / (3 E I), and of the
    middle, a^2 b / (2 E I) with the mounts as pins: textbook beams, as Shigley Table A-9 has them. Square corners,
    whereas the bar's are round: rounding the corners takes 3.4 % off the bar's own part: allowed 4 %.
    """
    found = row(check(("mounts", bushings(torsional)), base=PLAIN, **PARALLEL))
    E, nu, d = 206_000.0, 0.3, 20.0
    EI, GJ = E * math.pi * d**4 / 64.0, E / (2.0 * (1.0 + nu)) * math.pi * d**4 / 32.0
    L, a, b = 250.0, 250.0, 600.0
    bar = L**2 * a / GJ + (L**3 + a**3) / (3.0 * EI) + a**2 * b / (2.0 * EI)
    by_hand = 1.0 / (L**2 / torsional + bar)
    allowed = 0.04 * bar * by_hand
    assert found["rate_initial_N_per_mm"] == pytest.approx(by_hand, rel=max(allowed, 1e-3))
    assert found["rate_N_per_mm"] == pytest.approx(found["rate_initial_N_per_mm"], rel=1e-4)
    assert found["link_force_left_N"] == pytest.approx(found["link_force_right_N"], rel=1e-6)
    assert found["fatigue"]["reason"] != "feels nothing"


def test_unequal_holes_work_a_bar_that_turns_freely_and_their_forces_oppose_each_other() -> None:
    """Free bushings: the moments of both link forces about the bar's axis cancel, F_left x_left = -F_right x_right.

    So the mean of the signed forces is (1 - x_left / x_right) / 2 of the left one, far less than either.
    """
    found = check(("travel.pickup", 0.5), base=BUILT, mixed=True, **PARALLEL)
    setting = next(s for s in found["settings"] if (s["left"], s["right"]) == ("1", "3"))
    left, right = setting["link_force_left_N"], setting["link_force_right_N"]
    arm_left, arm_right = 250.0, 200.0  # 20 and 70 mm from the tip of arms 270 mm long
    assert left * right < 0.0
    assert left * arm_left == pytest.approx(-right * arm_right, rel=1e-3)
    assert setting["rate_N_per_mm"] == pytest.approx(abs(left + right) / 2.0 / 0.5, rel=1e-3)
    assert setting["rate_N_per_mm"] > 0.0 and setting["fatigue"]["reason"] != "feels nothing"


def test_preload_is_felt_in_parallel_travel() -> None:
    found = row(check(("links", {**BUILT["links"], "length_error": 2.0}), base=BUILT, **PARALLEL))
    twisted = row(check(("links", {**BUILT["links"], "left": {"length_error": 2.0}}), base=BUILT, **PARALLEL))
    assert found["fatigue"]["reason"] == "feels nothing"  # equal errors turn the bar and no more
    assert twisted["peak"]["von_mises_MPa"] > 1.0 and twisted["fatigue"]["reason"] != "feels nothing"


def test_parallel_takes_the_pickup_travel_where_the_bar_file_gives_none_of_its_own() -> None:
    assert "both pickups up 25 mm" in check(**PARALLEL)["cases"]["parallel"]
    assert "parallel" not in check()["cases"]


def test_a_case_of_ones_own_prints_no_word_of_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    own = LoadCase(
        name="kerb",
        full_mm=lambda travel: (0.5 * travel.up_mm, -travel.down_mm),
        asked_for=lambda travel: False,
        unit=(0.5, -1.0),
        rolls=False,
        moves="left pickup down {left:g} mm, right pickup up {right:g} mm",
        reversed_words="as far the opposite way",
        rate_words="the right end moving half as far",
    )
    others = dict(CASES)
    monkeypatch.setitem(load_case.CASES, "kerb", own)
    file = tmp_path / "bar.toml"
    file.write_text(toml(BUILT), encoding="utf-8")
    ended = checked_file(file, capsys, "--case", "kerb", "--full")
    assert ended.status in (0, 1) and ended.json is not None
    printed = " ".join(ended.out.split())
    assert "right pickup up 12.5 mm" in printed and own.rate_words in printed and own.reversed_words in printed
    judged = printed.split("Not judged")[0]
    for other in others.values():
        assert other.rate_words not in judged and other.reversed_words not in judged
    assert not {setting["case"] for setting in ended.json["settings"]} - {"kerb"}


def test_a_bar_that_feels_nothing_in_parallel_meets_a_goodman_target() -> None:
    """No stress has no Goodman factor; that is no failure to reach one, and a batch of bars says the same."""
    bar = barfem.change(barfem.read_bar(SPLAYED), {"travel.parallel": 6.0})
    assert bar.targets.goodman_safety_factor is not None
    rows = [row for row in barfem.check_bar(bar).settings if row.case == "parallel"]
    assert rows and all(row.passes and row.fatigue.goodman_safety_factor is None for row in rows)
    assert evaluate_one(bar).passes.all()


def test_a_bar_that_feels_nothing_in_parallel_meets_a_target_beyond_what_is_claimed() -> None:
    """Nothing is to be endured: no number of cycles is too many. What is loaded does not show twenty million."""
    found = check(("travel.parallel", 10.0), ("travel.pickup", 5.0), ("duty.target_cycles", 2e7), base=BUILT)
    for setting in found["settings"]:
        assert setting["passes"] is (setting["case"] == "parallel") and setting["fatigue"]["runout"]
