"""What a viewer is shown at the solid's nodes is what the check says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest

from barfem.check.check import check_solved
from barfem.check.solid import solid_assumptions, solve_solid
from barfem.check.solid_fields import FACTOR_CAP, INSIDE_THE_STEEL, SolidFields, solid_fields, write_solid
from barfem.check.solved import Solved, solve_states
from barfem.check.whole_bar import surface_fields
from barfem.model.bar_geometry import strength_scale
from barfem.model.errors import BarfemError
from barfem.model.read import read_bar
from barfem.strength.fatigue.assess import LifeStatus
from barfem.strength.section_map import BORE, OUTSIDE
from barfem.study.change import change

DEMOS = Path(__file__).parents[2] / "geometries"
CHANGES = {
    # A bend made cold, softer ends, a cycle with a mean: whatever differs from place to place.
    "coupe-rear-cranked": {
        "material.bent": "after-hardening",
        "material.surface": "as-hardened-scaled",
        "ends.strength_scale": 0.4,
        "duty.ratio": -0.4,
        "travel.pickup": 30.0,
    },
    "pickup-rear-tube": {},
}


# A tube's solid takes three times as long as a bar's.
@pytest.fixture(
    scope="module",
    params=[pytest.param(name, marks=[pytest.mark.long] if "tube" in name else []) for name in CHANGES],
)
def bar(request: pytest.FixtureRequest) -> tuple[Solved, SolidFields]:
    found = change(read_bar(DEMOS / f"{request.param}.toml"), CHANGES[request.param])
    found = replace(found, mounts=tuple(replace(one, contact="bonded") for one in found.mounts))
    # Holes and contacts, which no node shows, out of the way: holes without a diameter are not checked.
    ends = {
        end.side: replace(end, holes=tuple(replace(one, diameter_mm=None) for one in end.holes)) for end in found.ends
    }
    found = replace(found, **ends)
    solved = solve_solid(found, cases=("roll",))
    return solved, solid_fields(solved, len(solved.solution.settings) - 1)


def nearest(mesh, stations: np.ndarray) -> np.ndarray:  # type: ignore[no-untyped-def]
    return np.abs(mesh.stations[:, None] - stations).argmin(axis=0)


def test_nodes_have_the_checks_numbers_where_both_look(bar: tuple[Solved, SolidFields]) -> None:
    """At the tangents, outside and bore, all round: one over margin and safety factor, between the check's points.

    Those lie 5 degrees apart. A node's number lies between its two neighbours', or beyond them at an extreme by
    (5 deg)^2 / 8 = 0.1 %; by more where residual stress begins to relax, which is a kink that rises by up to a tenth in
    a step.
    """
    solved, shown = bar
    assert solved.solid is not None
    mesh = solved.solid.model.mesh
    fields, number = surface_fields(solved), len(solved.solution.settings) - 1
    bends = np.array([region.kind == "bend" for region in fields.regions])[fields.region]
    planes = nearest(mesh, fields.station_mm)
    met = np.flatnonzero(bends & (np.abs(mesh.stations[planes] - fields.station_mm) < 1e-9))
    # Where a soft end stops at a tangent, its nodes have the softer side's strength.
    met = met[strength_scale(solved.bar, fields.station_mm[met]) == fields.strength_scale[met]]
    assert len(met) >= 4
    for row in met:
        plane = planes[row]
        here = (solved.samples.station_mm == fields.station_mm[row]) & solved.samples.in_bend
        index = solved.maps.index[np.flatnonzero(here)[0]]
        for code, nodes in ((OUTSIDE, mesh.grid.outer), (BORE, mesh.grid.bore)):
            points = np.flatnonzero(solved.maps.surface == code)
            if not len(points):
                continue
            angles = mesh.grid.angles + mesh.grid_angles[plane]
            for name, offset in (("yield_margin", 1.0), ("safety_factor", 0.0)):
                values = 1.0 / (offset + getattr(fields, name)[number, row, points])
                values = np.maximum(values, 1.0 / (offset + FACTOR_CAP))
                around = np.mod(solved.maps.angle_rad[index, points], 2.0 * np.pi)
                order = np.argsort(around)
                after = np.searchsorted(around[order], np.mod(angles, 2.0 * np.pi)) % len(points)
                beside = values[order[after]], values[order[after - 1]]
                ours = 1.0 / (offset + getattr(shown, name)[plane, nodes])
                assert np.all(ours <= np.maximum(*beside) + 0.02 * values.max()), name
                assert np.all(ours >= np.minimum(*beside) - 0.02 * values.max()), name
            assert np.all(shown.judged[plane, nodes] == 1)


@pytest.mark.long
@pytest.mark.parametrize("bar", ["pickup-rear-tube"], indirect=True)
def test_the_worst_node_is_the_checks_governing_place(bar: tuple[Solved, SolidFields]) -> None:
    """Nodes and the check's sections lie at other places: within half a per cent of stress."""
    solved, shown = bar
    row = check_solved(solved).settings[-1]
    judged = shown.judged == 1
    margin = min(place.yield_margin for place in row.places if place.kind in ("bend", "straight"))
    assert 1.0 + shown.yield_margin[judged].min() == pytest.approx(1.0 + margin, rel=0.005)
    assert row.fatigue.where == row.peak.where or "bend" in row.fatigue.where  # no hole, no contact
    assert shown.safety_factor[judged].min() == pytest.approx(row.fatigue.safety_factor_at_target, rel=0.005)
    life = row.fatigue.life_at_survival_cycles, row.fatigue.life_cycles
    assert None not in life
    assert shown.log10_life_at_survival_cycles[judged].min() == pytest.approx(np.log10(life[0]), abs=0.03)
    assert shown.log10_life_median_cycles[judged].min() == pytest.approx(np.log10(life[1]), abs=0.03)
    if row.peak.at == "travel":
        assert shown.von_mises_MPa[judged].max() == pytest.approx(row.peak.von_mises_MPa, rel=0.005)


def test_the_bore_has_an_error_of_its_own(bar: tuple[Solved, SolidFields]) -> None:
    solved, _ = bar
    assert solved.solid is not None
    record, words = solved.solid.record, solid_assumptions(solved.bar, solved.solid.record)
    tube = solved.bar.section.shape == "tube"
    assert 0.0 < record.estimated_error_rate < 0.002
    if tube:
        assert record.estimated_error_bore is not None and 1e-5 < record.estimated_error_bore < 0.03
    else:
        assert record.estimated_error_bore is None
    assert any("% in the bore" in text for text in words) == tube
    # A pressed flat is joined at its folds in the solid alone, and the result says so.
    assert any("folded edges; the beam leaves them apart" in text for text in words) == tube


def test_lives_that_there_are_none_of_are_coded(bar: tuple[Solved, SolidFields]) -> None:
    solved, shown = bar
    assert solved.solid is not None
    grid = solved.solid.model.mesh.grid
    surface = np.zeros(grid.size, bool)
    surface[grid.outer] = surface[grid.bore.astype(int)] = True
    assert np.all((shown.life_status == INSIDE_THE_STEEL) == ~surface)
    assert not shown.judged[:, ~surface].any()
    assert np.all(shown.log10_life_at_survival_cycles[:, ~surface] == 7.0)
    beyond = shown.life_status == LifeStatus.BEYOND_KNEE
    assert beyond.any() and np.all(shown.log10_life_median_cycles[beyond] == 7.0)
    stands = shown.life_status == LifeStatus.STANDS
    assert stands.any() and np.all(shown.log10_life_median_cycles[stands] <= 7.0)
    assert shown.yield_margin.max() <= FACTOR_CAP and shown.safety_factor.max() <= FACTOR_CAP


@pytest.mark.long
def test_above_yield_there_is_no_life() -> None:
    found = change(read_bar(DEMOS / "coupe-front-splayed.toml"), {"material.yield_strength": 250.0})
    solved = solve_solid(found, cases=("roll",))
    shown = solid_fields(solved, len(solved.solution.settings) - 1)
    assert shown.yield_margin.min() < 0.0
    above = shown.life_status == LifeStatus.ABOVE_YIELD
    assert np.all(above == ((shown.yield_margin < 0.0) & (shown.life_status != INSIDE_THE_STEEL)))
    assert above.any() and np.all(shown.log10_life_median_cycles[above] == 0.0)


def test_softer_ends_are_softer_in_the_file(bar: tuple[Solved, SolidFields]) -> None:
    solved, shown = bar
    assert solved.solid is not None
    mesh, end = solved.solid.model.mesh, solved.bar.right
    scale = end.strength_scale
    strength = scale * solved.bar.steel.yield_strength_MPa
    soft = end.flat.length_mm if end.flat else solved.bar.centreline.bends[0].start_station_mm
    plane = int(np.flatnonzero(mesh.stations < soft - 1e-6)[-1])
    least = (strength / shown.von_mises_MPa[plane] - 1.0).min()
    assert least < FACTOR_CAP or scale == 1.0
    # The other end of the cycle may be a little worse than travel.
    assert shown.yield_margin[plane].min() == pytest.approx(min(least, FACTOR_CAP), abs=0.05)


def test_written_with_units_in_its_names(bar: tuple[Solved, SolidFields], tmp_path: Path) -> None:
    solved, shown = bar
    path = tmp_path / "bar.vtu"
    write_solid(path, solved, len(solved.solution.settings) - 1)
    read = meshio.read(path)
    assert set(read.point_data) == set(vars(shown))
    for name, values in read.point_data.items():
        assert np.isfinite(values).all()
        assert np.array_equal(values, getattr(shown, name).reshape(values.shape)), name
    assert read.point_data["stress_MPa"].shape[1] == 9
    assert read.point_data["displacement_mm"].shape[1] == 3


def test_a_beam_has_nothing_to_show() -> None:
    solved = solve_states(read_bar(DEMOS / "coupe-front-splayed.toml"), cases=("roll",))
    with pytest.raises(BarfemError, match="no solid"):
        solid_fields(solved, 0)
