"""What comes out of a history: the cycles of a place, damage and life."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.strength.duty.turning_points import TurningPoints

__all__ = ["HistoryDamage", "PlaceCycles"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]


@frozen
class PlaceCycles:
    """The cycles of one repeat at one place, (cycles,): von Mises amplitude and mean [MPa], and how often."""

    amplitude_MPa: Array
    mean_MPa: Array
    count: Array


@frozen
class HistoryDamage:
    """Damage and life of a history; arrays over the counted places unless said.

    Places are ordered by their damage at the first survival, the one judged, the worst first; before them the one
    without a life, if any has none.

    Attributes
    ----------
    places
        Their numbers among all places.
    damage (survivals, counted)
        Of one repeat; NaN where `status` allows no life.
    repeats (survivals, counted)
        Repeats to failure, critical sum / damage; NaN at `runout` or where `status` allows no life.
    runout (survivals, counted)
        No cycle above `DamageLines.limit_MPa`: no life is claimed, and none is short.
    status (counted,)
        `LifeStatus`: STANDS, or why there is no life.
    largest_equivalent_MPa (counted,)
        Reversed amplitude of the most harmful cycle; NaN where a mean reaches the tensile strength.
    upper_damage (all places,)
        Bound of the damage at the first survival, by screening and by the counted places that respond alike; infinite
        where a mean may reach the tensile strength, zero where nothing is to be had of it (no life, or no harm).
    discarded_share
        The largest bound among the places not counted over the governing damage, both at the first survival: at most
        1.01 unless the number of places counted was limited. NaN where the governing place has no damage.
    governing
        The place (number among all) that comes first, and `cycles` its cycles, counted on every sample of the history
        instead of the turning points; so is its `damage`.
    left_out_share
        1 - damage on the turning points / on every sample, at the governing place and the first survival; NaN
        without damage.
    out_of_line_share
        At the governing place, between any two of the history's extreme travels: the largest part of the half
        difference of tensors at right angles to the tensor at full travel, over the largest half difference (both von
        Mises).
        0: the stress only scales, and the signed count is exact. Far above 0 (0.2, say) its sign is no longer that of
        one load, and cycles may be paired wrongly: look at the critical plane as well.
    interpolation_share
        Largest estimated error of interpolation at the counted places over their peak von Mises stress (or over 1 % of
        their endurance limit, where the peak is less).
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
