"""Corner points to bend rows and back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from barfem.model.errors import InputError
from barfem.model.lra import BendRow, reversed_rows, rows_from_centreline, rows_from_points
from barfem.model.points import polyline_centreline
from tests.model.rows import points_from_rows

POINTS = [[0, 0, 0], [250, 0, 0], [300, 200, 50], [300, 800, 50], [250, 1000, 0], [0, 1000, 0]]

# Computed independently for these points at R 50 (four decimals): length, rotation, angle.
EXAMPLE = [
    (210.6772, 0.0, 76.3670),
    (164.2306, -46.6861, 19.4712),
    (582.8427, 0.0, 19.4712),
    (164.2306, 46.6861, 76.3670),
    (210.6772, None, None),
]


@pytest.mark.parametrize("form", ["points", "centreline"])
def test_the_worked_example(form: str) -> None:
    if form == "points":
        rows = rows_from_points(points_mm=POINTS, bend_radii_mm=50.0)
    else:
        rows = rows_from_centreline(polyline_centreline(points_mm=POINTS, bend_radii_mm=50.0))
    assert len(rows) == len(EXAMPLE)
    for row, (length, rotation, angle) in zip(rows, EXAMPLE, strict=True):
        assert row.length_mm == pytest.approx(length, abs=5e-5)
        if angle is None:
            assert row.angle_deg is None and row.radius_mm is None
            continue
        assert row.rotation_deg == pytest.approx(rotation, abs=5e-5)
        assert row.angle_deg == pytest.approx(angle, abs=5e-5)
        assert row.radius_mm == 50.0


def test_a_planar_u_by_hand() -> None:
    rows = rows_from_points(points_mm=[[250, -550, 0], [0, -550, 0], [0, 550, 0], [250, 550, 0]], bend_radii_mm=50.0)
    assert [row.length_mm for row in rows] == pytest.approx([200, 1000, 200])
    assert [row.angle_deg for row in rows[:-1]] == pytest.approx([90, 90])
    assert [row.rotation_deg for row in rows[:-1]] == pytest.approx([0, 0], abs=1e-12)


def test_a_z_shape_rotates_by_half_a_turn_and_never_by_minus_half() -> None:
    rows = rows_from_points(points_mm=[[0, 0, 0], [200, 0, 0], [200, 400, 0], [400, 400, 0]], bend_radii_mm=50.0)
    assert rows[1].rotation_deg == pytest.approx(180.0)


lengths = st.floats(50.0, 600.0)
bends = st.tuples(lengths, st.floats(-179.0, 179.0), st.floats(2.0, 150.0), st.floats(20.0, 120.0))
units = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1)


@settings(max_examples=60, deadline=None)
@given(rows=st.lists(bends, min_size=1, max_size=6), last=lengths, direction=units, towards=units)
def test_rows_to_points_to_rows(rows, last, direction, towards) -> None:
    if np.linalg.norm(np.cross(direction, towards)) < 1e-2:
        return
    start = [
        BendRow(length, 0.0 if i == 0 else turn, angle, radius) for i, (length, turn, angle, radius) in enumerate(rows)
    ]
    start.append(BendRow(last))
    points, radii = points_from_rows(start, start_mm=[10, -20, 30], direction=direction, first_bend_towards=towards)
    back = rows_from_points(points_mm=points, bend_radii_mm=radii)
    built = rows_from_centreline(polyline_centreline(points_mm=points, bend_radii_mm=radii))
    for found in (back, built):
        assert len(found) == len(start)
        for row, given_row in zip(found, start, strict=True):
            assert row.length_mm == pytest.approx(given_row.length_mm, abs=1e-6)
            if given_row.angle_deg is not None:
                assert row.rotation_deg == pytest.approx(given_row.rotation_deg, abs=1e-6)
                assert row.angle_deg == pytest.approx(given_row.angle_deg, abs=1e-8)
    again, _ = points_from_rows(
        back, start_mm=points[0], direction=points[1] - points[0], first_bend_towards=points[2] - points[1]
    )
    assert again == pytest.approx(points, abs=1e-5)


@settings(max_examples=40, deadline=None)
@given(rows=st.lists(bends, min_size=1, max_size=6), last=lengths)
def test_rows_from_the_other_tip(rows, last) -> None:
    start = [
        BendRow(length, 0.0 if i == 0 else turn, angle, radius) for i, (length, turn, angle, radius) in enumerate(rows)
    ]
    start.append(BendRow(last))
    points, radii = points_from_rows(start, start_mm=[0, 0, 0], direction=[1, 0, 0], first_bend_towards=[0, 1, 0])
    from_other_tip = rows_from_points(points_mm=points[::-1], bend_radii_mm=radii[::-1])
    for ours, theirs in zip(reversed_rows(start), from_other_tip, strict=True):
        assert ours.length_mm == pytest.approx(theirs.length_mm, abs=1e-6)
        assert ours.rotation_deg == pytest.approx(theirs.rotation_deg, abs=1e-6)
        if ours.angle_deg is not None:
            assert ours.angle_deg == pytest.approx(theirs.angle_deg, abs=1e-8)
    assert reversed_rows(reversed_rows(start)) == tuple(start)


def test_a_hairpin_has_no_corner_point() -> None:
    with pytest.raises(InputError, match="180 deg has no corner"):
        points_from_rows(
            [BendRow(100, 0, 180, 50), BendRow(100)],
            start_mm=[0, 0, 0],
            direction=[1, 0, 0],
            first_bend_towards=[0, 1, 0],
        )
    line = [BendRow(100, 0, 179.9, 50), BendRow(100)]
    points, _ = points_from_rows(line, start_mm=[0, 0, 0], direction=[1, 0, 0], first_bend_towards=[0, 1, 0])
    assert points[1, 0] == pytest.approx(100 + 50 * math.tan(math.radians(89.95)))
