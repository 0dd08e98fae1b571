"""Views and datum by hand: which way each view looks, and where the datum's axes lie."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.read import bar_from_dict
from barfem.vendor.part import part_of
from barfem.vendor.views import datum_of, views_of
from tests.drawing.bars import forward_tube, unequal_in_space, wide_with_drops
from tests.model.bar_data import changed


def marks(view):
    return {text: np.array(point) for text, point in view.marks}


def test_front_has_y_to_the_right_and_z_up_and_the_plan_has_the_front_below():
    bar = unequal_in_space()  # right tip (-260, -480, 40), left tip (-210, 500, -30)
    plan, front, _ = views_of(bar)
    np.testing.assert_allclose([marks(front)["R"], marks(front)["L"]], [[-480, 40], [500, -30]], atol=1e-9)
    np.testing.assert_allclose([marks(plan)["R"], marks(plan)["L"]], [[-480, 260], [500, 210]], atol=1e-9)


@pytest.mark.parametrize(("projection", "sign"), [("first", 1.0), ("third", -1.0)])
def test_the_side_view_stands_to_the_right_and_is_seen_from_where_its_projection_says(projection, sign):
    """ISO 5456-2. First angle: the view from the left of the front view, the car's right side, in which x runs to the
    right; third angle: the view from its right, the car's left side, in which x runs to the left."""
    _, _, side = views_of(unequal_in_space(), projection=projection)
    np.testing.assert_allclose(marks(side)["R"], [sign * -260.0, 40.0], atol=1e-9)


@pytest.mark.parametrize("bar", [unequal_in_space(), forward_tube()])
def test_the_datum_is_a_turn_and_a_shift_that_lays_the_mounts_on_its_first_axis(bar):
    datum = datum_of(bar)
    stations = sorted(mount.station_mm for mount in bar.mounts)
    points, _ = bar.centreline.evaluate([stations[0], stations[-1]])
    there = datum.points(points)
    half = 0.5 * np.linalg.norm(points[1] - points[0])
    np.testing.assert_allclose(there, [[-half, 0, 0], [half, 0, 0]], atol=1e-9)  # right first, left positive
    np.testing.assert_allclose(datum.axes @ datum.axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(datum.axes) == pytest.approx(1.0)  # never a mirror
    assert datum.axes[1] @ np.array(bar.travel.direction) > 0.0
    tips = np.array([p.xyz_mm for p in part_of(bar).points if p.kind == "tip"])
    apart = np.linalg.norm(tips[1] - tips[0])
    assert np.linalg.norm(datum.points(tips)[1] - datum.points(tips)[0]) == pytest.approx(apart)


def test_each_axis_of_the_datum_is_named_by_where_it_points_in_the_car():
    """A column headed "third" told nobody which way was plus; one headed "up" was wrong where the travel is forward."""
    assert datum_of(unequal_in_space()).ways == ("left", "up", "forward")
    pushed = wide_with_drops()  # its links push forward, along x
    assert datum_of(pushed).ways == ("left", "forward", "down")
    corner = pushed.centreline.evaluate(120.0)[0]  # in the right arm, below the mounts
    assert datum_of(pushed).points(corner.reshape(1, 3))[0, 2] == pytest.approx(300.0)


@pytest.mark.parametrize(("projection", "side"), [("first", (0.0, 40.0)), ("third", (0.0, -40.0))])
def test_a_cranked_middle_has_its_height_and_its_offset(projection, side):
    """Middle 40 mm before the mounts and 70 above them, between |y| = 150 and 230: by hand off the corners."""
    points = [[-265, -470, 0], [0, -450, 0], [0, -300, 0], [40, -180, 70]]
    points += [[x, -y, z] for x, y, z in reversed(points)]
    ends = [("mounts.0", {"y": -390.0}), ("mounts.1", {"y": 390.0})]
    mounts = [{**{k: v for k, v in mount.items() if k != "from_middle"}, **at} for mount, (_, at) in
              zip(changed()["mounts"], ends, strict=True)]  # fmt: skip
    bar = bar_from_dict(changed(("centreline.points", points), ("centreline.bend_radius", 60.0), ("mounts", mounts)))
    _, front, depth = views_of(bar, projection=projection)
    (height,) = [d for d in front.dimensions if d.key.startswith("middle")]
    assert (height.one[1], height.other[1], height.value_mm) == pytest.approx((0.0, 70.0, 70.0))
    assert -180.0 < height.other[0] < -150.0, "its foot is where the level middle begins at the right"
    (offset,) = depth.dimensions
    assert (offset.one[0], offset.other[0]) == pytest.approx(side) and offset.value_mm == pytest.approx(40.0)


def test_a_straight_middle_has_neither():
    _, front, side = views_of(forward_tube())
    assert not [d for d in (*front.dimensions, *side.dimensions) if d.key.startswith("middle")]


def test_a_bar_whose_left_half_lies_higher_has_its_step():
    """A step of 60 mm between the mounts, level on both sides of it."""
    points = [[-250, -500, 0], [0, -500, 0], [0, -150, 0], [0, -50, 60], [0, 500, 60], [-250, 500, 60]]
    bar = bar_from_dict(changed(("centreline.points", points), ("centreline.bend_radius", 50.0)))
    _, front, _ = views_of(bar)
    (step,) = [d for d in front.dimensions if d.key.startswith("middle")]
    assert step.value_mm == pytest.approx(60.0)
