"""The commands on a car file: JSON as the contract has it, exit status, rules of the start pair, turns by hand."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from barfem.car.links import links_result
from barfem.car.setup import set_up
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.show.car.links import print_links
from barfem.show.car.setup_sheet import setup_sheet
from tests.car.cars import plain_car
from tests.often import often

GEOMETRIES = Path(__file__).parents[2] / "geometries"
COUPE, PICKUP = str(GEOMETRIES / "coupe-car.toml"), str(GEOMETRIES / "pickup-car.toml")


def json_of(capsys, *words: str) -> tuple[int, dict]:
    status = main([*words, "--json", "-"])
    return status, json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("path", often([COUPE, PICKUP], 1))
def test_both_demo_cars_lead_to_a_start_pair(path, capsys):
    """From car file to start pair with its reasons in one command; every pair is there, nearest to the target first."""
    status, out = json_of(capsys, "balance", path)
    assert status == 0
    assert out["start_pair"]["front"] and out["start_pair"]["rear"]
    assert any("common practice, no source" in text for text in out["reasons"])
    far = [pair["distance_from_target"] for pair in out["pairs"]]
    assert far == sorted(far)
    assert len(out["pairs"]) == (9 if path == COUPE else 12)


@pytest.mark.long
def test_a_state_that_asks_for_more_grip_than_there_is_stands_in_the_verdict(capsys):
    """Braking at 1.6 g on tyres of grip 1.15: the wheels lock long before, though the springs would stand it."""
    assert main(["car", COUPE, "--state", "a_y=0,a_x=-1.6"]) == 0
    verdict = " ".join(capsys.readouterr().out.partition("VERDICT:")[2].split())
    assert "more grip than the tyres have is asked for in" in verdict and "a_x=-1.6" in verdict
    assert main(["car", PICKUP]) == 0
    assert "more grip" not in capsys.readouterr().out


def test_car_json_and_screen(capsys):
    status, out = json_of(capsys, "car", COUPE)
    assert status == 0
    assert [state["name"] for state in out["states"]] == ["rest", "entry", "mid", "exit", "straight braking"]
    mid = out["states"][2]
    assert sum(mid["wheel_loads_N"].values()) == pytest.approx(out["as_weighed"]["total_mass_kg"] * 9.81)
    assert mid["front_bar"]["yield_margin"] > 1.0 and mid["front_bar"]["where"]
    assert mid["rear_bar"] == {"peak_von_mises_MPa": None, "where": None, "yield_margin": None}
    assert out["states"][0]["front_transfer_share"] is None
    assert len(out["understeer"]) == 9
    rear = out["stiffness"]["rear"]
    assert rear["bar_rate_roll_N_per_mm"] == 18.0  # twice the 9.0 of one end held
    assert rear["bar_roll_rate_at_wheel_N_per_mm"] == pytest.approx(18.0 * 0.55**2)
    assert rear["roll_stiffness_bar_Nm_per_deg"] == pytest.approx(18.0 * 0.55**2 * 1480**2 / 2000 * math.pi / 180)
    assert main(["car", COUPE]) == 0
    printed = capsys.readouterr().out
    assert "a_y > 0 left turn" in printed
    assert "VERDICT" in printed


@pytest.mark.long
def test_holes_states_and_bars_off(capsys):
    _, base = json_of(capsys, "car", COUPE, "--states", "mid")
    _, stiff = json_of(capsys, "car", COUPE, "--states", "mid", "--front", "C")
    _, mixed = json_of(capsys, "car", COUPE, "--states", "mid", "--front", "C", "--rear", "1,3")
    _, bare = json_of(capsys, "car", COUPE, "--state", "a_y=0.9", "--without", "rear")
    shares = [each["states"][0]["front_transfer_share"] for each in (base, stiff, mixed, bare)]
    assert shares[0] < shares[1]  # a stiffer front takes more of the transfer
    assert shares[2] < shares[1]  # a stiffer rear less
    assert shares[3] > shares[0]  # and none at the rear more
    assert bare["holes"]["rear"] is None
    assert mixed["holes"]["rear"] == ["1", "3"]
    _, same = json_of(capsys, "car", COUPE, "--states", "mid", "--rear", "3,1")
    assert same["states"][0]["roll_deg"] == pytest.approx(
        json_of(capsys, "car", COUPE, "--states", "mid", "--rear", "1,3")[1]["states"][0]["roll_deg"], rel=1e-4
    )


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["car", COUPE, "--front", "Z"], '"Z"'),
        (["car", COUPE, "--states", "midd"], 'Did you mean "mid"?'),
        (["car", COUPE, "--states", "noon"], "Right would be: one of rest, entry, mid, exit, straight braking."),
        (["car", COUPE, "--states", "mid,mid"], 'state "mid" is named twice'),
        (["car", COUPE, "--state", "a_z=1"], "a_z=1"),
        (["car", COUPE, "--states", "mid", "--state", "a_y=1"], "both given"),
        (["car", COUPE, "--state", "a_y=0.9,a_y=0.1"], "a_y is given twice"),
        (["balance", COUPE, "--at", "nowhere"], "nowhere"),
        (["balance", COUPE, "--at", "straight braking"], 'state "straight braking": the car goes straight'),
        (["balance", COUPE, "--state", "a_y=0"], "the car goes straight"),
        (["balance", COUPE, "--grip", "much"], "much"),
        (["links", COUPE, "--corner-heights", "1,2"], "four heights"),
        # Heights of the sills above the floor: higher is less bump, so that links would be turned the wrong way.
        (["links", COUPE, "--corner-heights", "150,148,155,152"], "151 mm on average"),
        (["links", COUPE, "--hole", "front:A"], "the pickup follows the hole"),
        (["links", COUPE, "--hole", "rear:2"], "given by its rates"),
        (["travel", COUPE, "--write-rear", "new.toml"], "no file to copy"),
        (["setup-sheet", COUPE], "nothing is asked for"),
        (["car", str(GEOMETRIES / "coupe-front-splayed.toml")], "this is a bar file"),
        (["check", COUPE], "this is a car file"),
    ],
)
def test_wrong_words_are_status_2_and_write_nothing(words, message, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    out = capsys.readouterr()
    assert message in out.err and "Right would be" in out.err
    assert out.out == "" and not list(tmp_path.iterdir())


def test_without_tyres_nothing_is_said_of_traction(tmp_path, capsys):
    """No grip is known then: "NOT enough for what is asked" would be made up."""
    text = Path(COUPE).read_text(encoding="utf-8").replace('file = "', f'file = "{GEOMETRIES.as_posix()}/')
    bald = tmp_path / "car.toml"
    bald.write_text(re.sub(r"\[tyres\].*?(?=\n\[)", "", text, flags=re.DOTALL), encoding="utf-8")
    assert main(["car", str(bald), "--full"]) in (0, 1)
    printed = capsys.readouterr().out
    assert "no grip used" in printed and "traction" not in printed and " nan" not in printed
    assert "Understeer" not in printed  # nine rows of dashes
    assert main(["car", str(bald)]) in (0, 1)
    printed = " ".join(capsys.readouterr().out.split())
    assert "assumptions, camber: --full." in printed


def test_a_number_that_rounds_to_zero_has_no_sign(capsys):
    """Symmetric car of 0.03 mm of twist: its rear axle tilts by less than a hundredth of a degree."""
    assert main(["car", PICKUP, "--full", "--state", "a_y=0.0004,a_x=0"]) in (0, 1)
    assert not re.search(r"-0\.?0*(?![.\d])", capsys.readouterr().out)


def test_a_car_that_rolls_over_is_status_1(capsys):
    status, out = json_of(capsys, "car", COUPE, "--state", "a_y=2.2")
    assert status == 1
    assert out["states"][0]["wheel_loads_N"]["front_left"] is None
    assert out["lift"]["no_equilibrium_a_y_g"] > out["lift"]["a_y_g"] > 1.0


def test_links_by_hand():
    """2.4 mm of wheel travel too much on the left at a motion ratio of 0.6 raise that end by 1.44 mm: the hanging left
    link is 1.44 mm too long; 1.25 mm a turn and opposite threads make 0.576 turns, the nearest half turn 0.5."""
    bar = {
        "rates": [{"hole": "1", "one_end_held": 20.0, "lever": 240.0}],
        "motion_ratio": 0.6,
        "links": "hang",
        "ride_offset": {"left": 2.4, "right": 0.0},
        "link_thread": {"pitch": 1.25, "hands": "opposite"},
    }
    found = links_result(plain_car(front__bar=bar))
    front = found.axles["front"]
    assert front.offset_left_less_right_mm == pytest.approx(1.44)
    assert front.link_change_mm == pytest.approx(-1.44)
    assert front.turns == pytest.approx(-0.576)
    assert front.nearest_half_turn == -0.5
    assert front.left_over_mm == pytest.approx(0.19)
    now, left = front.forces_now_N[1], front.forces_left_over_N[1]
    assert 0.0 < now < 20.0 * 1.44  # the right link is pulled; a car held still would make it the whole
    assert left / now == pytest.approx(0.19 / 1.44, rel=1e-6)
    assert found.cross_weight_zeroed == pytest.approx(plain_car().cross_weight, abs=1e-12)
    assert found.cross_weight_now < found.cross_weight_zeroed  # the long left front link loads its wheel
    right = links_result(plain_car(front__bar=bar), side="right").axles["front"]
    assert right.link_change_mm == pytest.approx(1.44)
    stand = links_result(plain_car(front__bar={**bar, "links": "stand"})).axles["front"]
    assert stand.link_change_mm == pytest.approx(1.44)
    heights = links_result(plain_car(front__bar=bar), corner_heights_mm=(-2.4, 0.0, 0.0, 0.0)).axles["front"]
    assert heights.link_change_mm == pytest.approx(0.0, abs=1e-9)


def test_links_say_what_a_mm_of_a_link_is_taken_for():
    """A leaning link moves its end by length / cosine: up to 3 % off unwarned, where somebody turns by it."""
    said = [text for text in links_result(plain_car()).assumptions if text.startswith("A link length error")]
    assert len(said) == 1 and "by as much" in said[0]


def test_a_car_weighed_on_loaded_bars_settles_as_they_are_set_forceless():
    """3 mm of a hanging link too long are 48 N at each end of a bar of 16 N/mm, 29.76 N at the wheel: part of what the
    scales read. Without it the springs take over and the car rolls. By hand, source the two equilibria alone, left and
    right unlike: a wheel on spring k and tyre kt, f = -(B kt + k kt phi t / 2) / (k + kt); body, sum f t = -m g d phi.
    """
    car = plain_car(front__bar__link_length_error={"left": 3.0, "right": 0.0}, car__weighed_with_bars="connected")
    found = links_result(car)
    k, kt, t = np.array([55.0 * 0.92**2, 42.0]), np.array([210.0, 220.0]), np.array([1480.0, 1450.0])
    carried = np.array([16.0 * 3.0 * 0.62, 0.0])
    falls = car.sprung_mass_kg * 9.81 * car.roll_arm_mm
    series = k * kt / (k + kt)
    roll = -np.sum(carried * kt / (k + kt) * t) / (np.sum(series * t**2 / 2.0) - falls)
    change = -carried * kt / (k + kt) - series * roll * t / 2.0
    weighed = 9.81 * np.array([290.0, 285.0, 270.0, 280.0])
    want = weighed + np.array([change[0], -change[0], change[1], -change[1]])
    assert found.loads_now_N == pytest.approx(weighed)
    assert found.loads_zeroed_N == pytest.approx(want, abs=1e-6)
    assert abs(change[0]) > 10.0
    # The change is that at the weighed height; the warning says what it takes on the springs as they are.
    assert found.front.link_change_mm == pytest.approx(-3.0)
    travel = -change / kt - roll * t / 2.0
    front, rear = [words for words in found.warnings if "carried load" in words]
    assert f"it takes {-3.0 - 2.0 * 0.62 * travel[0]:+.2f} mm." in front
    assert f"it takes {-2.0 * 0.55 * travel[1]:+.2f} mm." in rear


def test_a_link_that_no_thread_reaches_asks_what_the_heights_count_from():
    """Ride heights off the floor, in place of wheel travel from the car as weighed: 60 mm at 0.62 are 37 mm of link."""
    asked = [words for words in links_result(plain_car(), corner_heights_mm=(60.0, 0.0, 0.0, 0.0)).warnings
             if "threads" in words]  # fmt: skip
    assert len(asked) == 1 and asked[0].startswith("[front.bar] the left link would have to change by 37 mm")
    assert not any("threads" in words for words in links_result(plain_car(), corner_heights_mm=(4.0, 0, 0, 0)).warnings)


def test_a_link_that_needs_no_change_has_no_sign_of_one(capsys):
    """A standing link counts the other way, and minus nothing is nothing."""
    bar = {"rates": [{"hole": "1", "one_end_held": 20.0}], "motion_ratio": 0.6, "links": "stand"}
    print_links(links_result(plain_car(front__bar=bar)))
    assert "-0.0" not in capsys.readouterr().out


def test_a_beam_axle_that_stands_tilted_moves_its_bar_by_its_ratio_in_roll():
    """3 mm of the left wheel alone are 1.5 mm of heave and 1.5 mm of roll: 0.8 x 1.5 +- 0.5 x 1.5 mm at the pickups,
    whether the car file says so or the scales do."""
    bar = {
        "rates": [{"hole": "1", "one_end_held": 20.0, "lever": 240.0}],
        "motion_ratio": 0.8,
        "roll_motion_ratio": 0.5,
        "links": "hang",
    }
    beam = {"rear__suspension": "beam", "rear__spring_base": 1050.0}
    tilted = plain_car(**beam, rear__bar={**bar, "ride_offset": {"left": 3.0, "right": 0.0}})
    assert tilted.rear.bar.offset_mm == pytest.approx((1.95, 0.45))
    said = links_result(tilted).axles["rear"]
    assert said.offset_left_less_right_mm == pytest.approx(1.5)
    assert said.link_change_mm == pytest.approx(-1.5)
    scales = links_result(plain_car(**beam, rear__bar=bar), corner_heights_mm=(0.0, 0.0, 3.0, 0.0)).axles["rear"]
    assert scales.forces_now_N == pytest.approx(said.forces_now_N)


PICKED_UP = {
    "file": str(GEOMETRIES / "coupe-rear-cranked.toml"),
    "motion_ratio": 0.5,
    "left": "1",
    "right": "1",
}


def test_a_link_moved_without_zeroing(tmp_path):
    """The cranked bar's pickup is fixed: a link from hole 1, kept as long, is wrong at hole 3 by the difference of the
    two distances to the pickup."""
    car = plain_car(rear__bar=PICKED_UP)
    found = links_result(car, hole="rear:3")
    bar = car.rear.bar.bar
    points, _ = bar.centreline.evaluate([hole.station_mm for hole in bar.left.holes])
    lengths = np.linalg.norm(points - np.array(bar.left_link.pickup_mm), axis=1)
    assert found.moved.link_error_mm == pytest.approx(lengths[0] - lengths[2])
    assert abs(found.moved.forces_N[0]) > 1.0
    assert np.sign(found.moved.forces_N[0]) == -np.sign(found.moved.link_error_mm)  # too long: pressed
    # The same link in the car's file, in its new hole and wrong by as much.
    wrong = {**PICKED_UP, "left": "3", "link_length_error": {"left": found.moved.link_error_mm, "right": 0.0}}
    as_built = links_result(plain_car(rear__bar=wrong)).axles["rear"].forces_now_N
    assert found.moved.forces_N == pytest.approx(as_built, rel=1e-3)


def test_accelerations_and_heights_of_the_command_line_may_carry_units(capsys):
    """8.829 m/s2 are 0.9 g."""
    status, out = json_of(capsys, "car", COUPE, "--without", "front", "--state", "a_y=8.829 m/s2,a_x=-0.1 g")
    assert status in (0, 1) and len(out["states"]) == 1
    assert (out["states"][0]["a_y_g"], out["states"][0]["a_x_g"]) == (pytest.approx(0.9), -0.1)
    _, out = json_of(capsys, "links", COUPE, "--corner-heights", "2mm,-0.1 in,0,0.5")
    assert out["corner_heights_mm"] == {
        "front_left": 2.0, "front_right": pytest.approx(-2.54), "rear_left": 0.0, "rear_right": 0.5,
    }  # fmt: skip
    _, out = json_of(capsys, "links", COUPE, "--corner-heights", "-2,0,0,0.5")  # begins as an option does
    assert out["corner_heights_mm"]["front_left"] == -2.0
    for words in (["car", COUPE, "--state", "a_y=0.9 mm"], ["links", COUPE, "--corner-heights", "2 N,0,0,0"]):
        assert main(words) == 2
    assert "8.8 m/s2" in capsys.readouterr().err


def test_a_car_that_finds_no_rest_prints_no_cross_weight(tmp_path, capsys):
    """Front tyres that give way without end: no state stands, and no number is printed of them."""
    text = (
        (GEOMETRIES / "coupe-car.toml").read_text(encoding="utf-8").replace("tyre_rate = 225.0", "tyre_rate = 1e-200")
    )
    path = tmp_path / "car.toml"
    path.write_text(text.replace('file = "', f'file = "{GEOMETRIES.as_posix()}/'), encoding="utf-8")
    assert main(["car", str(path)]) == 1
    printed = capsys.readouterr().out
    assert "rest: the car finds no equilibrium" in " ".join(printed.split()) and not re.search(r"\bnan\b", printed)
    # Its links cannot be set, and no pair of holes has a gradient: neither is a fault of barfem.
    assert main(["links", str(path)]) == 2
    assert "[front] tyre_rate" in capsys.readouterr().err
    assert main(["balance", str(path)]) == 1
    assert "no equilibrium" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("changes", "asked", "words"),
    [
        (
            {"front__bar__link_length_error": {"left": 300.0, "right": 0.0}},
            {},
            ["[front.bar] link_length_error", "300 mm"],
        ),
        ({"front__bar__ride_offset": {"left": 0.0, "right": 400.0}}, {}, ["[front.bar] ride_offset", "248 mm"]),
        ({}, {"corner_heights_mm": (250.0, -250.0, 0.0, 0.0)}, ["--corner-heights", "310 mm", "front"]),
    ],
)
def test_a_bar_that_lifts_the_car_off_its_wheels_is_told_with_the_key_that_twists_it(changes, asked, words):
    """A bar of 240 N/mm in roll twisted by a foot: two wheels off, and nothing to set."""
    stiff = {"front__bar__rates": [{"hole": "1", "one_end_held": 120.0}]}
    holes = {"front__bar__left": "1", "front__bar__right": "1"}
    with pytest.raises(InputError) as refused:
        links_result(plain_car(**stiff, **holes, **changes), **asked)
    assert all(word in str(refused.value) for word in [*words, "no equilibrium", "Right would be"])


def test_the_sheet_says_which_unequal_holes_are_fitted_and_no_step_of_nothing():
    """Twelve holes a mm of lever apart: a step of 0.003 deg/g is one, and "0.00 less" would say none."""
    rates = [{"hole": str(i), "one_end_held": 9.0 + 0.05 * i, "lever": 250.0 - i} for i in range(12)]
    bar = {"rates": rates, "left": "3", "right": "4", "motion_ratio": 0.6, "links": "hang"}
    sheet = setup_sheet(set_up(plain_car(front__bar=bar, targets={"front_transfer_share": [0.3, 0.31]})))
    assert "As the car file has it: 3 left, 4 right." in sheet
    assert not re.search(r"rolls 0\.0+ deg/g", sheet) and re.search(r"rolls 0\.00\d+ deg/g less", sheet)


def test_an_acceleration_in_other_units_is_printed_in_four_figures(capsys):
    assert main(["car", COUPE, "--state", "a_y=8 m/s2,a_x=-0.0"]) == 0
    assert re.search(r"\s0\.8155\s+0\s", capsys.readouterr().out)


@pytest.mark.long
def test_the_sheet_has_no_stress_life_or_drawing_number(tmp_path, capsys):
    out = tmp_path / "sheet.html"
    assert main(["setup-sheet", COUPE, "--out", str(out)]) == 0
    page = out.read_text(encoding="utf-8")
    text = re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL)
    for word in ("MPa", "stress", "yield", "cycles", "CF-203", "life"):
        assert word not in text
    for word in ("start here", "Torque", "990 kg", "grip 1.25", "Caution", "not a release"):
        assert word in text
    assert re.search(r"<td>Bushing clamps</td><td></td><td></td>", page)
    percent = [int(value) for value in re.findall(r'<td class="n">(\d+)</td><td>', page)]
    assert percent[:3] == sorted(percent[:3]) and percent[0] == 100


def test_who_writes_a_sheet_is_asked_what_the_buyer_cannot_answer(tmp_path, capsys):
    """1 / 0.55 = 1.82 for the ratio would send out eleven times the stiffness, and the sheet came without a word."""
    text = Path(COUPE).read_text(encoding="utf-8").replace("motion_ratio = 0.55", "motion_ratio = 1.82")
    text = text.replace('file = "', f'file = "{GEOMETRIES}/')
    car = tmp_path / "car.toml"
    car.write_text(text, encoding="utf-8")
    for path, asked in ((str(car), 1), (COUPE, 0)):
        assert main(["setup-sheet", path, "--out", str(tmp_path / f"{asked}.html")]) == 0
        said = capsys.readouterr().out
        assert said.count("Look twice: [rear.bar] motion_ratio 1.82 is above 1.2") == asked
        assert "Look twice" not in (tmp_path / f"{asked}.html").read_text(encoding="utf-8")


def test_the_report_has_a_page_of_the_car(unpictured, tmp_path, capsys):
    bar, out = GEOMETRIES / "coupe-front-splayed.toml", tmp_path / "bar.html"
    assert main(["report", str(bar), "--out", str(out), "--car", COUPE]) == 0
    page = out.read_text(encoding="utf-8")
    assert "In the car" in page and "start from" in page and "Pairs of holes" in page
    capsys.readouterr()
    assert main(["report", str(GEOMETRIES / "pickup-rear-tube.toml"), "--out", str(out), "--car", COUPE]) == 2
    assert "neither axle" in capsys.readouterr().err
