"""Groups of bends: symmetry, what they tend to, and bars near a drawn one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from barfem.model.bar import Bar
from barfem.model.bent_wall import wall_by_rule
from barfem.solve.solid import cache, group_source, groups
from barfem.solve.solid.fields import bend_field, field_density
from barfem.solve.solid.group_solve import solve_group
from barfem.solve.solid.group_source import group_sources
from barfem.solve.solid.group_table import GroupBend, GroupShape, GroupTable
from barfem.solve.solid.groups import GroupSource
from barfem.solve.solid.nearby import bends_near
from barfem.solve.solid.table import BendTable, decay_length, tabulate
from tests.validation.bent_bars import Bent, bent_bar

ANGLES = np.radians(np.arange(0.0, 360.0, 7.5))
MIXED = np.concatenate([np.eye(3), np.random.default_rng(1).normal(size=(8, 3))]).T
LOADS = np.concatenate([np.zeros_like(MIXED), MIXED])


def group(wall: float, angles: list[float], ways: list[float], gaps: list[float], radius: float = 1.6) -> GroupShape:
    walls = wall_by_rule(wall=wall, diameter=1.0, radius=radius)
    bends = [GroupBend(radius, a, w, walls.outside, walls.inside) for a, w in zip(angles, ways, strict=True)]
    return GroupShape(tuple(bends), tuple(gaps), wall)


def peaks(table: GroupTable | BendTable, low: float, high: float, way: float = 0.0) -> np.ndarray:
    """Greatest von Mises stress outside, between two stations, under torque, bending and mixtures of them."""
    maps = table.maps(np.linspace(low, high, 41), ANGLES, 1.0, inward_angle_rad=np.radians(way))
    s, h, t = np.moveaxis(maps @ LOADS, 2, 0)
    return np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max(axis=(0, 1)))


SHAPE = group(0.12, [60.0, 40.0], [35.0, 125.0], [0.4])


@pytest.fixture(scope="module")
def solved() -> GroupTable:
    return solve_group(SHAPE)


@pytest.mark.parametrize(
    ("backwards", "mirrored"),
    [
        pytest.param(True, False, marks=pytest.mark.long),
        pytest.param(False, True, marks=pytest.mark.long),
        (True, True),
    ],
)
def test_a_group_seen_otherwise_has_the_same_stress(solved: GroupTable, backwards: bool, mirrored: bool) -> None:
    """From its other end, in a mirror, and both: solved anew, and carried back into the bar's frame."""
    (other,) = (one for one, b, m in SHAPE.variants if (b, m) == (backwards, mirrored))
    table = replace(solve_group(other), reversed_=backwards, mirrored=mirrored)
    x = np.linspace(-1.2, SHAPE.length + 1.2, 25)
    ours = solved.maps(x, ANGLES, 1.0)
    way = np.radians(SHAPE.bends[-1 if backwards else 0].inward_deg)
    theirs = table.maps(x, ANGLES, 1.0, inward_angle_rad=way)
    assert np.abs(ours - theirs).max() < 1e-5 * np.abs(ours).max()
    # What end loads tell of out-of-plane bending and torsion is shared out from the far end.
    assert table.bend_factors == pytest.approx(solved.factors, rel=0.015)


def test_all_four_have_one_canonical_shape() -> None:
    shapes = {one.canonical[0] for one, _, _ in SHAPE.variants}
    assert len(shapes) == 1 and SHAPE.canonical[0] in shapes


def test_a_group_of_one_is_its_bend() -> None:
    shape = group(0.12, [60.0], [0.0], [])
    field = bend_field(
        radius_over_diameter=1.6, angle_deg=60.0, wall_over_diameter=0.12, density=field_density(shape.length)
    )
    x = np.linspace(-1.0, shape.length + 1.0, 9)
    table = solve_group(shape)
    assert np.allclose(table.maps(x, ANGLES, 1.0), tabulate(field).maps(x, ANGLES, 1.0), atol=2e-3 * 80.0)
    assert table.factors[0] == pytest.approx(list(field.factors.values()))


@pytest.mark.long
def test_pulled_apart_a_group_tends_to_its_bends() -> None:
    """By decay lengths of straight between: their own fields miss less and less."""
    wall = 0.12
    own = [
        tabulate(
            bend_field(
                radius_over_diameter=1.6,
                angle_deg=angle,
                wall_over_diameter=wall,
                density=field_density(1.6 * angle / 60),
            )
        )
        for angle in (60.0, 40.0)
    ]
    off = []
    for lengths in (0.0, 2.0, 4.0):
        gap = lengths * decay_length(wall)
        shape = group(wall, [60.0, 40.0], [0.0, 180.0], [gap])
        table = solve_group(shape)
        tangents = shape.tangents
        worst = 0.0
        for number, (single, way) in enumerate(zip(own, (0.0, 180.0), strict=True)):
            low, high = tangents[2 * number : 2 * number + 2]
            theirs = peaks(single, 0.0, high - low, way)
            worst = max(worst, float(np.abs(theirs / peaks(table, low, high) - 1.0).max()))
        off.append(worst)
    assert off[0] > 0.03 and 0.006 < off[1] < 0.03 and off[2] < 0.004, off


def tube(*, gap: float = 12.0, radius: float = 42.0, angle: float = 60.0, wall: float = 3.0, way: float = 90.0) -> Bar:
    return bent_bar("made up", Bent(26.0, wall, ((radius, 70.0, 0.0), (radius, angle, way)), (gap,)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fields")


@pytest.mark.long
def test_bars_near_a_drawn_one_need_no_field_of_their_own(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each band at an end at once: the drawn group's field taken further, within 0.5 % of the bar's own."""
    monkeypatch.setenv(cache.FOLDER_VARIABLE, str(folder))
    groups.solved_group.cache_clear()
    near = tube(gap=13.0, radius=42.8, angle=61.0, wall=2.85, way=91.0)
    ((_, own), _) = group_sources(near)
    with bends_near(tube()):
        solves: list[object] = []
        monkeypatch.setattr("barfem.solve.solid.group_solve.solve_group", lambda *args, **how: solves.append(args))
        (one, source), (other, same) = group_sources(near)
    assert not solves
    assert own.table is not None and source.table is not None and same.table is not None
    for bend in one.bends:
        low, high = ((station - one.start_mm) / 26.0 for station in (bend.start_station_mm, bend.end_station_mm))
        found = []
        for table in (source.table, own.table):
            way = np.degrees(one.bends[-1 if table.reversed_ else 0].inward_angle_rad)
            found.append(peaks(table, low, high, way))
        assert found[0] == pytest.approx(found[1], rel=0.005)
    assert source.table.bend_factors == pytest.approx(own.table.bend_factors, rel=0.01)
    assert same.table.bend_factors[::-1] == pytest.approx(source.table.bend_factors, rel=1e-9)
    assert one.shape == other.shape


def test_a_group_is_solved_once_and_kept(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(cache.FOLDER_VARIABLE, str(folder))
    first = [found.table for _, found in group_sources(tube())]
    groups.solved_group.cache_clear()
    monkeypatch.setattr("barfem.solve.solid.group_solve.solve_group", None)  # to solve it again would fail
    again = [found.table for _, found in group_sources(tube())]
    for one, two in zip(first, again, strict=True):
        assert one is not None and two is not None and np.array_equal(one.outside, two.outside)


@pytest.mark.parametrize("more", [-0.12, -0.05, 0.03, 0.10, 0.15])
def test_a_group_told_by_its_neighbours_goes_with_the_wall_as_a_parabola(monkeypatch, more: float) -> None:
    """A field made up, 3 + 5 x + 40 x^2 of a wall thicker by the share x, and as straight in every other measure: the
    drawn group and those a step to either side give it back at any wall, whatever else is changed beside.
    """

    def made_up(shape: GroupShape, *_: object) -> GroupSource:
        x = (shape.wall_over_diameter or 0.0) / 0.12 - 1.0
        size = 3.0 + 5.0 * x + 40.0 * x**2 + 0.1 * (shape.bends[0].angle_deg - 60.0) + 0.7 * (shape.gaps[0] - 0.4)
        one = np.ones((4, 3, 3, 6))
        stations = np.linspace(0.0, 1.0, 4)
        return GroupSource(GroupTable(shape, stations, size * one, -size * one, 2.0 * size * np.ones((2, 3))))

    monkeypatch.setattr(group_source, "solved_group", made_up)
    monkeypatch.setattr(group_source, "kept_group", made_up)
    group_source._tangent.cache_clear()
    try:
        tangent = group_source._tangent(SHAPE)
    finally:
        group_source._tangent.cache_clear()
    other = group(0.12 * (1.0 + more), [62.0, 40.0], [35.0, 125.0], [0.45])
    away = group_source._away(SHAPE, other)
    assert away is not None
    found, wanted = tangent.at(other, away).table, made_up(other).table
    assert found is not None and wanted is not None and found.bore is not None and wanted.bore is not None
    np.testing.assert_allclose(found.outside, wanted.outside, rtol=1e-9)
    np.testing.assert_allclose(found.bore, wanted.bore, rtol=1e-9)
    np.testing.assert_allclose(found.factors, wanted.factors, rtol=1e-9)
