"""`--model solid` in the whole check."""

from __future__ import annotations

import json
from pathlib import Path

import meshio
import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.solid import KEPT_OUT_DIAMETERS, joint_forces, solid_places, solve_solid
from barfem.check.solved import STATES, Solved
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.read import read_bar

DEMOS = Path(__file__).parents[2] / "geometries"
SPLAYED = DEMOS / "coupe-front-splayed.toml"


@pytest.fixture(scope="module")
def solved() -> Solved:
    return solve_solid(read_bar(SPLAYED), cases=("roll",))


def test_contract_of_the_solid(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target, vtu = tmp_path / "result.json", tmp_path / "bar.vtu"
    main(["check", str(SPLAYED), "--model", "solid", "--json", str(target), "--vtu", str(vtu)])
    out = capsys.readouterr().out
    result = json.loads(target.read_text(encoding="utf-8"))
    beam = check_bar(SPLAYED)
    assert result["model"] == "solid" and "Model: solid" in out
    for row, other in zip(result["settings"], beam.settings, strict=True):
        assert row["rate_N_per_mm"] is None
        assert row["rate_initial_N_per_mm"] == pytest.approx(other.rate_initial_N_per_mm, rel=0.01)
        assert row["link_force_left_N"] == pytest.approx(other.link_force_left_N, rel=1e-9)
        assert row["peak"]["von_mises_MPa"] == pytest.approx(other.peak.von_mises_MPa, rel=0.03)
        assert row["peak"]["von_mises_MPa"] == pytest.approx(max(p["von_mises_MPa"] for p in row["places"]), rel=2e-6)
    assert 0.0 < result["solid"]["estimated_error"] < 0.02
    text = " ".join(result["assumptions"])
    for word in ("spread over", "keep the beam's stress", "rate at rest"):
        assert word in text
    assert "shipped three-dimensional fields" not in text
    shown = meshio.read(vtu)
    names = {"displacement_mm", "stress_MPa", "von_mises_MPa", "yield_margin"}
    assert names <= set(shown.point_data)
    assert all(np.isfinite(shown.point_data[name]).all() for name in names)


def test_joint_forces_are_turned_back_with_the_section(solved) -> None:
    """As long as the link force, and turned by the arm: not along the link as it hangs at travel."""
    found = solved
    solution = found.solution
    forces = joint_forces(solution)
    j, count = len(solution.settings) - 1, len(found.bar.right.holes)
    setting = solution.settings[j]
    for side, first in ((0, 3 * setting.right), (1, 3 * (count + setting.left))):
        own = forces[j, 1, first : first + 3]
        assert np.linalg.norm(own) == pytest.approx(abs(solution.link_force_N[j, 1, side]), rel=1e-9)
        pull = -solution.link_force_N[j, 1, side] * solution.link_direction[j, 1, side]
        turned = solution.turned[j, 1, solution.mesh.hole_nodes[side][(setting.right, setting.left)[side]]]
        assert np.allclose(turned @ own, pull) and np.linalg.norm(own - pull) > 0.02 * np.linalg.norm(own)
        others = np.delete(forces[j, 1], [first, first + 1, first + 2])
        assert np.count_nonzero(others) == 3  # the other side's


def test_what_is_kept_out_has_the_beams_stress(solved) -> None:
    found, run = solved, solved.solid
    bar, samples = found.bar, found.samples
    which = solid_places(bar, samples)
    inmost = max(hole.from_tip_mm for hole in bar.right.holes) + KEPT_OUT_DIAMETERS * bar.section.diameter_mm
    assert not which[samples.station_mm < inmost - 1e-6].any()
    assert which[samples.in_bend].all()
    matrix = found.maps.matrix[found.maps.index]
    assert np.all(matrix[which][..., :6] == 0.0) and np.all(matrix[~which][..., 6:] == 0.0)
    assert run.record.places_of_solid == which.sum()


def test_superposed_units_are_the_solid_itself(solved) -> None:
    """One hole setting solved by itself."""
    from barfem.solve.solid.model import JointLoad

    found, run = solved, solved.solid
    forces = joint_forces(found.solution)[0, 1].reshape(-1, 1, 3)
    holes = (*found.bar.right.holes, *found.bar.left.holes)
    result = run.model.solve([JointLoad(hole, force) for hole, force in zip(holes, forces, strict=True)])
    sample = int(np.flatnonzero(found.samples.in_bend)[3])
    index = found.maps.index[sample]
    whole = run.model.surface(result, found.maps.angle_rad[index]).at(found.samples.station_mm[[sample]])[0, ..., 0]
    ours = found.maps.matrix[index] @ found.resultants[0, 1, sample]
    assert found.resultants.shape[1] == STATES
    assert np.allclose(ours, whole, atol=2e-5 * np.abs(whole).max())  # harmonics beyond the fifteenth


def test_wrong_wishes_are_refused() -> None:
    for wish, word in (
        ({"model": "shell"}, "beam or solid"),
        ({"model": "solid", "refine": 9.0}, "1 to 3"),
        ({"vtu": "bar.vtu"}, "solid"),
        ({"refine": 2.0}, "solid"),
        ({"model": "solid", "quick": True}, "--quick"),
    ):
        with pytest.raises(InputError, match=word):
            check_bar(SPLAYED, **wish)  # type: ignore[arg-type]
