"""Which places a history can damage most: an upper estimate of the damage at every place from few rainflow counts.

Stress at a place is nearly a function of travel along one direction (roll, for most bars). The history is counted
once along each of the few directions in which the places respond. The cycles go into a table from level to level,
each rounded outwards to the level's edge, and every place gets the damage of its direction's table from its own stress
tensors at the levels. What it feels of travel across that direction (gradient times the width of the history there)
is added to every amplitude and mean, and as one more cycle for every reversal across: by the stability of rainflow
counting (two signals never further apart than e have cycles that differ in range by at most 2 e, or are smaller than
2 e; Cohen-Steiner, Edelsbrunner and Harer, Discrete Comput. Geom. 37 (2007) 103, for the persistence pairs that closed
cycles are) no place can be worse, as far as stress is linear in travel and scales as one tensor.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.strength.duty.history import History
from barfem.strength.duty.interpolate import TravelResponse
from barfem.strength.duty.miner import DamageLines, damage_per_cycle, equivalent_amplitude
from barfem.strength.duty.rainflow import count_cycles
from barfem.strength.duty.reversals import filtered_turning_points
from barfem.strength.duty.von_mises import amplitude_and_mean, plane_von_mises, von_mises_product

__all__ = ["LevelTable", "level_table", "response_directions", "screen", "upper_damage"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

LEVELS = 40
_GROUP_STEP_DEG = 2.0
_MOST_GROUPS = 12
# Only places that respond at least so strongly, for their strength, decide which directions are counted.
_STRONG_SHARE = 0.4
_PLACES_AT_ONCE = 512
_THREADS = 2


@frozen
class LevelTable:
    """Cycles of a history along one direction: `count` from edge `low` to edge `high` of levels.

    `left_mm`, `right_mm` (edges,) are the travels at the edges. `across_mm` is the width of the history at right
    angles to the direction, `across_cycles` the cycles there, and `angle_deg` the direction.
    """

    low: Index
    high: Index
    count: Array
    left_mm: Array
    right_mm: Array
    across_mm: float
    across_cycles: float
    angle_deg: float


def response_directions(
    response: TravelResponse,
    reference: Array,
    places: Index,
    *,
    left_mm: Array,
    right_mm: Array,
    step_deg: float,
) -> tuple[Array, Array]:
    """(directions [deg], size [MPa/mm]) in which the signed stress of the places changes, at each of some travels.

    Both (travels, places); directions rounded to `step_deg`, in [-90, 90).
    """
    some = response.at(places)
    toward = reference[places]
    scale = np.maximum(plane_von_mises(toward), 1e-9)
    found = []
    for left, right in zip(left_mm, right_mm, strict=True):
        gradient = some.gradient(float(left), float(right))
        found.append(von_mises_product(np.moveaxis(gradient, 2, 0), toward) / scale)
    pull = np.array(found)  # (travels, side, places)
    angle = np.rad2deg(np.arctan2(pull[:, 1], pull[:, 0]))
    rounded = np.round(angle / step_deg) * step_deg
    return np.mod(rounded + 90.0, 180.0) - 90.0, np.hypot(pull[:, 0], pull[:, 1])


def level_table(history: History, *, angle_deg: float, levels: int = LEVELS) -> LevelTable:
    """Count the history along one direction, cycles rounded outwards to `levels` levels."""
    angle = np.deg2rad(angle_deg)
    along = history.left_mm * np.cos(angle) + history.right_mm * np.sin(angle)
    across = history.right_mm * np.cos(angle) - history.left_mm * np.sin(angle)
    edges = np.linspace(along.min(), along.max(), levels + 1)
    turning = filtered_turning_points(along)
    cycles = count_cycles(along[turning])
    bottom = cycles.mean - 0.5 * cycles.range
    top = cycles.mean + 0.5 * cycles.range
    # Half a unit in the last place of slack, so that a value on an edge stays on it.
    slack = 1e-12 * (edges[-1] - edges[0])
    low = np.clip(np.searchsorted(edges, bottom + slack, side="right") - 1, 0, levels)
    high = np.clip(np.searchsorted(edges, top - slack, side="left"), 0, levels)
    cell = low * (levels + 1) + high
    count = np.asarray(np.bincount(cell, weights=cycles.count, minlength=(levels + 1) ** 2), float)
    used = np.flatnonzero(count)
    # Travel at an edge: on the line through the middles of what the history does at each level, so that it lies
    # within what the history does, and within what was solved.
    level = np.clip(((along - edges[0]) / (edges[1] - edges[0])).astype(np.intp), 0, levels - 1)
    number = np.bincount(level, minlength=levels)
    filled = number > 0
    middle_along = np.bincount(level, weights=along, minlength=levels)[filled] / number[filled]
    middle_across = np.bincount(level, weights=across, minlength=levels)[filled] / number[filled]
    first, last = int(np.argmin(along)), int(np.argmax(along))
    x = np.concatenate([[along[first]], middle_along, [along[last]]])
    y = np.concatenate([[across[first]], middle_across, [across[last]]])
    at = np.interp(edges, x, y)
    return LevelTable(
        low=used // (levels + 1),
        high=used % (levels + 1),
        count=count[used],
        left_mm=edges * np.cos(angle) - at * np.sin(angle),
        right_mm=edges * np.sin(angle) + at * np.cos(angle),
        across_mm=float(np.ptp(across)),
        across_cycles=0.5 * filtered_turning_points(across).size,
        angle_deg=float(angle_deg),
    )


def screen(
    history: History,
    response: TravelResponse,
    lines: DamageLines,
    reference: Array,
    *,
    strength_share: float,
) -> Array:
    """Upper estimate of damage at every place (places,)."""
    every = np.arange(response.places)
    middle = [np.array([0.5 * (side.min() + side.max())]) for side in (history.left_mm, history.right_mm)]
    step = _GROUP_STEP_DEG
    while True:
        angle, size = response_directions(
            response, reference, every, left_mm=middle[0], right_mm=middle[1], step_deg=step
        )
        pull = size[0] / lines.at_1e6_MPa
        strong = pull >= _STRONG_SHARE * pull.max()
        groups = np.unique(angle[0, strong])
        if groups.size <= _MOST_GROUPS:
            break
        step *= 2.0
    apart = np.abs(np.mod(angle[0][:, None] - groups[None, :] + 90.0, 180.0) - 90.0)
    group = np.argmin(apart, axis=1)
    upper = np.empty(response.places)

    def one(number: int) -> None:
        members = np.flatnonzero(group == number)
        if members.size:
            table = level_table(history, angle_deg=float(groups[number]))
            upper[members] = upper_damage(response.at(members), lines.at(members), table, strength_share=strength_share)

    with ThreadPoolExecutor(_THREADS) as pool:
        list(pool.map(one, range(groups.size)))
    return upper


def upper_damage(
    response: TravelResponse, lines: DamageLines, table: LevelTable, *, strength_share: float = 1.0
) -> Array:
    """Upper estimate of the damage of one repeat at every place (places,), as the module says.

    For bars with `strength_share` of the median strength.

    Infinity where a mean may reach the tensile strength. A cycle below the endurance limit counts as if others lay
    above.
    """
    angle = np.deg2rad(table.angle_deg)
    middle_left, middle_right = float(np.median(table.left_mm)), float(np.median(table.right_mm))
    gradient = response.gradient(middle_left, middle_right)
    across = plane_von_mises(gradient[..., 1] * np.cos(angle) - gradient[..., 0] * np.sin(angle))
    half_across = 0.5 * table.across_mm * across
    out = np.empty(response.places)
    for start in range(0, response.places, _PLACES_AT_ONCE):
        part = np.arange(start, min(start + _PLACES_AT_ONCE, response.places))
        some, line, more = response.at(part), lines.at(part), half_across[part]
        ((_, edge),) = some.pieces(table.left_mm, table.right_mm)
        amplitude, mean = amplitude_and_mean(edge[table.low], edge[table.high])
        equivalent = equivalent_amplitude(
            line, amplitude_MPa=amplitude + more, mean_MPa=mean + more, strength_share=strength_share
        )
        damage = table.count @ damage_per_cycle(line, equivalent)
        largest_mean = plane_von_mises(edge).max(axis=0) + more
        crossing = equivalent_amplitude(line, amplitude_MPa=more, mean_MPa=largest_mean, strength_share=strength_share)
        out[part] = damage + table.across_cycles * damage_per_cycle(line, crossing) * (more > 0.0)
    return out
