"""Section stiffness along the bar, in the section frame (t, a, b), for a Timoshenko beam."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bar_geometry import section_properties

__all__ = ["section_stiffness"]

Array = NDArray[np.float64]


def section_stiffness(bar: Bar, stations_mm: Array) -> tuple[Array, Array]:
    """Force and moment stiffness, (n, 3, 3) each, at stations (n,).

    The first holds EA, GA_a, GA_b (N), the second GJ, EI_a, EI_b (N mm2) on the diagonal where the section's
    principal axes are the frame's; in a flat they are turned by the flat's angle. The section centre is taken on
    the centreline and, in a tube's bends, the straight tube's stiffness: the wall as bent changes it in second order.
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
    return force, moment
