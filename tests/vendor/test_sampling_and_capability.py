"""Plans for lots against published ones and exact sums; capability against worked examples."""

from __future__ import annotations

from math import comb

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.vendor.inspect_lot import grubbs, quantity_of
from barfem.vendor.sampling import (
    chance_attributes,
    plan_attributes,
    plan_iso_2859,
    plan_lot,
    share_beyond,
    variables_take,
)


def test_finite_lots_by_exact_counting():
    """Chance of at most one bad bar in ten out of a lot of 40 with 4 bad, by counting samples."""
    counted = sum(comb(4, i) * comb(36, 10 - i) for i in (0, 1)) / comb(40, 10)
    assert chance_attributes(n=10, c=1, share=0.10, lot=40) == pytest.approx(counted, rel=1e-12)
    plan = plan_lot("attributes", lot=60)
    assert plan.n == 19 and plan.c == 0 and plan.risks[1][1] <= 0.10
    fewer = comb(54, 18) / comb(60, 18)
    assert fewer > 0.10, "one bar less would not do"
    # 3 % of 45 bars are 1.35: one bad bar, which 10 of 45 miss with a chance of 35 / 45; two with 35 x 34 / 45 x 44.
    assert chance_attributes(n=10, c=0, share=0.03, lot=45) == pytest.approx(35 / 45)
    assert chance_attributes(n=10, c=0, share=0.04, lot=45) == pytest.approx(35 * 34 / (45 * 44))


@pytest.mark.parametrize(("accept", "reject"), [(0.01, 0.10), (0.02, 0.15), (0.005, 0.03)])
def test_one_bar_less_would_not_do_by_variables_either(accept, reject):
    """k at which the bad lot passes with the consumer's 10 %: with one bar less the good lot passes too seldom."""
    from scipy.stats import nct, norm

    plan = plan_lot("variables", lot=100_000, accept=accept, reject=reject)
    assert plan.risks[0][1] >= 0.95
    n = plan.n - 1
    k = nct.isf(0.10, n - 1, np.sqrt(n) * norm.isf(reject)) / np.sqrt(n)
    assert nct.sf(np.sqrt(n) * k, n - 1, np.sqrt(n) * norm.isf(accept)) < 0.95


def test_the_largest_lot_has_its_plan_at_once_and_a_slip_of_the_keys_is_refused():
    """Hypergeometric sums over a lot of 1e12 bars, which the plan does not need, took for ever."""
    many, endless = (
        plan_lot("attributes", lot=10_000_000),
        plan_attributes(lot=None, accept=0.01, reject=0.10, producer=0.05, consumer=0.10),
    )
    assert (many.n, many.c, many.risks) == (endless.n, endless.c, endless.risks)
    for kind in ("attributes", "variables", "iso-2859"):
        with pytest.raises(InputError, match="at most 10 000 000"):
            plan_lot(kind, lot=1_000_000_000_000)


def test_variables_meet_both_points_by_simulation():
    plan = plan_lot("variables", lot=1000, accept=0.01, reject=0.10)
    rng = np.random.default_rng(1)
    for share, chance in plan.risks:
        from scipy.stats import norm

        x = rng.normal(0.0, 1.0, (40_000, plan.n))
        taken = np.mean((norm.isf(share) - x.mean(axis=1)) / x.std(axis=1, ddof=1) >= plan.k)
        assert taken == pytest.approx(chance, abs=4.0 * np.sqrt(chance * (1 - chance) / 40_000))
    assert plan.risks[1][1] == pytest.approx(0.10, abs=1e-9)


@pytest.mark.parametrize("above", [1.0, 0.9, 0.5], ids=["one side", "mostly one side", "both sides alike"])
def test_variables_between_two_limits_meet_both_points_however_the_bad_are_split(above):
    """Held against k on each side alone, a lot with 5 % beyond either limit would be taken with a chance of 20 %."""
    from scipy.stats import norm

    plan = plan_lot("variables", lot=1000, accept=0.01, reject=0.10)
    rng = np.random.default_rng(2)
    for share, chance in plan.risks:
        upper, lower = norm.isf(share * above), norm.ppf(share * (1.0 - above)) if above < 1.0 else -40.0
        x = rng.normal(0.0, 1.0, (4000, plan.n))
        lots = zip(x.mean(axis=1).tolist(), x.std(axis=1, ddof=1).tolist(), strict=True)
        taken = np.mean([variables_take(plan, plan.n, [upper - mean, mean - lower], s) for mean, s in lots])
        assert taken == pytest.approx(chance, abs=4.0 * np.sqrt(chance * (1 - chance) / 4000) + 0.01)


def test_the_share_beyond_a_limit_is_estimated_without_bias():
    """Lieberman and Resnikoff: over many samples the mean estimate is the share itself, here 10 %."""
    from scipy.stats import norm

    x = np.random.default_rng(3).normal(0.0, 1.0, (4000, 12))
    estimates = [share_beyond(q, 12) for q in ((norm.isf(0.10) - x.mean(axis=1)) / x.std(axis=1, ddof=1)).tolist()]
    assert np.mean(estimates) == pytest.approx(0.10, abs=4.0 * np.std(estimates) / np.sqrt(4000))


def test_iso_2859_rows():
    """Master table rows as remembered in the project's list of published values; J, 2.5 also found printed."""
    for lot, aql, expected in (
        (100, 0.65, (20, 0)),
        (100, 2.5, (20, 1)),
        (100, 4.0, (20, 2)),
        (100, 6.5, (20, 3)),
        (400, 0.25, (50, 0)),
        (400, 1.0, (50, 1)),
        (400, 2.5, (50, 3)),
        (400, 4.0, (50, 5)),
        (1000, 2.5, (80, 5)),
        (1000, 1.0, (80, 2)),
        (100, 1.0, (13, 0)),  # arrow up
        (100, 1.5, (32, 1)),  # arrow down
        (10_001, 0.65, (315, 5)),  # letters M to Q, of lots over 10 000
        (35_000, 1.0, (315, 7)),
        (35_001, 1.0, (500, 10)),
        (150_001, 1.0, (800, 14)),
        (10_000_000, 1.0, (1250, 21)),
        (20_000, 0.065, (200, 0)),  # arrow up
        (40_000, 0.065, (800, 1)),  # arrow down
    ):
        found = plan_iso_2859(lot=lot, aql_percent=aql)
        assert (found.n, found.c) == expected, (lot, aql)
    assert plan_lot("iso-2859", lot=60).n == 13
    with pytest.raises(InputError, match="AQL"):
        plan_iso_2859(lot=100, aql_percent=3.0)


def test_shares_that_lie_close_have_their_plan_soon():
    """Thousands of sizes, each with every number of bad bars, took minutes and longer."""
    from scipy.stats import binom

    plan = plan_lot("attributes", lot=1_000_000, accept=0.01, reject=0.013)
    assert (plan.n, plan.c) == (10_725, 124)
    n, c = plan.n, plan.c
    assert binom.cdf(c, n, 0.01) >= 0.95 and binom.cdf(c, n, 0.013) <= 0.10
    assert not any(binom.cdf(k, n - 1, 0.01) >= 0.95 and binom.cdf(k, n - 1, 0.013) <= 0.10 for k in range(80, 180))


def test_shares_that_no_sample_tells_apart_are_answered_by_all_of_the_lot():
    """One bad bar in a hundred against one in ninety-nine: the search looked for a sample for minutes."""
    plan = plan_lot("attributes", lot=1_000_000, accept=0.01, reject=0.0101)
    assert plan.n == 1_000_000 and "no sample of up to 12 000 tells one from the other: check all" in plan.how


def test_a_plan_looks_at_few_sample_sizes(monkeypatch):
    """1 % against 1.01 % in a lot of 100 000: each of 12 000 sizes was counted out, which took seven seconds."""
    from scipy.stats import hypergeom, nct

    asked = []
    for law, name in ((hypergeom, "_cdf"), (nct, "_sf")):
        exact = getattr(law, name)
        monkeypatch.setattr(law, name, lambda x, *a, exact=exact: asked.append(np.size(x)) or exact(x, *a))
    for kind in ("attributes", "variables"):
        plan = plan_lot(kind, lot=100_000, accept=0.01, reject=0.0101)
        assert plan.n == 100_000 and "no sample of up to" in plan.how, kind
    assert sum(asked) < 3000


@pytest.mark.parametrize("risk", [0.01, 0.1, 0.4])
@pytest.mark.parametrize(("accept", "reject"), [(0.001, 0.02), (0.01, 0.05), (0.2, 0.3), (0.5, 0.6)])
@pytest.mark.parametrize("lot", [40, 333, 2500])
def test_no_smaller_sample_would_do(lot, accept, reject, risk):
    """A smaller sample, whatever number of bad bars it allows, misses one of the points by its exact chances."""
    from scipy.stats import binom, hypergeom

    plan = plan_lot("attributes", lot=lot, accept=accept, reject=reject, producer=risk, consumer=risk)
    good, bad = int(accept * lot + 1e-9), int(np.ceil(reject * lot - 1e-9))
    for n in range(1, plan.n):
        c = np.arange(n)
        small = n > lot / 10
        taken = hypergeom.cdf(c, lot, good, n) if small else binom.cdf(c, n, accept)
        passed = hypergeom.cdf(c, lot, bad, n) if small else binom.cdf(c, n, reject)
        assert not np.any((taken >= 1.0 - risk) & (passed <= risk)), n
    if plan.n < lot:
        assert plan.risks[0][1] >= 1.0 - risk and plan.risks[1][1] <= risk


def test_small_lots_are_measured_whole():
    assert plan_lot("attributes", lot=7).n == 7


def test_grubbs_calls_out_the_published_outlier():
    """NIST/SEMATECH e-Handbook 1.3.5.17.1 (from memory): mass spectrometer data, 245.57 is an outlier."""
    values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    assert grubbs(values) == 7
    assert grubbs(values[:-1]) is None


def test_grubbs_limit_is_the_published_one():
    """Two-sided 5 % for eight values: 2.126 (usual tables, from memory; one-sided, as the page above has it, 2.032)."""

    def with_last(distance: float) -> list[float]:
        base = [-1.0, 1.0, -1.0, 1.0, -1.0, 1.0, 0.0]
        low, high = 1.0, 100.0
        for _ in range(80):
            last = 0.5 * (low + high)
            x = np.array([*base, last])
            low, high = (last, high) if (last - x.mean()) / x.std(ddof=1) < distance else (low, last)
        return [*base, last]

    assert grubbs(with_last(2.12)) is None
    assert grubbs(with_last(2.133)) == 7


def test_indices_of_a_lot_by_hand():
    """Twelve values 1, 2, 1, 2, ...: mean moving range 1, sigma 1 / 1.128; s^2 = 12 / 11 / 4. Below ten: no index."""
    values, names = [1.0, 2.0] * 6, [f"B-{i}" for i in range(12)]
    found = quantity_of("x", names, values, 0.0, 4.0, True)
    assert found.Cpk == pytest.approx(1.5 / (3.0 / 1.128))
    assert found.Ppk == pytest.approx(1.5 / (3.0 * np.sqrt(12 / 11 / 4)))
    assert found.Pp == pytest.approx(4.0 / (6.0 * np.sqrt(12 / 11 / 4)))
    assert found.share_outside == 0.0 and found.share_outside_95[1] == pytest.approx(1 - 0.025 ** (1 / 12))
    few = quantity_of("x", names[:9], values[:9], 0.0, 4.0, True)
    assert few.Ppk is None and few.Cpk is None and few.s > 0.0
    rising = quantity_of("x", names, [0.1 * i + 0.01 * (-1) ** i for i in range(12)], None, 4.0, True)
    assert rising.drift_per_bar == pytest.approx(0.1, rel=0.02) and rising.drift_p < 0.01
    assert quantity_of("x", names, values, 0.0, 4.0, False).Cpk is None
