"""The flexibility of one bend, from its solid, beside that of the beam in its place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.centreline import Centreline, Segment
from barfem.solve.solid.mesh import SweptMesh
from barfem.solve.solid.motion import SectionMotion, rigid_transfer

__all__ = ["bend_line", "flexibilities", "resultant_transfer"]

Array = NDArray[np.float64]


def bend_line(radius: float, angle: float, stub: float) -> Centreline:
    """Stub, bend with its centre towards a, stub; the first tangent at the origin, along the first axis."""
    frame = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    first = Segment(0.0, stub, (-stub, 0.0, 0.0), frame)
    bend = Segment(stub, radius * angle, (0.0, 0.0, 0.0), frame, radius, 0.0, 1)
    points, frames = bend.evaluate(np.array([bend.length_mm]))
    p = tuple(float(x) for x in points[0])
    f = tuple(tuple(float(x) for x in row) for row in frames[0])
    last = Segment(bend.end_station_mm, stub, p, f)  # type: ignore[arg-type]
    return Centreline((first, bend, last))


def resultant_transfer(stations: Array, radius: float, angle: float) -> Array:
    """Resultants (n, 6, 6) in section axes at stations from the first tangent, per force and moment at the far tangent.

    The end load acts at the far tangent, in that section's axes, from the part beyond on the part before.
    """
    line = bend_line(radius, angle, stub := 10.0 * radius + 10.0)
    points, frames = line.evaluate(np.asarray(stations) + stub)
    end_point, end_frame = line.evaluate([stub + radius * angle])
    out = np.zeros((len(points), 6, 6))
    for k, (point, frame) in enumerate(zip(points, frames, strict=True)):
        out[k, :3, :3] = out[k, 3:, 3:] = frame @ end_frame[0].T
        out[k, 3:, :3] = frame @ rigid_transfer(end_point[0] - point)[:3, 3:].T @ end_frame[0].T
    return out


def flexibilities(
    mesh: SweptMesh, motion: SectionMotion, displacement: Array, *, radius: float, angle: float, stub: float, nu: float
) -> tuple[Array, Array, dict[str, float]]:
    """Flexibility of the bend, of the beam in its place, and their ratios.

    Motions are read one diameter out in the stubs, where the bend's own field has died away; the stubs between are
    taken off as straight beams. Area and second moments are the mesh's own, so that its rounding of the circle cancels.
    """
    arc = radius * angle
    reach = min(1.0, stub)
    planes = [int(np.argmin(np.abs(mesh.stations - x))) for x in (stub - reach, stub + arc + reach)]
    near, far = (_mean_motion(mesh, motion, displacement, plane) for plane in planes)
    line = bend_line(radius, angle, stub)
    tangent, frame = line.evaluate([stub + arc])
    axes = np.kron(np.eye(2), frame[0])
    total = axes @ (
        rigid_transfer(tangent[0] - mesh.origins[planes[1]]) @ far
        - rigid_transfer(tangent[0] - mesh.origins[planes[0]]) @ near
    )
    section = _section_flexibility(mesh, motion, nu)
    stubs = sum(_integral(section, low, high, radius, angle) for low, high in ((-reach, 0.0), (arc, arc + reach)))
    beam = _integral(section, 0.0, arc, radius, angle)
    # Read inside the stubs, motions are not quite the loads' own duals (the ends of the shear differ, by half a per
    # cent): the mean of the matrix and its transpose.
    bend = 0.5 * (total - stubs + (total - stubs).T)
    # Bending out of plane and torsion share the end moments' flexibility: the least correction of the two that fits it
    # best. (At 180 degrees the moments alone cannot tell one from the other.)
    parts = [_integral(section * (np.arange(6) == i), 0.0, arc, radius, angle)[3:5, 3:5] for i in (3, 4)]
    upper = np.triu_indices(2)
    size = np.sqrt(np.diag(beam)[3:5])
    scale = np.outer(size, size)[upper]
    rows = np.column_stack([part[upper] for part in parts]) / scale[:, None]
    excess, *_ = np.linalg.lstsq(rows, (bend - beam)[3:5, 3:5][upper] / scale, rcond=1e-2)
    factors = {
        "in_plane": float(bend[5, 5] / beam[5, 5]),
        "out_of_plane": float(1.0 + excess[1]),
        "torsion": float(1.0 + excess[0]),
    }
    return bend, beam, factors


def _mean_motion(mesh: SweptMesh, motion: SectionMotion, displacement: Array, plane: int) -> Array:
    """Mean motion (6, cases) of a plane, in drawing axes."""
    local = np.einsum("ac,ncf->naf", mesh.frames[plane], displacement[plane])
    return motion.in_drawing_axes(plane) @ local.reshape(-1, local.shape[-1])


def _section_flexibility(mesh: SweptMesh, motion: SectionMotion, nu: float) -> Array:
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
