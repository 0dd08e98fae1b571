"""Straights cut in two, for studies that follow each place of a bar over its dimensions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from barfem.strength.places import Region, Samples

__all__ = ["in_halves"]


def in_halves(samples: Samples) -> Samples:
    """The same samples with every straight as two regions, cut in its middle.

    A straight between two bends or mounts is worst at one of its ends, and which one changes with the dimensions: of
    a half the worst is a smooth function of them, of the whole it is not.
    """
    regions: list[Region] = []
    region = np.empty_like(samples.region)
    for i, whole in enumerate(samples.regions):
        here = samples.of(i)
        stations = samples.station_mm[here]
        middle = 0.5 * (whole.start_mm + whole.end_mm)
        if whole.kind != "straight" or not stations.min() <= middle < stations.max():
            region[here] = len(regions)
            regions.append(whole)
            continue
        region[here] = len(regions) + (stations > middle)
        regions += [replace(whole, end_mm=middle), replace(whole, start_mm=middle)]
    return replace(samples, region=region, regions=tuple(regions))
