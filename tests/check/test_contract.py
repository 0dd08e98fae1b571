"""The JSON of a real check holds what the contract promises, and its numbers agree with each other."""

from __future__ import annotations

import math

import pytest

from tests.check.bar_files import check, numbers

TOP = {
    "format", "barfem", "name", "model", "mass_kg", "developed_length_mm", "settings", "assumptions", "warnings",
    "passes",
}  # fmt: skip
SETTING = {
    "left", "right", "case", "rate_N_per_mm", "rate_initial_N_per_mm", "link_force_left_N", "link_force_right_N",
    "peak", "places", "yield_margin", "fatigue", "passes", "why",
}  # fmt: skip
PEAK = {"von_mises_MPa", "station_mm", "from_middle_mm", "where", "surface", "at"}
PLACE = {"kind", "index", "where", "von_mises_MPa", "station_mm", "surface"}
FATIGUE = {
    "station_mm", "where", "surface", "amplitude_MPa", "mean_MPa", "goodman_safety_factor", "safety_factor_at_target",
    "life_cycles", "life_at_survival_cycles", "runout",
}  # fmt: skip
KINDS = {"straight", "bend", "transition", "flat", "hole", "mount edge"}

FLAT = {"kind": "forged", "thickness": 12.0, "width": 34.0, "length": 110.0, "transition": 25.0, "normal": [0, 1, 0]}
TUBE = (("section", {"shape": "tube", "diameter": 24.0, "wall": 4.0}), ("material.bent", "before-hardening"))
BARS = {
    "solid": (),
    "with flats": (("ends.flat", FLAT),),
    "tube": TUBE,
    "both cases": (("travel.one_wheel", 30.0),),
    "preloaded": (("links.left", {"length_error": 3.0}),),
    "from rest": (("duty.ratio", 0.0),),
    "six bends": (
        ("centreline.points", [[-270, -550, 0], [0, -550, 0], [0, -250, 0], [60, -150, 40],
                               [60, 150, 40], [0, 250, 0], [0, 550, 0], [-270, 550, 0]]),
        ("centreline.bend_radius", 45.0),
    ),
}  # fmt: skip


@pytest.fixture(scope="module", params=BARS)
def result(request):
    return check(*BARS[request.param], mixed=request.param == "solid")


def test_every_key_is_there(result):
    assert set(result) >= TOP and result["format"] == 1 and result["model"] == "beam"
    for setting in result["settings"]:
        assert set(setting) >= SETTING
        assert set(setting["peak"]) >= PEAK and set(setting["fatigue"]) >= FATIGUE
        assert all(set(place) >= PLACE for place in setting["places"])
        assert {place["kind"] for place in setting["places"]} <= KINDS
        assert setting["case"] in ("roll", "one-wheel") and setting["why"]


def test_numbers_are_finite_and_no_sentinels(result):
    found = dict(numbers(result))
    assert len(found) > 200
    assert all(math.isfinite(value) for value in found.values())
    stresses = [value for path, value in found.items() if path.endswith("_MPa")]
    assert max(stresses) < 1e6


def test_the_peak_is_the_worst_of_the_places(result):
    length = result["developed_length_mm"]
    for setting in result["settings"]:
        peak = setting["peak"]
        worst = max(place["von_mises_MPa"] for place in setting["places"])
        assert peak["von_mises_MPa"] == pytest.approx(worst, rel=1e-8) and peak["von_mises_MPa"] > 0.0
        assert any(
            place["station_mm"] == peak["station_mm"] and place["where"] == peak["where"] for place in setting["places"]
        )
        assert 0.0 <= peak["station_mm"] <= length
        assert peak["from_middle_mm"] == pytest.approx(peak["station_mm"] - length / 2.0, abs=1e-6)
        assert ("right arm" in peak["where"]) <= (peak["from_middle_mm"] < 0.0)
        assert ("left arm" in peak["where"]) <= (peak["from_middle_mm"] > 0.0)


def test_margin_and_passes_follow_from_the_numbers(result):
    for setting in result["settings"]:
        margins = [place["yield_margin"] for place in setting["places"] if place["yield_margin"] is not None]
        assert setting["yield_margin"] == pytest.approx(min(margins), rel=1e-9)
        life = setting["fatigue"]["life_at_survival_cycles"]
        long_enough = setting["fatigue"]["runout"] if life is None else life >= result["target_cycles"]
        assert setting["passes"] == (setting["yield_margin"] >= result["yield_margin_target"] and long_enough)
    assert result["passes"] == all(setting["passes"] for setting in result["settings"])


def test_rate_is_force_over_travel(result):
    # A link within a degree or two of its travel: the force along the travel is the link's, but for the lean.
    for setting in result["settings"]:
        if setting["case"] != "roll":
            continue
        rest, travel = setting["states"][0], setting["states"][1]
        left = abs(travel["link_force_left_N"] - rest["link_force_left_N"])
        right = abs(travel["link_force_right_N"] - rest["link_force_right_N"])
        assert setting["rate_N_per_mm"] == pytest.approx(0.5 * (left + right) / 25.0, rel=2e-3)
        assert travel["link_force_left_N"] == setting["link_force_left_N"]
        assert travel["link_force_right_N"] == setting["link_force_right_N"]


def test_step_is_to_the_next_stiffer_hole_of_the_case(result):
    for case in {setting["case"] for setting in result["settings"]}:
        mine = [setting for setting in result["settings"] if setting["case"] == case]
        rates = sorted(setting["rate_N_per_mm"] for setting in mine)
        for setting in mine:
            above = [rate for rate in rates if rate > setting["rate_N_per_mm"] * 1.0001]
            if above:
                expected = 100.0 * (above[0] / setting["rate_N_per_mm"] - 1.0)
                assert setting["step_to_next_percent"] == pytest.approx(expected, rel=1e-9)
            else:
                assert setting["step_to_next_percent"] is None


def test_compliance_adds_to_one(result):
    for setting in result["settings"]:
        assert sum(setting["compliance"].values()) == pytest.approx(1.0, abs=1e-9)
        assert min(setting["compliance"].values()) >= 0.0


def test_the_next_better_and_worse_surface_bracket_the_life(result):
    def reached(record: dict) -> float:
        return math.inf if record["runout"] else record["life_cycles"] or 0.0

    for setting in result["settings"]:
        fatigue = setting["fatigue"]
        if fatigue["better_surface"]:
            assert reached(fatigue["better_surface"]) >= reached(fatigue)
        if fatigue["worse_surface"]:
            assert reached(fatigue["worse_surface"]) <= reached(fatigue)


def test_governing_settings_are_among_the_settings(result):
    keys = [(s["left"], s["right"], s["case"]) for s in result["settings"]]
    by_margin = min(result["settings"], key=lambda s: s["yield_margin"])
    stress = result["governing"]["stress"]
    assert (stress["left"], stress["right"], stress["case"]) in keys
    chosen = next(s for s in result["settings"] if (s["left"], s["right"], s["case"]) == tuple(stress.values()))
    assert chosen["yield_margin"] == by_margin["yield_margin"]


def test_mixed_adds_every_unequal_pair():
    plain, mixed = check(), check(mixed=True)
    pairs = [(setting["left"], setting["right"]) for setting in mixed["settings"]]
    assert len(plain["settings"]) == 3 and len(pairs) == len(set(pairs)) == 9
    both = check(("travel.one_wheel", 30.0), mixed=True)
    assert len(both["settings"]) == 18
    equal = {s["left"]: s for s in mixed["settings"] if s["left"] == s["right"]}
    for setting in plain["settings"]:
        assert setting["rate_N_per_mm"] == pytest.approx(equal[setting["left"]]["rate_N_per_mm"], rel=1e-9)
    # An unequal pair lies between its two equal ones.
    for setting in mixed["settings"]:
        ends = sorted(equal[setting[side]]["rate_N_per_mm"] for side in ("left", "right"))
        assert ends[0] * 0.999 <= setting["rate_N_per_mm"] <= ends[1] * 1.001


def test_a_hole_without_diameter_is_said_not_to_be_checked():
    result = check(("ends.holes.1", {"name": "2", "from_tip": 45.0}))
    for setting in result["settings"]:
        assert len(setting["not_checked"]) == 2 and all('"2"' in text for text in setting["not_checked"])
        assert sum("not checked" in text for text in setting["why"]) == 2
        assert sum(place["kind"] == "hole" for place in setting["places"]) == 4
    assert sum(text.startswith("NOT CHECKED") for text in result["warnings"]) == 2
    assert not any("not_checked" in setting and setting["not_checked"] for setting in check()["settings"])


def test_defaults_are_told():
    wording = " ".join(check()["assumptions"])
    for words in ("200 000", "0.25", "90", "unpeened", "rigid", "ratio", "turns freely", "206000", "von Mises"):
        assert words in wording, words
