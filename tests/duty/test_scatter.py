"""Survival lives and planning of tests."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.strength.duty.scatter import (
    LifeScatter,
    bars_to_test,
    chance_to_pass,
    failed_mean_ratio,
    required_life_ratio,
)

SCATTERS = [LifeScatter(weibull_shape=2.5), LifeScatter(log10_life_deviation=0.2)]


@pytest.mark.parametrize("scatter", SCATTERS)
def test_half_of_the_bars_reach_the_median(scatter: LifeScatter) -> None:
    # Tested to the median life itself: a coin a bar.
    assert chance_to_pass(bars=3, median_over_target=2.0, life_ratio=2.0, scatter=scatter) == pytest.approx(0.125)


@pytest.mark.parametrize("scatter", SCATTERS)
def test_a_test_shows_what_it_was_planned_for(scatter: LifeScatter) -> None:
    for ratio in (0.8, 1.0, 1.5, 2.0):
        bars = bars_to_test(reliability=0.9, confidence=0.9, life_ratio=ratio, scatter=scatter)

        def shown(bars: int, ratio: float = ratio) -> float:
            """Reliability at the target, of bars all of which lasted: R^n = 1 - confidence at the test's end."""
            return scatter.reliability_later(0.1 ** (1.0 / bars), life_ratio=1.0 / ratio)

        assert shown(bars) >= 0.9
        if bars > 1:
            assert shown(bars - 1) < 0.9
        need = required_life_ratio(bars=bars, reliability=0.9, confidence=0.9, scatter=scatter)
        assert need <= ratio + 1e-9


@pytest.mark.parametrize("scatter", SCATTERS)
def test_bad_bars_pass_the_planned_test_as_seldom_as_said(scatter: LifeScatter) -> None:
    # Bars of which just 90 % reach the target: the test is passed with 10 % chance at most.
    bars, ratio = 6, required_life_ratio(bars=6, reliability=0.9, confidence=0.9, scatter=scatter)
    rng = np.random.default_rng(1)
    if scatter.weibull_shape is not None:
        scale = (-np.log(0.9)) ** (-1.0 / scatter.weibull_shape)
        lives = scale * rng.weibull(scatter.weibull_shape, (100_000, bars))
    else:
        lives = 10.0 ** (0.2 * (1.2815516 + rng.normal(size=(100_000, bars))))
    # Three standard errors of 0.001.
    assert np.mean(lives.min(axis=1) > ratio) == pytest.approx(0.1, abs=0.003)


@pytest.mark.parametrize("scatter", SCATTERS)
def test_bad_bars_run_to_failure_show_it_as_seldom_as_said(scatter: LifeScatter) -> None:
    bars, rng = 5, np.random.default_rng(2)
    ratio = failed_mean_ratio(bars=bars, reliability=0.9, confidence=0.9, scatter=scatter)
    if scatter.weibull_shape is not None:
        shape = scatter.weibull_shape
        lives = (-np.log(0.9)) ** (-1.0 / shape) * rng.weibull(shape, (100_000, bars))
        mean = (lives**shape).mean(axis=1) ** (1.0 / shape)
    else:
        lives = 10.0 ** (0.2 * (1.2815516 + rng.normal(size=(100_000, bars))))
        mean = 10.0 ** np.log10(lives).mean(axis=1)
    # Three standard errors of 0.001.
    assert np.mean(mean > ratio) == pytest.approx(0.1, abs=0.003)


@pytest.mark.parametrize("scatter", SCATTERS)
def test_one_bar_shows_as_much_by_failing_as_by_lasting(scatter: LifeScatter) -> None:
    one = {"bars": 1, "reliability": 0.95, "confidence": 0.8, "scatter": scatter}
    assert failed_mean_ratio(**one) == pytest.approx(required_life_ratio(**one), rel=1e-9)  # type: ignore[arg-type]
    more = failed_mean_ratio(**{**one, "bars": 4})  # type: ignore[arg-type]
    assert required_life_ratio(**{**one, "bars": 4}) < more < failed_mean_ratio(**one)  # type: ignore[arg-type]


@pytest.mark.parametrize("scatter", SCATTERS)
def test_tendencies(scatter: LifeScatter) -> None:
    plan = {"reliability": 0.9, "confidence": 0.9, "life_ratio": 1.2, "scatter": scatter}
    bars = bars_to_test(**plan)  # type: ignore[arg-type]
    assert bars_to_test(**{**plan, "reliability": 0.99}) > bars  # type: ignore[arg-type]
    assert bars_to_test(**{**plan, "confidence": 0.99}) > bars  # type: ignore[arg-type]
    assert bars_to_test(**{**plan, "life_ratio": 2.0}) < bars  # type: ignore[arg-type]
    better, worse = (
        chance_to_pass(bars=bars, median_over_target=m, life_ratio=1.2, scatter=scatter) for m in (4.0, 2.0)
    )
    assert 0.0 < worse < better < 1.0


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match=r"reliability 1\.0 is not a share"):
        bars_to_test(reliability=1.0, confidence=0.9)
    with pytest.raises(InputError, match="needs the scatter"):
        bars_to_test(reliability=0.9, confidence=0.9, life_ratio=1.5)
    with pytest.raises(InputError, match="shows nothing"):
        bars_to_test(reliability=0.9, confidence=0.9, life_ratio=1e-4, scatter=SCATTERS[0])
    for wrong in ({}, {"weibull_shape": 2.0, "log10_life_deviation": 0.2}):
        with pytest.raises(InputError, match="needs the scatter of life"):
            LifeScatter(**wrong)
    with pytest.raises(InputError, match="Weibull shape of 0"):
        LifeScatter(weibull_shape=0.0)
    with pytest.raises(InputError, match="0 bars"):
        required_life_ratio(bars=0, reliability=0.9, confidence=0.9, scatter=SCATTERS[0])
    with pytest.raises(InputError, match="0 bars"):
        failed_mean_ratio(bars=0, reliability=0.9, confidence=0.9, scatter=SCATTERS[0])
    with pytest.raises(InputError, match=r"confidence 0\.0 is not a share"):
        failed_mean_ratio(bars=2, reliability=0.9, confidence=0.0, scatter=SCATTERS[0])
