"""The flexibility of one bend, from its solid, beside that of the beam in its place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.centreline import Centreline, Segment
from barfem.solve.solid.mesh import SweptMesh
from barfem.solve.solid.motion import SectionMotion, rigid_transfer

__all__ = ["bend_line", "factors_of", "flexibilities", "line_transfer", "path_line", "resultant_transfer"]

Array = NDArray[np.float64]


def bend_line(radius: float, angle: float, stub: float) -> Centreline:
    """Stub, bend with its centre towards a, stub; the first tangent at the origin, along the first axis."""
    return path_line([(radius, angle, 0.0)], [], stub)


def path_line(bends: Sequence[tuple[float, float, float]], gaps: Sequence[float], stub: float) -> Centreline:
    """Stub, bends (radius, angle, inward angle) with straights `gaps` between them, stub; first tangent as above.

    A gap of nothing has no segment.
    """
    point, frame = np.array([-stub, 0.0, 0.0]), np.eye(3)
    segments: list[Segment] = []
    parts: list[tuple[float, float | None, float]] = [(stub, None, 0.0)]
    for (radius, angle, inward), straight in zip(bends, [*gaps, stub], strict=True):
        parts.append((radius * angle, radius, inward))
        if straight > 0.0:
            parts.append((straight, None, 0.0))
    station, number = 0.0, 0
    for length, curved, inward in parts:
        number += curved is not None
        p = tuple(float(x) for x in point)
        f = tuple(tuple(float(x) for x in row) for row in frame)
        segment = Segment(station, length, p, f, curved, inward, None if curved is None else number)  # type: ignore[arg-type]
        points, frames = segment.evaluate(np.array([length]))
        point, frame, station = points[0], frames[0], segment.end_station_mm
        segments.append(segment)
    return Centreline(tuple(segments))


def resultant_transfer(stations: Array, radius: float, angle: float) -> Array:
    """`line_transfer` of one bend, from stations from its first tangent, for loads at its far tangent."""
    line = bend_line(radius, angle, stub := 10.0 * radius + 10.0)
    return line_transfer(line, np.asarray(stations) + stub, stub + radius * angle)


def line_transfer(line: Centreline, stations: Array, far: float) -> Array:
    """Resultants (n, 6, 6) in section axes at stations (n,), per force and moment at the station `far`.

    The end load acts at `far`, in that section's axes, from the part beyond on the part before.
    """
    points, frames = line.evaluate(stations)
    end_point, end_frame = line.evaluate([far])
    out = np.zeros((len(points), 6, 6))
    for k, (point, frame) in enumerate(zip(points, frames, strict=True)):
        out[k, :3, :3] = out[k, 3:, 3:] = frame @ end_frame[0].T
        out[k, 3:, :3] = frame @ rigid_transfer(end_point[0] - point)[:3, 3:].T @ end_frame[0].T
    return out


def flexibilities(
    mesh: SweptMesh,
    motion: SectionMotion,
    displacement: Array,
    *,
    line: Centreline,
    bend: Segment,
    far: float,
    between: tuple[float, float],
    nu: float,
) -> tuple[Array, Array]:
    """Flexibility (6, 6) of a bend and of the beam in its place, in axes whose first points to the bend's centre.

    Motions are those of the planes nearest to the stations `between`, in the straights beside it, which are taken
    off as beams, so that whatever more they yield is counted to the bend. Loads of `displacement` act at `far`. Area
    and second moments are the mesh's own, so that its rounding of the circle cancels.
    """
    radius, arc = float(bend.radius_mm or 0.0), bend.length_mm
    angle = bend.bend_angle_rad
    planes = [int(np.argmin(np.abs(mesh.stations - x))) for x in between]
    near, beyond = (_mean_motion(mesh, motion, displacement, plane) for plane in planes)
    tangent, frame = line.evaluate([bend.end_station_mm])
    c, s = np.cos(bend.inward_angle_rad), np.sin(bend.inward_angle_rad)
    axes = np.kron(np.eye(2), np.array([[1.0, 0.0, 0.0], [0.0, c, s], [0.0, -s, c]]) @ frame[0])
    # The loads at the bend's far tangent, in these axes, per load at `far` in its section's.
    loads = (
        np.kron(np.eye(2), np.array([[1.0, 0.0, 0.0], [0.0, c, s], [0.0, -s, c]]))
        @ line_transfer(line, np.array([bend.end_station_mm]), far)[0]
    )
    total = (
        axes
        @ (
            rigid_transfer(tangent[0] - mesh.origins[planes[1]]) @ beyond
            - rigid_transfer(tangent[0] - mesh.origins[planes[0]]) @ near
        )
        @ np.linalg.inv(loads)
    )
    section = _section_flexibility(mesh, nu)
    low, high = (float(mesh.stations[plane]) - bend.start_station_mm for plane in planes)
    stubs = _integral(section, low, 0.0, radius, angle) + _integral(section, arc, high, radius, angle)
    beam = _integral(section, 0.0, arc, radius, angle)
    # Read inside the stubs, motions are not quite the loads' own duals (the ends of the shear differ, by half a per
    # cent): the mean of the matrix and its transpose.
    return 0.5 * (total - stubs + (total - stubs).T), beam


def factors_of(flexibility: Array, beam: Array, mesh: SweptMesh, bend: Segment, nu: float) -> Array:
    """Flexibility over the beam's (3,): bending in the bend's plane, out of it, torsion."""
    radius, angle, arc = float(bend.radius_mm or 0.0), bend.bend_angle_rad, bend.length_mm
    section = _section_flexibility(mesh, nu)
    # Bending out of plane and torsion share the end moments' flexibility: the least correction of the two that fits it
    # best. (At 180 degrees the moments alone cannot tell one from the other.)
    parts = [_integral(section * (np.arange(6) == i), 0.0, arc, radius, angle)[3:5, 3:5] for i in (3, 4)]
    upper = np.triu_indices(2)
    size = np.sqrt(np.diag(beam)[3:5])
    scale = np.outer(size, size)[upper]
    rows = np.column_stack([part[upper] for part in parts]) / scale[:, None]
    excess, *_ = np.linalg.lstsq(rows, (flexibility - beam)[3:5, 3:5][upper] / scale, rcond=1e-2)
    return np.array([flexibility[5, 5] / beam[5, 5], 1.0 + excess[1], 1.0 + excess[0]])


def _mean_motion(mesh: SweptMesh, motion: SectionMotion, displacement: Array, plane: int) -> Array:
    """Mean motion (6, cases) of a plane, in drawing axes."""
    local = np.einsum("ac,ncf->naf", mesh.frames[plane], displacement[plane])
    return motion.in_drawing_axes(plane) @ local.reshape(-1, local.shape[-1])


def _section_flexibility(mesh: SweptMesh, nu: float) -> Array:
    """Flexibilities (6,) of the straight section per length, E = 1: N, V_a, V_b, T, M_a, M_b; shear after Cowper."""
    w, wx, wy = mesh.section_moments()[0].T
    x, y = mesh.across[0].T
    area, ixx, iyy = float(w.sum()), float(wy @ y), float(wx @ x)
    bore = (
        0.0
        if not len(mesh.grid.bore)
        else float(
            np.linalg.norm(mesh.across[0, mesh.grid.bore[0]]) / np.linalg.norm(mesh.across[0, mesh.grid.outer[0]])
        )
    )
    q = (1.0 + bore**2) ** 2
    shear = 6.0 * (1.0 + nu) * q / ((7.0 + 6.0 * nu) * q + (20.0 + 12.0 * nu) * bore**2)
    g = 0.5 / (1.0 + nu)
    return 1.0 / np.array([area, shear * g * area, shear * g * area, g * (ixx + iyy), ixx, iyy])


def _integral(section: Array, low: float, high: float, radius: float, angle: float) -> Array:
    """Flexibility (6, 6) of a length of beam between stations, under loads at the far tangent."""
    x, w = np.polynomial.legendre.leggauss(24)
    stations = 0.5 * (low + high) + 0.5 * (high - low) * x
    transfer = resultant_transfer(stations, radius, angle)
    return np.einsum("s,sri,r,srj->ij", 0.5 * (high - low) * w, transfer, section, transfer)
