"""Section maps of edges: what fatigue feels at a hole's edge and beside a contact. They carry no yield.

A transition's shoulders have maps of their own (`barfem.strength.shoulder`); pressed ones have the section's stress
with a factor, as a contact's edge has. Where `barfem.strength.places` samples a hole it looks at the net section, and
at its edges besides: on a flat the whole wall at several heights, once for each way in which the hole is loaded; on a
round end the hole's mouth at several angles from the bar's axis, in whatever direction the hole may go through.
Stress round the hole stands as stress along the bar in the map, stress along the hole as stress round the bar.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End, Hole
from barfem.strength.holes import FlatHole, flat_hole, heights, local_flat
from barfem.strength.round_hole import ROUND_EDGE_ANGLES_RAD, round_hole, round_hole_edge
from barfem.strength.section_map import BORE, OUTSIDE, SectionMap

__all__ = [
    "ROUND_EDGES",
    "contact_map",
    "flat_wall_map",
    "round_edge_map",
]

Array = NDArray[np.float64]

ROUND_EDGES = len(ROUND_EDGE_ANGLES_RAD)


def flat_wall_map(bar: Bar, end: End, hole: Hole, *, n_around: int) -> SectionMap:
    """The wall of a hole in a flat as fatigue feels it, local axes: of every edge of `holes.wall_edges`, along axis 0.

    Points run round the hole, from the bar's axis towards axis 2. The matrix is followed by the columns of a bolt's
    pressure. The leaves of a pressed flat each carry half, and bend about their own middles: they are alike.
    """
    _, thickness = local_flat(end, hole, diameter_mm=bar.section.diameter_mm)
    return _wall_map(flat_hole(bar, end, hole, n_around=n_around), thickness, hole.diameter_mm or 0.0, n_around)


@lru_cache(maxsize=64)  # bars of a search mostly have the same flats
def _wall_map(found: FlatHole, thickness_mm: float, hole_mm: float, n_around: int) -> SectionMap:
    stress = found.stress * found.felt[:, None, None, None]
    u = 2.0 * np.pi * np.arange(n_around) / n_around
    up, across = np.meshgrid(heights() * thickness_mm / 2.0, hole_mm / 2.0 * np.sin(u), indexing="ij")
    position = np.tile(np.stack([up, across], axis=-1), (len(stress), 1, 1))
    return SectionMap(
        matrix=stress.reshape(-1, *stress.shape[2:]),
        angle_rad=np.arctan2(position[..., 1], position[..., 0]),
        position_mm=position,
        surface=np.full(n_around, OUTSIDE),
        exists=np.ones(position.shape[:2], dtype=bool),
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


def contact_map(whole: SectionMap, *, factor: float) -> SectionMap:
    """Stress beside a contact as fatigue sees it: `factor` times the section's own, on its outside."""
    outside = whole.surface != BORE
    return replace(whole, matrix=whole.matrix * factor * outside[:, None, None], exists=whole.exists & outside)
