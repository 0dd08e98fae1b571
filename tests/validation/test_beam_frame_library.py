"""A general-purpose frame library from the registry (PyNiteFEA) on a three-dimensional cranked bar, linear.

The library has straight Euler-Bernoulli members: each bend becomes many chords, and the beam's shear is stiffened away.
Bushings are point springs on straights along y, the library's global axis. Links are two-force members at rest, so they
enter by their direction alone: the library's displacements under unit link forces give the link forces that fit
the pickups' motion.
"""

from __future__ import annotations

import numpy as np
import pytest

from barfem.solve import beam
from barfem.solve.beam import HoleSetting, solve_bar
from barfem.solve.mesh import build_mesh
from barfem.solve.resultants import resultants
from tests.solve.rig import E_MPA, G_MPA, cranked_bar, stiffened

CHORDS = 40  # per right angle
MOUNT = {
    "radial_stiffness_N_per_mm": 4000.0,
    "axial_stiffness_N_per_mm": 250.0,
    "torsional_stiffness_Nmm_per_rad": 4e4,
    "conical_stiffness_Nmm_per_rad": 3e5,
    "length_mm": 0.0,
}
SOURCE = "PyNiteFEA, linear frame of straight Euler-Bernoulli members, 40 chords a right angle"
WHY = "chords cut the bends short by (angle of a chord)^2 / 24 of their length, 6e-5; shear stiffened 1000 times: 1e-6"


def library_solution(bar, *, one_wheel):
    """Link forces (right, left) per mm, mount forces (m, 3) on the mounts, and a function for section forces."""
    Pynite = pytest.importorskip("Pynite")
    line = bar.centreline
    stations = [0.0, line.length_mm]
    stations += [mount.station_mm for mount in bar.mounts]
    stations += [hole.station_mm for end in bar.ends for hole in end.holes[:1]]
    for segment in line.segments:
        count = 1 if segment.radius_mm is None else int(np.ceil(CHORDS * segment.bend_angle_rad / (np.pi / 2)))
        stations += list(segment.start_station_mm + segment.length_mm * np.arange(count) / count)
    stations = np.unique(np.round(stations, 9))
    stations = stations[np.concatenate([[True], np.diff(stations) > 1e-6])]
    points, _ = line.evaluate(stations)

    model = Pynite.FEModel3D()
    area, inertia = np.pi * bar.section.diameter_mm**2 / 4, np.pi * bar.section.diameter_mm**4 / 64
    model.add_material("steel", E_MPA, G_MPA, E_MPA / 2 / G_MPA - 1, 7.85e-6)
    model.add_section("body", area, inertia, inertia, 2 * inertia)
    for i, point in enumerate(points):
        model.add_node(f"N{i}", *map(float, point))
    for i in range(len(points) - 1):
        model.add_member(f"M{i}", f"N{i}", f"N{i + 1}", "steel", "body")

    def node(station):
        return int(np.argmin(np.abs(stations - station)))

    mount_nodes = [node(mount.station_mm) for mount in bar.mounts]
    springs = {"DX": 4000.0, "DY": 250.0, "DZ": 4000.0, "RX": 3e5, "RY": 4e4, "RZ": 3e5}
    for i in mount_nodes:
        for dof, stiffness in springs.items():
            model.def_support_spring(f"N{i}", dof, stiffness)
    hole_nodes = [node(end.holes[0].station_mm) for end in bar.ends]
    offsets = np.array([end.holes[0].offset_mm for end in bar.ends])
    # Unit tension pulls the joint from bar to pickup.
    pull = np.array([link.direction for link in (bar.right_link, bar.left_link)])
    combos = ("right", "left")
    for side, combo in enumerate(combos):
        model.add_load_combo(combo, {combo: 1.0})
        for axis, force in zip(("FX", "FY", "FZ"), pull[side], strict=True):
            model.add_node_load(f"N{hole_nodes[side]}", axis, float(force), case=combo)
        for axis, moment in zip(("MX", "MY", "MZ"), np.cross(offsets[side], pull[side]), strict=True):
            model.add_node_load(f"N{hole_nodes[side]}", axis, float(moment), case=combo)
    model.analyze_linear(check_stability=False)

    def motion(i, combo):
        n = model.nodes[f"N{i}"]
        return np.array([n.DX[combo], n.DY[combo], n.DZ[combo], n.RX[combo], n.RY[combo], n.RZ[combo]])

    # Joint displacement along each link per unit tension of each.
    flexibility = np.empty((2, 2))
    for column, combo in enumerate(combos):
        for row in (0, 1):
            moved = motion(hole_nodes[row], combo)
            flexibility[row, column] = pull[row] @ (moved[:3] + np.cross(moved[3:], offsets[row]))
    for k, link in enumerate((bar.right_link, bar.left_link)):
        flexibility[k, k] += 1.0 / link.axial_stiffness_N_per_mm
    travel = np.array([0.0, 1.0]) if one_wheel else np.array([-1.0, 1.0])
    pickup = travel[:, None] * np.array([[0, 0, 1.0]])
    tension = np.linalg.solve(flexibility, np.einsum("ki,ki->k", pull, pickup))

    on_mounts = np.array(
        [
            sum(tension[k] * motion(i, combo)[:3] for k, combo in enumerate(combos)) * [4000.0, 250.0, 4000.0]
            for i in mount_nodes
        ]
    )

    def section(station):
        """N, V, V, T, M, M in drawing axes, from larger on smaller stations, at a node on a straight."""
        i = node(station)
        member = model.members[f"M{i}"]
        ends = sum(tension[k] * np.asarray(member.F(combo)).ravel() for k, combo in enumerate(combos))
        return -ends[:6]  # member.F is global: the node's action on the member's start

    return tension, on_mounts, section, pull


@pytest.mark.parametrize("case", ["roll", "one-wheel"])
def test_cranked_bar_with_spring_supports(compare, monkeypatch, case):
    moved = 0.01  # mm: the shape at rest still, and far above rounding
    none = {"length_error_mm": 0.0}
    link = cranked_bar().left_link
    bar = cranked_bar(
        mount=MOUNT,
        travel_mm=moved,
        link={
            "length_mm": 1e4,
            "direction": link.direction,
            "axial_stiffness_N_per_mm": link.axial_stiffness_N_per_mm,
            **none,
        },
        right_link=none,
    )
    monkeypatch.setattr(
        beam, "build_mesh", lambda bar, refinement, **_: stiffened(build_mesh(bar, 2.0, bend_fields=False), shear=1e3)
    )
    solution = solve_bar(bar, [HoleSetting(0, 0, case)])
    tension, on_mounts, section, pull = library_solution(bar, one_wheel=case == "one-wheel")

    drop = tension * pull[:, 2]  # force of the car on the pickup along z, per mm of travel
    theirs = abs(drop[1]) if case == "one-wheel" else np.abs(drop).mean()
    label = f"cranked bar on springs, {case}: "
    compare(
        case=label + "rate at rest, and over 0.01 mm, N/mm",
        source=SOURCE,
        ours=[solution.initial.rate_N_per_mm[0], solution.rate_N_per_mm[0]],
        theirs=[theirs, theirs],
        allowed=1e-4,
        why=WHY,
    )
    compare(
        case=label + "link forces (right, left) per mm",
        source=SOURCE,
        ours=solution.link_force_N[0, 1] / moved,
        theirs=tension,
        allowed=1e-4,
        why=WHY,
    )
    compare(
        case=label + "forces on the mounts per mm, N/mm",
        source=SOURCE,
        ours=solution.mount_force_N[0, 1] / moved,
        theirs=on_mounts,
        allowed=1e-4 * np.abs(on_mounts).max(),
        absolute=True,
        why=WHY,
    )
    line = bar.centreline
    # At the start of each straight, where the library has a node: just past the tangent.
    stations = [segment.start_station_mm for segment in line.segments if segment.radius_mm is None][1:]
    stations += [mount.station_mm for mount in bar.mounts[:1]]
    here = resultants(solution, stations)[0, 1] / moved
    frames = line.evaluate(stations)[1]
    reference = np.array([section(x) for x in stations])
    for name, part in (("forces", slice(0, 3)), ("moments", slice(3, 6))):
        turned = np.einsum("sij,sj->si", frames, reference[:, part])
        compare(
            case=label + f"section {name} at the tangents and at a mount, per mm",
            source=SOURCE,
            ours=here[:, part],
            theirs=turned,
            allowed=1e-4 * np.abs(turned).max(),
            absolute=True,
            why=WHY,
        )
