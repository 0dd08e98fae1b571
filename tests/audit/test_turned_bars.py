"""A bar that is turned, mirrored, moved, written in other units or scaled is the same bar: end to end, large travel.

The bar is unsymmetrical and three-dimensional, every vector is given for each side, and travel is along z, so that any
axis, sign or side that is mixed up shows. Bars are compared in roll at ratio -1, where exchanging sides exchanges the
cycle's two ends.
"""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest

from tests.check.bar_files import PLAIN, check

BAR: dict[str, Any] = {
    "material": {"grade": "custom", "E": 206_000.0, "nu": 0.3, "density": 7850.0, "yield_strength": 1500.0,
                 "tensile_strength": 1700.0, "surface": "ground"},
    "section": {"shape": "round", "diameter": 21.0},
    "centreline": {"points": [[-240.0, -520.0, 14.0], [0.0, -480.0, 0.0], [12.0, 470.0, -6.0], [-255.0, 500.0, -18.0]],
                   "bend_radius": [52.0, 61.0]},
    "ends": {
        "holes": [],
        "left": {"holes": [{"name": "1", "from_tip": 21.0, "diameter": 8.0, "offset": [2.0, 16.0, -5.0]}],
                 "flat": {"kind": "forged", "thickness": 12.0, "width": 33.0, "length": 80.0, "transition": 22.0,
                          "normal": [0.1, 1.0, 0.05]}},
        "right": {"holes": [{"name": "1", "from_tip": 29.0, "diameter": 8.0, "offset": [0.0, -12.0, 3.0]}],
                  "flat": {"kind": "forged", "thickness": 11.0, "width": 35.0, "length": 90.0, "transition": 25.0,
                           "normal": [0.1, -1.0, 0.0]}},
    },
    "mounts": [
        {"from_middle": -290.0, "radial_stiffness": 4800.0, "axial_stiffness": 210.0, "length": 30.0,
         "torsional_stiffness": 2e4},
        {"from_middle": 322.0, "radial_stiffness": 6500.0, "axial_stiffness": 90.0, "length": 42.0,
         "conical_stiffness": 1.4e5},
    ],
    "links": {"left": {"pickup": [-236.0, 530.0, -150.0], "axial_stiffness": 15_000.0, "length_error": 1.5},
              "right": {"length": 120.0, "direction": [0.1, -0.2, -1.0], "axial_stiffness": 9000.0}},
    "travel": {"pickup": 32.0, "direction": [0, 0, 1]},
}  # fmt: skip
FORCES = ("rate_N_per_mm", "rate_initial_N_per_mm")


def solved(bar: dict[str, Any]) -> dict[str, float]:
    bar = copy.deepcopy(bar)
    bar["ends"]["holes"] = bar["ends"]["left"]["holes"]
    base = {key: value for key, value in PLAIN.items() if key not in bar}
    result = check(base={**base, **bar})
    (setting,) = result["settings"]
    found = {key: setting[key] for key in (*FORCES, "yield_margin")}
    for state in setting["states"]:
        for side in ("left", "right"):
            found[f"{state['at']} {side}"] = state[f"link_force_{side}_N"]
    for key in ("amplitude_MPa", "mean_MPa", "safety_factor_at_target"):
        found[key] = setting["fatigue"][key]
    return {**found, "peak": setting["peak"]["von_mises_MPa"], "mass": result["mass_kg"]}


def mapped(matrix: Any, bar: dict[str, Any], *, shift: Any = (0.0, 0.0, 0.0)) -> dict[str, Any]:
    """Every point and vector of the bar taken through a rotation or reflection; points also shifted."""
    bar, m = copy.deepcopy(bar), np.asarray(matrix, float)

    def vector(v: Any) -> list[float]:
        return [float(x) for x in m @ np.asarray(v, float)]

    def point(p: Any) -> list[float]:
        return [x + s for x, s in zip(vector(p), shift, strict=True)]

    bar["centreline"]["points"] = [point(p) for p in bar["centreline"]["points"]]
    for side in ("left", "right"):
        end, link = bar["ends"][side], bar["links"][side]
        end["flat"]["normal"] = vector(end["flat"]["normal"])
        for hole in end["holes"]:
            hole["offset"] = vector(hole["offset"])
        if "direction" in link:
            link["direction"] = vector(link["direction"])
        else:
            link["pickup"] = point(link["pickup"])
    return bar


def sides_exchanged(bar: dict[str, Any]) -> dict[str, Any]:
    """The same things listed from the other tip."""
    bar = copy.deepcopy(bar)
    for key in ("points", "bend_radius"):
        bar["centreline"][key] = bar["centreline"][key][::-1]
    for table in ("ends", "links"):
        bar[table]["left"], bar[table]["right"] = bar[table]["right"], bar[table]["left"]
    bar["mounts"] = [{**m, "from_middle": -m["from_middle"]} for m in bar["mounts"][::-1]]
    return bar


@pytest.fixture(scope="module")
def plain() -> dict[str, float]:
    return solved(BAR)


TURN = np.array([[math.cos(0.3), -math.sin(0.3), 0.0], [math.sin(0.3), math.cos(0.3), 0.0], [0.0, 0.0, 1.0]])


@pytest.mark.parametrize(
    ("matrix", "shift"),
    [(TURN, (0.0, 0.0, 0.0)), (np.diag([-1.0, 1.0, 1.0]), (0.0, 0.0, 0.0)), (np.eye(3), (310.0, -70.0, 45.0))],
    ids=["turned about z", "mirrored front to back", "shifted"],
)
def test_turned_mirrored_or_shifted(plain: dict[str, float], matrix: Any, shift: tuple[float, ...]) -> None:
    assert solved(mapped(matrix, BAR, shift=shift)) == pytest.approx(plain, rel=1e-7, abs=1e-6)


@pytest.mark.parametrize(
    "matrix", [np.diag([1.0, -1.0, 1.0]), np.diag([-1.0, -1.0, 1.0])], ids=["mirrored", "half turn"]
)
def test_sides_exchanged(plain: dict[str, float], matrix: Any) -> None:
    """The other end of the cycle of the one is full travel of the other, with left and right exchanged."""
    other = solved(sides_exchanged(mapped(matrix, BAR)))
    names = {"travel left": "other end right", "travel right": "other end left", "rest left": "rest right"}
    names |= {value: key for key, value in names.items()}
    for key, value in other.items():
        if key == "rate_N_per_mm":  # of full travel, which is another state here
            continue
        sampled = key in ("yield_margin", "amplitude_MPa", "mean_MPa", "peak", "safety_factor_at_target")
        # Resultants inside an element are interpolated from its low end, the other one in the mirrored bar.
        assert value == pytest.approx(plain[names.get(key, key)], rel=2e-5 if sampled else 1e-7, abs=1e-6), key


@pytest.mark.parametrize("degrees", [-37.0, 12.5, 63.0])
def test_the_whole_drawing_leans_fore_or_aft(plain: dict[str, float], degrees: float) -> None:
    """Points round a section are counted from the bends, not from the drawing's axes: a leaning drawing moves none."""
    angle = math.radians(degrees)
    lean = np.array(
        [[math.cos(angle), 0.0, math.sin(angle)], [0.0, 1.0, 0.0], [-math.sin(angle), 0.0, math.cos(angle)]]
    )
    other = mapped(lean, BAR)
    other["travel"] = {**BAR["travel"], "direction": [float(x) for x in lean @ np.array([0.0, 0.0, 1.0])]}
    assert solved(other) == pytest.approx(plain, rel=1e-7, abs=1e-6)


def test_units_as_strings(plain: dict[str, float]) -> None:
    """Inches, pounds, metres, degrees: exact by definition (1 in = 25.4 mm, 1 lbf = 4.4482216152605 N)."""
    bar = copy.deepcopy(BAR)
    bar["material"] |= {"E": "206 GPa", "density": "7.85 g/cm^3", "yield_strength": "1.5 GPa"}
    bar["section"]["diameter"] = f"{21 / 25.4!r} in"
    bar["centreline"]["points"] = [[f"{x / 25.4!r} in" for x in p] for p in bar["centreline"]["points"]]
    for m in bar["mounts"]:
        m["radial_stiffness"] = f"{m['radial_stiffness'] / 4.4482216152605 * 25.4!r} lbf/in"
        m["length"] = f"{m['length'] / 1000!r} m"
        for key in {"torsional_stiffness", "conical_stiffness"} & m.keys():
            m[key] = f"{m[key] * math.pi / 180 / 1000!r} N*m/deg"
    bar["travel"]["pickup"] = "3.2 cm"
    found = solved(bar)
    assert {key: value for key, value in found.items() if key in plain} == pytest.approx(plain, rel=1e-8, abs=1e-6)


def test_scaled(plain: dict[str, float]) -> None:
    """Lengths and stiffnesses in N/mm times s, in N mm/rad times s^3: forces s^2, rates s, stress alike, mass s^3.

    5e-4 on stress: inside a mount it is looked at in steps of some mm.
    """
    s, bar = 1.4, copy.deepcopy(BAR)
    bar["section"]["diameter"] *= s
    bar["centreline"] = {
        "points": [[s * x for x in p] for p in BAR["centreline"]["points"]],
        "bend_radius": [s * r for r in BAR["centreline"]["bend_radius"]],
    }
    for side in ("left", "right"):
        end, link = bar["ends"][side], bar["links"][side]
        for key in ("thickness", "width", "length", "transition"):
            end["flat"][key] *= s
        for hole in end["holes"]:
            hole |= {"from_tip": s * hole["from_tip"], "diameter": s * hole["diameter"]}
            hole["offset"] = [s * x for x in hole["offset"]]
        for key in {"length", "length_error", "axial_stiffness"} & link.keys():
            link[key] *= s
        if "pickup" in link:
            link["pickup"] = [s * x for x in link["pickup"]]
    for m in bar["mounts"]:
        for key in m:
            m[key] *= s**3 if key in ("torsional_stiffness", "conical_stiffness") else s
    bar["travel"]["pickup"] *= s
    found = solved(bar)
    for key, value in plain.items():
        if key in ("safety_factor_at_target", "mean_MPa", "yield_margin"):  # the size factor; small ones; the peak's
            continue
        power = 1 if key in FORCES else 3 if key == "mass" else 2 if " " in key else 0
        assert found[key] == pytest.approx(value * s**power, rel=1e-5 if power else 5e-4, abs=1e-6), key
