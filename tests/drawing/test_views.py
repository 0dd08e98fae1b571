"""Views and datum by hand: which way each view looks, and where the datum's axes lie."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.vendor.part import part_of
from barfem.vendor.views import datum_of, views_of
from tests.drawing.bars import forward_tube, unequal_in_space


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
