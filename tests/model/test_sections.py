"""Section properties against handbook formulae, and along a bar with flat ends."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from barfem.model.bar_geometry import (
    flat_axis_angle_rad,
    mass_kg,
    section_properties,
    strength_scale,
    volume_mm3,
)
from barfem.model.read import bar_from_dict
from barfem.model.sections import blend, pressed_pair, rectangle, rectangle_torsion_constant, round_or_tube
from tests.model.bar_data import FLAT, TUBE, changed

NU = 0.3


def test_a_solid_round_by_the_handbook() -> None:
    # pi d^2 / 4, pi d^4 / 64, pi d^4 / 32 at d = 20: 314.159, 7853.98, 15707.96 (any handbook).
    section = round_or_tube(diameter_mm=20.0, nu=NU)
    assert section.area_mm2 == pytest.approx(314.1593, abs=1e-4)
    assert section.I_a_mm4 == section.I_b_mm4 == pytest.approx(7853.982, abs=1e-3)
    assert section.J_mm4 == pytest.approx(15707.963, abs=1e-3)


def test_a_tube_is_its_outside_less_its_bore() -> None:
    tube = round_or_tube(diameter_mm=30.0, bore_mm=24.0, nu=NU)
    outside, bore = round_or_tube(diameter_mm=30.0, nu=NU), round_or_tube(diameter_mm=24.0, nu=NU)
    for name in ("area_mm2", "I_a_mm4", "I_b_mm4", "J_mm4"):
        assert getattr(tube, name) == pytest.approx(getattr(outside, name) - getattr(bore, name), rel=1e-12)


@pytest.mark.parametrize(
    ("section", "coefficient"),
    [
        # Cowper 1966, Table 1, nu 0.3, three decimals (from memory).
        (round_or_tube(diameter_mm=20.0, nu=0.3), 0.886),
        (rectangle(width_mm=40.0, thickness_mm=12.0, nu=0.3), 0.850),
        # Thin-walled round tube: 2 (1 + nu) / (4 + 3 nu) = 0.531.
        (round_or_tube(diameter_mm=20.0, bore_mm=19.999, nu=0.3), 0.531),
        # nu = 0: solid circle 6/7, rectangle 10/12, thin tube 1/2.
        (round_or_tube(diameter_mm=20.0, nu=0.0), 0.8571),
        (rectangle(width_mm=40.0, thickness_mm=12.0, nu=0.0), 0.8333),
        (round_or_tube(diameter_mm=20.0, bore_mm=19.999, nu=0.0), 0.5),
    ],
)
def test_shear_coefficients(section, coefficient: float) -> None:
    assert section.shear_area_a_mm2 / section.area_mm2 == pytest.approx(coefficient, abs=5e-4)
    assert section.shear_area_b_mm2 == section.shear_area_a_mm2


@pytest.mark.parametrize(
    ("ratio", "beta"),
    # Timoshenko & Goodier, torsion of rectangular bars, J = beta w t^3, three or four decimals (from memory).
    [(1.0, 0.1406), (1.2, 0.166), (1.5, 0.196), (2.0, 0.229), (2.5, 0.249), (3.0, 0.263), (4.0, 0.281), (5.0, 0.291),
     (10.0, 0.312), (1e4, 0.3333)],
)  # fmt: skip
def test_torsion_constant_of_a_rectangle_by_the_table(ratio: float, beta: float) -> None:
    found = rectangle_torsion_constant(width_mm=12.0 * ratio, thickness_mm=12.0)
    assert found / (12.0 * ratio * 12.0**3) == pytest.approx(beta, abs=6e-4)
    # Nothing in it knows which side is called width.
    assert rectangle_torsion_constant(width_mm=12.0, thickness_mm=12.0 * ratio) == pytest.approx(found, rel=1e-12)


def test_torsion_constant_of_a_square_to_seven_digits() -> None:
    # Saint-Venant's series, computed independently to 30 digits: 0.1405770.
    assert rectangle_torsion_constant(width_mm=1.0, thickness_mm=1.0) == pytest.approx(0.1405770, abs=5e-8)


def test_a_rectangle_is_stiff_about_the_axis_across_its_thickness() -> None:
    # w = 40 along a, t = 12 along b: I_a = w t^3 / 12 = 5760, I_b = t w^3 / 12 = 64000.
    section = rectangle(width_mm=40.0, thickness_mm=12.0, nu=NU)
    assert (section.I_a_mm4, section.I_b_mm4) == pytest.approx((5760.0, 64000.0))


def test_two_leaves_that_slide_have_a_quarter_of_the_stiffness() -> None:
    # Each leaf has (t/2)^3: the pair has 2/8 = 1/4 of the solid in flatwise bending and in thin-walled torsion.
    pair = pressed_pair(width_mm=40.0, thickness_mm=8.0, nu=NU)
    solid = rectangle(width_mm=40.0, thickness_mm=8.0, nu=NU)
    assert pair.I_a_mm4 == pytest.approx(solid.I_a_mm4 / 4)
    assert pair.I_b_mm4 == pytest.approx(solid.I_b_mm4)
    assert pair.J_mm4 == pytest.approx(40.0 * 8.0**3 / 12)
    assert pair.J_mm4 == pytest.approx((40.0 * 8.0**3 / 3) / 4)


def test_the_blend_of_two_rounds_is_a_cone() -> None:
    thin, thick = round_or_tube(diameter_mm=16.0, nu=NU), round_or_tube(diameter_mm=24.0, nu=NU)
    middle = blend(thin, thick, np.array([0.25]))
    cone = round_or_tube(diameter_mm=18.0, nu=NU)
    for name, values in middle.items():
        assert values[0] == pytest.approx(getattr(cone, name), rel=1e-12)


def flat_bar(**flat):
    return bar_from_dict(changed(("ends.flat", {**FLAT, **flat})))


def test_properties_run_one_way_from_the_flat_into_the_body() -> None:
    bar = flat_bar()
    length = bar.centreline.length_mm
    s = np.linspace(60.0, 105.0, 2001)
    for stations in (s, length - s):
        found = section_properties(bar, stations)
        for name in ("area_mm2", "shear_area_a_mm2", "shear_area_b_mm2", "I_a_mm4", "I_b_mm4", "J_mm4"):
            values = getattr(found, name)
            steps = np.diff(values)
            assert (steps >= -1e-9).all() or (steps <= 1e-9).all()
            assert np.abs(steps).max() < 5e-3 * values.max()  # no jump: 1100 steps over the transition
    flat, body = section_properties(bar, [10.0]), section_properties(bar, [0.5 * length])
    assert (flat.I_a_mm4[0], flat.I_b_mm4[0]) == pytest.approx((5760.0, 64000.0))
    assert body.I_a_mm4[0] == pytest.approx(math.pi * 24.0**4 / 64)
    assert body.axis_angle_rad[0] == 0.0


@pytest.mark.parametrize("normal", [[0, 1, 0], [0, 0, 1], [0, 3, 4], [0, -1, 0], [0.1, 1, 1]])
def test_principal_axis_b_of_a_flat_lies_along_its_hole(normal: list[float]) -> None:
    points = [[-250, -560, 40], [0, -500, 0], [0, 500, 0], [-250, 560, 40]]
    data = changed(("centreline.points", points), ("ends.flat", {**FLAT, "normal": normal}))
    bar = bar_from_dict(data)
    for end, station in ((bar.right, 20.0), (bar.left, bar.centreline.length_mm - 20.0)):
        angle = section_properties(bar, station).axis_angle_rad[0]
        assert angle == flat_axis_angle_rad(bar, end)
        assert -math.pi / 2 < angle <= math.pi / 2
        t, a, b = bar.centreline.evaluate(station)[1][0]
        axis_b = -math.sin(angle) * a + math.cos(angle) * b
        hole = np.array(normal, float) * ([1, -1, 1] if end.side == "right" else [1, 1, 1])
        hole -= (hole @ t) * t
        assert abs(axis_b @ hole) == pytest.approx(np.linalg.norm(hole), rel=1e-12)
        assert np.cross(axis_b, np.array(end.flat.normal)) == pytest.approx(0.0, abs=1e-12)


def test_mass_of_a_solid_and_a_tube_by_hand() -> None:
    bar = bar_from_dict(changed())
    length = 2 * 202 + 904 + math.pi * 48
    assert mass_kg(bar) == pytest.approx(math.pi / 4 * 24.0**2 * length * 7850e-9, rel=1e-12)
    tube = bar_from_dict(changed(*TUBE))
    assert mass_kg(tube) == pytest.approx(math.pi / 4 * (24.0**2 - 16.0**2) * length * 7850e-9, rel=1e-12)


@pytest.mark.parametrize("flat", [{}, {"transition": 0.0}, {"transition": 94.0}, {"width": 30.0, "thickness": 20.0}])
def test_volume_is_the_integral_of_the_area(flat: dict[str, float]) -> None:
    bar = flat_bar(**flat)
    length = bar.centreline.length_mm
    edges = [0.0, 95.0 - bar.right.flat.transition_mm, 95.0, 0.5 * length]
    nodes, weights = np.polynomial.legendre.leggauss(8)
    half = sum(
        0.5 * (high - low) * weights @ section_properties(bar, 0.5 * (low + high) + 0.5 * (high - low) * nodes).area_mm2
        for low, high in itertools.pairwise(edges)
    )
    assert volume_mm3(bar) == pytest.approx(2 * half, rel=1e-12)


def drilled(*, from_tip: float, diameter: float, flat: bool, tube: bool = False) -> float:
    """Volume that one pair of holes takes out."""
    changes = [("ends.flat", FLAT)] if flat else []
    changes += TUBE if tube else []
    plain = changed(*changes, ("ends.holes", [{"name": "1", "from_tip": from_tip}]))
    holed = changed(*changes, ("ends.holes", [{"name": "1", "from_tip": from_tip, "diameter": diameter}]))
    return volume_mm3(bar_from_dict(plain)) - volume_mm3(bar_from_dict(holed))


def test_a_hole_in_a_flat_takes_out_a_cylinder() -> None:
    assert drilled(from_tip=30.0, diameter=12.0, flat=True) == pytest.approx(2 * math.pi * 6.0**2 * 12.0, rel=1e-9)


def test_a_hole_at_the_cut_end_takes_out_half_of_one() -> None:
    assert drilled(from_tip=0.0, diameter=12.0, flat=True) == pytest.approx(math.pi * 6.0**2 * 12.0, rel=1e-9)


def test_a_cross_hole_as_wide_as_the_bar_takes_out_two_crossing_cylinders() -> None:
    # Archimedes: 16/3 r^3 where both have radius r. A hole 0.1 % smaller takes out 0.2 % less, to first order.
    assert drilled(from_tip=30.0, diameter=23.976, flat=False) == pytest.approx(2 * 16 / 3 * 12.0**3, rel=3e-3)


def test_a_small_cross_hole_through_a_tube_takes_out_its_two_walls() -> None:
    # As the hole shrinks: area times 2 x wall. At 2 mm the walls' slope adds d^2 / 16 (1/r_bore - 1/R) of it: 0.2 %.
    assert drilled(from_tip=30.0, diameter=2.0, flat=False, tube=True) == pytest.approx(
        2 * math.pi * 1.0**2 * 8.0, rel=4e-3
    )


def test_two_settings_through_one_hole_drill_it_once() -> None:
    one = changed(("ends.holes", [{"name": "1", "from_tip": 30, "diameter": 12}]))
    two = changed(
        ("ends.holes", [{"name": "1", "from_tip": 30, "diameter": 12},
                        {"name": "1b", "from_tip": 30, "diameter": 12, "offset": [0, 20, 0]}]),
    )  # fmt: skip
    assert volume_mm3(bar_from_dict(two)) == volume_mm3(bar_from_dict(one))


def test_softer_ends_reach_over_the_flat_or_the_end_straight() -> None:
    bar = bar_from_dict(changed(("ends.strength_scale", 0.8), ("ends.left", {"strength_scale": 0.7})))
    length = bar.centreline.length_mm
    scale = strength_scale(bar, [0.0, 201.0, 203.0, 0.5 * length, length - 203.0, length - 201.0, length])
    assert scale.tolist() == [0.8, 0.8, 1.0, 1.0, 1.0, 0.7, 0.7]
    bar = bar_from_dict(changed(("ends.flat", FLAT), ("ends.strength_scale", 0.8)))
    assert strength_scale(bar, [94.0, 96.0]).tolist() == [0.8, 1.0]
    assert any("strength_scale 0.8 of the right end holds over its flat" in text for text in bar.assumptions)
