"""How bad the cycle is at the points of a bar, where a region's worst may be.

Of lives that end, the shortest is the worst. Where none of a region ends, the point that the growing load breaks first
is the worst, not the one that is used most today: flaws wake and residual stress relaxes as the load grows, so that of
two points equally far from the steel's strength now, one may reach it at a load a tenth below the other's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.strength.cycle import Cycle, Severities, Severity
from barfem.strength.worst_points import Looked, Points, at_some, greatest_of_regions

__all__ = ["cycle_ranks"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

NEAR = 0.06
"""Of the logarithm of what is felt of a load: points this much below a region's worst, at the load that the nearest one
today bears, are no longer looked at."""

MOST_ROUNDS = 6
MOST_OF_A_STEP = 30.0  # where the mean leaves nothing, or nothing is felt, it is infinite
ENOUGH = 1e-3
"""Of the logarithm of a load: which point is the first at a load so near to that which it bears is known."""

ROUGH = 0.03
"""The same, to find the few points that may be the first."""


def cycle_ranks(points: Points, severity: Severity) -> Array:
    """Ranks (n, c, p) of points that may be their region's worst, the greater the worse; -1 at the others.

    Most edges of holes in flats belong to another use than a copy's: nothing acts there.
    """
    exists, acting = points.maps.exists[points.maps.index], points.acting
    asked = [
        (looked, exists[looked.rows, None, :: looked.step] & acting[looked.rows][:, :, None])
        for looked in points.looked
    ]
    cycle = _joined([points.cycle_there(looked, there) for looked, there in asked])
    found = severity(cycle)
    rank = _laid_out(points, exists, asked, found.rank)
    log_n = _bears(points, rank, severity, found)
    if log_n is not None:
        copies = np.arange(acting.shape[1])[None, :, None]
        copy = np.concatenate([at_some(copies, there) for _, there in asked])
        rank = _laid_out(points, exists, asked, _by_load(found, log_n[cycle.region, copy]))
    one = (np.ones(len(rank)),)
    between = [at for part in points.surfaces.values() for at in points.between(rank, part, one)]
    if between:
        sample, copy, point = (np.concatenate(indices) for indices in zip(*between, strict=True))
        beside = severity(points.cycle_at(sample, copy, point))
        values = beside.rank if log_n is None else _by_load(beside, log_n[points.samples.region[sample], copy])
        rank[sample, copy, point] = values * points.upward[sample, point]
    return rank if log_n is None else _settled(points, rank, severity, log_n, found.endless)


def _laid_out(
    points: Points, exists: NDArray[np.bool_], asked: Sequence[tuple[Looked, NDArray[np.bool_]]], values: Array
) -> Array:
    """Values of the points that were asked for, one after the other, as ranks (n, c, p)."""
    rank = np.full((len(exists), points.resultants.shape[2], exists.shape[1]), -1.0)
    at = 0
    for looked, there in asked:
        every = slice(None, None, looked.step)
        count = int(np.count_nonzero(there))
        of_looked = np.where(exists[looked.rows, None, every], np.zeros(there.shape), -1.0)
        of_looked[there] = values[at : at + count] * at_some(points.upward[looked.rows, None, every], there)
        rank[looked.rows, :, every] = of_looked
        at += count
    return rank


def _joined(cycles: Sequence[Cycle]) -> Cycle:
    """One after the other."""
    if len(cycles) == 1:
        return cycles[0]
    names = [name for name in vars(cycles[0]) if name != "regions"]
    arrays = {name: np.concatenate([getattr(cycle, name) for cycle in cycles]) for name in names}
    return Cycle(regions=cycles[0].regions, **arrays)


def _by_load(found: Severities, log_n: Array) -> Array:
    """The ranks, of points whose life does not end by what is felt of `n` (q,) times the load; NaN: as they are."""
    here = np.isfinite(log_n) & (found.rank > 0.0) & (found.rank < found.endless)
    if found.use is None or not here.any():
        return found.rank
    factor = np.exp(log_n - found.use(np.where(here, log_n, 0.0)))
    return np.where(here, found.endless / (1.0 + factor), found.rank)


def _bears(points: Points, rank: Array, severity: Severity, found: Severities) -> Array | None:
    """Logarithm of the load (r, c) that the point nearest to its strength today bears; NaN where a life ends or nothing
    is felt, None if that is so everywhere.
    """
    if found.use is None:
        return None
    of_section = rank.max(axis=2)
    worst = np.maximum.reduceat(of_section, points.starts, axis=0)
    endless = (worst > 0.0) & (worst < found.endless)
    if not endless.any():
        return None
    region, copy = np.nonzero(endless)
    sample = greatest_of_regions(of_section, points.starts)[region, copy]
    here = severity(points.cycle_at(sample, copy, rank[sample, copy].argmax(axis=1)))
    if here.use is None:
        return None
    log_n = np.full(worst.shape, np.nan)
    log_n[region, copy] = _borne(here.use, np.log(found.endless / worst[region, copy] - 1.0), ROUGH)
    return log_n


def _borne(use: Callable[[Array], Array], log_n: Array, within: float) -> Array:
    """Where `use` is zero, by secants from `log_n` on: as good as a few rounds make it."""
    slope, before, value_before = np.ones_like(log_n), log_n, np.zeros_like(log_n)
    for number in range(MOST_ROUNDS):
        value = np.clip(use(log_n), -MOST_OF_A_STEP, MOST_OF_A_STEP)
        if np.all(np.abs(value) < within):
            break
        if number:
            steep = (value - value_before) / np.where(log_n == before, 1.0, log_n - before)
            slope = np.where((steep > 0.1) & (steep < 30.0), steep, slope)
        before, value_before = log_n, value
        log_n = log_n - np.clip(value / slope, -1.0, 1.0)
    return log_n


def _settled(points: Points, rank: Array, severity: Severity, log_n: Array, endless: float) -> Array:
    """Of regions in which no life ends: the ranks near the worst by the load that the worst bears, zero at others."""
    region, copies = points.samples.region, rank.shape[1]
    worst = np.maximum.reduceat(rank.max(axis=2), points.starts, axis=0)
    here = np.isfinite(log_n) & (worst > 0.0) & (worst < endless)
    factor = endless / np.where(here, worst, 1.0) - 1.0
    nearest = np.where(here, endless / (1.0 + factor * np.exp(NEAR)), np.inf)
    sample, copy, point = np.nonzero(rank >= nearest[region][..., None])
    if not len(sample):
        return rank
    place = region[sample] * copies + copy
    order = np.argsort(place, kind="stable")
    sample, copy, point, place = (each[order] for each in (sample, copy, point, place))
    first = np.flatnonzero(np.append(True, np.diff(place) > 0))
    number = np.repeat(np.arange(len(first)), np.diff(np.append(first, len(place))))
    use = severity(points.cycle_at(sample, copy, point)).use
    if use is None:
        return rank
    of_place = _borne(
        lambda each: np.maximum.reduceat(use(each[number]), first),
        np.log(factor[region[sample[first]], copy[first]]),
        ENOUGH,
    )
    used = use(of_place[number])
    out = np.where(here[region][..., None], np.minimum(rank, 0.0), rank)
    out[sample, copy, point] = endless / (1.0 + np.exp(of_place[number] - used)) * points.upward[sample, point]
    return out
