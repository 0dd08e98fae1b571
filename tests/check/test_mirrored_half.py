"""A bar that is its own mirror image, rolled both ways: its left half is as its right half, and not looked at again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from barfem.check.ranking import rank_regions
from barfem.check.solved import solve_states
from barfem.model.read import read_bar
from barfem.strength import recover
from barfem.study.change import change

DEMO = Path(__file__).parents[2] / "geometries"


@pytest.fixture
def looked_at(monkeypatch):
    """How many samples stress was looked at, each time."""
    seen = []
    worst = recover._worst

    def counting(points, severity):
        seen.append(len(points.samples.region))
        return worst(points, severity)

    monkeypatch.setattr(recover, "_worst", counting)
    return seen


def both_ways(bar, monkeypatch):
    """The worst places of the bar from one half, and from both."""
    half = solve_states(bar, cases=("roll",))
    monkeypatch.setattr(recover, "halves", lambda *_: None)
    return half, solve_states(bar, cases=("roll",))


@pytest.mark.parametrize("name", ["pickup-rear-tube", "pickup-front-solid", "coupe-rear-cranked"])
def test_the_left_half_is_as_if_it_had_been_looked_at(name, looked_at, monkeypatch):
    """At every place that carries a megapascal: peak, margin and worst cycle, in which state, on which side of the
    section, and how far along the bar.
    """
    half, whole = both_ways(read_bar(DEMO / f"{name}.toml"), monkeypatch)
    assert looked_at[0] < 0.51 * len(whole.samples.region) < max(looked_at[1:])
    one, other = half.recovery, whole.recovery
    stressed, cycled = other.peak_MPa > 1.0, other.cycle_amplitude_MPa > 1.0
    for name in ("peak_MPa", "peak_evenness", "peak_state", "peak_sample", "yield_margin", "yield_sample"):
        np.testing.assert_allclose(getattr(one, name)[stressed], getattr(other, name)[stressed], rtol=1e-6)
    for name in ("cycle_amplitude_MPa", "cycle_max_MPa", "cycle_severity", "cycle_in_bore"):
        np.testing.assert_allclose(getattr(one, name)[cycled], getattr(other, name)[cycled], rtol=1e-5)
    uneven = stressed & (other.peak_evenness < 0.99)  # in torsion alone no side of a section is worse than another
    assert (one.peak_point == other.peak_point)[uneven].all()
    assert (one.governing_peak() == other.governing_peak()).all()
    for copy, (region, *_) in enumerate(rank_regions(whole.bar, other).order):
        at = copy, int(region)
        assert half.words(one.cycle_sample[at], one.cycle_point[at]) == whole.words(
            other.cycle_sample[at], other.cycle_point[at]
        )


def holes(diameter):
    return [
        {"name": name, "from_tip": at, "diameter": diameter} for name, at in (("1", 24.0), ("2", 54.0), ("3", 84.0))
    ]


FLAT = {"kind": "forged", "width": 34.0, "thickness": 12.0, "length": 100.0, "transition": 22.0, "outline": "straight"}


@pytest.mark.parametrize(
    "changes",
    [
        {"ends.right.flat": FLAT | {"fillet": 20.0}, "ends.left.flat": FLAT | {"fillet": 4.0}},
        {"ends.right.holes": holes(12.2), "ends.left.holes": holes(12.6)},
        {"mounts.1.contact": "slipping"},
        {"mounts.2.contact": "slipping"},
    ],
    ids=["a sharper fillet on the left", "larger holes on the left", "one mount", "the other mount"],
)
def test_halves_that_take_the_same_forces_otherwise_are_both_looked_at(changes, looked_at, monkeypatch):
    bar = change(read_bar(DEMO / "pickup-front-solid.toml"), changes)
    half, whole = both_ways(bar, monkeypatch)
    assert half.solution.mirrored
    assert looked_at == [len(half.samples.region)] * 2
    np.testing.assert_array_equal(half.recovery.cycle_severity, whole.recovery.cycle_severity)


def test_a_bar_that_is_rolled_further_to_one_side_is_looked_at_whole(looked_at):
    bar = change(read_bar(DEMO / "pickup-front-solid.toml"), {"duty.ratio": -0.5})
    assert not solve_states(bar, cases=("roll",)).solution.mirrored
    assert looked_at == [len(solve_states(bar, cases=("roll",)).samples.region)] * 2
