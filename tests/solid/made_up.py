"""Made-up bars and lines for the tests of the solid."""

from __future__ import annotations

import numpy as np

from barfem.model.bar import Bar, End, Flat, Hole, Link, Mount, Section, Travel
from barfem.model.centreline import Centreline, Segment
from barfem.model.material import Steel
from barfem.solve.solid.assembly import Springs, factorise
from barfem.solve.solid.mesh import SweptMesh, sweep
from barfem.solve.solid.motion import SectionMotion
from barfem.solve.solid.profile import Profile
from barfem.solve.solid.section import SectionGrid

UNIT = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
STEEL = Steel("made up", "as tested", 206_000.0, 0.3, 7850.0, 1200.0, 1400.0)


def straight_line(length: float) -> Centreline:
    return Centreline((Segment(0.0, length, (0.0, 0.0, 0.0), UNIT),))


def chain(start: tuple[float, float, float], parts: list[tuple[float, float | None, float]]) -> Centreline:
    """Segments (length, radius or None, inward angle) one after another, setting off along x."""
    segments: list[Segment] = []
    station, point, frame, bends = 0.0, np.array(start), np.eye(3), 0
    for length, radius, inward in parts:
        bends += radius is not None
        segment = Segment(
            station,
            length,
            tuple(float(x) for x in point),  # type: ignore[arg-type]
            tuple(tuple(float(x) for x in row) for row in frame),  # type: ignore[arg-type]
            radius,
            inward,
            bends if radius is not None else None,
        )
        points, frames = segment.evaluate(np.array([length]))
        station, point, frame = station + length, points[0], frames[0]
        segments.append(segment)
    return Centreline(tuple(segments))


def u_bar(
    *,
    diameter: float = 24.0,
    wall: float | None = None,
    arm: float = 250.0,
    half: float = 500.0,
    radius: float = 60.0,
    flat: Flat | None = None,
    torsional: float = 0.0,
    link_stiffness: float | None = None,
) -> Bar:
    """A planar U-bar with its arms along x, links down, mounts at y = -380 and 380."""
    quarter = 0.5 * np.pi * radius
    line = chain(
        (-arm, -half, 0.0),
        [
            (arm - radius, None, 0.0),
            (quarter, radius, 0.0),
            (2.0 * (half - radius), None, 0.0),
            (quarter, radius, 0.0),
            (arm - radius, None, 0.0),
        ],
    )
    length = line.length_mm
    places = (20.0, 45.0) if flat else (20.0, 45.0, 70.0)
    right = tuple(Hole(str(i + 1), x, x, 12.0) for i, x in enumerate(places))
    left = tuple(Hole(str(i + 1), x, length - x, 12.0) for i, x in enumerate(places))
    mounts = tuple(Mount(0.5 * length + y, y, 5000.0, 200.0, torsional, 0.0, 40.0) for y in (-380.0, 380.0))
    down = (0.0, 0.0, -1.0)
    return Bar(
        "made up",
        STEEL,
        Section("tube" if wall else "round", diameter, wall),
        line,
        End("right", right, flat),
        End("left", left, flat),
        mounts,
        Link("right", 140.0, down, None, link_stiffness),
        Link("left", 140.0, down, None, link_stiffness),
        Travel(40.0, 40.0, 40.0, (0.0, 0.0, 1.0)),
    )


def end_loaded(
    *,
    grid: SectionGrid,
    line: Centreline,
    profile: Profile,
    slices: int,
    E: float,
    nu: float,
    stations: np.ndarray | None = None,
) -> tuple[SweptMesh, SectionMotion, np.ndarray]:
    """Displacements (planes, n, 3, 6), drawing axes, under six unit loads at the last section; the first is held.

    Loads are in drawing axes, about the last section's point; the first section's mean motion is held by stiff springs.
    """
    if stations is None:
        stations = np.linspace(0.0, line.length_mm, 2 * slices + 1)
    mesh = sweep(grid=grid, profile=profile, centreline=line, stations=stations)
    motion = SectionMotion(mesh)
    planes, n, _ = mesh.points.shape
    rows = np.zeros((6, 9 * n))
    stiff = np.sqrt(E * profile.diameter_mm) * np.array([1.0, 1.0, 1.0, *3 * [profile.diameter_mm]])
    rows[:, : 3 * n] = stiff[:, None] * motion.of_planes[0]
    factor, _ = factorise(mesh, E_MPa=E, nu=nu, springs=(Springs(0, rows),))
    loads = np.zeros((planes, 3 * n, 6))
    loads[-1] = motion.in_drawing_axes(planes - 1).T
    local = factor.solve(loads).reshape(planes, n, 3, 6)
    return mesh, motion, np.einsum("pab,pnac->pnbc", mesh.frames, local)


def von_mises(stress: np.ndarray) -> np.ndarray:
    """Of plane stress (..., 3)."""
    s, h, t = stress[..., 0], stress[..., 1], stress[..., 2]
    return np.sqrt(s * s + h * h - s * h + 3.0 * t * t)
