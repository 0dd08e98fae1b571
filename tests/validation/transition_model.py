"""A transition from round bar to forged flat as a three-dimensional solid: an outside truth for its shoulders.

Recipe: a straight bar, two diameters of flat, the transition and two diameters of round, swept in quadratic hexahedra
(`barfem.solve.solid`) finer than the whole bar is: the O-grid of 6 x 6 cells with two rings, 8 slices or more over the
transition, 3 over each fillet. Its outline goes from rectangle to circle by a half cosine, or in a straight line with
fillets. It is loaded by a moment or torque at its
ends, with tractions that balance, and its surface stress is read from where the ends no longer count.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from barfem.model.bar import Flat
from barfem.model.bar_geometry import fillet_share
from barfem.model.centreline import Centreline, Segment
from barfem.solve.solid.fields import six_cases
from barfem.solve.solid.mesh import plane_stations, sweep
from barfem.solve.solid.motion import SectionMotion
from barfem.solve.solid.profile import FlatEnd, Profile
from barfem.solve.solid.recovery import surface_stress
from barfem.solve.solid.section import disc_grid
from barfem.strength.section_map import blend_maps
from barfem.strength.section_stress import rectangle_map, round_map

__all__ = ["LOADS", "greatest_over_nominal"]

LOADS = {"torsion": 3, "bending in the flat's plane": 4, "bending across the flat": 5}
FRAME = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
NU = 0.3


def _slices(flat: Flat, flat_end: float, round_end: float, length: float) -> tuple[np.ndarray, np.ndarray]:
    """Marks along the model, and the longest slice between each two."""
    middle = min(0.15, flat.transition_mm / 8.0)
    marks, sizes = [0.0, flat_end - 1.0, flat_end, round_end, round_end + 1.0, length], [0.5, 0.15, middle, 0.15, 0.5]
    if flat.fillet_mm is not None:
        arc = fillet_share(flat, diameter_mm=1.0) * flat.transition_mm
        fine, beside = min(middle, max(arc / 3.0, 0.02)), min(0.15, arc + 0.05)
        marks[2:4] = [flat_end - beside, flat_end, flat_end + arc, round_end - arc, round_end, round_end + beside]
        sizes[2:3] = [fine, fine, middle, fine, fine]
    both = [
        (at, size)
        for at, size, after in zip(marks, [*sizes, 0.0], [*marks[1:], np.inf], strict=True)
        if after > at + 1e-6
    ]
    return np.array([at for at, _ in both]), np.array([size for _, size in both][:-1])


@lru_cache(maxsize=32)
def greatest_over_nominal(
    width: float, thickness: float, transition: float, core: int = 6, fillet: float | None = None
) -> dict[str, float]:
    """Greatest von Mises stress in and near the transition over the greatest nominal one there, by load.

    Sizes over the diameter. With a `fillet` its sides are straight. Nominal: the section's own stress at each station,
    linear between the two sections.
    """
    flat_end, round_end = 2.2, 2.2 + transition
    length = round_end + 2.0
    line = Centreline((Segment(0.0, length, (0.0, 0.0, 0.0), FRAME),))
    outline = "cosine" if fillet is None else "straight"
    flat = Flat("forged", thickness, width, round_end, transition, (0.0, 1.0, 0.0), outline=outline, fillet_mm=fillet)
    profile = Profile(1.0, flats=(FlatEnd(flat_end, round_end, flat, across_first=True),))
    stations = plane_stations(*_slices(flat, flat_end, round_end, length))
    grid = disc_grid(core=core, rings=max(1, core // 3))
    mesh = sweep(grid=grid, profile=profile, centreline=line, stations=stations)
    displacement = six_cases(mesh, SectionMotion(mesh), line, length - 1e-9, NU)
    angles = grid.angles[0] + 2.0 * np.pi * (np.arange(288) + 0.1) / 288
    found = surface_stress(
        mesh,
        displacement,
        nodes=grid.outer,
        angles=angles,
        E_MPa=1.0,
        nu=NU,
        smooth=~(mesh.stations[0:-2:2] < round_end - 1e-6),
    )
    along, hoop, shear = (found.values[:, :, i] for i in range(3))
    mises = np.sqrt((along**2 - along * hoop + hoop**2 + 3.0 * shear**2).max(axis=1))
    rectangle = rectangle_map(width_mm=width, thickness_mm=thickness, nu=NU)
    circle = round_map(diameter_mm=1.0, nu=NU)

    def nominal(station: float) -> np.ndarray:
        share = float(np.clip((station - flat_end) / transition, 0.0, 1.0))
        maps = blend_maps(rectangle, circle, share).matrix
        return np.sqrt((maps[:, 0] ** 2 + 3.0 * maps[:, 2] ** 2).max(axis=0))

    near = np.flatnonzero((found.stations > flat_end - 0.9) & (found.stations < round_end + 0.9))
    said = np.array([nominal(float(found.stations[i])) for i in near])
    return {name: float(mises[near, i].max() / said[:, i].max()) for name, i in LOADS.items()}
