"""Whole bars at large travel against a rod that is solved by shooting and shares nothing with the package.

What is compared: rate, rate at rest, link forces with sign at every state, torque at the middle, mount reactions.
Tolerance 1e-4 of the force at travel: the package's quadratic elements leave up to 4e-5 where a bushing is stiff, the
Runge-Kutta steps of 10 mm 2e-5 (fourth order, held below).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.audit.rod import Line, Mount, Rod, line_of_points, line_of_rows, round_flexibility, unit
from tests.check.bar_files import PLAIN, check

E, NU = 203_000.0, 0.29
STEEL = {"grade": "custom", "E": E, "nu": NU, "density": 7850.0, "yield_strength": 1500.0, "tensile_strength": 1700.0}
MIRROR = np.array([1.0, -1.0, 1.0])
POINTS = [
    [-230, -510, 12],
    [0, -480, 0],
    [10, -150, 0],
    [35, -60, -20],
    [35, 120, -20],
    [0, 230, 0],
    [0, 470, 5],
    [-245, 520, -15],
]
ROWS = [
    [190.0, 0.0, 84.0, 55.0],
    [390.0, -18.0, 12.0, 140.0],
    [170.0, 25.0, 14.0, 140.0],
    [400.0, 9.0, 83.0, 60.0],
    [196.0],
]
ROWS_START, ROWS_DIRECTION, ROWS_TOWARDS = [-240.0, 530.0, 15.0], [1.0, 0.06, -0.03], [0.0, -1.0, 0.05]


def points_bar() -> tuple[Line, dict[str, Any]]:
    radii = [48.0, 60.0, 70.0, 70.0, 60.0, 52.0]
    return line_of_points(POINTS, radii), {"centreline": {"points": POINTS, "bend_radius": radii}}


def rows_bar() -> tuple[Line, dict[str, Any]]:
    line = line_of_rows(ROWS_START, ROWS_DIRECTION, ROWS_TOWARDS, ROWS, from_left=True)
    bends = {
        "start_tip": "left",
        "start": ROWS_START,
        "direction": ROWS_DIRECTION,
        "first_bend_towards": ROWS_TOWARDS,
        "rows": ROWS,
    }
    return line, {"bends": bends}


CASES: dict[str, dict[str, Any]] = {
    "points, fixed pickups, soft links too long, unequal ends": {
        "bar": points_bar,
        "diameter": 23.0,
        "mounts": [
            {"from_middle": -250.0, "radial_stiffness": 5200.0, "axial_stiffness": 240.0, "length": 34.0,
             "conical_stiffness": 9e4, "bracket_stiffness": 21_000.0},
            {"from_middle": 262.0, "radial_stiffness": 3900.0, "axial_stiffness": 90.0, "torsional_stiffness": 2.5e4},
        ],
        "holes": ((31.0, [3.0, -14.0, 4.0]), (18.0, [-4.0, 17.0, 6.0])),
        "pickup": [-222.0, 540.0, -165.0],
        "length_error": 2.5,
        "link_stiffness": 12_000.0,
        "up_down": (36.0, 25.0),
        "direction": [0.12, -0.05, 1.0],
        "ratio": -0.6,
        "case": "roll",
    },
    "rows from the left tip, hanging links, three mounts": {
        "bar": rows_bar,
        "diameter": 20.0,
        "mounts": [
            {"from_middle": -210.0, "radial_stiffness": 7000.0, "axial_stiffness": 150.0, "length": 40.0,
             "torsional_stiffness": 3e4},
            {"from_middle": 30.0, "radial_stiffness": 800.0, "length": 30.0},
            {"from_middle": 235.0, "radial_stiffness": 4400.0, "axial_stiffness": 60.0, "length": 28.0},
        ],
        "holes": ((22.0, [0.0, -10.0, 0.0]), (22.0, [0.0, 10.0, 0.0])),
        "link": (130.0, [0.15, 0.1, -1.0]),
        "up_down": (45.0, 45.0),
        "direction": [0.0, 0.0, 1.0],
        "ratio": 0.3,
        "case": "one-wheel",
    },
}  # fmt: skip


def bar_file(case: dict[str, Any]) -> tuple[Line, list[tuple[str, Any]]]:
    line, centreline = case["bar"]()
    (right, right_offset), (left, left_offset) = case["holes"]
    links: dict[str, Any] = {"length_error": case.get("length_error", 0.0)}
    if "pickup" in case:
        links["pickup"] = case["pickup"]
    else:
        links["length"], links["direction"] = case["link"]
    if "link_stiffness" in case:
        links["axial_stiffness"] = case["link_stiffness"]
    up, down = case["up_down"]
    travel = {"up": up, "down": down, "pickup": up, "direction": case["direction"], "one_wheel": up}
    ends = {
        "holes": [{"name": "1", "from_tip": left, "offset": left_offset}],
        "right": {"holes": [{"name": "1", "from_tip": right, "offset": right_offset}]},
    }
    changes = [("material", STEEL), ("section.diameter", case["diameter"]), ("ends", ends), ("mounts", case["mounts"])]
    changes += [("links", links), ("travel", travel), ("duty", {"ratio": case["ratio"]}), *centreline.items()]
    return line, changes


def rod_of(line: Line, case: dict[str, Any], *, step: float = 10.0) -> Rod:
    (right, right_offset), (left, left_offset) = case["holes"]
    holes = (right, line.length - left)
    offsets = np.array([right_offset, left_offset])
    joints = np.array([line.at(s)[0] for s in holes]) + offsets
    if "pickup" in case:
        pickups = np.array([case["pickup"] * MIRROR, case["pickup"]])
        lengths = np.linalg.norm(pickups - joints, axis=1)
    else:
        length, direction = case["link"]
        pickups = joints + length * np.array([unit(direction) * MIRROR, unit(direction)])
        lengths = np.array([length, length])
    mounts = []
    for m in case["mounts"]:
        radial = m["radial_stiffness"]
        if "bracket_stiffness" in m:
            radial = 1 / (1 / radial + 1 / m["bracket_stiffness"])
        about = {k: m.get(f"{k}_stiffness", 0.0) for k in ("axial", "torsional", "conical")}
        station = line.length / 2 + m["from_middle"]
        mounts.append(Mount(station, radial, length=m.get("length", 0.0), **about))
    direction = unit(case["direction"])
    return Rod(
        line,
        round_flexibility(diameter=case["diameter"], E=E, nu=NU),
        mounts,
        holes,
        offsets=offsets,
        pickups=pickups,
        lengths=lengths + case.get("length_error", 0.0),
        link_stiffness=case.get("link_stiffness", np.inf),
        travel=np.array([direction * MIRROR, direction]),
        step=step,
    )


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=[pytest.mark.long] if "rows" in name or "soft links" in name else []) for name in CASES],
)
def test_bar_at_large_travel(name: str) -> None:
    case = CASES[name]
    line, changes = bar_file(case)
    base = {k: v for k, v in PLAIN.items() if k != "centreline"}
    result = check(*changes, base=base, case=case["case"])
    (setting,) = (s for s in result["settings"] if s["case"] == case["case"])
    assert result["developed_length_mm"] == pytest.approx(line.length, rel=1e-9)

    rod, (up, down), ratio = rod_of(line, case), case["up_down"], case["ratio"]
    if case["case"] == "roll":  # the left one up by up, the right one down by down; the other end is below zero here
        travel, other = np.array([-down, up]), np.array([-ratio * up, ratio * down])
    else:
        travel, other = np.array([0.0, up]), np.array([0.0, ratio * up])
    solved = {"rest": rod.solve([0.0, 0.0]), "travel": rod.solve(travel), "other end": rod.solve(other)}
    scale = float(np.abs(solved["travel"].tension).max())
    for state in setting["states"]:
        ours = [state["link_force_right_N"], state["link_force_left_N"]]
        assert ours == pytest.approx(solved[state["at"]].tension, abs=1e-4 * scale), state["at"]

    moving = travel != 0.0
    gain = solved["travel"].pickup_force - solved["rest"].pickup_force
    assert setting["rate_N_per_mm"] == pytest.approx((gain[moving] / travel[moving]).mean(), rel=1e-4)
    small = 1e-3 * travel
    ahead, behind = rod.solve(small, parts=1).pickup_force, rod.solve(-small, parts=1).pickup_force
    initial = ((ahead - behind)[moving] / (2 * small[moving])).mean()
    assert setting["rate_initial_N_per_mm"] == pytest.approx(initial, rel=1e-4)
    _, moment = solved["travel"].resultants(line.length / 2)
    assert setting["torque_Nm"] == pytest.approx(abs(moment[0]) / 1e3, rel=2e-4)


def test_the_reference_is_converged() -> None:
    """Its error at rest, where the drawn bar must be free of force, falls as the fourth power of the step."""
    case = CASES["rows from the left tip, hanging links, three mounts"]
    line, _ = bar_file(case)
    coarse, fine = (np.abs(rod_of(line, case, step=step).solve([0.0, 0.0]).tension).max() for step in (14.0, 7.0))
    assert fine < 0.002
    assert coarse / fine == pytest.approx(16.0, rel=0.02)
