"""Blocks: so many cycles of each of some amplitudes make one repeat of the duty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
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
from barfem.strength.fatigue.assess import LifeStatus

__all__ = ["BlockDamage", "block_damage"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

_NOTHING = 1e-15  # of the critical sum in one repeat


@frozen
class BlockDamage:
    """Damage and life of blocks.

    Attributes
    ----------
    equivalent_amplitude_MPa (blocks, places)
        Reversed amplitude of the same harm; NaN where the mean reaches the tensile strength.
    damage (survivals, blocks, places)
        Of one repeat, block by block; NaN where `status` allows no life.
    repeats (survivals, places)
        Repeats to failure, critical sum / damage; NaN at `runout` or where `status` allows no life.
    runout (survivals, places)
        No cycle above `DamageLines.limit_MPa`: no life is claimed, and none is short.
    shown_repeats (survivals, places)
        Repeats to which a run-out is shown (`DamageLines.cycles_shown`); infinite where next to nothing is felt, NaN
        where none runs out.
    status (places,)
        `LifeStatus`: STANDS, or why there is no life.
    survivals
        Shares of bars that last so long; 0.5 is the median.
    """

    equivalent_amplitude_MPa: Array
    damage: Array
    repeats: Array
    runout: Bools
    shown_repeats: Array
    status: NDArray[np.int8]
    survivals: tuple[float, ...]
    critical_sum: float

    def governing(self, survival_index: int = 0) -> int:
        """The place of the shortest life; one without a life comes first, then damage, then amplitude."""
        stands = self.status == LifeStatus.STANDS
        largest = np.nan_to_num(self.equivalent_amplitude_MPa, nan=np.inf).max(axis=0)
        if not stands.all():
            return int(np.argmax(np.where(stands, -1.0, largest)))
        total = self.damage[survival_index].sum(axis=0)
        return int(np.argmax(total if total.max() > 0.0 else largest))


def block_damage(
    lines: DamageLines,
    *,
    amplitude_MPa: ArrayLike,
    mean_MPa: ArrayLike,
    cycles: ArrayLike,
    survivals: Sequence[float] = SURVIVALS,
    critical_sum: float = CRITICAL_SUM,
) -> BlockDamage:
    """Damage of one repeat of the blocks, and repeats to failure, at every place.

    Parameters
    ----------
    amplitude_MPa, mean_MPa (blocks, places)
        Von Mises amplitude and mean of each block's cycle (`amplitude_and_mean` of its two ends).
    cycles (blocks,)
        Of each block in one repeat.

    Raises
    ------
    InputError
        No block, a number of cycles that cannot be, or a survival or critical sum that cannot be.
    BarfemError
        A stress that is not finite, or shapes that do not fit.
    """
    amplitude, mean = np.asarray(amplitude_MPa, float), np.asarray(mean_MPa, float)
    count = np.atleast_1d(np.asarray(cycles, float))
    if count.size == 0:
        raise InputError("the duty has no block.", where="[duty] blocks", expected="one block or more.")
    if amplitude.shape != (count.size, lines.places) or mean.shape != amplitude.shape:
        raise BarfemError(
            f"blocks: amplitudes {amplitude.shape} and means {mean.shape}, not ({count.size}, {lines.places})"
        )
    if not (np.all(np.isfinite(amplitude)) and np.all(np.isfinite(mean))):
        raise BarfemError("blocks: an amplitude or a mean is not a finite number")
    for i, number in enumerate(count, start=1):
        if not np.isfinite(number) or number <= 0.0:
            raise InputError(
                f"{number:g} cycles is not possible.", where=f"[duty] blocks {i}, cycles", expected="more than 0."
            )
    critical = checked_critical_sum(critical_sum)
    shares, factors = checked_survivals(survivals, lines.scatter)
    load: dict[str, Any] = {"amplitude_MPa": np.abs(amplitude), "mean_MPa": np.abs(mean)}
    equivalent = equivalent_amplitude(lines, **load)
    largest = equivalent.max(axis=0)
    status = static_status(lines, largest)
    stands = status == LifeStatus.STANDS
    damage = np.empty((len(factors), *amplitude.shape))
    runout = np.empty((len(factors), lines.places), bool)
    used = np.empty((len(factors), lines.places))
    for i, factor in enumerate(factors):
        above = largest / factor > lines.limit_MPa
        runout[i] = ~above & stands
        weaker = equivalent_amplitude(lines, **load, strength_share=factor)
        used[i] = np.sum(count[:, None] / lines.cycles_shown(np.where(runout[i], weaker, 0.0)), axis=0)
        per_cycle = damage_per_cycle(lines, np.where(np.isfinite(weaker), weaker, 0.0), ever_above_limit=above)
        damage[i] = np.where(stands, count[:, None] * per_cycle, np.nan)
    total = damage.sum(axis=1)
    lives = stands & ~runout
    return BlockDamage(
        equivalent_amplitude_MPa=np.where(np.isfinite(equivalent), equivalent, np.nan),
        damage=damage,
        repeats=np.where(lives, critical / np.where(lives, total, 1.0), np.nan),
        runout=runout,
        shown_repeats=np.where(
            runout, np.where(used > _NOTHING, critical / np.maximum(used, _NOTHING), np.inf), np.nan
        ),
        status=status,
        survivals=shares,
        critical_sum=critical,
    )
