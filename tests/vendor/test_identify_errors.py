"""What measured rates tell of parameters and how surely, on models whose answers a pencil gives."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import linregress

from barfem.model.read import bar_from_dict
from barfem.solve.beam import HoleSetting, solve_bars
from barfem.vendor.identify import solve_parameters
from barfem.vendor.identify_curves import fit_curve, runs_chance
from barfem.vendor.identify_misfit import strange_curves
from tests.model.bar_data import U_BAR

D, K = "diameter_mm", "mount_radial_stiffness_N_per_mm"
NOMINAL = {D: 24.0, K: 5000.0}


def powers(exponents: list[list[float]]):
    """Rates over the drawing's that go as powers of the parameters' ratios, a row a curve."""
    matrix = np.array(exponents)
    return lambda logs: np.exp(np.atleast_2d(logs) @ matrix.T)


def test_one_diameter_of_four_curves_and_its_standard_error() -> None:
    """Rates with d^4, all 8 % high, each known to 1 %: d is 1.08^(1/4) of 24 mm. Half a per cent of rate, the mean of
    four, is an eighth of a per cent of d.
    """
    scales, errors = np.full(4, 1.08), np.full(4, 0.01)
    found, _, apart, notes = solve_parameters(powers([[4.0]] * 4), [D], NOMINAL, scales, errors, unlike=4)
    assert found[D].value == pytest.approx(24.0 * 1.08**0.25, rel=1e-6)
    assert found[D].se / found[D].value == pytest.approx(0.01 / 2.0 / 4.0 / 1.08, rel=1e-3)
    assert not apart and not notes


def test_curves_that_differ_by_more_than_their_scatter_widen_the_error() -> None:
    """Four rates 3 % above and below 1 in turn, each said to be good to 1 %: chi-square is 36 on three degrees of
    freedom, so that errors are 12^0.5 = 3.5 times as great as said.
    """
    scales, errors = np.array([0.97, 1.03, 0.97, 1.03]), np.full(4, 0.01)
    found, _, _, notes = solve_parameters(powers([[4.0]] * 4), [D], NOMINAL, scales, errors, unlike=4)
    assert found[D].se / found[D].value == pytest.approx(np.sqrt(12.0) * 0.01 / 2.0 / 4.0, rel=5e-3)
    assert notes and notes[0].endswith("widened by 3.5")


@pytest.mark.parametrize(("error", "told"), [(0.2, True), (0.4, True), (0.6, False)])
def test_what_is_known_to_half_of_itself_is_told_and_less_is_not(error: float, told: bool) -> None:
    """A stiffness that the rate goes with in proportion, from one curve: its error is the rate's."""
    found, _, apart, _ = solve_parameters(powers([[1.0]]), [K], NOMINAL, np.ones(1), np.array([error]), unlike=1)
    assert (K in found) is told and bool(apart) is not told
    if told:
        assert found[K].se == pytest.approx(error * 5000.0, rel=1e-4)


def test_of_two_that_act_alike_their_product_is_known_and_how_well() -> None:
    """Every rate goes with d x k alone: four of them, 10 % high, good to 1 %. The product is 1.10 times the drawing's,
    good to half a per cent of that over 1.10; which of the two it is nobody can tell.
    """
    scales, errors = np.full(4, 1.10), np.full(4, 0.01)
    found, _, (apart,), _ = solve_parameters(powers([[1.0, 1.0]] * 4), [D, K], NOMINAL, scales, errors, unlike=4)
    assert not found and apart.names == (D, K) and apart.powers == pytest.approx((1.0, 1.0))
    assert apart.value == pytest.approx(1.10, rel=1e-6)
    assert apart.se == pytest.approx(0.005, rel=1e-3)


@pytest.mark.parametrize(
    ("signs", "chance"),
    [
        ([1, -1] * 10, 3.55e-5),  # 20 runs: 11 expected, variance 10 x 9 / 19, 4.135 deviations
        ([1] * 10 + [-1] * 10, 3.55e-5),  # 2 runs
        ([1, 1, -1, -1] * 4 + [1, -1] * 1 + [1, -1], 0.64631),  # 12 runs: 0.459 deviations
        ([1] * 5 + [-1] * 5 + [1, -1, 1, -1, 1, -1, 1, -1] + [1, -1], 0.6463),
    ],
)
def test_runs_of_signs_by_wald_and_wolfowitz(signs: list[int], chance: float) -> None:
    """Ten of either sign: 2 x 10 x 10 / 20 + 1 = 11 runs are expected."""
    assert runs_chance(np.array(signs, float)) == pytest.approx(chance, rel=2e-3)


def test_a_curve_of_one_sense_is_fitted_as_a_straight_line_is() -> None:
    """Thirty points of a bar whose drawn curve is straight: rate, zero and their errors by scipy.stats.linregress."""
    rng = np.random.default_rng(8)
    x = np.linspace(2.0, 30.0, 30)
    force = 52.0 * (x - 0.7) + rng.normal(0.0, 6.0, 30)
    curve: Any = SimpleNamespace(x_mm=x, force_N=force, branch=np.zeros(30))
    travels = np.linspace(-40.0, 40.0, 9)
    found = fit_curve(curve, (travels, 50.0 * travels, 50.0))
    line = linregress(x, force)
    assert found.rate_N_per_mm == pytest.approx(line.slope, rel=1e-6)
    assert found.se_N_per_mm == pytest.approx(line.stderr, rel=1e-4)
    assert found.zero_mm == pytest.approx(-line.intercept / line.slope, rel=1e-5)
    assert found.residual_N == pytest.approx(
        np.sqrt(np.sum((force - line.intercept - line.slope * x) ** 2) / (30 - 2)), rel=1e-6
    )


@pytest.mark.parametrize(("off", "told"), [(0.02, ""), (0.04, "4 % above"), (-0.05, "5 % below")])
def test_a_curve_three_per_cent_off_the_bar_that_was_found_is_told(off: float, told: str) -> None:
    """A hole 3 mm off on an arm of 200 mm is 3 % of rate: beyond that, it is no scatter of a curve."""
    bar = bar_from_dict(U_BAR)
    drawn = float(next(solve_bars([(bar, [HoleSetting(0, 0, "roll")])])).initial.rate_N_per_mm[0])
    curve = SimpleNamespace(words="hole 1, roll", left=0, right=0, case="roll")
    rate: Any = SimpleNamespace(scale=1.0 + off, rate_N_per_mm=(1.0 + off) * drawn, curve=curve)
    said = strange_curves(bar, [rate], np.ones(1))
    assert bool(said) is bool(told) and all(told in each for each in said)
