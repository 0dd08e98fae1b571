"""The cycles of a history at the place that decides, with the damage of each: what a load spectrum is drawn from."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.strength.duty.damage_result import PlaceCycles
from barfem.strength.duty.miner import DamageLines, damage_per_cycle, equivalent_amplitude, static_status
from barfem.strength.fatigue.assess import LifeStatus
from barfem.strength.fatigue.factors import strength_share

__all__ = ["HistoryCycles", "cycles_with_damage"]

Array = NDArray[np.float64]


@frozen
class HistoryCycles:
    """Cycles (cycles,) of one repeat of a history at one place.

    `amplitude_MPa` is the von Mises amplitude, concentration included; `equivalent_MPa` the reversed amplitude of the
    same harm, infinite where the mean leaves none; `count` 1 or 0.5; `damage` that of the cycle at the survival judged,
    its count included, NaN where no life can be stated. `line` is the stress-life line of the place (median).
    """

    line: DamageLines
    amplitude_MPa: Array
    equivalent_MPa: Array
    count: Array
    damage: Array


def cycles_with_damage(bar: Bar, cycles: PlaceCycles, line: DamageLines) -> HistoryCycles:
    """`cycles` with their damage by `line`, which is that of the one place."""
    load: dict[str, Any] = {"amplitude_MPa": cycles.amplitude_MPa, "mean_MPa": cycles.mean_MPa}
    equivalent = equivalent_amplitude(line, **load)
    share = strength_share(bar.targets.survival, line.scatter)
    damage = np.zeros(cycles.count.shape)
    if cycles.count.size:
        largest = np.array([equivalent.max()])
        if LifeStatus(int(static_status(line, largest)[0])) is not LifeStatus.STANDS:
            damage = np.full(cycles.count.shape, np.nan)
        else:
            above = bool(largest[0] / share > line.limit_MPa[0])
            weaker = equivalent_amplitude(line, **load, strength_share=share)
            damage = cycles.count * damage_per_cycle(line, weaker, ever_above_limit=above)
    return HistoryCycles(line, cycles.amplitude_MPa, equivalent, cycles.count, damage)
