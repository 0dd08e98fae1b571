"""A bar checked after another one: what is taken over of the other changes no number."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.model.read import read_bar
from barfem.study.change import change
from barfem.study.evaluate import evaluate, evaluate_one, evaluation_of

BAR = Path(__file__).parents[2] / "geometries" / "coupe-rear-cranked.toml"


@pytest.fixture(scope="module")
def drawn():
    return check_bar(read_bar(BAR))


CHANGES = [
    {"links.axial_stiffness": 20000.0},
    {"travel.pickup": 25.0},
    {"material.surface": "machined"},
    {"section.diameter": 15.0},
    {"mounts.*.radial_stiffness": 5e4},
    {"ends.holes.2.from_tip": 41.0},
]


@pytest.mark.parametrize("changes", CHANGES, ids=lambda changes: next(iter(changes)))
def test_a_bar_has_the_same_numbers_after_another_one(drawn, changes):
    bar = change(read_bar(BAR), changes)
    assert check_bar(bar, like=drawn.states).to_json_dict() == check_bar(bar).to_json_dict()


def test_a_solved_bar_is_evaluated_as_if_it_were_solved_for_it(drawn):
    taken, alone = evaluation_of(drawn.states), evaluate_one(read_bar(BAR))
    for name in ("rate_N_per_mm", "yield_margin", "safety_factor_at_target", "passes"):
        np.testing.assert_array_equal(getattr(taken, name), getattr(alone, name))


def test_bars_in_one_batch_have_the_numbers_of_each_alone():
    """What a bar has in common with the one before is solved once: forces, where all of the mechanics is the same."""
    drawn = read_bar(BAR)
    bars = [each for changes in CHANGES for each in (drawn, change(drawn, changes))]
    for bar, together in zip(bars, evaluate(bars), strict=True):
        alone = evaluate_one(bar)
        for name in ("rate_N_per_mm", "yield_margin", "safety_factor_at_target", "passes"):
            np.testing.assert_allclose(getattr(together, name), getattr(alone, name), rtol=1e-9)
