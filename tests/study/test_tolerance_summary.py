"""What is said of many bars' numbers, against hand sums and exact binomials: quantiles, intervals, misses, mismatch."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from barfem.model.read import bar_from_dict
from barfem.strength.fatigue.assess import LifeStatus
from barfem.study.bands import hole_diameter_band
from barfem.study.tolerance_misses import mismatch_of, missed_by, numbers_of
from barfem.study.tolerance_summary import chance_of, mean_chance, spread_of
from tests.model.bar_data import U_BAR


@pytest.mark.parametrize("count", [60, 200, 1000, 4001])
def test_the_interval_of_a_quantile_is_the_narrowest_of_its_order_statistics(count: int) -> None:
    """Of bars numbered in order: so many lie below the true quantile as a binomial says. Beyond either end of the
    interval lies 2.5 % of that at most, and one bar further in it would be more.
    """
    found = spread_of(np.arange(float(count)), 0.0)
    for share, (low, high) in ((0.025, found.low_interval), (0.975, found.high_interval)):
        if low > 0.0:
            assert binom.cdf(low, count, share) <= 0.025 < binom.cdf(low + 1, count, share)
        if high < count - 1.0:
            assert binom.sf(high, count, share) <= 0.025 < binom.sf(high - 1, count, share)


def test_quantiles_lie_between_neighbours() -> None:
    """Of 0 to 100: 2.5, 50 and 97.5. With a quarter of a hundred between, nothing lies past the ends."""
    found = spread_of(np.arange(101.0), 7.0)
    assert (found.low, found.middle, found.high) == (2.5, 50.0, 97.5) and found.drawn == 7.0
    few = spread_of(np.array([10.0, 20.0]), 0.0)
    assert (few.low, few.middle, few.high) == pytest.approx((10.25, 15.0, 19.75))


def test_no_quantile_lies_between_a_life_and_no_end() -> None:
    """Forty bars, the last without an end: the place of the 97.5 % is 38.025, nearer to the last that breaks."""
    lives = np.append(np.arange(1.0, 40.0), np.inf)
    assert spread_of(lives, 1.0).high == 39.0
    assert spread_of(np.append(lives, np.inf), 1.0).high == np.inf  # of 41 the place is 39.0, the first without
    assert math.isnan(spread_of(lives, 1.0).mean)


def test_mean_and_deviation_with_their_intervals_by_hand() -> None:
    """- 1, - 1, 1, 1: sample variance 4 / 3, fourth moment 1, so that the variance of the variance is
    (1 - 1 x 1 / 3) / 4 = 1 / 6 (any text: (m4 - s^4 (n - 3) / (n - 1)) / n).
    """
    found = spread_of(np.array([-1.0, 1.0, -1.0, 1.0]), 0.0)
    assert (found.mean, found.deviation) == pytest.approx((0.0, math.sqrt(4 / 3)))
    assert found.mean_interval == pytest.approx((-1.96 * math.sqrt(1 / 3), 1.96 * math.sqrt(1 / 3)))
    off = 1.96 * math.sqrt(1 / 6)
    assert found.deviation_interval == pytest.approx((math.sqrt(4 / 3 - off), math.sqrt(4 / 3 + off)))


@pytest.mark.parametrize(
    ("misses", "of", "low", "high"),
    [(0, 10, 0.0, 0.3085), (5, 10, 0.1871, 0.8129), (1, 20, 0.0013, 0.2487), (10, 10, 0.6915, 1.0)],
)
def test_intervals_of_clopper_and_pearson(misses: int, of: int, low: float, high: float) -> None:
    """Tables of exact binomial limits (any text on statistics; e.g. 5 of 10: 18.7 to 81.3 %)."""
    found = chance_of(np.arange(of) < misses)
    assert found.share == misses / of and found.interval == pytest.approx((low, high), abs=5e-5)


def test_the_mean_of_chances() -> None:
    """Half of a hundred bars break surely and half never: 0.5, deviation 0.5025, 1.96 x 0.05025 to either side."""
    found = mean_chance(np.repeat([0.0, 1.0], 50))
    assert found.share == 0.5 and found.interval == pytest.approx((0.5 - 0.09849, 0.5 + 0.09849), abs=1e-5)


BAR = bar_from_dict(U_BAR | {"targets": {"yield_margin": 0.1, "survival": 0.9}, "duty": {"target_cycles": 2e5}})
RATE = 50.0


def columns(**of: Any) -> Any:
    """Numbers of one good bar in one hole setting, with some that are not."""
    one = {
        "rate_N_per_mm": RATE, "yield_margin": 0.3, "life_at_survival_cycles": 1e6, "runout_at_survival": 0.0,
        "goodman_safety_factor": 2.0, "passes": 1.0, "repeats_at_survival": np.nan, "status": float(LifeStatus.STANDS),
        "target_share_at_survival": 1.2, "level_mm": 0.0, "force_right_N": -1000.0, "force_left_N": 1000.0,
    } | of  # fmt: skip
    return SimpleNamespace(numbers={name: np.array([[value]], float) for name, value in one.items()})


def missed(off: dict[str, float] | None = None, **of: Any) -> dict[str, float]:
    drawn = SimpleNamespace(rate_N_per_mm=np.array([RATE]))
    known = {name: np.array([value]) for name, value in (off or {}).items()}
    found = missed_by(BAR, columns(**of), drawn, (-0.1, 0.1, False), known)  # type: ignore[arg-type]
    return {name: float(values[0, 0]) for name, values in found.items()}


def test_who_misses_what() -> None:
    """A rate of 50 N/mm within 10 %, a margin of 0.1, 200 000 cycles: each from both of its sides."""
    assert {name: value for name, value in missed().items() if name != "breaking"} == {
        "rate": 0.0, "yield_margin": 0.0, "life": 0.0, "any": 0.0,
    }  # fmt: skip
    for rate, misses in ((44.9, 1.0), (45.1, 0.0), (54.9, 0.0), (55.1, 1.0), (np.nan, 1.0)):
        assert missed(rate_N_per_mm=rate)["rate"] == missed(rate_N_per_mm=rate)["any"] == misses
    for margin, misses in ((0.099, 1.0), (0.101, 0.0)):
        assert missed(yield_margin=margin)["yield_margin"] == missed(yield_margin=margin)["any"] == misses
    for life, misses in ((199_000.0, 1.0), (201_000.0, 0.0), (np.nan, 1.0)):
        assert missed(life_at_survival_cycles=life)["life"] == missed(life_at_survival_cycles=life)["any"] == misses
    endless = {"life_at_survival_cycles": np.nan, "runout_at_survival": 1.0}
    assert missed(**endless)["life"] == missed(**endless)["any"] == 0.0
    assert numbers_of(columns(**endless), "life_at_survival_cycles")[0, 0] == np.inf
    assert numbers_of(columns(life_at_survival_cycles=np.nan), "life_at_survival_cycles")[0, 0] == 0.0


def test_a_fit_that_is_wrong_one_way_makes_less_of_every_chance_and_the_other_way_more() -> None:
    """Just outside each of its limits a bar is let in by half a per cent of error one way, and just inside turned out
    by as much the other way.
    """
    off = {"rate_N_per_mm": 0.5, "yield_margin": 0.02, "life_at_survival_cycles": 0.01}
    less = {name: -value for name, value in off.items()}
    for name, outside, inside in (
        ("rate", {"rate_N_per_mm": 55.3}, {"rate_N_per_mm": 54.7}),
        ("rate", {"rate_N_per_mm": 44.7}, {"rate_N_per_mm": 45.3}),
        ("yield_margin", {"yield_margin": 0.09}, {"yield_margin": 0.11}),
        ("life", {"life_at_survival_cycles": 197_000.0}, {"life_at_survival_cycles": 203_000.0}),
    ):
        assert [missed(each, **outside)[name] for each in (None, off, less)] == [1.0, 0.0, 1.0], name
        assert [missed(each, **inside)[name] for each in (None, off, less)] == [0.0, 0.0, 1.0], name


def test_bars_break_by_how_much_stronger_than_they_need_they_are() -> None:
    """Bars at 90 % survival just as strong as they need be: one of ten is weaker. With log10 strength scattering by
    0.04922 (8 % between steels, 0.2 of log10 life on a line of exponent 6) a bar needing one deviation less than those
    has Phi(- 1.2816 - 1) = 1.128 %. What is not loaded does not break, what has no life does.
    """
    assert missed(target_share_at_survival=1.0)["breaking"] == pytest.approx(0.1, rel=1e-6)
    assert missed(target_share_at_survival=10.0**0.049218)["breaking"] == pytest.approx(0.01128, rel=2e-3)
    assert missed(target_share_at_survival=np.nan)["breaking"] == 0.0
    for status, chance in (
        (LifeStatus.BELOW_1000_CYCLES, 0.1), (LifeStatus.AMPLITUDE_AT_TENSILE, 1.0), (LifeStatus.ABOVE_YIELD, 1.0),
    ):  # fmt: skip
        assert missed(target_share_at_survival=1.0, status=float(status))["breaking"] == pytest.approx(chance)
    assert missed(rate_N_per_mm=np.nan)["breaking"] == 1.0


def test_left_against_right() -> None:
    """A tip 3 mm too high twists links of equal length: 50 N/mm of rate, half of it a side, 75 N. 1100 N left against
    1000 N right differ by 100 of a mean of 1050: 9.5 %.
    """
    drawn: Any = SimpleNamespace(
        bar=BAR, settings=(SimpleNamespace(left=0, right=0, case="roll"),), cases=("roll",),
        side_force_N=np.array([[-1000.0, 1000.0]]),
    )  # fmt: skip
    one = columns(level_mm=3.0, force_left_N=1100.0)
    found = mismatch_of(one, drawn, 0)
    assert found.level_mm.middle == pytest.approx(3.0)
    assert found.preload_N.middle == pytest.approx(75.0)
    assert found.force_percent.middle == pytest.approx(100.0 * 100.0 / 1050.0)
    assert found.force_percent.drawn == 0.0
    drawn.cases = ("one-wheel",)
    assert math.isnan(mismatch_of(one, drawn, 0).preload_N.middle)


@pytest.mark.parametrize(("diameter", "off"), [(3.0, 0.1), (6.0, 0.1), (6.1, 0.2), (30.0, 0.2), (30.5, 0.3)])
def test_a_holes_diameter_has_the_row_that_ends_with_it(diameter: float, off: float) -> None:
    """ISO 2768-1 m: over 3 up to 6 mm +- 0.1, over 6 up to 30 +- 0.2, over 30 up to 120 +- 0.3; 0.5 up to 3 +- 0.1."""
    assert hole_diameter_band(BAR, diameter)[0] == off
