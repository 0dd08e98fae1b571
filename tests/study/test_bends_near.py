"""Bends of many bars, told by the drawn bend: held against each bend's own field, from the grid or computed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from barfem.model.bar import Bar
from barfem.model.data_paths import geometries_dir
from barfem.model.read import read_bar
from barfem.solve.solid import bend_tables
from barfem.solve.solid.bend_tables import BendShape, bend_shape
from barfem.solve.solid.bend_tables import bend_source as own_source
from barfem.solve.solid.nearby import bend_source, bends_near, tangent
from barfem.solve.solid.table import BendTable
from barfem.study.change import change
from barfem.study.tolerance import tolerance
from tests.study.bars import SOLID, demo


def at_the_border() -> Bar:
    """A demo bar with small bends of 10 degrees in place of 20: they lie at the border of the grid."""
    drawn = read_bar(geometries_dir() / "coupe-front-bends.toml")
    rows = [[*row[:2], 10, *row[3:]] if row[2:3] == [20] else row for row in drawn.tables["bends"]["rows"]]
    return change(drawn, {"bends.rows": rows})


def greatest(shape: BendShape, source: object) -> np.ndarray:
    """Greatest von Mises stress (3,) of unit T, M_a and M_b over the bend, outside."""
    table = source.table  # type: ignore[attr-defined]
    assert isinstance(table, BendTable)
    maps = table.maps(np.linspace(0.0, table.length_over_diameter, 15), np.linspace(0.0, 2.0 * np.pi, 73), 1.0)
    s, h, t = maps[..., 0, 3:], maps[..., 1, 3:], maps[..., 2, 3:]
    return np.asarray(np.sqrt(s * s - s * h + h * h + 3.0 * t * t).max(axis=(0, 1)))


def moved(shape: BendShape, radius: float = 0.0, angle: float = 0.0, wall: float = 0.0) -> BendShape:
    thick = shape.wall_over_diameter
    return replace(
        shape,
        radius_over_diameter=shape.radius_over_diameter * (1.0 + radius),
        angle_deg=shape.angle_deg + angle,
        wall_over_diameter=None if thick is None else thick * (1.0 + wall),
    )


def near(drawn: BendShape, shape: BendShape) -> object:
    away = {
        "radius_over_diameter": shape.radius_over_diameter / drawn.radius_over_diameter - 1.0,
        "angle_deg": shape.angle_deg - drawn.angle_deg,
    }
    if drawn.wall_over_diameter is not None and shape.wall_over_diameter is not None:
        away["wall_over_diameter"] = shape.wall_over_diameter / drawn.wall_over_diameter - 1.0
    return tangent(drawn).at(shape, away)


@pytest.mark.parametrize(
    ("drawn", "change", "allowed"),
    [
        (BendShape(3.4, 10.0, None), {"radius": -0.03, "angle": 2.0}, 5e-4),
        (BendShape(7.9, 90.0, None), {"radius": -0.03, "angle": 2.0}, 2e-4),
        (BendShape(1.26, 90.0, 0.2), {"wall": 0.08}, 5e-4),
        (BendShape(1.26, 90.0, 0.2), {"wall": -0.08}, 5e-4),
        (BendShape(1.26, 90.0, 0.2), {"radius": 0.03, "angle": -2.0, "wall": -0.08}, 4e-3),
    ],
)
def test_near_the_border_of_the_grid_it_is_the_grid(drawn: BendShape, change: dict[str, float], allowed: float) -> None:
    shape = moved(drawn, **change)
    true, drawns = greatest(shape, own_source(shape)), greatest(drawn, own_source(drawn))
    assert greatest(shape, near(drawn, shape)) == pytest.approx(true, rel=allowed)
    assert np.abs(drawns / true - 1.0).max() > 4.0 * allowed  # and that is not because nothing changes


def test_outside_the_grid_it_is_the_computed_field(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BARFEM_CACHE", str(tmp_path))
    drawn = BendShape(1.6, 30.0, None, nu=0.22)
    shape = moved(drawn, radius=-0.02, angle=1.0)
    assert not drawn.in_grid and not shape.in_grid
    true = own_source(shape)
    assert true.source == "computed"
    assert greatest(shape, near(drawn, shape)) == pytest.approx(greatest(shape, true), rel=1e-3)
    assert np.abs(greatest(drawn, own_source(drawn)) / greatest(shape, true) - 1.0).max() > 3e-3
    # A run that finds a field has the numbers of the run that made it.
    made = own_source(drawn).table
    bend_tables._computed.cache_clear()
    found = own_source(drawn).table
    assert made is not None and found is not None and made is not found
    assert np.array_equal(made.outside, found.outside) and np.array_equal(made.factors, found.factors)


def test_the_drawn_bend_is_its_own() -> None:
    bar = at_the_border()
    with bends_near(bar):
        for bend in bar.centreline.bends:
            shape = bend_shape(bar, bend)
            near_table, own = bend_source(shape).table, own_source(shape).table
            assert near_table is not None and own is not None
            assert np.array_equal(near_table.outside, own.outside) and np.array_equal(near_table.factors, own.factors)


def test_only_bends_like_the_drawn_ones_and_only_meanwhile() -> None:
    bar = at_the_border()
    small = bend_shape(bar, bar.centreline.bends[1])
    outside = replace(small, angle_deg=9.0)
    inside = bend_shape(demo(SOLID), demo(SOLID).centreline.bends[0])
    with bends_near(bar):
        assert not outside.in_grid and bend_source(outside).source == "grid"
        far = replace(small, angle_deg=40.0)
        assert bend_source(far).table is own_source(far).table
    with bends_near(demo(SOLID)):  # well inside the grid: interpolated, as for one bar
        assert bend_source(inside).table is own_source(inside).table
    assert bend_source(inside).table is own_source(inside).table


@pytest.mark.long
def test_a_study_at_the_border_of_the_grid_computes_no_field(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(shape: BendShape) -> None:
        raise AssertionError(f"a field of {shape} was computed")

    monkeypatch.setattr(bend_tables, "_computed", refuse)
    found = tolerance(at_the_border(), samples=16, holes=["1"], case="roll")
    assert not found.unsolved and np.isfinite(found.settings[0].spreads["rate_N_per_mm"].deviation)
