"""The evaluator against the check it stands in for: the same numbers, whatever company a bar is in."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.result import CheckResult
from barfem.model.data_paths import demo_bars
from barfem.model.errors import BarfemError, InputError
from barfem.model.read import bar_from_dict, read_bar
from barfem.model.units import number
from barfem.study.change import change
from barfem.study.evaluate import chosen_settings, evaluate, evaluate_at, evaluate_one
from barfem.study.evaluation import Evaluation
from tests.model.bar_data import changed
from tests.study.bars import SOLID, TUBE, UNEQUAL

DEMOS = demo_bars()
# Newton stops at relative forces of 1e-9 and mostly lands far below; the same work in the same order gives this.
SAME = 1e-12


def assert_same(found: Evaluation, result: CheckResult, *, rel: float) -> None:
    assert found.passes.tolist() == [setting.passes for setting in result.settings]
    assert found.mass_kg == pytest.approx(result.mass_kg, rel=rel)
    assert found.left == tuple(setting.left for setting in result.settings)
    assert found.right == tuple(setting.right for setting in result.settings)
    assert found.cases == tuple(setting.case for setting in result.settings)
    for j, setting in enumerate(result.settings):
        fatigue = setting.fatigue
        force = max(abs(setting.link_force_left_N), abs(setting.link_force_right_N))
        pairs: list[tuple[Any, float | None]] = [
            (found.rate_N_per_mm[j], setting.rate_N_per_mm),
            (found.rate_initial_N_per_mm[j], setting.rate_initial_N_per_mm),
            (found.link_force_N[j], force),
            (found.peak_MPa[j], setting.peak.von_mises_MPa),
            (found.yield_margin[j], setting.yield_margin),
            (found.safety_factor_at_target[j], fatigue.safety_factor_at_target),
            (found.goodman_safety_factor[j], fatigue.least_goodman_safety_factor),
            (found.life_cycles[j], fatigue.life_cycles),
            (found.life_at_survival_cycles[j], fatigue.life_at_survival_cycles),
        ]
        for ours, theirs in pairs:
            assert ours == pytest.approx(math.nan if theirs is None else theirs, rel=rel, nan_ok=True)
        assert bool(found.runout[j]) == fatigue.runout
        assert found.peak_where[j] == setting.peak.where
        assert found.fatigue_where[j] == fatigue.where


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_one_bar_is_evaluated_as_it_is_checked(path: Path) -> None:
    assert_same(evaluate_one(read_bar(path)), check_bar(path), rel=SAME)


def test_blocks_are_judged_as_check_judges_them() -> None:
    for cycles in (2e4, 2e6):
        blocks = [{"pickup": 24.0, "cycles": cycles}, {"pickup": 12.0, "cycles": 1e6, "ratio": 0.0}]
        duty = change(read_bar(SOLID), {"duty": {"blocks": blocks, "repeats": 2}})
        plain = read_bar(SOLID)
        *first, again, last = evaluate([plain, duty, duty, plain])
        for found in first:
            result = check_bar(found.bar)
            assert_same(found, result, rel=1e-9)
            for j, setting in enumerate(result.settings):
                wanted = None if setting.fatigue.duty is None else setting.fatigue.duty.life_at_survival_repeats
                ours = found.repeats_at_survival[j]
                assert ours == pytest.approx(math.nan if wanted is None else wanted, rel=1e-9, nan_ok=True)
        for one, other in zip(first, (last, again), strict=True):
            assert other.repeats_at_survival == pytest.approx(one.repeats_at_survival, rel=1e-9, nan_ok=True)
            assert other.safety_factor_at_target == pytest.approx(one.safety_factor_at_target, rel=1e-9)


@pytest.mark.parametrize(("path", "factor", "target", "lasts"), [
    (SOLID, 3.8, 500.0, False), (SOLID, 3.8, 200.0, True), (TUBE, 2.5, 300.0, False),
])  # fmt: skip
def test_local_yielding_is_judged_as_check_judges_it(path: Path, factor: float, target: float, lasts: bool) -> None:
    """Travel at which the stiffest hole's worst place yields in every cycle: there strain-life is looked at as well."""
    bar = read_bar(path)
    changes = {"travel": {"pickup": factor * bar.travel.up_mm, "direction": [0, 0, 1]}, "duty.target_cycles": target}
    hard = change(bar, changes | {"targets.yield_margin": 0.0})
    found = evaluate_one(hard)
    checked = check_bar(hard)
    assert_same(found, checked, rel=SAME)
    stiffest = checked.settings[-1].fatigue
    assert stiffest.strain_life is not None
    assert bool(found.passes[-1]) == lasts


@pytest.mark.long
def test_company_changes_nothing() -> None:
    bars = [read_bar(path) for path in DEMOS]
    together = list(evaluate(bars, chunk=6))
    alone = list(evaluate(bars, chunk=1))
    assert [found.number for found in together] == list(range(6))
    for one, other in zip(together, alone, strict=True):
        for name in ("rate_N_per_mm", "peak_MPa", "yield_margin", "life_at_survival_cycles", "safety_factor_at_target"):
            assert np.allclose(getattr(one, name), getattr(other, name), rtol=1e-11, equal_nan=True), name


def test_holes_and_cases_can_be_chosen() -> None:
    path = next(path for path in DEMOS if "splayed" in path.name)
    bar = read_bar(path)
    whole = evaluate_one(bar)
    assert set(whole.cases) == {"roll", "one-wheel"}
    chosen = evaluate_one(bar, holes=["C", "A"], case="roll")
    assert chosen.left == ("C", "A")
    for j, name in enumerate(chosen.left):
        k = whole.left.index(name)
        assert chosen.rate_N_per_mm[j] == pytest.approx(whole.rate_N_per_mm[k], rel=1e-9)
        assert chosen.peak_MPa[j] == pytest.approx(whole.peak_MPa[k], rel=1e-9)
    pair = evaluate_one(bar, holes=["A/C"], case="roll")
    assert (pair.left, pair.right) == (("A",), ("C",))
    assert evaluate_one(bar, holes=["A", "A/A"], case="roll").left == ("A",), "one hole setting, named twice"
    with pytest.raises(InputError, match="no hole"):
        evaluate_one(bar, holes=["D"])
    with pytest.raises(InputError, match="load case"):
        evaluate_one(bar, case="heave")


def test_a_generator_is_drawn_on_a_chunk_at_a_time() -> None:
    drawn: list[int] = []

    def bars() -> Any:
        for i in range(9):
            drawn.append(i)
            yield bar_from_dict(changed(("section.diameter", 20.0 + i)))

    found = evaluate(bars(), chunk=4)
    next(found)
    assert len(drawn) == 4
    rates = [float(one.rate_N_per_mm[0]) for one in found]
    assert rates == sorted(rates) and len(drawn) == 9


@pytest.mark.long
def test_a_bar_without_equilibrium_can_be_kept() -> None:
    good = bar_from_dict(changed(("travel.pickup", 20.0)))
    # Arms of 250 mm cannot follow 240 mm of travel on links of 140 mm.
    bad = bar_from_dict(changed(("travel.pickup", 240.0), ("links.length", 140.0)))
    with pytest.raises(BarfemError):
        evaluate_one(bad)
    found = list(evaluate([good, bad, good]))
    assert found[0].problem is None and found[2].problem is None
    assert found[1].problem and "travel" in found[1].problem
    assert np.isnan(found[1].rate_N_per_mm).all() and not found[1].passes.any()
    assert found[2].rate_N_per_mm == pytest.approx(found[0].rate_N_per_mm, rel=1e-9)
    assert evaluate_one(good).problem is None


def test_a_straight_is_two_places_and_the_bars_worst_is_that_of_the_check() -> None:
    """The middle straight is worst at either end, by a hair in a symmetrical bar: its halves are smooth one by one."""
    bar = read_bar(demo_bars()[3])
    (found,) = evaluate([bar], halves=True)
    assert found.places is not None
    of_middle = [p for p, name in enumerate(found.places.names) if name[:2] == ("straight", 2)]
    assert [found.places.names[p][2] for p in of_middle] == [0, 1]
    checked = check_bar(bar)
    for j, setting in enumerate(checked.settings):
        (place,) = [p for p in setting.places if (p.kind, p.index) == ("straight", 2) and p.surface == "outside"]
        assert found.places.peak_MPa[j, of_middle].max() == pytest.approx(place.von_mises_MPa, rel=1e-6)
        assert found.places.peak_MPa[j].max() == pytest.approx(setting.peak.von_mises_MPa, rel=2e-6)
        least = found.places.safety_factor_at_target[j][np.isfinite(found.places.safety_factor_at_target[j])].min()
        assert least <= setting.fatigue.safety_factor_at_target * (1.0 + 1e-9)


@pytest.mark.parametrize(("more", "ratio"), [(1.0, -1.0), (1.6, 0.0), (2.4, -1.0)])
@pytest.mark.parametrize("path", demo_bars(), ids=lambda path: path.stem)
def test_of_lives_alone_the_same_bars_pass(path: Path, more: float, ratio: float) -> None:
    """Advice asks what passes, of dozens of bars: which place a growing load breaks first is not looked for then."""
    tables = read_bar(path).tables or {}
    travel = {key: value for key, value in tables["travel"].items() if key in ("wheel", "pickup", "one_wheel")}
    farther = {f"travel.{key}": more * number(value, "length") for key, value in travel.items()}
    goodman = {"targets.goodman_safety_factor": 1.0, "material.peening": "shot"}
    bar = change(read_bar(path), {**farther, **goodman, "duty.ratio": ratio})
    one = (bar, chosen_settings(bar))
    (whole,), (alone,) = (list(evaluate_at([one], lives_alone=lives_alone)) for lives_alone in (False, True))
    assert alone.passes.tolist() == whole.passes.tolist()
    for name in ("rate_N_per_mm", "yield_margin", "life_at_survival_cycles", "peak_MPa"):
        np.testing.assert_allclose(getattr(alone, name), getattr(whole, name), rtol=1e-9)
    np.testing.assert_allclose(alone.goodman_safety_factor, whole.goodman_safety_factor, rtol=1e-9)


@pytest.mark.parametrize("path", [TUBE, UNEQUAL], ids=lambda path: path.stem)
def test_bars_at_survival_bear_just_the_load_whose_life_at_survival_is_the_target(path: Path) -> None:
    """A hole setting's life at survival made the target: those bars then bear the load as it is, and no more. The bar
    in the middle bears more, by one over the 0.865 of its strength that nine of ten bars have.
    """
    drawn = read_bar(path)
    found = evaluate_one(drawn)
    j = int(np.nanargmin(found.life_at_survival_cycles))
    asked = change(drawn, {"duty.target_cycles": float(found.life_at_survival_cycles[j])})
    there = next(evaluate_at([(asked, found.settings)], load_factors=True))
    assert there.load_factor_at_survival is not None
    assert there.load_factor_at_survival[j] == pytest.approx(1.0, rel=2e-3)
    assert there.safety_factor_at_target[j] > 1.1
