"""Von Mises stress of a surface, its inner product and its sign."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.strength.duty.von_mises import amplitude_and_mean, plane_von_mises, signed_von_mises, von_mises_product


def test_against_the_deviators_of_full_tensors() -> None:
    rng = np.random.default_rng(0)
    a, b = rng.normal(size=(2, 50, 3))

    def deviator(stress: np.ndarray) -> np.ndarray:
        full = np.zeros((len(stress), 3, 3))
        full[:, 0, 0], full[:, 1, 1] = stress[:, 0], stress[:, 1]
        full[:, 0, 1] = full[:, 1, 0] = stress[:, 2]
        return full - np.trace(full, axis1=1, axis2=2)[:, None, None] / 3.0 * np.eye(3)

    product = 1.5 * np.einsum("nij,nij->n", deviator(a), deviator(b))
    np.testing.assert_allclose(von_mises_product(a, b), product, atol=1e-12)
    np.testing.assert_allclose(plane_von_mises(a), np.sqrt(1.5 * np.einsum("nij,nij->n", *[deviator(a)] * 2)))


def test_a_stress_that_scales_is_its_scale() -> None:
    reference = np.array([200.0, 20.0, -150.0])
    scale = np.array([-1.0, -0.3, 0.0, 0.4, 1.0])
    signed = signed_von_mises(scale[:, None] * reference, reference)
    np.testing.assert_allclose(signed, scale * plane_von_mises(reference), atol=1e-12)


def test_a_fully_reversed_cycle_has_its_amplitude_and_no_mean() -> None:
    amplitude, mean = amplitude_and_mean([300.0, 0.0, 100.0], [-300.0, 0.0, -100.0])
    assert amplitude == pytest.approx(np.sqrt(300.0**2 + 3.0 * 100.0**2))
    assert mean == 0.0
    amplitude, mean = amplitude_and_mean([0.0, 0.0, 100.0], [0.0, 0.0, 40.0])
    assert (amplitude, mean) == (pytest.approx(30.0 * np.sqrt(3.0)), pytest.approx(70.0 * np.sqrt(3.0)))
