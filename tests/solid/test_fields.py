"""Bend fields: what they must agree with whatever the mesh."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from barfem.solve.solid.fields import BendField, bend_field, bend_line, resultant_transfer

ANGLES = np.radians(np.arange(0.0, 360.0, 10.0))
LENGTH = 2.0 * np.radians(70.0)


@cache
def field_of(wall_over_diameter: float | None = None) -> BendField:
    return bend_field(radius_over_diameter=2.0, angle_deg=70.0, wall_over_diameter=wall_over_diameter)


@pytest.fixture(params=[None, 0.18], ids=["solid", "tube"])
def field(request: pytest.FixtureRequest) -> BendField:
    return field_of(request.param)


def test_transfer_is_statics() -> None:
    """Force and moment at the far tangent, carried to a section by hand."""
    rng = np.random.default_rng(3)
    force, moment = rng.normal(size=3), rng.normal(size=3)
    line = bend_line(2.0, np.radians(70.0), 3.0)
    stations = np.array([-1.0, 0.7, LENGTH, LENGTH + 1.2])
    transfer = resultant_transfer(stations, 2.0, np.radians(70.0))
    end_point, end = line.evaluate([3.0 + LENGTH])
    f, m = end[0].T @ force, end[0].T @ moment
    for k, station in enumerate(stations):
        point, frame = line.evaluate([3.0 + station])
        expected = np.concatenate([frame[0] @ f, frame[0] @ (m + np.cross(end_point[0] - point[0], f))])
        assert np.allclose(transfer[k] @ np.concatenate([force, moment]), expected)


def test_resultants_come_back_from_the_stress(field) -> None:  # type: ignore[no-untyped-def]
    """In the stub, a diameter out, stress is that of a straight bar under the local N, T, M_a, M_b: sign and size."""
    d = 20.0
    bore = 0.0 if field.wall_over_diameter is None else d * (1.0 - 2.0 * field.wall_over_diameter)
    area, second = np.pi / 4.0 * (d**2 - bore**2), np.pi / 64.0 * (d**4 - bore**4)
    maps = field.maps(np.array([-1.1 * d]), ANGLES, d)[0]
    x, y = 0.5 * d * np.cos(ANGLES), 0.5 * d * np.sin(ANGLES)
    for column, expected in ((0, np.full_like(x, 1.0 / area)), (4, y / second), (5, -x / second)):
        peak = np.abs(expected).max()
        # A tube's ovalising reaches out so far: 2.7 % here, 1 % at a diameter and a half.
        allowed = 0.01 if bore == 0.0 else 0.03
        assert np.allclose(maps[:, 0, column], expected, atol=allowed * peak)
        assert np.abs(maps[:, 1:, column]).max() < allowed * peak
    torsion = 0.25 * d / second
    allowed = 0.005 if bore == 0.0 else 0.03
    assert np.allclose(maps[:, 2, 3], torsion, rtol=allowed)
    assert np.abs(maps[:, :2, 3]).max() < allowed * torsion


def test_maps_scale_with_diameter() -> None:
    one, two = field_of().maps(np.array([1.0]), ANGLES, 1.0), field_of().maps(np.array([2.0]), ANGLES, 2.0)
    assert np.allclose(two[..., :3] * 4.0, one[..., :3])
    assert np.allclose(two[..., 3:] * 8.0, one[..., 3:])


def test_a_bend_turned_in_its_frame_gives_the_same_stress() -> None:
    turn = 0.8
    plain = field_of().maps(np.array([1.0]), ANGLES, 1.0)
    turned = field_of().maps(np.array([1.0]), ANGLES + turn, 1.0, inward_angle_rad=turn)
    resultants = np.random.default_rng(4).normal(size=6)
    seen = resultants.copy()
    c, s = np.cos(turn), np.sin(turn)
    for i in (1, 4):
        seen[i], seen[i + 1] = c * resultants[i] - s * resultants[i + 1], s * resultants[i] + c * resultants[i + 1]
    assert np.allclose(plain @ resultants, turned @ seen, atol=1e-12)


def test_mirror_in_the_bends_plane(field) -> None:  # type: ignore[no-untyped-def]
    """N, V_a, M_b are even in the bend's plane, V_b, T, M_a odd."""
    maps = field.maps(np.array([0.3, 1.2]), ANGLES, 1.0)
    mirrored = field.maps(np.array([0.3, 1.2]), -ANGLES, 1.0)
    parity = np.array([1.0, 1.0, -1.0, -1.0, -1.0, 1.0])
    sign = np.array([1.0, 1.0, -1.0])[:, None] * parity
    assert np.allclose(maps, sign * mirrored, atol=2e-6 * np.abs(maps).max())


def test_flexibility_is_symmetric_and_close_to_the_beams() -> None:
    """A solid bend is as flexible as its beam within 1 %, a tube's is softer where it ovalises."""
    assert np.allclose(field_of().flexibility, field_of().flexibility.T)
    for factor in field_of().factors.values():
        assert factor == pytest.approx(1.0, abs=0.01)
    assert field_of(0.18).factors["in_plane"] > 1.05


def test_a_half_turn_has_factors_too() -> None:
    """At 180 degrees bending and torsion alone cannot be told apart from the end moments."""
    factors = bend_field(radius_over_diameter=2.0, angle_deg=180.0).factors
    assert all(0.9 < factor < 1.05 for factor in factors.values())


@pytest.mark.parametrize(
    "wrong",
    [
        {"radius_over_diameter": 0.4, "angle_deg": 90.0},
        {"radius_over_diameter": 2.0, "angle_deg": 90.0, "wall_over_diameter": 0.5},
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError):
        bend_field(**wrong)  # type: ignore[arg-type]


def test_stations_beyond_the_stubs_are_refused() -> None:
    with pytest.raises(ValueError, match="within the field"):
        field_of().maps(np.array([-2.0]), ANGLES, 1.0)
    with pytest.raises(ValueError, match="no bore"):
        field_of().maps(np.array([0.0]), ANGLES, 1.0, surface="bore")
