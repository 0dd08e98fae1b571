"""What the drawn bar tells of stress along a way, held against bars that are solved there."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from barfem.model.read import read_bar
from barfem.study.change import change
from barfem.study.evaluate import chosen_settings, evaluate_at
from barfem.study.evaluation import Evaluation
from barfem.study.stress_laws import POWER_OF_ARM, law_of_arm, law_of_travel
from barfem.study.target_score import score_of
from barfem.study.ways import ways_for

GEOMETRIES = Path(__file__).parents[2] / "geometries"
TUBE = GEOMETRIES / "pickup-rear-tube.toml"


def solved(bar) -> Evaluation:
    return next(evaluate_at([(bar, chosen_settings(bar))], load_factors=True))


@pytest.mark.parametrize("name", ["pickup-rear-tube", "pickup-rear-unequal"])
def test_the_hole_beside_tells_what_a_longer_arm_does(name):
    """Arms 40 mm longer: what the load may grow by at each hole is told within 6 per cent before it is solved."""
    bar = read_bar(GEOMETRIES / f"{name}.toml")
    drawn = solved(bar)
    step = list(ways_for(bar, "roll")["arm"])[7]
    longer = solved(change(bar, step.changes))
    for j in range(len(drawn.settings)):
        gained = score_of(longer, j) - score_of(drawn, j)
        assert -law_of_arm(drawn, j, of_first_hole=True)(step.share) == pytest.approx(gained, rel=0.06)


def test_a_bar_of_one_hole_takes_the_usual_power():
    bar = read_bar(TUBE)
    of_one = next(evaluate_at([(bar, chosen_settings(bar, holes=["2"]))], load_factors=True))
    assert law_of_arm(of_one, 0)(0.5) == pytest.approx(POWER_OF_ARM * math.log(0.5))


def test_stress_over_travel_rises_beyond_proportion_by_half_of_what_the_rate_does():
    """A third less travel, as the drawn rate and that at rest tell it, within a hundredth of the load."""
    bar = read_bar(TUBE)
    drawn = solved(bar)
    less = solved(change(bar, {"travel.wheel": 2.0 / 3.0 * bar.tables["travel"]["wheel"]}))
    for j in range(len(drawn.settings)):
        gained = score_of(less, j) - score_of(drawn, j)
        assert -law_of_travel(drawn, j)(2.0 / 3.0) == pytest.approx(gained, abs=0.01)
