"""A plain bar, calculated by hand from the textbooks beside what the check says of it.

The hand calculation shares nothing with barfem: unit-load quadrature along straights and true arcs (Castigliano),
stress of a round section, and the lives of `tests.fatigue.life_by_hand`.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.endurance import safety_factors
from barfem.check.ranking import rank_regions
from barfem.model.read import bar_from_dict
from tests.check.bar_files import BUILT, PLAIN, check
from tests.fatigue.life_by_hand import Place, share
from tests.model.bar_data import changed
from tests.often import often

E, NU, D = 206_000.0, 0.3, 20.0
G = E / (2.0 * (1.0 + NU))
INERTIA, POLAR, AREA = math.pi * D**4 / 64.0, math.pi * D**4 / 32.0, math.pi * D**2 / 4.0
SHEAR_COEFFICIENT = 6.0 * (1.0 + NU) / (7.0 + 6.0 * NU)  # Cowper, J. Appl. Mech. 33 (1966) 335, round section
MOUNT_Y, HALF_WIDTH, ARM, RADIUS, FROM_TIP = 300.0, 550.0, 270.0, 50.0, 20.0
LEVER = ARM - FROM_TIP


def deflection_mm_per_N(*, radius_mm: float, shear: bool = True, shear_modulus_MPa: float = G) -> float:
    """Deflection of each hole under opposite unit forces, by the energy of one half of the bar."""
    gauss, weights = np.polynomial.legendre.leggauss(24)
    corner = np.array([0.0, HALF_WIDTH])
    load_point = np.array([-LEVER, HALF_WIDTH])
    reaction = HALF_WIDTH / MOUNT_Y
    centre = corner - radius_mm
    begin, end = load_point, np.array([-radius_mm, HALF_WIDTH])

    pieces = []  # length, points (n, 2), tangents (n, 2), shear force
    u = 0.5 * (gauss + 1.0)[:, None]
    pieces.append((LEVER - radius_mm, begin + u * (end - begin), np.tile([1.0, 0.0], (24, 1)), 1.0))
    phi = 0.5 * math.pi * (1.0 - u[:, 0])
    arc = centre + radius_mm * np.stack([np.cos(phi), np.sin(phi)], axis=1)
    pieces.append((0.5 * math.pi * radius_mm, arc, np.stack([np.sin(phi), -np.cos(phi)], axis=1), 1.0))
    for top, bottom, force in ((HALF_WIDTH - radius_mm, MOUNT_Y, 1.0), (MOUNT_Y, 0.0, 1.0 - reaction)):
        along = np.array([0.0, top]) + u * np.array([0.0, bottom - top])
        pieces.append((top - bottom, along, np.tile([0.0, -1.0], (24, 1)), force))

    energy = 0.0
    for length, points, tangents, force in pieces:
        moment = 1.0 * _about(load_point - points)
        if force != 1.0:  # inboard of the mount its reaction acts as well
            moment = moment - reaction * _about(np.array([0.0, MOUNT_Y]) - points)
        torque = np.sum(moment * tangents, axis=1)
        bending2 = np.sum(moment**2, axis=1) - torque**2
        density = bending2 / (2 * E * INERTIA) + torque**2 / (2 * shear_modulus_MPa * POLAR)
        if shear:
            density = density + force**2 / (2 * SHEAR_COEFFICIENT * shear_modulus_MPa * AREA)
        energy += 0.5 * length * float(weights @ density)
    return 2.0 * energy


def _about(arm: np.ndarray) -> np.ndarray:
    """Moment (n, 2) about x and y of a unit force along z at `arm` (n, 2)."""
    return np.stack([arm[:, 1], -arm[:, 0]], axis=1)


@pytest.fixture(scope="module")
def plain():
    return check(base=PLAIN)


def test_the_hand_calculation_meets_the_handbook_at_sharp_corners():
    # SAE AE-21 spring design manual, stabiliser bar (form from memory), with 3EI/GJ in place of its 4.
    a, b, c = 0.0, HALF_WIDTH - MOUNT_Y, MOUNT_Y
    length = 2.0 * (a + b + c)
    terms = LEVER**3 - a**3 + length / 2.0 * (a + b) ** 2 + 3 * E * INERTIA / (G * POLAR) * LEVER**2 * (b + c)
    assert deflection_mm_per_N(radius_mm=1e-9, shear=False) == pytest.approx(terms / (3 * E * INERTIA), rel=1e-9)
    # Rounded corners of 40 mm, G 79,300 MPa, no shear: 37.061508 mm per kN, computed for this bar by another program.
    rounded = deflection_mm_per_N(radius_mm=40.0, shear=False, shear_modulus_MPa=79_300.0)
    assert rounded == pytest.approx(37.061508e-3, rel=1e-7)


def test_rate_is_that_of_the_hand_calculation(plain):
    (setting,) = plain["settings"]
    expected = 1.0 / deflection_mm_per_N(radius_mm=RADIUS)
    # 2e-5: the mounts alone, of 1e7 N/mm, give 33 x 1.83^2 / 1e7 = 1.1e-5 of it.
    assert setting["rate_initial_N_per_mm"] == pytest.approx(expected, rel=2e-5)
    assert setting["rate_N_per_mm"] == pytest.approx(expected, rel=2e-5)
    # Rounding the corners shortens the bar: 2 to 4 % stiffer than sharp ones.
    assert 1.01 < setting["rate_N_per_mm"] * deflection_mm_per_N(radius_mm=1e-9) < 1.06


def test_link_force_is_rate_times_travel(plain):
    (setting,) = plain["settings"]
    for side, sign in (("left", -1.0), ("right", 1.0)):
        # The left pickup moves up from below the bar: its link is pressed.
        assert setting[f"link_force_{side}_N"] == pytest.approx(sign * setting["rate_N_per_mm"] * 0.01, rel=1e-4)


def test_stress_at_the_mount_is_that_of_the_hand_calculation(plain):
    (setting,) = plain["settings"]
    force = setting["rate_N_per_mm"] * 0.01
    bending = force * (HALF_WIDTH - MOUNT_Y) * 32.0 / (math.pi * D**3)
    shear = force * LEVER * 16.0 / (math.pi * D**3)
    expected = math.hypot(bending, math.sqrt(3.0) * shear)
    edges = [place for place in setting["places"] if place["kind"] == "mount edge"]
    assert len(edges) == 4
    for edge in edges:
        assert edge["von_mises_MPa"] == pytest.approx(expected, rel=5e-4)  # a point mount, a thousandth of a mm away
    middle = [place for place in setting["places"] if place["kind"] == "straight"]
    assert max(place["von_mises_MPa"] for place in middle) <= expected * 1.0005


def test_bend_is_more_stressed_than_the_straight_beside_it(plain):
    (setting,) = plain["settings"]
    force = setting["rate_N_per_mm"] * 0.01
    # At the mount-side tangent: bending P (radius) from the lateral offset, torsion P lever, torsion factor
    # (4C - 1) / (4C - 4) of Wahl, Mechanical Springs, with C = 2 R / d = 5 for the inside.
    c = 2.0 * RADIUS / D
    torsion = force * LEVER * 16.0 / (math.pi * D**3)
    bend = max(place["von_mises_MPa"] for place in setting["places"] if place["kind"] == "bend")
    assert bend > math.sqrt(3.0) * torsion
    assert bend < math.sqrt(3.0) * torsion * (4 * c - 1) / (4 * c - 4) * 1.1


def test_twist_torque_and_reactions_by_hand(plain):
    (setting,) = plain["settings"]
    force = setting["rate_N_per_mm"] * 0.01
    torque = force * LEVER
    assert setting["torque_Nm"] == pytest.approx(torque / 1000.0, rel=1e-4)
    twist = torque * 2.0 * MOUNT_Y / (G * POLAR)
    assert setting["twist_deg"] == pytest.approx(math.degrees(twist), rel=1e-4)
    for reaction in setting["mount_reactions"]:
        assert reaction["radial_N"] == pytest.approx(force * HALF_WIDTH / MOUNT_Y, rel=1e-4)
    assert setting["strain_energy_J"] == pytest.approx(2 * 0.5 * force * 0.01 / 1000.0, rel=1e-3)


def test_mass_and_developed_length_by_hand(plain):
    length = 2 * ARM + 2 * HALF_WIDTH - (4.0 - math.pi) * RADIUS
    assert plain["developed_length_mm"] == pytest.approx(length, rel=1e-12)
    holes = 2 * 2 * sum_over_chords(radius=10.0, hole=4.0)
    assert plain["mass_kg"] == pytest.approx((AREA * length - holes) * 7850e-9, rel=1e-6)


def sum_over_chords(*, radius: float, hole: float) -> float:
    """Half the metal of a round bar that a hole of radius `hole` through its axis takes out (midpoint sum)."""
    y = (np.arange(20_000) + 0.5) / 20_000 * 2 * hole - hole
    return float(np.sum(2 * np.sqrt(radius**2 - y**2) * np.sqrt(hole**2 - y**2)) * (y[1] - y[0]))


def test_roll_and_wheel_rate_by_their_formulas():
    result = check(("travel", {"wheel": 40.0, "motion_ratio": 0.6, "direction": [0, 0, 1]}))
    for setting in result["settings"]:
        rate = setting["rate_N_per_mm"]
        assert setting["wheel_rate_N_per_mm"] == pytest.approx(rate * 0.6**2, rel=1e-12)
        # Couple of the end forces over the angle of the line between the joints: k L^2 / 2, L between the joints.
        per_rad = rate * (2 * HALF_WIDTH) ** 2 / 2.0
        assert setting["roll_rate_Nm_per_deg"] == pytest.approx(per_rad / 1000.0 * math.pi / 180.0, rel=1e-9)


def test_no_motion_ratio_no_wheel_rate():
    assert all(setting["wheel_rate_N_per_mm"] is None for setting in check()["settings"])


# --- fatigue by hand, from the amplitude and mean that the check gives ---

WITH_A_MEAN = (("duty.ratio", -0.4),)


def factors_of_the_places(*changes: tuple[str, Any]) -> list[float]:
    """The safety factor of the very point that has the shortest life, for each hole setting."""
    bar = bar_from_dict(changed(*changes, base=BUILT))
    recovery = check_bar(bar).states.recovery
    first = rank_regions(bar, recovery).order[:, 0]
    found: list[float] = safety_factors(bar, recovery.cycle_at((np.arange(len(first)), first))).tolist()
    return found


@pytest.mark.parametrize("surface", often(["as-hardened-scaled", "machined", "ground", "polished"], 2))
@pytest.mark.parametrize("changes", [(), WITH_A_MEAN], ids=["reversed", "with a mean"])
def test_safety_factors_and_life_by_hand(surface, changes):
    """At the place that the check names: lines, sites, mean and scatter of `tests.fatigue.life_by_hand`."""
    travel = 62.0 if changes else 45.0
    given = (*changes, ("travel.pickup", travel), ("material.surface", surface), ("duty.target_cycles", 50_000))
    result, seen = check(*given), 0
    for setting, own in zip(result["settings"], factors_of_the_places(*given), strict=True):
        fatigue = setting["fatigue"]
        amplitude, mean = fatigue["amplitude_MPa"], fatigue["mean_MPa"]
        assert 0.37 * D <= fatigue["factors"]["effective_diameter_mm"] <= D
        place = Place(1350.0, surface, D, fatigue["factors"]["effective_diameter_mm"])
        limit = min(place.sound, place.flaw)
        assert fatigue["endurance_limit_MPa"] == pytest.approx(limit, rel=1e-9)
        assert fatigue["goodman_safety_factor"] == pytest.approx(1.0 / (amplitude / limit + mean / 1350.0), rel=1e-9)
        median, survival = place.life(amplitude, mean), place.life(amplitude, mean, strength=share(0.90))
        for key, life in (("life_cycles", median), ("life_at_survival_cycles", survival)):
            if life <= 1e7:
                seen += 1
                assert fatigue[key] == pytest.approx(life, rel=1e-6)
            else:
                assert fatigue[key] is None and fatigue["runout"]
        # The load that lasts just the target: amplitude and mean grow together.
        assert place.life(own * amplitude, own * mean) == pytest.approx(50_000, rel=1e-6)
        # What is stated is the bar's: another point may break a hair earlier (`test_least_factor` asks all of them).
        assert 0.9999 * own < fatigue["safety_factor_at_target"] <= own * (1.0 + 1e-9)
        assert setting["passes"] == (setting["yield_margin"] >= 0.25 and survival >= 50_000)
    assert seen > 0


def test_yield_margin_is_strength_over_the_worst_stress():
    for setting in check()["settings"]:
        worst = max(place["von_mises_MPa"] for place in setting["places"])
        assert setting["yield_margin"] == pytest.approx(1200.0 / worst - 1.0, rel=1e-12)


def test_a_softer_end_yields_earlier_by_its_scale():
    # The arms are round to the tip: the scale holds to the first bend.
    whole, soft = check(), check(("ends.strength_scale", 0.5))
    for one, two in zip(whole["settings"], soft["settings"], strict=True):
        assert two["rate_N_per_mm"] == one["rate_N_per_mm"]
        stressed = [place for place in two["places"] if place["von_mises_MPa"] > 1e-3]
        worst = min(1200.0 * scale(place) / place["von_mises_MPa"] - 1.0 for place in stressed)
        for place in stressed:
            own = place["yield_strength_MPa"] / place["von_mises_MPa"] - 1.0
            assert place["yield_strength_MPa"] == 1200.0 * scale(place)
            assert place["yield_margin"] == pytest.approx(own, rel=1e-9)
        assert two["yield_margin"] == pytest.approx(worst, rel=1e-9)
        assert two["yield_margin"] < one["yield_margin"]


def scale(place: dict) -> float:
    """0.5 on the arms' straights, holes included; 1 in the bends and between them."""
    return 0.5 if "arm, straight" in place["where"] or place["kind"] == "hole" else 1.0


def test_the_bar_of_the_hand_calculation_is_the_bar_that_is_checked():
    assert PLAIN["centreline"]["points"][0] == [-ARM, -HALF_WIDTH, 0] and PLAIN["section"]["diameter"] == D
    assert changed(base=BUILT)["centreline"] == PLAIN["centreline"]
