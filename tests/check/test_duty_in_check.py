"""Lives at several survivals, test plans, other rules, critical planes and yielding in the whole check."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.plan import life_to_show, plan_of, rounded_up
from barfem.model.errors import InputError
from barfem.model.read import read_bar
from barfem.solve.beam import HoleSetting
from barfem.study.change import change
from tests.check.bar_files import check
from tests.check.duty_bars import TRAVEL, bar, fatigues, history_life, plain_result, result
from tests.duty.examples import history_from_arrays
from tests.often import often

TUBE = Path(__file__).resolve().parents[2] / "geometries" / "pickup-rear-tube.toml"


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    return plain_result()


class TestSurvivals:
    def test_lives_at_survivals_hold_the_contracts_two(self, plain):
        for fatigue in fatigues(plain):
            lives = {item["survival"]: item["life"] for item in fatigue["lives"]}
            assert lives[0.5] == fatigue["life_cycles"] and lives[0.9] == fatigue["life_at_survival_cycles"]
            assert lives[0.99] < lives[0.9]

    def test_the_deviation_is_that_of_the_line(self, plain):
        for fatigue in fatigues(plain):
            # One deviation of strength down the sloping line: 1 - 0.08, and 0.2 of log10 life at exponent 6 beside it.
            k = 3.0 / math.log10(
                fatigue["factors"]["strength_at_1000_cycles_MPa"] / fatigue["factors"]["strength_at_1e6_cycles_MPa"]
            )
            assert fatigue["log10_life_deviation"] == pytest.approx(
                k * math.hypot(math.log10(0.92), 0.2 / 6.0), rel=1e-9
            )

    def test_a_plan_asks_less_of_more_bars(self):
        plan = plan_of(check_bar(bar()))
        ratios = [row.ratio for row in plan.rows]
        assert ratios == sorted(ratios, reverse=True) and ratios[-1] == 1.0
        # Success run: n = ln(0.1) / ln(0.9) = 21.85.
        assert plan.rows[-1].bars == 22

    def test_a_plan_of_blocks_is_for_the_hole_setting_that_lasts_least(self):
        found = check_bar(bar(("duty", {"blocks": [{"pickup": TRAVEL, "cycles": 500.0}]})))
        lives = [setting.fatigue.duty.life_repeats for setting in found.settings]
        assert life_to_show(found).median_life == min(lives) < max(lives)

    def test_lives_to_test_to_are_rounded_up(self):
        for exact, up in ((651_104.0, 652_000.0), (200_000.0, 200_000.0), (37.61, 37.7), (0.99991, 1.0)):
            assert rounded_up(exact) == pytest.approx(up, rel=1e-12) and rounded_up(exact) >= exact * (1.0 - 1e-9)


class TestRules:
    def test_rules_order_as_they_do_in_a_haigh_diagram(self):
        lives = {
            rule: [
                f["life_cycles"]
                for f in fatigues(result(("duty", {"ratio": 0.0}), ("travel.pickup", 62.0), mean_stress=rule))
            ]
            for rule in ("goodman", "gerber", "soderberg")
        }
        for goodman, gerber, soderberg in zip(
            *(lives[rule] for rule in ("goodman", "gerber", "soderberg")), strict=True
        ):
            assert soderberg < goodman and (gerber is None or gerber > goodman)

    def test_goodmans_factor_stays_goodmans_and_the_rule_is_said(self, plain):
        swt = result(mean_stress="swt")
        ours, theirs = ([f["goodman_safety_factor"] for f in fatigues(found)] for found in (swt, plain))
        # By another rule another point of the region may be the worst, by a hair.
        assert ours == pytest.approx(theirs, rel=0.01)
        assert fatigues(swt)[0]["mean_stress_rule"] == "swt"
        assert any("Smith, Watson and Topper" in text for text in swt["assumptions"])

    def test_safety_factor_by_bisection_lands_on_the_line(self):
        # At the factor that gerber gives, amplitude and mean together need the strength at the target.
        for fatigue in fatigues(result(("duty", {"ratio": 0.0}), mean_stress="gerber")):
            n, tensile = fatigue["safety_factor_at_target"], fatigue["factors"]["tensile_strength_MPa"]
            amplitude, mean = n * fatigue["amplitude_MPa"], n * fatigue["mean_MPa"]
            assert amplitude / (1.0 - (mean / tensile) ** 2) == pytest.approx(
                fatigue["strength_at_target_MPa"], rel=1e-9
            )

    def test_unknown_and_impossible_rules_are_refused_before_solving(self):
        for rule, words in (("nonsense", "goodman"), ("morrow", "fatigue strength coefficient")):
            with pytest.raises(InputError, match=words):
                check_bar(bar(), mean_stress=rule)


class TestCriticalPlane:
    def test_both_criteria_for_every_hole_setting(self):
        found = result(critical_plane=True)
        for setting in found["settings"]:
            findley, principal = setting["critical_planes"]
            assert (findley["criterion"], principal["criterion"]) == ("findley", "maximum principal")
            # Von Mises over-rates torsion against the principal stress, and Findley lies near von Mises.
            von_mises = setting["fatigue"]["amplitude_MPa"]
            assert 0.5 * von_mises < principal["equivalent_amplitude_MPa"] < 1.02 * von_mises
            assert findley["equivalent_amplitude_MPa"] == pytest.approx(von_mises, rel=0.15)
            assert 0.0 <= findley["angle_deg"] < 180.0

    def test_only_on_request(self, plain):
        assert all(setting["critical_planes"] == [] for setting in plain["settings"])


class TestYielding:
    def test_what_matters_is_warned_of(self, plain):
        assert not any("Peening" in text or "yields" in text for text in plain["warnings"])
        peened = ("material.surface", "shot-peened")
        found = check(("travel.pickup", 100.0), ("links.length", 600.0), peened)
        assert any(f["peening_lost"] for f in fatigues(found))
        assert any(text.startswith("Peening earns nothing") for text in found["warnings"])
        beyond = check(("travel.pickup", 130.0), ("links.length", 600.0))
        assert any("leaves a set" in text for text in beyond["warnings"])

    def test_elastic(self, plain):
        assert {setting["first_travel"]["kind"] for setting in check()["settings"]} == {"elastic"}
        assert plain["settings"][0]["first_travel"]["kind"] in ("elastic", "local")

    def test_a_set_is_estimated_and_grows_with_travel(self):
        sets = []
        for travel in (110.0, 130.0, 150.0):
            found = check(("travel.pickup", travel), ("links.length", 600.0))["settings"][2]
            first = found["first_travel"]
            if found["yield_margin"] >= 0.0:
                continue
            assert first["kind"] == "set" and "estimate" in first["words"]
            assert first["shakes_down"] is False and "no shakedown" in first["words"]
            assert first["set_mm"] == pytest.approx(travel * first["force_lost_percent"] / 100.0)
            sets.append(first["set_mm"])
        assert len(sets) >= 2 and sets == sorted(sets) and sets[0] > 0.0

    def test_one_sided_travel_above_yield_shakes_down(self):
        found = check(("travel.pickup", 130.0), ("links.length", 600.0), ("duty", {"ratio": 0.0}))["settings"][2]
        assert found["yield_margin"] < 0.0
        assert found["first_travel"]["shakes_down"] is True and found["fatigue"]["life_cycles"] is None

    def test_strain_life_stands_beside_where_the_cyclic_yield_is_exceeded(self):
        soft = {"yield_strength": 1250.0, "tensile_strength": 1300.0}
        found = check(
            ("travel.pickup", 100.0), ("links.length", 600.0), *((f"material.{k}", v) for k, v in soft.items())
        )
        seen = [f for f in fatigues(found) if f["strain_life"]]
        assert seen
        for fatigue in seen:
            local = fatigue["strain_life"]
            assert local["elastic_max_MPa"] > local["cyclic_yield_MPa"]
            assert local["stress_amplitude_MPa"] < fatigue["amplitude_MPa"]
            assert 0.0 < local["life_at_survival_cycles"] < local["life_cycles"]
            assert "Roessle" in local["source"] or "Dowling" in local["source"] or local["source"]


class TestOneDuty:
    """One duty, said as full travel, as a block of it, and as a measured history, has one life."""

    @pytest.mark.parametrize("ratio", often([-1.0, -0.3, 0.3], [0.3]))
    def test_a_peened_tube_in_a_one_sided_cycle(self, ratio: float) -> None:
        # Peening relaxes by the amplitude in every cycle and by the maximum once, in every one of the three.
        travel = 60.0 if ratio > 0.0 else 45.0
        changes = {"travel": {"pickup": travel}, "duty.ratio": ratio, "material.peening": "shot"}
        tube = change(read_bar(TUBE), changes | {"targets.critical_sum": 1.0})
        blocks = [{"pickup": travel, "ratio": ratio, "cycles": 1000.0}]
        full = check_bar(tube).settings[-1].fatigue.life_at_survival_cycles
        duty = check_bar(change(tube, {"duty.blocks": blocks})).settings[-1].fatigue.duty
        assert duty is not None and duty.life_at_survival_repeats is not None
        assert 1000.0 * duty.life_at_survival_repeats == pytest.approx(full, rel=1e-4)
        phase = 2.0 * np.pi * np.arange(40 * 40 + 1) / 40.0
        wave = 0.5 * travel * (1.0 + ratio + (1.0 - ratio) * np.cos(phase))
        measured = history_from_arrays(time_s=phase, left_mm=wave, right_mm=-wave)
        found = history_life(tube, measured, HoleSetting(3, 3))
        assert found.life_at_survival_repeats is not None
        assert 40.0 * found.life_at_survival_repeats == pytest.approx(full, rel=0.01)
