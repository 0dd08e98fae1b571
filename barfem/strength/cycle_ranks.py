"""How bad the cycle is at the points of a bar, where a region's worst may be.

Three questions: which point has the shortest life, which one the growing load breaks first, whose load is the safety
factor, and which has the least Goodman factor, held against the endurance limit by a rule of its own. They need not be
the same: flaws wake and residual stress relaxes as the load grows, so that of two points equally far from the steel's
strength now, one may reach it at a load a tenth below the other's. Where no life of a region ends, the second is the
worst point in both of the first two.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.distinct import distinct
from barfem.model.frozen import frozen
from barfem.strength.cycle import Cycle, Severities, Severity
from barfem.strength.fatigue.root import rising_root
from barfem.strength.worst_points import Looked, Points, at_some, greatest_of_regions

__all__ = ["cycle_ranks"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

NEAR = 0.005
"""Of the logarithm of what is felt of a load: points this much below a region's worst are still looked at."""

MOST_ROUNDS = 30
MOST_OF_A_STEP = 30.0  # where the mean leaves nothing, or nothing is felt, it is infinite
ENOUGH = 1e-3
"""Of the logarithm of a load: which point is the first at a load so near to that which it bears is known."""


def cycle_ranks(points: Points, severity: Severity) -> tuple[Array, Array, Array]:
    """Ranks (n, c, p) of points that may be their region's worst, the greater the worse, by life, by the load that each
    bears and by the Goodman factor; zero or less at the others. Where no life ends, the first is the second.

    Most edges of holes in flats belong to another use than a copy's: nothing acts there.
    """
    exists, acting = points.maps.exists[points.maps.index], points.acting
    asked = [
        (looked, exists[looked.rows, None, :: looked.step] & acting[looked.rows][:, :, None])
        for looked in points.looked
    ]
    cycle = Cycle.joined([points.cycle_there(looked, there) for looked, there in asked])
    found = severity(cycle)
    rank_found = found.rank()
    by_life = by_load = by_goodman = _laid_out(points, exists, asked, rank_found)
    if found.goodman is not None:
        by_goodman = _laid_out(points, exists, asked, found.goodman())
    looked_at = None if found.use is None else _Known(found, _numbers(points, asked))
    log_n = None if looked_at is None else _bears(points, by_life, looked_at)
    if looked_at is not None and log_n is not None:
        copies = np.arange(acting.shape[1])[None, :, None]
        copy = np.concatenate([at_some(copies, there) for _, there in asked])
        by_load = _laid_out(points, exists, asked, _of_load(found, rank_found, log_n[cycle.region, copy]))
        if _overtaken(points, by_load, log_n, found.endless):
            # Which points lie between the worst is asked at the load that the first of these bears.
            log_n = _settled(points, by_load, looked_at.severities, log_n, found.endless)[1]
            by_load = _laid_out(points, exists, asked, _of_load(found, rank_found, log_n[cycle.region, copy]))
    one = (np.ones(len(by_life)),)
    ranks = {id(rank): rank for rank in (by_life, by_load, by_goodman)}.values()
    between = [at for rank in ranks for part in points.surfaces.values() for at in points.between(rank, part, one)]
    if between:
        several = [np.ravel_multi_index(each, by_life.shape) for each in between]
        sample, copy, point = np.unravel_index(distinct(np.concatenate(several)), by_life.shape)
        beside, upward = severity(points.cycle_at(sample, copy, point)), points.upward[sample, point]
        rank_beside = beside.rank()
        by_life[sample, copy, point] = rank_beside * upward
        if beside.goodman is not None:
            by_goodman[sample, copy, point] = beside.goodman() * upward
        if log_n is not None:
            by_load[sample, copy, point] = (
                _of_load(beside, rank_beside, log_n[points.samples.region[sample], copy]) * upward
            )
    if log_n is None:
        return by_life, by_life, by_goodman
    by_load, _ = _settled(points, by_load, lambda *at: severity(points.cycle_at(*at)), log_n, found.endless)
    worst = np.maximum.reduceat(by_life.max(axis=2), points.starts, axis=0)
    ends = ((worst >= found.endless) & (worst > 0.0))[points.samples.region][..., None]
    return np.where(ends, by_life, by_load) if ends.any() else by_load, by_load, by_goodman


Asked = Sequence[tuple[Looked, NDArray[np.bool_]]]
At = Callable[[Index, Index, Index], Severities]
"""Severities of points (q,) given by their samples, copies and places round the section."""


@frozen
class _Known:
    """Severities of what was looked at, and the number (n, c, p) of each point among them."""

    found: Severities
    number: Index

    def severities(self, sample: Index, copy: Index, point: Index) -> Severities:
        if self.found.at is None:
            raise ValueError("severities with a use are of some points too")
        return self.found.at(self.number[sample, copy, point])


def _numbers(points: Points, asked: Asked) -> Index:
    """Of the points that were asked for (n, c, p), one after the other; zero at others."""
    number = np.zeros((len(points.maps.index), points.resultants.shape[2], len(points.maps.surface)), np.intp)
    at = 0
    for looked, there in asked:
        count = int(np.count_nonzero(there))
        of_looked = np.zeros(there.shape, np.intp)
        of_looked[there] = np.arange(at, at + count)
        number[looked.rows, :, :: looked.step] = of_looked
        at += count
    return number


def _laid_out(points: Points, exists: NDArray[np.bool_], asked: Asked, values: Array) -> Array:
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


def _of_load(found: Severities, rank: Array, log_n: Array) -> Array:
    """Ranks by what is felt of `n` (q,) times the load, below `endless`; NaN: nothing is felt, zero."""
    here = np.isfinite(log_n) & (rank > 0.0)
    if found.use is None or not here.any():
        return np.minimum(rank, 0.0)
    factor = np.exp(log_n - np.maximum(found.use(np.where(here, log_n, 0.0)), -MOST_OF_A_STEP))
    return np.where(here, found.endless / (1.0 + factor), 0.0)


def _bears(points: Points, rank: Array, looked_at: _Known) -> Array | None:
    """Logarithm of the load (r, c) that the point nearest to its strength today bears; NaN where nothing is felt, None
    if that is so everywhere.
    """
    if looked_at.found.use is None:
        return None
    of_section = rank.max(axis=2)
    worst = np.maximum.reduceat(of_section, points.starts, axis=0)
    if not (worst > 0.0).any():
        return None
    region, copy = np.nonzero(worst > 0.0)
    sample = greatest_of_regions(of_section, points.starts)[region, copy]
    here = looked_at.severities(sample, copy, rank[sample, copy].argmax(axis=1))
    if here.use is None:
        return None
    today, endless = worst[region, copy], looked_at.found.endless
    start = np.where(today < endless, np.log(np.maximum(endless / today - 1.0, 1e-9)), 0.0)
    log_n = np.full(worst.shape, np.nan)
    log_n[region, copy] = _borne(here.use, start)
    return log_n


def _borne(use: Callable[[Array], Array], start: Array) -> Array:
    """Where `use`, which rises and may become infinite, is zero: well within `ENOUGH`, looked for from `start` on."""
    return rising_root(use, np.ones_like(start), within=0.01 * ENOUGH, start=start)


def _overtaken(points: Points, rank: Array, log_n: Array, endless: float) -> bool:
    """Whether any point feels more than its strength of the load, logarithm `log_n` (r, c), that its region's bears."""
    worst = np.maximum.reduceat(rank.max(axis=2), points.starts, axis=0)
    return bool(np.any(worst > endless / (1.0 + np.exp(log_n - ENOUGH))))


def _settled(points: Points, rank: Array, severities: At, log_n: Array, endless: float) -> tuple[Array, Array]:
    """The ranks of each region's worst by the load that the worst bears, zero at others, and that load's logarithm.

    `rank` is by what is felt of the load that one point bears, `log_n` (r, c). The first to break bears no more, so
    that it feels the strength at least: those below are out. Of the others the worst at that load is asked what it
    bears in turn, until none feels more than its strength of the load that the last one bears.
    """
    region, copies = points.samples.region, rank.shape[1]
    worst = np.maximum.reduceat(rank.max(axis=2), points.starts, axis=0)
    here = np.isfinite(log_n) & (worst > 0.0)
    # What is felt goes as endless / rank - 1: at the strength that is the load itself.
    strength = endless / (1.0 + np.exp(np.where(here, log_n, 0.0) + NEAR))
    least = np.where(here, np.minimum(strength, worst), np.inf)
    sample, copy, point = np.nonzero(rank >= least[region][..., None])
    if not len(sample):
        return rank, log_n
    place = region[sample] * copies + copy
    order = np.argsort(place, kind="stable")
    sample, copy, point, place = (each[order] for each in (sample, copy, point, place))
    first = np.flatnonzero(np.append(True, np.diff(place) > 0))
    number = np.repeat(np.arange(len(first)), np.diff(np.append(first, len(place))))
    some = severities(sample, copy, point)
    use, at_some_of_them = some.use, some.at
    if use is None or at_some_of_them is None:
        return rank, log_n
    borne = log_n[region[sample[first]], copy[first]]
    for _ in range(MOST_ROUNDS):
        used = np.clip(use(borne[number]), -MOST_OF_A_STEP, MOST_OF_A_STEP)
        most = np.maximum.reduceat(used, first)
        over = np.flatnonzero(most > ENOUGH)
        if not len(over):
            break
        at = np.array([first[i] + used[number == i].argmax() for i in over])
        asked = at_some_of_them(at).use
        if asked is None:
            break
        borne[over] = _borne(asked, borne[over] - np.minimum(most[over], 1.0))
    out = np.minimum(rank, 0.0)
    out[sample, copy, point] = endless / (1.0 + np.exp(borne[number] - used)) * points.upward[sample, point]
    found = log_n.copy()
    found[region[sample[first]], copy[first]] = borne
    return out, found
