"""What fatigue feels where a forged flat runs into the round body: stress at the shoulders of its transition.

A flat is mostly wider and always thinner than the bar. Over a short transition the stress cannot spread over the width
at once, and it crowds at the shoulders: bending across the flat at the thin end, bending in its plane at the round one.
Where its sides are straight, stress rises again at the corners where they begin and end, the more the smaller their
fillets, and over long transitions too. Handbook charts of shoulders (Peterson, Stress Concentration Factors, ch. 3) are
for one width or one diameter on both sides and give too little here; the stress is that of three-dimensional models of
the transition instead (`barfem.solve.solid.transition`), at four stations along it, all round the section.

They are of a solid body. On a tube, whose bore ends somewhere in there, each load's greatest stress over the solid
bar's own is taken over to the tube's. The transition of a pressed flat has a bound on its folds (`FOLD`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Flat
from barfem.model.bar_geometry import fillet_share, outline_share
from barfem.solve.solid.transition_source import TransitionSource, transition_source
from barfem.solve.solid.transition_table import POINTS, nominal, places_along, whole_section
from barfem.strength.section_map import SectionMap, blend_maps
from barfem.strength.section_stress import rectangle_map, round_map

__all__ = [
    "DEFAULT_FILLET_MM",
    "FOLD",
    "SHORTEST",
    "has_shoulder_factors",
    "shoulder_edges",
    "shoulder_factors",
    "shoulder_map",
    "shoulder_sources",
    "transitions",
]

Array = NDArray[np.float64]

SHORTEST = 0.25
"""Length of a transition over the diameter down to which the stress was modelled; shorter ones have no number."""

DEFAULT_FILLET_MM = 5.0
"""Fillet of a transition that does not say: about the smallest that a forging die has (common practice, no source)."""

FOLD = 1.5
"""Bound on the folds of a pressed transition over the section's stress there, whatever the load, cracks excluded:
common practice, no source. A fold runs along the bar, across which little is carried but where the wall turns."""


@dataclass(frozen=True)
class ShoulderEdge:
    """A place where fatigue feels a transition: `share` of its length from the flat. `fillet_mm` None: half cosine."""

    share: float
    fillet_mm: float | None = None
    station: int = 0


def has_shoulder_factors(flat: Flat, *, diameter_mm: float) -> bool:
    """Whether there are any: of a pressed flat a bound alone; of a forged one not below `SHORTEST` diameters."""
    if flat.kind == "pressed":
        return flat.transition_mm > 0.0
    return flat.transition_mm / diameter_mm >= SHORTEST * (1.0 - 1e-9)


def _fillets(flat: Flat) -> tuple[float | None, ...]:
    """Fillets of the outlines that it may have: where it does not say, both."""
    own = DEFAULT_FILLET_MM if flat.fillet_mm is None else flat.fillet_mm
    return {"cosine": (None,), "straight": (own,)}.get(flat.outline or "", (None, own))


@lru_cache(maxsize=64)
def shoulder_edges(flat: Flat, *, diameter_mm: float) -> tuple[ShoulderEdge, ...]:
    """The places, in the order of the numbers of the edges (from one); none where there is no number."""
    if not has_shoulder_factors(flat, diameter_mm=diameter_mm):
        return ()
    if flat.kind == "pressed":
        return ShoulderEdge(0.0), ShoulderEdge(1.0)
    out = []
    for fillet in _fillets(flat):
        arc = 0.5 if fillet is None else fillet_share(_as(flat, fillet), diameter_mm=diameter_mm)
        at = places_along(arc)
        out += [ShoulderEdge(float(share), fillet, i) for i, share in enumerate(at)]
    return tuple(out)


def _as(flat: Flat, fillet: float | None) -> Flat:
    """The flat with one outline said."""
    return replace(flat, outline="cosine" if fillet is None else "straight", fillet_mm=fillet)


def _source(flat: Flat, fillet_mm: float | None, diameter_mm: float, nu: float) -> TransitionSource:
    d = diameter_mm
    fillet = None if fillet_mm is None else fillet_mm / d
    return transition_source(flat.width_mm / d, flat.thickness_mm / d, flat.transition_mm / d, fillet, nu)


@lru_cache(maxsize=32)
def _sections(width_mm: float, thickness_mm: float, diameter_mm: float, nu: float) -> tuple[SectionMap, SectionMap]:
    """The flat's and a solid body's own maps."""
    return (
        rectangle_map(width_mm=width_mm, thickness_mm=thickness_mm, nu=nu, n_around=POINTS),
        round_map(diameter_mm=diameter_mm, nu=nu, n_around=POINTS),
    )


@lru_cache(maxsize=64)
def _matrices(flat: Flat, fillet_mm: float | None, diameter_mm: float, nu: float) -> Array:
    """Stress (stations, points, 3, 6) of one outline at a right end, MPa per N and N mm."""
    d = diameter_mm
    scale = nominal(flat.width_mm / d, flat.thickness_mm / d) / np.array([d**2] * 3 + [d**3] * 3)
    return whole_section(_source(flat, fillet_mm, d, nu).table) * scale[:, None, None]


def _greatest(matrix: Array) -> Array:
    along, round_, shear = (matrix[:, i] for i in range(3))
    return np.asarray(np.sqrt((along**2 - along * round_ + round_**2 + 3.0 * shear**2).max(axis=0)))


def shoulder_factors(flat: Flat, *, diameter_mm: float, nu: float, edge: int) -> Array:
    """Greatest stress at an edge (from 1) over the section's own, (6,) for [N, V_1, V_2, T, M_1, M_2].

    Those of shear forces are the bending's that they make grow. None is below one.
    """
    if flat.kind == "pressed":
        return np.full(6, FOLD)
    at = shoulder_edges(flat, diameter_mm=diameter_mm)[edge - 1]
    own = blend_maps(*_sections(flat.width_mm, flat.thickness_mm, diameter_mm, nu), at.share)
    found = _matrices(flat, at.fillet_mm, diameter_mm, nu)[at.station]
    factors = _greatest(found) / _greatest(own.matrix)
    factors[[1, 2]] = factors[[5, 4]]
    return np.maximum(factors, 1.0)


def shoulder_map(
    flat: Flat, *, diameter_mm: float, nu: float, edge: int, left: bool, n_around: int
) -> SectionMap | None:
    """Stress at an edge (from 1) of a solid bar, in the flat's axes; None where only factors are known.

    `n_around` divides the table's points. At a `left` end stations run from the body to the flat.
    """
    if flat.kind == "pressed" or POINTS % n_around:
        return None
    at = shoulder_edges(flat, diameter_mm=diameter_mm)[edge - 1]
    share = float(outline_share(_as(flat, at.fillet_mm), at.share, diameter_mm=diameter_mm))
    shape = blend_maps(*_sections(flat.width_mm, flat.thickness_mm, diameter_mm, nu), share)
    some = slice(None, None, POINTS // n_around)
    matrix = _matrices(flat, at.fillet_mm, diameter_mm, nu)[at.station, some]
    if left:
        # The mirror image along the bar: tension and bending stay, shear stress turns, shear force and torque too.
        turned = np.array([1.0, -1.0, -1.0, -1.0, 1.0, 1.0])
        matrix = matrix * np.array([turned, turned, -turned])
    return replace(
        shape,
        matrix=matrix,
        angle_rad=shape.angle_rad[some],
        position_mm=shape.position_mm[some],
        surface=shape.surface[some],
        exists=shape.exists[some],
    )


def transitions(bar: Bar) -> Iterator[Flat]:
    """Forged flats with a transition that has numbers."""
    for end in bar.ends:
        flat = end.flat
        if (
            flat is not None
            and flat.kind == "forged"
            and has_shoulder_factors(flat, diameter_mm=bar.section.diameter_mm)
        ):
            yield flat


def shoulder_sources(bar: Bar) -> tuple[TransitionSource, ...]:
    """Where the stress of each forged transition comes from, one for each outline that it may have."""
    d, nu = bar.section.diameter_mm, bar.steel.nu
    return tuple(_source(flat, fillet, d, nu) for flat in transitions(bar) for fillet in _fillets(flat))
