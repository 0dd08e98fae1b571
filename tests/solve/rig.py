"""Bars built from numbers, and cantilevers under dead loads on the solver's public kernel, for the tests.

Nothing here is a reference: the references stand in the tests that use it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.bar import Bar, Duty, End, Flat, Hole, Link, Mount, Section, Travel
from barfem.model.centreline import Centreline, Segment
from barfem.model.material import Steel
from barfem.model.points import polyline_centreline, start_frame
from barfem.solve.batch import Batch, Copy, State, initial_state
from barfem.solve.kernel import advance, element_forces, element_tangents, links
from barfem.solve.mesh import BeamMesh, build_mesh
from barfem.solve.rate import InitialRate, initial_rates
from barfem.solve.system import BandedSystem

Array = NDArray[np.float64]
E_MPA, G_MPA = 206_000.0, 79_300.0


def steel(E_MPa: float = E_MPA, G_MPa: float = G_MPA) -> Steel:
    return Steel("test", "as given", E_MPa, E_MPa / (2.0 * G_MPa) - 1.0, 7850.0, 1200.0, 1400.0)


def _rows(frame: Array) -> Any:
    return tuple(tuple(float(x) for x in row) for row in frame)


def sharp_centreline(points_mm: ArrayLike) -> Centreline:
    """Straights that meet in sharp corners: a rigid corner, no arc. The reader would refuse it; handbooks assume it."""
    points = np.asarray(points_mm, float)
    segments, station = [], 0.0
    for start, end in pairwise(points):
        length = float(np.linalg.norm(end - start))
        segments.append(Segment(station, length, tuple(map(float, start)), _rows(start_frame(end - start))))
        station += length
    return Centreline(tuple(segments))


def arc_centreline(radius_mm: float, angle_rad: float) -> Centreline:
    """One arc in the plane z = 0 from the origin, starting along x and turning towards y."""
    frame = np.eye(3)
    return Centreline((Segment(0.0, radius_mm * angle_rad, (0.0, 0.0, 0.0), _rows(frame), radius_mm, 0.0, 1),))


def bar_on(
    centreline: Centreline,
    *,
    diameter_mm: float = 20.0,
    wall_mm: float | None = None,
    holes_from_tip: tuple[Sequence[float], Sequence[float]] = ((0.0,), (0.0,)),
    offset_left_mm: tuple[float, float, float] = (0.0, 0.0, 0.0),
    mounts_from_middle: Sequence[float] = (-300.0, 300.0),
    mount: dict[str, float] | None = None,
    link: dict[str, Any] | None = None,
    right_link: dict[str, Any] | None = None,
    travel_mm: float | tuple[float, float] = 40.0,
    one_wheel_mm: float | None = None,
    travel_direction: tuple[float, float, float] = (0.0, 0.0, 1.0),
    ratio: float = -1.0,
    flat: Flat | None = None,
    material: Steel | None = None,
    name: str = "test bar",
) -> Bar:
    """A bar with alike ends on a centreline; `link` and `right_link` are fields of `Link`, left side's vectors."""
    length = centreline.length_mm
    mirror = np.array([1.0, -1.0, 1.0])
    ends = []
    for side, stations in zip(("right", "left"), holes_from_tip, strict=True):
        offset = np.array(offset_left_mm) * (mirror if side == "right" else 1.0)
        holes = tuple(
            Hole(str(i + 1), x, x if side == "right" else length - x, None, tuple(map(float, offset)))
            for i, x in enumerate(stations)
        )
        ends.append(End(side, holes, flat))
    stiffness = {"radial_stiffness_N_per_mm": 5000.0, "axial_stiffness_N_per_mm": 200.0, "length_mm": 40.0}
    stiffness |= mount or {}
    mounts = tuple(Mount(0.5 * length + x, x, **stiffness) for x in mounts_from_middle)
    given = {"length_mm": 140.0, "direction": (0.0, 0.0, -1.0)} | (link or {})
    other = given | (right_link or {})
    for key in ("direction", "pickup_mm"):
        if other.get(key) is not None:
            other[key] = tuple(float(x) for x in np.array(other[key]) * mirror)
    up, down = travel_mm if isinstance(travel_mm, tuple) else (travel_mm, travel_mm)
    return Bar(
        name,
        material or steel(),
        Section("round" if wall_mm is None else "tube", diameter_mm, wall_mm),
        centreline,
        ends[0],
        ends[1],
        mounts,
        Link("right", **other),
        Link("left", **given),
        Travel(up, down, up if one_wheel_mm is None else one_wheel_mm, travel_direction),
        Duty(ratio=ratio),
    )


def u_points(*, l2: float, a: float, b: float, c: float) -> list[list[float]]:
    """Corner points of the handbook's U-bar, names as in its formula: tips at x = -l2, bar axis at x = 0."""
    tip, corner = a + b + c, b + c
    return [[-l2, -tip, 0.0], [0.0, -corner, 0.0], [0.0, corner, 0.0], [-l2, tip, 0.0]]


def u_bar(
    *, l2: float = 250.0, a: float = 0.0, b: float = 250.0, c: float = 300.0, R: float = 40.0, **rest: Any
) -> Bar:
    line = polyline_centreline(points_mm=u_points(l2=l2, a=a, b=b, c=c), bend_radii_mm=R)
    return bar_on(line, **({"mounts_from_middle": (-c, c)} | rest))


RIGID_POINT = {"radial_stiffness_N_per_mm": 1e9, "axial_stiffness_N_per_mm": 1e5, "length_mm": 0.0}

CRANKED_POINTS = [
    [-230, -560, 35],
    [-15, -520, 10],
    [0, -400, 0],
    [45, -270, 60],
    [45, 240, 60],
    [5, 400, -5],
    [-10, 500, 5],
    [-260, 540, 40],
]
"""A three-dimensional cranked bar without any symmetry; its middle runs along y."""


def cranked_bar(**rest: Any) -> Bar:
    """`CRANKED_POINTS` with every input of the solver at work."""
    line = polyline_centreline(points_mm=CRANKED_POINTS, bend_radii_mm=[45, 50, 42, 42, 50, 40])
    given: dict[str, Any] = {
        "diameter_mm": 22.0,
        "holes_from_tip": ((12.0, 40.0), (18.0, 47.0)),
        "offset_left_mm": (4.0, 22.0, -9.0),
        "mounts_from_middle": (-185.0, 150.0),
        "mount": {
            "radial_stiffness_N_per_mm": 4000.0,
            "axial_stiffness_N_per_mm": 250.0,
            "torsional_stiffness_Nmm_per_rad": 4e4,
            "conical_stiffness_Nmm_per_rad": 3e5,
            "length_mm": 36.0,
        },
        "link": {
            "length_mm": 120.0,
            "direction": tuple(np.array([0.2, 0.15, -1.0]) / np.linalg.norm([0.2, 0.15, -1.0])),
            "axial_stiffness_N_per_mm": 15_000.0,
            "length_error_mm": 3.0,
        },
        "right_link": {"length_error_mm": -2.0},
    }
    return bar_on(line, **(given | rest))


def stiffened(mesh: BeamMesh, *, shear: float = 1.0, axial: float = 1.0) -> BeamMesh:
    """The mesh with shear and axial stiffness multiplied: 1e4 makes the Timoshenko beam an Euler-Bernoulli one."""
    factor = np.diag([axial, shear, shear])
    return replace(mesh, force_stiffness=mesh.force_stiffness @ factor)


def with_stiffness(mesh: BeamMesh, *, force: Sequence[float], moment: Sequence[float]) -> BeamMesh:
    """The mesh with EA, GA_a, GA_b and GJ, EI_a, EI_b alike everywhere."""
    shape = mesh.force_stiffness.shape
    return replace(
        mesh,
        force_stiffness=np.broadcast_to(np.diag(force), shape).astype(float),
        moment_stiffness=np.broadcast_to(np.diag(moment), shape).astype(float),
    )


def rest_rate(bar: Bar, mesh: BeamMesh, *, one_wheel: bool = False) -> InitialRate:
    """Rate at rest of the bar's first hole setting on a mesh of one's own, links at rest without length error."""
    joints = np.array(
        [bar.centreline.evaluate([end.holes[0].station_mm])[0][0] + end.holes[0].offset_mm for end in bar.ends]
    )
    lengths = np.array([link.length_mm for link in (bar.right_link, bar.left_link)], float)
    pickups = joints + lengths[:, None] * np.array([link.direction for link in (bar.right_link, bar.left_link)])
    stiffness = [link.axial_stiffness_N_per_mm for link in (bar.right_link, bar.left_link)]
    flexibility = np.array([0.0 if k is None else 1.0 / k for k in stiffness])
    offsets = np.array([end.holes[0].offset_mm for end in bar.ends])
    batch = Batch([Copy(mesh, (0, 0), offsets, lengths, flexibility, pickups)])
    left = np.array(bar.travel.direction)
    directions = np.array([[left * [1, -1, 1], left]])
    moves = np.array([[0.0, 1.0]]) if one_wheel else np.array([[-1.0, 1.0]])
    return initial_rates(batch, initial_state(batch), batch.pickup_rest, moves, directions)[0]


class Cantilever:
    """A bar clamped at its right tip under dead loads at its left tip, on the public kernel.

    Mounts have no stiffness; links hang slack (flexibility 1e30 mm/N). The clamp adds a large stiffness to the root's
    increments, whose residual is set to zero: the root stays where it is.
    """

    def __init__(
        self,
        centreline: Centreline,
        *,
        diameter_mm: float = 20.0,
        material: Steel | None = None,
        refinement: float = 1.0,
        force: Sequence[float] | None = None,
        moment: Sequence[float] | None = None,
    ) -> None:
        none = {"radial_stiffness_N_per_mm": 0.0, "axial_stiffness_N_per_mm": 0.0, "length_mm": 0.0}
        half = 0.5 * centreline.length_mm
        bar = bar_on(
            centreline, diameter_mm=diameter_mm, mount=none, mounts_from_middle=(-half, half), material=material
        )
        mesh = build_mesh(bar, refinement)
        if force is not None and moment is not None:
            mesh = with_stiffness(mesh, force=force, moment=moment)
        self.mesh = mesh
        ends = mesh.node_points_mm[[0, -1]]
        copy = Copy(mesh, (0, 0), np.zeros((2, 3)), np.full(2, 1e3), np.full(2, 1e30), ends - [0.0, 0.0, 1e3])
        self.batch = Batch([copy])
        self.system = BandedSystem(self.batch)
        self.state: State = initial_state(self.batch)
        numbers = mesh.node_dofs()
        self.root, self.tip = numbers[0], numbers[-1]
        self.pickups = self.batch.pickup_rest
        self.iterations = 0

    def _step(self, force_N: Array, moment_Nmm: Array) -> float:
        forces = element_forces(self.batch, self.state)
        link = links(self.batch, self.state, self.pickups)
        residual = self.system.residual(forces, link)
        residual[self.tip] -= np.concatenate([force_N, moment_Nmm])
        residual[self.root] = 0.0
        tangents = element_tangents(self.batch, self.state, forces)
        tangents[0, range(6), range(6)] += 1e6 * np.abs(tangents).max()
        step = self.system.solve(tangents, link, -residual)
        assert step is not None
        step[self.root] = 0.0
        self.state = advance(self.batch, self.state, step)
        self.iterations += 1
        return float(np.abs(step).max())

    def load(self, force_N: ArrayLike = (0, 0, 0), moment_Nmm: ArrayLike = (0, 0, 0), *, steps: int = 1) -> Array:
        """Displacement (3,) of the tip under the whole load, applied in equal steps and each balanced."""
        force, moment = np.asarray(force_N, float), np.asarray(moment_Nmm, float)
        for i in range(1, steps + 1):
            for _ in range(30):
                if self._step(force * i / steps, moment * i / steps) < 1e-11 * self.mesh.node_stations_mm[-1]:
                    break
            else:
                raise AssertionError(f"load step {i} of {steps} did not converge")
        return self.state.displacement_mm[-1]

    def linear(self, force_N: ArrayLike = (0, 0, 0), moment_Nmm: ArrayLike = (0, 0, 0)) -> Array:
        """Linear displacement and turn (6,) of the tip under the load, from the shape at rest."""
        fresh = initial_state(self.batch)
        kept, self.state = self.state, fresh
        self._step(np.asarray(force_N, float), np.asarray(moment_Nmm, float))
        out = np.concatenate([self.state.displacement_mm[-1], rotation_vector(self.state.turned[-1])])
        self.state = kept
        return out


def rotation_vector(rotation: Array) -> Array:
    """Rotation vector of a rotation matrix, by its quaternion (SciPy), not by the solver's own logarithm."""
    from scipy.spatial.transform import Rotation

    return np.asarray(Rotation.from_matrix(rotation).as_rotvec())
