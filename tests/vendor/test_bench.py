"""The test bench: forces and strains of a plain U by hand, where the gauge sits, and what `plan` names."""

from __future__ import annotations

import json

import numpy as np
import pytest

from barfem.check.bench import bench_rows, gauge_of
from barfem.cli.main import main
from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from tests.model.bar_data import U_BAR, changed


@pytest.fixture(scope="module")
def bar() -> Bar:
    return bar_from_dict(changed(("travel.pickup", 10.0), ("links.length", 400.0), base=U_BAR))


def test_the_middle_of_a_u_is_twisted_by_force_times_arm(bar):
    """T = F x arm, gamma = T c / (G J), J = pi d^4 / 32; half of it is the strain at 45 deg."""
    gauge = gauge_of(bar)
    assert gauge.from_middle_mm == pytest.approx(0.0, abs=1e-6) and gauge.where == "straight 2, on top"
    row = next(row for row in bench_rows(bar, gauge) if row.hole == "1" and row.rig == "as in the car")
    twist = row.force_N * 230.0 * 12.0 / (bar.steel.G_MPa * np.pi * 24.0**4 / 32.0)
    share, along, plus, minus = row.strains[-1]
    assert share == 1.0 and abs(plus) == pytest.approx(0.5e6 * twist, rel=0.01)
    assert minus == pytest.approx(-plus, rel=0.02) and abs(along) < 0.02 * abs(plus)
    assert row.strains[0][2] == pytest.approx(0.25 * plus, rel=0.02)


def test_one_end_held_needs_twice_the_stroke_for_the_same_force(bar):
    rows = {(row.hole, row.rig): row for row in bench_rows(bar, gauge_of(bar))}
    held, both = rows["1", "one end held"], rows["1", "as in the car"]
    assert held.stroke_mm == 2.0 * both.stroke_mm and held.force_N == pytest.approx(both.force_N, rel=0.03)


def test_a_bar_without_a_clear_straight_has_no_gauge():
    mounts = [
        {"from_middle": x, "radial_stiffness": 5e3, "axial_stiffness": 100, "length": 40} for x in range(-420, 421, 120)
    ]
    flat = {
        "kind": "forged",
        "thickness": 12.0,
        "width": 40.0,
        "length": 190.0,
        "transition": 25.0,
        "normal": [0, 1, 0],
    }
    crowded = bar_from_dict(changed(("mounts", mounts), ("ends.flat", flat), base=U_BAR))
    with pytest.raises(InputError, match="clear of bends"):
        gauge_of(crowded)


def test_plan_names_what_is_tested_and_writes_the_sheet(bar, tmp_path, capsys):
    import tomlkit

    path, sheet, out = tmp_path / "bar.toml", tmp_path / "sheet.pdf", tmp_path / "plan.json"
    path.write_text(tomlkit.dumps(json.loads(json.dumps(dict(bar.tables)))), encoding="utf-8")
    assert main(["plan", str(path), "--sheet", str(sheet), "--json", str(out)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    tested = json.loads(out.read_text(encoding="utf-8"))["tested"]
    assert f"Test plain U, hole {tested['holes']}, roll: 10 mm up and down" in printed and tested["place"] in printed
    first = sheet.read_bytes()
    assert first.startswith(b"%PDF") and main(["plan", str(path), "--sheet", str(sheet)]) == 0
    assert sheet.read_bytes() == first
    assert main(["plan", "--target", "1000", "--sheet", str(sheet)]) == 2
