"""Several bars' points as one bar's: what is asked of a bar's points takes hardly longer of a few bars' at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.distinct import distinct
from barfem.model.frozen import frozen
from barfem.strength.places import Samples
from barfem.strength.stress_maps import StressMaps
from barfem.strength.worst_points import Points

__all__ = ["Together"]

Index = NDArray[np.intp]


@frozen(eq=False)
class Together:
    """The points of several bars, of as many copies, states, loads and points round a section each.

    `first_region` and `first_sample` are where each bar's begin, the end of the last behind them.
    """

    points: Points
    first_region: tuple[int, ...]
    first_sample: tuple[int, ...]

    @staticmethod
    def of(several: Sequence[Points]) -> Together:
        """Of bars in order."""
        samples = [each.samples for each in several]
        regions = _starts([len(each.regions) for each in samples])
        first = _starts([len(each.region) for each in samples])
        points = several[0]
        if len(several) > 1:
            points = Points(
                samples=_samples(samples, regions, first),
                maps=_maps([each.maps for each in several]),
                resultants=np.concatenate([each.resultants for each in several]),
                cycle=points.cycle,
            )
        return Together(points, regions, first)

    @property
    def bar_of_region(self) -> Index:
        """(r,) the number of each region's bar."""
        return np.repeat(np.arange(len(self.first_region) - 1), np.diff(self.first_region))

    def of_bar(self, number: int, found: dict[str, NDArray[Any]]) -> dict[str, NDArray[Any]]:
        """What was found (r, c) of one bar; `*_sample` counts its own samples."""
        regions = slice(self.first_region[number], self.first_region[number + 1])
        first = self.first_sample[number]
        return {
            name: values[regions] - first if name.endswith("sample") else values[regions]
            for name, values in found.items()
        }


def _starts(counts: list[int]) -> tuple[int, ...]:
    return (0, *np.cumsum(counts).tolist())


def _samples(several: Sequence[Samples], regions: Sequence[int], first: Sequence[int]) -> Samples:
    arrays = {
        field.name: np.concatenate([getattr(each, field.name) for each in several])
        for field in fields(Samples)
        if field.name not in ("region", "net", "regions")
    }
    return Samples(
        **arrays,
        region=np.concatenate([each.region + start for each, start in zip(several, regions, strict=False)]),
        net=np.concatenate([each.net + start for each, start in zip(several, first, strict=False)]),
        regions=tuple(region for each in several for region in each.regions),
    )


def _maps(several: Sequence[StressMaps]) -> StressMaps:
    # Bars alike in shape share their maps: they are taken once, and of each what is asked about, mostly a half.
    own: dict[int, list[StressMaps]] = {}
    for each in several:
        own.setdefault(id(each.matrix), []).append(each)
    used = {key: distinct(np.concatenate([each.index for each in alike])) for key, alike in own.items()}
    start = dict(zip(own, _starts([len(rows) for rows in used.values()]), strict=False))
    count = sum(map(len, used.values()))

    def joined(name: str) -> NDArray[Any]:
        first = getattr(several[0], name)
        out = np.empty((count, *first.shape[1:]), first.dtype)
        for key, alike in own.items():
            rows = slice(start[key], start[key] + len(used[key]))
            np.take(getattr(alike[0], name), used[key], axis=0, out=out[rows], mode="clip")  # at once into its place
        return out

    arrays = {field.name: joined(field.name) for field in fields(StressMaps) if field.name not in ("surface", "index")}
    numbers = [np.searchsorted(used[id(each.matrix)], each.index) + start[id(each.matrix)] for each in several]
    return StressMaps(**arrays, surface=several[0].surface, index=np.concatenate(numbers))
