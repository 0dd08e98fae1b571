"""Bars bent cold after hardening, not stress-relieved, and peened: under what peening presses the tension stays.

Peening presses 0.3 mm. The stress that springback leaves in a bend falls over the bar's radius, so that below it nearly
all of it is there (plastic bending of a beam, any text; that cracks then begin under a peened skin is from memory).
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.check.bar_files import check
from tests.fatigue.life_by_hand import PEENED_TO_MM, Place

DIAMETER = 24.0
NEAR_THE_BENDS = (
    ("section.diameter", DIAMETER), ("mounts.0.from_middle", -430.0), ("mounts.1.from_middle", 430.0),
    ("ends", {"holes": [{"name": "1", "from_tip": 20.0}]}), ("travel.pickup", 38.0),
    ("material", {"grade": "custom", "E": 206_000.0, "nu": 0.3, "density": 7850.0, "yield_strength": 1200.0,
                  "tensile_strength": 1350.0, "surface": "as-hardened-scaled", "bent": "after-hardening"}),
)  # fmt: skip
PEENED, RELIEVED = ("material.peening", "shot"), ("material.stress_relieved", True)


def fatigue(*changes: tuple[str, Any]) -> dict[str, Any]:
    return dict(check(*NEAR_THE_BENDS, *changes)["settings"][0]["fatigue"])


def test_peening_does_not_do_what_stress_relieving_does():
    """It takes a bar from far too weak to better, and relief before it to better still: the tension under it counts."""
    neither, peened, both = fatigue(), fatigue(PEENED), fatigue(PEENED, RELIEVED)
    factors = [of["safety_factor_at_target"] for of in (neither, peened, both)]
    assert factors[0] < 0.8 * factors[1] < 0.8 * 0.9 * factors[2]
    assert "inside" in peened["where"] and peened["least_goodman_safety_factor"] < both["least_goodman_safety_factor"]
    assert fatigue(RELIEVED, ("duty.target_cycles", 150_000)) == fatigue(
        ("material.bent", "before-hardening"), ("duty.target_cycles", 150_000)
    )


@pytest.mark.parametrize(
    ("tensile", "yields", "changes"),
    [
        (1350.0, 1200.0, ()),
        (1350.0, 1200.0, (("travel.pickup", 44.0),)),
        (1350.0, 1200.0, (("duty.ratio", -0.6), ("travel.pickup", 46.0))),
        (1800.0, 1700.0, (("travel.pickup", 47.0),)),  # hard: the load leaves room for all of it
    ],
)
def test_life_under_a_peened_bend_by_hand(tensile, yields, changes):
    """Springback leaves (16 / (3 pi) rho - 1) Sy, rho the radius where compression ends over the bar's, at most what
    the load leaves up to yield; sound steel feels it there by the milder of Goodman's rule and a flaw's.
    """
    steel = (("material.tensile_strength", tensile), ("material.yield_strength", yields))
    found = fatigue(PEENED, *steel, *changes)
    amplitude, mean = found["amplitude_MPa"], found["mean_MPa"]
    springback = 16.0 / (3.0 * math.pi) * (1.0 - PEENED_TO_MM / (0.5 * DIAMETER)) - 1.0
    left = min(springback * yields, yields - amplitude - mean)
    assert (left < springback * yields) == (tensile < 1500.0)
    place = Place(tensile, "as-hardened-scaled", DIAMETER, found["factors"]["effective_diameter_mm"], peened=True)
    by_hand = place.life(amplitude, mean, found["residual_stress_MPa"], under=left)
    assert "inside" in found["where"] and 1e3 < by_hand < 1e6
    assert found["life_cycles"] == pytest.approx(by_hand, rel=1e-3)
    assert place.life(amplitude, mean, found["residual_stress_MPa"]) > 3.0 * by_hand


def test_a_duty_of_full_travel_alone_has_the_life_of_full_travel():
    whole = fatigue(PEENED, ("travel.pickup", 42.0))
    blocks = [{"pickup": 42.0, "cycles": 1000}]
    duty = fatigue(PEENED, ("travel.pickup", 42.0), ("duty.blocks", blocks), ("targets.critical_sum", 1.0))
    assert 1000.0 * duty["life_repeats"] == pytest.approx(whole["life_cycles"], rel=1e-6)


def test_words_of_a_peened_bar_tell_of_the_tension_under_it():
    said = " ".join(check(*NEAR_THE_BENDS, PEENED)["assumptions"])
    assert "Peening covers it and leaves it below" in said
    assert "leaves it below" not in " ".join(check(*NEAR_THE_BENDS, PEENED, RELIEVED)["assumptions"])
