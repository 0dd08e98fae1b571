"""What measured rates tell of parameters and how surely, on models whose answers a pencil gives."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.vendor.identify import solve_parameters

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
