"""Stress maps of straight bar: round, tube, rectangle, and the pressed pair of leaves. Saint-Venant's exact solutions.

Every function returns a `SectionMap` in local axes; see there for signs. `n_around` points go round each surface,
evenly, the first on axis 1.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.strength.rectangle import rectangle_face_flexure, rectangle_face_torsion
from barfem.strength.section_map import SectionMap

__all__ = ["POINTS_AROUND", "circle_flexure_MPa", "pressed_pair_map", "rectangle_map", "round_map"]

Array = NDArray[np.float64]

POINTS_AROUND = 72  # a point each 5 degrees: misses at most 1 - cos(2.5 deg) = 0.1 % of a maximum between points


def circle_flexure_MPa(*, radius_mm: Array | float, outer_mm: float, inner_mm: float, nu: float) -> Array:
    """Largest circumferential shear at a radius of a hollow circle under unit transverse force, MPa per N.

    It acts at 90 degrees from the force and falls off as the sine; radial shear is zero at both surfaces.
    tau = [(3 + 2 nu)(b^2 + a^2 + a^2 b^2 / r^2) - (1 - 2 nu) r^2] / (8 (1 + nu) I), outside b, bore a: the solid
    circle's flexure (Timoshenko & Goodier, Theory of Elasticity, bending of a bar of circular section) with the
    gradient of the harmonic C r + c / r added so that radial shear vanishes at both radii. Limits: solid
    (1 + 2 nu) / (1 + nu) V / A at r = b; thin tube 2 V / A.
    """
    a2, b2, r2 = inner_mm**2, outer_mm**2, np.asarray(radius_mm, float) ** 2
    second_moment = np.pi * (b2**2 - a2**2) / 4.0
    bracket = (3.0 + 2.0 * nu) * (b2 + a2 + a2 * b2 / r2) - (1.0 - 2.0 * nu) * r2
    return np.asarray(bracket / (8.0 * (1.0 + nu) * second_moment))


def round_map(*, diameter_mm: float, bore_mm: float = 0.0, nu: float, n_around: int = POINTS_AROUND) -> SectionMap:
    """Round bar or tube: the outside's points, then the bore's if there is one."""
    outer, inner = diameter_mm / 2.0, bore_mm / 2.0
    area, second_moment = np.pi * (outer**2 - inner**2), np.pi * (outer**4 - inner**4) / 4.0
    radii = (outer, inner) if inner > 0.0 else (outer,)
    u = 2.0 * np.pi * np.arange(n_around) / n_around
    matrix = np.zeros((len(radii), n_around, 3, 6))
    position = np.empty((len(radii), n_around, 2))
    for i, r in enumerate(radii):
        position[i] = r * np.stack([np.cos(u), np.sin(u)], axis=1)
        flexure = circle_flexure_MPa(radius_mm=r, outer_mm=outer, inner_mm=inner, nu=nu)
        matrix[i, :, 0, 0] = 1.0 / area
        matrix[i, :, 0, 4] = position[i, :, 1] / second_moment
        matrix[i, :, 0, 5] = -position[i, :, 0] / second_moment
        matrix[i, :, 2, 1] = -flexure * np.sin(u)
        matrix[i, :, 2, 2] = flexure * np.cos(u)
        matrix[i, :, 2, 3] = r / (2.0 * second_moment)
    return _section(matrix, u, position)


def rectangle_map(
    *,
    width_mm: float,
    thickness_mm: float,
    nu: float,
    n_around: int = POINTS_AROUND,
    hole_mm: float = 0.0,
) -> SectionMap:
    """Rectangle, axis 1 along the thickness (the flat's normal), axis 2 along the width. Sharp corners.

    `n_around` is a multiple of 8: the points are even on each face, and include corners and the faces' middles.

    `hole_mm` bores it through along axis 1, on the middle of the width, and gives the nominal stress of the net
    section: area (w - d) t, second moments (w - d) t^3 / 12 and t (w^3 - d^3) / 12; torsion and transverse shear are
    those of a rectangle of the net width (nominal, without concentration). Points of the two broad faces then spread
    over the two ligaments, from edge to edge; their middles lie in the hole and are none.
    """
    net = width_mm - hole_mm
    u, face, y1, y2, exists = _perimeter(net, thickness_mm, n_around, parted=hole_mm > 0.0)
    across = y2 + np.copysign(0.5 * hole_mm, y2)
    matrix = np.zeros((1, n_around, 3, 6))
    matrix[0, :, 0, 0] = 1.0 / (net * thickness_mm)
    matrix[0, :, 0, 4] = across * 12.0 / (thickness_mm * (width_mm**3 - hole_mm**3))
    matrix[0, :, 0, 5] = -y1 * 12.0 / (net * thickness_mm**3)
    matrix[0, :, 2, :] = _rectangle_shear(net, thickness_mm, nu, face, y1, y2)
    return _section(matrix, u, np.stack([y1, across], axis=1)[None], exists)


def pressed_pair_map(
    *,
    width_mm: float,
    thickness_mm: float,
    nu: float,
    n_around: int = POINTS_AROUND,
    hole_mm: float = 0.0,
) -> SectionMap:
    """Flattened tube: two leaves of half the thickness, not bonded, each carrying half of every resultant.

    Each leaf bends about its own middle, so the weak axis has I = w t^3 / 48 with t / 4 to the extreme fibre, and
    twists as a rectangle of its own. The outside's points go round the pair; the bore's are the leaves' inner faces
    (the points opposite each outer one). In the middle of a folded edge both meet: the mean of both stands there, so
    that neither leaf has it; a pair turned by 180 degrees is the same pair.
    """
    one, other = (
        _leaves(width_mm=width_mm, thickness_mm=thickness_mm, nu=nu, n_around=n_around, hole_mm=hole_mm, fold=fold)
        for fold in (1.0, -1.0)
    )
    mean = 0.5 * (one.matrix + other.matrix)
    return replace(one, matrix=mean, position_mm=0.5 * (one.position_mm + other.position_mm))


def _leaves(
    *, width_mm: float, thickness_mm: float, nu: float, n_around: int, hole_mm: float, fold: float
) -> SectionMap:
    """The pair, the middles of its folded edges counted with the upper leaf (`fold` 1) or the lower one (-1)."""
    half = thickness_mm / 2.0
    net = width_mm - hole_mm
    u, face, y1, y2, exists = _perimeter(net, thickness_mm, n_around, parted=hole_mm > 0.0)
    upper = np.where(y1 == 0.0, fold, np.sign(y1))
    # The inner face of the same leaf looks the other way; edge points move to the fold's inner corner.
    local1 = np.stack([y1 - upper * thickness_mm / 4.0, -upper * thickness_mm / 4.0])
    faces = np.stack([face, np.where(upper > 0.0, 2, 0)])
    across = y2 + np.copysign(0.5 * hole_mm, y2)
    matrix = np.zeros((2, n_around, 3, 6))
    matrix[:, :, 0, 0] = 1.0 / (net * thickness_mm)
    matrix[:, :, 0, 4] = across * 12.0 / (half * (width_mm**3 - hole_mm**3)) / 2.0
    matrix[:, :, 0, 5] = -local1 * 12.0 / (net * half**3) / 2.0
    shear = _rectangle_shear(net, half, nu, faces.ravel(), local1.ravel(), np.tile(y2, 2)) / 2.0
    matrix[:, :, 2, :] = shear.reshape(2, n_around, 6)
    position = np.stack([local1 + upper * thickness_mm / 4.0, np.broadcast_to(across, local1.shape)], axis=-1)
    return _section(matrix, u, position, exists)


def _perimeter(
    width: float, thickness: float, n_around: int, *, parted: bool
) -> tuple[Array, NDArray[np.intp], Array, Array, NDArray[np.bool_]]:
    """Angle, face (0: +1, 1: +2, 2: -1, 3: -2) and coordinates of points round a rectangle, and which exist.

    `parted`: the broad faces are in two, the middles of which have a point each; the faces' own middles have none.
    """
    u = 2.0 * np.pi * np.arange(n_around) / n_around
    v = 8.0 * np.arange(n_around) / n_around
    face = ((v + 1.0) // 2.0).astype(np.intp) % 4
    along = (v + 1.0) % 2.0 - 1.0  # -1 to 1 along each face, in the sense of theta
    y1 = np.select([face == 0, face == 1, face == 2], [1.0, -along, -1.0], along) * thickness / 2.0
    y2 = np.select([face == 0, face == 1, face == 2], [along, 1.0, -along], -1.0) * width / 2.0
    exists = np.ones(n_around, dtype=bool)
    if parted:
        # Evenly from the parting to the corners: the points beside a middle move onto it, one of either side.
        exists, beside = y2 != 0.0, 4.0 * width / n_around
        moved = np.round((np.abs(y2) - beside) / (1.0 - 2.0 * beside / width), 12)  # no rounding left at the parting
        y2 = np.copysign(np.maximum(moved, 0.0), y2)  # whose points keep their side by the sign of their zero
    return u, face, y1, y2, exists


def _rectangle_shear(width: float, thickness: float, nu: float, face: NDArray[np.intp], y1: Array, y2: Array) -> Array:
    """Rows (p, 6) of tau_stheta of a rectangle at points on its faces."""
    row = np.zeros((len(face), 6))
    broad = (face == 0) | (face == 2)
    sense = np.where((face == 0) | (face == 3), 1.0, -1.0)  # theta runs along +2, -1, -2, +1
    # Broad faces lie at y1 = +-t/2 and run along 2; narrow ones at y2 = +-w/2 and run along 1.
    for here, depth, length, position, other, along_force, across_force in (
        (broad, thickness, width, y2, y1, 2, 1),
        (~broad, width, thickness, y1, y2, 1, 2),
    ):
        # Even about the face's middle, the last odd; the faces' points lie alike.
        distinct, of = np.unique(np.abs(position[here]), return_inverse=True)
        row[here, 3] = rectangle_face_torsion(depth_mm=depth, face_mm=length, position_mm=distinct)[of]
        along, across = rectangle_face_flexure(depth_mm=depth, face_mm=length, position_mm=distinct, nu=nu)
        row[here, along_force] = sense[here] * along[of]
        row[here, across_force] = sense[here] * np.sign(other[here]) * np.sign(position[here]) * across[of]
    return row


def _section(matrix: Array, u: Array, position: Array, exists: NDArray[np.bool_] | None = None) -> SectionMap:
    """Blocks (surfaces, n, ...) laid end to end; points (n,) that do not exist have no stress."""
    surfaces, n = matrix.shape[:2]
    there = np.tile(np.ones(n, dtype=bool) if exists is None else exists, surfaces)
    return SectionMap(
        matrix=matrix.reshape(surfaces * n, 3, 6) * there[:, None, None],
        angle_rad=np.tile(u, surfaces),
        position_mm=position.reshape(surfaces * n, 2),
        surface=np.repeat(np.arange(surfaces), n),
        exists=there,
    )
