"""The same bar told in another way gives the same numbers, through the whole check."""

from __future__ import annotations

import math
from copy import deepcopy
from typing import Any

import numpy as np
import pytest

from tests.check.bar_files import BUILT, check, numbers
from tests.model.bar_data import DELETE, changed

# An unsymmetric bar in three dimensions, every vector of either side written out.
UNEVEN: dict[str, Any] = changed(
    ("centreline.points", [[-270, -560, 20], [0, -540, 0], [10, -100, 30], [0, 530, 0], [-250, 560, -10]]),
    ("centreline.bend_radius", [50.0, 80.0, 70.0]),
    ("ends", {"right": {"holes": [{"name": "1", "from_tip": 20.0, "diameter": 8.0, "offset": [3, -8, 2]}]},
              "left": {"holes": [{"name": "1", "from_tip": 30.0, "diameter": 8.0, "offset": [2, 9, 1]}]}}),
    ("mounts", [{"from_middle": y, "radial_stiffness": k, "axial_stiffness": 200.0, "length": 40.0}
                for y, k in ((-390.0, 5000.0), (370.0, 4000.0))]),
    ("links", {"right": {"length": 150.0, "direction": [0.1, -0.05, -1], "length_error": 0.5},
               "left": {"length": 170.0, "direction": [0.0, 0.1, -1]}}),
    ("duty.ratio", -0.7),
    base=BUILT,
)  # fmt: skip
# A planar bar no two places of which are alike, so that none is named by rounding alone.
LOPSIDED: dict[str, Any] = changed(
    ("mounts.0", {**BUILT["mounts"][0], "from_middle": -390.0, "radial_stiffness": 4000.0}),
    ("mounts.1.from_middle", 370.0),
    base=BUILT,
)
FLAT_UNEVEN: dict[str, Any] = changed(
    ("centreline.points", [[-270, -560, 0], [0, -540, 0], [10, -100, 0], [0, 530, 0], [-250, 560, 0]]), base=UNEVEN
)
NOT_COMPARED = ("inputs", "solver", "input_sha256", "source", "mesh")
NAMES = {"bar": LOPSIDED, "uneven bar": UNEVEN}


def physical(result: dict[str, Any]) -> dict[str, float]:
    """Every number of the settings, with the mass and the length."""
    kept = {key: value for key, value in result.items() if key not in NOT_COMPARED}
    return dict(numbers(kept))


def same(one: dict[str, float], two: dict[str, float], *, rel: float = 1e-9) -> None:
    assert one.keys() == two.keys()
    wrong = {path: (one[path], two[path]) for path in one if not _close(path, one[path], two[path], rel)}
    assert not wrong


def _close(path: str, a: float, b: float, rel: float) -> bool:
    # Numbers that are zero but for rounding (a force at rest, a stress at a free end) are held against 1e-6 of a unit;
    # an unloaded place's margin is without meaning.
    if ".places[" in path and path.endswith("yield_margin") and min(a, b) > 1e5:
        return True
    return math.isclose(a, b, rel_tol=rel, abs_tol=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_moved_drawing_origin(name):
    base = NAMES[name]
    moved = deepcopy(base)
    moved["centreline"]["points"] = (np.array(base["centreline"]["points"]) + np.array([310.0, -45.0, 120.0])).tolist()
    same(physical(check(base=base)), physical(check(base=moved)))


def test_turned_drawing_axes():
    turn = math.radians(17.0)
    rotation = np.array([[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [0, 0, 1]])

    def turned(vector: list[float]) -> list[float]:
        return (rotation @ np.array(vector, float)).tolist()

    other = deepcopy(UNEVEN)
    other["centreline"]["points"] = [turned(point) for point in UNEVEN["centreline"]["points"]]
    for side in ("right", "left"):
        other["links"][side]["direction"] = turned(UNEVEN["links"][side]["direction"])
        hole = other["ends"][side]["holes"][0]
        hole["offset"] = turned(hole["offset"])
    one, two = physical(check(base=UNEVEN)), physical(check(base=other))
    # The roll rate takes the distance of the joints along y of the drawing, which has turned.
    for numbers_ in (one, two):
        for path in [path for path in numbers_ if "roll_rate" in path]:
            del numbers_[path]
    same(one, two)


@pytest.mark.parametrize(
    ("base", "rel"),
    # Inside a mount resultants are interpolated from an element's low end: 1e-7 apart in the mirrored bar.
    [(FLAT_UNEVEN, 1e-6), (UNEVEN, 1e-6)],
    ids=["planar", "in three dimensions"],
)
def test_mirrored_bar_with_sides_exchanged(base, rel):
    mirror = np.array([1.0, -1.0, 1.0])
    other = deepcopy(base)
    other["centreline"]["points"] = (np.array(base["centreline"]["points"][::-1]) * mirror).tolist()
    other["centreline"]["bend_radius"] = base["centreline"]["bend_radius"][::-1]
    for mine, theirs in (("right", "left"), ("left", "right")):
        other["links"][mine] = deepcopy(base["links"][theirs])
        other["links"][mine]["direction"] = (np.array(base["links"][theirs]["direction"]) * mirror).tolist()
        other["ends"][mine] = deepcopy(base["ends"][theirs])
        for hole in other["ends"][mine]["holes"]:
            hole["offset"] = (np.array(hole["offset"]) * mirror).tolist()
    other["mounts"] = [{**mount, "from_middle": -mount["from_middle"]} for mount in reversed(base["mounts"])]
    ratio = ("duty.ratio", -1.0)  # the ends of the cycle are each other's mirror images only then
    (one,), (two,) = (check(ratio, base=bar)["settings"] for bar in (base, other))
    assert two["rate_initial_N_per_mm"] == pytest.approx(one["rate_initial_N_per_mm"], rel=1e-9)
    assert two["peak"]["von_mises_MPa"] == pytest.approx(one["peak"]["von_mises_MPa"], rel=rel)
    assert two["peak"]["from_middle_mm"] == pytest.approx(-one["peak"]["from_middle_mm"], abs=1e-6)
    # A margin is strength over stress less one, and a life goes with a power of stress: both magnify a difference.
    assert two["yield_margin"] == pytest.approx(one["yield_margin"], rel=10 * rel)
    for key, power in (("amplitude_MPa", 1), ("safety_factor_at_target", 1), ("life_cycles", 5)):
        assert two["fatigue"][key] == pytest.approx(one["fatigue"][key], rel=2 * power * rel)
    travel, other_end = 1, 2
    for state, mirrored in ((travel, other_end), (other_end, travel)):
        for mine, theirs in (("left", "right"), ("right", "left")):
            force = one["states"][state][f"link_force_{mine}_N"]
            assert two["states"][mirrored][f"link_force_{theirs}_N"] == pytest.approx(force, rel=1e-9)
    assert [r["radial_N"] for r in two["mount_reactions"]] == pytest.approx(
        [r["radial_N"] for r in one["mount_reactions"]][::-1], rel=1e-9
    )


def test_bender_rows_from_either_tip_and_points_are_one_bar():
    rows = [[220.0, 0, 90, 50], [1000.0, 0, 90, 50], [220.0]]
    right = {"start_tip": "right", "start": [-270, -550, 0], "direction": [1, 0, 0], "first_bend_towards": [0, 1, 0],
             "rows": rows}  # fmt: skip
    left = {**right, "start_tip": "left", "start": [-270, 550, 0], "first_bend_towards": [0, -1, 0]}
    arms = {"width": 1100, "length": 270, "bend_radius": 50}
    points = physical(check(base=LOPSIDED))
    for key, table in (("bends", right), ("bends", left), ("arms", arms)):
        same(points, physical(check(("centreline", DELETE), (key, table), base=LOPSIDED)))


def test_unit_strings():
    inches = changed(
        ("section.diameter", f"{20.0 / 25.4!r} in"),
        ("centreline.bend_radius", "5.0 cm"),
        ("ends.holes.0.from_tip", "0.020 m"),
        ("mounts.0.radial_stiffness", "4 kN/mm"),
        ("mounts.1.radial_stiffness", f"{5000.0 / 0.17512683524647636!r} lbf/in"),
        ("links.length", f"{150.0 / 304.8!r} ft"),
        ("travel.pickup", "25000 um"),
        ("material.yield_strength", "1.2 GPa"),
        ("material.density", "7.85 g/cm^3"),
        base=LOPSIDED,
    )
    same(physical(check(base=LOPSIDED)), physical(check(base=inches)))


def test_mounts_by_y_or_along_the_bar_in_any_order():
    bar = physical(check(base=LOPSIDED))
    first = {**LOPSIDED["mounts"][0], "y": -390.0}
    del first["from_middle"]
    same(bar, physical(check(("mounts.0", first), base=LOPSIDED)))
    same(bar, physical(check(("mounts", LOPSIDED["mounts"][::-1]), base=LOPSIDED)))


def test_hole_order_is_the_files_and_changes_no_number():
    holes = BUILT["ends"]["holes"]
    forward = {setting["left"]: setting for setting in check(base=LOPSIDED)["settings"]}
    backward = check(("ends.holes", holes[::-1]), base=LOPSIDED)["settings"]
    assert [setting["left"] for setting in backward] == ["3", "2", "1"]
    for setting in backward:
        same(dict(numbers(setting)), dict(numbers(forward[setting["left"]])))


def test_a_point_on_a_straight_changes_nothing():
    points = LOPSIDED["centreline"]["points"]
    between = check(("centreline.points", [*points[:2], [0, 100, 0], *points[2:]]), base=LOPSIDED)
    same(physical(check(base=LOPSIDED)), physical(between))


def test_directions_of_any_length():
    longer = check(("links.direction", [0, 0, -7]), ("travel.direction", [0, 0, 0.3]), base=LOPSIDED)
    same(physical(check(base=LOPSIDED)), physical(longer))


def test_written_out_sides_are_the_mirrored_ones():
    left = {"length": 150.0, "direction": [0.1, 0.05, -1.0]}
    right = {"length": 150.0, "direction": [0.1, -0.05, -1.0]}
    mirrored = check(("links", left), base=LOPSIDED)
    written = check(("links", {"left": left, "right": right}), base=LOPSIDED)
    same(physical(mirrored), physical(written))
