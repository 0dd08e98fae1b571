"""The handbook's table of holes across a bar (Shigley Table A-16): read as it is printed, and no digit slipped."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.strength.round_hole import RoundHole, round_hole, round_hole_edge


def row(name: str, bore: float, holes: np.ndarray) -> np.ndarray:
    """A column of the table at a bore, both in outside diameters."""
    found: list[RoundHole] = [round_hole(diameter_mm=1.0, bore_mm=bore, hole_mm=float(hole)) for hole in holes]
    return np.array([getattr(each, name) for each in found])


@pytest.mark.parametrize(
    ("name", "bores", "holes", "kink"),
    [
        ("bending_left", (0.0, 0.6, 0.9), np.arange(0.05, 0.301, 0.025), 0.021),
        ("torsion_left", (0.0, 0.4, 0.6, 0.8), np.arange(0.10, 0.401, 0.05), 0.031),
        ("bending", (0.0, 0.6, 0.9), np.arange(0.05, 0.301, 0.025), 0.061),
        ("torsion", (0.0, 0.4, 0.6, 0.8), np.arange(0.10, 0.401, 0.05), 0.061),
    ],
)
def test_a_slip_of_a_digit_would_stand_out_of_its_row_and_column(name, bores, holes, kink) -> None:
    """Printed to two decimals the rows bend by one or two in the last, concentrations near a thin wall by six; factors
    rise with the bore all along.
    """
    rows = np.array([row(name, bore, holes) for bore in bores])
    assert np.abs(np.diff(rows, n=2, axis=1)).max() <= kink
    if name.endswith("_left"):
        assert np.all(np.diff(rows, axis=1) < 0.0)
    else:
        assert np.all(np.diff(rows, axis=0) > 0.0)


def test_between_its_entries_the_table_is_read_by_straight_lines() -> None:
    """Hole 0.1125, bore 0.3: half way between 2.27 and 2.20 of a solid bar and 2.36 and 2.32 at a bore of 0.6."""
    found = round_hole(diameter_mm=20.0, bore_mm=6.0, hole_mm=2.25)
    assert found.bending == pytest.approx(0.25 * (2.27 + 2.20 + 2.36 + 2.32))
    # Tension by Heywood's plate, 2 + (1 - x)^3 on the net area: 2.699 at x = 0.1125, 3 at a hole of no size.
    assert found.tension == pytest.approx(2.0 + 0.8875**3)
    assert round_hole(diameter_mm=20.0, hole_mm=1e-6).tension == pytest.approx(3.0)
    # Strip of 2.25 mm out of a ring of 20 and 6 mm: about 2.25 x (20 - 6) of 285.9 square mm.
    assert found.area_left == pytest.approx(1.0 - 2.25 * 14.0 / (np.pi / 4.0 * (400.0 - 36.0)), abs=2e-3)


def test_tension_stands_on_the_net_area() -> None:
    """Pulled along the bar the hole's edge at 90 deg has the plate's concentration on what the hole leaves."""
    hole = round_hole(diameter_mm=24.0, hole_mm=6.0)
    whole = np.zeros((1, 3, 6))
    whole[0, 0, 0] = 1.0  # MPa along the bar for a newton of tension
    edge = round_hole_edge(
        hole, whole, angle_rad=0.5 * np.pi, hole_mm=6.0, tensile_MPa=1400.0, sensitive=False
    )  # fmt: skip
    assert edge[0, 0] == pytest.approx((2.0 + 0.75**3) / hole.area_left)
