"""Mean-stress rules: where they agree, where they must not, and what they refuse."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.strength.fatigue import mean_stress as ms

RULES = {
    "goodman": lambda a, m: ms.goodman_equivalent(amplitude_MPa=a, mean_MPa=m, tensile_MPa=1450.0),
    "gerber": lambda a, m: ms.gerber_equivalent(amplitude_MPa=a, mean_MPa=m, tensile_MPa=1450.0),
    "soderberg": lambda a, m: ms.soderberg_equivalent(amplitude_MPa=a, mean_MPa=m, yield_MPa=1300.0),
    "morrow": lambda a, m: ms.morrow_equivalent(amplitude_MPa=a, mean_MPa=m, fatigue_strength_coefficient_MPa=1900.0),
    "swt": lambda a, m: ms.swt_equivalent(amplitude_MPa=a, mean_MPa=m),
    "walker": lambda a, m: ms.walker_equivalent(amplitude_MPa=a, mean_MPa=m, gamma=ms.walker_gamma(1450.0)),
}


@pytest.mark.parametrize("rule", RULES)
def test_a_reversed_cycle_is_its_own_equivalent(rule: str) -> None:
    amplitudes = np.array([0.0, 1.0, 300.0, 900.0])
    np.testing.assert_allclose(RULES[rule](amplitudes, 0.0), amplitudes, rtol=1e-12)


@pytest.mark.parametrize("rule", RULES)
def test_more_mean_or_amplitude_never_harms_less(rule: str) -> None:
    means = np.linspace(-1000.0, 1299.0, 200)
    assert np.all(np.diff(RULES[rule](300.0, means)) >= 0.0)
    assert np.all(np.diff(RULES[rule](np.linspace(0.0, 1000.0, 50), 200.0)) > 0.0)


@pytest.mark.parametrize("rule", ["goodman", "gerber", "soderberg"])
def test_compression_earns_no_credit(rule: str) -> None:
    np.testing.assert_allclose(RULES[rule](300.0, [-1.0, -500.0, -2000.0]), 300.0)


@pytest.mark.parametrize("rule", ["morrow", "swt", "walker"])
def test_compression_earns_credit(rule: str) -> None:
    assert RULES[rule](300.0, -100.0) < 300.0


@pytest.mark.parametrize("rule", ["swt", "walker"])
def test_a_cycle_in_compression_does_no_harm(rule: str) -> None:
    assert RULES[rule](300.0, -300.0) == 0.0


@pytest.mark.parametrize(("rule", "limit"), [("goodman", 1450.0), ("gerber", 1450.0), ("soderberg", 1300.0)])
def test_at_the_end_of_the_line_no_amplitude_is_left(rule: str, limit: float) -> None:
    assert np.isinf(RULES[rule](300.0, limit)) and np.isinf(RULES[rule](300.0, 2.0 * limit))
    assert np.isfinite(RULES[rule](300.0, 0.999 * limit))


def test_soderberg_is_the_strictest_and_gerber_milder_than_goodman() -> None:
    means = np.linspace(1.0, 1200.0, 50)
    assert np.all(RULES["soderberg"](300.0, means) > RULES["goodman"](300.0, means))
    assert np.all(RULES["goodman"](300.0, means) > RULES["gerber"](300.0, means))


def test_swt_is_walker_with_one_half() -> None:
    assert ms.swt_equivalent(amplitude_MPa=450.0, mean_MPa=200.0) == pytest.approx(np.sqrt(650.0 * 450.0))


@pytest.mark.parametrize("gamma", [0.0, -0.2, 1.2, np.nan])
def test_walkers_gamma_is_checked(gamma: float) -> None:
    with pytest.raises(InputError, match="gamma"):
        ms.walker_equivalent(amplitude_MPa=1.0, mean_MPa=0.0, gamma=gamma)
