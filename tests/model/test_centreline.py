"""Straights and true arcs: developed length by hand, frames, and the three ways to give one bar."""

from __future__ import annotations

import math

import numpy as np
import pytest

from barfem.model.arms import Crank, arm_points
from barfem.model.bend_rows import rows_centreline
from barfem.model.errors import InputError
from barfem.model.lra import BendRow, rows_from_centreline
from barfem.model.points import polyline_centreline
from barfem.model.read import bar_from_dict
from tests.model.bar_data import DELETE, changed

# A bar that uses all three dimensions: the worked example of the bend rows (see test_lra).
CRANKED = np.array([[0, 0, 0], [250, 0, 0], [300, 200, 50], [300, 800, 50], [250, 1000, 0], [0, 1000, 0]], dtype=float)
BARS = {
    "planar U": ([[-250, -550, 0], [0, -550, 0], [0, 550, 0], [-250, 550, 0]], 50.0),
    "cranked": (CRANKED, 50.0),
    "radius of each bend": (CRANKED, [30.0, 60.0, 45.0, 80.0]),
    "arms straight up": ([[0, -500, 300], [0, -500, 0], [0, 500, 0], [0, 500, 300]], 60.0),
    "straight": ([[0, -500, 0], [0, 500, 0]], 50.0),
}


@pytest.fixture(params=BARS)
def centreline(request):
    points, radii = BARS[request.param]
    return polyline_centreline(points_mm=points, bend_radii_mm=radii)


def test_developed_length_of_a_planar_u_by_hand() -> None:
    # Arms of 250 mm and a back of 1100 mm between corners, less 4 tangents of R tan 45 deg, plus 2 quarter circles.
    by_hand = 2 * (250 - 50) + (1100 - 2 * 50) + 2 * (math.pi / 2 * 50)
    found = polyline_centreline(points_mm=BARS["planar U"][0], bend_radii_mm=50.0)
    assert found.length_mm == pytest.approx(by_hand, abs=1e-10)
    # Independently computed for this bar: 1557.0796 (four decimals).
    assert found.length_mm == pytest.approx(1557.0796, abs=5e-5)


def test_developed_length_of_a_cranked_bar() -> None:
    # Independently computed for these points at R 50: 1499.9275 (four decimals).
    assert polyline_centreline(points_mm=CRANKED, bend_radii_mm=50.0).length_mm == pytest.approx(1499.9275, abs=5e-5)


def test_the_ends_are_where_the_drawing_has_them(centreline) -> None:
    for points, radii in BARS.values():
        line = polyline_centreline(points_mm=points, bend_radii_mm=radii)
        ends, _ = line.evaluate([0.0, line.length_mm])
        assert ends == pytest.approx(np.array([points[0], points[-1]], float), abs=1e-9)


def test_an_arc_is_a_circle_tangent_to_both_straights() -> None:
    # In a bend of angle A and radius R the middle of the arc lies R (1 / cos(A / 2) - 1) from the corner (any table of
    # plane geometry), on the line that halves the corner.
    line = polyline_centreline(points_mm=CRANKED, bend_radii_mm=BARS["radius of each bend"][1])
    for bend, corner in zip(line.bends, CRANKED[1:-1], strict=True):
        middle, _ = line.evaluate(0.5 * (bend.start_station_mm + bend.end_station_mm))
        away = np.linalg.norm(middle[0] - corner)
        assert away == pytest.approx(bend.radius_mm * (1 / math.cos(bend.bend_angle_rad / 2) - 1), abs=1e-9)


def test_the_bar_is_continuous_and_has_unit_speed(centreline) -> None:
    s = np.linspace(0, centreline.length_mm, 20001)
    points, frames = centreline.evaluate(s)
    steps = np.diff(points, axis=0) / np.diff(s)[:, None]
    # A chord of length h on radius R is shorter than its arc by h^2 / 24 R^2: below 1e-6 here.
    assert np.linalg.norm(steps, axis=1) == pytest.approx(1.0, abs=1e-6)
    # It points along t at its middle but for h^2 / 24 R^2; a tangent point inside it costs h / 2 R: 1e-3.
    assert np.abs(steps - 0.5 * (frames[1:, 0] + frames[:-1, 0])).max() < 1e-3


def test_frames_are_orthonormal_right_handed_and_turn_only_with_the_tangent(centreline) -> None:
    s = np.linspace(0, centreline.length_mm, 4001)
    _, frames = centreline.evaluate(s)
    assert np.einsum("nij,nkj->nik", frames, frames) == pytest.approx(
        np.broadcast_to(np.eye(3), (4001, 3, 3)), abs=1e-12
    )
    assert np.linalg.det(frames) == pytest.approx(1.0, abs=1e-12)
    # Free of twist: a changes along t alone, but for third order in the step over the radius, 0.4 / 30. A frame that
    # turned with the bends' planes would turn 46 deg over 164 mm: 2e-3 a step.
    change = np.diff(frames[:, 1], axis=0)
    assert np.abs(np.sum(change * 0.5 * (frames[:-1, 2] + frames[1:, 2]), axis=1)).max() < 2e-6


def test_curvature_is_the_rate_at_which_the_tangent_turns() -> None:
    line = polyline_centreline(points_mm=CRANKED, bend_radii_mm=50.0)
    for bend in line.bends:
        s = 0.5 * (bend.start_station_mm + bend.end_station_mm)
        _, frames = line.evaluate([s - 1e-3, s, s + 1e-3])
        turning = (frames[2, 0] - frames[0, 0]) / 2e-3
        about = line.curvature(s)[0] @ frames[1]
        assert np.cross(about, frames[1, 0]) == pytest.approx(turning, abs=1e-9)
        assert np.linalg.norm(about) == pytest.approx(1 / 50.0, rel=1e-12)


def test_a_right_handed_rotation_by_hand() -> None:
    # Feed along x, first bend to the left (+y): the bar then runs along +y, and the bend's inside is its -x side.
    # A quarter turn right-handed about +y carries -x to +z, so the second bend goes up.
    rows = [BendRow(100, 0, 90, 40), BendRow(100, 90, 90, 40), BendRow(100)]
    line = rows_centreline(
        rows, start_tip="right", start_mm=[0, 0, 0], direction=[1, 0, 0], first_bend_towards=[0, 1, 0]
    )
    points, frames = line.evaluate(line.length_mm)
    assert frames[0, 0] == pytest.approx([0, 0, 1], abs=1e-12)
    assert points[0] == pytest.approx([140, 180, 140], abs=1e-9)


def test_a_hairpin_of_the_bends_form_has_its_legs_two_radii_apart() -> None:
    rows = [BendRow(300, 0, 180, 60), BendRow(200)]
    line = rows_centreline(
        rows, start_tip="right", start_mm=[0, -60, 0], direction=[2, 0, 0], first_bend_towards=[0, 3, 0]
    )
    points, frames = line.evaluate(line.length_mm)
    assert points[0] == pytest.approx([100, 60, 0], abs=1e-9)
    assert frames[0, 0] == pytest.approx([-1, 0, 0], abs=1e-12)
    assert line.length_mm == pytest.approx(300 + math.pi * 60 + 200, abs=1e-9)


def test_a_first_bend_towards_the_straight_s_own_way_fixes_no_plane() -> None:
    with pytest.raises(InputError, match="fixes no plane"):
        rows_centreline(
            [BendRow(100, 0, 90, 40), BendRow(100)],
            start_tip="right", start_mm=[0, 0, 0], direction=[2, 0, 0], first_bend_towards=[3, 0, 0],
        )  # fmt: skip


def test_a_bar_described_from_the_left_tip_is_the_same_bar() -> None:
    drawn = polyline_centreline(points_mm=CRANKED, bend_radii_mm=[30.0, 60.0, 45.0, 80.0])
    mirrored = polyline_centreline(points_mm=CRANKED[::-1], bend_radii_mm=[80.0, 45.0, 60.0, 30.0])
    from_left = rows_centreline(
        rows_from_centreline(mirrored),
        start_tip="left",
        start_mm=CRANKED[-1],
        direction=CRANKED[-2] - CRANKED[-1],
        first_bend_towards=CRANKED[-3] - CRANKED[-2],
    )
    same_centreline(from_left, drawn)


def same_centreline(one, two) -> None:
    assert len(one.segments) == len(two.segments)
    assert one.length_mm == pytest.approx(two.length_mm, abs=1e-9)
    s = np.linspace(0, two.length_mm, 201)
    for ours, theirs in zip(one.evaluate(s), two.evaluate(s), strict=True):
        assert ours == pytest.approx(theirs, abs=1e-8)
    for ours, theirs in zip(one.segments, two.segments, strict=True):
        assert ours.bend == theirs.bend
        assert ours.radius_mm == (None if theirs.radius_mm is None else pytest.approx(theirs.radius_mm))
        assert ours.inward_angle_rad == pytest.approx(theirs.inward_angle_rad, abs=1e-9)


def test_the_three_forms_give_the_same_bar() -> None:
    points = bar_from_dict(changed()).centreline
    arms = {"width": 1000, "length": 250, "bend_radius": 48}
    from_arms = bar_from_dict(changed(("centreline", DELETE), ("arms", arms))).centreline
    rows = {
        "start_tip": "right",
        "start": [-250, -500, 0],
        "direction": [2, 0, 0],
        "first_bend_towards": [1, 1, 0],  # its part along the bar does not count
        "rows": [[202, 0, 90, 48], [904, 0, 90, 48], [202]],
    }
    from_rows = bar_from_dict(changed(("centreline", DELETE), ("bends", rows))).centreline
    rows = {**rows, "start_tip": "left", "start": [-250, 500, 0], "first_bend_towards": [0, -1, 0]}
    from_left = bar_from_dict(changed(("centreline", DELETE), ("bends", rows))).centreline
    for other in (from_arms, from_rows, from_left):
        same_centreline(other, points)


def test_arms_by_hand() -> None:
    # Splay 30 deg over 200 mm in x puts the corner 200 tan 30 = 115.47 mm inboard of the tip; rise lifts tips alone.
    points = arm_points(width_mm=1000, length_mm=200, splay_deg=30, rise_mm=25)
    y = 500 - 200 * math.tan(math.radians(30))
    assert points == pytest.approx(np.array([[-200, -500, 25], [0, -y, 0], [0, y, 0], [-200, 500, 25]]), abs=1e-9)


def test_arms_forward_are_splayed_outward_too() -> None:
    points = arm_points(width_mm=1000, length_mm=-200, splay_deg=30)
    assert points[0] == pytest.approx([200, -500, 0])
    assert abs(points[1, 1]) < 500


def test_a_crank_moves_the_middle_alone() -> None:
    points = arm_points(
        width_mm=1000, length_mm=200, crank=Crank(x_mm=-30.0, z_mm=40.0, inner_mm=150.0, outer_mm=250.0)
    )
    right = [[-200, -500, 0], [0, -500, 0], [0, -250, 0], [-30, -150, 40]]
    assert points[:4] == pytest.approx(np.array(right, float))
    assert points[4:] == pytest.approx(np.array(right, float)[::-1] * [1, -1, 1])


def test_a_crank_to_a_point_has_one_corner_in_the_middle() -> None:
    points = arm_points(width_mm=1000, length_mm=200, crank=Crank(x_mm=0, z_mm=40.0, inner_mm=0.0, outer_mm=250.0))
    assert len(points) == 7
    assert points[3] == pytest.approx([0, 0, 40])


def test_mirroring_the_points_mirrors_the_bar() -> None:
    flip = np.array([1.0, -1.0, 1.0])
    line = polyline_centreline(points_mm=CRANKED, bend_radii_mm=[30.0, 60.0, 45.0, 80.0])
    other = polyline_centreline(points_mm=CRANKED[::-1] * flip, bend_radii_mm=[80.0, 45.0, 60.0, 30.0])
    s = np.linspace(0, line.length_mm, 101)
    assert other.evaluate(line.length_mm - s)[0] == pytest.approx(line.evaluate(s)[0] * flip, abs=1e-8)


def test_turning_the_axes_turns_the_bar_and_keeps_its_length() -> None:
    axis, angle = np.array([1.0, 2.0, -0.5]) / np.linalg.norm([1.0, 2.0, -0.5]), 0.7
    cross = np.cross(np.eye(3), axis)
    turn = np.eye(3) - math.sin(angle) * cross + (1 - math.cos(angle)) * cross @ cross
    line = polyline_centreline(points_mm=CRANKED, bend_radii_mm=50.0)
    turned = polyline_centreline(points_mm=CRANKED @ turn.T, bend_radii_mm=50.0)
    assert turned.length_mm == pytest.approx(line.length_mm, abs=1e-9)
    s = np.linspace(0, line.length_mm, 51)
    assert turned.evaluate(s)[0] == pytest.approx(line.evaluate(s)[0] @ turn.T, abs=1e-8)


def test_a_point_on_a_straight_is_no_bend_and_is_told() -> None:
    points = [[-250, -500, 0], [0, -500, 0], [0, 20, 0], [0, 500, 0], [-250, 500, 0]]
    bar = bar_from_dict(changed(("centreline.points", points), ("centreline.bend_radius", [48, 30, 48])))
    same_centreline(bar.centreline, bar_from_dict(changed()).centreline)
    assert any("point 3 lies on a straight" in text for text in bar.warnings)


def test_a_row_without_an_angle_is_no_bend_and_its_rotation_counts() -> None:
    start = {"start_mm": [0, 0, 0], "direction": [1, 0, 0], "first_bend_towards": [0, 1, 0], "start_tip": "right"}
    split = [BendRow(100, 0, 90, 40), BendRow(60, 50, 0, 40), BendRow(40, 40, 90, 40), BendRow(100)]
    whole = [BendRow(100, 0, 90, 40), BendRow(100, 90, 90, 40), BendRow(100)]
    same_centreline(rows_centreline(split, **start), rows_centreline(whole, **start))
    # In front of the first real bend the rotation turns its plane.
    split = [BendRow(60, 0, 0, 40), BendRow(40, 90, 90, 40), BendRow(100)]
    line = rows_centreline(split, **start)
    assert line.evaluate(line.length_mm)[1][0, 0] == pytest.approx([0, 0, 1], abs=1e-12)


def test_arcs_may_touch_but_not_overlap() -> None:
    points = [[-250, -200, 0], [0, -200, 0], [0, 200, 0], [-250, 200, 0]]
    touching = polyline_centreline(points_mm=points, bend_radii_mm=200.0)
    assert [segment.bend for segment in touching.segments] == [None, 1, 2, None]
    with pytest.raises(InputError, match="overlap"):
        polyline_centreline(points_mm=points, bend_radii_mm=200.001)


@pytest.mark.parametrize("y", [-480.0, -470.5, -300.0, 0.0, 466.0, 497.3, 503.0])
def test_crossings_of_a_y_lie_on_it_and_none_is_missed(y: float) -> None:
    # Tips turned inward: the arms and the bends cross some y twice. Counted in 200 000 points along the bar.
    points = [[-300, -400, 20], [0, -520, 0], [-40, 0, 60], [0, 520, 0], [-300, 400, 20]]
    line = polyline_centreline(points_mm=points, bend_radii_mm=[50.0, 90.0, 50.0])
    found = line.stations_at_y(y)
    assert line.evaluate(found)[0][:, 1] == pytest.approx(np.full(len(found), y), abs=1e-9)
    along = line.evaluate(np.linspace(0, line.length_mm, 200_001))[0][:, 1] - y
    assert len(found) == np.count_nonzero(np.diff(np.sign(along)))
