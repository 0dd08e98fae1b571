"""Torsion in bends against the ring sector's own equation, solved by scikit-fem on the true section.

A ring of circular centreline under T and the force T / R along its axis is exact three-dimensional elasticity: with
phi the stress function, div((R / r)^3 grad phi) + 2 c (R / r)^3 = 0, phi constant on each boundary, shear
(R / r)^2 times its slope (Timoshenko & Goodier, torsion of a ring sector). Solved on the upper half of the section.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from barfem.model.bent_wall import BentWall, wall_by_rule
from barfem.strength.bends import bend_map
from barfem.strength.section_stress import round_map

skfem = pytest.importorskip("skfem")

Array = NDArray[np.float64]
NU = 0.3


def walls(outer: float, wall: float, radius: float, thinned: bool) -> BentWall | None:
    return wall_by_rule(wall=wall, diameter=2.0 * outer, radius=radius) if thinned else None


def ring_shear(*, outer: float, wall: float, radius: float, thinned: bool, curved: bool = True) -> tuple[Array, float]:
    """Shear per unit torque on the outside at inside and outside of the bend, then in the bore; and V R / T."""

    def wall_at(psi: Array) -> Array:
        if not thinned:
            return wall + 0.0 * psi
        return wall_by_rule(wall=wall, diameter=2.0 * outer, radius=radius).at(psi - np.pi)

    flat = skfem.MeshQuad2.from_mesh(skfem.MeshQuad.init_tensor(np.linspace(0, 1, 13), np.linspace(0, np.pi, 49)))
    s, psi = flat.doflocs
    rho = outer - wall_at(psi) * (1.0 - s)
    mesh = skfem.MeshQuad2(np.stack([rho * np.cos(psi), rho * np.sin(psi)]), flat.t)
    basis = skfem.Basis(mesh, skfem.ElementQuad2(), intorder=6)
    k = 1.0 if curved else 0.0

    def ratio(x: Array) -> Array:
        return radius / (radius - k * x[0])

    stiffness = skfem.BilinearForm(
        lambda u, v, w: (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]) * ratio(w.x) ** 3
    ).assemble(basis)
    load = skfem.LinearForm(lambda v, w: 2.0 * v * ratio(w.x) ** 3).assemble(basis)
    # The numbers of the unknowns are found by place: on the outside circle and on the bore's line.
    x, y = basis.doflocs
    angle = np.arctan2(y, x)
    bore = np.abs(np.hypot(x, y) - (outer - wall_at(angle))) < 1e-7 * outer
    fixed = np.flatnonzero(bore | (np.abs(np.hypot(x, y) - outer) < 1e-7 * outer))
    zero = np.zeros(len(load))
    particular = skfem.solve(*skfem.condense(stiffness, load, x=zero, D=fixed))
    unit = skfem.solve(*skfem.condense(stiffness, zero.copy(), x=bore.astype(float), D=fixed))
    # The bore's constant: no jump of displacement round the hole, which the hole filled with 2 c (R / r)^3 expresses.
    gauss, weight = np.polynomial.legendre.leggauss(20)
    around = np.pi * (np.arange(400) + 0.5) / 400
    inner = (outer - wall_at(around))[:, None]
    rho = inner * (gauss + 1.0) / 2.0
    hole = np.sum(2.0 * ratio((rho * np.cos(around)[:, None])[None]) ** 3 * rho * inner / 2.0 * weight) * np.pi / 400
    constant = (unit @ load + hole - unit @ (stiffness @ particular)) / (unit @ (stiffness @ unit))
    phi = particular + constant * unit

    slope = basis.interpolate(phi).grad
    place = np.asarray(basis.global_coordinates())
    along_1, along_2 = ratio(place) ** 2 * slope[1], -(ratio(place) ** 2) * slope[0]
    torque = 2.0 * np.sum((place[0] * along_2 - place[1] * along_1) * basis.dx)
    force = 2.0 * np.sum(along_2 * basis.dx)
    shear = []
    for bore_side in (False, True):
        for side in (1.0, -1.0):  # inside, outside of the bend
            line = np.flatnonzero((np.abs(y) < 1e-9 * outer) & (side * x > 0.0))
            line = line[np.argsort(np.abs(x[line]))]
            nodes = line[:5] if bore_side else line[::-1][:5]
            edge = np.abs(x[nodes[0]])
            radial = np.polyfit(np.abs(x[nodes]) - edge, phi[nodes], 4)[-2]
            shear.append(-radial * ratio(np.array([side * edge])) ** 2 / torque)
    return np.array(shear), force * radius / torque


POINTS = np.array([0, 36, 72, 108])  # outside and bore, at the inside and at the outside of the bend


@pytest.mark.parametrize("wall", [9.0, 4.0, 1.5])
@pytest.mark.parametrize("thinned", [False, True])
def test_first_order_of_the_closed_form_is_exact(wall: float, thinned: bool) -> None:
    outer, radius = 12.0, 6000.0
    exact, force = ring_shear(outer=outer, wall=wall, radius=radius, thinned=thinned)
    assert force == pytest.approx(1.0, abs=1e-4)  # the state is T with T / R
    straight = round_map(diameter_mm=2 * outer, bore_mm=2 * (outer - wall), nu=NU).matrix[POINTS, 2, 3]
    bent = bend_map(
        diameter_mm=2 * outer, wall_mm=wall, bend_radius_mm=radius, bent=walls(outer, wall, radius, thinned), nu=NU
    ).matrix
    coil = np.array([0.0, 0.0, 1.0 / radius, 1.0, 0.0, 0.0])
    ours = bent[POINTS, 2] @ coil / straight
    theirs = exact / straight
    slope_ours = (ours[::2] - ours[1::2]) / 2.0 * radius / outer
    slope_theirs = (theirs[::2] - theirs[1::2]) / 2.0 * radius / outer
    # On purpose on the safe side: Wahl's 0.75 for the exact k = 0.635 outside, between 0.5 and 0.75 for it in the bore.
    hollow = 1.0 - (1.0 - wall / outer) ** 2
    ours_exact = slope_theirs + np.array([0.75 - 0.6346, 0.6346 - 0.625]) * hollow * np.array(
        [1.0, outer / (outer - wall)]
    )
    assert slope_ours == pytest.approx(ours_exact, abs=0.01)


@pytest.mark.parametrize(("wall", "radius"), [(4.0, 60.0), (4.0, 36.0), (3.0, 45.0)])
def test_unequal_wall_in_straight_torsion(wall: float, radius: float) -> None:
    """The wall as bent, but the bar straight: what `thinned_wall_shear` says beside Saint-Venant's exact torsion."""
    outer, inner = 12.0, 12.0 - wall
    exact, _ = ring_shear(outer=outer, wall=wall, radius=radius, thinned=True, curved=False)
    straight = round_map(diameter_mm=2 * outer, bore_mm=2 * (outer - wall), nu=NU).matrix[POINTS, 2, 3]
    sizes = {"diameter_mm": 2 * outer, "wall_mm": wall, "bend_radius_mm": radius, "nu": NU}
    thinned, even = (
        bend_map(**sizes, bent=walls(outer, wall, radius, flag)).matrix[POINTS, 2, 3] for flag in (True, False)
    )
    ratio = thinned / even
    # The formula is of first order: what it leaves out is quadratic in b / R outside, in b^2 / a R in the bore.
    assert np.all(np.abs(ratio - exact / straight)[:2] < 0.25 * (outer / radius) ** 2)
    assert np.all(np.abs(ratio - exact / straight)[2:] < 0.4 * (outer**2 / inner / radius) ** 2)


@pytest.mark.parametrize(("wall", "radius", "thinned"), [(4.0, 60.0, False), (4.0, 60.0, True), (4.0, 36.0, True)])
def test_greatest_shear_of_real_bends(wall: float, radius: float, thinned: bool) -> None:
    outer = 12.0
    exact, _ = ring_shear(outer=outer, wall=wall, radius=radius, thinned=thinned)
    bent = bend_map(
        diameter_mm=2 * outer, wall_mm=wall, bend_radius_mm=radius, bent=walls(outer, wall, radius, thinned), nu=NU
    ).matrix
    coil = np.array([0.0, 0.0, 1.0 / radius, 1.0, 0.0, 0.0])
    # Measured: 1.4 % low with an even wall, 0.6 % off either way with the wall as bent.
    assert np.max(bent[:, 2] @ coil) == pytest.approx(exact.max(), rel=0.01 if thinned else 0.02)
