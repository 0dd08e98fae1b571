"""The whole bar as a solid, against the beam and against its own bend fields."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barfem.model.bar import Bar, Flat, Hole
from barfem.solve.beam import all_settings, solve_bar
from barfem.solve.solid.fields import bend_field
from barfem.solve.solid.loads import hole_load
from barfem.solve.solid.mesh import Density, plane_stations, sweep
from barfem.solve.solid.model import JointLoad, SolidModel, build_solid
from barfem.solve.solid.motion import SectionMotion
from barfem.solve.solid.profile import Profile
from barfem.solve.solid.section import disc_grid
from tests.often import often
from tests.solid.made_up import chain, u_bar, von_mises

FORGED = Flat("forged", 12.0, 40.0, 70.0, 25.0, (0.0, 0.0, 1.0))
ANGLES = np.radians(np.arange(0.0, 360.0, 5.0))
DOWN = np.array([[0.0, 0.0, -1.0], [0.0, 0.0, -1.0]])


def pairs(bar: Bar) -> list:  # type: ignore[type-arg]
    return list(zip(bar.right.holes, bar.left.holes, strict=True))


def roll_load(bar: Bar, force: float = 1000.0) -> list[JointLoad]:
    """Left end up, right end down, at the first hole."""
    return [
        JointLoad(bar.right.holes[0], np.array([[0.0, 0.0, -force]])),
        JointLoad(bar.left.holes[0], np.array([[0.0, 0.0, force]])),
    ]


@pytest.fixture(scope="module")
def solid() -> SolidModel:
    return build_solid(u_bar())


@pytest.mark.parametrize(
    "kind",
    often(
        [
            {"wall": 4.0},
            {"flat": FORGED},
            {},
            {"torsional": 2e4, "link_stiffness": 500.0},
            {"radius": 36.0, "arm": 200.0, "diameter": 21.0},
        ],
        2,
    ),
)
def test_initial_rate_is_the_beams_within_a_per_cent(kind) -> None:  # type: ignore[no-untyped-def]
    bar = u_bar(**kind)
    model = build_solid(bar, density=Density(around=12, layers=1))
    links = np.array([DOWN] * len(bar.right.holes))
    for case, up, down in (("roll", 40.0, 40.0), ("one-wheel", 40.0, 40.0), ("roll", 40.0, 25.0)):
        travelled = replace(bar, travel=replace(bar.travel, up_mm=up, down_mm=down))
        beam = solve_bar(travelled, all_settings(travelled, cases=(case,)))  # type: ignore[arg-type]
        signed = np.zeros(len(links), bool)
        rates = model.initial_rates(pairs(bar), links, beam.pickup_move_mm[:, 1], signed=signed)
        assert rates == pytest.approx(beam.initial.rate_N_per_mm, rel=0.01)


@pytest.mark.parametrize("wall", often([None, 4.0], [4.0]))
def test_bends_superposed_from_fields_agree_within_three_per_cent(wall: float | None) -> None:
    """Both ends' bends, outside and bore, in the resultants that statics gives outboard of the mounts."""
    bar = u_bar(wall=wall)
    density = Density(around=12, layers=1)  # the same for both: this is about superposing, not about the mesh
    model = build_solid(bar, density=density)
    result = model.solve(roll_load(bar))
    d = bar.section.diameter_mm
    for end, bend in zip((0, -1), bar.centreline.bends, strict=True):
        field = bend_field(
            radius_over_diameter=60.0 / d,
            angle_deg=90.0,
            density=density,
            wall_over_diameter=None if wall is None else wall / d,
        )
        hole = (bar.right.holes[0], bar.left.holes[0])[end]
        tip, _ = bar.centreline.evaluate([hole.station_mm])
        for surface in ("outside",) if wall is None else ("outside", "bore"):
            stress = model.surface(result, ANGLES, bore=surface == "bore")
            near = (stress.stations > bend.start_station_mm - d) & (stress.stations < bend.end_station_mm + d)
            stations = stress.stations[near]
            points, frames = bar.centreline.evaluate(stations)
            # The part beyond acts with what holds the end: right end down, left end up by the same force.
            force = np.array([0.0, 0.0, 1000.0])
            moment = np.cross(tip[0] - points, force)
            resultants = np.concatenate([frames @ force, np.einsum("sij,sj->si", frames, moment)], axis=1)
            maps = field.maps(
                stations - bend.start_station_mm, ANGLES, d, surface=surface, inward_angle_rad=bend.inward_angle_rad
            )  # type: ignore[arg-type]
            superposed = np.einsum("socr,sr->soc", maps, resultants)
            whole = stress.at(stations)[..., 0]
            peak = von_mises(whole).max()
            assert von_mises(superposed).max() == pytest.approx(peak, rel=0.005)
            assert np.abs(superposed - whole).max() < 0.02 * peak


def test_straights_have_the_beams_stress(solid: SolidModel) -> None:
    """Middle of the span: torque, and the shear that takes the moment from one mount to the other; no bending.

    Shear at the surface of a circle, at the ends of the diameter across the force: (1 + 2 nu) / (1 + nu) V / A
    (Timoshenko & Goodier, cantilever of circular section; from memory). V is the slope of the bending moment.
    """
    bar = solid.bar
    stress = solid.surface(solid.solve(roll_load(bar)), ANGLES)
    left, middle, right = stress.at(bar.middle_mm + np.array([-100.0, 0.0, 100.0]))[..., 0]
    torsion = 1000.0 * 230.0 * 16.0 / (np.pi * 24.0**3)
    assert middle[:, 2].mean() == pytest.approx(torsion, rel=0.001)
    assert np.abs(middle[:, 0]).max() < 0.002 * torsion

    def swing(values: np.ndarray) -> float:
        return float(2.0 * np.abs(np.mean(values * np.exp(1j * ANGLES))))

    shear = (swing(left[:, 0]) + swing(right[:, 0])) * np.pi / 32.0 * 24.0**3 / 200.0
    assert swing(middle[:, 2]) == pytest.approx(1.6 / 1.3 * shear / (np.pi / 4.0 * 24.0**2), rel=0.01)


def test_nothing_is_held_by_loads_in_balance(solid: SolidModel) -> None:
    result = solid.solve(roll_load(solid.bar))
    assert result.held_N.shape == (1, 1)  # the bar turns freely in its bushings
    assert np.abs(result.held_N).max() < 1e-6


def test_what_is_out_of_balance_is_held_and_told(solid: SolidModel) -> None:
    """One end loaded alone: the moment about the mounts' axis, at a quarter of the length."""
    bar = solid.bar
    loads = [JointLoad(bar.left.holes[0], np.array([[0.0, 0.0, 1000.0]]))]
    held = solid.solve(loads).held_N[0, 0]
    assert abs(held) * 0.25 * bar.centreline.length_mm == pytest.approx(1000.0 * 230.0, rel=1e-6)


def test_a_bar_held_in_torsion_holds_nothing_else() -> None:
    model = build_solid(u_bar(torsional=2e4))
    assert len(model.held.rows) == 0


def test_mirror_image(solid: SolidModel) -> None:
    """The bar is symmetric: exchanging the ends' loads mirrors the stress."""
    bar = solid.bar
    one = solid.surface(solid.solve(roll_load(bar)), ANGLES).values
    other = solid.surface(solid.solve(roll_load(bar, -1000.0)), ANGLES).values
    assert np.allclose(one, -other)
    assert np.allclose(von_mises(one[..., 0]).max(axis=1), von_mises(one[::-1, ..., 0]).max(axis=1), rtol=2e-3)


def test_a_joint_offset_brings_its_moment(solid: SolidModel) -> None:
    """The same force at an offset joint equals the force at the hole and the moment of the offset."""
    bar = solid.bar
    hole = bar.left.holes[1]
    force = np.array([[10.0, -20.0, 500.0]])
    offset = replace(hole, offset_mm=(0.0, 15.0, 3.0))
    load = solid.load_at(hole)
    plain = solid.solve([JointLoad(hole, force)]).displacement_mm
    moved = solid.solve([JointLoad(offset, force)]).displacement_mm
    right = solid._nothing(1)
    for plane, matrix in load.planes.items():
        right[plane] += matrix[:, 3:] @ np.cross([0.0, 15.0, 3.0], force[0])[:, None]
    local = solid.factor.solve(right).reshape(*plain.shape)
    extra = np.einsum("pab,pnac->pnbc", solid.mesh.frames, local)
    assert np.allclose(moved, plain + extra, atol=1e-9 * np.abs(moved).max())


def test_a_load_near_a_bend_is_statically_what_was_asked() -> None:
    """Spread over sections that point elsewhere, about the hole's point: forces and moments of the nodes add up."""
    line = chain((0.0, 0.0, 0.0), [(40.0, None, 0.0), (30.0, 25.0, 0.9), (200.0, None, 0.0)])
    hole = Hole("1", 45.0, 45.0)
    bar = replace(u_bar(), centreline=line)
    mesh = sweep(
        grid=disc_grid(core=2, rings=1),
        profile=Profile(24.0),
        centreline=line,
        stations=plane_stations(np.array([0.0, 40.0, 70.0, 270.0]), np.array([8.0, 4.0, 50.0])),
    )
    load = hole_load(bar, SectionMotion(mesh), hole.station_mm)
    point, _ = line.evaluate([hole.station_mm])
    total = np.zeros((6, 6))
    for plane, matrix in load.planes.items():
        forces = np.einsum("ac,naf->ncf", mesh.frames[plane], matrix.reshape(-1, 3, 6))
        total[:3] += forces.sum(axis=0)
        arms = mesh.points[plane] - point[0]
        total[3:] += np.cross(arms[:, None], np.swapaxes(forces, 1, 2)).sum(axis=0).T
    # The sections' centres lie on quadratic arcs between the planes: exact to their rounding.
    assert np.allclose(total[:, :3], np.eye(6)[:, :3], atol=2e-3)
    assert np.allclose(total[:, 3:], np.eye(6)[:, 3:], atol=2e-3)
