"""Receiving inspection against outside truth: rigid fits, sampling plans, capability."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from barfem.vendor.inspect_lot import capability_of
from barfem.vendor.inspect_shape import rigid_fit
from barfem.vendor.sampling import plan_attributes


def test_rigid_fit_is_that_of_scipy(compare):
    rng = np.random.default_rng(3)
    a = rng.normal(0.0, 300.0, (9, 3))
    b = a @ Rotation.random(random_state=3).as_matrix().T + rng.normal(0.0, 5.0, a.shape)
    turn, _ = rigid_fit(a, b)
    theirs, _ = Rotation.align_vectors(b - b.mean(axis=0), a - a.mean(axis=0))
    compare(
        case="rigid fit of nine noisy points",
        source="scipy.spatial.transform.Rotation.align_vectors",
        ours=float(np.abs(turn - theirs.as_matrix()).max()),
        theirs=0.0,
        allowed=1e-12,
        absolute=True,
        why="the same least squares problem, by singular values and by quaternions",
    )
    # A mirror image is never turned into its original.
    assert np.linalg.det(rigid_fit(a, a * [1, -1, 1])[0]) == pytest.approx(1.0)


def test_published_two_point_plans(compare):
    found = plan_attributes(lot=None, accept=0.05, reject=0.15, producer=0.05, consumer=0.075)
    source = "vignette of the R package AcceptanceSampling, two-point plan (5 %, .95), (15 %, .075): n 80, c 7"
    for case, ours, theirs in (("n", found.n, 80), ("c", found.c, 7)):
        compare(
            case=f"two-point plan, {case}", source=source, ours=ours, theirs=theirs, allowed=0.0, why="whole numbers"
        )
    assert found.risks[0][1] == pytest.approx(0.95341, abs=1e-5) and found.risks[1][1] == pytest.approx(
        0.07272, abs=1e-5
    )


def test_capability_of_worked_examples(compare):
    first = capability_of(n=20, mean=50.0, s=1.75, lower=38.0, upper=62.0)
    source = "Montgomery, Introduction to Statistical Quality Control, Cp interval: USL 62, LSL 38, n 20, s 1.75"
    for ours, theirs in zip((first["Pp"], *first["Pp_95"]), (2.29, 1.57, 3.01), strict=True):
        compare(case="capability index and interval", source=source, ours=ours, theirs=theirs, allowed=0.006,
                absolute=True, why="printed to two decimals")  # fmt: skip
    second = capability_of(n=30, mean=97.0, s=1.6, lower=90.0, upper=100.0)
    assert second["Ppk"] == pytest.approx(0.625)
    assert second["Ppk_95"] == pytest.approx((0.425, 0.825), abs=0.01)
