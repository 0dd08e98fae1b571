"""A lot's numbers against other programs' and the drawing: drift, shares outside, and the limits of each quantity."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest, linregress

from barfem.vendor.inspect_lot import _limits, quantity_of
from barfem.vendor.inspect_received import drawn_bands
from barfem.vendor.part import clocking_deg
from tests.vendor.bars import handed_bar


def test_a_drift_is_the_slope_of_a_straight_line_with_its_two_sided_chance() -> None:
    """Twenty diameters that fall by 2 micrometres a bar under a scatter of 10, by scipy.stats.linregress."""
    rng = np.random.default_rng(4)
    values = 24.0 - 0.002 * np.arange(20) + rng.normal(0.0, 0.01, 20)
    found = quantity_of("diameter_mm", [str(i) for i in range(20)], values.tolist(), 23.9, 24.1, True)
    line = linregress(np.arange(20), values)
    assert found.drift_per_bar == pytest.approx(line.slope, rel=1e-9)
    assert found.drift_p == pytest.approx(line.pvalue, rel=1e-6)


@pytest.mark.parametrize("outside", [0, 1, 7, 20])
def test_the_share_outside_has_the_exact_interval(outside: int) -> None:
    values = [10.5] * (20 - outside) + [11.5] * outside
    found = quantity_of("x", [str(i) for i in range(20)], values, 10.0, 11.0, False)
    exact = binomtest(outside, 20).proportion_ci(0.95, method="exact")
    assert found.share_outside == outside / 20
    assert found.share_outside_95 == pytest.approx((exact.low, exact.high), abs=1e-9)


def test_every_quantity_has_the_drawings_limits() -> None:
    """Half of a profile of 3 to one side, a mismatch of 2 to both, the hardness window, a band about what is drawn."""
    bar = handed_bar()
    bands = drawn_bands(bar)
    assert _limits(bar, bands, "largest_mm") == (None, 1.5)
    assert _limits(bar, bands, "tip_mismatch_mm") == (-2.0, 2.0)
    assert _limits(bar, bands, "hardness_HRC") == (43.0, 48.0) and _limits(bar, bands, "hardness_HV") == (None, None)
    for name, key, index, drawn in (
        ("diameter_mm", "diameter", 0, 24.0), ("wall_mm", "wall", 0, 4.0),
        ("straight 2_mm", "straight_length", 1, 904.0),
        ("bend 1 angle_deg", "bend_angle", 0, 90.0), ("bend 2 angle_deg", "bend_angle", 1, 80.0),
        ("bend 2 rotation_deg", "bend_rotation", 0, 25.0),
    ):  # fmt: skip
        low, high = bands.of(key, index) or (np.nan, np.nan)
        assert _limits(bar, bands, name) == pytest.approx((drawn + low, drawn + high)), name
    angle = clocking_deg(bar, bar.left)[0]
    assert angle is not None
    assert _limits(bar, bands, "clocking left_deg") == pytest.approx((angle - 1.0, angle + 1.0))
    low, high = _limits(bar, bands, "strength_MPa")
    assert low is not None and high is not None and 1300.0 < low < 1420.0 < high < 1620.0  # of 43 and 48 HRC
    assert _limits(bar, bands, "mass_kg") == (None, None)
