"""`--model solid` in the whole check."""

from __future__ import annotations

import copy
import io
import json
from pathlib import Path

import meshio
import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.solid import KEPT_OUT_DIAMETERS, joint_forces, solid_loads, solid_places, solve_solid
from barfem.check.solved import STATES, Solved
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from tests.check.bar_files import BUILT
from tests.model.bar_data import changed
from tests.often import often

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


@pytest.mark.long
def test_a_bar_that_turns_freely_has_no_rate_in_parallel_and_no_error_of_one(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The solid's is rounding: it had a rise to the next hole, and its error stood for that of the other cases."""
    main(["check", str(SPLAYED), "--model", "solid", "--case", "parallel", "--json", "-"])
    result = json.loads(capsys.readouterr().out)
    assert {row["case"] for row in result["settings"]} == {"parallel"}
    for row in result["settings"]:
        assert row["rate_initial_N_per_mm"] == 0.0 and row["step_to_next_percent"] is None
    assert result["solid"]["estimated_error_rate"] == 0.0


@pytest.mark.parametrize(
    ("case", "demo", "length_error_mm"),
    often(
        [
            # A link 8 mm short: tensioned links stiffen as they swing, and the preload has turned the arms.
            ("one-wheel", "coupe-rear-cranked", -8.0),
            # Arms of unlike length pull against each other: the mean force on both pickups is a sixtieth of either.
            ("parallel", "pickup-rear-unequal", 0.0),
        ],
        2,
    ),
)
def test_the_rate_at_rest_is_the_beams_in_every_case_preloaded_or_not(
    case: str, demo: str, length_error_mm: float
) -> None:
    """The solid left out what preload does (3 % here), and in parallel took the mean of the forces' sizes."""
    tables = copy.deepcopy(read_bar(DEMOS / f"{demo}.toml").tables)
    if length_error_mm:
        tables["links"]["left"] = tables["links"].get("left", {}) | {"length_error": length_error_mm}
    bar = bar_from_dict(tables)
    beam, solid = check_bar(bar, case=case), check_bar(bar, case=case, model="solid")
    for row, other in zip(solid.settings, beam.settings, strict=True):
        assert row.rate_initial_N_per_mm == pytest.approx(other.rate_initial_N_per_mm, rel=0.002)


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


def test_mounts_that_lean_a_degree_do_not_bend_a_bar_that_turns_in_them() -> None:
    """Straights hold a beam's stress exactly, so that there both models must agree.

    Both mounts' axes lie half a degree off the line between them, and the arms are unlike. Turned back, the joint
    forces had 1 N m of 300 left over about that line; the solid turned through a whole circle until its leaning
    bushings carried it, and straights in the middle had 12 % too much.
    """
    bar = bar_from_dict(
        changed(
            ("section.diameter", 22.0),
            ("centreline.points", [[-290, -470, 15], [2, -430, -5], [0, -240, -3], [50, -125, 0], [30, 100, 10],
                                   [-2, 210, -3], [-5, 435, -1], [-280, 470, -15]]),
            ("centreline.bend_radius", 40.0),
            ("ends.holes", [{"name": "1", "from_tip": 25.0}]),
            ("mounts", [{"from_middle": y, "radial_stiffness": k, "axial_stiffness": 150.0, "length": 40.0}
                        for y, k in ((-315.0, 3000.0), (335.0, 5000.0))]),
            ("links", {"right": {"length": 200.0, "direction": [0.0, 0.15, -1.0]},
                       "left": {"length": 130.0, "direction": [-0.2, 0.18, -1.0]}}),
            ("travel.pickup", 23.0),
            base=BUILT,
        )
    )  # fmt: skip
    beam, solid = (check_bar(bar, model=model).settings[0] for model in ("beam", "solid"))
    assert solid.peak.von_mises_MPa == pytest.approx(beam.peak.von_mises_MPa, rel=0.03)
    straights = [
        (one.von_mises_MPa, other.von_mises_MPa)
        for one, other in zip(beam.places, solid.places, strict=True)
        if one.kind == "straight" and one.von_mises_MPa > 0.5 * beam.peak.von_mises_MPa
    ]
    assert len(straights) >= 5
    for ours, theirs in straights:
        assert theirs == pytest.approx(ours, rel=0.02)


def test_what_is_kept_out_has_the_beams_stress(solved) -> None:
    found, run = solved, solved.solid
    bar, samples = found.bar, found.samples
    which = solid_places(bar, samples)
    inmost = max(hole.from_tip_mm for hole in bar.right.holes) + KEPT_OUT_DIAMETERS * bar.section.diameter_mm
    assert not which[samples.station_mm < inmost - 1e-6].any()
    assert which[samples.in_bend].all()
    matrix = found.maps.matrix[found.maps.index]
    own = run.unit_mm.shape[-1]
    assert np.all(matrix[which][..., :-own] == 0.0) and np.all(matrix[~which][..., -own:] == 0.0)
    assert run.record.places_of_solid == which.sum()


def test_superposed_units_are_the_solid_itself(solved) -> None:
    """One hole setting solved by itself."""
    from barfem.solve.solid.model import JointLoad

    found, run = solved, solved.solid
    loads = solid_loads(found.solution)[0, 1]
    forces, torque = loads[:-1].reshape(-1, 1, 3), loads[-1:]
    assert 0.0 < abs(float(torque[0])) < 0.02 * abs(found.resultants[0, 1, len(found.samples.station_mm) // 2, 3])
    holes = (*found.bar.right.holes, *found.bar.left.holes)
    result = run.model.solve(
        [JointLoad(hole, force) for hole, force in zip(holes, forces, strict=True)], torque_Nmm=torque
    )
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


@pytest.mark.long
def test_a_disk_without_room_costs_the_file_and_not_the_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A limit on the size of files stops the writing of both files midway, as a full disk does."""
    resource = pytest.importorskip("resource")
    check_bar(SPLAYED)  # whatever is cached is there
    target, vtu = tmp_path / "result.json", tmp_path / "bar.vtu"
    for path in (target, vtu):
        path.write_text("what stood here before")
    capsys.readouterr()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    try:
        with monkeypatch.context() as patch:
            kept: list[str] = []
            patch.setattr("sys.stdout", _Lines(kept))
            patch.setattr("sys.stderr", _Lines(kept))
            status = main(["check", str(SPLAYED), "--model", "solid", "--vtu", str(vtu), "--json", str(target)])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    words = "".join(kept)
    assert status == 2
    assert "VERDICT" in words and "could not be written" in words.splitlines()[-1]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bar.vtu", "result.json"]
    assert {path.read_text() for path in (target, vtu)} == {"what stood here before"}


class _Lines(io.TextIOBase):
    """A stream in memory: a limit on files would hold for those that pytest captures into."""

    def __init__(self, kept: list[str]) -> None:
        self._kept = kept

    def write(self, text: str) -> int:
        self._kept.append(text)
        return len(text)


@pytest.mark.long
def test_more_memory_than_there_is_room_for_is_refused_before_it_is_taken() -> None:
    with pytest.raises(InputError, match=r"--refine: the solid refined 3 times would take \d+ GB .* at most 2\.\d for"):
        check_bar(SPLAYED, model="solid", refine=3.0)


@pytest.mark.long
def test_refined_it_errs_less(solved: Solved) -> None:
    assert solved.solid is not None
    first, second = solved.solid.record, check_bar(SPLAYED, model="solid", case="roll", refine=1.4).solid
    assert second is not None
    assert second.unknowns > 1.5 * first.unknowns
    assert second.estimated_error < first.estimated_error < 0.01


@pytest.mark.long
def test_up_and_down_that_differ_are_the_beams_case(solved: Solved) -> None:
    """The rate at rest of each end over its own travel, and steps between holes by it."""
    from barfem.study.change import change

    bar = change(read_bar(SPLAYED), {"travel": {"up": 26.0, "down": 14.0, "direction": [0, 0, 1]}})
    beam, solid = check_bar(bar, case="roll"), check_bar(bar, case="roll", model="solid")
    for row, other in zip(solid.settings, beam.settings, strict=True):
        assert row.rate_initial_N_per_mm == pytest.approx(other.rate_initial_N_per_mm, rel=0.01)
        assert row.wheel_rate_N_per_mm is None
    rates = [row.rate_initial_N_per_mm for row in solid.settings]
    assert None not in rates
    assert solid.settings[0].step_to_next_percent == pytest.approx(100.0 * (rates[1] / rates[0] - 1.0))
