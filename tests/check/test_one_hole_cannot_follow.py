"""One hole whose link cannot follow its travel has its row with the reason and fails; the others are judged."""

from __future__ import annotations

import json

import pytest

from barfem.cli.main import main
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
    assert out.splitlines()[-1].startswith("VERDICT: fails at") and "- Hole near: " in out
    result = json.loads(found.read_text(encoding="utf-8"))
    far, near = result["settings"]
    assert far["left"] == "far" and far["rate_N_per_mm"] > 1.0 and far["peak"]["von_mises_MPa"] > 10.0
    assert near["left"] == "near" and near["passes"] is False and "no equilibrium" in near["why"][0]
    assert near["rate_N_per_mm"] is None and near["peak"] is None and near["places"] == []
    assert far.keys() == near.keys() and result["passes"] is False
    rows = table.read_text(encoding="utf-8").splitlines()
    assert len(rows) == 3 and "no equilibrium" in rows[2] and rows[2].startswith("near")


def test_report_full_print_and_compare_go_on_with_the_others(bar_file, tmp_path, capsys):
    assert main(["check", str(bar_file), "--full"]) == 1
    assert main(["report", str(bar_file), "--out", str(tmp_path / "bar.html")]) == 1
    page = (tmp_path / "bar.html").read_text(encoding="utf-8")
    assert "no equilibrium" in page and "far" in page
    capsys.readouterr()


def test_where_no_hole_can_follow_the_reason_is_the_answer(bar_file, capsys):
    links = {"pickup": [-285.0, 450.0, -60.0]}
    travel = {"pickup": 130.0, "direction": [0, 0, 1]}
    bar_file.write_text(toml({**BAR, "links": links, "travel": travel}), encoding="utf-8")
    assert main(["check", str(bar_file)]) == 2
    assert "no equilibrium" in capsys.readouterr().err
