"""Shares of the tip's deflection by the energy of one half of a plain U-bar (Castigliano), written out term by term."""

from __future__ import annotations

import math

import pytest

from tests.check.bar_files import PLAIN, check

E, G, D = 206_000.0, 206_000.0 / 2.6, 20.0
INERTIA, POLAR = math.pi * D**4 / 64.0, math.pi * D**4 / 32.0
LEVER, RADIUS, HALF, MOUNT = 250.0, 50.0, 550.0, 300.0
RADIAL, LINK = 3000.0, 1000.0


@pytest.fixture(scope="module", params=[0.0, 4.0], ids=["point mounts", "short bushings"])
def shares(request: pytest.FixtureRequest) -> dict[str, float]:
    mounts = [
        {"y": y, "radial_stiffness": RADIAL, "axial_stiffness": 1000.0, "length": request.param}
        for y in (-MOUNT, MOUNT)
    ]
    changes = (("mounts", mounts), ("links.axial_stiffness", LINK))
    shares: dict[str, float] = check(*changes, base=PLAIN)["settings"][0]["compliance"]
    return {**shares, "length": request.param}


def by_hand() -> dict[str, float]:
    """Deflection of one hole per N of opposite forces, mm, without shear."""
    quarter = 0.5 * math.pi
    straight = LEVER - RADIUS
    # In the bend, phi from the arm's tangent: bending a cos(phi) + R sin(phi), torsion a sin(phi) + R (1 - cos(phi)).
    bend = RADIUS * (straight**2 * quarter / 2 + RADIUS**2 * quarter / 2 + straight * RADIUS)
    twist = RADIUS * (straight**2 * quarter / 2 + RADIUS**2 * (1.5 * quarter - 2.0) + 2 * straight * RADIUS * 0.5)
    out = HALF - MOUNT
    return {
        "torsion": (twist + LEVER**2 * (HALF - RADIUS)) / (G * POLAR),
        "arm_bending": (straight**3 / 3 + bend + (out**3 - RADIUS**3) / 3) / (E * INERTIA),
        "centre_bending": out**2 * MOUNT / 3 / (E * INERTIA),
        "mounts": (HALF / MOUNT) ** 2 / RADIAL,
        "links": 1.0 / LINK,
    }


@pytest.mark.parametrize("part", ["torsion", "arm_bending", "centre_bending", "mounts", "links"])
def test_the_shares_are_those_of_the_hand_calculation(shares: dict[str, float], part: str) -> None:
    # A bushing of 4 mm resists tilting a little (radial stiffness x length^2 / 12).
    tolerance = 2e-3 if shares["length"] else 3e-4
    hand = by_hand()
    bar = sum(hand.values())
    ours = shares[part] / (1.0 - shares["shear_and_axial"])
    assert ours == pytest.approx(hand[part] / bar, rel=tolerance)
