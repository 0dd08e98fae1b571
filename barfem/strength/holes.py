"""The wall of a hole in a flat: stress at points round it and at several heights, from three-dimensional models.

A hole is in use, or the load passes it: from its outboard neighbour in use, or from farther away. Each way has a map of
its own, at five heights of the wall, so that loads add where they meet: in-plane ones stress the middle of the wall
most, out-of-plane ones its ends. Components are stress round the hole, along it, and the shear between the two, the
first two less the radial stress, so that a bolt's pressure is in the von Mises stress.

Angles run from the bar's axis towards the flat's axis 2 (its width); axis 1 is the flat's normal, and resultants and
signs are those of `barfem.strength.section_map`.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End, Hole
from barfem.model.bar_geometry import transition_fraction
from barfem.model.frozen import frozen
from barfem.solve.solid.hole_source import HolePlace, HoleSource, hole_source
from barfem.solve.solid.hole_table import AT_HOLE, HEIGHTS, LOADS, in_z, nominal, series_at
from barfem.strength.notch import fatigue_factor, neuber_sensitivity
from barfem.strength.rectangle import rectangle_face_torsion

__all__ = ["FlatHole", "Use", "flat_hole", "flat_holes", "heights", "local_flat", "uses", "wall", "wall_edges"]

Array = NDArray[np.float64]
Use = Literal["in use", "next", "passed"]


def local_flat(end: End, hole: Hole, *, diameter_mm: float) -> tuple[float, float]:
    """Width and thickness [mm] of the rectangle that a hole goes through.

    In the full flat its own. Through a transition width and thickness run linearly to the diameter and to 0.589 of it,
    which gives a rectangle the body's second moment about the hole's axis, and less than the body's across it.
    """
    flat = end.flat
    if flat is None:
        raise ValueError("a round end has no flat")
    share = float(transition_fraction(flat, np.array([hole.from_tip_mm]))[0])
    body = diameter_mm * 3.0 * np.pi / 16.0
    width = (1.0 - share) * flat.width_mm + share * diameter_mm
    return float(width), float((1.0 - share) * flat.thickness_mm + share * body)


def flat_holes(end: End) -> tuple[Hole, ...]:
    """The drilled holes in an end's flat, from the tip."""
    if end.flat is None:
        return ()
    drilled = [h for h in end.holes if h.diameter_mm is not None and h.from_tip_mm < end.flat.length_mm]
    return tuple(sorted(drilled, key=lambda hole: hole.from_tip_mm))


def uses(end: End, hole: Hole) -> tuple[Use, ...]:
    """In what ways a drilled hole in a flat is loaded in some hole setting of its end."""
    outboard = [other for other in end.holes if other.from_tip_mm < hole.from_tip_mm]
    if not outboard:
        return ("in use",)
    nearest = max(outboard, key=lambda other: other.from_tip_mm)
    if nearest.diameter_mm is None:
        return ("in use", "passed")
    return ("in use", "next") if len(outboard) == 1 else ("in use", "next", "passed")


def heights() -> Array:
    """(5,) heights of the wall that are looked at, along axis 1 from -1 to 1 over half the thickness."""
    up = np.array(HEIGHTS)
    return np.concatenate([-up[:0:-1], up])


@frozen(eq=False)
class FlatHole:
    """A drilled hole in a flat.

    Attributes
    ----------
    kt : (uses, 6)
        Greatest von Mises stress on its wall over the nominal one, for each of [N, V_1, V_2, T, M_1, M_2]. Nominal is
        the net section's: in tension and in bending across the flat at the extreme fibre, in bending in its plane at
        the hole, in shear and torsion the von Mises stress of the shear. Shear across the flat, which acts most through
        the bending that it makes grow, is over bending's under a moment of the force times the hole's radius.
    stress : (uses, heights, k, 3, 11)
        Geometric stress at k points round the hole, MPa per N or N mm of the six resultants just inboard of the hole,
        then per N of a bolt's force for what `hole_table.BEARING` names; zero but in use.
    felt : (uses, 11)
        Share of each load's stress that fatigue feels: Kf / Kt; of the bolt's pressure its notch sensitivity.
    source
        "grid" or "computed".
    """

    kt: Array
    stress: Array
    felt: Array
    source: str
    problem: str | None


def flat_hole(bar: Bar, end: End, hole: Hole, *, n_around: int) -> FlatHole:
    """The wall of a drilled hole in a flat."""
    if end.flat is None or hole.diameter_mm is None:
        raise ValueError("not a drilled hole in a flat")
    d = hole.diameter_mm
    width, thickness = local_flat(end, hole, diameter_mm=bar.section.diameter_mm)
    leaves = 2 if end.flat.kind == "pressed" else 1
    row = flat_holes(end)
    outboard = [other for other in row if other.from_tip_mm < hole.from_tip_mm]
    inboard = [other for other in row if other.from_tip_mm > hole.from_tip_mm]
    place = HolePlace(
        width=width / d,
        thickness=thickness / leaves / d,
        tip=hole.from_tip_mm / d,
        outboard=_apart(hole, outboard[-1]) if outboard else None,
        inboard=_apart(hole, inboard[0]) if inboard else None,
        nu=bar.steel.nu,
    )
    return wall(
        hole_source(place),
        place,
        uses=uses(end, hole),
        hole_mm=d,
        leaves=leaves,
        right=end.side == "right",
        tensile_MPa=bar.steel.tensile_strength_MPa,
        n_around=n_around,
    )


def _apart(hole: Hole, other: Hole) -> float:
    """Pitch over the diameter; of holes that are not alike that of alike ones with the same steel between them."""
    d, o = hole.diameter_mm or 0.0, other.diameter_mm or 0.0
    return (abs(hole.from_tip_mm - other.from_tip_mm) + 0.5 * (d - o)) / d


@lru_cache(maxsize=64)  # keyed by the source itself, which is kept by place
def wall(
    source: HoleSource,
    place: HolePlace,
    *,
    uses: tuple[Use, ...],
    hole_mm: float,
    leaves: int = 1,
    right: bool = False,
    tensile_MPa: float,
    n_around: int,
) -> FlatHole:
    """The wall of a hole of `hole_mm` by its tables; `right`: its tip lies towards smaller stations."""
    tables = {"in use": source.in_use, "next": source.next_, "passed": source.unused}
    u = 2.0 * np.pi * np.arange(n_around) / n_around
    # The models' tip lies at angle zero. At a right end x is turned round: N and the moments about axes 1 and 2 stay.
    turn = np.array([1.0, -1.0, -1.0, -1.0, 1.0, 1.0, 1.0, 1.0, -1.0, 1.0, -1.0]) if right else np.ones(len(AT_HOLE))
    angle = np.pi - u if right else u
    units = [nominal(place.width, place.thickness, in_use=used) / hole_mm**2 / leaves for used in (False, True)]
    for unit in units:
        unit[3:6] /= hole_mm
    stress = np.zeros((len(uses), 2 * len(HEIGHTS) - 1, n_around, 3, len(AT_HOLE)))
    for i, use in enumerate(uses):
        table = tables[use]
        if table is None:
            raise ValueError("no hole lies outboard of this one")
        names = AT_HOLE[: len(table)]
        half = series_at(table, angle, names) * (units[use == "in use"] * turn)[: len(table), None, None, None]
        if right:
            half[:, :, 2] *= -1.0  # the angle's direction is turned round too
        # Height z of the models is against axis 1: heights along axis 1 begin with their face.
        below = (half * in_z(names)[:, None, :, None])[:, 1:]
        stress[i, ..., : len(table)] = np.concatenate([half[:, :0:-1], half[:, :1], below], axis=1).transpose(
            1, 3, 2, 0
        )
    s, h, t = np.moveaxis(stress, 3, 0)
    greatest = np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max(axis=(1, 2)))
    kt = greatest[:, : len(LOADS)] / (_net(place, hole_mm) / leaves)
    q = float(neuber_sensitivity(radius_mm=hole_mm / 2.0, tensile_MPa=tensile_MPa))
    q_shear = float(neuber_sensitivity(radius_mm=hole_mm / 2.0, tensile_MPa=tensile_MPa, load="torsion"))
    at_least = np.maximum(kt, 1.0)
    felt = fatigue_factor(at_least, np.array([q, q, q_shear, q_shear, q, q])) / at_least
    return FlatHole(
        kt=kt,
        stress=stress,
        felt=np.concatenate([felt, np.full((len(uses), len(AT_HOLE) - len(LOADS)), q)], axis=1),
        source=source.source,
        problem=source.problem,
    )


def _net(place: HolePlace, d: float) -> Array:
    """(6,) nominal von Mises stress of a leaf per unit load, MPa per N or N mm."""
    h, t = place.width * d, place.thickness * d
    net = h - d
    twist = float(rectangle_face_torsion(depth_mm=t, face_mm=h, position_mm=np.zeros(1))[0])
    across = 6.0 / (net * t**2)
    shear = np.sqrt(3.0) * 1.5 / (net * t)
    in_plane = 6.0 * d / (t * (h**3 - d**3))
    return np.array([1.0 / (net * t), across * d / 2.0, shear, np.sqrt(3.0) * twist, in_plane, across])


def wall_edges(end: End, hole: Hole) -> Iterator[tuple[Use, int]]:
    """(use, height) of each edge of a drilled hole in a flat, in the order of their numbers."""
    for use in uses(end, hole):
        for height in range(2 * len(HEIGHTS) - 1):
            yield use, height
