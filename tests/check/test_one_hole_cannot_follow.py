"""One hole whose link cannot follow its travel has its row with the reason and fails; the others are judged."""

from __future__ import annotations

import json
import pickle

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.solved import NothingSolved, solve_states
from barfem.cli.main import main
from barfem.model.read import bar_from_dict, read_bar
from barfem.solve.beam import NotBalanced, all_settings, solve_bar
from barfem.study.evaluate import evaluate
from barfem.study.evaluation import NOT_SOLVED
from barfem.study.json_values import hole_setting_json
from barfem.study.sweep import sweep
from barfem.study.sweep_keys import parse_key
from tests.check.bar_files import toml

# Invented: pickups so near below hole "near" that its link, 30 mm long, runs out; at hole "far" it leans and follows.
BAR = {
    "format": 1,
    "name": "a bar with a link too short for one hole",
    "material": {"grade": "51CrV4", "condition": "QT EN 10089"},
    "section": {"shape": "round", "diameter": 16.0},
    "arms": {"width": 900.0, "length": 300.0, "bend_radius": 40.0},
    "ends": {"holes": [{"name": "near", "from_tip": 20.0, "diameter": 8.0},
                       {"name": "far", "from_tip": 150.0, "diameter": 8.0}]},
    "mounts": [{"y": y, "radial_stiffness": 8000.0, "axial_stiffness": 100.0, "length": 30.0} for y in (-300.0, 300.0)],
    "links": {"pickup": [-285.0, 450.0, -30.0]},
    "travel": {"pickup": 55.0, "direction": [0, 0, 1]},
}  # fmt: skip


@pytest.fixture
def bar_file(tmp_path):
    path = tmp_path / "bar.toml"
    path.write_text(toml(BAR), encoding="utf-8")
    return path


def test_the_row_stands_fails_and_says_why_and_the_others_have_their_numbers(bar_file, tmp_path, capsys):
    found, table = tmp_path / "found.json", tmp_path / "found.csv"
    assert main(["check", str(bar_file), "--json", str(found), "--csv", str(table)]) == 1
    out = capsys.readouterr().out
    assert "no equilibrium found beyond a pickup travel of" in " ".join(out.split())
    assert out.splitlines()[-1].startswith("VERDICT: fails at") and "- Hole near: no equilibrium found" in out
    result = json.loads(found.read_text(encoding="utf-8"))
    far, near = result["settings"]
    assert far["left"] == "far" and far["rate_N_per_mm"] > 1.0 and far["peak"]["von_mises_MPa"] > 10.0
    assert near["left"] == "near" and near["passes"] is False and "no equilibrium" in near["why"][0]
    assert near["rate_N_per_mm"] is None and near["peak"] is None and near["places"] == []
    assert far.keys() == near.keys() and result["passes"] is False
    rows = table.read_text(encoding="utf-8").splitlines()
    assert len(rows) == 3 and "no equilibrium" in rows[2] and rows[2].startswith("near")


def test_a_data_frame_of_it_fails_as_the_check_does():
    """Once the row was missing: of a study of many bars, each was good whose other holes passed, or that had none."""
    found = check_bar(bar_from_dict(BAR))
    far, near = found.records()
    assert not found.passes and far["passes"] and near["left"] == near["right"] == "near" and near["passes"] is False
    assert "no equilibrium" in near["why"] and near["rate_N_per_mm"] is None and near["peak_where"] is None
    assert list(far) == list(near) and near["name"] == found.name and near["case"] == "roll"
    assert {row["left"] for row in found.records("places")} == {"far"}
    short = {"links": {"pickup": [-285.0, 450.0, -60.0]}, "travel": {"pickup": 130.0, "direction": [0, 0, 1]}}
    none = check_bar(bar_from_dict({**BAR, **short}))
    assert not none.settings and [row["passes"] for row in none.records()] == [False, False]


@pytest.mark.usefixtures("unadvised", "unpictured")
@pytest.mark.long
def test_report_full_print_and_compare_go_on_with_the_others(bar_file, tmp_path, capsys):
    assert main(["check", str(bar_file), "--full"]) == 1
    assert main(["report", str(bar_file), "--out", str(tmp_path / "bar.html")]) == 1
    page = (tmp_path / "bar.html").read_text(encoding="utf-8")
    assert "no equilibrium" in page and "far" in page
    capsys.readouterr()


@pytest.mark.usefixtures("unadvised", "unpictured")
@pytest.mark.long
def test_where_no_hole_can_follow_each_has_its_row_and_all_fail(bar_file, tmp_path, capsys):
    links = {"pickup": [-285.0, 450.0, -60.0]}
    travel = {"pickup": 130.0, "direction": [0, 0, 1]}
    bar_file.write_text(toml({**BAR, "links": links, "travel": travel}), encoding="utf-8")
    found, table = tmp_path / "found.json", tmp_path / "found.csv"
    assert main(["check", str(bar_file), "--json", str(found), "--csv", str(table)]) == 1
    out = capsys.readouterr().out
    verdict = " ".join(out[out.index("VERDICT:") :].split())
    # One pickup for both holes: the link to the far one leans, and its arm is short for such a travel.
    assert verdict.startswith("VERDICT: the links lean 66 deg from their pickups' travel")
    assert "travel of 130 mm turns an arm of 150 mm by 60 deg" in " ".join(out.split())
    assert verdict.endswith("Fails at all 2 hole settings judged.")
    assert "- Hole near: " in out and "- Hole far: " in out and "18.5 mm left" in " ".join(out.split())
    result = json.loads(found.read_text(encoding="utf-8"))
    assert [row["left"] for row in result["settings"]] == ["near", "far"] and result["passes"] is False
    assert all("no equilibrium" in row["why"][0] and row["fatigue"] is None for row in result["settings"])
    assert result["governing"] == {"stress": None, "life": None}
    assert len(table.read_text(encoding="utf-8").splitlines()) == 3
    assert main(["check", str(bar_file), "--full"]) == 1
    assert main(["report", str(bar_file), "--out", str(tmp_path / "bar.html")]) == 2  # nothing to draw
    assert "no hole setting can follow its travel" in capsys.readouterr().err


@pytest.mark.long
def test_studies_judge_the_holes_that_can_follow(bar_file, tmp_path, capsys):
    """Sizes, sweeps, comparisons and tolerances have the numbers of the check at the sound hole, and the reason at
    the other."""
    checked = check_bar(bar_file).settings[0]

    def found(*words: str) -> dict:
        path = tmp_path / f"{words[0]}.json"
        assert main([words[0], str(bar_file), *words[1:], "--json", str(path)]) in (0, 1)
        capsys.readouterr()
        return json.loads(path.read_text(encoding="utf-8"))

    def held(setting: dict) -> None:
        assert setting["rate_N_per_mm"] == pytest.approx(checked.rate_N_per_mm, rel=1e-9)
        assert setting["peak"]["von_mises_MPa"] == pytest.approx(checked.peak.von_mises_MPa, rel=1e-9)
        assert setting["passes"] is True

    bar = read_bar(bar_file)
    for one in evaluate([bar, bar]):
        assert one.problem is None and one.problem_at(1) is None and "no equilibrium" in one.problem_at(0)
        assert np.isnan(one.rate_N_per_mm[0]) and one.status[0] == NOT_SOLVED and not one.passes[0]
        assert np.isnan(one.places.peak_MPa[0]).all() and np.isfinite(one.places.peak_MPa[1]).all()
        near, far = (hole_setting_json(one, j) for j in (0, 1))
        held(far)
        assert "no equilibrium" in near["problem"] and near["peak"]["where"] is None and far["problem"] is None

    compared = found("compare", "--section", "round 18")["views"][0]
    far, near = compared["bars"][0]["settings"]
    held(far)
    assert near["left"] == "near" and "no equilibrium" in near["why"][0] and len(compared["missing"]) == 2
    stock = tmp_path / "stock.toml"
    stock.write_text('format = 1\n[round]\nsource = "invented"\ndiameters = [16]\n', encoding="utf-8")
    sized = found("size", "--rate", "7.04", "--hole", "far", "--stock", str(stock))["options"][0]
    held(sized["settings"][1])
    assert sized["passes"] is False and "no equilibrium" in sized["limit"] and sized["problem"] is None
    spread = found("tolerance", "--samples", "16")
    assert [each["left"] for each in spread["settings"]] == ["far"] and "near" in spread["left_out"][0]
    swept = sweep(bar, [parse_key("section.diameter=16,17")])
    assert swept.unsolved == 2 and swept.columns["passes"] == [False, True, False, True]
    assert swept.columns["rate_N_per_mm"][1] == pytest.approx(checked.rate_N_per_mm, rel=1e-9)


def test_the_reasons_come_whole_from_another_process():
    bar = bar_from_dict(BAR | {"ends": {"holes": BAR["ends"]["holes"][:1]}})
    with pytest.raises(NotBalanced) as one:
        solve_bar(bar, all_settings(bar))
    with pytest.raises(NothingSolved) as all_of_them:
        solve_states(bar, cases=("roll",))
    for error in (one.value, all_of_them.value):
        again = pickle.loads(pickle.dumps(error))
        assert type(again) is type(error) and str(again) == str(error) and "no equilibrium found beyond" in str(again)
    assert set(one.value.why) == set(all_settings(bar))
