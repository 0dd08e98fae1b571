"""The samples of a travel history at which some stress may turn, found once for all places and hole settings.

Stress at a place is nearly a sum of both travels, a left + b right, with its own a and b. It turns where travel turns
in the *direction* (a, b) of the plane (left, right): roll is -45 deg, heave 45 deg, left alone 0, right alone 90. A
sample is kept when the travel along any one of a fan of directions turns there, after the cycles smaller than the
hysteresis have been taken out (rainflow filter: the remaining cycles are untouched).

What is lost, for a stress s = g u . (left, right) with unit vector u and gradient g in MPa/mm:

- u is a direction of the fan: cycles of a range below g x hysteresis, exactly, and no other.
- u lies between two directions a fan step d apart: a cycle's peak is low by at most g (hysteresis / cos(d/2) +
  L tan(d/2) / 2), L the travel across u between kept samples. On a smooth loop of radius r it is g r (1 - cos(d/2)):
  0.9 % of the amplitude at the default step of 15 deg. `excursion_mm` measures it on the history itself, halfway
  between the directions.

Measured halfway, not bounded there; `damage` therefore counts the governing place once more on every sample.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.strength.duty.history import History
from barfem.strength.duty.reversals import filtered_turning_points

__all__ = ["DEFAULT_DIRECTIONS_DEG", "TurningPoints", "travel_turning_points"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]

DEFAULT_DIRECTIONS_DEG = tuple(15.0 * i for i in range(-6, 6))
_THREADS = 2
_WIDEST_STEP_DEG = 30.0


@frozen
class TurningPoints:
    """The kept samples of a history; arrays (kept,) unless said.

    Attributes
    ----------
    sample
        Sample numbers in the history, ascending; the first and the last sample are among them.
    left_mm, right_mm
        Travel there.
    hysteresis_mm
        Cycles of a smaller travel range, measured along each direction, were taken out.
    directions_deg
        The fan, in the plane (left, right).
    excursion_mm
        The furthest that any sample left out reaches beyond both kept neighbours, in the directions halfway between
        those of the fan (steps wider than 30 deg are no part of it).
    samples
        How many the history has.
    duration_s
        Of the history.
    source
        Name of the history.
    """

    sample: Index
    left_mm: Array
    right_mm: Array
    hysteresis_mm: float
    directions_deg: tuple[float, ...]
    excursion_mm: float
    samples: int
    duration_s: float
    source: str


def travel_turning_points(
    history: History, *, hysteresis_mm: float, directions_deg: ArrayLike = DEFAULT_DIRECTIONS_DEG
) -> TurningPoints:
    """The samples at which stress may turn, for all places at once.

    Parameters
    ----------
    hysteresis_mm
        Travel range below which a cycle is noise, measured along each direction: for equal and opposite travel +-x its
        range along roll is 2 sqrt(2) x.
    directions_deg
        The fan; one direction is enough for a history of roll alone.

    Raises
    ------
    InputError
        `hysteresis_mm` is negative, or so large that no travel is left; no direction.
    """
    angles = np.unique(np.mod(np.atleast_1d(np.asarray(directions_deg, float)) + 90.0, 180.0) - 90.0)
    if not np.isfinite(hysteresis_mm) or hysteresis_mm < 0.0:
        raise InputError(f"a hysteresis of {hysteresis_mm} mm is not possible.", expected="0 or more, such as 0.2 mm.")
    if angles.size == 0 or not np.all(np.isfinite(angles)):
        raise InputError("no direction of travel to look in.", expected="angles in degrees, such as -45 for roll.")
    left, right = history.left_mm, history.right_mm
    span = float(np.hypot(np.ptp(left), np.ptp(right)))
    if hysteresis_mm >= span:
        raise InputError(
            f"a hysteresis of {hysteresis_mm:g} mm takes out all of the history, which spans {span:.4g} mm.",
            where=history.source,
            expected="a small share of the travel.",
        )

    def turns(angle: float) -> Index:
        return filtered_turning_points(_along(history, angle), hysteresis=hysteresis_mm)

    kept = np.zeros(history.samples, bool)
    kept[0] = kept[-1] = True
    with ThreadPoolExecutor(_THREADS) as pool:
        for position in pool.map(turns, angles):
            kept[position] = True
        sample = np.flatnonzero(kept)
        gap = np.diff(np.append(angles, angles[0] + 180.0))
        # Beyond a wide gap lie the directions that the fan is blind to by intent.
        measured = (angles + 0.5 * gap)[gap <= _WIDEST_STEP_DEG]
        measured = measured if measured.size else angles
        excursion = max(pool.map(lambda angle: _excursion(_along(history, angle), sample), measured))
    return TurningPoints(
        sample=sample,
        left_mm=left[sample],
        right_mm=right[sample],
        hysteresis_mm=float(hysteresis_mm),
        directions_deg=tuple(float(angle) for angle in angles),
        excursion_mm=float(excursion),
        samples=history.samples,
        duration_s=history.duration_s,
        source=history.source,
    )


def _along(history: History, angle_deg: float) -> Array:
    """Travel along a direction of the plane (left, right) [mm]."""
    angle = np.deg2rad(angle_deg)
    out = history.left_mm * np.cos(angle)
    out += history.right_mm * np.sin(angle)
    return out


def _excursion(signal: Array, sample: Index) -> float:
    """How far `signal` goes beyond both kept neighbours between them, at most."""
    highest, lowest = np.maximum.reduceat(signal, sample)[:-1], np.minimum.reduceat(signal, sample)[:-1]
    ends = signal[sample]
    over = highest - np.maximum(ends[1:], ends[:-1])
    under = np.minimum(ends[1:], ends[:-1]) - lowest
    return max(float(over.max()), float(under.max()), 0.0)
