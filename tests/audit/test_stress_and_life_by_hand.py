"""Stress tensors of straights from the outside rod's own resultants, and lives by hand, to the last factor.

A round bar's peak in a straight: N / A, bending, T r / J and the shear of a transverse force at the surface,
V (1 + 2 nu) / (1 + nu) / A sin(theta) (Timoshenko & Goodier, bending of a bar of circular section). Fatigue:
`tests.fatigue.life_by_hand`; Miner with Haibach's exponent 2 k - 1.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from tests.audit.rod import Line, Rod, line_of_points, round_flexibility
from tests.audit.rod import Mount as RodMount
from tests.check.bar_files import PLAIN, check
from tests.fatigue.life_by_hand import DEPTH, Place, fraction, share

E, NU, DIAMETER = 206_000.0, 0.3, 22.0
POINTS, RADIUS = [[-250, -520, 0], [0, -490, 0], [0, 490, 0], [-250, 520, 0]], 50.0
MOUNTS = [
    {"from_middle": y, "radial_stiffness": 5000.0, "axial_stiffness": 200.0, "length": 36.0} for y in (-330.0, 330.0)
]
HOLE, LINK = 20.0, 150.0
SURFACES = (*DEPTH, "shot-peened")


def checked(
    *, tensile: float = 1500.0, surface: str = "ground", travel: float, ratio: float = -1.0, **duty: Any
) -> dict[str, Any]:
    steel = {"grade": "custom", "E": E, "nu": NU, "density": 7850.0, "yield_strength": 0.9 * tensile}
    (setting,) = check(
        ("material", {**steel, "tensile_strength": tensile, "surface": surface}),
        ("section.diameter", DIAMETER),
        ("centreline", {"points": POINTS, "bend_radius": RADIUS}),
        ("ends", {"holes": [{"name": "1", "from_tip": HOLE}]}),
        ("mounts", MOUNTS),
        ("links", {"length": LINK, "direction": [0, 0, -1]}),
        ("travel.pickup", travel),
        ("duty", duty or {"target_cycles": 150_000, "ratio": ratio}),
        ("targets", {"survival": 0.95}),
        base=PLAIN,
    )["settings"]
    return setting


@pytest.fixture(scope="module")
def rod() -> tuple[Rod, Line]:
    line = line_of_points(POINTS, [RADIUS, RADIUS])
    holes = (HOLE, line.length - HOLE)
    joints = np.array([line.at(s)[0] for s in holes])
    mounts = [RodMount(line.length / 2 + y, 5000.0, 200.0, length=36.0) for y in (-330.0, 330.0)]
    flexibility = round_flexibility(diameter=DIAMETER, E=E, nu=NU)
    up = np.array([[0.0, 0.0, 1.0]] * 2)
    pickups, lengths = joints - LINK * up, np.array([LINK, LINK])
    offsets = np.zeros((2, 3))
    step = 5.0
    return Rod(
        line, flexibility, mounts, holes, offsets=offsets, pickups=pickups, lengths=lengths, travel=up, step=step
    ), line


def surface_stress(force: np.ndarray, moment: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Axial and shear stress at 720 points round the section."""
    radius, theta = DIAMETER / 2, np.linspace(0.0, 2 * math.pi, 720, endpoint=False)
    area, second = math.pi * radius**2, math.pi * radius**4 / 4
    y, z = radius * np.cos(theta), radius * np.sin(theta)
    axial = force[0] / area + moment[1] * z / second - moment[2] * y / second
    flexure = (1 + 2 * NU) / (1 + NU) / area
    shear = moment[0] * radius / (2 * second) - flexure * (force[1] * np.sin(theta) - force[2] * np.cos(theta))
    return axial, shear


@pytest.mark.long
def test_peaks_of_straights_at_large_travel(rod: tuple[Rod, Line]) -> None:
    """Every place of a straight a diameter or more off the bends; 1e-3 for 72 points round and stations of some mm."""
    model, line = rod
    setting = checked(travel=40.0)
    solved = {"travel": model.solve([-40.0, 40.0]), "other end": model.solve([40.0, -40.0])}
    bends = [s for piece in line.pieces if piece["spin"].any() for s in piece["s"]]
    looked_at = 0
    for place in setting["places"]:
        off = min(abs(place["station_mm"] - s) for s in bends)
        if place["kind"] in ("straight", "mount edge") and off > 1.3 * DIAMETER:
            axial, shear = surface_stress(*solved[place["at"]].resultants(place["station_mm"]))
            peak = float(np.sqrt(axial**2 + 3 * shear**2).max())
            assert place["von_mises_MPa"] == pytest.approx(peak, rel=1e-3), place["where"]
            looked_at += 1
    assert looked_at >= 4


@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize(("tensile", "ratio"), [(1300.0, -1.0), (1650.0, -0.3)])
def test_lives_by_hand(surface: str, tensile: float, ratio: float) -> None:
    """Lines, flaws, peening, mean and scatter at the place that the check names, to the last factor."""
    fatigue = checked(tensile=tensile, surface=surface, travel=55.0, ratio=ratio)["fatigue"]
    effective = fatigue["factors"]["effective_diameter_mm"]
    # torsion's share moves the effective diameter between 0.37 d and d
    assert 0.37 * DIAMETER - 1e-9 <= effective <= DIAMETER + 1e-9
    peened = surface == "shot-peened"
    place = Place(tensile, "as-hardened-scaled" if peened else surface, DIAMETER, effective, peened)
    residual = fatigue["residual_stress_MPa"] or 0.0
    assert (residual < 0.0) == peened and residual >= -500.0
    limit = 0.0 if surface == "corroded" else min(place.sound, place.flaw)
    if not peened:
        assert fatigue["endurance_limit_MPa"] == (pytest.approx(limit, rel=1e-9) if limit else None)
    amplitude, mean = fatigue["amplitude_MPa"], fatigue["mean_MPa"]
    for key, strength in (("life_cycles", 1.0), ("life_at_survival_cycles", share(0.95))):
        life = place.life(amplitude, mean, residual, strength=strength)
        if surface == "corroded":  # pits grow: no decline but the line's own slope
            assert fatigue[key] is None or life > 1e6 or fatigue[key] == pytest.approx(life, rel=1e-5), key
            continue
        assert fatigue[key] == (None if life > 1e7 else pytest.approx(life, rel=1e-5)), key
    if not peened:  # peening's residual stress relaxes with the load, and the factor with it
        factor = fatigue["safety_factor_at_target"]
        assert place.life(factor * amplitude, factor * mean) == pytest.approx(150_000, rel=1e-5)


def test_blocks_add_damage_by_miner_and_haibach() -> None:
    """One block above the endurance limit, two below it; each block's stress is that of a check at its own travel."""
    blocks = [
        {"pickup": 66.0, "cycles": 900},
        {"pickup": 45.0, "cycles": 40_000, "ratio": -0.4},
        {"pickup": 20.0, "cycles": 500_000, "ratio": 0.0},
    ]
    tensile = 1700.0
    fatigue = checked(tensile=tensile, surface="polished", travel=66.0, blocks=blocks, repeats=2)["fatigue"]
    # The duty's worst point round the section is its own, with its own torsion share and so its own limit: read back
    # from the first block, it must explain the others, and lie within what the size factor can move.
    first = fatigue["duty"]["blocks"][0]
    at_1000, scatter = fraction(tensile) * tensile, share(0.95)
    life = first["cycles"] / first["damage"]
    slope = math.log(life / 1000.0) / math.log(at_1000 * scatter / first["equivalent_amplitude_MPa"])
    limit = at_1000 * 10.0 ** (-3.0 / slope)
    thick, thin = (Place(tensile, "polished", DIAMETER, at * DIAMETER).sound for at in (1.0, 0.37))
    assert thick <= limit <= thin
    damage = {}
    for survival in (0.5, 0.95):
        strength = share(survival)
        damage[survival] = 0.0
        for block in fatigue["duty"]["blocks"]:
            amplitude = block["amplitude_MPa"] / (1 - block["mean_MPa"] / tensile)
            assert block["equivalent_amplitude_MPa"] == pytest.approx(amplitude, rel=1e-9)
            k = slope if amplitude > limit * strength else 2 * slope - 1
            damage[survival] += block["cycles"] / (1e6 * (limit * strength / amplitude) ** k)
    assert fatigue["duty"]["damage_per_repeat_median"] == pytest.approx(damage[0.5], rel=1e-5)
    assert fatigue["damage_per_repeat"] == pytest.approx(damage[0.95], rel=1e-5)
    assert fatigue["life_repeats"] == pytest.approx(0.5 / damage[0.5], rel=1e-5)
    assert fatigue["life_at_survival_repeats"] == pytest.approx(0.5 / damage[0.95], rel=1e-5)
