"""Joint forces on the solid, and the initial rate from the solid's own flexibility."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Hole
from barfem.model.frozen import frozen
from barfem.solve.solid.motion import SectionMotion

__all__ = ["SectionLoad", "add_load", "hole_load", "joint_wrench", "spread_at"]

Array = NDArray[np.float64]

# Length over which a joint's force comes in, in outside diameters.
SPREAD_DIAMETERS = 1.0


@frozen(eq=False)
class SectionLoad:
    """A unit force and moment at a station of the axis, spread over sections: {plane: (3 n, 6)}, drawing axes.

    Transposed, the same matrices read the mean motion of the place.
    """

    planes: dict[int, Array]

    def motion(self, displacement: Array) -> Array:
        """Mean motion (6, n_cases) from displacements (n_planes, 3 n, n_cases) in plane axes."""
        return np.asarray(sum(matrix.T @ displacement[plane] for plane, matrix in self.planes.items()))


def spread_at(bar: Bar, station: float) -> float:
    """Half the length over which a load at a station is spread: half a diameter, less near a tip."""
    half = 0.5 * SPREAD_DIAMETERS * bar.section.diameter_mm
    return max(0.0, min(half, station, bar.centreline.length_mm - station))


def hole_load(bar: Bar, motion: SectionMotion, station: float) -> SectionLoad:
    """Force and moment at a station on the axis, statically equal, as a body force over the sections beside it."""
    half = spread_at(bar, station)
    point, _ = bar.centreline.evaluate([station])
    planes: dict[int, Array] = {}
    for at, share, slice_, rows in motion.over(station - half, station + half):
        here, _ = bar.centreline.evaluate([at])
        arm = point[0] - here[0]
        # A force at the hole is, at a section `arm` before it, that force and the moment arm x force.
        carry = np.eye(6)
        x, y, z = arm
        carry[3:, :3] = [[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]]
        spread = share * rows.T @ carry
        width = len(spread) // 3
        for k in range(3):
            plane, part = 2 * slice_ + k, spread[k * width : (k + 1) * width]
            planes[plane] = planes[plane] + part if plane in planes else part
    return SectionLoad(planes)


def add_load(loads: Array, load: SectionLoad, wrenches: Array) -> None:
    """Add a section load times wrenches (6, n_cases) to loads (n_planes, 3 n, n_cases)."""
    for plane, matrix in load.planes.items():
        loads[plane] += matrix @ wrenches


def joint_wrench(hole: Hole, force: Array) -> Array:
    """(6, ...) force and moment about the hole's point on the axis of a force (3, ...) at the joint centre."""
    offset = np.array(hole.offset_mm)
    return np.concatenate([force, np.cross(offset, force, axisb=0, axisc=0)])
