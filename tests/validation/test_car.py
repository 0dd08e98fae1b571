"""The bar in the car against published worked examples. Values retyped from the source named beside each."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.car.analysis import analyse_car
from barfem.car.car import GRAVITY, State, Tyre
from barfem.car.grip import slip_rad
from barfem.car.stiffness import in_series, roll_stiffness_Nm_per_rad
from tests.car.cars import plain_car

POUND_FORCE_N, INCH_MM, FOOT_MM = 4.4482216152605, 25.4, 304.8


def test_load_transfer_of_barton_and_fieldhouse():
    """Barton & Fieldhouse, Automotive Chassis Engineering (Springer 2018), p. 174: sprung 1280 kg, 54/46; unsprung
    140/180 kg; track 1.46 m; roll centres 0.07/0.32 m; unsprung heights 0.28/0.30 m; roll arm 0.365 m; 0.6 g.

    Two slips in print: the front total of 1919 N is 1556 + 195 + 158 = 1909; and the rear's 671 N of roll stiffness
    does not carry the book's own 28 650 N m/rad (1556 + 671 against 2242 N): with that sum it is 686, the total 1664.
    The front axle's 19 880 N m/rad are solved back from its 1556 N. Parts agree to their last printed digit.
    """
    track, front_K, whole_K = 1460.0, 19_880.0, 28_650.0
    rates = [2.0 * K * 1000.0 / track**2 for K in (front_K, whole_K - front_K)]
    front_share = (0.54 * 1280.0 + 140.0) / 1600.0
    axle = {"track": track, "suspension": "independent", "tyre_rate": "rigid", "bar": "none"}
    car = plain_car(
        car={"wheelbase": 2600.0, "total_mass": 1600.0, "front_share": front_share,
             "sprung_cg_height": 365.0 + 0.54 * 70.0 + 0.46 * 320.0},
        front={**axle, "unsprung_mass": 140.0, "unsprung_height": 280.0, "roll_centre_height": 70.0,
               "wheel_rate": rates[0]},
        rear={**axle, "unsprung_mass": 180.0, "unsprung_height": 300.0, "roll_centre_height": 320.0,
              "wheel_rate": rates[1]},
    )  # fmt: skip
    result = analyse_car(car, states=[State("0.6 g", 0.6, 0.0)])
    assert car.roll_arm_mm == pytest.approx(365.0)
    # The rigid tyre of the equations gives 1e-5 of the roll.
    assert result.whole_deg_per_g == pytest.approx(10.9, abs=0.1)
    per_acceleration = np.radians(result.whole_deg_per_g) / GRAVITY
    assert per_acceleration == pytest.approx(0.0194, abs=5e-5)
    roll = np.radians(result.states.roll_deg[0])
    front = front_K * roll / 1.46
    assert front == pytest.approx(1556.0, abs=1.0)
    sprung = 1280.0 * 0.6 * GRAVITY
    parts = [sprung * 0.54 * 0.07 / 1.46, 140.0 * 0.6 * GRAVITY * 0.28 / 1.46]
    assert parts == pytest.approx([195.0, 158.0], abs=0.5)
    assert result.states.transfer_N[0, 0] == pytest.approx(1556.0 + 195.0 + 158.0, abs=1.5)
    assert result.states.transfer_N[0, 1] == pytest.approx(686.0 + 760.0 + 218.0, abs=1.5)


def test_bar_rate_required_of_the_race_car_book():
    """Milliken & Milliken, Race Car Vehicle Dynamics, ch. 16, with tyres in series: 89 350.4 N m/rad.

    K_B = K (K_T t^2/2) / (K_T t^2/2 - K) - K_W t^2/2.
    """
    K, tyre, wheel, track = 76_693.0, 321.330, 35.239, 1200.0
    springs = roll_stiffness_Nm_per_rad(wheel_rate_N_per_mm=wheel, track_mm=track)
    tyres = roll_stiffness_Nm_per_rad(wheel_rate_N_per_mm=tyre, track_mm=track)
    bar = K * tyres / (tyres - K) - springs
    assert bar == pytest.approx(89_350.41, abs=0.01)
    assert in_series(springs + bar, tyres) == pytest.approx(K, rel=1e-12)


def test_the_axle_stiffness_of_a_solved_car_gives_that_example_back():
    """The same car's numbers through `barfem car`: its front axle has the roll stiffness with tyres of the book."""
    rate = 2.0 * 89_350.4125 * 1000.0 / 1200.0**2
    car = plain_car(
        front__track=1200.0, front__spring_rate=None, front__spring_motion_ratio=None, front__wheel_rate=35.239,
        front__tyre_rate=321.330,
        front__bar={"rates": [{"hole": "1", "roll": rate}], "motion_ratio": 1.0, "links": "hang"},
    )  # fmt: skip
    front = analyse_car(car, states=[State("rest", 0.0, 0.0)]).stiffness[0]
    assert front.with_tyres_Nm_per_deg * 180.0 / np.pi == pytest.approx(76_693.0, rel=1e-9)


def test_roll_rate_in_pounds_and_inches():
    """K [ft lb/deg] = K [lb/in] t^2 [in^2] / 1375 (Race Car Vehicle Dynamics ch. 16, as a stored script codes it);
    1375 is 2 x 12 x 57.3 rounded."""
    newton = 198.57 * POUND_FORCE_N / INCH_MM
    K = roll_stiffness_Nm_per_rad(wheel_rate_N_per_mm=newton, track_mm=65.58 * INCH_MM) * np.pi / 180.0
    foot_pounds = K / (POUND_FORCE_N * FOOT_MM / 1000.0)
    assert foot_pounds == pytest.approx(198.57 * 65.58**2 / 1375.0, rel=2e-4)


@pytest.mark.parametrize(
    ("weight_N", "front_share", "wheelbase_m", "front", "rear", "coefficient_rad", "speed_m_per_s"),
    [
        # Wong, Theory of Ground Vehicles, Ex. 5.1 (from memory, verified by its formula)
        (20_105.0, 0.535, 2.8, 38_920.0, 38_250.0, 0.0160, 41.46),
        (20_105.0, 0.535, 2.8, 47_820.0, 38_250.0, -0.00974, 53.10),
        # a stored exercise, inputs found, answers by the same formula: 4520 lb, L 10.5 ft, CG 0.45 L behind the front
        (4520 * 4.44822, 0.55, 10.5 * 0.3048, 8750 * 4.44822, 8600 * 4.44822, 0.02380, 119.2 * 0.3048),
        # and 1008 kg, 1.2 / 1.0 m, axles of 117 / 145 kN/rad
        (1008 * 9.81, 1.0 / 2.2, 2.2, 58_500.0, 72_500.0, 0.06983 * np.pi / 180, 133.1),
    ],
)
def test_understeer_examples(weight_N, front_share, wheelbase_m, front, rear, coefficient_rad, speed_m_per_s):
    """K = W_f / C_f - W_r / C_r of the two tyres each; the speed is (g L / |K|)^0.5. The car's slip at 1 g gives K."""
    mass = weight_N / 9.81
    car = plain_car(
        car={"wheelbase": wheelbase_m * 1000.0, "total_mass": mass, "front_share": front_share, "cg_height": 500.0},
        front__bar="none",
        rear__bar="none",
    )
    level = np.array([[front_share, front_share, 1 - front_share, 1 - front_share]]) * weight_N / 2
    tyres = tuple(Tyre(c1_per_rad=C / load) for C, load in ((front, level[0, 0]), (rear, level[0, 2])))
    object.__setattr__(car, "tyres", tyres)
    slip = slip_rad(car, level, np.array([1.0]))
    K = float(slip[0, 0] - slip[0, 1])
    assert pytest.approx(coefficient_rad, rel=4e-3) == K
    assert np.sqrt(9.81 * wheelbase_m / abs(K)) == pytest.approx(speed_m_per_s, rel=4e-3)
