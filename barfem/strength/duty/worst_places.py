"""Which places are counted: the worst by an upper estimate first, until none that is left can be worse by over 1 %.

Each counted place tightens the bound of every place that responds like it (`similarity`), so that a mirror image or a
neighbour need not be counted as well.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.strength.duty.damage_result import PlaceCycles
from barfem.strength.duty.interpolate import TravelResponse, Weights
from barfem.strength.duty.miner import DamageLines
from barfem.strength.duty.one_place import cycles_at, damage_of
from barfem.strength.duty.rainflow import Residue
from barfem.strength.duty.similar_places import (
    bound_by_similarity,
    equivalent_bounds,
    largest_equivalent,
    similarity,
    thinned,
)
from barfem.strength.duty.turning_points import TurningPoints
from barfem.strength.duty.von_mises import von_mises_coordinates

__all__ = ["NO_WORSE", "CountedPlaces", "Counting"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

# Two places whose damage differs by less than this are as good as one: lives are stated with two digits.
NO_WORSE = 1.01
_MOST_KEPT = 500_000


@frozen
class CountedPlaces:
    """`places` (counted,) in the order in which they were counted.

    `damage` (survivals + 1, counted) as `damage_of` gives it; `bound` (all places,) of the damage at the first
    survival, zero where nothing can be (above yield: no life; no cycle above the endurance limit: no harm).
    """

    places: Index
    damage: Array
    bound: Array


@frozen
class Counting:
    """What the places are counted with.

    Attributes
    ----------
    points
        The history's turning points.
    toward (places, 3)
        Tensor at full travel, which gives the sign.
    extreme_left_mm, extreme_right_mm (corners,)
        Travels between which the whole history lies (`History.corners`).
    factors
        Shares of the median strength, one a survival: the first is the one that is judged.
    """

    points: TurningPoints
    response: TravelResponse
    lines: DamageLines
    toward: Array
    extreme_left_mm: Array
    extreme_right_mm: Array
    factors: tuple[float, ...]
    residue: Residue

    def worst(self, upper: Array, *, max_places: int) -> CountedPlaces:
        """Count places, at most so many, until the rest can be left; `upper` (places,) estimates their damage.

        Of the places above yield, which have no life whatever their damage, only the most stressed is counted.
        """
        lines = self.lines
        bound, best = upper.copy(), 0.0
        places: list[int] = []
        damage: list[Array] = []

        def count(place: int) -> PlaceCycles:
            cycles = self._cycles(place)
            places.append(place)
            damage.append(damage_of(cycles, lines.at(np.array([place])), self.factors))
            return cycles

        above_yield = lines.peak_MPa > lines.yield_MPa
        if above_yield.any():
            count(int(np.argmax(np.where(above_yield, lines.peak_MPa / lines.yield_MPa, -np.inf))))
        bound[above_yield] = 0.0
        open_ = ~above_yield
        looked = False
        while len(places) < max_places and open_.any():
            place = int(np.argmax(np.where(open_, bound, -np.inf)))
            if places and bound[place] <= NO_WORSE * best and (looked or best > 0.0):
                break
            cycles = count(place)
            open_[place] = False
            best = max(best, float(damage[-1][0]))
            if best <= 0.0 and not looked:
                looked = True
                harmless, nearest = self._harmless()
                bound[harmless] = 0.0
                if harmless[open_].all() and nearest != place and open_[nearest] and len(places) < max_places:
                    count(nearest)
            others = np.flatnonzero(open_ & (bound > NO_WORSE * best))
            if others.size:
                bound[others] = np.minimum(bound[others], self._bound(cycles, place, others))
        return CountedPlaces(np.array(places, np.intp), np.stack(damage, axis=1), bound)

    @cached_property
    def weights(self) -> Weights | None:
        """Of the turning points, unless they are so many that memory counts more than time."""
        if self.points.sample.size > _MOST_KEPT:
            return None
        return self.response.weights(self.points.left_mm, self.points.right_mm)

    def _cycles(self, place: int) -> PlaceCycles:
        return cycles_at(
            self.response,
            place,
            self.toward[place],
            left_mm=self.points.left_mm,
            right_mm=self.points.right_mm,
            residue=self.residue,
            weights=self.weights,
        )

    def _bound(self, cycles: PlaceCycles, place: int, others: Index) -> Array:
        """What the counted `cycles` of one place say of the damage at `others` (others,)."""
        left, right = self.extreme_left_mm, self.extreme_right_mm
        # The extremes, and half-way to them from their middle.
        a = np.concatenate([left, 0.5 * (left + left.mean())])
        b = np.concatenate([right, 0.5 * (right + right.mean())])
        ((_, stress),) = self.response.at(np.append(others, place)).pieces(a, b)
        scale, apart = similarity(von_mises_coordinates(stress), others.size, np.arange(others.size))
        return bound_by_similarity(
            thinned(cycles),
            self.lines.at(others),
            scale=scale,
            apart_MPa=apart,
            reversals=self.points.sample.size,
            strength_share=self.factors[0],
        )

    def _harmless(self) -> tuple[NDArray[np.bool_], int]:
        """Places (places,) that no cycle brings above the endurance limit, and the one that comes nearest to it."""
        ((_, stress),) = self.response.pieces(self.extreme_left_mm, self.extreme_right_mm)
        limit = self.factors[0] * self.lines.limit_MPa
        least, share = (bound / limit for bound in equivalent_bounds(stress, self.lines))
        open_ = np.flatnonzero((share > 1.0) | (share >= least.max()))
        share[open_] = largest_equivalent(stress[:, open_], self.lines.at(open_)) / limit[open_]
        return share <= 1.0, int(np.argmax(share))
