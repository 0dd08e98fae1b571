"""Car files that cannot be right: each message names the place and the value, and says what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from barfem.car.analysis import analyse_car
from barfem.car.model import car_model
from barfem.car.read import car_from_dict, read_car
from barfem.model.errors import InputError
from barfem.model.read import read_bar
from barfem.show.car.tables import print_car
from tests.car.cars import RATES, changed

GEOMETRIES = Path(__file__).parents[2] / "geometries"
NO_SPRING = {"front__spring_rate": None, "front__spring_motion_ratio": None, "rear__wheel_rate": None}
NO_FRONT = {"front__spring_rate": None, "front__spring_motion_ratio": None}
BARE = {"hole": "1", "rate": 19.0}
LIMP = {"front__spring_rate": 1.0, "rear__wheel_rate": 1.0, "front__bar": "none", "rear__bar": "none"}
OUTSIDE = {"car__corner_masses": None, "car__total_mass": 1100.0, "car__front_share": 1.2}
FALLING = {"front__wheel_curve": [[0, 100], [10, 50]], **NO_SPRING, "rear__wheel_rate": 40.0}
LOOSE = [{"hole": "1", "one_end_held": 12.0}, {"hole": "2", "one_end_held": 16.0}]


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        (
            {"front__bar__link_thread": 1.25},
            "[front.bar] link_thread",
            ["1.25 stands where a table is needed", "a table with pitch, hands."],
        ),
        ({"car__corner_masses": [290, 285, 270, 275]}, "corner_masses", ["front_left, front_right, rear_left, rear_"]),
        ({"front__spring_rate": "5.6 kg/mm"}, "[front] spring_rate", ["kg is a mass; the force is kgf"]),
        ({"front__trak": 1480.0}, "[front]", ['"trak"', '"track"']),
        ({"front__bar__motion_raio": 0.6}, "[front.bar]", ['"motion_raio"', '"motion_ratio"']),
        ({"wheelbase": 2500.0}, "the car file", ['"wheelbase"', "belongs in [car]"]),
        ({"front__track": None}, "[front] track", ["required", "track = 1490.0"]),
        ({"car__total_mass": 1100.0}, "[car] corner_masses", ["total_mass", "both"]),
        (OUTSIDE, "[car] front_share", ["1.2", "outside the wheels"]),
        ({"car__corner_masses": None}, "[car] corner_masses", ["missing"]),
        ({"car__cg_height": None}, "[car] cg_height", ["missing"]),
        ({"car__sprung_cg_height": 500.0}, "[car] cg_height", ["both"]),
        ({"front__unsprung_mass": 571.0}, "[front] unsprung_mass", ["571", "285"]),
        ({"front__track": 148.0}, "[front] track", ["148", "unit"]),
        ({"car__wheelbase": 250.0}, "[car] wheelbase", ["250", "unit"]),
        ({"car__cg_height": 5000.0}, "[car] cg_height", ["5000", "unit"]),
        ({"rear__roll_centre_height": 3500.0}, "[rear] roll_centre_height", ["3500", "unit"]),
        ({"front__unsprung_height": 29.0}, "[front] unsprung_height", ["29", "unit"]),
        ({"front__spring_motion_ratio": 0.0}, "[front] spring_motion_ratio", ["0"]),
        ({"front__bar__motion_ratio": 3.2}, "[front.bar] motion_ratio", ["3.2", "never wheel / part"]),
        ({"front__spring_rate": -55.0}, "[front] spring_rate", ["-55", "above 0"]),
        ({"front__tyre_rate": 0}, "[front] tyre_rate", ["0", "rigid"]),
        ({"front__tyre_rate": "soft"}, "[front] tyre_rate", ["soft"]),
        ({"front__bar__rates": [BARE]}, "[front.bar] rates 1", ["rate = 19.0", "one_end_held", "roll"]),
        ({"front__bar__rates": [{"hole": "1", "lever": 19.0}]}, "[front.bar] rates 1", ["convention"]),
        ({"front__bar__rates": [{"hole": "1", "roll": 19.0, "one_end_held": 9.0}]}, "[front.bar] rates 1", ["both"]),
        ({"front__bar__rates": LOOSE, "front__bar__left": "1"}, "[front.bar] rates", ["lever"]),
        ({"front__bar__left": "9"}, "[front.bar] left", ['"9"', "1, 2, 3"]),
        ({"front__bar__right": None}, "[front.bar] left", ["alone"]),
        ({"front__bar__file": "a.toml"}, "[front.bar] file", ["both"]),
        ({"front__bar": "soft"}, "[front.bar]", ["soft", '"none"']),
        ({"front__spring_base": 1000.0}, "[front] spring_base", ["independent"]),
        ({"front__suspension": "beam"}, "[front] spring_base", ["needs"]),
        ({"front__suspension": "beam", "front__spring_base": 1500.0}, "[front] spring_base", ["1500", "1480"]),
        ({"front__bar__roll_motion_ratio": 0.5}, "[front.bar] roll_motion_ratio", ["independent"]),
        ({"front__wheel_rate": 40.0}, "[front] spring_rate", ["wheel_rate"]),
        (NO_SPRING, "[front] spring_rate", ["both axles are without springs"]),
        (FALLING, "[front] wheel_curve", ["rise"]),
        ({"drive__driven": "all"}, "[drive] front_torque_share", ["missing"]),
        ({"drive__rear_differential": "welded"}, "[drive] rear_differential", ["welded", "locked"]),
        ({"tyres__load": None}, "[tyres] load", ["missing"]),
        ({"states": [{"name": "a", "a_y": 9.81}]}, "[[states]] 1, a_y", ["9.81 g"]),
        ({"states": [{"name": "a", "a_y": "0.7 kg"}]}, "[[states]] 1, a_y", ['"0.7 kg"', "m/s2"]),
        ({"states": [{"name": "a"}, {"name": "a"}]}, "[[states]]", ["two states"]),
        ({"targets": {"roll_gradient": [2.5, 1.5]}}, "[targets] roll_gradient", ["2.5"]),
        ({"targets": {"cross_weight": [49, 51]}}, "[targets] cross_weight", ["49 is not a share"]),
        # No wheel load is below nothing: such a target is always met.
        ({"targets": {"lift_margin": -200.0}}, "[targets] lift_margin", ["-200 N", "below 0"]),
        ({"tyres__grip": 115.0}, "[tyres] grip", ["115 is no grip"]),
        ({"tyres__grip_loss": 8.0}, "[tyres] grip_loss", ["8 is not a share"]),
        # 16 F - 0.01 F^2 is below zero from 1600 N on, where the car's 290 kg press with 2845 N.
        ({"tyres__cornering_stiffness": {"c1": 16.0, "c2": 0.01}}, "[tyres] cornering_stiffness, c2", ["1600 N"]),
        ({"tyres__cornering_stiffness": {"c1": 0.0, "c2": 0.0}}, "cornering_stiffness, c1", ["above 0 1/rad"]),
        ({"tyres__cornering_stiffness": {"c1": 16.0, "c2": -1.0}}, "cornering_stiffness, c2", ["-1 1/(N rad)"]),
        ({"tyres__cornering_stiffness": {"c1": "16 N/deg", "c2": 0.0}}, "cornering_stiffness, c1", ["16.0, in 1/rad"]),
        ({"tyres__cornering_stiffness": {"c1": 16.0, "c2": "1 kg"}}, "cornering_stiffness, c2", ["in 1/(N rad)"]),
        ({"tyres__load": 3.0}, "[tyres] grip_loss", ["nothing from 40 N on", "2845 N"]),
        ({"front__camber": -90.0}, "[front] camber", ["-90 deg", "30"]),
        ({"front__camber_gain": -20.0}, "[front] camber_gain", ["-20 deg/mm"]),
        ({"front__bar__link_thread": {"pitch": 125.0}}, "[front.bar] link_thread, pitch", ["125 mm a turn"]),
        ({"use": {"laps": 1e12, "corners_per_lap": 14, "kerbs_per_lap": 6}}, "[use] laps", ["1e+12 laps"]),
        ({"use": {"laps": 500, "corners_per_lap": -1, "kerbs_per_lap": 6}}, "[use] corners_per_lap", ["-1"]),
        ({"use": {"laps": 500, "corners_per_lap": 14, "kerbs_per_lap": 6e6}}, "[use] kerbs_per_lap", ["6e+06 a lap"]),
        (LIMP, "[front] spring_rate", ["falls over before it leans", "N m/deg"]),
        ({"format": 2}, "format", ["2"]),
        ({"format": True}, "format", ["format = true"]),
        # A power of ten and more: the unit is asked for, whatever the power.
        ({"car__wheelbase": 25_000.0}, "[car] wheelbase", ["25000 mm", "which unit", "900 to 8000 mm"]),
        ({"front__track": 1.48e5}, "[front] track", ["148000 mm", "which unit", "500 to 3200 mm"]),
        ({"rear__roll_centre_height": -90_000.0}, "[rear] roll_centre_height", ["-90000 mm", "which unit"]),
        ({"front__tyre_rate": "Rigid"}, "[front] tyre_rate", ['"Rigid"', 'or "rigid"']),
        ({"front__bump_stop": "none"}, "[front] bump_stop", ["'none'", "gap = 30.0, rate = 120.0"]),
        ({"front__bar": True}, "[front.bar]", ["true", '"none"']),
        ({"drive__rear_differential": True}, "[drive] rear_differential", ["true", "locked"]),
        ({"front__bar__rates": [{"hole": "1", "roll": 1e-320}]}, "[front.bar] rates 1, roll", ["at least 0.001 N/mm"]),
        ({"front__bar__rates": [{**RATES[0], "lever": 1e-320}]}, "[front.bar] rates 1, lever", ["at least 1 mm"]),
        ({"front__bar__rates": [{**RATES[0], "one_end_held": 1e-9}]}, "rates 1, one_end_held", ["1e-09 N/mm"]),
        ({"front__bar__link_thread": {"pitch": 1e-320}}, "[front.bar] link_thread, pitch", ["at least 0.01 mm a turn"]),
    ],
)  # fmt: skip
def test_refused(changes, place, words):
    with pytest.raises(InputError) as refused:
        car_model(car_from_dict(changed(**changes), source="car.toml"))
    text = str(refused.value)
    assert text.startswith("car.toml: ")
    assert place in text
    for word in words:
        assert word in text
    assert "Right would be: " in text


def test_bar_and_car_files_are_not_each_other():
    with pytest.raises(InputError, match="this is a bar file") as refused:
        read_car(GEOMETRIES / "pickup-front-solid.toml")
    assert "barfem check" in str(refused.value)
    with pytest.raises(InputError, match="this is a car file") as refused:
        read_bar(GEOMETRIES / "coupe-car.toml")
    assert "barfem car" in str(refused.value)


@pytest.mark.parametrize(
    ("name", "words"),
    [(".", "this is a folder"), ("car.toml", "this is a car file"), ("odd.toml", "[section] diameter")],
)
def test_what_is_wrong_with_a_bar_file_is_told_with_the_key_that_names_it(tmp_path, name, words):
    """Whoever runs barfem car has a car file before them, and is not helped by being sent to barfem car."""
    (tmp_path / "car.toml").write_text((GEOMETRIES / "coupe-car.toml").read_text())
    bar = (GEOMETRIES / "pickup-front-solid.toml").read_text()
    (tmp_path / "odd.toml").write_text(bar.replace("diameter = 22.0", "diameter = -22.0"))
    with pytest.raises(InputError) as caught:
        car_from_dict(changed(front__bar={"file": name, "motion_ratio": 0.5}), source=str(tmp_path / "car.toml"))
    told = str(caught.value)
    assert words in told
    assert told.startswith(f"{tmp_path / name} (named by [front.bar] file): ")


def test_both_motion_ratios_must_agree(tmp_path):
    """The tube's own file says 0.5."""
    own = (GEOMETRIES / "pickup-rear-tube.toml").read_text()
    (tmp_path / "bar.toml").write_text(own)
    bar = {"file": "bar.toml", "motion_ratio": 0.5}
    car = car_from_dict(changed(front__bar=bar), source=str(tmp_path / "car.toml"))
    assert car.front.bar.motion_ratio == 0.5
    assert car.front.bar.fitted == (0, 0)
    with pytest.raises(InputError, match=r"0\.51 is not that of the bar file, 0\.5"):
        car_from_dict(changed(front__bar={**bar, "motion_ratio": 0.51}), source=str(tmp_path / "car.toml"))
    with pytest.raises(InputError, match="no such file") as caught:
        car_from_dict(changed(front__bar={"file": "else.toml"}), source=str(tmp_path / "car.toml"))
    told = str(caught.value)
    assert f"{tmp_path / 'car.toml'}: [front.bar] file" in told and str(tmp_path / "else.toml") in told


def test_units_and_defaults_are_told():
    data = changed(
        car__wheelbase="2.5 m", front__spring_rate="314 lbf/in", car__corner_masses__front_left="640 lb",
        front__unsprung_height=None, drive__brake_front_share=None, front__bar__links=None,
    )  # fmt: skip
    car = car_from_dict(data)
    assert car.wheelbase_mm == pytest.approx(2500.0)
    assert car.front.spring.rate_N_per_mm == pytest.approx(54.99, abs=0.01)
    assert car.corner_masses_kg[0] == pytest.approx(290.3, abs=0.05)
    wording = " ".join(car.assumptions)
    for words in ("300 mm", "0.65", '"hang"', "[[states]]"):
        assert words in wording
    wide = car_from_dict(changed(front__bar__motion_ratio=1.6))
    assert any("not the other way round" in text for text in wide.warnings)
    assert car_from_dict(changed(rear__bar=None)).rear.bar is None


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, ""),
        ({"front__spring_rate": 55_000.0}, "[front] on its springs alone the body would bounce at"),
        ({"front__spring_rate": 0.055}, "[front] on its springs alone the body would bounce at"),
        ({"front__tyre_rate": 2.2}, "[front] on its tyres alone the body would bounce at"),
        ({"front__tyre_rate": 21.0}, "[front] on its tyres alone the body would bounce at"),
        (
            {"front__tyre_rate": 55.0},
            "on its tyres alone the body would bounce at 2.3 Hz, cars at 3.5 to 6: is the rate in N/mm, and are the "
            "masses in kg?",
        ),
        ({"front__tyre_rate": 215_000.0}, "would bounce at 147 Hz, cars at 3.5 to 6"),
        ({"front__spring_rate": 55_000.0}, "cars at 1 to 6: is the rate in N/mm"),
        # 1200 lbf/in written as N/mm: the tyre would give 2.4 mm under 2.8 kN, where tyres give some 12.
        ({"front__tyre_rate": 1200.0}, "[front] on its tyres alone the body would bounce at 11 Hz, cars at 3.5 to 6"),
        ({"front__tyre_rate": "rigid"}, ""),
        (
            {"front__bar__rates": [{"hole": "2", "one_end_held": 16_000.0}]},
            "[front.bar] rates 1: 32000 N/mm in roll are",
        ),
        # 12 kN/mm written as N/mm: 0.009 N/mm at the wheel, beside the spring's 46.6.
        (
            {"front__bar__rates": [{"hole": "2", "one_end_held": 0.012}]},
            "[front.bar] rates 1: 0.024 N/mm in roll are 0.00923 N/mm at the wheel, nothing beside a spring's",
        ),
        ({"front__bar__motion_ratio": 1e-3}, "the wheels hardly move this bar"),
        ({"tyres__cornering_stiffness": {"c1": 0.28, "c2": 0.0}}, "c1 = 0.28 1/rad (front) is far from any tyre's"),
        ({"tyres__cornering_stiffness": {"c1": 16.0, "c2": 3e-3}}, "is nothing from 5333 N on, and a front wheel may"),
    ],
)
def test_a_rate_or_a_ratio_of_another_unit_is_asked_about(changes, words):
    """Body on springs: f = (k / m)^0.5 / 2 pi. N/m written as N/mm is 32 times the frequency."""
    warnings = " ".join(car_from_dict(changed(**changes)).warnings)
    assert words in warnings if words else "is the rate in N/mm" not in warnings


@pytest.mark.parametrize("text", ["0.7 g", "6.867 m/s2", "6.867 m/s²", "6.867 m/s^2"])
def test_an_acceleration_may_carry_its_unit(text):
    """g is 9.81 m/s2 in car files, and no gram."""
    (state,) = car_from_dict(changed(states=[{"name": "a", "a_y": text}])).states
    assert state.a_y_g == pytest.approx(0.7, rel=1e-12)


@pytest.mark.parametrize("gain", [-0.02, "-0.02 deg/mm", "-0.508 deg/in", "-0.000349065850398866 rad/mm"])
@pytest.mark.parametrize("band", [[1.5, 2.5], ["1.5 deg/g", "2.5 deg/g"]])
def test_camber_gain_and_roll_gradient_may_carry_their_units(gain, band):
    car = car_from_dict(changed(front__camber_gain=gain, targets__roll_gradient=band))
    assert car.front.camber_gain_deg_per_mm == pytest.approx(-0.02, rel=1e-12)
    assert car.targets.roll_gradient_deg_per_g == (1.5, 2.5)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"front__camber_gain": "-0.02 deg"}, '-0.02 (deg/mm) or "-0.5 deg/in"'),
        ({"front__camber_gain": "-0.02 mm"}, '-0.02 (deg/mm) or "-0.5 deg/in"'),
        ({"targets__roll_gradient": ["1.5 deg", 2.5]}, '1.5 (deg/g) or "1.5 deg/g"'),
    ],
)
def test_camber_gain_and_roll_gradient_have_no_other_unit(changes, words):
    with pytest.raises(InputError) as found:
        car_from_dict(changed(**changes))
    assert words in str(found.value)


def corners(*masses_kg):
    return dict(zip(("front_left", "front_right", "rear_left", "rear_right"), masses_kg, strict=True))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"front__unsprung_mass": 0.07}, "[front] unsprung_mass 0.07 kg is not usual"),
        ({"rear__roll_centre_height": 900.0}, "[rear] roll_centre_height 900 mm lies above the sprung mass's centre"),
        ({"front__roll_centre_height": -45.0}, ""),
        ({"front__track": 745.0}, "[front] track 745 mm and [rear] track 1450 mm: is one of them half the track?"),
        ({"front__track": 1320.0}, ""),
        ({"front__anti": 1.2}, "[front] anti 1.2 is not usual"),
        ({"front__camber": -22.0}, "[front] camber -22 deg is not usual"),
        ({"front__camber_gain": -0.5}, "[front] camber_gain -0.5 deg per mm is not usual"),
        ({"front__bump_stop": {"gap": 965.0, "rate": 120.0}}, "[front] bump_stop gap 965 mm is not usual"),
        # 575 kg less 70 unsprung are on both front springs, 2477 N on each; a curve may count its force from there.
        ({**NO_FRONT, "front__wheel_curve": [[-60, 900], [0, 2480], [40, 5200]]}, ""),
        ({**NO_FRONT, "front__wheel_curve": [[-60, -1600], [0, 0], [40, 2700]]}, ""),
        ({**NO_FRONT, "front__wheel_curve": [[-60, 90], [0, 248], [40, 520]]}, "248 N at zero, where the corners'"),
        ({**NO_FRONT, "front__wheel_curve": [[-60, 9000], [0, 12500], [40, 15200]]}, "12500 N at zero, where the"),
        ({"drive__front_differential": "locked"}, "front_differential has no effect: driven"),
        ({"drive__rear_differential": "locked"}, ""),
        ({"front__bar__motion_ratio": 0.06}, "the wheels hardly move this bar"),
        ({"front__bar__link_thread": {"pitch": 0.05}}, "[front.bar] link_thread 0.05 mm a turn is not usual"),
        (
            {"front__bar__rates": [{"hole": "2", "one_end_held": 16.0, "lever": 10.0}]},
            "[front.bar] rates 1, lever 10 mm",
        ),
        ({"front__bar__ride_offset": {"left": 5000.0, "right": 0.0}}, "[front.bar] ride_offset 5000 mm is not usual"),
        ({"front__bar__link_length_error": 140.0}, "[front.bar] link_length_error 140 mm is not usual"),
        ({"front__bar__link_length_error": 4.0}, ""),
        ({"front__bump_stop": {"gap": 0.03, "rate": 120.0}}, "[front] bump_stop gap 0.03 mm is not usual"),
        ({"front__bump_stop": {"gap": 0.0, "rate": 120.0}}, ""),
        ({"rear__droop_stop": {"gap": 60.0, "rate": 4e5}}, "[rear] droop_stop rate 400000 N/mm is not usual"),
        # Measured from the line through the axles, 290 to 300 mm up: 500 - 295.
        ({"car__cg_height": 205.0}, "[car] the centre of gravity, 205 mm, lies far below the wheel centres at 295 mm"),
        ({"car__cg_height": 280.0}, ""),
        # 1450 / 2 / 2000: in a turn of 0.36 g it lies on its side.
        ({"car__cg_height": 2000.0}, "would tip a rigid car of this track over at 0.36 g, cars above 0.9"),
        ({"car__cg_height": 1000.0}, ""),
        ({"car__wheelbase": 1000.0}, "[car] wheelbase 1000 mm beside a track of 1480 mm: is one exchanged"),
        ({"car__wheelbase": 1100.0}, ""),
        # At rest the front wheels bear 575 of 1125 kg, and under any braking more.
        ({"drive__brake_front_share": 0.35}, "0.35 is less than the front wheels bear at rest, 0.51: the rear wheels"),
        ({"drive__brake_front_share": 0.52}, ""),
        # 290 kg written in pounds beside three in kg; and the diagonals exchanged in part.
        ({"car__corner_masses__front_left": 639.0}, "front right and rear left wheels together would bear 0.377 of"),
        ({"car__corner_masses": corners(170.0, 400.0, 390.0, 160.0)}, "rear left wheels together would bear 0.705 of"),
        ({"car__corner_masses": corners(400.0, 170.0, 390.0, 160.0)}, "the left side would bear 0.705 of the car"),
        # An oval car, 57 % to the left, 56 % across.
        ({"car__corner_masses": corners(300.0, 255.0, 360.0, 195.0)}, ""),
        (
            {"front__bar__rates": [{**RATES[0], "lever": 195.0}, RATES[1], {**RATES[2], "lever": 250.0}]},
            'hole "2" has a longer lever than hole "1", 220 mm beside 195 mm, and the higher rate',
        ),
        ({"drive__rear_differential": {"torque_bias": 22.0}}, "[drive] torque_bias 22 is not usual"),
        ({"drive__rear_differential": "locked"}, ""),
        ({"tyres__load": 26_000.0}, "[tyres] load 26000 N is not usual"),
    ],
)
def test_a_number_that_no_car_has_is_asked_about_once(changes, words):
    usual = set(car_from_dict(changed()).warnings)
    told = [text for text in car_from_dict(changed(**changes)).warnings if text not in usual]
    assert sum(words in text for text in told) == 1 if words else not told


def test_roll_rates_are_twice_one_end_held():
    roll = [{**entry, "roll": 2 * entry["one_end_held"]} for entry in RATES]
    for entry in roll:
        del entry["one_end_held"]
    one, two = (car_from_dict(changed(front__bar__rates=rates)) for rates in (RATES, roll))
    assert one.front.bar.rates == two.front.bar.rates


def test_what_may_be_a_slip_of_the_car_file_is_said_first(capsys):
    """The other way round, 1 / 0.6 = 1.67, or out of the usual: under the car's name, before any number."""
    car = changed(front__bar__motion_ratio=1.3, front__anti=1.2)
    found = car_from_dict(car)
    assert len(found.odd) == 2 and set(found.odd) <= set(found.warnings)
    assert car_from_dict(changed()).odd == ()
    print_car(analyse_car(found))
    assert capsys.readouterr().out.splitlines()[1].startswith("Look twice: [front.bar] motion_ratio 1.3 is above 1.2")
