"""Plans for lots against published ones and exact sums; capability against worked examples."""

from __future__ import annotations

from math import comb

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.vendor.inspect_lot import grubbs
from barfem.vendor.sampling import chance_attributes, plan_iso_2859, plan_lot


def test_finite_lots_by_exact_counting():
    """Chance of at most one bad bar in ten out of a lot of 40 with 4 bad, by counting samples."""
    counted = sum(comb(4, i) * comb(36, 10 - i) for i in (0, 1)) / comb(40, 10)
    assert chance_attributes(n=10, c=1, share=0.10, lot=40) == pytest.approx(counted, rel=1e-12)
    plan = plan_lot("attributes", lot=60)
    assert plan.n == 19 and plan.c == 0 and plan.risks[1][1] <= 0.10
    fewer = comb(54, 18) / comb(60, 18)
    assert fewer > 0.10, "one bar less would not do"


def test_variables_meet_both_points_by_simulation():
    plan = plan_lot("variables", lot=1000, accept=0.01, reject=0.10)
    rng = np.random.default_rng(1)
    for share, chance in plan.risks:
        from scipy.stats import norm

        x = rng.normal(0.0, 1.0, (40_000, plan.n))
        taken = np.mean((norm.isf(share) - x.mean(axis=1)) / x.std(axis=1, ddof=1) >= plan.k)
        assert taken == pytest.approx(chance, abs=4.0 * np.sqrt(chance * (1 - chance) / 40_000))
    assert plan.risks[1][1] == pytest.approx(0.10, abs=1e-9)


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
    ):
        found = plan_iso_2859(lot=lot, aql_percent=aql)
        assert (found.n, found.c) == expected, (lot, aql)
    assert plan_lot("iso-2859", lot=60).n == 13
    with pytest.raises(InputError, match="AQL"):
        plan_iso_2859(lot=100, aql_percent=3.0)


def test_small_lots_are_measured_whole():
    assert plan_lot("attributes", lot=7).n == 7


def test_grubbs_calls_out_the_published_outlier():
    """NIST/SEMATECH e-Handbook 1.3.5.17.1 (from memory): mass spectrometer data, 245.57 is an outlier."""
    values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    assert grubbs(values) == 7
    assert grubbs(values[:-1]) is None
