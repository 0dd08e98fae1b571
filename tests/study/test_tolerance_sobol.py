"""Shares against scipy's, SALib's and exact ones; the design of the samples; intervals against scipy's."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
from scipy import stats

from barfem.model.errors import InputError
from barfem.model.plain import plain
from barfem.study.bands import Variable, deviations
from barfem.study.sampling import blocks, design_of, radial
from barfem.study.sobol import Known, shares_of, unknown_shares
from barfem.study.sobol_surrogate import basis_of, fitted
from barfem.study.tolerance_summary import chance_of, mean_chance, spread_of

Array = np.ndarray
Columns = tuple[tuple[int, ...], ...]


def ishigami(x: np.ndarray) -> np.ndarray:
    """x (..., 3) over -pi to pi, a 7, b 0.1."""
    return np.sin(x[..., 0]) + 7.0 * np.sin(x[..., 1]) ** 2 + 0.1 * x[..., 2] ** 4 * np.sin(x[..., 0])


# Exact (Ishigami and Homma 1990; Saltelli et al., Global Sensitivity Analysis, 2008): from memory, sure.
ISHIGAMI_FIRST, ISHIGAMI_TOTAL = [0.3139, 0.4424, 0.0], [0.5576, 0.4424, 0.2437]


def values(points: int, f: Any, *, seed: int, columns: Columns = ((0,), (1,), (2,))) -> tuple[Array, Array, Array]:
    """f at A, B and the mixed rows of so many base points, over -pi to pi."""
    all_ = f(np.pi * (2.0 * radial(points=points, seed=seed, columns=columns) - 1.0))
    return all_[:, 0], all_[:, 1], all_[:, 2:]


def test_a_known_function_has_its_known_shares() -> None:
    found = shares_of(*values(4096, ishigami, seed=3), seed=1)
    assert found.first == pytest.approx(ISHIGAMI_FIRST, abs=0.02)
    assert found.total == pytest.approx(ISHIGAMI_TOTAL, abs=0.02)
    assert found.order.tolist() == [0, 1, 2]
    for ends, exact in ((found.first_interval, ISHIGAMI_FIRST), (found.total_interval, ISHIGAMI_TOTAL)):
        assert (ends[:, 0] <= exact).all() and (exact <= ends[:, 1]).all()


def test_the_same_values_give_what_scipy_makes_of_them() -> None:
    a, b, ab = values(256, ishigami, seed=5)
    found = shares_of(a, b, ab, seed=1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = stats.sobol_indices(
            func={"f_A": a[None], "f_B": b[None], "f_AB": ab.T[:, None, :]}, n=256, method="saltelli_2010"
        )
    # scipy takes the variance of A and B with n - 1 or n: within 1 / 256.
    # And an estimate below zero, of x3 by itself, is none of a share.
    assert found.first == pytest.approx(np.clip(np.ravel(theirs.first_order), 0.0, 1.0), abs=4e-3)
    assert found.total == pytest.approx(np.ravel(theirs.total_order), rel=4e-3)


def test_salib_agrees() -> None:
    analyse = pytest.importorskip("SALib.analyze.sobol").analyze
    problem = {"num_vars": 3, "names": ["a", "b", "c"], "bounds": [[-np.pi, np.pi]] * 3}
    a, b, ab = values(1024, ishigami, seed=5)
    theirs = analyse(problem, np.column_stack([a, ab, b]).ravel(), calc_second_order=False, seed=1)
    found = shares_of(a, b, ab, seed=1)
    assert found.first == pytest.approx(theirs["S1"], abs=5e-3)
    assert found.total == pytest.approx(theirs["ST"], abs=5e-3)


def test_groups_of_variables_have_the_share_of_all_of_them() -> None:
    found = shares_of(*values(2048, ishigami, seed=2, columns=((0, 2), (1,))), seed=1)
    # x1 and x3 together: everything but x2.
    assert found.first == pytest.approx([1 - 0.4424, 0.4424], abs=0.02)
    assert found.total == pytest.approx([1 - 0.4424, 0.4424], abs=0.02)


def polynomial(x: np.ndarray) -> np.ndarray:
    """Over -1 to 1, uniform: variances 4 / 3, 1 / 3, 4 / 45 (of x^2) and 0.25 / 9 (of the product)."""
    return 2.0 * x[..., 0] + x[..., 1] + x[..., 2] ** 2 + 0.5 * x[..., 0] * x[..., 1]


def test_an_approximation_takes_the_noise_out_and_changes_nothing_else() -> None:
    rows = (2.0 * radial(points=128, seed=7, columns=((0,), (1,), (2,))) - 1.0).reshape(-1, 3)
    f = polynomial(rows)
    wide = 5
    a = wide * np.arange(128)
    mixed = a[:, None] + 2 + np.arange(3)
    basis = basis_of(rows, low=-np.ones(3), high=np.ones(3), normal=np.zeros(3, bool))
    near = fitted(basis, f)
    assert near is not None and near.r_squared > 0.97
    whole = 4 / 3 + 1 / 3 + 4 / 45 + 0.25 / 9
    exact_first = np.array([4 / 3, 1 / 3, 4 / 45]) / whole
    exact_total = exact_first + np.array([1, 1, 0]) * 0.25 / 9 / whole
    known = Known(near.values[a], near.values[a + 1], near.values[mixed], near.variances)
    with_it, without = (shares_of(f[a], f[a + 1], f[mixed], seed=1, known=k) for k in (known, None))
    assert with_it.by_fit and not without.by_fit
    assert with_it.first == pytest.approx(exact_first, abs=0.03)
    assert with_it.total == pytest.approx(exact_total, abs=0.02)
    for ends, exact in ((with_it.first_interval, exact_first), (with_it.total_interval, exact_total)):
        assert (ends[:, 0] - 0.01 <= exact).all() and (exact <= ends[:, 1] + 0.01).all()
    narrow, wide_ = (np.ptp(found.total_interval, axis=1)[0] for found in (with_it, without))
    assert narrow < 0.4 * wide_
    # An approximation of something else altogether: no better, and no other answer.
    wrong = fitted(basis, np.sin(50.0 * rows[:, 2]))
    assert wrong is not None
    badly = Known(wrong.values[a], wrong.values[a + 1], wrong.values[mixed], wrong.variances)
    spoilt = shares_of(f[a], f[a + 1], f[mixed], seed=1, known=badly)
    assert spoilt.total == pytest.approx(without.total, abs=0.2)


def test_moments_of_the_basis_are_those_of_the_distributions() -> None:
    variables = (Variable("a", "", 0, -2.0, 2.0, "normal"), Variable("b", "", 0, 0.0, 3.0, "uniform"))
    even = (np.arange(200_000) + 0.5) / 200_000
    moved = deviations(variables, np.stack([even, even], axis=1))
    basis = basis_of(moved, low=np.array([-2.0, 0.0]), high=np.array([2.0, 3.0]), normal=np.array([True, False]))
    assert basis.terms.mean(axis=0) == pytest.approx(0.0, abs=1e-6)
    assert basis.variances == pytest.approx(basis.terms.var(axis=0), rel=1e-4)


def test_a_band_of_one_value_has_no_share() -> None:
    """All bars of 45 HRC, or all 0.1 mm too thick: the number moves, it does not vary, and others keep their shares.

    Over -1 to 1, uniform, with b = 0.1: 2 a + 0.5 a b is 2.05 a, whose variance is 2.05^2 / 3; that of c^2 is 4 / 45.
    """
    rows = 2.0 * np.random.default_rng(5).random((4000, 3)) - 1.0
    rows[:, 1] = 0.1
    low, high = np.array([-1.0, 0.1, -1.0]), np.array([1.0, 0.1, 1.0])
    near = fitted(basis_of(rows, low=low, high=high, normal=np.array([False, True, False])), polynomial(rows) - 0.1)
    assert near is not None
    assert near.variances == pytest.approx([2.05**2 / 3, 0.0, 4 / 45], abs=1e-9)


def test_shares_lie_from_nothing_to_all_and_say_whether_they_are_known() -> None:
    """A few points alone give estimates far above 1 and below 0, with intervals to match; shares are neither."""
    a, b, ab = values(8, ishigami, seed=7)
    variance = np.var(np.concatenate([a, b]))
    assert (0.5 * np.mean((ab - a[:, None]) ** 2, axis=0) / variance).max() > 1.0  # Jansen's estimate, by itself
    vague, known = shares_of(a, b, ab, seed=1), shares_of(*values(4096, ishigami, seed=4), seed=1)
    for found in (vague, known):
        for shares in (found.first, found.total, found.first_interval, found.total_interval):
            assert (shares >= 0.0).all() and (shares <= 1.0).all()
    assert not vague.resolved and known.resolved
    # The rest, 24.4 %, is made by x1 and x3 together.
    assert known.alone == pytest.approx(0.7563, abs=0.02)
    assert known.alone_interval[0] < 0.7563 < known.alone_interval[1] < 0.85
    assert np.ptp(vague.alone_interval) > 0.5 and not vague.by_fit


def test_what_does_not_vary_has_no_shares_and_what_is_missing_is_left_out() -> None:
    flat = shares_of(np.ones(16), np.ones(16), np.ones((16, 2)), seed=1)
    assert flat.constant and flat.total.tolist() == [0.0, 0.0]
    a, b, ab = values(512, ishigami, seed=1)
    whole = shares_of(a, b, ab, seed=1)
    ab[7, 1] = np.nan
    b[9] = np.inf
    found = shares_of(a, b, ab, seed=1)
    assert found.points == 510
    assert found.total == pytest.approx(whole.total, abs=0.01)


def test_what_an_approximation_leaves_out_any_band_may_have() -> None:
    found = shares_of(*values(2048, ishigami, seed=3), seed=1)
    vague = found.with_unexplained(0.25)
    assert vague.total == pytest.approx(found.total)
    assert (vague.total_interval[:, 1] >= found.total_interval[:, 1]).all() and not vague.total_interval.max() > 1.0
    assert np.ptp(vague.total_interval, axis=1).min() >= 0.25 and not unknown_shares(3).resolved


@pytest.mark.parametrize("samples", [16, 128, 400])
def test_as_many_bars_as_were_asked_for_in_any_chunks(samples: int) -> None:
    design = design_of(samples=samples, seed=11, variables=6)
    rows = [row for number in range(design.count) for row in design.rows(number)]
    assert rows == list(range(samples))
    found = np.concatenate([design.uniform(number) for number in range(design.count)])
    assert (found == stats.qmc.Sobol(6, scramble=True, seed=np.random.default_rng((11,))).random(512)[:samples]).all()
    # More bars of the same seed begin with the same ones; another seed has others.
    assert (design_of(samples=700, seed=11, variables=6).uniform(0) == design.uniform(0)).all()
    assert (design_of(samples=700, seed=12, variables=6).uniform(0) != design.uniform(0)).any()


def test_bars_of_a_fit_are_others_than_those_it_is_made_of() -> None:
    design = design_of(samples=64, seed=3, variables=4)
    asked = list(blocks(samples=40_000, seed=3, variables=4))
    assert sum(len(each) for each in asked) == 40_000 and len(asked) == 2
    assert not np.isin(design.uniform(0)[:, 0], asked[0][:, 0]).any()


def test_a_base_point_has_two_bars_and_one_more_for_each_band() -> None:
    rows = radial(points=64, seed=5, columns=((0, 1), (2,), (3, 4, 5)))
    a, b = rows[:, 0], rows[:, 1]
    assert rows.shape == (64, 5, 6) and (a != b).all()
    assert (rows[:, 2, :2] == b[:, :2]).all() and (rows[:, 2, 2:] == a[:, 2:]).all()
    assert (rows[:, 4, 3:] == b[:, 3:]).all() and (rows[:, 4, :3] == a[:, :3]).all()


def test_too_few_and_too_many_bars_are_refused() -> None:
    with pytest.raises(InputError, match="2 000 000 bars are more than can be kept"):
        design_of(samples=2_000_000, seed=1, variables=1)
    with pytest.raises(InputError, match="too few"):
        design_of(samples=15, seed=1, variables=3)


@pytest.mark.parametrize(("misses", "of"), [(0, 50), (3, 200), (50, 50), (17, 40)])
def test_chances_have_the_exact_binomial_interval(misses: int, of: int) -> None:
    found = chance_of(np.arange(of) < misses)
    theirs = stats.binomtest(misses, of).proportion_ci(0.95, method="exact")
    assert found.interval == pytest.approx((theirs.low, theirs.high))
    assert found.share == misses / of


def test_spreads_cover_what_they_should() -> None:
    rng = np.random.default_rng(4)
    inside = {"mean": 0, "deviation": 0, "low": 0, "high": 0}
    truth = {"mean": 10.0, "deviation": 2.0, "low": 10 - 2 * 1.95996, "high": 10 + 2 * 1.95996}
    for _ in range(300):
        found = spread_of(rng.normal(10.0, 2.0, 400), 10.0)
        for name in inside:
            low, high = getattr(found, f"{name}_interval")
            inside[name] += low <= truth[name] <= high
    # 95 % intervals of 300 tries: binomial, 285 expected, three standard deviations are 11.
    assert all(274 <= count <= 300 for count in inside.values()), inside


def test_lives_beyond_the_knee_are_the_longest() -> None:
    lives = np.concatenate([np.full(30, np.inf), np.linspace(1e5, 9e5, 69), [np.nan]])
    found = spread_of(lives, np.inf)
    assert found.count == 99 and np.isnan(found.mean)
    assert np.isinf(found.high) and found.middle == pytest.approx(np.sort(lives)[49])
    assert found.low == pytest.approx(np.quantile(lives[30:99], 0.0255 * 98 / 68, method="linear"), rel=0.05)
    assert spread_of(np.full(4, np.nan), 1.0).count == 0
    assert plain(found)["high"] is None


def test_mean_chance() -> None:
    found = mean_chance(np.array([0.1, 0.3, 0.2, 0.2]))
    assert found.share == pytest.approx(0.2) and found.interval[0] < 0.2 < found.interval[1]
