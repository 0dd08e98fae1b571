"""Where a harm that rises with the load reaches a strength: the same at few places as at many, whatever its shape."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.strength.fatigue.root import rising_root

# Logarithm of the harm over that of the load factor, and where it reaches 100 MPa, by hand.
LAWS = {
    "in proportion": (lambda x: np.log(50.0) + x, np.log(2.0)),
    "a power": (lambda x: np.log(50.0) + 3.0 * x, np.log(2.0) / 3.0),
    "Goodman": (lambda x: np.log(40.0 * np.exp(x)) - np.log(np.maximum(1.0 - 0.2 * np.exp(x), 1e-300)), np.log(5 / 3)),
    "a kink": (lambda x: np.log(50.0) + np.where(x < 0.5, x, 0.5 + 6.0 * (x - 0.5)), 0.5 + (np.log(2.0) - 0.5) / 6.0),
    "a step": (lambda x: np.log(50.0) + x + 2.0 * (x > 0.3), 0.3),
    "relaxing": (
        lambda x: np.log(60.0 * np.exp(x) + 30.0 * (1.0 - np.sqrt(np.maximum(1.0 - np.exp(2.0 * x), 0.0)))),
        0.0,
    ),
    "far above": (lambda x: np.log(100.0) + x + 9.0, -9.0),
    "far below": (lambda x: np.log(100.0) + x - 9.0, 9.0),
}


def _laws(count: int):
    """`count` places of each law, and where each reaches its strength."""
    law = np.repeat(np.arange(len(LAWS)), count)
    of_each = [function for function, _ in LAWS.values()]

    def log_harm(x):
        return np.choose(law, [function(x) for function in of_each])

    return log_harm, np.repeat([root for _, root in LAWS.values()], count)


@pytest.mark.parametrize("count", [1, 400])
@pytest.mark.filterwarnings("ignore:divide")
def test_it_is_found_whatever_the_shape_at_few_places_and_at_many(count):
    log_harm, right = _laws(count)
    strength = np.full(len(right), 100.0)
    strength[np.repeat([name == "relaxing" for name in LAWS], count)] = 90.0
    found = rising_root(log_harm, strength)
    assert found == pytest.approx(right, abs=1e-11)


@pytest.mark.parametrize("count", [1, 300])
def test_where_it_never_is_the_end_of_the_bracket_is_said(count):
    never = rising_root(lambda x: np.full_like(x, np.log(50.0)), np.full(count, 100.0))
    always = rising_root(lambda x: np.full_like(x, np.log(200.0)), np.full(count, 100.0))
    infinite = rising_root(lambda x: np.full_like(x, np.inf), np.full(count, 100.0))
    assert never == pytest.approx(14.0) and always == pytest.approx(-14.0) and infinite == pytest.approx(-14.0)


def test_a_start_elsewhere_finds_the_same():
    for start in (-3.0, 0.69, 5.0):
        found = rising_root(lambda x: np.log(50.0) + x, np.array([100.0]), start=np.array([start]))
        assert found == pytest.approx(np.log(2.0), abs=1e-12)


def test_nothing_is_asked_of_no_places():
    assert rising_root(lambda x: x, np.zeros(0)).shape == (0,)


def test_few_places_need_few_looks():
    """Twice many loads at once, then secant steps from where a line between the nearest two says: of a law with a bend
    of its own a handful, where one after the other from the drawn load would be a dozen."""
    asked = []

    def log_harm(x):
        asked.append(x.shape)
        return LAWS["Goodman"][0](x)

    found = rising_root(log_harm, np.array([100.0]), within=1e-10)
    assert found == pytest.approx(LAWS["Goodman"][1], abs=1e-10)
    assert [len(shape) for shape in asked[:3]] == [2, 2, 1]
    assert len(asked) <= 5
