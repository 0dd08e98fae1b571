"""Section maps of edges: what fatigue feels at a hole's edge and beside a contact. They carry no yield.

A transition's end is the section's stress with a factor for each resultant (`barfem.strength.shoulder`), a contact's
with one for all. Where `barfem.strength.places` samples a hole it looks at the net section, and at its edges besides:
on a flat one edge on either face, on a round end the hole's mouth at several angles from the bar's axis, in whatever
direction the hole may go through. The stress there is uniaxial and runs round the hole; it stands as stress along the
bar in the map, whose von Mises amplitude and mean are then its own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Flat
from barfem.strength.holes import flat_hole, flat_hole_edge
from barfem.strength.round_hole import ROUND_EDGE_ANGLES_RAD, round_hole, round_hole_edge
from barfem.strength.section_map import BORE, OUTSIDE, SectionMap

__all__ = [
    "FLAT_EDGES",
    "ROUND_EDGES",
    "contact_map",
    "flat_edge_map",
    "local_flat",
    "round_edge_map",
]

Array = NDArray[np.float64]

FLAT_EDGES = 2
ROUND_EDGES = len(ROUND_EDGE_ANGLES_RAD)


def local_flat(flat: Flat, *, diameter_mm: float, share: float) -> tuple[float, float]:
    """Width and thickness [mm] of the rectangle that a hole goes through, `share` of the body being in the section.

    In the full flat its own. Through a transition width and thickness run linearly to the diameter and to 0.589 of it,
    which gives a rectangle the body's second moment about the hole's axis, and less than the body's across it.
    """
    body = diameter_mm * 3.0 * np.pi / 16.0
    width = (1.0 - share) * flat.width_mm + share * diameter_mm
    return float(width), float((1.0 - share) * flat.thickness_mm + share * body)


def flat_edge_map(
    *, kind: str, width_mm: float, thickness_mm: float, hole_mm: float, tensile_MPa: float, edge: int, n_around: int
) -> SectionMap:
    """The edge of a hole in a flat, local axes: points run round the hole, from the bar's axis towards axis 2.

    `edge` 1 lies on the face that axis 1 points to, 2 on the other. The leaves of a pressed flat each carry half, and
    bend about their own middles: each has such an edge on both its faces.
    """
    leaves = 2 if kind == "pressed" else 1
    depth = thickness_mm / leaves
    face = 1.0 if edge == 1 else -1.0
    u = 2.0 * np.pi * np.arange(n_around) / n_around
    stress = flat_hole_edge(width_mm=width_mm, thickness_mm=depth, hole_mm=hole_mm, angle_rad=u, face=face) / leaves
    felt = flat_hole(width_mm=width_mm, thickness_mm=depth, hole_mm=hole_mm, tensile_MPa=tensile_MPa).felt
    matrix = np.zeros((n_around, 3, 6))
    matrix[:, 0] = stress * felt
    position = np.stack([np.full(n_around, face * thickness_mm / 2.0), hole_mm / 2.0 * np.sin(u)], axis=1)
    return SectionMap(
        matrix=matrix,
        angle_rad=np.arctan2(position[:, 1], position[:, 0]),
        position_mm=position,
        surface=np.full(n_around, OUTSIDE),
        exists=np.ones(n_around, dtype=bool),
    )


def round_edge_map(
    whole: SectionMap, *, diameter_mm: float, bore_mm: float, hole_mm: float, tensile_MPa: float, edge: int
) -> SectionMap:
    """The mouth of a hole across a round bar or tube, from the map `whole` of the undrilled section.

    Each point round the outside is a place where the hole may come out; `edge` 1 to `ROUND_EDGES` is the angle from
    the bar's axis at its mouth.
    """
    outside = whole.surface == OUTSIDE
    matrix = np.zeros_like(whole.matrix)
    matrix[outside, 0] = round_hole_edge(
        round_hole(diameter_mm=diameter_mm, bore_mm=bore_mm, hole_mm=hole_mm),
        whole.matrix[outside],
        angle_rad=float(ROUND_EDGE_ANGLES_RAD[edge - 1]),
        hole_mm=hole_mm,
        tensile_MPa=tensile_MPa,
    )
    return replace(whole, matrix=matrix, exists=whole.exists & outside)


def contact_map(whole: SectionMap, *, factor: float | Array) -> SectionMap:
    """Stress beside a contact as fatigue sees it: `factor` times the section's own, on its outside.

    `factor` may be one for each resultant (6,), as at a transition's end.
    """
    outside = whole.surface != BORE
    return replace(whole, matrix=whole.matrix * factor * outside[:, None, None], exists=whole.exists & outside)
