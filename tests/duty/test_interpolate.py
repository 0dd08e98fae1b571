"""Stress between solved travels."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.errors import BarfemError, InputError
from barfem.strength.duty.interpolate import TravelResponse, travel_nodes


def solved(function, left: np.ndarray, right: np.ndarray) -> np.ndarray:  # type: ignore[no-untyped-def]
    a, b = np.meshgrid(left, right, indexing="ij")
    return np.stack([function(a, b), 0.1 * function(a, b), function(b, a)], axis=-1)[:, :, None, :]


def swing(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """As an arm of 250 mm swings: smooth, mildly nonlinear [MPa]."""
    return 900.0 * (np.arcsin(left / 250.0) - np.arcsin(right / 250.0)) / np.cos(np.arcsin((left - right) / 500.0))


def test_polynomials_up_to_the_degree_are_exact() -> None:
    def quartic(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return 3.0 + a * b**2 - 2e-3 * a**4 + 1e-4 * a**3 * b**4

    left, right = travel_nodes([-40.0, 55.0]), travel_nodes([-30.0, 30.0])
    response = TravelResponse(left, right, solved(quartic, left, right))
    rng = np.random.default_rng(0)
    a, b = rng.uniform(-40, 55, 50), rng.uniform(-30, 30, 50)
    exact = quartic(a, b)
    np.testing.assert_allclose(response.stress(a, b)[:, 0, 0], exact, rtol=1e-10, atol=1e-10 * np.abs(exact).max())


def test_error_falls_with_the_nodes_and_the_estimate_covers_it() -> None:
    a, b = (g.ravel() for g in np.meshgrid(np.linspace(-60, 60, 41), np.linspace(-60, 60, 41)))
    errors, estimates = [], []
    for count in (3, 4, 5, 6, 7):
        nodes = travel_nodes([-60.0, 60.0], count=count)
        response = TravelResponse(nodes, nodes, solved(swing, nodes, nodes))
        errors.append(np.abs(response.stress(a, b)[:, 0, 0] - swing(a, b)).max())
        estimates.append(response.error_MPa()[0])
    assert np.all(np.array(estimates) >= errors)
    assert errors[0] > 1.0
    # Five nodes: a thousandth of the 450 MPa at full travel.
    assert errors[2] < 0.45
    assert errors[4] < 0.1 * errors[2]


def test_nodes_are_met_exactly_and_ends_belong() -> None:
    nodes = travel_nodes([-60.0, 60.0])
    response = TravelResponse(nodes, nodes, solved(swing, nodes, nodes))
    a, b = (g.ravel() for g in np.meshgrid(nodes, nodes, indexing="ij"))
    np.testing.assert_allclose(response.stress(a, b)[:, 0, 0], swing(a, b), rtol=1e-14)
    # Chebyshev's: cosines of even angles.
    np.testing.assert_allclose(travel_nodes([-1.0, 1.0]), [-1.0, -np.sqrt(0.5), 0.0, np.sqrt(0.5), 1.0], atol=1e-15)
    assert nodes[0] == -60.0 and nodes[-1] == 60.0 and nodes[2] == pytest.approx(0.0, abs=1e-12)


def test_the_gradient_is_that_of_the_polynomial() -> None:
    nodes = travel_nodes([-60.0, 60.0], count=7)
    response = TravelResponse(nodes, nodes, solved(swing, nodes, nodes))
    step = 1e-3
    by_hand = (swing(20.0 + step, -10.0) - swing(20.0 - step, -10.0)) / (2.0 * step)
    assert response.gradient(20.0, -10.0)[0, 0, 0] == pytest.approx(by_hand, rel=1e-3)


def test_a_side_that_does_not_move_has_neither_slope_nor_error() -> None:
    """A straight line by two nodes has its own slope; its last term is half of what it rises, 7 MPa/mm x 80 mm."""
    left, right = travel_nodes([-40.0, 40.0], count=2), travel_nodes([10.0, 10.0])
    stress = np.zeros((2, 1, 1, 3))
    stress[:, 0, 0, 0] = 7.0 * left
    response = TravelResponse(left, right, stress)
    assert response.gradient(5.0, 10.0)[0, 0] == pytest.approx([7.0, 0.0], rel=1e-9)
    assert response.error_MPa() == pytest.approx([280.0])


def test_extrapolation_is_refused_by_side_sample_and_range() -> None:
    left, right = travel_nodes([-40.0, 40.0]), travel_nodes([0.0, 0.0])
    response = TravelResponse(left, right, np.zeros((5, 1, 1, 3)))
    with pytest.raises(InputError) as error:
        response.stress([0.0, 41.0, -50.0], [0.0, 0.0, 0.0], source="rally.csv")
    message = str(error.value)
    for word in ("rally.csv, sample 2", "left travel of 41 mm", "-40 to 40 mm", "2 samples", "furthest at -50 mm"):
        assert word in message
    with pytest.raises(InputError, match="right travel"):
        response.stress([0.0], [0.1])


def test_what_does_not_fit_is_refused() -> None:
    nodes = np.array([-1.0, 0.0, 1.0])
    with pytest.raises(BarfemError, match="ascending"):
        TravelResponse(nodes[::-1], nodes, np.zeros((3, 3, 1, 3)))
    with pytest.raises(BarfemError, match="shape"):
        TravelResponse(nodes, nodes, np.zeros((3, 2, 1, 3)))
    with pytest.raises(BarfemError, match="not finite"):
        TravelResponse(nodes, nodes, np.full((3, 3, 1, 3), np.nan))
