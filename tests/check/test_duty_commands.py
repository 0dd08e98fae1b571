"""`barfem duty`, `barfem plan`, and what of a duty `barfem check` prints."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest

from barfem.check.plan import plan_tests, plan_words
from barfem.cli.main import main
from barfem.strength.duty.scatter import LifeScatter
from tests.check.bar_files import BUILT, toml
from tests.check.duty_bars import TRAVEL, history
from tests.model.bar_data import changed


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
        # One of many repeats: every cycle closes, and none counts half.
        assert main(["duty", str(bar_file), "--history", str(csv), "--hole", "2/3", "--json", "-", "--repeated"]) == 0
        (many,) = json.loads(capsys.readouterr().out)["settings"]
        assert any("one of many repeats" in text for text in many["assumptions"])
        assert many["damage_per_repeat"] != one["damage_per_repeat"]

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
         ("0,1,1\n1,1,1\n", "constant"), ("0,0,0\n1,900,-900\n2,0,0\n", "line 2, column left_mm: at hole 1 the bar"),
         ("0,0,0\n1,1e9,0\n2,0,0\n", "line 2, column left_mm: a travel of 1e+09 mm is not possible"),
         ("0,0,0\n2,9,0\n1,0,0\n", "line 3, column time_s")],
    )  # fmt: skip
    def test_hostile_histories_give_a_clear_message_and_write_nothing(
        self, bar_file: Path, tmp_path: Path, capsys, text, words
    ):
        path, written = tmp_path / "bad.csv", tmp_path / "out.json"
        path.write_text(text, encoding="utf-8")
        command = ["duty", str(bar_file), "--history", str(path), "--hole", "1", "--json", str(written)]
        assert main([*command, "--plots", str(tmp_path / "plots")]) == 2
        out, error = capsys.readouterr()
        assert out == "" and words in error and str(path) in error and error.count("Right would be") == 1
        assert not written.exists() and not (tmp_path / "plots").exists()

    def test_what_is_no_readable_text_file_is_refused(self, bar_file: Path, tmp_path: Path, capsys):
        (tmp_path / "binary.csv").write_bytes(bytes(range(256)) * 4)
        for name, words in (("binary.csv", "not a text file"), (".", "directory"), ("none.csv", "No such file")):
            assert main(["duty", str(bar_file), "--history", str(tmp_path / name)]) == 2
            assert words in capsys.readouterr().err

    def test_wheel_travel_is_times_the_motion_ratio(self, tmp_path: Path, csv: Path, capsys):
        # Polished: sound steel alone decides, so that both histories are worst at one place.
        travel = {"wheel": TRAVEL / 0.5, "motion_ratio": 0.5, "direction": [0, 0, 1]}
        data = changed(("travel", travel), ("material.surface", "polished"), base=BUILT)
        path = tmp_path / "wheel.toml"
        path.write_text(toml(data), encoding="utf-8")
        assert main(["duty", str(path), "--history", str(csv), "--hole", "1", "--wheel", "--json", "-"]) == 0
        at_wheel = json.loads(capsys.readouterr().out)["settings"][0]
        assert main(["duty", str(path), "--history", str(csv), "--hole", "1", "--json", "-"]) == 0
        at_pickup = json.loads(capsys.readouterr().out)["settings"][0]
        assert at_wheel["peak"]["von_mises_MPa"] == pytest.approx(0.5 * at_pickup["peak"]["von_mises_MPa"], rel=0.02)

    def test_check_takes_rule_and_planes(self, bar_file: Path, capsys):
        status = main(["check", str(bar_file), "--mean-stress", "gerber", "--critical-plane", "--full"])
        out = capsys.readouterr().out
        assert status in (0, 1) and "By other criteria" in out and "Gerber" in out
        assert "Life at several survivals" in out and "To show by test" in out
        assert max(map(len, out.splitlines())) <= 80

    def test_check_prints_the_blocks(self, tmp_path: Path, capsys):
        data = changed(("duty", {"blocks": [{"pickup": 30.0, "cycles": 1000.0}]}), base=BUILT)
        path = tmp_path / "blocks.toml"
        path.write_text(toml(data), encoding="utf-8")
        main(["check", str(path), "--full"])
        out = capsys.readouterr().out
        assert "The duty's blocks" in out and "1 repeat of the blocks" in out

    def test_sizes_and_holes_speak_of_the_blocks_where_these_alone_are_judged(self, tmp_path: Path, capsys):
        """The default of 200 000 cycles of full travel is then no target, and no size misses it."""
        duty = {"blocks": [{"pickup": 24.0, "cycles": 50000.0}], "repeats": 40.0}
        path = tmp_path / "blocks.toml"
        stock = tmp_path / "stock.toml"
        stock.write_text('format = 1\n[round]\nsource = "invented"\ndiameters = [24.0, 25.0]\n', encoding="utf-8")
        path.write_text(toml(changed(("travel.pickup", 24.0), ("duty", duty), base=BUILT)), encoding="utf-8")
        assert main(["size", str(path), "--rate", "30", "--rate-window", "100", "--stock", str(stock)]) == 1
        out = " ".join(capsys.readouterr().out.split())
        assert "Targets at every hole: 40 repeats of the blocks at 90 % survival" in out
        assert re.search(r"life [\d.]+ repeats of the blocks at hole \d \(target 40\)", out), out
        assert (
            "Life, repeats" in out
            and "safety factors are for 200 000 cycles of full travel, which are not judged" in out
        )
        # What is printed of a hole is what the check says of it.
        drilled = tmp_path / "drilled.toml"
        main(["holes", str(path), "--write", str(drilled)])
        out = capsys.readouterr().out
        assert "Life, repeats" in out
        row = next(line.split() for line in out.splitlines() if line.startswith("1 "))
        main(["check", str(drilled), "--json", "-"])
        duty = json.loads(capsys.readouterr().out)["settings"][0]["fatigue"]["duty"]
        assert float(row[-2]) == pytest.approx(duty["life_at_survival_repeats"], rel=0.1)  # two figures, rounded down

    def test_plan(self, bar_file: Path, capsys):
        assert main(["plan", "--target", "200000"]) == 0
        out = capsys.readouterr().out
        assert "22" in out and "200 000" in out and "no source" in out
        assert main(["plan", str(bar_file), "--json", "-"]) == 0
        plan = json.loads(capsys.readouterr().out)
        assert plan["rows"][-1]["ratio"] == 1.0 and (plan["target"], plan["unit"]) == (200_000.0, "cycles")
        # One bar to L: R^(L^b) = 0.1 at R 0.9, b 2: L = (ln 0.1 / ln 0.9)^0.5 = 4.675.
        assert main(["plan", "--target", "1e5", "--weibull", "2", "--bars", "1", "--json", "-"]) == 0
        (row,) = json.loads(capsys.readouterr().out)["rows"]
        assert row["ratio"] == pytest.approx(4.675, rel=1e-3)
        assert row["life"] == row["ratio"] * 1e5
        # One bar run to failure shows as much as one that lasted so long.
        assert row["mean_life_if_failed"] == pytest.approx(row["life"], rel=1e-9)

    def test_a_plan_for_nearly_every_bar_leaves_out_the_test_to_the_target_itself(self, capsys):
        """One bar of a million may fail: two million bars would show it at the target, a few by lasting longer."""
        assert main(["plan", "--target", "200000", "--survival", "0.999999", "--json", "-"]) == 0
        rows = json.loads(capsys.readouterr().out)["rows"]
        assert len(rows) > 3 and all(row["bars"] <= 12 and row["ratio"] > 1.0 for row in rows)
        assert main(["plan", "--target", "200000", "--survival", "0.9999999"]) == 2
        assert "--survival: survival 0.9999999 asks for more than any scatter is known for" in capsys.readouterr().err

    def test_a_confidence_below_certainty_never_reads_as_100_percent(self, capsys):
        """No test of a few bars makes anything certain, however many nines are asked for."""
        for asked, shown in (("0.9999999999", "99.99999999 %"), ("0.995", "99.5 %"), ("0.9", "90 %")):
            assert main(["plan", "--target", "200000", "--confidence", asked]) == 0
            assert f"at {shown} confidence" in capsys.readouterr().out.replace("\n", " ")

    def test_one_bar_is_not_1_bars(self):
        sure = plan_tests(
            target=1e5, survival=0.9, confidence=0.9999999999, scatter=LifeScatter(weibull_shape=2.0),
            scatter_words="invented", bars=1,
        )  # fmt: skip
        words = plan_words(sure)
        assert ": 1 bar to " in words and "at 99.99999999 % confidence" in words

    def test_a_plan_of_blocks_alone_is_in_repeats(self, tmp_path: Path, capsys):
        duty = {"blocks": [{"pickup": TRAVEL, "cycles": 500.0}], "repeats": 40.0}
        path = tmp_path / "blocks.toml"
        path.write_text(toml(changed(("travel.pickup", TRAVEL), ("duty", duty), base=BUILT)), encoding="utf-8")
        assert main(["plan", str(path), "--json", "-"]) == 0
        plan = json.loads(capsys.readouterr().out)
        assert (plan["target"], plan["unit"]) == (40.0, "repeats")
        assert plan["rows"][-1]["life"] == 40.0 and 0.0 <= plan["rows"][0]["chance"] <= 1.0
        # One block on the sloping line: scatter, and so every ratio, is that of cycles of full articulation.
        path.write_text(toml(changed(("travel.pickup", TRAVEL), base=BUILT)), encoding="utf-8")
        assert main(["plan", str(path), "--json", "-"]) == 0
        alone = json.loads(capsys.readouterr().out)
        assert [row["ratio"] for row in plan["rows"]] == pytest.approx(
            [row["ratio"] for row in alone["rows"]], rel=0.02
        )
        assert main(["plan", str(path)]) == 0
        shown = capsys.readouterr().out.replace("\n", " ")
        assert "chosen before the test" in shown and "repeat" not in shown

    def test_a_test_by_blocks_says_what_a_repeat_is(self, tmp_path: Path, capsys):
        """Order and sheet named full travel alone beside a target of 40 repeats, which a rig would count as cycles."""
        blocks = [{"pickup": TRAVEL, "cycles": 500.0}, {"pickup": 10.0, "cycles": 20000.0, "ratio": 0.0}]
        pypdf = pytest.importorskip("pypdf")
        path, sheet = tmp_path / "blocks.toml", tmp_path / "sheet.pdf"
        data = changed(("travel.pickup", TRAVEL), ("duty", {"blocks": blocks, "repeats": 40.0}), base=BUILT)
        path.write_text(toml(data), encoding="utf-8")
        assert main(["plan", str(path), "--sheet", str(sheet)]) == 0
        repeat = f"One repeat of the duty is 500 cycles of {TRAVEL:g} mm up and down, 20 000 cycles of 10 mm and back"
        assert repeat in " ".join(capsys.readouterr().out.split())
        text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(sheet).pages).split())
        assert repeat in text and "Repeats reached" in text and "not in cycles of full travel" in text
        assert main(["plan", str(path), "--json", "-"]) == 0
        assert json.loads(capsys.readouterr().out)["tested"]["one_repeat"].startswith("500 cycles of")

    @pytest.mark.parametrize(
        "options",
        [[], ["--target", "0"], ["--target", "x"], ["--target", "1e5", "--confidence", "1.2"],
         ["--target", "1e5", "--bars", "1.5"], ["--target", "1e5", "--deviation", "0"]],
    )  # fmt: skip
    def test_plan_refuses(self, options, capsys):
        assert main(["plan", *options]) == 2
        assert "Right would be" in capsys.readouterr().err
