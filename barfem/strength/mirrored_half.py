"""Of a bar that is its own mirror image, in a cycle that is too: the left half's worst points from the right half's.

What is worst on the right at one end of the cycle is as bad on the left at the other. So stress is looked at on one
half alone; on the other only at the mirror images of what was found, to say at which point and in which state.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.distinct import distinct
from barfem.model.frozen import frozen
from barfem.strength.places import Samples
from barfem.strength.section_map import BORE
from barfem.strength.stress_maps import StressMaps
from barfem.strength.worst_points import Points, Stress, wrapped

__all__ = ["Halves", "halves"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

WITHIN = 1e-9
"""What a length may differ by, of the bar's, and what a map does, of itself."""

ALIKE = 1e-5
"""What a stress may differ by from its mirror image's, of itself or of 1 MPa: both are rounded."""

_OTHER = {"right": "left", "left": "right", None: None}
_BESIDE_EACH_OTHER = np.array([0, 1, 1, 2, 3, 3, 4, 5, 5, 6, 6])
"""Columns of a map that a mirror image may mix: the two forces across, the two moments, cosine and sine of a bolt."""


@frozen(eq=False)
class Halves:
    """Both halves of a symmetric bar's samples.

    `image` (n,) is the mirror image of each sample, `region` (r,) that of each region; `right` are the samples of the
    right half, `looked` the regions that they belong to.
    """

    image: Index
    region: Index
    right: Index
    looked: Index

    def of_right(self, points: Points) -> Points:
        """The right half's points."""
        samples, here = points.samples, self.right
        number = np.full(len(samples.region), -1)
        number[here] = np.arange(len(here))
        region = np.full(len(samples.regions), -1)
        region[self.looked] = np.arange(len(self.looked))
        arrays: dict[str, Any] = {
            name: values[here] for name, values in vars(samples).items() if isinstance(values, np.ndarray)
        }
        arrays |= {"region": region[samples.region[here]], "net": number[samples.net[here]]}
        some = replace(samples, regions=tuple(samples.regions[i] for i in self.looked.tolist()), **arrays)
        return replace(
            points,
            samples=some,
            maps=replace(points.maps, index=points.maps.index[here]),
            resultants=np.ascontiguousarray(points.resultants[here]),
        )

    def both(self, points: Points, found: dict[str, Any], same: float) -> dict[str, Any] | None:
        """What was found (looked at, c) on the right, for all regions (r, c); None where the left is not like it."""
        copies = points.resultants.shape[2]
        out: dict[str, Any] = {}
        for name, values in found.items():
            whole = np.zeros((len(self.region), copies), values.dtype)
            whole[self.looked] = self.right[values] if name.endswith("sample") else values
            out[name] = whole
        left = np.delete(np.arange(len(self.region)), self.looked)
        for name, whole in out.items():
            whole[left] = whole[self.region[left]]
            if name.endswith("sample"):
                whole[left] = self.image[whole[left]]
        if not len(left):
            return out
        copy = np.broadcast_to(np.arange(copies), (len(left), copies)).ravel()
        there = {name: values[left].ravel() for name, values in out.items()}
        peak = self._peaks(points, there, copy, same)
        if peak is None:
            return None
        out["peak_point"][left], out["peak_state"][left] = (each.reshape(len(left), copies) for each in peak)
        for which in ("cycle", "first", "goodman"):
            names = ("sample", "point")
            if which != "cycle" and all(
                np.array_equal(there[f"{which}_{name}"], there[f"cycle_{name}"]) for name in names
            ):
                out[f"{which}_point"][left] = out["cycle_point"][left]
                continue
            cycle = self._cycles(points, there, copy, which)
            if cycle is None:
                return None
            out[f"{which}_point"][left] = cycle.reshape(len(left), copies)
        return out

    def _peaks(self, points: Points, of: dict[str, Array], copy: Index, same: float) -> tuple[Index, Index] | None:
        """Point and state of the peaks (q,) on the left."""
        sample = of["peak_sample"].astype(np.intp)
        square = np.maximum(_round(points, sample, copy).square_MPa2, 0.0)  # (q, states, p)
        over_states = square.max(axis=1)
        point = (over_states * points.upward[sample]).argmax(axis=1)
        there = np.take_along_axis(square, point[:, None, None], axis=2)[..., 0]
        most = there.max(axis=1)
        if np.any(np.abs(np.sqrt(most) - of["peak_MPa"]) > ALIKE * np.maximum(of["peak_MPa"], 1.0)):
            return None
        return point, (there >= (1.0 - same) * most[:, None]).argmax(axis=1)

    def _cycles(self, points: Points, of: dict[str, Array], copy: Index, which: str) -> Index | None:
        """Point of the worst cycles (q,) on the left: that of the same cycle, of several the upper one."""
        sample, maps, samples = of[f"{which}_sample"].astype(np.intp), points.maps, points.samples
        there, point = self.image[sample], of[f"{which}_point"].astype(np.intp)
        cycle = _round(points, sample, copy).of_cycle(points.cycle)
        amplitude = of[f"{which}_amplitude_MPa"]
        scale = ALIKE * np.maximum(amplitude, 1.0)[:, None]
        alike = np.abs(cycle["amplitude_MPa"] - amplitude[:, None]) <= scale
        alike &= np.abs(cycle["mean_MPa"] - of[f"{which}_mean_MPa"][:, None]) <= scale
        kind = amplitude[:, None] * np.abs(cycle["torsion_share"] - of[f"{which}_torsion_share"][:, None])
        alike &= kind <= 10.0 * scale
        alike &= maps.exists[maps.index[sample]]
        alike &= (maps.surface == BORE) == (maps.surface[point] == BORE)[:, None]
        inside = np.abs(wrapped(maps.angle_rad[maps.index[sample]] - samples.inward_angle_rad[sample][:, None]))
        was = np.abs(wrapped(maps.angle_rad[maps.index[there], point] - samples.inward_angle_rad[there]))
        alike &= ~samples.in_bend[sample][:, None] | (np.abs(inside - was[:, None]) <= 1e-6)
        if not alike.any(axis=1).all():
            return None
        upward = np.where(alike, points.upward[sample], 0.0)
        return (upward >= upward.max(axis=1, keepdims=True) - 1e-12).argmax(axis=1)


def _round(points: Points, sample: Index, copy: Index) -> Stress:
    """Stress (q, states, p) at all points of sections."""
    matrix = points.maps.matrix[points.maps.index[sample]]  # (q, p, 3, 6)
    found = points.resultants[sample, :, copy] @ np.swapaxes(matrix.reshape(len(matrix), -1, matrix.shape[-1]), 1, 2)
    ss, hoop, shear = np.moveaxis(found.reshape(*found.shape[:2], -1, 3), 3, 0)
    return Stress(ss, hoop, shear)


def halves(samples: Samples, maps: StressMaps, length_mm: float) -> Halves | None:
    """The halves of a bar of that length; None where their regions, strengths or stress per load are not alike."""
    regions = samples.regions
    start, end = (np.array([getattr(region, key) for region in regions]) for key in ("start_mm", "end_mm"))
    near = WITHIN * length_mm
    of_region = np.empty(len(regions), np.intp)
    image = np.full(len(samples.region), -1)
    for i, region in enumerate(regions):
        there = (np.abs(start[i] + end - length_mm) <= near) & (np.abs(end[i] + start - length_mm) <= near)
        fits = [
            j
            for j in np.flatnonzero(there).tolist()
            if regions[j].kind == region.kind
            and regions[j].side == _OTHER[region.side]
            and regions[j].checked == region.checked
        ]
        if len(fits) != 1:
            return None
        of_region[i] = fits[0]
        here, over = samples.of(i), samples.of(fits[0])
        edges, edges_over = samples.edge[here] > 0, samples.edge[over] > 0
        if not np.array_equal(edges, edges_over) or (edges.any() and fits[0] == i):
            return None
        mine, theirs = (np.arange(each.start, each.stop) for each in (here, over))
        image[mine[~edges]] = theirs[~edges_over][::-1]
        image[mine[edges]] = theirs[edges_over]
    if np.abs(samples.station_mm + samples.station_mm[image] - length_mm).max() > 10.0 * near:
        return None
    if np.any(samples.strength_scale != samples.strength_scale[image]):
        return None
    size = _size(maps)
    if np.any(np.abs(size[maps.index] - size[maps.index[image]]) > WITHIN * size.max(axis=0)):
        return None
    own = of_region[samples.region] == samples.region
    pairs = np.arange(len(regions)) < of_region  # they are in order along the bar: the right one of two comes first
    taken = np.where(own, np.arange(len(image)) <= image, pairs[samples.region])
    right = np.flatnonzero(taken)
    return Halves(image=image, region=of_region, right=right, looked=distinct(samples.region[right]))


def _size(maps: StressMaps) -> Array:
    """(u, 3, loads) sum over points of each component's square, for loads that a mirror image does not mix.

    Over every third point, from the first one on: a mirror image has the same of them.
    """
    matrix = maps.matrix[:, ::3]
    of = _BESIDE_EACH_OTHER[: matrix.shape[-1]]
    return np.asarray(np.einsum("upkl,upkl->ukl", matrix, matrix) @ (of[:, None] == np.arange(of.max() + 1)))
