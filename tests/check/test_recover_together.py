"""Many bars' stress is looked at together, and each has the numbers that it has by itself.

Bars of other steels, skins, sections, ends and numbers of holes stand side by side, some peened and some not, some of
which lives end and some not: nothing of one may reach another.
"""

from __future__ import annotations

from collections import deque
from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from barfem.check import endurance
from barfem.check.endurance import life_asked_of
from barfem.check.solved import Loaded, Solved, recover_stress, recover_together
from barfem.model.bar import Bar
from barfem.model.read import read_bar
from barfem.solve.beam import BeamSolution, all_settings, solve_bar
from barfem.strength import recover
from barfem.strength.cycle_ranks import ENOUGH
from barfem.study.change import change
from tests.often import often

BARS = Path(__file__).resolve().parents[2] / "geometries"
NAMES = ("pickup-front-solid", "coupe-front-splayed", "pickup-rear-tube", "coupe-rear-cranked", "coupe-front-bends")


def alike_in_targets(bar: Bar, like: Bar, *, travel: float = 1.0) -> Bar:
    """A bar with the duty and targets of another, and a multiple of its travel."""
    moved = replace(bar.travel, up_mm=travel * bar.travel.up_mm, down_mm=travel * bar.travel.down_mm)
    scatter = replace(bar.steel, scatter=like.steel.scatter)
    return replace(bar, duty=like.duty, targets=like.targets, travel=moved, steel=scatter)


@cache
def solutions() -> tuple[BeamSolution, ...]:
    """Solved bars: the drawn ones, harder driven, of a soft steel, rough and not peened, and at one hole alone."""
    drawn = [read_bar(BARS / f"{name}.toml") for name in NAMES]
    first = drawn[0]
    soft = change(first, {"material.hardness": "30 HRC"})
    rough = change(drawn[0], {"material.peening": "none", "material.surface": "hot-rolled"})
    bars = [
        *(alike_in_targets(bar, first) for bar in drawn),
        *(alike_in_targets(bar, first, travel=1.6) for bar in drawn[:3]),
        alike_in_targets(soft, first),
        alike_in_targets(rough, first),
    ]
    asked = [life_asked_of(bar) for bar in bars]
    assert max(asked.count(one) for one in asked) > 6, "most of them are looked at together"
    assert {bar.steel.peening is None for bar in bars} == {True, False}, "some are peened and some not"
    one_hole = [(bar, all_settings(bar)[:1]) for bar in bars[:4]]
    return tuple(solve_bar(bar, settings) for bar, settings in [*((bar, all_settings(bar)) for bar in bars), *one_hole])


def hold_equal(together: Solved, alone: Solved) -> None:
    for field in fields(alone.recovery):
        one, other = getattr(together.recovery, field.name), getattr(alone.recovery, field.name)
        if field.name in ("samples", "maps"):
            continue
        if other.dtype.kind == "i":
            np.testing.assert_array_equal(one, other, err_msg=f"{alone.bar.name}: {field.name}")
        elif field.name == "cycle_severity":
            # It only orders points; where no life ends the load that one bears is known to a hundredth of `ENOUGH`.
            np.testing.assert_allclose(one, other, rtol=0.02 * ENOUGH)
        else:
            np.testing.assert_allclose(one, other, rtol=1e-10, err_msg=f"{alone.bar.name}: {field.name}")


@pytest.mark.parametrize("at_once", often([10_000_000, 300_000, 20_000], 1))
def test_a_bar_among_many_has_the_numbers_of_the_bar_alone(monkeypatch: pytest.MonkeyPatch, at_once: int) -> None:
    monkeypatch.setattr(recover, "CHUNK_POINTS", at_once)
    alone = [recover_stress(solution) for solution in solutions()]
    monkeypatch.setattr(endurance, "_KNOWN", deque(maxlen=16))  # nothing is known of any steel
    together = recover_together([Loaded.of(solution) for solution in solutions()])
    for one, other in zip(together, alone, strict=True):
        assert one.bar is other.bar
        hold_equal(one, other)
