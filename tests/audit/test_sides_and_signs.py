"""Left and right, signs and mirrored vectors of the bar file, against a frame of straight elements that shares nothing.

An unsymmetrical three-dimensional bar, so that a swapped side, a mirrored vector or a wrong sign shows in the numbers.
Tolerance 1e-3: chords of 5 mm in bends of 60 mm are 3e-4 too short; the travel's own nonlinearity is below 1e-4.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.audit.frame import Frame, filleted, with_nodes_at
from tests.check.bar_files import PLAIN, check

POINTS = [[-200, -600, 30], [-20, -520, 10], [10, -380, -25], [10, 260, -20], [-10, 540, 0], [-260, 640, -40]]
RADIUS, DIAMETER, FROM_TIP = 60.0, 20.0, (35.0, 25.0)
CHANGES: tuple[tuple[str, Any], ...] = (
    ("centreline", {"points": POINTS, "bend_radius": RADIUS}),
    (
        "ends",
        {
            "holes": [{"name": "1", "from_tip": FROM_TIP[1], "offset": [5.0, 20.0, -10.0]}],
            "right": {"holes": [{"name": "1", "from_tip": FROM_TIP[0], "offset": [2.0, 15.0, 4.0]}]},
        },
    ),
    (
        "mounts",
        [
            {"from_middle": -150.0, "radial_stiffness": 6000.0, "bracket_stiffness": 3000.0, "axial_stiffness": 200.0},
            {"from_middle": 160.0, "radial_stiffness": 3000.0, "torsional_stiffness": 1e6, "conical_stiffness": 2e6},
        ],
    ),
    ("travel", {"pickup": 0.02, "direction": [0.1, 0.2, 1.0]}),
)
LEFT_LINK, RIGHT_LINK = [0.1, 0.2, -1.0], [-0.2, 0.3, -1.0]


def outside(*, links: list[list[float]], moves: tuple[float, float], **more: Any) -> tuple[np.ndarray, np.ndarray]:
    """Link tensions (right, left) and the forces of the car on the pickups along their travel."""
    points, stations = filleted(POINTS, RADIUS, straight=30.0, chord=5.0)
    length = stations[-1]
    holes = [FROM_TIP[0], length - FROM_TIP[1]]
    mounts = [0.5 * length - 150.0, 0.5 * length + 160.0]
    points, stations = with_nodes_at(points, stations, [*holes, *mounts])
    frame = Frame(points, stations, E=206_000.0, nu=0.3, diameter=DIAMETER)
    frame.mount(mounts[0], radial=2000.0, axial=200.0)  # 6000 and 3000 in series
    frame.mount(mounts[1], radial=3000.0, axial=0.0, torsional=1e6, conical=2e6)
    travel = np.array([[0.1, -0.2, 1.0], [0.1, 0.2, 1.0]]) / np.linalg.norm([0.1, 0.2, 1.0])
    tension = frame.link_tensions(
        holes,
        offsets=np.array([[2.0, 15.0, 4.0], [5.0, 20.0, -10.0]]),
        directions=np.array(links),
        pickup_moves=np.array(moves)[:, None] * travel,
        **more,
    )
    unit = np.array(links) / np.linalg.norm(links, axis=1, keepdims=True)
    return tension, tension * np.einsum("ij,ij->i", unit, travel)


@pytest.mark.parametrize(("case", "right_move"), [("roll", -0.02), ("one-wheel", 0.0)])
def test_a_link_of_the_right_side_is_taken_as_written(case: str, right_move: float) -> None:
    links = {"length": 4000.0, "direction": LEFT_LINK, "right": {"direction": RIGHT_LINK}, "axial_stiffness": 3000.0}
    row = check(*CHANGES, ("links", links), base=PLAIN, case=case)["settings"][0]
    tension, force = outside(links=[RIGHT_LINK, LEFT_LINK], moves=(right_move, 0.02), stiffness=(3000.0, 3000.0))
    each = np.abs(force) / 0.02
    assert row["rate_initial_N_per_mm"] == pytest.approx(each.mean() if case == "roll" else each[1], rel=1e-3)
    assert row["link_force_left_N"] == pytest.approx(tension[1], rel=1e-3)
    assert row["link_force_right_N"] == pytest.approx(tension[0], rel=1e-3)


def test_a_link_for_both_sides_is_mirrored_to_the_right() -> None:
    row = check(*CHANGES, ("links", {"length": 4000.0, "direction": LEFT_LINK}), base=PLAIN)["settings"][0]
    tension, force = outside(links=[[0.1, -0.2, -1.0], LEFT_LINK], moves=(-0.02, 0.02))
    assert row["rate_initial_N_per_mm"] == pytest.approx(np.abs(force).mean() / 0.02, rel=1e-3)
    assert row["link_force_left_N"] == pytest.approx(tension[1], rel=1e-3)
    assert row["link_force_right_N"] == pytest.approx(tension[0], rel=1e-3)


@pytest.mark.parametrize(("error", "word"), [(0.02, "pushes"), (-0.02, "pulls")])
def test_a_left_link_too_long_pushes_and_one_too_short_pulls(error: float, word: str) -> None:
    links = {"length": 4000.0, "direction": [0, 0, -1], "left": {"length_error": error}}
    rest = check(*CHANGES, ("links", links), base=PLAIN)["settings"][0]["states"][0]
    tension, _ = outside(links=[[0, 0, -1], [0, 0, -1]], moves=(0.0, 0.0), too_long=(0.0, error))
    assert rest["at"] == "rest"
    assert rest["link_force_left_N"] == pytest.approx(tension[1], rel=1e-3)
    assert rest["link_force_right_N"] == pytest.approx(tension[0], rel=1e-3)
    assert (rest["link_force_left_N"] < 0.0) == (word == "pushes")


def test_a_left_link_too_long_does_what_moving_its_pickup_up_does() -> None:
    hang = {"length": 4000.0, "direction": [0, 0, -1]}
    up = (("travel", {"pickup": 0.02, "direction": [0, 0, 1]}),)
    moved = check(*CHANGES, ("links", hang), *up, base=PLAIN, case="one-wheel")["settings"][0]
    longer = check(*CHANGES, ("links", {**hang, "left": {"length_error": 0.02}}), base=PLAIN)["settings"][0]
    assert longer["states"][0]["link_force_left_N"] == pytest.approx(moved["link_force_left_N"], rel=1e-3)
