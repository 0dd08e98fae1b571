"""How much of each load's concentration at a hole in a flat fatigue feels: Kf = 1 + q (Kt - 1), by hand."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.strength.notch import neuber_sensitivity
from tests.strength.test_holes import alone


@pytest.mark.parametrize("tensile", [700.0, 1100.0, 1450.0])
def test_forces_and_moments_are_felt_by_bendings_notch_and_shear_and_torque_by_torsions(tensile: float) -> None:
    """A hole of 12 mm has a notch radius of 6. Loads [N, V1, V2, T, M1, M2]: V1 bends across, V2 and T shear, by their
    own fit (Shigley Eq. 6-35). A load without concentration is felt whole, and none more than whole.
    """
    found = alone(tensile)
    q, qs = (
        float(neuber_sensitivity(radius_mm=6.0, tensile_MPa=tensile, load=load)) for load in ("bending", "torsion")
    )
    assert qs > q + 0.002
    for number, own in enumerate((q, q, qs, qs, q, q)):
        kt = found.kt[:, number]
        by_hand = np.where(kt > 1.0, (1.0 + own * (kt - 1.0)) / kt, 1.0)
        np.testing.assert_allclose(found.felt[:, number], by_hand, rtol=1e-12)
    np.testing.assert_allclose(found.felt[:, 6:], q)  # what a bolt's pressure adds has no nominal stress
