"""What fatigue feels where a forged flat runs into the round body: stress at the shoulders of its transition.

A flat is mostly wider and always thinner than the bar. Over a short transition the stress cannot spread over the width
at once, and it crowds at the shoulders: bending across the flat at the thin end, bending in its plane at the round one.
Where its sides are straight, stress rises again at the corners where they begin and end, the more the smaller their
fillets, and over long transitions too. Handbook charts of shoulders (Peterson, Stress Concentration Factors, ch. 3) are
for one width or one diameter on both sides and give too little here; the stress is that of three-dimensional models of
the transition instead (`barfem.solve.solid.transition`), at four stations along it, all round the section.

They are of a solid body. Of a tube the bore ends somewhere in there: it is taken as reaching to the flat in half an
ellipse, and each load's stress as greater by what such a bore takes away from a round section (`TUBE_BELOW`). The
transition of a pressed flat has a bound on its folds (`FOLD`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Flat
from barfem.model.bar_geometry import fillet_share, outline_share
from barfem.model.frozen import frozen
from barfem.solve.solid.transition_source import TransitionSource, transition_source
from barfem.solve.solid.transition_table import POINTS, STATIONS, nominal, places_along, whole_section
from barfem.strength.section_map import SectionMap, blend_maps
from barfem.strength.section_stress import circle_flexure_MPa, rectangle_map, round_map

__all__ = [
    "DEFAULT_FILLET_MM",
    "FOLD",
    "SHORTEST",
    "TUBE_ABOVE",
    "TUBE_BELOW",
    "has_shoulder_factors",
    "section_share",
    "shoulder_edges",
    "shoulder_factors",
    "shoulder_map",
    "shoulder_sources",
    "transitions",
    "worse_outline",
]

Array = NDArray[np.float64]

SHORTEST = 0.25
"""Length of a transition over the diameter down to which the stress was modelled; shorter ones have no number."""

DEFAULT_FILLET_MM = 5.0
"""Fillet of a transition that does not say: about the smallest that a forging die has (common practice, no source)."""

FOLD = 1.5
"""Bound on the folds of a pressed transition over the section's stress there, whatever the load, cracks excluded:
common practice, no source. A fold runs along the bar, across which little is carried but where the wall turns."""


TUBE_BELOW, TUBE_ABOVE = 0.3, 0.2
"""How far the stress of a tube's transition may lie below that of a solid with its bore, where that reaches to the
flat, and above it, where it ends soon: ten-node tetrahedra of two tubes (t/d 0.125 and 0.167), the bore ending at three
places, loads as in `SMALL`. Where it ends half way or sooner it lies 12 per cent below at most."""


@frozen
class ShoulderEdge:
    """A place where fatigue feels a transition: `share` of its length from the flat, a station of its table."""

    share: float
    station: int = 0


def has_shoulder_factors(flat: Flat, *, diameter_mm: float) -> bool:
    """Whether there are any: of a pressed flat a bound alone; of a forged one not below `SHORTEST` diameters."""
    if flat.kind == "pressed":
        return flat.transition_mm > 0.0
    return flat.transition_mm / diameter_mm >= SHORTEST * (1.0 - 1e-9)


SMALL = 0.3
"""Length of a fillet over that of the transition below which straight sides are stressed more than a half cosine, by up
to a third; from there on up to 3 per cent less (400 mixtures of loads on each of twelve transitions)."""


@lru_cache(maxsize=64)
def _outlines(flat: Flat) -> tuple[Flat, ...]:
    """The flat as each of the outlines that it may have."""
    own = DEFAULT_FILLET_MM if flat.fillet_mm is None else flat.fillet_mm
    both = (replace(flat, outline="cosine", fillet_mm=None), replace(flat, outline="straight", fillet_mm=own))
    return tuple(each for each in both if flat.outline in (None, each.outline))


@lru_cache(maxsize=64)
def worse_outline(flat: Flat, *, diameter_mm: float) -> Flat:
    """The flat with its outline, or where it has none the one whose shoulders are stressed more."""
    *cosine, straight = _outlines(flat)
    small = fillet_share(straight, diameter_mm=diameter_mm) < SMALL
    return cosine[0] if cosine and not small else straight


@lru_cache(maxsize=256)
def section_share(flat: Flat, x: float, *, diameter_mm: float) -> float:
    """How far the section has gone from the flat's to the body's at `x` of the transition's length.

    The least that one of the outlines leaves; of a pressed flat, whose outline is not known, `x`.
    """
    if flat.kind == "pressed":
        return min(max(x, 0.0), 1.0)
    return min(float(outline_share(each, x, diameter_mm=diameter_mm)) for each in _outlines(flat))


@lru_cache(maxsize=64)
def shoulder_edges(flat: Flat, *, diameter_mm: float) -> tuple[ShoulderEdge, ...]:
    """The places, in the order of the numbers of the edges (from one); none where there is no number."""
    if not has_shoulder_factors(flat, diameter_mm=diameter_mm):
        return ()
    if flat.kind == "pressed":
        return ShoulderEdge(0.0), ShoulderEdge(1.0)
    own = worse_outline(flat, diameter_mm=diameter_mm)
    arc = fillet_share(own, diameter_mm=diameter_mm) if own.outline == "straight" else 0.5
    at = [ShoulderEdge(float(share), i) for i, share in enumerate(places_along(arc))]
    # Amid straight sides the sections' own stress has it.
    amid = slice(STATIONS // 2 - 1, STATIONS // 2 + 1 if arc < SMALL else STATIONS // 2 - 1)
    return tuple(edge for edge in at if edge not in at[amid])


def _source(flat: Flat, diameter_mm: float, nu: float) -> TransitionSource:
    d, own = diameter_mm, worse_outline(flat, diameter_mm=diameter_mm)
    fillet = None if own.fillet_mm is None or own.outline == "cosine" else own.fillet_mm / d
    return transition_source(flat.width_mm / d, flat.thickness_mm / d, flat.transition_mm / d, fillet, nu)


@lru_cache(maxsize=32)
def _sections(width_mm: float, thickness_mm: float, diameter_mm: float, nu: float) -> tuple[SectionMap, SectionMap]:
    """The flat's and a solid body's own maps."""
    return (
        rectangle_map(width_mm=width_mm, thickness_mm=thickness_mm, nu=nu, n_around=POINTS),
        round_map(diameter_mm=diameter_mm, nu=nu, n_around=POINTS),
    )


@lru_cache(maxsize=64)
def _matrices(flat: Flat, diameter_mm: float, nu: float) -> Array:
    """Stress (stations, points, 3, 6) at a right end, MPa per N and N mm."""
    d = diameter_mm
    scale = nominal(flat.width_mm / d, flat.thickness_mm / d) / np.array([d**2] * 3 + [d**3] * 3)
    return whole_section(_source(flat, d, nu).table) * scale[:, None, None]


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
    share = section_share(flat, at.share, diameter_mm=diameter_mm)
    own = blend_maps(*_sections(flat.width_mm, flat.thickness_mm, diameter_mm, nu), share, by_length=True)
    found = _matrices(flat, diameter_mm, nu)[at.station]
    factors = _greatest(found) / _greatest(own.matrix)
    factors[[1, 2]] = factors[[5, 4]]
    return np.maximum(factors, 1.0)


def shoulder_map(
    flat: Flat, *, diameter_mm: float, bore_mm: float = 0.0, nu: float, edge: int, left: bool, n_around: int
) -> SectionMap | None:
    """Stress at an edge (from 1), in the flat's axes; None where only factors are known.

    `n_around` divides the table's points. At a `left` end stations run from the body to the flat.
    """
    if flat.kind == "pressed":
        return None
    if POINTS % n_around:
        raise ValueError(f"n_around divides {POINTS}")
    at = shoulder_edges(flat, diameter_mm=diameter_mm)[edge - 1]
    share = section_share(flat, at.share, diameter_mm=diameter_mm)
    shape = blend_maps(*_sections(flat.width_mm, flat.thickness_mm, diameter_mm, nu), share)
    some = slice(None, None, POINTS // n_around)
    matrix = _matrices(flat, diameter_mm, nu)[at.station, some]
    if bore_mm:
        matrix = matrix * _hollow(bore_mm / diameter_mm * np.sqrt(1.0 - (1.0 - at.share) ** 2), nu)
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


def _hollow(bore: float, nu: float) -> Array:
    """(6,) stress of a round section with a `bore` of so many diameters over that of a solid one."""
    shear = [circle_flexure_MPa(radius_mm=0.5, outer_mm=0.5, inner_mm=0.5 * each, nu=nu) for each in (bore, 0.0)]
    cross = float(shear[0] / shear[1])
    return np.array([1.0 / (1.0 - bore**2), cross, cross, *[1.0 / (1.0 - bore**4)] * 3])


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
    """Where the stress of each forged transition comes from."""
    return tuple(_source(flat, bar.section.diameter_mm, bar.steel.nu) for flat in transitions(bar))
