"""Stress maps against equilibrium, symmetry and limits: the section's own laws, with no formula of the package."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from barfem.model.bent_wall import BentWall, wall_by_rule
from barfem.strength.bends import bend_map
from barfem.strength.net_section import drilled_map, net_round
from barfem.strength.rectangle import rectangle_face_flexure
from barfem.strength.section_map import SectionMap, blend_maps, turned
from barfem.strength.section_stress import circle_flexure_MPa, pressed_pair_map, rectangle_map, round_map

Array = NDArray[np.float64]
D, NU = 24.0, 0.3
NORMAL = [0, 4, 5]  # N, M_1, M_2: what normal stress carries


def field_resultants(section: SectionMap, y: Array, area: Array, *, bend_radius: float = np.inf) -> Array:
    """N, M_1, M_2 (rows) that the map's normal stress for unit N, M_1, M_2 (columns) adds up to over a section.

    The stress of plane sections, times the fibre's length, is linear over the section: read off the surface points.
    """

    def fibre(points: Array) -> Array:
        return 1.0 - points[:, 0] / bend_radius

    position, there = section.position_mm[section.exists], section.exists
    base = np.column_stack([np.ones(len(position)), position])
    scaled = section.matrix[there][:, 0, NORMAL] * fibre(position)[:, None]
    plane, *_ = np.linalg.lstsq(base, scaled, rcond=None)
    assert np.allclose(base @ plane, scaled, atol=1e-12 * np.abs(scaled).max())
    sigma = np.column_stack([np.ones(len(y)), y]) @ plane / fibre(y)[:, None]
    return np.stack([area @ sigma, (area * y[:, 1]) @ sigma, -(area * y[:, 0]) @ sigma])


def ring_elements(outer: float, inner_of: object, n: int = 720, m: int = 240) -> tuple[Array, Array]:
    """Midpoint elements between an outside circle and a bore given as radius over angle."""
    psi = 2.0 * np.pi * (np.arange(n) + 0.5) / n
    inner = np.broadcast_to(inner_of(psi), psi.shape)  # type: ignore[operator]
    step = (outer - inner) / m
    rho = inner[:, None] + step[:, None] * (np.arange(m) + 0.5)
    area = rho * step[:, None] * 2.0 * np.pi / n
    y = np.stack([rho * np.cos(psi)[:, None], rho * np.sin(psi)[:, None]], axis=-1)
    return y.reshape(-1, 2), area.ravel()


def walls(wall: float | None, radius: float, thinned: bool = True) -> BentWall | None:
    return wall_by_rule(wall=wall, diameter=D, radius=radius) if wall is not None and thinned else None


@pytest.mark.parametrize("wall", [None, 4.0, 2.0])
@pytest.mark.parametrize("thinned", [False, True])
@pytest.mark.parametrize("radius", [36.0, 60.0, np.inf])
def test_normal_stress_adds_up_to_the_resultants(wall: float | None, thinned: bool, radius: float) -> None:
    if np.isinf(radius):
        section = round_map(diameter_mm=D, bore_mm=0.0 if wall is None else D - 2.0 * wall, nu=NU)
    else:
        section = bend_map(diameter_mm=D, wall_mm=wall, bend_radius_mm=radius, bent=walls(wall, radius, thinned), nu=NU)

    def bore(psi: Array) -> Array:
        if wall is None:
            return 0.0 * psi
        if thinned and np.isfinite(radius):
            return D / 2.0 - wall_by_rule(wall=wall or 0.0, diameter=D, radius=radius).at(psi - np.pi)
        return D / 2.0 - wall + 0.0 * psi

    y, area = ring_elements(D / 2.0, bore)
    arm = np.array([1.0, D / 4.0, D / 4.0])  # makes forces and moments comparable
    carried = field_resultants(section, y, area, bend_radius=radius) * arm / arm[:, None]
    assert np.allclose(carried, np.eye(3), atol=1e-4)  # midpoint elements


@pytest.mark.parametrize("hole", [0.0, 10.0])
def test_normal_stress_of_rectangles_adds_up(hole: float) -> None:
    w, t = 40.0, 12.0
    x = (np.arange(200) + 0.5) / 200 - 0.5
    y = np.stack(np.meshgrid(t * x, (w - hole) * x, indexing="ij"), axis=-1).reshape(-1, 2)
    y[:, 1] += np.where(y[:, 1] < 0.0, -hole / 2.0, hole / 2.0)
    area = np.full(len(y), t * (w - hole) / len(y))
    section = rectangle_map(width_mm=w, thickness_mm=t, nu=NU, hole_mm=hole)
    assert np.allclose(field_resultants(section, y, area), np.eye(3), atol=1e-4)
    assert np.abs(section.position_mm[:, 1]).min() >= hole / 2.0  # no point in the hole


@pytest.mark.parametrize("hole", [0.0, 10.0])
def test_each_pressed_leaf_takes_half(hole: float) -> None:
    w, t = 36.0, 10.0
    pair = pressed_pair_map(width_mm=w, thickness_mm=t, nu=NU, hole_mm=hole)
    leaf = rectangle_map(width_mm=w, thickness_mm=t / 2.0, nu=NU, hole_mm=hole)
    # Beside the outer face's middle of either leaf, and the inner face's: the single leaf's faces under half the load.
    for at, of_leaf in ((1, 1), (37, 37), (73, 35), (109, 71)):
        assert pair.exists[at] and leaf.exists[of_leaf]
        assert np.allclose(pair.matrix[at], leaf.matrix[of_leaf] / 2.0, rtol=1e-12, atol=1e-18)
    assert np.allclose(pair.position_mm[72:, 0], 0.0)
    assert np.allclose(np.abs(pair.position_mm[:72, 0]).max(), t / 2.0)


@pytest.mark.parametrize("inner", [0.0, 3.0, 8.0, 11.0])
def test_flexure_of_a_circle_is_in_equilibrium(inner: float) -> None:
    """Shear on the middle plane along the bar holds V Q / I: the force that bending adds beyond that plane."""
    outer, nu = 12.0, 0.27
    x, weight = np.polynomial.legendre.leggauss(60)
    r = inner + (outer - inner) * (x + 1.0) / 2.0
    shear = circle_flexure_MPa(radius_mm=r, outer_mm=outer, inner_mm=inner, nu=nu)
    held = 2.0 * np.sum(shear * weight) * (outer - inner) / 2.0
    first_moment = 2.0 / 3.0 * (outer**3 - inner**3)
    assert held == pytest.approx(first_moment / (np.pi / 4.0 * (outer**4 - inner**4)), rel=1e-9)


def test_flexure_of_a_rectangle_against_finite_elements() -> None:
    """The stress function of Saint-Venant's flexure solved by scikit-fem on the same rectangle."""
    skfem = pytest.importorskip("skfem")
    a, b, nu = 3.0, 8.0, 0.3  # force along x, |x| < a
    mesh = skfem.MeshQuad.init_tensor(np.linspace(-a, a, 25), np.linspace(-b, b, 49))
    basis = skfem.Basis(mesh, skfem.ElementQuad2())
    second_moment = 2.0 * b * (2.0 * a) ** 3 / 12.0
    stiffness = skfem.BilinearForm(lambda u, v, w: u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]).assemble(basis)
    load = skfem.LinearForm(lambda v, w: -nu / (1.0 + nu) * w.x[1] / second_moment * v).assemble(basis)
    phi = skfem.solve(*skfem.condense(stiffness, load, D=basis.get_dofs()))
    at = np.array([[a - 1e-9, 5.0], [0.0, b - 1e-9]]).T
    gradient = basis.with_element(skfem.ElementQuad2()).interpolator(phi)
    h = 1e-3
    across = -(gradient(at[:, :1])[0] - gradient(at[:, :1] - [[h], [0.0]])[0]) / h
    along = (gradient(at[:, 1:])[0] - gradient(at[:, 1:] - [[0.0], [h]])[0]) / h + a**2 / (2.0 * second_moment)
    ours_across = rectangle_face_flexure(depth_mm=2 * a, face_mm=2 * b, position_mm=np.array([5.0]), nu=nu)[1][0]
    ours_along = rectangle_face_flexure(depth_mm=2 * b, face_mm=2 * a, position_mm=np.array([0.0]), nu=nu)[0][0]
    assert ours_across == pytest.approx(across, rel=5e-3)
    assert ours_along == pytest.approx(along, rel=5e-3)


def test_a_wide_bend_is_straight() -> None:
    for wall in (None, 4.0):
        bore = 0.0 if wall is None else D - 2.0 * wall
        straight = round_map(diameter_mm=D, bore_mm=bore, nu=NU).matrix
        for thinned in (False, True):
            bent = bend_map(
                diameter_mm=D, wall_mm=wall, bend_radius_mm=1e8, bent=walls(wall, 1e8, thinned), nu=NU
            ).matrix
            assert np.allclose(bent, straight, rtol=0.0, atol=1e-6 * np.abs(straight).max(axis=(0, 1)))


@pytest.mark.parametrize("wall", [None, 4.0])
def test_a_bend_is_symmetric_about_its_plane(wall: float | None) -> None:
    section = bend_map(diameter_mm=D, wall_mm=wall, bend_radius_mm=40.0, bent=walls(wall, 40.0), nu=NU)
    n = 72
    mirrored = np.concatenate([start + (-np.arange(n)) % n for start in range(0, len(section.surface), n)])
    # Mirrored in the bend's plane: V_2, T and M_1 change sign, and so does the sense of shear.
    signs = np.array([1.0, 1.0, -1.0, -1.0, -1.0, 1.0])
    normal, shear = section.matrix[:, 0], section.matrix[:, 2]
    assert np.allclose(normal[mirrored], normal * signs, atol=1e-12)
    assert np.allclose(shear[mirrored], -shear * signs, atol=1e-12)


@pytest.mark.parametrize("hole", [0.0, 10.0])
@pytest.mark.parametrize("shape", [rectangle_map, pressed_pair_map])
def test_flats_are_symmetric_about_both_axes(shape: Callable[..., SectionMap], hole: float) -> None:
    """Whole, drilled and folded: no ligament and no leaf has a point that its like has not.

    A drawing turned by 180 deg had another stress: 0.7 % beside a hole, 2 % where a pressed flat begins.
    """
    section = shape(width_mm=40.0, thickness_mm=12.0, nu=NU, hole_mm=hole)
    assert np.array_equal(section.exists, np.roll(section.exists, 36))
    n = 72
    for mirror, signs in (
        (lambda k: (n // 2 - k) % n, np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])),  # axis 1 turned round
        (lambda k: -k % n, np.array([1.0, 1.0, -1.0, -1.0, -1.0, 1.0])),  # axis 2 turned round
    ):
        normal, shear = section.matrix[:n, 0], section.matrix[:n, 2]
        mirrored = mirror(np.arange(n))
        assert np.allclose(normal[mirrored], normal * signs, atol=1e-12)
        assert np.allclose(shear[mirrored], -shear * signs, atol=1e-12)
        assert np.array_equal(section.exists[:n][mirrored], section.exists[:n])
    middle_of = {"+1": 1, "+2": 18, "-1": 37, "-2": 54}  # beside a hole that is in the middle of a face
    shear = section.matrix[:, 2]
    assert shear[middle_of["+1"], 2] > 0.0 > shear[middle_of["-1"], 2]  # V_2 along theta, against theta
    if shape is rectangle_map:
        assert shear[middle_of["+2"], 1] < 0.0 < shear[middle_of["-2"], 1]


def test_a_drilled_bar_takes_each_resultant_on_what_is_left() -> None:
    whole = round_map(diameter_mm=D, bore_mm=16.0, nu=NU)
    drilled = drilled_map(whole, diameter_mm=D, bore_mm=16.0, hole_mm=8.0)
    net = net_round(diameter_mm=D, bore_mm=16.0, hole_mm=8.0)
    assert net.bending < net.torsion < 1.0
    for column, left in zip(
        range(6), (net.area, net.area, net.area, net.torsion, net.bending, net.bending), strict=True
    ):
        assert np.allclose(drilled.matrix[..., column] * left, whole.matrix[..., column])


def test_signs() -> None:
    section = round_map(diameter_mm=D, nu=NU).matrix
    first, second = 0, 18  # points on axes 1 and 2
    assert section[second, 0, 4] > 0.0  # M_1 pulls where y_2 > 0
    assert section[first, 0, 5] < 0.0  # M_2 presses where y_1 > 0
    assert np.all(section[:, 2, 3] > 0.0)  # torsion runs with theta
    assert section[second, 2, 1] < 0.0  # V_1 runs along -theta where y_2 > 0
    assert section[first, 2, 2] > 0.0
    bent = bend_map(diameter_mm=D, bend_radius_mm=40.0, nu=NU).matrix
    assert bent[first, 0, 5] < 0.0  # M_2 tightens the bend: its inside is pressed
    assert abs(bent[first, 0, 5]) > abs(bent[36, 0, 5])
    assert bent[first, 2, 3] > bent[36, 2, 3]


def test_turned_axes_carry_the_same_stress() -> None:
    section = bend_map(diameter_mm=D, wall_mm=4.0, bend_radius_mm=50.0, bent=walls(4.0, 50.0), nu=NU)
    angle = 0.7
    c, s = np.cos(angle), np.sin(angle)
    local = np.array([10.0, 20.0, -30.0, 400.0, 500.0, -600.0])
    to_frame = np.array([[c, -s], [s, c]])
    frame = local.copy()
    frame[1:3], frame[4:6] = to_frame @ local[1:3], to_frame @ local[4:6]
    moved = turned(section, angle)
    assert np.allclose(moved.matrix @ frame, section.matrix @ local)
    assert np.allclose(moved.position_mm, section.position_mm @ to_frame.T)


def test_a_blend_lies_between_its_ends() -> None:
    flat = rectangle_map(width_mm=40.0, thickness_mm=12.0, nu=NU)
    body = round_map(diameter_mm=D, nu=NU)
    half = blend_maps(flat, body, 0.5).matrix
    assert np.allclose(half, (flat.matrix + body.matrix) / 2.0)
    assert np.array_equal(blend_maps(flat, body, 0.0).matrix, flat.matrix)
    assert np.array_equal(blend_maps(flat, body, 1.0).matrix, body.matrix)


def test_a_blend_by_length_is_a_cones_own_section() -> None:
    thick, thin = (round_map(diameter_mm=size, nu=NU) for size in (D, 0.5 * D))
    half = blend_maps(thin, thick, 0.5, by_length=True).matrix
    assert np.allclose(half, round_map(diameter_mm=0.75 * D, nu=NU).matrix, rtol=1e-12)
    flat = rectangle_map(width_mm=40.0, thickness_mm=12.0, nu=NU)
    assert np.allclose(blend_maps(flat, thick, 0.0, by_length=True).matrix, flat.matrix, rtol=1e-12)
    assert np.allclose(blend_maps(flat, thick, 1.0, by_length=True).matrix, thick.matrix, rtol=1e-12)
