"""Mounts as springs spread along the bushing, in the bar's own axes at rest and fixed in the car.

Each mount becomes a few spring points; each has a translational stiffness against the displacement of the bar's axis
and a rotational one against the turn of its section, both 3 x 3 in drawing axes. Their energy is a function of the
configuration alone, so that the bar with its mounts is conservative:
U = 1/2 u K u + 1/2 theta C theta, theta the rotation vector of the section from rest.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.vectors import cross
from barfem.solve.rotations import inverse_tangent_terms, logarithm, skew

__all__ = ["SpringPoints", "rotational_springs", "spring_points"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]


_GAUSS = np.polynomial.legendre.leggauss(3)


@frozen
class SpringPoints:
    """Spring points (s) of all mounts of a bar."""

    mount: Index  # (s,) which mount it belongs to
    element: Index  # (s,)
    shape: Array  # (s, 3) shape functions of the element's nodes there
    point_mm: Array  # (s, 3) where it is at rest
    translation: Array  # (s, 3, 3) N/mm, drawing axes
    rotation: Array  # (s, 3, 3) N·mm/rad, drawing axes


def spring_points(bar: Bar, edges_mm: Array) -> SpringPoints:
    """Spring points at three Gauss points of every element under a bushing, or at the vertex of a point mount."""
    gauss, gauss_weight = _GAUSS
    mount_of: list[Array] = []
    element_of: list[Array] = []
    local_of: list[Array] = []
    share_of: list[Array] = []
    for number, bushing in enumerate(bar.mounts):
        middles = 0.5 * (edges_mm[:-1] + edges_mm[1:])
        under = np.flatnonzero(np.abs(middles - bushing.station_mm) < 0.5 * bushing.length_mm)
        if len(under):  # none where the length is zero, or too small for an element of its own
            lengths = np.diff(edges_mm)[under]
            element_of.append(np.repeat(under, 3))
            local_of.append(np.tile(0.5 + 0.5 * gauss, len(under)))
            share_of.append(np.outer(lengths, 0.5 * gauss_weight).ravel() / lengths.sum())
        else:
            vertex = int(np.argmin(np.abs(edges_mm - bushing.station_mm)))
            inside = min(vertex, len(edges_mm) - 2)
            element_of.append(np.array([inside]))
            local_of.append(np.array([float(vertex - inside)]))
            share_of.append(np.ones(1))
        mount_of.append(np.full(len(local_of[-1]), number))
    mount, element = np.concatenate(mount_of).astype(np.intp), np.concatenate(element_of).astype(np.intp)
    x, share = np.concatenate(local_of), np.concatenate(share_of)
    stations = edges_mm[element] + x * (edges_mm[element + 1] - edges_mm[element])
    points, _ = bar.centreline.evaluate(stations)
    # The mount's own axes are the bar's at the mount's middle: one bushing has one axis, even over a tangent.
    _, frames = bar.centreline.evaluate(np.array([m.station_mm for m in bar.mounts]))
    axes = np.swapaxes(frames, 1, 2)[mount]
    along = np.array([m.axial_stiffness_N_per_mm for m in bar.mounts])[mount] * share
    across = np.array([m.radial_total_N_per_mm for m in bar.mounts])[mount] * share
    twist = np.array([m.torsional_stiffness_Nmm_per_rad for m in bar.mounts])[mount] * share
    tilt = np.array([m.conical_stiffness_Nmm_per_rad for m in bar.mounts])[mount] * share
    return SpringPoints(
        mount=mount,
        element=element,
        shape=np.stack([1 - 3 * x + 2 * x**2, 4 * x - 4 * x**2, -x + 2 * x**2], axis=-1),
        point_mm=points,
        translation=np.einsum("sij,sj,skj->sik", axes, np.stack([along, across, across], -1), axes),
        rotation=np.einsum("sij,sj,skj->sik", axes, np.stack([twist, tilt, tilt], -1), axes),
    )


def rotational_springs(stiffness: Array, turned: Array) -> tuple[Array, Array, Array]:
    """Energy (...), moment (..., 3) and its derivative by a spatial turn (..., 3, 3) of rotational springs.

    `turned` (..., 3, 3) is the section's rotation from rest. The moment is what the section exerts on the spring's
    support: T^-T C theta, the exact gradient of 1/2 theta C theta.
    """
    theta = logarithm(turned)
    inverse, beta, slope = inverse_tangent_terms(theta)
    pull = np.einsum("...ij,...j->...i", stiffness, theta)
    energy = 0.5 * np.einsum("...i,...i->...", theta, pull)
    transposed = np.swapaxes(inverse, -1, -2)
    moment = np.einsum("...ij,...j->...i", transposed, pull)
    s_theta = skew(theta)
    twice = np.einsum("...ij,...j->...i", s_theta @ s_theta, pull)
    by_theta = (
        -0.5 * skew(pull)
        + slope[..., None, None] * twice[..., :, None] * theta[..., None, :]
        - beta[..., None, None] * (skew(cross(theta, pull)) + s_theta @ skew(pull))
        + transposed @ stiffness
    )
    return energy, moment, by_theta @ inverse
