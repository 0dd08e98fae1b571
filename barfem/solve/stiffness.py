"""Section stiffness along the bar, in the section frame (t, a, b), for a Timoshenko beam."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bar_geometry import section_properties
from barfem.solve.solid.bend_tables import bend_shape
from barfem.solve.solid.group_source import group_sources
from barfem.solve.solid.nearby import bend_source

__all__ = ["section_stiffness"]

Array = NDArray[np.float64]

SLIGHT = 1e-3
"""Share of a solid bar's flexibility below which what its bends add to the curved beam's is left out."""


def section_stiffness(bar: Bar, stations_mm: Array, *, bend_fields: bool = True) -> tuple[Array, Array]:
    """Force and moment stiffness, (n, 3, 3) each, at stations (n,).

    The first holds EA, GA_a, GA_b (N), the second GJ, EI_a, EI_b (N mm2) on the diagonal where the section's
    principal axes are the frame's; in a flat they are turned by the flat's angle. The section centre is taken on
    the centreline. A tube's bend is softer than the straight tube, since it ovalises and its wall is uneven, and a
    solid bar's tight bend is stiffer in torsion (3 % at R/d 1.1): with `bend_fields` bending and torsional stiffness
    are divided by the factors of the bend's three-dimensional field, or of its group's.
    """
    section = section_properties(bar, stations_mm)
    E, G = bar.steel.E_MPa, bar.steel.G_MPa
    force = np.zeros((len(stations_mm), 3, 3))
    moment = np.zeros_like(force)
    force[:, 0, 0] = E * section.area_mm2
    moment[:, 0, 0] = G * section.J_mm4
    c, s = np.cos(section.axis_angle_rad), np.sin(section.axis_angle_rad)
    turn = np.stack([np.stack([c, -s], -1), np.stack([s, c], -1)], -2)  # columns: principal axes in the frame
    for matrix, first, second in (
        (force, G * section.shear_area_a_mm2, G * section.shear_area_b_mm2),
        (moment, E * section.I_a_mm4, E * section.I_b_mm4),
    ):
        matrix[:, 1:, 1:] = np.einsum("nij,nj,nkj->nik", turn, np.stack([first, second], -1), turn)
    if bend_fields:
        _soften_bends(bar, stations_mm, moment)
    return force, moment


def _soften_bends(bar: Bar, stations_mm: Array, moment: Array) -> None:
    """Divide the moment stiffness (n, 3, 3) of round sections in bends by the factors of the bends' fields."""
    lowest = bar.right.flat.length_mm if bar.right.flat else 0.0
    highest = bar.centreline.length_mm - (bar.left.flat.length_mm if bar.left.flat else 0.0)
    segment = bar.centreline.segment_index(stations_mm)
    found = _factors(bar)
    for number, part in enumerate(bar.centreline.segments):
        here = (segment == number) & (stations_mm >= lowest) & (stations_mm <= highest)
        factors = found.get(part.bend)
        if part.radius_mm is None or factors is None or not here.any():
            continue
        in_plane, out_of_plane, torsion = factors
        c, s = np.cos(part.inward_angle_rad), np.sin(part.inward_angle_rad)
        # Bending in the bend's plane is about its binormal, out of it about the line to its centre.
        inward, binormal = np.outer([c, s], [c, s]), np.outer([-s, c], [-s, c])
        moment[here, 0, 0] /= torsion
        bending = moment[here, 1, 1, None, None]
        moment[here, 1:, 1:] = bending * (inward / out_of_plane + binormal / in_plane)


def _factors(bar: Bar) -> dict[int | None, Array]:
    """Flexibility over the beam's (3,) of each bend that has a field: in plane, out of plane, torsion.

    None of a solid bar whose bends, at the worst of the three, change its flexibility by less than `SLIGHT`: they are
    the curved beam's.
    """
    found: dict[int | None, Array] = {
        bend.bend: factors
        for group, source in group_sources(bar)
        if source.table is not None
        for bend, factors in zip(group.bends, source.table.bend_factors, strict=True)
    }
    for bend in bar.centreline.bends:
        if bend.bend not in found and (table := bend_source(bend_shape(bar, bend)).table) is not None:
            found[bend.bend] = table.factors
    if bar.section.wall_mm is None:
        changed = sum(
            float(np.abs(found[bend.bend] - 1.0).max()) * bend.length_mm
            for bend in bar.centreline.bends
            if bend.bend in found
        )
        if changed < SLIGHT * bar.centreline.length_mm:
            return {}
    return found
