"""The duty's blocks in the whole check, lives at several survivals, other rules, yielding, histories and test plans."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.duty_life import damage_along, solve_blocks
from barfem.check.history_life import history_life
from barfem.check.plan import plan_of
from barfem.check.solved import solve_states
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.solve.beam import HoleSetting
from barfem.strength.duty.history import history_from_arrays
from tests.check.bar_files import BUILT, check, toml
from tests.model.bar_data import changed

TRAVEL = 45.0


def bar(*changes: tuple[str, Any]):
    return bar_from_dict(changed(("travel.pickup", TRAVEL), *changes, base=BUILT))


def result(*changes: tuple[str, Any], **options: Any) -> dict[str, Any]:
    return check(("travel.pickup", TRAVEL), *changes, **options)


def fatigues(found: dict[str, Any]) -> list[dict[str, Any]]:
    return [setting["fatigue"] for setting in found["settings"]]


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    return result()


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

    def test_blocks_below_the_endurance_limit_run_out_and_reach_any_target(self):
        found = result(("duty", {"blocks": [{"pickup": 3.0, "cycles": 1e9}], "repeats": 1000.0}))
        for setting in found["settings"]:
            duty = setting["fatigue"]["duty"]
            assert duty["runout"] and duty["runout_at_survival"] and duty["life_repeats"] is None
            assert "endurance limit" in duty["reason"] and setting["passes"]

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


class TestSurvivals:
    def test_lives_at_survivals_hold_the_contracts_two(self, plain):
        for fatigue in fatigues(plain):
            lives = {item["survival"]: item["life"] for item in fatigue["lives"]}
            assert lives[0.5] == fatigue["life_cycles"] and lives[0.9] == fatigue["life_at_survival_cycles"]
            assert lives[0.99] < lives[0.9]

    def test_the_deviation_is_that_of_the_line(self, plain):
        for fatigue in fatigues(plain):
            # One deviation of strength down the sloping line: 1 - 0.08.
            k = 3.0 / math.log10(
                fatigue["factors"]["strength at 1,000 cycles"] / fatigue["factors"]["strength at 1e6 cycles"]
            )
            assert fatigue["log10_life_deviation"] == pytest.approx(-k * math.log10(0.92), rel=1e-9)

    def test_a_plan_asks_less_of_more_bars(self):
        plan = plan_of(check_bar(bar()))
        ratios = [row.ratio for row in plan.rows]
        assert ratios == sorted(ratios, reverse=True) and ratios[-1] == 1.0
        # Success run: n = ln(0.1) / ln(0.9) = 21.85.
        assert plan.rows[-1].bars == 22


class TestRules:
    def test_rules_order_as_they_do_in_a_haigh_diagram(self):
        lives = {
            rule: [f["life_cycles"] for f in fatigues(result(("duty", {"ratio": 0.0}), mean_stress=rule))]
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
            n, tensile = fatigue["safety_factor_at_target"], fatigue["factors"]["tensile strength"]
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


def history(amplitude: float, *, cycles: int = 40, heave: float = 0.0):
    time = np.arange(cycles * 40 + 1) / 40.0
    wave = amplitude * np.sin(2.0 * np.pi * time)
    bump = heave * np.sin(2.0 * np.pi * 0.31 * time)
    return history_from_arrays(time_s=time, left_mm=wave + bump, right_mm=-wave + bump)


class TestHistory:
    def test_a_sine_of_full_travel_is_as_many_cycles_of_it(self, plain):
        built = bar(("targets", {"critical_sum": 1.0}))
        for j, fatigue in enumerate(fatigues(plain)):
            found = history_life(built, history(TRAVEL), HoleSetting(j, j))
            assert found.largest_amplitude_MPa == pytest.approx(fatigue["amplitude_MPa"], rel=2e-3)
            # 40 cycles, the first from rest as two quarters.
            assert 40.0 * found.life_repeats == pytest.approx(fatigue["life_cycles"], rel=0.03)

    def test_left_is_left(self):
        # Unequal holes, the left wheel alone: the sides must not be exchanged.
        built = bar(("travel.one_wheel", TRAVEL))
        found = check_bar(built, case="one-wheel", mixed=True)
        fatigue = next(s.fatigue for s in found.settings if (s.left, s.right) == ("1", "3"))
        made = history(TRAVEL)
        alone = history_from_arrays(time_s=made.time_s, left_mm=made.left_mm, right_mm=0.0 * made.right_mm)
        ours = history_life(built, alone, HoleSetting(0, 2))
        assert ours.largest_amplitude_MPa == pytest.approx(fatigue.amplitude_MPa, rel=3e-3)
        other = history_life(built, alone, HoleSetting(2, 0))
        assert other.largest_amplitude_MPa != pytest.approx(ours.largest_amplitude_MPa, rel=0.02)

    def test_more_travel_and_more_heave_never_last_longer(self):
        built = bar()
        small, large = (history_life(built, history(a), HoleSetting(2, 2)) for a in (35.0, 45.0))
        assert large.life_repeats < small.life_repeats
        hours = {item.survival: item.life for item in large.lives_hours}
        assert hours[0.5] == pytest.approx(large.life_repeats * 40.0 / 3600.0)
        heaved = history_life(built, history(35.0, heave=8.0), HoleSetting(2, 2))
        assert heaved.life_repeats <= small.life_repeats * (1.0 + 1e-6)

    def test_the_result_says_what_is_left_out(self):
        found = history_life(bar(), history(TRAVEL, heave=3.0), HoleSetting(2, 2), distance_km=2.0)
        assert found.discarded_share is not None and found.discarded_share <= 1.01
        assert abs(found.left_out_share or 0.0) < 0.01 and found.interpolation_share < 0.01
        assert found.lives_km[0].life == pytest.approx(2.0 * (found.life_repeats or 0.0))
        assert any("ASTM E1049" in text for text in found.assumptions)
        assert any("Sonsino" in text for text in found.assumptions)

    def test_travel_beyond_the_bar_files_is_warned_of(self):
        found = history_life(bar(), history(TRAVEL + 3.0), HoleSetting(0, 0))
        assert any("beyond the maximum articulation" in text for text in found.warnings)
        assert not history_life(bar(), history(TRAVEL - 3.0), HoleSetting(0, 0)).warnings


@pytest.fixture
def bar_file(tmp_path: Path) -> Path:
    path = tmp_path / "bar.toml"
    path.write_text(toml(changed(("travel.pickup", TRAVEL), base=BUILT)), encoding="utf-8")
    return path


@pytest.fixture
def csv(tmp_path: Path) -> Path:
    path = tmp_path / "stage.csv"
    made = history(TRAVEL)
    rows = np.column_stack([made.time_s, made.left_mm, made.right_mm])
    np.savetxt(path, rows, delimiter=",", fmt="%.4f", header="time_s,left_mm,right_mm", comments="")
    return path


class TestCommands:
    def test_duty_prints_and_writes(self, bar_file: Path, csv: Path, capsys, tmp_path: Path):
        target = tmp_path / "out.json"
        assert main(["duty", str(bar_file), "--history", str(csv), "--distance", "3", "--json", str(target)]) == 0
        out = capsys.readouterr().out
        for word in ("Repeats", "Hours", "km", "Assumptions", "rainflow", "points counted"):
            assert word in out
        assert max(map(len, out.splitlines())) <= 80
        found = json.loads(target.read_text(encoding="utf-8"))
        assert [item["left"] for item in found["settings"]] == ["1", "2", "3"]
        assert main(["duty", str(bar_file), "--history", str(csv), "--hole", "2/3", "--json", "-"]) == 0
        (one,) = json.loads(capsys.readouterr().out)["settings"]
        assert (one["left"], one["right"]) == ("2", "3")

    @pytest.mark.parametrize(
        ("options", "words"),
        [
            (["--hole", "9"], "no hole"),
            (["--hysteresis", "-1"], "--hysteresis"),
            (["--hysteresis", "500"], "takes out all"),
            (["--distance", "nan"], "--distance"),
            (["--wheel"], "motion_ratio"),
        ],
    )
    def test_duty_refuses(self, bar_file: Path, csv: Path, capsys, options, words):
        assert main(["duty", str(bar_file), "--history", str(csv), *options]) == 2
        assert words in capsys.readouterr().err

    @pytest.mark.parametrize(
        ("text", "words"),
        [("", "empty"), ("0,1,2\n", "1 sample"), ("0,1,2\n1,nan,2\n", "finite"), ("0,1,2\n1,a,2\n", "not a number"),
         ("0,1,1\n1,1,1\n", "constant"), ("0,0,0\n1,900,-900\n2,0,0\n", "no equilibrium")],
    )  # fmt: skip
    def test_hostile_histories_give_a_clear_message(self, bar_file: Path, tmp_path: Path, capsys, text, words):
        path = tmp_path / "bad.csv"
        path.write_text(text, encoding="utf-8")
        assert main(["duty", str(bar_file), "--history", str(path), "--hole", "1"]) == 2
        assert words in capsys.readouterr().err

    def test_wheel_travel_is_times_the_motion_ratio(self, tmp_path: Path, csv: Path, capsys):
        data = changed(("travel", {"wheel": TRAVEL / 0.5, "motion_ratio": 0.5, "direction": [0, 0, 1]}), base=BUILT)
        path = tmp_path / "wheel.toml"
        path.write_text(toml(data), encoding="utf-8")
        assert main(["duty", str(path), "--history", str(csv), "--hole", "1", "--wheel", "--json", "-"]) == 0
        at_wheel = json.loads(capsys.readouterr().out)["settings"][0]
        assert main(["duty", str(path), "--history", str(csv), "--hole", "1", "--json", "-"]) == 0
        at_pickup = json.loads(capsys.readouterr().out)["settings"][0]
        assert at_wheel["peak_MPa"] == pytest.approx(0.5 * at_pickup["peak_MPa"], rel=0.02)

    def test_check_takes_rule_and_planes(self, bar_file: Path, capsys):
        status = main(["check", str(bar_file), "--mean-stress", "gerber", "--critical-plane"])
        out = capsys.readouterr().out
        assert status in (0, 1) and "By other criteria" in out and "Gerber" in out
        assert "Life at several survivals" in out and "To show by test" in out
        assert max(map(len, out.splitlines())) <= 80

    def test_check_prints_the_blocks(self, tmp_path: Path, capsys):
        data = changed(("duty", {"blocks": [{"pickup": 30.0, "cycles": 1000.0}]}), base=BUILT)
        path = tmp_path / "blocks.toml"
        path.write_text(toml(data), encoding="utf-8")
        main(["check", str(path)])
        out = capsys.readouterr().out
        assert "The duty's blocks" in out and "1 repeat of the blocks" in out

    def test_plan(self, bar_file: Path, capsys):
        assert main(["plan", "--target", "200000"]) == 0
        out = capsys.readouterr().out
        assert "22" in out and "200 000" in out and "no source" in out
        assert main(["plan", str(bar_file), "--json", "-"]) == 0
        plan = json.loads(capsys.readouterr().out)
        assert plan["rows"][-1]["ratio"] == 1.0 and plan["target_cycles"] == 200_000.0
        # One bar to L: R^(L^b) = 0.1 at R 0.9, b 2: L = (ln 0.1 / ln 0.9)^0.5 = 4.675.
        assert main(["plan", "--target", "1e5", "--weibull", "2", "--bars", "1", "--json", "-"]) == 0
        (row,) = json.loads(capsys.readouterr().out)["rows"]
        assert row["ratio"] == pytest.approx(4.675, rel=1e-3)

    @pytest.mark.parametrize(
        "options",
        [[], ["--target", "0"], ["--target", "x"], ["--target", "1e5", "--confidence", "1.2"],
         ["--target", "1e5", "--bars", "1.5"], ["--target", "1e5", "--deviation", "0"]],
    )  # fmt: skip
    def test_plan_refuses(self, options, capsys):
        assert main(["plan", *options]) == 2
        assert "Right would be" in capsys.readouterr().err
