"""Mounts as elastic foundations of the solid, and what holds the rigid motions they leave free.

A mount's stiffnesses act on the mean motion of the sections under it, spread evenly over the bushing, in the bar's own
axes at the mount's middle: the beam's springs exactly, and no contact stress on the surface.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Mount
from barfem.model.frozen import frozen
from barfem.solve.solid.assembly import Springs
from barfem.solve.solid.motion import SectionMotion, rigid_transfer

__all__ = ["Held", "free_motions", "hold", "mount_springs"]

Array = NDArray[np.float64]

# A rigid motion counts as free below this share of the stiffest one's stiffness.
FREE = 1e-10


def _stiffnesses(mount: Mount) -> Array:
    """(6,) along, across, across, about, tilt, tilt."""
    across, tilt = mount.radial_total_N_per_mm, mount.conical_stiffness_Nmm_per_rad
    return np.array([mount.axial_stiffness_N_per_mm, across, across, mount.torsional_stiffness_Nmm_per_rad, tilt, tilt])


def _axes(bar: Bar, mount: Mount) -> Array:
    """(6, 6) from drawing axes to the mount's own, for translation and rotation."""
    _, frame = bar.centreline.evaluate([mount.station_mm])
    return np.kron(np.eye(2), frame[0])


def mount_springs(bar: Bar, motion: SectionMotion) -> tuple[Springs, ...]:
    """Springs of all mounts on the slices under them."""
    out = []
    for mount in bar.mounts:
        root = np.sqrt(_stiffnesses(mount))[:, None] * _axes(bar, mount)
        half = 0.5 * mount.length_mm
        for _, share, slice_, rows in motion.over(mount.station_mm - half, mount.station_mm + half):
            out.append(Springs(slice_, np.sqrt(share) * root @ rows))
    return tuple(out)


def free_motions(bar: Bar, motion: SectionMotion, *, about: Array) -> tuple[Array, float]:
    """Rigid motions (k, 6) about a point that the mounts do not resist, orthonormal once rotations are lengths.

    A rotation counts as its length at a quarter of the developed length.

    Returns them with the largest stiffness against a rigid motion, N/mm.
    """
    reach = 0.25 * bar.centreline.length_mm
    scale = np.array([1.0, 1.0, 1.0, 1.0 / reach, 1.0 / reach, 1.0 / reach])
    total = np.zeros((6, 6))
    for mount in bar.mounts:
        half = 0.5 * mount.length_mm
        axes = _axes(bar, mount)
        for station, share, _, _ in motion.over(mount.station_mm - half, mount.station_mm + half):
            point, _ = bar.centreline.evaluate([station])
            carry = axes @ rigid_transfer(point[0] - about) * scale
            total += share * carry.T @ (_stiffnesses(mount)[:, None] * carry)
    values, vectors = np.linalg.eigh(total)
    return vectors[:, values < FREE * values[-1]].T * scale, float(values[-1])


@frozen(eq=False)
class Held:
    """Rigid motions held by springs at one slice, for want of a mount that does.

    Attributes
    ----------
    plane
        The plane whose mean motion is held.
    rows : (k, 3 n)
        Amount of each free motion in the plane's displacement (its own axes).
    stiffness
        N/mm of each. Under loads in balance they carry nothing.
    """

    plane: int
    rows: Array
    stiffness: float

    def springs(self) -> Springs:
        width = self.rows.shape[1]
        rows = np.zeros((len(self.rows), 3 * width))
        rows[:, :width] = np.sqrt(self.stiffness) * self.rows
        return Springs(self.plane // 2, rows)

    def reaction(self, displacement: Array) -> Array:
        """(k, n_cases) force in each, from displacements (n_planes, 3 n, n_cases) in plane axes."""
        return np.asarray(self.stiffness * (self.rows @ displacement[self.plane]))


def hold(bar: Bar, motion: SectionMotion) -> Held:
    """Hold what the mounts leave free (the turning of a bar in its bushings, as a rule) at the middle of the bar."""
    mesh = motion.mesh
    ends = mesh.stations[0:-1:2]
    plane = 2 * int(np.argmin(np.abs(ends - bar.middle_mm)))
    about = mesh.origins[plane]
    free, stiffness = free_motions(bar, motion, about=about)
    # Amounts: free motions are orthonormal once rotations are lengths at the bar's reach.
    reach = 0.25 * bar.centreline.length_mm
    weight = np.array([1.0, 1.0, 1.0, reach, reach, reach])
    return Held(plane, (free * weight * weight) @ motion.in_drawing_axes(plane), stiffness)
