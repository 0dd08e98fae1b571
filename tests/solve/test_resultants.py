"""N, V, T, M at any station: hand statics, the quadrature points' own values, and jumps."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from barfem.model.bar import Flat
from barfem.solve.beam import HoleSetting, solve_bar
from barfem.solve.resultants import resultants, section_turns
from tests.solve.rig import RIGID_POINT, cranked_bar, u_bar

L2, A, B, C = 250.0, 0.0, 250.0, 300.0


def small(**rest):
    """A U-bar that hardly moves, with vertical links: statics of the drawing. The left end goes up."""
    given = {"travel_mm": 1e-2, "link": {"length_mm": 1e5}} | rest
    bar = u_bar(l2=L2, a=A, b=B, c=C, **given)
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    return bar, solution, float(solution.pickup_force_N[0, 1, 1])


def free_body(bar, solution, station, k=1):
    """(n, m) in drawing axes that larger stations exert on smaller ones: the sum over links and mounts below it.

    From the solution's forces and displaced points alone; for stations clear of a bushing.
    """
    points = solution.bar.centreline.evaluate([station])[0][0]
    now = points + displacement(solution, station, k)
    force, moment = np.zeros(3), np.zeros(3)
    middles, _ = bar.centreline.evaluate([m.station_mm for m in bar.mounts])
    setting = solution.settings[0]
    holes = (bar.right.holes[setting.right], bar.left.holes[setting.left])
    for side, hole in enumerate(holes):
        if hole.station_mm < station:
            pull = -solution.link_force_N[0, k, side] * solution.link_direction[0, k, side]
            force += pull
            moment += np.cross(solution.joint_mm[0, k, side] - now, pull)
    for i, mount in enumerate(bar.mounts):
        if mount.station_mm < station:
            push = -solution.mount_force_N[0, k, i]
            force += push
            moment += np.cross(middles[i] - now, push) - solution.mount_moment_Nmm[0, k, i]
    return -force, -moment


def displacement(solution, station, k):
    """Quadratic interpolation of the displacement, written out here."""
    mesh = solution.mesh
    edges = mesh.node_stations_mm[::2]
    e = min(int(np.searchsorted(edges, station, side="right")) - 1, mesh.n_elements - 1)
    x = (station - edges[e]) / (edges[e + 1] - edges[e])
    shape = np.array([(1 - x) * (1 - 2 * x), 4 * x * (1 - x), x * (2 * x - 1)])
    return shape @ solution.displacement_mm[0, k, mesh.element_nodes[e]]


def test_u_bar_by_hand():
    """Signs and sizes by statics, P up at the left tip and down at the right one."""
    bar, solution, P = small(mount=RIGID_POINT)
    R = 40.0
    straight = L2 - R
    mount = bar.mounts[0].station_mm
    reaction = P * (A + B + C) / C
    stations = [0.5 * straight, straight, mount - 1.0, mount + 1.0, mount + 100.0, bar.middle_mm]
    N, Va, Vb, T, Ma, Mb = resultants(solution, stations)[0, 1].T
    assert np.allclose(np.stack([N, Va, Mb / 100.0]), 0.0, atol=1e-3 * P)
    # b points up. The part outboard of a section carries P downwards: the inboard part pulls it up, V_b = +P.
    beyond = np.array([0, 0, 0, 1, 1, 1])
    assert pytest.approx(P - beyond * reaction, rel=1e-4) == Vb
    # Arm: P times the way from the tip. Middle: P times the way across, less the mount's reaction.
    across = np.array([0, 0, C + B - C - 1.0, B + 1.0, B + 100.0, B + C])
    lever = np.array([0.5 * straight, straight, *across[2:]])
    expected = P * lever - reaction * np.array([0, 0, 0, 1.0, 100.0, C])
    assert np.abs(Ma) == pytest.approx(expected, rel=1e-4, abs=1e-3 * P)
    # On the arms no torsion; in the bar's axis P l2 all along, of one sign.
    assert np.abs(T) == pytest.approx(np.array([0, 0, 1, 1, 1, 1]) * P * L2, rel=1e-4, abs=1e-3 * P)
    assert len(set(np.sign(T[2:]))) == 1


def test_the_sign_of_each_resultant():
    """Larger on smaller: the left end rises, so the left part twists the right part about -y... by the right hand."""
    bar, solution, P = small(mount=RIGID_POINT)
    # t = +y in the middle. Left tip at x = -250 pushed up: moment about y is z x - x z = P * 250 > 0 on the left part,
    # which hands it on to the right part.
    T = resultants(solution, [bar.middle_mm])[0, 1, 0, 3]
    force_up_at_x = np.cross([-L2, 0, 0], [0, 0, P])
    assert pytest.approx(force_up_at_x[1], rel=1e-4) == T
    # Just outboard of the left mount the smaller side carries the larger side's overhang, P (a + b) about x.
    station = bar.mounts[1].station_mm + 1.0
    Ma, frame = resultants(solution, [station])[0, 1, 0, 4:], bar.centreline.evaluate([station])[1][0]
    about = Ma[0] * frame[1] + Ma[1] * frame[2]
    overhang = np.cross([-L2, A + B - 1.0, 0], [0, 0, P])
    assert about[[0, 2]] == pytest.approx(overhang[[0, 2]], rel=1e-4, abs=1e-2 * P)


def test_tension_is_positive():
    """Links that pull both tips apart along y: the middle of the bar is in tension."""
    outward = {"length_mm": 200.0, "direction": (0.0, 1.0, 0.0), "length_error_mm": -2.0}
    bar = u_bar(link=outward, travel_mm=0.5, mount={"axial_stiffness_N_per_mm": 1.0})
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    assert solution.link_force_N[0, 0].min() > 10.0
    N = resultants(solution, [bar.middle_mm])[0, 0, 0, 0]
    assert pytest.approx(solution.link_force_N[0, 0].mean(), rel=0.05) == N


BARS = {
    "U": lambda: u_bar(travel_mm=45.0),
    "U, point mounts": lambda: u_bar(travel_mm=45.0, mount=RIGID_POINT | {"radial_stiffness_N_per_mm": 8000.0}),
    "cranked": lambda: cranked_bar(travel_mm=40.0),
    "cranked, flats": lambda: cranked_bar(flat=Flat("forged", 11.0, 38.0, 65.0, 20.0, (0.6, 0.0, 0.8))),
}


@pytest.mark.parametrize("name", BARS)
def test_equilibrium_of_the_part_below_any_station(name):
    """At travel, in the turned frame: what the section carries is what links and mounts below it leave."""
    bar = BARS[name]()
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    length = bar.centreline.length_mm
    stations = np.linspace(0.0, length, 61)[1:-1]
    clear = np.ones(len(stations), bool)
    for mount in bar.mounts:
        clear &= np.abs(stations - mount.station_mm) > 0.5 * mount.length_mm + 1e-3
    for end in bar.ends:
        clear &= np.abs(stations - end.holes[0].station_mm) > 1.0
    stations = stations[clear]
    assert len(stations) > 40
    for k in (1, 2):
        ours = resultants(solution, stations)[0, k]
        axes = section_turns(solution, stations)[0, k] @ np.swapaxes(bar.centreline.evaluate(stations)[1], 1, 2)
        reference = [free_body(bar, solution, station, k) for station in stations]
        force = np.array([frame.T @ n for frame, (n, _) in zip(axes, reference, strict=True)])
        moment = np.array([frame.T @ m for frame, (_, m) in zip(axes, reference, strict=True)])
        assert np.abs(ours[:, :3] - force).max() < 1e-6 * np.abs(force).max()
        # Within an element the interpolated axis is off the true one by the mesh error: 1e-4 of the moment.
        assert np.abs(ours[:, 3:] - moment).max() < 2e-4 * np.abs(moment).max()


@pytest.mark.parametrize("name", BARS)
def test_quadrature_points_agree(name):
    """The constitutive moments at the quadrature points: another road to the same numbers, to the mesh error."""
    bar = BARS[name]()
    solution = solve_bar(bar, [HoleSetting(0, 0)], refinement=2.0)
    mesh, k = solution.mesh, 1
    # Rebuild the strains from nodes: curvature by differences of the turns along each element.
    edges = mesh.node_stations_mm[mesh.element_nodes]
    local = 0.5 + 0.5 / np.sqrt(3) * np.array([-1.0, 1.0])
    stations = edges[:, :1] + local * (edges[:, 2:] - edges[:, :1])
    h = 1e-3
    flat = stations.ravel()
    ahead, back = (section_turns(solution, flat + d)[0, k] for d in (h, -h))
    here = section_turns(solution, flat)[0, k]
    spin = Rotation.from_matrix(ahead @ np.swapaxes(back, 1, 2)).as_rotvec() / (2 * h)
    frames = np.swapaxes(bar.centreline.evaluate(flat)[1], 1, 2)
    curvature = np.einsum("sji,sj->si", here @ frames, spin)
    moment = np.einsum("sij,sj->si", mesh.moment_stiffness.reshape(-1, 3, 3), curvature)
    ours = resultants(solution, flat)[0, k, :, 3:]
    assert np.abs(ours - moment).max() < 3e-3 * np.abs(ours).max()


def test_point_mount_makes_a_jump_and_links_end_the_forces():
    bar, solution, P = small(mount=RIGID_POINT, holes_from_tip=((30.0,), (30.0,)))
    mount = bar.mounts[0].station_mm
    before, at, after, far = resultants(solution, [mount - 0.01, mount, mount + 0.01, mount + 20.0])[0, 1]
    reaction = -solution.mount_force_N[0, 1, 0, 2]
    assert after[2] - before[2] == pytest.approx(-reaction, rel=1e-6)
    assert at[2] == pytest.approx(after[2], rel=1e-9)  # the side towards the middle
    assert far[2] == pytest.approx(after[2], rel=1e-5)
    # The moment's slope is the shear force on either side: 20 mm inboard against 20 mm outboard.
    outboard_slope = before[4] - resultants(solution, [mount - 20.01])[0, 1, 0, 4]
    assert (far[4] - after[4]) / after[2] == pytest.approx(outboard_slope / before[2], rel=2e-3)
    assert before[3] == pytest.approx(after[3], rel=1e-6)
    # Outboard of the hole there is nothing; at the hole the inboard side is meant.
    outboard, hole = resultants(solution, [15.0, 30.0])[0, 1]
    assert np.abs(outboard[:3]).max() < 1e-6 * P and np.abs(outboard[3:]).max() < 1e-4 * P
    assert abs(hole[2]) == pytest.approx(P, rel=1e-4)


def test_torsional_point_mount_takes_torque_out():
    springs = RIGID_POINT | {"torsional_stiffness_Nmm_per_rad": 2e6}
    bar, solution, _ = small(mount=springs)
    mount = bar.mounts[0].station_mm
    before, after = resultants(solution, [mount - 0.01, mount + 0.01])[0, 1, :, 3]
    moment = solution.mount_moment_Nmm[0, 1, 0]
    assert after - before == pytest.approx(moment[1], rel=1e-6)  # the bar runs along y there
    assert abs(after) < abs(before)


def test_section_turns_at_nodes_are_the_nodes():
    bar = cranked_bar()
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    turns = section_turns(solution, solution.mesh.node_stations_mm)
    assert np.abs(turns - solution.turned).max() < 1e-12


def test_nodal_forces_are_the_kernels():
    """`element_nodal` without its point mounts still sums to what the mounts and links exert."""
    bar = u_bar(mount=RIGID_POINT | {"radial_stiffness_N_per_mm": 8000.0}, travel_mm=40.0)
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    total = np.zeros((solution.mesh.n_nodes, 6))
    np.add.at(total, solution.mesh.element_nodes, solution.element_nodal[0, 1])
    outside = {node: total[node] for node in range(solution.mesh.n_nodes) if np.abs(total[node, :3]).max() > 1e-3}
    stations = solution.mesh.node_stations_mm[sorted(outside)]
    length = bar.centreline.length_mm
    assert np.allclose(stations, [0.0, bar.mounts[0].station_mm, bar.mounts[1].station_mm, length])
    for i in (0, 1):
        assert np.allclose(outside[sorted(outside)[1 + i]][:3], -solution.mount_force_N[0, 1, i], atol=1e-5)
