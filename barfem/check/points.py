"""Every point at which a bar's stress is looked for, as one row, with its stress and its stress-life line.

For what has to look at all of them at once: duty, travel histories, critical planes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.check.endurance import lines_at
from barfem.check.solved import CYCLE, Solved
from barfem.model.frozen import frozen
from barfem.strength.cycle import Cycle, torsion_share
from barfem.strength.duty.miner import DamageLines
from barfem.strength.duty.von_mises import plane_von_mises
from barfem.strength.section_map import BORE

__all__ = ["Points", "checked_points", "damage_lines_of", "stress_at"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@frozen
class Points:
    """Points (q,) of the checked regions: the sample each belongs to, and its number round the section."""

    sample: Index
    point: Index
    in_bore: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.sample)


def checked_points(solved: Solved) -> Points:
    """All points of the regions that are checked."""
    samples, maps = solved.samples, solved.maps
    checked = np.array([region.checked for region in samples.regions])[samples.region]
    sample, point = np.nonzero(maps.exists[maps.index] & checked[:, None])
    return Points(sample, point, np.asarray(maps.surface[point] == BORE))


def stress_at(solved: Solved, points: Points, resultants: Array) -> Array:
    """Stress [MPa] (k, q, 3), along, round and shear, from resultants (k, n, 6) at the samples."""
    ss, hoop, shear = solved.maps.stress(slice(0, resultants.shape[1]), np.moveaxis(resultants, 1, 0))
    at = (points.sample, slice(None), points.point)
    out = np.zeros((len(resultants), len(points), 3))
    out[..., 0], out[..., 2] = ss[at].T, shear[at].T
    if hoop is not None:
        out[..., 1] = hoop[at].T
    return out


def damage_lines_of(
    solved: Solved, setting: int, points: Points, *, peak_MPa: Array, amplitude_MPa: Array
) -> DamageLines:
    """Lines at points (q,) of hole setting number `setting` for a duty of greatest von Mises stress `peak_MPa` and
    greatest amplitude `amplitude_MPa`.

    Size and peening go by the kind of stress of the full cycle. What is held against yield at the edge of a hole or
    contact is the peak of its section, without concentration.
    """
    samples, maps = solved.samples, solved.maps
    of_section = np.zeros(len(samples.station_mm))
    np.maximum.at(of_section, points.sample, peak_MPa)
    at_edge = samples.edge[points.sample] > 0
    peak_MPa = np.where(at_edge, of_section[samples.net[points.sample]], peak_MPa)
    one, other = stress_at(solved, points, solved.resultants[setting, list(CYCLE)])
    half = 0.5 * (one - other)
    square = plane_von_mises(half) ** 2
    map_index = maps.index[points.sample]
    in_bend = samples.in_bend[points.sample]
    inside = maps.angle_rad[map_index, points.point] - samples.inward_angle_rad[points.sample]
    cycle = Cycle(
        regions=samples.regions,
        region=samples.region[points.sample],
        in_bore=points.in_bore,
        strength_scale=samples.strength_scale[points.sample],
        from_inside_rad=np.where(in_bend, inside, np.pi),
        radius_mm=np.linalg.norm(maps.position_mm[map_index, points.point], axis=-1),
        amplitude_MPa=np.sqrt(square),
        mean_MPa=plane_von_mises(0.5 * (one + other)),
        torsion_share=torsion_share(half[:, 0], half[:, 1], half[:, 2], square),
        max_MPa=peak_MPa,
    )
    return lines_at(solved.bar, cycle, amplitude_MPa=amplitude_MPa)
