"""The duty's blocks in the whole check."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.duty_life import damage_along, solve_blocks
from barfem.check.solved import solve_states
from barfem.model.errors import InputError
from barfem.show.numbers import spaced
from barfem.show.table import targets_and_factors
from tests.check.bar_files import check
from tests.check.duty_bars import TRAVEL, bar, fatigues, plain_result, result


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    return plain_result()


class TestBlocks:
    def test_one_block_of_full_travel_is_its_life_over_its_cycles(self, plain):
        cycles = 500.0
        found = result(("duty", {"blocks": [{"pickup": TRAVEL, "cycles": cycles}]}), ("targets", {"critical_sum": 1.0}))
        for alone, block in zip(fatigues(plain), fatigues(found), strict=True):
            # Blocks are ranked by damage at every point, a cycle by its safety factor at the target in every region:
            # the place may differ by a hair, and then the blocks' is the worse one.
            for ours, theirs in (
                (block["life_at_survival_repeats"], alone["life_at_survival_cycles"] / cycles),
                (block["life_repeats"], alone["life_cycles"] / cycles),
                (1.0 / block["damage_per_repeat"], alone["life_at_survival_cycles"] / cycles),
            ):
                assert 0.99 * theirs < ours <= theirs * (1.0 + 1e-6)

    def test_the_critical_sum_scales_the_life_and_is_said(self):
        lives = {}
        for total in (0.5, 1.0):
            duty = {"blocks": [{"pickup": TRAVEL, "cycles": 500.0}]}
            lives[total] = result(("duty", duty), ("targets", {"critical_sum": total}))
        half, whole = (fatigues(lives[total]) for total in (0.5, 1.0))
        assert [2.0 * a["life_repeats"] for a in half] == pytest.approx([b["life_repeats"] for b in whole])
        default = result(("duty", {"blocks": [{"pickup": TRAVEL, "cycles": 500.0}]}))
        assert fatigues(default) == fatigues(lives[0.5])
        assert any("Sonsino" in text for text in default["assumptions"])
        assert not any("not judged" in text for text in default["warnings"])

    def test_bars_at_survival_may_fail_where_the_median_runs_out(self):
        found = result(("duty", {"blocks": [{"pickup": 30.0, "cycles": 100.0}]}))
        said = [setting["duty"] for setting in fatigues(found)]
        assert [(duty["runout"], duty["runout_at_survival"]) for duty in said] == [(True, False)] + [(False, False)] * 2
        for duty in said:
            assert (duty["life_repeats"] is None, duty["life_at_survival_repeats"] is None) == (duty["runout"], False)

    def test_damage_adds_up_over_blocks(self):
        big, small = {"pickup": TRAVEL, "cycles": 300.0}, {"pickup": 35.0, "cycles": 4000.0}
        damage = {}
        for name, blocks in (("both", [big, small]), ("big", [big]), ("small", [small])):
            solved = solve_states(bar(("duty", {"blocks": blocks})), cases=("roll",))
            damage[name] = solve_blocks(solved, 0).damage.damage.sum(axis=1)
        # Where the small block alone lies above the endurance limit (else it does harm only beside the big one).
        alone = damage["small"] > 0.0
        assert alone.any()
        np.testing.assert_allclose(damage["both"][alone], (damage["big"] + damage["small"])[alone], rtol=1e-6)
        duty = fatigues(result(("duty", {"blocks": [big, small]})))[0]["duty"]
        assert sum(block["damage"] for block in duty["blocks"]) == pytest.approx(duty["damage_per_repeat"])
        assert [block["pickup_mm"] for block in duty["blocks"]] == [TRAVEL, 35.0]

    def test_a_block_is_solved_at_its_own_travel_and_ratio(self):
        found = result(
            ("duty", {"blocks": [{"pickup": 30.0, "cycles": 1e5}, {"pickup": 30.0, "cycles": 1e5, "ratio": 0.0}]})
        )
        alone = check(("travel.pickup", 30.0))
        one_sided = check(("travel.pickup", 30.0), ("duty", {"ratio": 0.0}))
        reversed_block, one_sided_block = fatigues(found)[2]["duty"]["blocks"]
        assert reversed_block["amplitude_MPa"] == pytest.approx(fatigues(alone)[2]["amplitude_MPa"], rel=1e-3)
        assert one_sided_block["amplitude_MPa"] == pytest.approx(fatigues(one_sided)[2]["amplitude_MPa"], rel=1e-2)
        assert one_sided_block["mean_MPa"] == pytest.approx(one_sided_block["amplitude_MPa"], rel=1e-9)
        assert one_sided_block["damage"] < reversed_block["damage"]

    def test_the_target_is_repeats_and_full_articulation_only_where_it_is_given(self):
        blocks = {"blocks": [{"pickup": TRAVEL, "cycles": 10.0}]}
        lives = [f["life_at_survival_repeats"] for f in fatigues(result(("duty", blocks)))]
        fine, harsh = math.floor(min(lives)), math.ceil(max(lives))
        assert [s["passes"] for s in result(("duty", blocks | {"repeats": fine}))["settings"]] == [True] * 3
        failing = result(("duty", blocks | {"repeats": harsh + 1}))["settings"]
        assert [s["passes"] for s in failing] == [False] * 3
        assert all("repeats of the blocks" in s["why"][0] for s in failing)
        both = result(("duty", blocks | {"repeats": fine, "target_cycles": 1e6}))["settings"]
        assert [s["passes"] for s in both] == [False] * 3 and "falls short" in both[2]["why"][0]

    def test_where_blocks_alone_are_judged_it_is_said_what_safety_factors_are_for(self):
        """They stand in the table for cycles of full travel that nobody asked for."""
        blocks = {"blocks": [{"pickup": TRAVEL, "cycles": 500.0}]}
        aside = "; safety factors are for 200 000 cycles of full travel, which are not judged"
        each = (check_bar(bar(("duty", duty))) for duty in (blocks, {**blocks, "target_cycles": 1e5}))
        alone, both = (" ".join(spaced(targets_and_factors(found)).split()) for found in each)
        assert alone.endswith(aside) and "not judged" not in both and "100 000 cycles and 1 repeat" in both

    def test_blocks_below_the_endurance_limit_run_out_and_reach_any_target(self):
        found = result(("duty", {"blocks": [{"pickup": 3.0, "cycles": 1e9}], "repeats": 1000.0}))
        for setting in found["settings"]:
            duty = setting["fatigue"]["duty"]
            assert duty["runout"] and duty["runout_at_survival"] and duty["life_repeats"] is None
            assert "strength at 1e7 cycles" in duty["reason"] and setting["passes"]

    def test_a_run_out_is_shown_as_far_as_the_slow_decline_goes_on(self):
        """By hand: n cycles of an amplitude that runs out use up n / (1e7 (S at 1e7 / amplitude)^45) of the duty.

        The 45 is the decline's exponent between 1e6 and 1e7 cycles, and the sum of the duty is the critical one.
        """
        duty = {"blocks": [{"pickup": 12.0, "cycles": 1e4}, {"pickup": 10.0, "cycles": 1e6}]}
        first = fatigues(result(("duty", duty)))[2]["duty"]
        assert first["runout_at_survival"] and first["life_repeats"] is None
        just, more = 0.999 * first["runout_repeats"], 1.001 * first["runout_repeats"]
        assert result(("duty", duty | {"repeats": just}))["settings"][2]["passes"]
        failing = result(("duty", duty | {"repeats": more}))["settings"][2]
        assert not failing["passes"] and "shown for no more than" in failing["why"][0]
        tenth = {"blocks": [{**block, "cycles": 0.1 * block["cycles"]} for block in duty["blocks"]]}
        assert fatigues(result(("duty", tenth)))[2]["duty"]["runout_repeats"] == pytest.approx(
            10.0 * first["runout_repeats"], rel=1e-9
        )

    def test_a_block_above_yield_has_no_life(self):
        found = result(("duty", {"blocks": [{"pickup": 5.0 * TRAVEL, "cycles": 1.0}]}), ("links.length", 600.0))
        duty = fatigues(found)[2]["duty"]
        assert duty["life_repeats"] is None and "above yield" in duty["reason"]
        assert not found["settings"][2]["passes"]

    def test_a_survival_asked_for_gives_the_same_damage_as_its_own_line(self):
        duty = {"blocks": [{"pickup": TRAVEL, "cycles": 500.0}]}
        lives = fatigues(result(("duty", duty)))[1]["duty"]["lives"]
        assert [item["survival"] for item in lives] == [0.5, 0.9, 0.99]
        assert lives[0]["life"] > lives[1]["life"] > lives[2]["life"]

    @pytest.mark.parametrize(
        ("duty", "where"),
        [
            ({"blocks": []}, "[duty] blocks"),
            ({"blocks": [{"pickup": 10.0, "cycles": 0}]}, "[duty] blocks 1, cycles"),
            ({"blocks": [{"pickup": 10.0, "cycles": 5, "ratio": 1.0}]}, "[duty] blocks 1, ratio"),
            ({"blocks": [{"pickup": 10.0, "cycles": 5}], "repeats": 0}, "[duty] repeats"),
            ({"blocks": [{"pickup": 10.0, "cycles": 5, "case": "roll"}]}, "[duty] blocks 1"),
        ],
    )
    def test_blocks_that_cannot_be(self, duty, where):
        with pytest.raises(InputError) as error:
            bar(("duty", duty))
        assert where in str(error.value)

    def test_damage_along_the_bar_is_greatest_where_the_duty_governs(self):
        built = bar(("duty", {"blocks": [{"pickup": TRAVEL, "cycles": 500.0}]}))
        solved = solve_states(built, cases=("roll",))
        station, damage = damage_along(solved, 2)
        governing = check_bar(built).settings[2].fatigue.duty
        assert governing is not None and np.all(np.diff(station) >= 0.0)
        assert damage.max() == pytest.approx(governing.damage_per_repeat)
        assert damage[np.argmin(np.abs(station - governing.station_mm))] > 0.9 * damage.max()
        assert solve_blocks(solved, 2).damage.damage.shape[1] == 1
