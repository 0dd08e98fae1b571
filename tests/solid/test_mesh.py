"""The swept mesh: nodes at their exact places, sections as drawn and as bent."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.bar import Flat
from barfem.model.bent_wall import wall_by_rule
from barfem.solve.solid.flat_mesh import Mesh, hexahedra, plane_quads
from barfem.solve.solid.mesh import Density, bar_mesh, plane_stations, sweep
from barfem.solve.solid.profile import BLEND_DIAMETERS, Profile
from barfem.solve.solid.section import disc_grid, place_slit, ring_grid
from tests.solid.made_up import chain, straight_line, u_bar

FORGED = Flat("forged", 12.0, 40.0, 70.0, 25.0, (0.0, 0.0, 1.0))


@pytest.mark.parametrize(
    "grid", [disc_grid(core=2, rings=1), disc_grid(core=3, rings=2), ring_grid(around=12, layers=2)]
)
def test_cells_are_right_handed_and_cover_the_section(grid) -> None:  # type: ignore[no-untyped-def]
    tube = bool(len(grid.bore))
    mesh = sweep(
        grid=grid,
        profile=Profile(2.0, 0.5 if tube else None),
        centreline=straight_line(1.0),
        stations=np.linspace(0, 1, 3),
    )
    moments = mesh.section_moments()[0]
    x, y = mesh.across[0].T
    area = np.pi * (1.0 - (0.25 if tube else 0.0))
    second = np.pi / 4.0 * (1.0 - (0.0625 if tube else 0.0))
    # The true circle is met at every node; between them a parabola loses a little: h^4 / 480 of the area or so.
    loss = (2.0 * np.pi / (len(grid.outer) // 2)) ** 4 / 100.0
    assert moments[:, 0].sum() == pytest.approx(area, rel=loss)
    assert moments[:, 1] @ x == pytest.approx(second, rel=2.0 * loss)
    assert moments[:, 2] @ y == pytest.approx(second, rel=2.0 * loss)
    assert abs(moments[:, 1] @ y) < 1e-12


@pytest.mark.parametrize("wall", [None, 4.0])
def test_every_surface_node_lies_on_the_true_torus_or_cylinder(wall: float | None) -> None:
    bar = u_bar(wall=wall)
    mesh = bar_mesh(bar)
    distance = np.linalg.norm(mesh.points[:, mesh.grid.outer] - mesh.origins[:, None], axis=-1)
    assert np.allclose(distance, 12.0, rtol=1e-13)
    # In the first bend: round a circle of 60 mm about the bend's centre, exactly.
    bend = bar.centreline.bends[0]
    inside = (mesh.stations >= bend.start_station_mm) & (mesh.stations <= bend.end_station_mm)
    centre = np.array([-60.0, -440.0, 0.0])
    across = mesh.origins[inside] - centre
    assert np.allclose(np.linalg.norm(across, axis=1), 60.0, rtol=1e-13)
    assert inside.sum() > 20


def test_planes_stand_at_tangents_and_tips() -> None:
    bar = u_bar()
    mesh = bar_mesh(bar)
    ends = mesh.stations[0::2]
    for segment in bar.centreline.segments:
        assert np.abs(ends - segment.start_station_mm).min() < 1e-9
    assert ends[-1] == pytest.approx(bar.centreline.length_mm)
    assert np.allclose(mesh.stations[1::2], 0.5 * (ends[1:] + ends[:-1]))


@pytest.mark.parametrize("wall", [None, 4.0])
def test_slices_are_as_short_as_their_place_asks(wall: float | None) -> None:
    """Lengths in diameters: bends 0.35, beside them 0.4, under mounts 0.6, straights 1; flats 0.4."""
    bar = u_bar(wall=wall, flat=None if wall else FORGED)
    mesh = bar_mesh(bar)
    ends, d = mesh.stations[0::2], bar.section.diameter_mm
    length, middle = np.diff(ends) / d, 0.5 * (ends[1:] + ends[:-1])
    assert length.max() <= 1.0 + 1e-9 and length.max() > 0.8
    for bend in bar.centreline.bends:
        low, high = bend.start_station_mm, bend.end_station_mm
        assert length[(middle > low) & (middle < high)].max() <= 0.35 + 1e-9
        assert length[(middle > low - d) & (middle < high + d)].max() <= 0.4 + 1e-9
    for mount in bar.mounts:
        assert length[np.abs(middle - mount.station_mm) < 0.5 * mount.length_mm].max() <= 0.6 + 1e-9
    if not wall:
        assert length[middle < FORGED.length_mm].max() <= 0.4 + 1e-9


def test_refinement_refines_every_way() -> None:
    bar = u_bar()
    coarse, fine = bar_mesh(bar), bar_mesh(bar, density=Density(refinement=2.0))
    assert fine.n_slices > 1.8 * coarse.n_slices
    assert fine.grid.size > 3 * coarse.grid.size


def test_wall_as_bent() -> None:
    """24 x 4 at R 60: 3.429 outside, 4.800 inside (computed; mid-wall fibre, no neutral shift)."""
    rule = wall_by_rule(wall=4.0, diameter=24.0, radius=60.0)
    assert rule.at([0.0, 0.5 * np.pi, np.pi]) == pytest.approx([3.428571, 4.0, 4.8], rel=1e-6)
    bar = u_bar(wall=4.0)
    mesh = bar_mesh(bar)
    bend = bar.centreline.bends[0]
    plane = int(np.argmin(np.abs(mesh.stations - 0.5 * (bend.start_station_mm + bend.end_station_mm))))
    outer, bore = mesh.points[plane, mesh.grid.outer], mesh.points[plane, mesh.grid.bore]
    wall = np.linalg.norm(outer - bore, axis=1)
    _, frames = bar.centreline.evaluate([mesh.stations[plane]])
    inward = np.cos(bend.inward_angle_rad) * frames[0, 1] + np.sin(bend.inward_angle_rad) * frames[0, 2]
    side = (outer - mesh.origins[plane]) @ inward
    assert wall[np.argmax(side)] == pytest.approx(4.8, rel=1e-9)
    assert wall[np.argmin(side)] == pytest.approx(3.428571, rel=1e-6)
    straight = np.linalg.norm(mesh.points[0, mesh.grid.outer] - mesh.points[0, mesh.grid.bore], axis=1)
    assert np.allclose(straight, 4.0)
    # Half thinned at the tangent, nominal a quarter diameter before it.
    for station, thinnest in (
        (bend.start_station_mm, 4.0 - 0.5 * 0.571429),
        (bend.start_station_mm - BLEND_DIAMETERS * 24.0, 4.0),
    ):
        plane = int(np.argmin(np.abs(mesh.stations - station)))
        assert mesh.stations[plane] == pytest.approx(station)
        gap = np.linalg.norm(mesh.points[plane, mesh.grid.outer] - mesh.points[plane, mesh.grid.bore], axis=1)
        assert gap.min() == pytest.approx(thinnest, rel=1e-6)


@pytest.mark.parametrize("wall", [None, 0.2])
def test_ovality_flattens_in_the_bends_plane(wall: float | None) -> None:
    line = chain((0.0, 0.0, 0.0), [(3.0, None, 0.0), (3.0, 2.5, 0.7), (3.0, None, 0.0)])
    grid = ring_grid(around=16, layers=1) if wall else disc_grid(core=2, rings=1)
    profile = Profile(1.0, wall, ovality=0.08)
    mesh = sweep(
        grid=grid,
        profile=profile,
        centreline=line,
        stations=plane_stations(np.array([0.0, 3.0, 6.0, 9.0]), np.full(3, 1.0)),
    )
    middle = mesh.across[9, grid.outer]
    angle = np.arctan2(middle[:, 1], middle[:, 0])
    radius = np.linalg.norm(middle, axis=1)
    assert np.allclose(radius, 0.5 * (1.0 - 0.04 * np.cos(2.0 * (angle - 0.7))), atol=1e-12)
    assert np.allclose(np.linalg.norm(mesh.across[0, grid.outer], axis=1), 0.5)


def test_what_a_bend_is_changes_smoothly_with_its_length() -> None:
    """Both fades multiply: in the middle of a bend shorter than both of them the wall is never quite the bend's."""
    grid = ring_grid(around=16, layers=1)
    thinnest = []
    for length in (0.2, 0.4, 0.5, 0.6):
        line = chain((0.0, 0.0, 0.0), [(2.0, None, 0.0), (length, 1.5, 0.0), (2.0, None, 0.0)])
        walls = wall_by_rule(wall=0.2, diameter=1.0, radius=1.5)
        middle = np.array([2.0 + 0.5 * length])
        across = Profile(1.0, 0.2, (walls,)).across(grid, line, middle)[0]
        gap = np.linalg.norm(across[grid.outer] - across[grid.bore], axis=1).min()
        rise = 0.5 - 0.5 * np.cos(np.pi * min(0.5 + 0.5 * length / (2.0 * BLEND_DIAMETERS), 1.0))
        assert gap == pytest.approx(0.2 + rise**2 * (walls.outside - 0.2), rel=1e-9)
        thinnest.append(gap)
    assert thinnest[0] > thinnest[1] > thinnest[2] and thinnest[2] == pytest.approx(thinnest[3])


def test_a_forged_flat_is_its_rectangle_and_a_transition() -> None:
    bar = u_bar(flat=FORGED)
    mesh = bar_mesh(bar)
    for tip, inner in ((0, 70.0), (-1, bar.centreline.length_mm - 70.0)):
        spread = mesh.points[tip] - mesh.origins[tip]
        assert np.ptp(spread[:, 2]) == pytest.approx(12.0)  # normal along z
        assert np.ptp(spread[:, 1]) == pytest.approx(40.0)
        weights = mesh.section_moments()[tip, :, 0]
        assert weights.sum() == pytest.approx(480.0)
        plane = int(np.argmin(np.abs(mesh.stations - inner)))
        assert mesh.stations[plane] == pytest.approx(inner)
        assert np.allclose(np.linalg.norm(mesh.across[plane, mesh.grid.outer], axis=1), 12.0)


def test_flats_turned_against_each_other_are_both_met() -> None:
    """The grid turns along the straights; the bar between stays round."""
    flat = Flat("forged", 12.0, 40.0, 70.0, 25.0, (0.0, np.sin(0.5), np.cos(0.5)))
    bar = u_bar(flat=FORGED)
    left = bar.left.__class__("left", bar.left.holes, flat)
    bar = bar.__class__(**{**bar.__dict__, "left": left})
    mesh = bar_mesh(bar)
    for tip, normal in ((0, np.array([0.0, 0.0, 1.0])), (-1, np.array(flat.normal))):
        spread = mesh.points[tip] - mesh.origins[tip]
        assert np.ptp(spread @ normal) == pytest.approx(12.0)
    middle = mesh.n_slices
    assert np.allclose(np.linalg.norm(mesh.points[middle, mesh.grid.outer] - mesh.origins[middle], axis=1), 12.0)


def test_a_pressed_tube_keeps_two_leaves_apart() -> None:
    flat = Flat("pressed", 8.0, 34.0, 70.0, 25.0, (0.0, 0.0, 1.0))
    mesh = bar_mesh(u_bar(wall=4.0, flat=flat))
    spread = mesh.points[0] - mesh.origins[0]
    assert np.ptp(spread[:, 2]) == pytest.approx(8.0)
    assert np.ptp(spread[:, 1]) == pytest.approx(34.0)
    slit = mesh.points[0, mesh.grid.bore] - mesh.origins[0]
    assert np.ptp(slit[:, 2]) == pytest.approx(0.16)
    assert np.ptp(slit[:, 1]) == pytest.approx(34.0 - 8.0 + 0.16)


def test_a_pressed_tube_s_outline_is_a_stadium_of_evenly_spaced_nodes() -> None:
    """Straight faces and half-round ends; its length is 2 (width - thickness) + pi thickness, whichever way it lies."""
    width, thickness, grid = 34.0, 8.0, ring_grid(around=200, layers=1)
    length = 2.0 * (width - thickness) + np.pi * thickness
    for across_first in (False, True):
        nodes = place_slit(grid, width=width, thickness=thickness, gap=0.2, across_first=across_first)[grid.outer]
        along, across = np.abs(nodes[:, ::-1] if across_first else nodes).T
        on_the_round = np.hypot(np.maximum(along - 0.5 * (width - thickness), 0.0), across)
        assert np.allclose(on_the_round[along > 0.5 * (width - thickness)], 0.5 * thickness, rtol=1e-12)
        assert np.allclose(across[along <= 0.5 * (width - thickness)], 0.5 * thickness, rtol=1e-12)
        steps = np.linalg.norm(np.roll(nodes, -1, axis=0) - nodes, axis=1)
        assert np.allclose(steps, length / len(nodes), rtol=1e-4)  # a chord is that much shorter than its arc


def test_a_wide_drilled_flat_is_meshed_without_a_word_of_the_library(caplog: pytest.LogCaptureFixture) -> None:
    """What the mesh's library logs would stand on the user's screen."""
    plane = plane_quads(width=20.0, holes=(0.0,), tip=1.5, mesh=Mesh())
    points, _ = hexahedra(plane, heights=np.linspace(0.0, 1.0, 8), holes=(0.0,))
    assert points.shape[1] > 1000 and not caplog.records
