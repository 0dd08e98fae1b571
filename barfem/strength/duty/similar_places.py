"""What a counted place says of the places that respond like it: mirror images, opposite sides, neighbours.

Von Mises stress is a norm of the tensor, and cycles are counted and weighed through it alone. A place whose tensor goes
with c R T + d, T that of a counted place, c a scale, R any map that keeps the norm (a mirror image, the far side of the
section, another mixture of bending and torsion) and |d| <= e over all of the history, therefore has the cycles of the
counted place times c, each in amplitude and mean within e, and beside them only cycles of an amplitude below e: the
stability of rainflow counting (Cohen-Steiner, Edelsbrunner and Harer, Discrete Comput. Geom. 37 (2007) 103, for the
persistence pairs that closed cycles are), as far as the stress scales as one tensor. Damage at c A + e and c M + e is
then a bound for that place. c and R are the best fit (orthogonal Procrustes: Schonemann, Psychometrika 31 (1966) 1).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from barfem.strength.duty.damage_result import PlaceCycles
from barfem.strength.duty.miner import DamageLines, damage_per_cycle, equivalent_amplitude
from barfem.strength.duty.von_mises import amplitude_and_mean

__all__ = ["bound_by_similarity", "equivalent_bounds", "largest_equivalent", "similarity", "thinned"]

Array = NDArray[np.float64]

# |d| is measured at the corners of the history's hull and half-way to them; what curvature adds between is allowed for.
_BETWEEN_THE_EXTREMES = 1.02
# Amplitudes of a thinned table, in shares of the largest: fine where the harm is done.
_AMPLITUDES = np.concatenate([[0.0], np.geomspace(0.025, 0.25, 61)[:-1], np.geomspace(0.25, 1.0, 141)])
_SPACING = float(np.log(_AMPLITUDES[-1] / _AMPLITUDES[-2]))
_MEANS = 9
_PLACES_AT_ONCE = 256


def similarity(coordinates: Array, place: int, others: NDArray[np.intp]) -> tuple[Array, Array]:
    """(c, e [MPa]) of `others` (others,) against `place`.

    `coordinates` (points, places, 3) are `von_mises_coordinates` at travels that hold the history's extremes.
    """
    ours, theirs = coordinates[:, place], np.moveaxis(coordinates[:, others], 0, 1)
    square = float((ours**2).sum())
    if square <= 0.0:
        return np.zeros(others.size), _BETWEEN_THE_EXTREMES * np.sqrt((theirs**2).sum(axis=2)).max(axis=1)
    left, size, right = np.linalg.svd(ours.T @ theirs)
    scale = size.sum(axis=1) / square
    apart = theirs - scale[:, None, None] * (ours @ (left @ right))
    return scale, _BETWEEN_THE_EXTREMES * np.sqrt((apart**2).sum(axis=2)).max(axis=1)


def thinned(cycles: PlaceCycles) -> PlaceCycles:
    """The same cycles moved on to some hundred pairs of amplitude and mean, with no less damage (and hardly more).

    Each cycle is shared out to the two amplitudes and the two means about it, in inverse proportion to the distance:
    its chord, which lies above a damage that is convex in either. Damage is, but for the bend of its line at the
    endurance limit: what a chord across it is short of is put back by `bound_by_similarity`.
    """
    largest, mean = float(cycles.amplitude_MPa.max(initial=0.0)), float(cycles.mean_MPa.max(initial=0.0))
    if largest <= 0.0:
        return cycles
    a = _AMPLITUDES * largest
    m = np.linspace(0.0, max(mean, 1e-9), _MEANS)
    i, up = _between(a, cycles.amplitude_MPa)
    j, over = _between(m, cycles.mean_MPa)
    table = np.zeros(a.size * m.size)
    for di, share in ((0, 1.0 - up), (1, up)):
        for dj, part in ((0, 1.0 - over), (1, over)):
            cell = (i + di) * m.size + j + dj
            table += np.bincount(cell, weights=cycles.count * share * part, minlength=table.size)
    used = np.flatnonzero(table)
    return PlaceCycles(a[used // m.size], m[used % m.size], table[used])


def bound_by_similarity(
    cycles: PlaceCycles, lines: DamageLines, *, scale: Array, apart_MPa: Array, reversals: int, strength_share: float
) -> Array:
    """Bound of the damage of one repeat at places (places,) like a counted one.

    For bars with `strength_share` of the median strength. `cycles` are those of the counted place, `thinned` or not;
    `reversals` the turning points that they were counted from. Infinity where a mean may reach the tensile strength. A
    cycle below the endurance limit counts as if others lay above.
    """
    out = np.empty(lines.places)
    largest_mean = float(cycles.mean_MPa.max(initial=0.0))
    for start in range(0, lines.places, _PLACES_AT_ONCE):
        part = np.arange(start, min(start + _PLACES_AT_ONCE, lines.places))
        line, c, e = lines.at(part), scale[part], apart_MPa[part]
        # The last row: cycles that the counted place need not have.
        amplitude = np.append(cycles.amplitude_MPa, 0.0)[:, None] * c + e
        mean = np.append(cycles.mean_MPa, largest_mean)[:, None] * c + e
        count = np.append(cycles.count, 0.5 * reversals)
        equivalent = equivalent_amplitude(line, amplitude_MPa=amplitude, mean_MPa=mean, strength_share=strength_share)
        out[part] = count @ (damage_per_cycle(line, equivalent) * _over_the_bend(line, equivalent))
    return out


def _over_the_bend(lines: DamageLines, equivalent_MPa: Array) -> Array:
    """Factor on damage at amplitudes next to the bend of each line, 1 elsewhere.

    There the exponent falls from 2 k - 1 below (Haibach) to k above: between two amplitudes a share s apart a chord in
    logarithms lies below the damage by (k - 1) s / 4 of it at most.
    """
    k = 3.0 / np.log10(lines.at_1e3_MPa / lines.at_1e6_MPa)
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = np.abs(np.log(equivalent_MPa / lines.at_1e6_MPa))
    return np.where(apart < 2.0 * _SPACING, 1.0 + 0.25 * (k - 1.0) * _SPACING, 1.0)


def largest_equivalent(stress_MPa: Array, lines: DamageLines) -> Array:
    """No cycle of the history has a greater reversed amplitude [MPa] (places,): that between any two of its extremes.

    From tensors (points, places, 3) at the extremes. Amplitude and mean are convex in both ends, so for a linear
    response the greatest is between two corners of the history's hull.
    """
    return _greatest_of_pairs(stress_MPa, lines.places, lambda amplitude, mean, part: (
        equivalent_amplitude(lines.at(part), amplitude_MPa=amplitude, mean_MPa=mean),
    ))[0]  # fmt: skip


def equivalent_bounds(stress_MPa: Array, lines: DamageLines) -> tuple[Array, Array]:
    """(least, most) that `largest_equivalent` may be at each place, at the cost of two of its pairs.

    That of the greatest amplitude without mean, and that of the greatest amplitude with the greatest mean.
    """
    amplitude, mean = _greatest_of_pairs(stress_MPa, lines.places, lambda amplitude, mean, part: (amplitude, mean))
    least, most = (equivalent_amplitude(lines, amplitude_MPa=amplitude, mean_MPa=m) for m in (np.zeros(1), mean))
    return least, most


def _greatest_of_pairs(
    stress_MPa: Array, places: int, of: Callable[[Array, Array, NDArray[np.intp]], tuple[Array, ...]]
) -> tuple[Array, ...]:
    """The greatest of each array (pairs, places) that `of` makes of amplitudes, means and the places' numbers."""
    found: list[tuple[Array, ...]] = []
    for start in range(0, places, _PLACES_AT_ONCE):
        part = np.arange(start, min(start + _PLACES_AT_ONCE, places))
        some = stress_MPa[:, part]
        best: tuple[Array, ...] = ()
        for number, one in enumerate(some):  # and the later ones: a pair has one amplitude and one mean
            each = tuple(values.max(axis=0) for values in of(*amplitude_and_mean(one, some[number:]), part))
            best = tuple(map(np.maximum, best, each)) if best else each
        found.append(best)
    return tuple(np.concatenate(each) for each in zip(*found, strict=True))


def _between(nodes: Array, values: Array) -> tuple[NDArray[np.intp], Array]:
    """Number of the node below each value, and how far it is on its way to the next, 0 to 1."""
    i = np.clip(np.searchsorted(nodes, values, side="right") - 1, 0, nodes.size - 2)
    return i, np.clip((values - nodes[i]) / (nodes[i + 1] - nodes[i]), 0.0, 1.0)
