"""Which places are counted: the worst by an upper estimate first, until none that is left can be worse by over 1 %.

Each counted place tightens the bound of every place that responds like it (`likeness`), so that a mirror image or a
neighbour need not be counted as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from barfem.strength.duty.interpolate import TravelResponse, Weights
from barfem.strength.duty.likeness import bound_by_likeness, largest_equivalent, likeness, thinned
from barfem.strength.duty.miner import DamageLines
from barfem.strength.duty.one_place import cycles_at, damage_of
from barfem.strength.duty.rainflow import Residue
from barfem.strength.duty.turning_points import TurningPoints
from barfem.strength.duty.von_mises import von_mises_coordinates

__all__ = ["NO_WORSE", "CountedPlaces", "Counting"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

# Two places whose damage differs by less than this are as good as one: lives are stated with two digits.
NO_WORSE = 1.01
_MOST_KEPT = 500_000


@dataclass(frozen=True)
class CountedPlaces:
    """`places` (counted,) in the order in which they were counted.

    `damage` (survivals + 1, counted) as `damage_of` gives it; `bound` (all places,) of the damage of the weakest bars,
    zero where nothing can be (above yield: no life; no cycle above the endurance limit: no harm).
    """

    places: Index
    damage: Array
    bound: Array


@dataclass(frozen=True)
class Counting:
    """What the places are counted with.

    Attributes
    ----------
    points
        The history's turning points.
    toward (places, 3)
        Tensor at full travel, which gives the sign.
    extreme_left_mm, extreme_right_mm (extremes,)
        The history's extreme travels.
    factors
        Shares of the median strength, one a survival.
    """

    points: TurningPoints
    response: TravelResponse
    lines: DamageLines
    toward: Array
    extreme_left_mm: Array
    extreme_right_mm: Array
    factors: tuple[float, ...]
    residue: Residue

    @property
    def weakest(self) -> int:
        """The survival of the least strength."""
        return int(np.argmin(self.factors))

    def worst(self, upper: Array, *, max_places: int) -> CountedPlaces:
        """Count places, at most so many, until the rest can be left; `upper` (places,) estimates the weakest's damage.

        Of the places above yield, which have no life whatever their damage, only the most stressed is counted.
        """
        lines, left, right = self.lines, self.extreme_left_mm, self.extreme_right_mm
        coordinates = von_mises_coordinates(self._stress(left, right))
        bound, best = upper.copy(), 0.0
        places: list[int] = []
        damage: list[Array] = []
        above_yield = lines.peak_MPa > lines.yield_MPa
        if above_yield.any():
            utilised = lines.peak_MPa / lines.yield_MPa
            places.append(int(np.argmax(np.where(above_yield, utilised, -np.inf))))
            damage.append(self._count(places[0])[0])
        bound[above_yield] = 0.0
        open_ = ~above_yield
        looked = False
        while len(places) < max_places and open_.any():
            place = int(np.argmax(np.where(open_, bound, -np.inf)))
            if places and bound[place] <= NO_WORSE * best and (looked or best > 0.0):
                break
            found, tightened = self._count(place, coordinates, np.flatnonzero(open_ & (bound > NO_WORSE * best)))
            places.append(place)
            damage.append(found)
            open_[place] = False
            best = max(best, float(found[self.weakest]))
            bound = np.minimum(bound, tightened)
            if best <= 0.0 and not looked:
                looked = True
                harmless, nearest = self._harmless(left, right)
                bound[harmless] = 0.0
                if harmless[open_].all() and nearest != place and open_[nearest] and len(places) < max_places:
                    places.append(nearest)
                    damage.append(self._count(nearest)[0])
                open_ &= ~harmless
        return CountedPlaces(np.array(places, np.intp), np.stack(damage, axis=1), bound)

    @cached_property
    def weights(self) -> Weights | None:
        """Of the turning points, unless they are so many that memory counts more than time."""
        if self.points.sample.size > _MOST_KEPT:
            return None
        return self.response.weights(self.points.left_mm, self.points.right_mm)

    def _stress(self, left: Array, right: Array) -> Array:
        """Tensors at the extreme travels and half-way to them from their middle, (points, places, 3)."""
        a = np.concatenate([left, 0.5 * (left + left.mean())])
        b = np.concatenate([right, 0.5 * (right + right.mean())])
        ((_, stress),) = self.response.pieces(a, b)
        return stress

    def _count(self, place: int, coordinates: Array | None = None, others: Index | None = None) -> tuple[Array, Array]:
        """(damage of one place, what that makes of the bound at each of all places: infinity for all but `others`)."""
        cycles = cycles_at(
            self.response,
            place,
            self.toward[place],
            left_mm=self.points.left_mm,
            right_mm=self.points.right_mm,
            residue=self.residue,
            weights=self.weights,
        )
        tightened = np.full(self.response.places, np.inf)
        if coordinates is not None and others is not None and others.size > 1:
            scale, apart = likeness(coordinates, place, others)
            tightened[others] = bound_by_likeness(
                thinned(cycles),
                self.lines.at(others),
                scale=scale,
                apart_MPa=apart,
                reversals=self.points.sample.size,
                strength_share=self.factors[self.weakest],
            )
        return damage_of(cycles, self.lines.at(np.array([place])), self.factors), tightened

    def _harmless(self, left: Array, right: Array) -> tuple[NDArray[np.bool_], int]:
        """Places (places,) that no cycle brings above the endurance limit, and the one that comes nearest to it."""
        ((_, stress),) = self.response.pieces(left, right)
        share = largest_equivalent(stress, self.lines) / (self.factors[self.weakest] * self.lines.at_1e6_MPa)
        return self.lines.has_knee & (share <= 1.0), int(np.argmax(share))
