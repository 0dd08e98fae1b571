"""The car's equilibrium against closed forms, an energy minimum by another solver, and its own balance of forces."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from barfem.car.analysis import analyse_car, analyse_model
from barfem.car.balance import balance
from barfem.car.car import GRAVITY, Car, State
from barfem.car.grip import axle_side_force_N, slip_rad
from barfem.car.model import CarModel, car_model
from barfem.car.statics import solve
from tests.car.cars import changed, model_of, plain_car

EVERY = (
    State("rest", 0.0, 0.0),
    State("left", 0.8, 0.0),
    State("right", -0.8, 0.0),
    State("entry", 0.6, -0.5),
    State("exit", -0.5, 0.3),
    State("braking", 0.0, -0.9),
)
NO_BARS = {"front__bar": "none", "rear__bar": "none"}
STOPS = {"gap": 12.0, "rate": 150.0}
PECULIAR = {
    "front__bump_stop": STOPS,
    "rear__droop_stop": {"gap": 15.0, "rate": 300.0},
    "front__anti": 0.3,
    "rear__anti": 0.15,
    "front__bar__left": "1",
    "front__bar__ride_offset": {"left": 4.0, "right": -2.0},
    "rear__bar__link_length_error": {"left": 3.0, "right": 0.0},
    "rear__suspension": "beam",
    "rear__spring_base": 1050.0,
    "rear__bar__roll_motion_ratio": 0.5,
}


def states(model: CarModel, some: tuple[State, ...] = EVERY):
    return model.states(model.problem(some))


@pytest.mark.parametrize("changes", [{}, NO_BARS, PECULIAR, {**PECULIAR, "car__weighed_with_bars": "connected"}])
def test_forces_and_moments_close_in_every_state(changes):
    """Wheel loads carry weight and inertia of the whole car: below 1e-6 of the weight, and of the weight x 1 m."""
    found = states(model_of(**changes))
    assert found.found.all()
    assert np.abs(found.closure).max() < 1e-6 * plain_car().weight_N


def test_mirrored_car_gives_mirrored_numbers():
    """Left and right exchanged, bars and their preload too: the other turn gives the exchanged loads."""
    one = states(model_of(**PECULIAR))
    swapped = {"front_left": 285.0, "front_right": 290.0, "rear_left": 280.0, "rear_right": 270.0}
    two = states(
        model_of(
            **{
                **PECULIAR,
                "car__corner_masses": swapped,
                "front__bar__left": "2",
                "front__bar__right": "1",
                "front__bar__ride_offset": {"left": -2.0, "right": 4.0},
                "rear__bar__link_length_error": {"left": 0.0, "right": 3.0},
            }
        ),
        tuple(State(s.name, -s.a_y_g, s.a_x_g) for s in EVERY),
    )
    assert two.loads_N[:, [1, 0, 3, 2]] == pytest.approx(one.loads_N, abs=1e-6)
    assert -two.roll_deg == pytest.approx(one.roll_deg, abs=1e-9)
    assert two.link_N[0][:, ::-1] == pytest.approx(one.link_N[0], abs=1e-6)


def test_from_a_hopeless_start_a_state_is_led_to_from_rest():
    """In steps of the load: the equilibrium is the one that is found at once from rest."""
    model = model_of(front__bump_stop=STOPS, rear__droop_stop=STOPS)
    problem = model.problem(EVERY)
    direct = solve(model.suspension, problem)
    far = solve(model.suspension, problem, start=np.full((len(problem), 7), np.nan))
    assert direct.found.all() and far.found.all()
    assert np.allclose(far.x, direct.x, atol=1e-6)


def test_too_light_a_wheel_is_told_in_every_state_that_has_one():
    car = plain_car(targets={"lift_margin": 1200.0})
    found = analyse_car(car, states=EVERY, stress=False)
    for state, loads in zip(EVERY, states(car_model(car)).loads_N, strict=True):
        told = any(text.startswith(f"{state.name}: the least wheel load") for text in found.why)
        assert told == (loads.min() < 1200.0)


def test_the_understeer_gradient_is_the_slope_of_the_angle():
    """Between neighbours 0.1 g to either side, of a curve that bends little; and `balance` says the same of a pair."""
    found = analyse_car(plain_car(), stress=False).understeer
    low, here, high = found[3:6]
    slope = (high.understeer_angle_deg - low.understeer_angle_deg) / (high.a_y_g - low.a_y_g)
    assert abs(slope) > 0.01 and here.understeer_gradient_deg_per_g == pytest.approx(slope, rel=0.02)
    (pair,) = balance(plain_car(), front=(1, 1), rear=(0, 0), at=State("turn", here.a_y_g, 0.0)).pairs
    assert pair.understeer_gradient_deg_per_g == pytest.approx(here.understeer_gradient_deg_per_g, rel=1e-6)
    assert pair.balance == pytest.approx(pair.grip_used_front - pair.grip_used_rear, abs=1e-12)


def test_without_shares_of_drive_and_brakes_grip_is_told_where_neither_acts():
    found = states(model_of(drive=None))
    unknown = np.array([state.a_x_g != 0.0 for state in EVERY])
    assert (np.isnan(found.grip_used).any(axis=1) == unknown).all()
    # On the front wheels at 0.8 g, by Newton: mass on them x a_y over what their tyres give at their loads.
    load = found.loads_N[1, :2]
    gives = (1.15 * (1.0 - 0.08 * (load / 3000.0 - 1.0)) * load).sum()
    assert found.grip_used[1, 0] == pytest.approx((290.0 + 285.0) * 9.81 * 0.8 / gives, rel=1e-3)


def test_without_bars_the_car_rests_as_weighed():
    found = states(model_of(**NO_BARS), EVERY[:1])
    car = plain_car(**NO_BARS)
    assert found.loads_N[0] == pytest.approx(np.array(car.corner_masses_kg) * GRAVITY, abs=1e-6)
    assert np.abs(found.travel_mm).max() < 1e-9


def test_rigid_tyres_give_the_closed_form():
    """phi = m_s g d a_y / (K - m_s g d); each axle K_i phi / t + its roll centre's and unsprung part (Gillespie ch. 6,
    Milliken & Milliken ch. 18), retyped here from the car's numbers. 1e8 N/mm is not rigid to the last digit."""
    rigid = {
        "front__tyre_rate": "rigid",
        "rear__tyre_rate": "rigid",
        "car__corner_masses": None,
        "car__total_mass": 1125.0,
        "car__front_share": 0.51,
    }
    model = model_of(**rigid)
    found = states(model, (State("left", 0.5, 0.0),))
    sprung = 1125.0 - 150.0
    share = (0.51 * 1125.0 - 70.0) / sprung
    height = (1125.0 * 500.0 - 70.0 * 290.0 - 80.0 * 300.0) / sprung
    arm = height - (share * 40.0 + (1 - share) * 90.0)
    k_front = (55.0 * 0.92**2 + 2 * 16.0 * 0.62**2) * 1480.0**2 / 2  # N mm/rad
    k_rear = (42.0 + 2 * 12.0 * 0.55**2) * 1450.0**2 / 2
    roll = sprung * 9.81 * arm * 0.5 / (k_front + k_rear - sprung * 9.81 * arm)
    force = sprung * 9.81 * 0.5
    front = k_front * roll / 1480.0 + force * share * 40.0 / 1480.0 + 70.0 * 9.81 * 0.5 * 290.0 / 1480.0
    rear = k_rear * roll / 1450.0 + force * (1 - share) * 90.0 / 1450.0 + 80.0 * 9.81 * 0.5 * 300.0 / 1450.0
    assert found.roll_deg[0] == pytest.approx(np.degrees(roll), rel=5e-6)
    assert found.transfer_N[0] == pytest.approx([front, rear], rel=5e-6)
    assert found.front_transfer_share[0] == pytest.approx(front / (front + rear), rel=5e-6)
    assert model.whole_gradient_deg_per_g([0], [0])[0] == pytest.approx(np.degrees(roll) / 0.5, rel=5e-6)
    hand = analyse_model(model, states=EVERY[:1]).by_hand_deg_per_g
    assert hand["rigid_tyres"] == pytest.approx(np.degrees(roll) / 0.5, rel=1e-9)
    assert hand["tyres_in_series"] == pytest.approx(hand["rigid_tyres"], rel=1e-9)


def test_beam_axle_works_its_springs_at_their_base():
    """In roll k_s b^2 / 2, in heave k_s MR^2 (Gillespie's K = 0.5 k s^2 for a solid axle, from memory)."""
    model = model_of(
        rear__suspension="beam", rear__wheel_rate=None, rear__spring_rate=40.0, rear__spring_motion_ratio=0.9,
        rear__spring_base=1000.0, rear__bar="none",
    )  # fmt: skip
    rear = model.stiffness()[1]
    assert rear.springs_Nm_per_deg == pytest.approx(40.0 * 1000.0**2 / 2 / 1000 * pi / 180)
    assert rear.wheel_rate_spring_N_per_mm == pytest.approx(40.0 * 0.81)


def test_transfer_share_of_a_linear_car_is_the_same_in_any_turn():
    """Until a wheel lifts or a stop engages it depends on neither a_y nor a_x."""
    found = states(model_of(front__anti=0.2), (State("a", 0.2, 0.0), State("b", 0.9, 0.0), State("c", 0.4, -0.6)))
    assert found.front_transfer_share == pytest.approx([found.front_transfer_share[0]] * 3, rel=1e-9)


def test_braking_moves_m_a_h_over_l_and_anti_moves_no_load():
    """Load moved forward = m a_x h / L whatever goes through the links; they only take it from the springs."""
    plain, anti = (states(model_of(**extra), EVERY[5:]) for extra in (NO_BARS, {**NO_BARS, "front__anti": 0.4}))
    car = plain_car()
    moved = plain.loads_N[0, :2].sum() - car.weight_N * car.front_share
    assert moved == pytest.approx(car.weight_N * 0.9 * 500.0 / 2500.0, rel=1e-9)
    assert anti.loads_N[0] == pytest.approx(plain.loads_N[0], abs=1e-6)
    assert anti.travel_mm[0, 0] == pytest.approx(0.6 * plain.travel_mm[0, 0], rel=1e-9)


def energy(car: Car, model: CarModel, state: State, x: np.ndarray) -> float:
    """Potential energy in N mm of springs, stops, tyres, bars, weight and inertia, written out wheel by wheel."""
    heave, roll, pitch = x[0], x[1] / 1000.0, x[2] / 1000.0
    share, wheelbase, g = car.sprung_front_share, car.wheelbase_mm, GRAVITY
    sprung = car.sprung_mass_kg * g
    out = sprung * heave
    out -= sprung * (car.roll_arm_mm * state.a_y_g - car.sprung_cg_left_mm) * roll
    out -= 0.5 * sprung * car.roll_arm_mm * roll**2
    dive = -state.a_x_g * sprung * car.sprung_cg_height_mm  # moment, nose down
    out -= dive * pitch
    unsprung = sum(a.unsprung_mass_kg * a.unsprung_height_mm for a in car.axles) * g
    for i, axle in enumerate(car.axles):
        x_mm = (1 - share) * wheelbase if i == 0 else -share * wheelbase
        ahead = 1.0 if i == 0 else -1.0
        link = ahead * axle.anti * dive / wheelbase
        part = (share if i == 0 else 1 - share) * sprung * axle.roll_centre_height_mm
        part += axle.unsprung_mass_kg * g * axle.unsprung_height_mm
        travels = []
        for k, side in enumerate((1.0, -1.0)):
            wheel = x[3 + 2 * i + k]
            body = heave + side * 0.5 * axle.track_mm * roll - x_mm * pitch
            travel = wheel - body
            travels.append(travel)
            tyre_N = car.corner_masses_kg[2 * i + k] * g
            out += (tyre_N - 0.5 * axle.unsprung_mass_kg * g) * travel
            for stop, sign in ((axle.bump_stop, 1.0), (axle.droop_stop, -1.0)):
                if stop is not None:
                    out += 0.5 * stop.rate_N_per_mm * max(sign * travel - stop.gap_mm, 0.0) ** 2
            # Weight and what goes past the springs press the wheel down: work as it rises; links push body from wheel.
            direct = -side * state.a_y_g * part / axle.track_mm - ahead * state.a_x_g * 0.5 * unsprung / wheelbase
            out += (0.5 * axle.unsprung_mass_kg * g + direct) * wheel + 0.5 * link * travel
            # The road pushes up with tyre_N - k w until the tyre is off.
            pressed = max(tyre_N / axle.tyre_rate_N_per_mm - wheel, 0.0)
            out += 0.5 * axle.tyre_rate_N_per_mm * pressed**2
        mean, half = 0.5 * sum(travels), 0.5 * (travels[0] - travels[1])
        spring = axle.spring
        for sign in (1.0, -1.0):
            out += 0.5 * spring.rate_N_per_mm * (spring.heave_ratio * mean + sign * spring.roll_ratio * half) ** 2
        bar = axle.bar
        if bar is not None:
            q = [bar.motion_ratio * mean + sign * bar.roll_motion_ratio * half for sign in (1.0, -1.0)]
            q = [a + b for a, b in zip(q, bar.offset_mm, strict=True)]
            (_, one, arm_1), (_, two, arm_2) = bar.rates[bar.fitted[0]], bar.rates[bar.fitted[1]]
            twist = q[0] / arm_1 - q[1] / arm_2
            k_t = 2.0 / (1.0 / (0.5 * one * arm_1**2) + 1.0 / (0.5 * two * arm_2**2))
            out += 0.5 * k_t * twist**2
    return out


@pytest.mark.parametrize("changes", [{}, PECULIAR], ids=["plain", "peculiar"])
def test_an_energy_minimum_by_another_solver_is_the_same_state(changes):
    """SciPy's BFGS on the energy, its gradient by differences: nothing of the Newton iteration is in it."""
    model = model_of(**changes)
    some = (State("hard left", 1.15, 0.0), State("entry", 0.7, -0.5))
    found = states(model, some)
    for i, state in enumerate(some):
        start = np.zeros(7)
        scale = model.car.weight_N
        best = minimize(
            lambda x, state=state, scale=scale: energy(model.car, model, state, x) / scale,
            start,
            method="BFGS",
            options={"gtol": 1e-8},
        )
        rate = np.repeat([axle.tyre_rate_N_per_mm for axle in model.car.axles], 2)
        loads = np.maximum(model.suspension.tyre_N - rate * best.x[3:], 0.0)
        assert loads == pytest.approx(found.loads_N[i], abs=1e-3 * model.car.weight_N / 4)
        assert np.degrees(best.x[1] / 1000.0) == pytest.approx(found.roll_deg[i], rel=1e-3)


def test_stops_and_lift_are_named():
    result = analyse_car(plain_car(**PECULIAR), states=[State("hard", 1.1, 0.0)])
    state = result.to_json_dict()["states"][0]
    assert "front_right bump" in state["stops"]
    assert "rear_left droop" in state["stops"]


def test_a_car_that_rolls_over_says_where():
    """Its states are null with the reason; the inside wheels lift before no equilibrium is left. A narrow tall car
    stays up only to half its track over its height, the rigid block's limit, and the leaning lowers that."""
    tall = plain_car(car__cg_height=900.0, front__spring_rate=90.0, rear__wheel_rate=80.0)
    result = analyse_car(tall, states=[State("over", 0.95, 0.0), State("mid", 0.4, 0.0)])
    out = result.to_json_dict()
    assert out["states"][0]["roll_deg"] is None
    assert set(out["states"][0]["wheel_loads_N"].values()) == {None}
    assert "no equilibrium" in out["states"][0]["reason"]
    assert out["states"][1]["reason"] is None
    lift, over = out["lift"]["a_y_g"], out["lift"]["no_equilibrium_a_y_g"]
    assert 0.4 < lift < over < 0.5 * 1480.0 / 900.0
    assert out["lift"]["first_wheel"].endswith("left")
    assert not out["passes"]
    assert f"{over:.3f} g" in out["states"][0]["reason"]
    # Just below the limit it stands, just above it does not.
    again = analyse_car(tall, states=[State("below", over - 1e-3, 0.0), State("above", over + 1e-3, 0.0)])
    assert again.states.found.tolist() == [True, False]


def test_the_roll_gradient_at_the_knot_of_a_wheel_curve_is_the_slope_of_roll_over_a_y():
    """As weighed every wheel stands at zero, where a measured curve often has a knot: the outer spring stiffens, the
    inner one softens, the body rises. Rigid tyres, one axle's springs by hand, source two springs a and b under a body:
    in roll alone they are (a + b) / 2 t^2 / 2, and the body that may rise takes (b - a)^2 / (2 (a + b)) t^2 / 2 off.
    """
    curve, soft, stiff = [[-60, 900], [0, 2500], [40, 5200]], 1600.0 / 60.0, 2700.0 / 40.0
    changes = {}
    for axle, track in (("front", 1480.0), ("rear", 1480.0)):
        changes |= {f"{axle}__wheel_curve": curve, f"{axle}__spring_rate": None, f"{axle}__spring_motion_ratio": None}
        changes |= {f"{axle}__wheel_rate": None, f"{axle}__tyre_rate": "rigid", f"{axle}__bar": "none"}
        changes |= {f"{axle}__track": track}
    masses = dict.fromkeys(("front_left", "front_right", "rear_left", "rear_right"), 280.0)
    changes |= {"car__corner_masses": masses, "front__unsprung_mass": 80.0}
    model = model_of(**changes)
    found = model.whole_gradient_deg_per_g([0], [0])[0]
    turns = states(model, (State("left", 0.01, 0.0), State("right", -0.01, 0.0)))
    assert found == pytest.approx((turns.roll_deg[0] - turns.roll_deg[1]) / 0.02, rel=1e-6)
    rolls = 2.0 * (0.5 * (soft + stiff) - (stiff - soft) ** 2 / (2.0 * (soft + stiff))) * 1480.0**2 / 2.0
    falls = model.car.sprung_mass_kg * 9.81 * model.car.roll_arm_mm
    assert found == pytest.approx(np.degrees(falls / (rolls - falls)), rel=1e-4)


def test_preload_by_hand():
    """A link 3 mm too long on a bar that hangs raises its left end: twist 3 mm. With the car held at its height the
    force at each end is rate one end held x 3 mm; the car gives way, so that a little less is left."""
    model = model_of(front__bar__link_length_error={"left": 3.0, "right": 0.0})
    found = states(model, EVERY[:1])
    held = 16.0 * 3.0
    assert model.suspension.pickup_mm(0, np.zeros((1, 4)))[0] == pytest.approx([3.0, 0.0])
    forces = found.link_N[0][0]
    assert forces[0] < 0.0 < forces[1]  # the long link is pressed, the other pulled
    assert 0.5 * held < -forces[0] < held
    assert found.cross_weight[0] < model.car.cross_weight  # the left front pushes down harder
    stand = states(model_of(front__bar__links="stand", front__bar__link_length_error={"left": 3.0, "right": 0.0}))
    assert stand.cross_weight[0] > model.car.cross_weight


def test_weighed_with_bars_connected_is_at_rest_at_zero():
    found = states(
        model_of(front__bar__link_length_error={"left": 3.0, "right": 0.0}, car__weighed_with_bars="connected"),
        EVERY[:1],
    )
    assert np.abs(found.travel_mm).max() < 1e-9
    assert found.link_N[0][0] == pytest.approx([-48.0, 48.0])


def test_camber_to_the_road():
    """Right side down leans the right wheel outward, bump adds camber_gain; a beam axle leans with its wheels."""
    extra = {
        "front__camber": -2.0,
        "front__camber_gain": -0.02,
        "rear__suspension": "beam",
        "rear__spring_base": 1000.0,
    }
    found = states(model_of(**extra), (State("left", 0.8, 0.0),))
    assert found.roll_deg[0] > 0.0
    want = -2.0 - 0.02 * found.travel_mm[0, 1] + found.roll_deg[0]
    assert found.camber_deg[0, 1] == pytest.approx(want)
    rate = 220.0
    lean = np.degrees((found.loads_N[0, 3] - found.loads_N[0, 2] - 10.0 * GRAVITY) / rate / 1450.0)
    assert found.camber_deg[0, 3] == pytest.approx(lean, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(
    masses=st.tuples(*[st.floats(120.0, 700.0)] * 4),
    height=st.floats(250.0, 900.0),
    springs=st.tuples(st.floats(12.0, 150.0), st.floats(12.0, 150.0)),
    tyre=st.floats(120.0, 400.0),
    centres=st.tuples(st.floats(-60.0, 200.0), st.floats(-60.0, 350.0)),
    gap=st.floats(0.0, 60.0),
    error=st.floats(-8.0, 8.0),
    a_y=st.floats(-1.8, 1.8),
    a_x=st.floats(-1.2, 0.8),
)
def test_plausible_cars_are_solved_or_say_why_not(masses, height, springs, tyre, centres, gap, error, a_y, a_x):
    from barfem.car.read import car_from_dict
    from barfem.model.errors import InputError

    data = changed(
        car__corner_masses=dict(zip(("front_left", "front_right", "rear_left", "rear_right"), masses, strict=True)),
        car__cg_height=height, front__spring_rate=springs[0], rear__wheel_rate=springs[1], front__tyre_rate=tyre,
        front__roll_centre_height=centres[0], rear__roll_centre_height=centres[1],
        front__bump_stop={"gap": gap, "rate": 150.0}, rear__bar__link_length_error={"left": error, "right": 0.0},
    )  # fmt: skip
    try:
        model = car_model(car_from_dict(data))
    except InputError as refused:
        assert "falls over" in str(refused)
        return
    state = State("any", a_y, a_x)
    result = analyse_model(model, states=[state], stress=False)
    if result.states.found[0]:
        assert np.abs(result.states.closure[0]).max() < 1e-6 * model.car.weight_N
        assert result.states.loads_N.min() >= 0.0
        assert not (result.states.lifted[0, [0, 2]].all() or result.states.lifted[0, [1, 3]].all())
    else:
        assert result.reasons[0]
        assert np.isnan(result.states.loads_N).all()


def test_no_slip_is_told_of_a_tyre_beyond_its_line():
    """16 F - 0.002 F^2 has 14 000 N/rad at 1 000 N, 32 000 at 4 000 N (its greatest), and -6 720 at 8 400 N.

    With 1 000 N on the other wheel the sum is still above zero, and its slip would look like an answer.
    """
    car = plain_car(tyres__cornering_stiffness={"c1": 16.0, "c2": 0.002})
    a_y = np.array([1.0, 1.0])
    loads = np.array([[1000.0, 4000.0, 1000.0, 4000.0], [1000.0, 8400.0, 1000.0, 4000.0]])
    slip = slip_rad(car, loads, a_y)
    side = axle_side_force_N(car, a_y)[0]
    assert slip[0] == pytest.approx(side / (14_000.0 + 32_000.0))
    assert np.isnan(slip[1, 0]) and slip[1, 1] == slip[0, 1]
