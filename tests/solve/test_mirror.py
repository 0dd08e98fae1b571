"""A bar that is its own mirror image: roll the other way is mirrored, and is what a solution of it gives."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from barfem.check.moves import further_moves
from barfem.model.read import read_bar
from barfem.solve import beam
from barfem.solve.mirror import mirror_images
from barfem.study.change import change

DEMO = Path(__file__).parents[2] / "geometries"


def arrays_of(solution):
    found = {item.name: getattr(solution, item.name) for item in fields(solution)}
    return {name: value for name, value in found.items() if isinstance(value, np.ndarray)}


@pytest.fixture
def counted(monkeypatch):
    """How many copies of the bar each call of Newton's method was given."""
    seen = []
    ramp = beam.ramp

    def counting(batch, *args, **kwargs):
        seen.append(batch.n_copies)
        return ramp(batch, *args, **kwargs)

    monkeypatch.setattr(beam, "ramp", counting)
    return seen


@pytest.mark.parametrize("name", ["pickup-rear-tube", "coupe-rear-cranked"])
def test_the_mirrored_state_is_the_one_that_would_be_solved(name, counted, monkeypatch):
    """Roll both ways and either wheel alone, of every hole: displacement, turn, forces, moments, energy."""
    bar = read_bar(DEMO / f"{name}.toml")
    settings = beam.all_settings(bar)
    moves = further_moves(bar, one_wheel=True)
    taken = arrays_of(beam.solve_bar(bar, settings, more_moves=moves))
    states = taken["pickup_move_mm"].shape[1]
    assert counted == [len(settings), len(settings) * (states - 1) // 2]
    monkeypatch.setattr(beam, "symmetric", lambda *_: False)
    solved = arrays_of(beam.solve_bar(bar, settings, more_moves=moves))
    assert counted[-1] == len(settings) * (states - 1)
    for key, values in solved.items():
        np.testing.assert_allclose(taken[key], values, atol=2e-8 * np.abs(values).max(), rtol=0.0, err_msg=key)


@pytest.mark.parametrize(
    "changes",
    [
        {"mounts.1.from_middle": -384.0},
        {"mounts.1.radial_stiffness": 9100.0},
        {"links.left.length_error": 0.5},
        {"ends.right.holes": [{"name": n, "from_tip": x} for n, x in (("1", 18.0), ("2", 48.2), ("3", 78.0))]},
        {"centreline.points": "a tip 0.1 mm higher"},
        {"travel.direction": [0.0, 0.1, 1.0]},
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_a_bar_that_is_no_mirror_image_is_solved_both_ways(changes, counted):
    bar = read_bar(DEMO / "coupe-rear-cranked.toml")
    if "centreline.points" in changes:
        points = [list(point) for point in bar.tables["centreline"]["points"]]
        points[-1][2] += 0.1
        changes = {"centreline.points": points}
    bar = change(bar, changes)
    settings = beam.all_settings(bar)
    beam.solve_bar(bar, settings)
    # Travel that leans outwards on both sides is a mirror image all the same.
    both_ways = 1 if "travel.direction" in changes else 2
    assert counted[1] == both_ways * len(settings)


def test_which_states_are_images_of_others():
    roll, one_wheel = [[0.0, 0.0], [-20.0, 20.0], [20.0, -20.0]], [[0.0, 0.0], [0.0, 30.0], [0.0, -30.0]]
    assert mirror_images(np.array([roll, roll])) == {2: 1}
    assert mirror_images(np.array([one_wheel])) == {}
    assert mirror_images(np.array([roll, one_wheel])) == {}
    either_wheel = [*roll, [0.0, 30.0], [30.0, 0.0], [-5.0, 5.0]]
    assert mirror_images(np.array([either_wheel])) == {2: 1, 4: 3}
