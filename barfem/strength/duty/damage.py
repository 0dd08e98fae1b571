"""From a travel history to damage and life at the places that matter.

1. Upper estimate of damage at every place (`screening`). The places with the largest are counted, until no other can be
   worse by over 1 % (`worst_places`); the rest are discarded with the bound that the result states.
2. Turning points of both travels, once for all those places, in the directions in which their stress responds.
3. At each of them: tensors interpolated at the turning points, rainflow on the von Mises stress that carries the sign
   of the inner product with the tensor at full travel; amplitude and mean of each cycle from the tensors of its ends.
4. Miner's sum at each survival. The governing place is counted once more on every sample of the history, so that the
   result says what the hysteresis and the turning points left out there.

Memory grows with the history: at most some 200 bytes a sample (white noise), far less where travel is smooth.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError, InputError
from barfem.strength.duty.damage_result import HistoryDamage
from barfem.strength.duty.history import History
from barfem.strength.duty.interpolate import TravelResponse
from barfem.strength.duty.miner import (
    CRITICAL_SUM,
    SURVIVALS,
    DamageLines,
    checked_critical_sum,
    checked_survivals,
    static_status,
)
from barfem.strength.duty.one_place import cycles_at, damage_of
from barfem.strength.duty.rainflow import Residue
from barfem.strength.duty.screening import response_directions, screen
from barfem.strength.duty.turning_points import travel_turning_points
from barfem.strength.duty.von_mises import greatest_amplitude, plane_von_mises, von_mises_product
from barfem.strength.duty.worst_places import Counting
from barfem.strength.fatigue.assess import LifeStatus

__all__ = ["DEFAULT_HYSTERESIS_SHARE", "history_damage", "peak_over_history"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]

MAX_PLACES = 48
# So many places decide in which directions the history's turning points are looked for.
_FOREMOST = 256
# Of the endurance limit: stress below is none, and what its shares are does not matter.
_FELT = 0.01
_DIRECTION_STEP_DEG = 2.0
_MOST_DIRECTIONS = 24
# Travel range, as a share of the history's span, below which a cycle is taken for noise unless a hysteresis is stated.
DEFAULT_HYSTERESIS_SHARE = 0.005


def peak_over_history(response: TravelResponse, history: History) -> tuple[Array, Array]:
    """Greatest von Mises stress and greatest amplitude [MPa] (places,) over the history's extreme travels.

    Von Mises stress is convex, so for a linear response the peak is at a corner of the history's hull.
    """
    at = history.extremes
    response.refuse_extrapolation(history.left_mm, history.right_mm, source=history.source)
    ((_, stress),) = response.pieces(history.left_mm[at], history.right_mm[at])
    return plane_von_mises(stress).max(axis=0), greatest_amplitude(stress)


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
        `damage_lines` with `peak_over_history` as the peak and the amplitude.
    hysteresis_mm
        Travel range taken for noise (`travel_turning_points`); by default 0.5 % of the history's span.
    residue
        "half": one history by ASTM E1049; "repeat": one of many repeats.
    survivals
        Shares of bars that last; the first is the one that is judged: its place governs, and has all the others.
    max_places
        At most so many places are counted; `discarded_share` says whether that was enough.

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

    left, right = history.corners.T
    # Which place governs is a matter of survival: the fewer bars may break, the more the flat lines count.
    upper = screen(history, response, lines, toward, strength_share=factors[0])
    foremost = np.argsort(-upper, kind="stable")[:_FOREMOST]
    directions = _directions(response, toward, foremost, left, right)
    points = travel_turning_points(history, hysteresis_mm=width, directions_deg=directions)

    counting = Counting(points, response, lines, toward, left, right, factors, residue)
    counted = counting.worst(upper, max_places=max_places)
    places, damage = counted.places, counted.damage
    status = static_status(lines.at(places), damage[-1])
    rank = np.lexsort((-damage[-1], -damage[0], status == LifeStatus.STANDS))
    places, damage, status = places[rank], damage[:, rank], status[rank]

    top = int(places[0])
    full = cycles_at(response, top, toward[top], left_mm=history.left_mm, right_mm=history.right_mm, residue=residue)
    on_points = float(damage[0, 0])
    damage[:, 0] = damage_of(full, lines.at(places[:1]), factors)
    status = static_status(lines.at(places), damage[-1])
    largest = damage[-1]
    stands = status == LifeStatus.STANDS
    runout = np.array([(largest / f <= lines.limit_MPa[places]) & stands for f in factors], bool)
    per_repeat = np.where(stands, np.where(runout, 0.0, damage[:-1]), np.nan)
    lives = stands & ~runout
    governing_damage = float(per_repeat[0, 0])
    rest = np.delete(counted.bound, places)
    least = _FELT * lines.at_1e6_MPa[places]
    some = stands[0] and governing_damage > 0.0
    return HistoryDamage(
        places=places,
        damage=per_repeat,
        repeats=np.where(lives, critical / np.where(lives, per_repeat, 1.0), np.nan),
        runout=runout,
        status=status,
        largest_equivalent_MPa=np.where(np.isfinite(largest), largest, np.nan),
        upper_damage=counted.bound,
        discarded_share=(float(rest.max()) / governing_damage if rest.size else 0.0) if some else np.nan,
        governing=top,
        cycles=full,
        left_out_share=1.0 - on_points / governing_damage if some else np.nan,
        out_of_line_share=_out_of_line(response.at(places[:1]), toward[top], left, right, least_MPa=float(least[0])),
        interpolation_share=float(np.max(response.at(places).error_MPa() / np.maximum(lines.peak_MPa[places], least))),
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


def _out_of_line(response: TravelResponse, toward: Array, left: Array, right: Array, *, least_MPa: float) -> float:
    """`out_of_line_share` of one place over some travels; 1 where `toward` is zero and the stress is not.

    0 where no half difference reaches `least_MPa`.
    """
    ((_, stress),) = response.pieces(left, right)
    half = 0.5 * (stress[:, None, 0] - stress[None, :, 0])
    most = float(plane_von_mises(half).max())
    if most <= least_MPa:
        return 0.0
    square = float(von_mises_product(toward, toward))
    part = von_mises_product(half, toward) / square if square > 0.0 else np.zeros(half.shape[:2])
    return float(plane_von_mises(half - part[..., None] * toward).max()) / most
