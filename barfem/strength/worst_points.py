"""The points of a bar that rank worst, region by region, found without looking at every point.

Stress changes smoothly round a round section. Every fourth point is looked at first, of flats and the walls of holes
every third: that takes in the corners and the faces' middles. Between two of those a rank can rise above both by no
more than its second differences tell. Where that could make a region's worst point, the points between are looked at
as well. Net sections, whose greatest stress is asked for, are looked at everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.strength.cycle import Cycle, square_MPa2, torsion_share, von_mises_MPa
from barfem.strength.places import Samples
from barfem.strength.section_map import BORE
from barfem.strength.stress_maps import StressMaps

__all__ = ["SAME", "Looked", "Points", "Stress", "at_some", "greatest_of_regions", "wrapped"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

SAME = 1e-6
"""Stresses as near as this are equal: a bar and its mirror image differ by about a tenth of it."""

STEP = 4
CORNERED_STEP = 3  # a divisor of the points from a corner to the middle of a face
BETWEEN = 0.25  # of the second difference: twice a parabola's rise above the greater of two neighbours
ROUND = 0.15  # radii round a section within this of each other: no corners


def greatest_of_regions(values: Array, starts: Index) -> Index:
    """(r, c) sample of the greatest of values (n, c) in each region; the first of those equal to `SAME`."""
    most = np.maximum.reduceat(values, starts, axis=0)
    greatest = most - SAME * np.abs(most)  # a rank is below zero where a surface is not there
    lengths = np.diff(np.append(starts, len(values)))
    number = np.where(values >= np.repeat(greatest, lengths, axis=0), np.arange(len(values))[:, None], len(values))
    return np.minimum.reduceat(number, starts, axis=0)


def at_some(values: NDArray[Any], there: NDArray[np.bool_]) -> NDArray[Any]:
    """Of values that broadcast to places (n, c, p): those at some, one after the other."""
    return np.asarray(np.broadcast_to(values, there.shape)[there])


def wrapped(angle: Array) -> Array:
    """The same angle in [-pi, pi)."""
    return (angle + np.pi) % (2.0 * np.pi) - np.pi


@frozen
class Stress:
    """Components at some points, with the states along axis 1: sigma_ss, sigma_thetatheta (None: zero), tau_stheta."""

    ss: Array
    hoop: Array | None
    shear: Array

    @cached_property
    def square_MPa2(self) -> Array:
        """Square of the von Mises stress in every state."""
        return square_MPa2(self.ss, self.hoop, self.shear)

    def at(self, places: Any) -> Stress:
        """At some of the places."""
        hoop = None if self.hoop is None else self.hoop[places]
        return Stress(self.ss[places], hoop, self.shear[places])

    def of_cycle(self, ends: tuple[int, int]) -> dict[str, Any]:
        """Amplitude and mean of the cycle between two states, torsion's share, and the greatest over all states."""
        one, other = ends

        def part(sign: float) -> tuple[Array, Array | None, Array]:
            ss, hoop, shear = (
                None if x is None else 0.5 * (x[:, one] + sign * x[:, other]) for x in (self.ss, self.hoop, self.shear)
            )
            return ss, hoop, shear  # type: ignore[return-value]

        half, mean = part(-1.0), part(1.0)
        square = square_MPa2(*half)
        return {
            "amplitude_MPa": np.sqrt(np.maximum(square, 0.0)),
            "mean_MPa": von_mises_MPa(*mean),
            "torsion_share": torsion_share(*half, square),
            "max_MPa": np.sqrt(np.maximum(self.square_MPa2.max(axis=1), 0.0)),
        }


@frozen
class Looked:
    """Stress (n, states, c, p) at every `step`th point of some samples, `rows`."""

    rows: Index
    step: int
    stress: Stress


@frozen
class Points:
    """All points of a bar's samples; `resultants` (n, states, c, 6), `cycle` the two states that are its ends."""

    samples: Samples
    maps: StressMaps
    resultants: Array
    cycle: tuple[int, int]

    @cached_property
    def starts(self) -> Index:
        """(r,) first sample of each region."""
        return np.searchsorted(self.samples.region, np.arange(len(self.samples.regions)))

    @cached_property
    def edges(self) -> Index:
        """Samples that are edges of holes or contacts."""
        return np.flatnonzero(self.samples.edge > 0)

    @cached_property
    def upward(self) -> Array:
        """Factors (n, p) within 1e-9 of 1 that let the upper, else the front one win of points alike but for rounding.

        So that top and bottom of a bar in reversed bending are not named at random.
        """
        a, b = (self.samples.frame[:, 1:] @ np.array([2e-10, 0.0, 8e-10])).T[:, :, None]
        cosine, sine = np.cos(self.maps.angle_rad), np.sin(self.maps.angle_rad)
        return np.asarray(1.0 + a * cosine[self.maps.index] + b * sine[self.maps.index])

    @cached_property
    def _radius_mm(self) -> Array:
        return np.linalg.norm(self.maps.position_mm, axis=-1)  # (u, p)

    @cached_property
    def surfaces(self) -> dict[int, slice]:
        """The points of each surface."""
        surface = self.maps.surface
        return {
            number: slice(int(found[0]), int(found[-1]) + 1)
            for number in sorted(set(surface.tolist()))
            if len(found := np.flatnonzero(surface == number))
        }

    @cached_property
    def acting(self) -> NDArray[np.bool_]:
        """(n, c) whether anything acts at a sample in any state."""
        return np.asarray(self.resultants.any(axis=(1, 3)))

    @cached_property
    def looked(self) -> tuple[Looked, ...]:
        """By step, the smallest first: net sections at every point, those with corners and walls at every third.

        Edges at which nothing acts, those of other uses of a hole, are left out.
        """
        steps = np.full(len(self.maps.exists), STEP)
        for part in self.surfaces.values():
            radius, exists = self._radius_mm[:, part], self.maps.exists[:, part]
            round_ = radius.min(axis=1) >= (1.0 - ROUND) * radius.max(axis=1)
            steps[~round_ & exists.any(axis=1)] = CORNERED_STEP
            points = radius.shape[1]
            if points % (STEP * CORNERED_STEP) or points < 4 * STEP:
                steps[:] = 1
        of_sample = steps[self.maps.index]
        of_sample[self.samples.net[self.edges]] = 1  # the greatest of these is asked for
        of_sample[self.edges[~self.acting[self.edges].any(axis=1)]] = 0
        return tuple(
            Looked(found, step, self._stress_of(found, step))
            for step in sorted(set(of_sample.tolist()) - {0})
            if len(found := np.flatnonzero(of_sample == step))
        )

    def _stress_of(self, rows: Index, step: int) -> Stress:
        matrix = self.maps.matrix[:, ::step] if step > 1 else self.maps.matrix
        loads = self.resultants[rows]
        index, flat = self.maps.index[rows], loads.reshape(len(rows), -1, loads.shape[-1])

        def component(number: int) -> Array:
            found = np.matmul(flat, np.swapaxes(matrix[index, :, number], 1, 2))
            return np.asarray(found.reshape(*loads.shape[:-1], -1))

        return Stress(component(0), component(1) if self.maps.hoop[index].any() else None, component(2))

    def stress(self, sample: Index, copy: Index, point: Index) -> Stress:
        """At points (q,) given by three indices: components (q, states)."""
        matrix = self.maps.matrix[self.maps.index[sample], point]  # (q, 3, 6)
        found = np.matmul(self.resultants[sample, :, copy], np.swapaxes(matrix, 1, 2))
        return Stress(found[..., 0], found[..., 1], found[..., 2])

    def square_round(self, sample: Index, copy: Index, state: Index) -> Array:
        """Square of the von Mises stress at all points of sections: (q, p)."""
        matrix = self.maps.matrix[self.maps.index[sample]]  # (q, p, 3, 6)
        found = np.matmul(matrix, self.resultants[sample, state, copy][:, None, :, None])[..., 0]
        return square_MPa2(found[..., 0], found[..., 1], found[..., 2])

    def peak_ranks(self, weights: Sequence[Array]) -> Array:
        """Square of the greatest von Mises stress over states (n, c, p) at all points that may be a region's greatest,
        times any of the `weights` (n,); -1 at the others. Alike points are told apart by `upward`.
        """
        rank = np.full((len(self.samples.region), self.resultants.shape[2], len(self.maps.surface)), -1.0)
        for looked in self.looked:
            section = np.flatnonzero(self.samples.edge[looked.rows] == 0)  # edges count for fatigue alone
            rows = looked.rows[section]
            square = (
                looked.stress.at(section).square_MPa2 if len(rows) < len(looked.rows) else looked.stress.square_MPa2
            )
            rank[rows, :, :: looked.step] = square.max(axis=1) * self.upward[rows, None, :: looked.step]
        for part in self.surfaces.values():
            for sample, copy, point in self.between(rank, part, weights):
                found = self.stress(sample, copy, point).square_MPa2.max(axis=1)
                rank[sample, copy, point] = found * self.upward[sample, point]
        return rank

    def cycle_there(self, looked: Looked, there: NDArray[np.bool_]) -> Cycle:
        """The cycle at points (n, c, p) of what was looked at, one after the other."""
        of_cycle = looked.stress.of_cycle(self.cycle)
        edge = np.flatnonzero(self.samples.edge[looked.rows] > 0)
        if len(edge):
            of_cycle["max_MPa"][edge] = self._greatest_of_net[looked.rows[edge]][..., None]
        sample = looked.rows[:, None, None]
        point = np.arange(0, len(self.maps.surface), looked.step)[None, None]
        whole = bool(there.all())
        arrays: dict[str, Any] = {
            name: values.ravel() if whole and values.shape == there.shape else at_some(values, there)
            for name, values in (of_cycle | self._place(sample, point)).items()
        }
        return Cycle(regions=self.samples.regions, **arrays)

    def _place(self, sample: Index, point: Index) -> dict[str, Any]:
        """What a cycle says of its place, beside the stress; as the indices broadcast."""
        samples, index = self.samples, self.maps.index[sample]
        inside = wrapped(self.maps.angle_rad[index, point] - samples.inward_angle_rad[sample])
        return {
            "region": samples.region[sample],
            "in_bore": self.maps.surface[point] == BORE,
            "strength_scale": samples.strength_scale[sample],
            "from_inside_rad": np.where(samples.in_bend[sample], inside, np.pi),
            "radius_mm": self._radius_mm[index, point],
        }

    def cycle_everywhere(self, rows: Index, part: slice) -> Cycle:
        """The cycle at a `part` of the points of some samples: arrays (n, c, p), one point after the other."""
        looked = Looked(rows, 1, self._stress_of(rows, 1))
        there = np.zeros((len(rows), self.resultants.shape[2], len(self.maps.surface)), bool)
        there[..., part] = True
        return self.cycle_there(looked, there)

    def cycle_at(self, sample: Index, copy: Index, point: Index) -> Cycle:
        """The cycle at points (q,) given by three indices."""
        of_cycle = self.stress(sample, copy, point).of_cycle(self.cycle)
        edge = np.flatnonzero(self.samples.edge[sample] > 0)
        of_cycle["max_MPa"][edge] = self._greatest_of_net[sample[edge], copy[edge]]
        return Cycle(regions=self.samples.regions, **of_cycle, **self._place(sample, point))

    @cached_property
    def _greatest_of_net(self) -> Array:
        """(n, c) greatest von Mises stress of the section that is left at a hole or contact; zero but at edges."""
        out = np.zeros((len(self.samples.region), self.resultants.shape[2]))
        if len(self.edges):
            everywhere = self.looked[0]  # the sections that are looked at at every point
            at = np.searchsorted(everywhere.rows, self.samples.net[self.edges])
            out[self.edges] = np.sqrt(everywhere.stress.square_MPa2.max(axis=(1, 3)))[at]
        return out

    def between(self, rank: Array, part: slice, weights: Sequence[Array]) -> list[tuple[Index, Index, Index]]:
        """Samples, copies and points between those looked at, of a surface's `part`, where a worst one may be."""
        most = rank.max(axis=2)
        greatest = [np.maximum.reduceat(weight[:, None] * most, self.starts, axis=0) for weight in weights]
        out = []
        for looked in self.looked:
            rows, step = looked.rows, looked.step
            if step == 1:
                continue
            coarse = rank[rows, :, part.start : part.stop : step]
            after = np.roll(coarse, -1, axis=2)
            bend = np.abs(np.roll(coarse, 1, axis=2) - 2.0 * coarse + after)
            bound = np.maximum(coarse, after) + BETWEEN * np.maximum(bend, np.roll(bend, -1, axis=2))
            may_be = np.zeros(bound.shape, bool)
            for weight, of_region in zip(weights, greatest, strict=True):
                may_be |= weight[rows, None, None] * bound >= of_region[self.samples.region[rows]][..., None]
            row, copy, interval = np.nonzero(may_be & (bound > 0.0))
            if not len(row):
                continue
            point = part.start + step * interval[:, None] + np.arange(1, step)
            found = np.broadcast_arrays(rows[row][:, None], copy[:, None], point)
            out.append((found[0].ravel(), found[1].ravel(), found[2].ravel()))
        return out
