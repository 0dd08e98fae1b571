"""From a travel history to damage and life at the places that matter.

1. Upper estimate of damage at every place (`screening`); the places with the largest are counted, the rest are
   discarded with the bound that the result states.
2. Turning points of both travels, once for all those places, in the directions in which their stress responds.
3. At each of them: tensors interpolated at the turning points, rainflow on the von Mises stress that carries the sign
   of the inner product with the tensor at full travel; amplitude and mean of each cycle from the tensors of its ends.
4. Miner's sum at each survival. The governing place is counted once more on every sample of the history, so that the
   result says what the hysteresis and the turning points left out there.

Memory grows with the history: at most some 200 bytes a sample (white noise), far less where travel is smooth.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError, InputError
from barfem.strength.duty.history import History
from barfem.strength.duty.interpolate import TravelResponse
from barfem.strength.duty.miner import (
    CRITICAL_SUM,
    SURVIVALS,
    DamageLines,
    checked_critical_sum,
    checked_survivals,
    damage_per_cycle,
    equivalent_amplitude,
    static_status,
)
from barfem.strength.duty.rainflow import Residue, count_cycles
from barfem.strength.duty.screening import extreme_samples, response_directions, screen
from barfem.strength.duty.turning_points import TurningPoints, filtered_turning_points, travel_turning_points
from barfem.strength.duty.von_mises import amplitude_and_mean, plane_von_mises, signed_von_mises, von_mises_product
from barfem.strength.fatigue.assess import LifeStatus

__all__ = ["HistoryDamage", "PlaceCycles", "cycles_at", "history_damage", "peak_over_history"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]

MAX_PLACES = 48
_BATCH = 16
_THREADS = 2
_POINTS_FOR_TWO = 2_000_000
_DIRECTION_STEP_DEG = 2.0
_MOST_DIRECTIONS = 24
# Travel range, as a share of the history's span, below which a cycle is taken for noise unless a hysteresis is stated.
DEFAULT_HYSTERESIS_SHARE = 0.005


@dataclass(frozen=True)
class PlaceCycles:
    """The cycles of one repeat at one place, (cycles,): von Mises amplitude and mean [MPa], and how often."""

    amplitude_MPa: Array
    mean_MPa: Array
    count: Array


@dataclass(frozen=True)
class HistoryDamage:
    """Damage and life of a history; arrays over the counted places unless said.

    Places are ordered by their damage at the highest survival asked for, the worst first; before them those without a
    life.

    Attributes
    ----------
    places
        Their numbers among all places.
    damage (survivals, counted)
        Of one repeat; NaN where `status` allows no life.
    repeats (survivals, counted)
        Repeats to failure, critical sum / damage; NaN at `runout` or where `status` allows no life.
    runout (survivals, counted)
        No cycle above the endurance limit: no life is claimed, and none is short.
    status (counted,)
        `LifeStatus`: STANDS, or why there is no life.
    largest_equivalent_MPa (counted,)
        Reversed amplitude of the most harmful cycle; NaN where a mean reaches the tensile strength.
    upper_damage (all places,)
        The upper estimate by which places were screened, at the highest survival; infinite where a mean may reach the
        tensile strength.
    discarded_share
        The largest upper estimate among the places not counted over the governing damage, both at the highest
        survival: below 1 no other place can govern. NaN where the governing place has no damage.
    governing
        The place (number among all) that comes first, and `cycles` its cycles, counted on every sample of the history
        instead of the turning points; so is its `damage`.
    left_out_share
        1 - damage on the turning points / on every sample, at the governing place and the highest survival; NaN
        without damage.
    out_of_line_share
        At the governing place, between any two of the history's extreme travels: the largest part of the half
        difference of tensors at right angles to the tensor at full travel, over the largest half difference (both von
        Mises).
        0: the stress only scales, and the signed count is exact. Far above 0 (0.2, say) its sign is no longer that of
        one load, and cycles may be paired wrongly: look at the critical plane as well.
    interpolation_share
        Largest estimated error of interpolation at the counted places over their peak von Mises stress.
    """

    places: Index
    damage: Array
    repeats: Array
    runout: Bools
    status: NDArray[np.int8]
    largest_equivalent_MPa: Array
    upper_damage: Array
    discarded_share: float
    governing: int
    cycles: PlaceCycles
    left_out_share: float
    out_of_line_share: float
    interpolation_share: float
    turning_points: TurningPoints
    survivals: tuple[float, ...]
    critical_sum: float
    duration_s: float

    @property
    def life_repeats(self) -> Array:
        """(survivals,) at the governing place; NaN without a life."""
        return self.repeats[:, 0]

    @property
    def life_hours(self) -> Array:
        """(survivals,) of driving the history again and again."""
        return self.life_repeats * self.duration_s / 3600.0

    def life_km(self, *, distance_km: float | None = None, speed_km_per_h: float | None = None) -> Array:
        """(survivals,) from the length of one repeat, or from the mean speed.

        Raises
        ------
        InputError
            Not exactly one of both, or one that is not positive.
        """
        given = [value for value in (distance_km, speed_km_per_h) if value is not None]
        if len(given) != 1 or not np.isfinite(given[0]) or given[0] <= 0.0:
            raise InputError(
                "life in km needs either the length of the history or its mean speed.",
                expected="one of them, above 0 (km, or km/h).",
            )
        return self.life_repeats * distance_km if distance_km is not None else self.life_hours * given[0]


def peak_over_history(response: TravelResponse, history: History) -> Array:
    """Greatest von Mises stress [MPa] (places,) over the history's extreme travels.

    Of the 32 furthest in 16 directions. Von Mises stress is convex, so for a linear response the peak is at a corner of
    the history's hull, and within 0.5 % of it here (1 - cos 5.6 deg).
    """
    at = extreme_samples(history)
    response.refuse_extrapolation(history.left_mm, history.right_mm, source=history.source)
    ((_, stress),) = response.pieces(history.left_mm[at], history.right_mm[at])
    return plane_von_mises(stress).max(axis=0)


def cycles_at(
    response: TravelResponse,
    place: int,
    reference: Array,
    *,
    left_mm: Array,
    right_mm: Array,
    residue: Residue = "half",
) -> PlaceCycles:
    """The cycles at one place along a row of travels (points,); `reference` (3,) is its tensor at full travel."""
    signed_parts, tensor_parts = [], []
    for _, stress in response.at(np.array([place])).pieces(left_mm, right_mm):
        tensor = stress[:, 0]
        signed = signed_von_mises(tensor, reference)
        # Of each piece its turning points and ends are all that counting can use: it keeps a long history small.
        turning = filtered_turning_points(signed)
        signed_parts.append(signed[turning])
        tensor_parts.append(tensor[turning])
    tensors = np.concatenate(tensor_parts)
    cycles = count_cycles(np.concatenate(signed_parts), residue=residue)
    amplitude, mean = amplitude_and_mean(tensors[cycles.first], tensors[cycles.second])
    return PlaceCycles(amplitude, mean, cycles.count)


def history_damage(
    history: History,
    response: TravelResponse,
    lines: DamageLines,
    *,
    reference: ArrayLike,
    hysteresis_mm: float | None = None,
    residue: Residue = "half",
    survivals: Sequence[float] = SURVIVALS,
    critical_sum: float = CRITICAL_SUM,
    max_places: int = MAX_PLACES,
) -> HistoryDamage:
    """Damage of one repeat of a history, and repeats to failure.

    Parameters
    ----------
    reference (places, 3)
        Stress tensor at full travel, which gives the sign.
    lines
        `damage_lines` with `peak_over_history` as the peak.
    hysteresis_mm
        Travel range taken for noise (`travel_turning_points`); by default 0.5 % of the history's span.
    residue
        "half": one history by ASTM E1049; "repeat": one of many repeats.
    max_places
        At most so many places are counted.

    Raises
    ------
    InputError
        Travel outside of what was solved, or an option that cannot be.
    BarfemError
        Shapes that do not fit.
    """
    toward = np.asarray(reference, float)
    if toward.shape != (response.places, 3) or lines.places != response.places:
        raise BarfemError(f"damage: {response.places} places, {lines.places} lines, references {toward.shape}")
    if max_places < 1:
        raise InputError(f"{max_places} places cannot be counted.", expected="1 or more.")
    critical = checked_critical_sum(critical_sum)
    shares, factors = checked_survivals(survivals, lines.scatter)
    response.refuse_extrapolation(history.left_mm, history.right_mm, source=history.source)
    span = float(np.hypot(np.ptp(history.left_mm), np.ptp(history.right_mm)))
    width = DEFAULT_HYSTERESIS_SHARE * span if hysteresis_mm is None else hysteresis_mm

    extremes = extreme_samples(history)
    left, right = history.left_mm[extremes], history.right_mm[extremes]
    # Survivals are judged by the weakest bars asked for.
    weakest = int(np.argmin(factors))
    upper = screen(history, response, lines, toward, strength_share=factors[weakest])
    # Where the peak is above yield there is no life, whatever the damage: such a place is never screened away.
    above_yield = lines.peak_MPa > lines.yield_MPa
    order = np.lexsort((-upper, ~above_yield))[:max_places]
    directions = _directions(response, toward, order, left, right)
    points = travel_turning_points(history, hysteresis_mm=width, directions_deg=directions)

    counted: list[Array] = []
    best, done = 0.0, 0
    while done < order.size and (done == 0 or upper[order[done]] >= best):
        part = order[done : done + _BATCH]
        counted.append(_damages(points, response, lines, toward, part, factors, residue))
        best = max(best, float(np.max(counted[-1][weakest], where=~above_yield[part], initial=0.0)))
        done += part.size
    places = order[:done]
    damage = np.concatenate(counted, axis=1)
    status = static_status(lines.at(places), damage[-1])
    rank = np.lexsort((-damage[-1], -damage[weakest], status == LifeStatus.STANDS))
    places, damage, status = places[rank], damage[:, rank], status[rank]

    top = int(places[0])
    full = cycles_at(response, top, toward[top], left_mm=history.left_mm, right_mm=history.right_mm, residue=residue)
    on_points = float(damage[weakest, 0])
    damage[:, 0] = _sum(full, lines.at(places[:1]), factors)
    status = static_status(lines.at(places), damage[-1])
    largest = damage[-1]
    stands = status == LifeStatus.STANDS
    runout = np.array(
        [lines.has_knee[places] & (largest / f <= lines.at_1e6_MPa[places]) & stands for f in factors], bool
    )
    per_repeat = np.where(stands, np.where(runout, 0.0, damage[:-1]), np.nan)
    runout |= stands & (per_repeat <= 0.0)
    lives = stands & ~runout
    governing_damage = float(per_repeat[weakest, 0])
    rest = np.delete(upper, places)
    peak = np.maximum(lines.peak_MPa[places], 1e-9)
    some = stands[0] and governing_damage > 0.0
    return HistoryDamage(
        places=places,
        damage=per_repeat,
        repeats=np.where(lives, critical / np.where(lives, per_repeat, 1.0), np.nan),
        runout=runout,
        status=status,
        largest_equivalent_MPa=np.where(np.isfinite(largest), largest, np.nan),
        upper_damage=upper,
        discarded_share=(float(rest.max()) / governing_damage if rest.size else 0.0) if some else np.nan,
        governing=top,
        cycles=full,
        left_out_share=1.0 - on_points / governing_damage if some else np.nan,
        out_of_line_share=_out_of_line(response.at(places[:1]), toward[top], left, right),
        interpolation_share=float(np.max(response.at(places).error_MPa() / peak)),
        turning_points=points,
        survivals=shares,
        critical_sum=critical,
        duration_s=history.duration_s,
    )


def _directions(response: TravelResponse, toward: Array, places: Index, left: Array, right: Array) -> Array:
    """Directions in which the places' stress responds, at the middle and the furthest travels, no finer than needed."""
    at_left, at_right = np.append(left, np.median(left)), np.append(right, np.median(right))
    step = _DIRECTION_STEP_DEG
    while True:
        angle, size = response_directions(response, toward, places, left_mm=at_left, right_mm=at_right, step_deg=step)
        found = np.unique(angle[size > 1e-6 * max(float(size.max()), 1e-9)])
        if found.size <= _MOST_DIRECTIONS:
            return found if found.size else np.array([-45.0])
        step *= 2.0


def _damages(
    points: TurningPoints,
    response: TravelResponse,
    lines: DamageLines,
    toward: Array,
    places: Index,
    factors: tuple[float, ...],
    residue: Residue,
) -> Array:
    """(survivals + 1, places): damage of one repeat at each survival, and the largest equivalent amplitude."""

    def one(place: int) -> Array:
        cycles = cycles_at(
            response, place, toward[place], left_mm=points.left_mm, right_mm=points.right_mm, residue=residue
        )
        return _sum(cycles, lines.at(np.array([place])), factors)

    # One at a time where a place needs a lot of memory.
    with ThreadPoolExecutor(_THREADS if points.sample.size < _POINTS_FOR_TWO else 1) as pool:
        return np.stack(list(pool.map(one, places)), axis=1)


def _sum(cycles: PlaceCycles, line: DamageLines, factors: tuple[float, ...]) -> Array:
    """(survivals + 1,): damage at each survival, infinite where a mean reaches the strength; largest equivalent."""
    out = np.zeros(len(factors) + 1)
    if cycles.count.size == 0:
        return out
    equivalent = equivalent_amplitude(line, amplitude_MPa=cycles.amplitude_MPa, mean_MPa=cycles.mean_MPa)
    out[-1] = equivalent.max()
    for i, factor in enumerate(factors):
        above = out[-1] / factor > line.at_1e6_MPa
        out[i] = cycles.count @ damage_per_cycle(line, equivalent / factor, ever_above_limit=above)
    return out


def _out_of_line(response: TravelResponse, toward: Array, left: Array, right: Array) -> float:
    """`out_of_line_share` of one place over some travels; 1 where `toward` is zero and the stress is not."""
    ((_, stress),) = response.pieces(left, right)
    half = 0.5 * (stress[:, None, 0] - stress[None, :, 0])
    most = float(plane_von_mises(half).max())
    if most <= 0.0:
        return 0.0
    square = float(von_mises_product(toward, toward))
    part = von_mises_product(half, toward) / square if square > 0.0 else np.zeros(half.shape[:2])
    return float(plane_von_mises(half - part[..., None] * toward).max()) / most
