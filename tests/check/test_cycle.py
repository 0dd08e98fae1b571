"""The ends of the cycle, the load cases and preload, as the contract says they are."""

from __future__ import annotations

import pytest

from tests.check.bar_files import BUILT, check


def test_a_symmetric_bar_in_roll_exchanges_its_sides():
    for setting in check(("travel", {"up": 22.0, "down": 28.0, "direction": [0, 0, 1]}))["settings"]:
        _, travel, other = setting["states"]
        assert other["link_force_left_N"] == pytest.approx(travel["link_force_right_N"], rel=1e-9)
        assert other["link_force_right_N"] == pytest.approx(travel["link_force_left_N"], rel=1e-9)
        first, last = setting["mount_reactions"]
        assert first["radial_N"] == pytest.approx(last["radial_N"], rel=1e-9)
        assert {first["radial_at"], last["radial_at"]} == {"travel", "other end"}


def test_the_cycle_is_said_in_words():
    travel = ("travel", {"up": 22.0, "down": 28.0, "one_wheel": 20.0, "direction": [0, 0, 1]})
    words = check(travel)["cases"]
    assert "up 22 mm" in words["roll"] and "down 28 mm" in words["roll"] and "exchanged" in words["roll"]
    assert "up 20 mm" in words["one-wheel"] and words["one-wheel"].endswith("as far down")
    from_rest = check(travel, ("duty.ratio", 0.0))["cases"]["roll"]
    assert from_rest.endswith("the other end of the cycle is rest; rates are 1 % above those of equal travels")


def test_left_up_presses_the_left_link_from_below():
    for setting in check()["settings"]:
        assert setting["link_force_left_N"] < 0.0 < setting["link_force_right_N"]
        assert setting["states"][0]["link_force_left_N"] == pytest.approx(0.0, abs=1e-6)


def test_from_rest_the_mean_is_the_amplitude():
    # Tensors: half the difference and the average of (0, S) are both S / 2.
    for setting in check(("duty.ratio", 0.0))["settings"]:
        fatigue = setting["fatigue"]
        assert fatigue["mean_MPa"] == pytest.approx(fatigue["amplitude_MPa"], rel=1e-6)
        assert setting["states"][2]["link_force_left_N"] == pytest.approx(0.0, abs=1e-6)


def test_a_smaller_range_is_less_amplitude_and_more_mean():
    reversed_, half = check(), check(("duty.ratio", -0.5))
    for one, two in zip(reversed_["settings"], half["settings"], strict=True):
        assert two["fatigue"]["amplitude_MPa"] == pytest.approx(0.75 * one["fatigue"]["amplitude_MPa"], rel=0.03)
        assert two["fatigue"]["mean_MPa"] == pytest.approx(0.25 * one["fatigue"]["amplitude_MPa"], rel=0.08)
        assert two["peak"]["von_mises_MPa"] == pytest.approx(one["peak"]["von_mises_MPa"], rel=1e-9)
        assert two["rate_N_per_mm"] == pytest.approx(one["rate_N_per_mm"], rel=1e-9)


def test_ratio_minus_one_reaches_as_far_the_other_way():
    (one_wheel, *_) = check(("travel.one_wheel", 20.0), case="one-wheel")["settings"]
    _, travel, other = one_wheel["states"]
    assert other["link_force_left_N"] == pytest.approx(-travel["link_force_left_N"], rel=0.05)
    assert one_wheel["rate_N_per_mm"] == pytest.approx(abs(travel["link_force_left_N"]) / 20.0, rel=5e-3)


def test_one_wheel_loads_the_other_end_as_much_the_other_way():
    # Moments about the bar's axis balance over equal arms: both links pull as much, at small travel exactly.
    (setting, *_) = check(("travel.one_wheel", 0.01), case="one-wheel")["settings"]
    assert setting["link_force_right_N"] == pytest.approx(-setting["link_force_left_N"], rel=1e-3)


def test_one_wheel_travel_defaults_to_up_and_is_judged_only_when_given():
    assert {setting["case"] for setting in check()["settings"]} == {"roll"}
    default = check(("travel", {"up": 20.0, "down": 25.0, "direction": [0, 0, 1]}), case="one-wheel")["settings"]
    given = check(("travel.one_wheel", 20.0), case="one-wheel")["settings"]
    assert [s["rate_N_per_mm"] for s in default] == pytest.approx([s["rate_N_per_mm"] for s in given], rel=1e-9)


def test_one_link_too_long_preloads_by_half_its_error_at_each_end():
    # The left link 2 mm too long twists the bar as 1 mm of roll at each end does: F = rate x 1 mm, left pressed, right
    # pulled; the rate itself changes only by what the geometry does.
    plain, preloaded = check(), check(("links.left", {"length_error": 2.0}))
    for one, two in zip(plain["settings"], preloaded["settings"], strict=True):
        rest = two["states"][0]
        expected = one["rate_initial_N_per_mm"] * 1.0
        assert rest["link_force_left_N"] == pytest.approx(-expected, rel=0.02)
        assert rest["link_force_right_N"] == pytest.approx(expected, rel=0.02)
        assert two["rate_N_per_mm"] == pytest.approx(one["rate_N_per_mm"], rel=0.01)
        # The preload is a mean: 1 mm of the 25 mm that make the amplitude.
        shift = one["fatigue"]["amplitude_MPa"] / 25.0
        assert two["fatigue"]["mean_MPa"] == pytest.approx(shift, rel=0.01)
        assert two["fatigue"]["mean_MPa"] > one["fatigue"]["mean_MPa"]
        assert two["fatigue"]["amplitude_MPa"] == pytest.approx(one["fatigue"]["amplitude_MPa"], rel=0.01)
        assert two["peak"]["von_mises_MPa"] > one["peak"]["von_mises_MPa"]
        assert two["twist_deg"] == pytest.approx(
            one["twist_deg"], rel=0.01
        )  # from rest, where the preload is in already


def test_both_links_too_long_turn_the_bar_and_load_nothing():
    for setting in check(("links.length_error", 2.0))["settings"]:
        assert setting["states"][0]["link_force_left_N"] == pytest.approx(0.0, abs=1e-6)


def test_too_short_is_the_opposite_of_too_long():
    long, short = (check(("links.left", {"length_error": e}))["settings"][1]["states"][0] for e in (0.5, -0.5))
    assert short["link_force_left_N"] == pytest.approx(-long["link_force_left_N"], rel=0.01)


def test_unequal_ends_take_their_own_hole():
    # Left arm 30 mm shorter at the hole of the same name: a rate between those of the two symmetric bars.
    own = {"holes": [{"name": "1", "from_tip": 50.0, "diameter": 8.0}]}
    (unequal,) = check(("ends", {"holes": [{"name": "1", "from_tip": 20.0, "diameter": 8.0}], "left": own}))["settings"]
    (soft,) = check(("ends.holes", BUILT["ends"]["holes"][:1]))["settings"]
    (stiff,) = check(("ends.holes", own["holes"]))["settings"]
    rates = [setting["rate_N_per_mm"] for setting in (soft, unequal, stiff)]
    assert rates == sorted(rates) and rates[0] * 1.02 < rates[1] < rates[2] * 0.98
    # Moments about the bar's axis balance at small angles: the longer arm carries less.
    assert abs(unequal["link_force_left_N"]) > abs(unequal["link_force_right_N"])
    ratio = abs(unequal["link_force_right_N"] / unequal["link_force_left_N"])
    assert ratio == pytest.approx(220.0 / 250.0, rel=0.02)


def pairs(left: str, right: str, *, mixed: bool = False) -> tuple[list[tuple[str, str]], list[str]]:
    """Hole settings and warnings of a bar whose holes, in order from the tips, bear one letter each."""
    ends = {
        side: {"holes": [{"name": name, "from_tip": 20.0 + 25.0 * i, "diameter": 8.0} for i, name in enumerate(names)]}
        for side, names in (("left", left), ("right", right))
    }
    result = check(("ends", ends), mixed=mixed)
    return [(setting["left"], setting["right"]) for setting in result["settings"]], result["warnings"]


def test_holes_are_paired_by_name():
    assert pairs("123", "123")[0] == [("1", "1"), ("2", "2"), ("3", "3")]
    assert pairs("321", "123")[0] == [("3", "3"), ("2", "2"), ("1", "1")]


def test_a_hole_without_a_partner_is_never_left_out_in_silence():
    found, warnings = pairs("12", "123")
    assert found == [("1", "1"), ("2", "2")]
    assert any('Hole "3" of the right end' in text for text in warnings)
    assert len(pairs("12", "123", mixed=True)[0]) == 6


def test_holes_that_share_no_name_are_paired_in_order_and_it_is_said():
    found, warnings = pairs("ab", "12")
    assert found == [("a", "1"), ("b", "2")]
    assert any("same name" in text for text in warnings)


def test_fixed_pickups_straight_below_are_hanging_links():
    one_hole = ("ends.holes", BUILT["ends"]["holes"][:1])
    hanging = check(one_hole)
    fixed = check(one_hole, ("links", {"pickup": [-250.0, 550.0, -150.0]}))
    for key in ("rate_N_per_mm", "rate_initial_N_per_mm", "link_force_left_N", "yield_margin"):
        assert fixed["settings"][0][key] == pytest.approx(hanging["settings"][0][key], rel=1e-9)


def test_links_above_the_bar_work_it_the_other_way():
    below, above = check(), check(("links.direction", [0, 0, 1]))
    for one, two in zip(below["settings"], above["settings"], strict=True):
        assert two["link_force_left_N"] == pytest.approx(-one["link_force_left_N"], rel=0.03)
        assert two["rate_initial_N_per_mm"] == pytest.approx(one["rate_initial_N_per_mm"], rel=1e-6)
