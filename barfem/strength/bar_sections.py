"""The stress maps of the sections that a bar has, each by what it depends on: bars that differ in their holes' places,
travel, links or skin share them.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Flat, Section
from barfem.model.bar_geometry import flat_axis_angle_rad
from barfem.model.bent_wall import bent_wall
from barfem.model.centreline import Segment
from barfem.model.frozen import frozen
from barfem.strength.bends import bend_map
from barfem.strength.edge_maps import contact_map, round_edge_map
from barfem.strength.net_section import drilled_map
from barfem.strength.section_map import BORE, OUTSIDE, SectionMap, blend_maps, turned
from barfem.strength.section_stress import pressed_pair_map, rectangle_map, round_map
from barfem.strength.shoulder import shoulder_map

__all__ = ["Build", "SectionAt", "Side", "stacked_maps"]

Array = NDArray[np.float64]
Side = Literal["right", "left"]


@frozen
class Build:
    """What the maps of a bar's sections depend on beside the section itself.

    `flats` and `angles_rad`, those of the flats' width axes in the frame, are the right end's, then the left's.
    `n_around` points go round each surface.
    """

    section: Section
    segments: tuple[Segment, ...]
    flats: tuple[Flat | None, Flat | None]
    angles_rad: tuple[float, float]
    nu: float
    tensile_MPa: float
    n_around: int

    @staticmethod
    def of(bar: Bar, n_around: int) -> Build:
        return Build(
            section=bar.section,
            segments=bar.centreline.segments,
            flats=(bar.right.flat, bar.left.flat),
            angles_rad=(flat_axis_angle_rad(bar, bar.right), flat_axis_angle_rad(bar, bar.left)),
            nu=bar.steel.nu,
            tensile_MPa=bar.steel.tensile_strength_MPa,
            n_around=n_around,
        )

    def flat(self, side: Side | None) -> Flat | None:
        """The flat of an end; None has none."""
        return None if side is None else self.flats[side == "left"]

    def thickness_angle_rad(self, side: Side) -> float:
        """Where the thickness of an end's flat lies: axis 1 of its maps, a quarter turn from its width."""
        return self.angles_rad[side == "left"] + np.pi / 2.0


@frozen
class SectionAt:
    """What the section at a sample depends on.

    `segment` is the segment's index, `side` the end whose flat it lies in (None in the body), `share` how much of the
    body is in it (0 in the full flat, 1 in the body), `hole_mm` the diameter of the hole through it. `edge` above zero
    is the number of that hole's edge, or a contact's, with its factor, or of an edge of the transition at the end
    `flat_of`, with the factor of one without a model. `facing` is the segment of the bend, the nearest one, from
    whose inside a straight's points are counted; None where a bar has no bend.
    """

    segment: int
    side: Side | None
    share: float
    hole_mm: float
    edge: int = 0
    factors: tuple[float, ...] = ()
    flat_of: Side | None = None
    facing: int | None = None


@lru_cache(maxsize=16)
def stacked_maps(
    build: Build, sections: tuple[SectionAt, ...]
) -> tuple[Array, Array, Array, NDArray[np.bool_], NDArray[np.intp], NDArray[np.bool_]]:
    """`matrix`, `angle_rad`, `position_mm`, `exists`, `surface` and `hoop` of `StressMaps`, one map a section.

    Not to be written to: other bars have them too.
    """
    found = _same_surfaces(*[_map(build, section) for section in sections])
    matrix = np.stack([each.matrix for each in found])
    arrays = (
        matrix,
        np.stack([each.angle_rad for each in found]),
        np.stack([each.position_mm for each in found]),
        np.stack([each.exists for each in found]),
        found[0].surface,
        np.any(matrix[:, :, 1] != 0.0, axis=(1, 2)),
    )
    for array in arrays:
        array.flags.writeable = False
    return arrays


def _map(build: Build, section: SectionAt) -> SectionMap:
    """The map of one section, in the frame."""
    size, bore = build.section.diameter_mm, build.section.bore_mm
    if section.edge and section.hole_mm == 0.0:
        flat = build.flat(section.flat_of)
        if section.flat_of is not None and flat is not None:
            own = shoulder_map(
                flat,
                diameter_mm=size,
                bore_mm=bore,
                nu=build.nu,
                edge=section.edge,
                left=section.flat_of == "left",
                n_around=build.n_around,
            )
            if own is not None:
                return turned(own, build.thickness_angle_rad(section.flat_of))
        plain = _map(build, replace(section, edge=0, factors=(), flat_of=None))
        return contact_map(plain, factor=section.factors[0])
    flat = build.flat(section.side)
    if section.side is None or flat is None:
        whole, angle = _body(build, section)
        if section.edge:
            edge = round_edge_map(
                whole,
                diameter_mm=size,
                bore_mm=bore,
                hole_mm=section.hole_mm,
                tensile_MPa=build.tensile_MPa,
                edge=section.edge,
            )
            return turned(edge, angle)
        return turned(_drilled(build, whole, section.hole_mm), angle)
    angle = build.thickness_angle_rad(section.side)
    full = _flat_map(flat.kind, flat.width_mm, flat.thickness_mm, build.nu, build.n_around, section.hole_mm)
    if section.share == 0.0:
        return turned(full, angle)
    body = _drilled(build, _straight(build), section.hole_mm)
    flat_side, body_side = _same_surfaces(full, body)
    return turned(blend_maps(flat_side, body_side, section.share, by_length=flat.kind == "forged"), angle)


def _straight(build: Build) -> SectionMap:
    return _round_map(build.section.diameter_mm, build.section.bore_mm, build.nu, build.n_around)


@lru_cache(maxsize=16)  # every straight and every station of a transition needs it
def _round_map(diameter_mm: float, bore_mm: float, nu: float, n_around: int) -> SectionMap:
    return round_map(diameter_mm=diameter_mm, bore_mm=bore_mm, nu=nu, n_around=n_around)


def _body(build: Build, at: SectionAt) -> tuple[SectionMap, float]:
    """Map of the round body in local axes, and where axis 1 lies in the frame.

    A straight's points are counted from the inside of the nearest bend (of a bar without bends, from the upper side as
    drawn): turned, mirrored and reversed bars then have the same points, however their drawing lies.
    """
    part = build.segments[at.segment]
    if part.radius_mm is None:
        if at.facing is not None:
            return _straight(build), build.segments[at.facing].inward_angle_rad
        t, a, b = np.array(part.start_frame)
        start = 2 if abs(t[2]) < 0.9 else 0
        return _straight(build), float(np.arctan2(b[start], a[start]))
    section = build.section
    bent = bend_map(
        diameter_mm=section.diameter_mm,
        wall_mm=section.wall_mm,
        bend_radius_mm=part.radius_mm,
        bent=None if section.bend_wall == "uniform" or section.wall_mm is None else bent_wall(section, part),
        nu=build.nu,
        n_around=build.n_around,
    )
    return bent, part.inward_angle_rad


def _drilled(build: Build, whole: SectionMap, hole_mm: float) -> SectionMap:
    if hole_mm == 0.0:
        return whole
    size, bore = build.section.diameter_mm, build.section.bore_mm
    return drilled_map(whole, diameter_mm=size, bore_mm=bore, hole_mm=hole_mm)


@lru_cache(maxsize=16)  # every station of a transition needs the flat's, and both ends are mostly alike
def _flat_map(kind: str, width_mm: float, thickness_mm: float, nu: float, n_around: int, hole_mm: float) -> SectionMap:
    shape = rectangle_map if kind == "forged" else pressed_pair_map
    return shape(width_mm=width_mm, thickness_mm=thickness_mm, nu=nu, n_around=n_around, hole_mm=hole_mm)


def _same_surfaces(*sections: SectionMap) -> list[SectionMap]:
    """The sections, each with the bore's points if any has them (where it has none, they do not exist)."""
    most = max(len(section.surface) for section in sections)
    return [section if len(section.surface) == most else _with_void_bore(section) for section in sections]


def _with_void_bore(section: SectionMap) -> SectionMap:
    n = len(section.surface)
    return SectionMap(
        matrix=np.concatenate([section.matrix, np.zeros_like(section.matrix)]),
        angle_rad=np.tile(section.angle_rad, 2),
        position_mm=np.concatenate([section.position_mm, np.zeros_like(section.position_mm)]),
        surface=np.repeat([OUTSIDE, BORE], n),
        exists=np.concatenate([section.exists, np.zeros(n, dtype=bool)]),
    )
