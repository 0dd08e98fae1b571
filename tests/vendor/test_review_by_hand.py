"""Numbers of the review on shapes that a rule and a pencil measure: links, bodies, mounts, holes and walls."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from barfem.model.read import bar_from_dict
from barfem.vendor.keep_out import nearest_to_bodies, reach_mm
from barfem.vendor.maker_tables import keep_out_of
from barfem.vendor.review_use import _links, _points
from barfem.vendor.rules import RULES
from tests.model.bar_data import U_BAR
from tests.vendor.test_review import found, mounts, tables
from tests.vendor.test_review_faults import tube

PLAIN = bar_from_dict(U_BAR)
STATES = 3


def posed(directions: np.ndarray, joints: np.ndarray, nodes: np.ndarray | None = None, moved: Any = 0.0) -> Any:
    """What a solution says of one hole setting, made up: joints and link directions (states, sides, 3)."""
    at = np.array([0.0, PLAIN.centreline.length_mm]) if nodes is None else nodes
    return SimpleNamespace(
        mesh=SimpleNamespace(node_stations_mm=at),
        displacement_mm=np.zeros((1, STATES, len(at), 3)) + moved,
        joint_mm=joints[None],
        link_direction=directions[None],
        settings=[SimpleNamespace(case="roll", left=0, right=0)],
    )


def links(directions: np.ndarray, joints: np.ndarray) -> dict[tuple[str, str], Any]:
    """Findings of links by rule and side, every number asked about."""
    asked = {key: RULES[key] for key in ("link_angle", "link_clearance")}
    asked = {key: type(rule)(rule.key, rule.title, rule.unit, None, 1e6, "below", "") for key, rule in asked.items()}
    each = list(_links(PLAIN, asked, posed(directions, joints)))
    return {(one.rule, "left" if "left" in one.where else "right"): one for one in each}


def at_angle(deg: float) -> np.ndarray:
    """Direction of a link, from pickup to joint, so many degrees above an arm that runs to the rear (-x)."""
    return np.array([-np.cos(np.radians(deg)), 0.0, np.sin(np.radians(deg))])


def test_a_link_that_passes_its_arms_line_is_over_centre() -> None:
    """At 20 deg to the arm at rest, 10 at full travel, and 5 deg past its line at the other end: over-centre by 5."""
    joints = np.tile([[-230.0, -500.0, 0.0], [-230.0, 500.0, 0.0]], (STATES, 1, 1))
    right = np.stack([at_angle(20.0), at_angle(10.0), at_angle(-5.0)])
    left = np.stack([at_angle(20.0), at_angle(10.0), at_angle(8.0)])
    got = links(np.stack([right, left], axis=1), joints)
    assert got["link_angle", "right"].number == pytest.approx(-5.0, abs=1e-6)
    assert "over-centre" in got["link_angle", "right"].what
    assert got["link_angle", "left"].number == pytest.approx(8.0, abs=1e-6)


@pytest.mark.parametrize(("height", "gap"), [(40.0, 22.0), (30.0, 12.0), (15.0, -3.0)])
def test_the_gap_of_a_link_that_crosses_the_straight_above_it(height: float, gap: float) -> None:
    """A link of 140 mm lies along x, `height` over the straight between the mounts: less 12 mm of the bar and 6 of the
    link. A link's own arm, nearer than three diameters to its hole, does not count: the left one stands on its hole.
    """
    joints = np.tile([[70.0, 0.0, height], [-230.0, 500.0, 0.0]], (STATES, 1, 1))
    directions = np.tile([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]], (STATES, 1, 1))
    got = links(directions, joints)
    assert got["link_clearance", "right"].number == pytest.approx(gap, abs=0.15)
    # Where its neighbourhood ends, 72 mm from the hole, an upright link's joint is as far from the bar's axis.
    assert got["link_clearance", "left"].number == pytest.approx(72.0 - 12.0 - 6.0, abs=3.0)


def test_between_nodes_the_bar_is_taken_to_move_evenly() -> None:
    """A bar that turns about y moves by what stands at the nodes: on a straight between them in proportion."""
    nodes = np.array([0.0, 200.0, 300.0, 1000.0, PLAIN.centreline.length_mm])
    rise = np.array([0.0, 2.0, 9.0, 16.0, 16.0])
    moved = np.stack([np.zeros(5), np.zeros(5), rise], axis=1)
    points, stations = _points(PLAIN, posed(np.zeros((STATES, 2, 3)), np.zeros((STATES, 2, 3)), nodes, moved))
    drawn, _ = PLAIN.centreline.evaluate(stations)
    np.testing.assert_allclose(
        points[0, 1] - drawn, np.interp(stations, nodes, rise)[:, None] * [0.0, 0.0, 1.0], atol=1e-9
    )


def nearest(bodies: dict[str, Any], at: list[list[float]]) -> dict[str, float]:
    """Gaps of points of the middle of the plain U, radius 12 mm, wherever they lie, to bodies."""
    bar = bar_from_dict(tables(keep_out=bodies))
    middle = np.full(len(at), bar.middle_mm)
    near = nearest_to_bodies(
        bar, keep_out_of(bar), points_mm=np.array([at], float), stations_mm=middle, names=[("roll", "rest")]
    )
    return {each.name: each.gap_mm for each in near}


def test_a_bar_inside_a_body_lies_as_deep_as_to_its_nearest_side() -> None:
    """7 mm under a box's top, 7 mm under a cylinder's round and 9 mm from its end: by as much, and the bar's radius,
    it would have to move out.
    """
    box = {"boxes": [{"name": "box", "low": [0, 0, 0], "high": [100, 100, 100]}]}
    assert nearest(box, [[50, 50, 93]])["box"] == pytest.approx(-7.0 - 12.0)
    assert nearest(box, [[50, 50, 130]])["box"] == pytest.approx(30.0 - 12.0)
    assert nearest(box, [[103, 104, 50]])["box"] == pytest.approx(5.0 - 12.0)  # past an edge: 3, 4, 5
    rod = {"cylinders": [{"name": "rod", "from": [0, 0, 0], "to": [100, 0, 0], "radius": 25}]}
    assert nearest(rod, [[50, 0, 18]])["rod"] == pytest.approx(-7.0 - 12.0)
    assert nearest(rod, [[91, 0, 10]])["rod"] == pytest.approx(-9.0 - 12.0)
    assert nearest(rod, [[9, 0, 10]])["rod"] == pytest.approx(-9.0 - 12.0)
    assert nearest(rod, [[103, 0, 29]])["rod"] == pytest.approx(5.0 - 12.0)  # past its end and its round: 3, 4, 5
    ball = {"spheres": [{"name": "ball", "centre": [0, 0, 0], "radius": 30}]}
    assert nearest(ball, [[0, 0, 20]])["ball"] == pytest.approx(-10.0 - 12.0)


def test_metal_reaches_as_far_as_a_flats_corner() -> None:
    """A flat of 40 x 12 mm, 95 mm long, at the left end alone: half its diagonal, 20.9 mm; elsewhere the radius."""
    data = tables()
    flat = data["ends"].pop("flat")
    data["ends"] |= {"left": {"flat": {**flat, "width": 40.0, "thickness": 12.0}}}
    bar = bar_from_dict(data)
    length = bar.centreline.length_mm
    reach = reach_mm(bar, np.array([10.0, 90.0, 0.5 * length, length - 100.0, length - 90.0, length - 10.0]))
    np.testing.assert_allclose(reach, [12.0, 12.0, 12.0, 12.0, 20.881, 20.881], atol=1e-3)


@pytest.mark.parametrize(("side", "number"), [(-1.0, 1), (1.0, 2)])
def test_a_bushing_beside_a_flat_at_either_end(side: float, number: int) -> None:
    """A straight bar of 1000 mm, flats of 95: a bushing of 40 mm at 383 from the middle ends 2 mm before them."""
    straight = tables(
        centreline={"points": [[0, -500, 0], [0, 500, 0]]},
        mounts=[{**each, "from_middle": 383.0 * s if s == side else 200.0 * s}
                for each, s in zip(mounts(380.0), (-1.0, 1.0), strict=True)],
    )  # fmt: skip
    straight["centreline"].pop("bend_radius", None)
    each = found(straight)["bushing_gap"]
    assert each.number == pytest.approx(500.0 - 95.0 - 403.0) and each.where == f"mount {number}"


def test_holes_of_unlike_size_are_held_by_the_larger() -> None:
    """12 and 14 mm, 22 mm apart: 22 / 14 = 1.57 diameters."""
    holes = [{"name": "1", "from_tip": 30.0, "diameter": 12.0}, {"name": "2", "from_tip": 52.0, "diameter": 14.0}]
    assert found(tables(ends__holes=holes))["hole_to_hole"].number == pytest.approx(22.0 / 14.0)


def test_a_maker_who_bends_tighter_than_the_trade_is_still_asked() -> None:
    """R 43.2 is 1.8 diameters: the maker stops at 1.2, below two diameters cold it is asked about all the same."""
    tight = tables(centreline__bend_radius=43.2, bending={"process": "cold", "min_radius_over_diameter": 1.2})
    each = found(tight)["radius_cold_solid"]
    assert (each.severity, each.number) == ("ask", pytest.approx(1.8))
    wide = tables(centreline__bend_radius=55.2, bending={"process": "cold", "min_radius_over_diameter": 2.2})
    assert "radius_cold_solid" not in found(wide)


def test_measured_walls_of_a_bend_are_held_by_the_thin_one() -> None:
    """Of a wall of 4 mm 3.1 are left outside, 0.775 of it; the 4.9 inside are no matter."""
    measured = tube(section_more={"bend_walls": {"outside": 3.1, "inside": 4.9}})
    each = found(measured)["wall_outside"]
    assert (each.severity, each.number) == ("ask", pytest.approx(0.775))
    assert "3.10 mm outside, 4.90 mm inside the bend (measured)" in each.what
