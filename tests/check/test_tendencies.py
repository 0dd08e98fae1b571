"""What any engineer of bars knows must come out of the whole check, whatever the numbers."""

from __future__ import annotations

import itertools
import math

import pytest

from tests.check.bar_files import BUILT, check

SOFT, STIFF = 0, 2


def all_of(result: dict, *path: str) -> list[float]:
    found = []
    for setting in result["settings"]:
        value = setting
        for key in path:
            value = value[key]
        found.append(value)
    return found


def amplitude(result: dict) -> list[float]:
    return all_of(result, "fatigue", "amplitude_MPa")


def life(result: dict) -> list[float]:
    return [
        math.inf if record["fatigue"]["runout"] else record["fatigue"]["life_cycles"] or 0.0
        for record in result["settings"]
    ]


WORKED = ("travel.pickup", 38.0)  # so far that every hole setting has a life


@pytest.fixture(scope="module")
def built():
    return check(WORKED)


def test_thicker_is_stiffer_and_at_equal_travel_more_stressed(built):
    thick = check(WORKED, ("section.diameter", 22.0))
    for one, two in zip(all_of(built, "rate_N_per_mm"), all_of(thick, "rate_N_per_mm"), strict=True):
        assert 1.30 < two / one < 1.1**4  # the fourth power of the diameter, less what the mounts give
    for one, two in zip(amplitude(built), amplitude(thick), strict=True):
        assert 1.03 < two / one < 1.10
    assert all(two < one for one, two in zip(life(built), life(thick), strict=True))
    assert thick["mass_kg"] / built["mass_kg"] == pytest.approx(1.21, rel=5e-3)


def test_longer_arm_is_softer_and_less_stressed(built):
    longer = check(WORKED, ("centreline.points", [[-330, -550, 0], [0, -550, 0], [0, 550, 0], [-330, 550, 0]]))
    assert all(b < a for a, b in zip(all_of(built, "rate_N_per_mm"), all_of(longer, "rate_N_per_mm"), strict=True))
    assert all(b < a for a, b in zip(amplitude(built), amplitude(longer), strict=True))


def test_hole_nearer_the_bar_is_stiffer_and_more_stressed(built):
    rates, stresses = all_of(built, "rate_N_per_mm"), amplitude(built)
    assert rates == sorted(rates) and stresses == sorted(stresses)
    assert all_of(built, "yield_margin") == sorted(all_of(built, "yield_margin"), reverse=True)


def test_rougher_is_never_longer():
    order = ("corroded", "as-hardened-scaled", "hot-rolled", "machined", "ground", "polished")
    lives = [life(check(("material.surface", name), ("travel.pickup", 45.0))) for name in order]
    for worse, better in itertools.pairwise(lives):
        assert all(b >= w for w, b in zip(worse, better, strict=True))
    assert all(b > 2.0 * w for w, b in zip(lives[1], lives[3], strict=True))


def test_surface_changes_neither_rate_nor_stress(built):
    ground = check(WORKED, ("material.surface", "ground"))
    assert all_of(ground, "rate_N_per_mm") == all_of(built, "rate_N_per_mm")
    assert all_of(ground, "peak", "von_mises_MPa") == all_of(built, "peak", "von_mises_MPa")


def test_no_life_depends_on_the_target(built):
    """The place that decides is the one with the shortest life, not the one nearest to its strength at the target."""
    for target in (20_000, 3_000_000):
        other = check(WORKED, ("duty.target_cycles", target))
        assert life(other) == life(built)
        assert all_of(other, "fatigue", "life_at_survival_cycles") == all_of(
            built, "fatigue", "life_at_survival_cycles"
        )


def test_higher_target_lowers_the_safety_factor(built):
    few, many = (check(WORKED, ("duty.target_cycles", n)) for n in (20_000, 900_000))
    for setting in range(3):
        factors = [all_of(result, "fatigue", "safety_factor_at_target")[setting] for result in (few, built, many)]
        assert factors == sorted(factors, reverse=True) and factors[0] > 1.5 * factors[2]
    goodman = [all_of(result, "fatigue", "goodman_safety_factor") for result in (few, many)]
    assert goodman[0] == pytest.approx(goodman[1], rel=1e-9)


def test_a_higher_target_of_the_yield_margin_fails_what_is_less(built):
    margins = all_of(built, "yield_margin")
    between = 0.5 * (margins[SOFT] + margins[STIFF])
    few = ("duty.target_cycles", 1000)
    passes = all_of(check(WORKED, few, ("targets.yield_margin", between)), "passes")
    assert passes[SOFT] and not passes[STIFF] and all(all_of(check(WORKED, few), "passes"))


def test_more_survival_is_a_shorter_life(built):
    strict = check(WORKED, ("targets.survival", 0.999))
    one, two = (all_of(result, "fatigue", "life_at_survival_cycles") for result in (built, strict))
    assert all(b < 0.8 * a for a, b in zip(one, two, strict=True))
    assert all_of(strict, "fatigue", "life_cycles") == all_of(built, "fatigue", "life_cycles")


@pytest.mark.parametrize(
    "softer",
    [
        (("mounts.0.radial_stiffness", 1000.0), ("mounts.1.radial_stiffness", 1000.0)),
        (("mounts.0.bracket_stiffness", 1500.0), ("mounts.1.bracket_stiffness", 1500.0)),
        (("links.axial_stiffness", 500.0),),
    ],
    ids=["bushings", "brackets", "links"],
)
def test_softer_mounts_or_links_lower_rate_and_stress(built, softer):
    soft = check(WORKED, *softer)
    assert all(b < 0.99 * a for a, b in zip(all_of(built, "rate_N_per_mm"), all_of(soft, "rate_N_per_mm"), strict=True))
    assert all(b < 0.99 * a for a, b in zip(amplitude(built), amplitude(soft), strict=True))


def test_brackets_act_in_series_with_their_bushings():
    # 1/5000 = 1/8000 + 3/40000: the same mount, told in two ways.
    series = check(
        *[(f"mounts.{i}.radial_stiffness", 8000.0) for i in (0, 1)],
        *[(f"mounts.{i}.bracket_stiffness", 40_000.0 / 3.0) for i in (0, 1)],
    )
    assert all_of(series, "rate_N_per_mm") == pytest.approx(all_of(check(), "rate_N_per_mm"), rel=1e-9)


def test_a_bushing_that_winds_up_adds_its_torsion():
    # Energy: a soft spring of c N mm/rad that turns by phi adds c phi^2 / travel^2 to each end's rate, where phi is
    # half of the bar's twist between the mounts.
    c, travel = 20_000.0, 0.1
    free = check(("travel.pickup", travel))
    held = check(("travel.pickup", travel), *[(f"mounts.{i}.torsional_stiffness", c) for i in (0, 1)])
    for one, two in zip(free["settings"], held["settings"], strict=True):
        phi = math.radians(one["twist_deg"]) / 2.0
        added = two["rate_N_per_mm"] - one["rate_N_per_mm"]
        assert added == pytest.approx(c * (phi / travel) ** 2, rel=0.01)


def test_less_travel_less_stress_same_rate(built):
    half, whole = check(("travel.pickup", 12.5)), check(("travel.pickup", 25.0))
    assert all_of(half, "rate_N_per_mm") == pytest.approx(all_of(whole, "rate_N_per_mm"), rel=1e-2)
    peaks = [all_of(result, "peak", "von_mises_MPa") for result in (half, whole)]
    assert [2 * a for a in peaks[0]] == pytest.approx(peaks[1], rel=1e-2)


def test_at_small_travel_the_rate_is_the_initial_rate():
    tiny = check(("travel.pickup", 0.01))
    assert all_of(tiny, "rate_N_per_mm") == pytest.approx(all_of(tiny, "rate_initial_N_per_mm"), rel=1e-5)


def test_a_tube_is_lighter_and_nearly_as_stiff_but_more_stressed():
    solid = check()
    tube = check(("section", {"shape": "tube", "diameter": 20.0, "wall": 4.0}), ("material.bent", "before-hardening"))
    share = 1.0 - (12.0 / 20.0) ** 4  # of the second moment of area
    for one, two in zip(all_of(solid, "rate_N_per_mm"), all_of(tube, "rate_N_per_mm"), strict=True):
        assert two / one == pytest.approx(share, rel=0.02)
    assert tube["mass_kg"] / solid["mass_kg"] == pytest.approx(1.0 - 0.6**2, rel=0.01)


def test_uniform_bend_wall_is_less_stressed_or_equal_outside():
    base = (("section", {"shape": "tube", "diameter": 20.0, "wall": 4.0}), ("material.bent", "before-hardening"))
    thinned = check(*base)
    uniform = check(*base, ("section.bend_wall", "uniform"))
    # An uneven wall makes a bend a little softer, and bends are a small part of the bar.
    rates = zip(all_of(thinned, "rate_N_per_mm"), all_of(uniform, "rate_N_per_mm"), strict=True)
    assert all(0.998 < one / other < 1.0 for one, other in rates)
    bends = [
        max(place["von_mises_MPa"] for place in result["settings"][STIFF]["places"] if place["kind"] == "bend")
        for result in (thinned, uniform)
    ]
    assert bends[0] != bends[1]


def test_cold_bending_shortens_life_and_stress_relief_gives_it_back():
    # Bent after hardening: tension is left at the inside of the bends, which decide here: the mounts stand near them.
    base = (("section.diameter", 24.0), ("mounts.0.from_middle", -430.0), ("mounts.1.from_middle", 430.0))
    hot = check(*base)
    cold = check(*base, ("material.bent", "after-hardening"))
    relieved = check(*base, ("material.bent", "after-hardening"), ("material.stress_relieved", True))
    assert all("bend" in setting["fatigue"]["where"] for setting in cold["settings"])
    assert all(b < 0.8 * a for a, b in zip(life(hot), life(cold), strict=True))
    assert life(relieved) == pytest.approx(life(hot), rel=1e-9)


def test_one_wheel_is_about_half_the_rate():
    result = check(("travel.one_wheel", 25.0))
    roll = [setting for setting in result["settings"] if setting["case"] == "roll"]
    one = [setting for setting in result["settings"] if setting["case"] == "one-wheel"]
    for a, b in zip(roll, one, strict=True):
        assert b["rate_N_per_mm"] == pytest.approx(0.5 * a["rate_N_per_mm"], rel=0.02)
        assert b["peak"]["von_mises_MPa"] < 0.6 * a["peak"]["von_mises_MPa"]


def test_the_bar_of_these_tests_has_three_holes():
    assert len(BUILT["ends"]["holes"]) == STIFF + 1 and SOFT == 0
