"""What a stronger steel would do at a place: less than one thinks under scale, and on paper even harm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from barfem.check.ranking import Ranking, judge_each
from barfem.model.bar import Bar
from barfem.strength.recover import Recovery

__all__ = ["STRONGER", "gain_of_stronger_steel"]

STRONGER = 1.05


def gain_of_stronger_steel(
    bar: Bar, recovery: Recovery, places: Sequence[tuple[int, int]], ranking: Ranking
) -> list[float | None]:
    """Safety factor at the target with 5 % more tensile and yield strength, over the one as drawn; None without one.

    At each of `places` (hole setting, region): same stress, surface and process.
    """
    steel = bar.steel
    stronger = replace(
        bar,
        steel=replace(
            steel,
            tensile_strength_MPa=STRONGER * steel.tensile_strength_MPa,
            yield_strength_MPa=STRONGER * steel.yield_strength_MPa,
        ),
    )
    found = judge_each(stronger, recovery, places)
    ratios = (
        (float(one.assessment.safety_factor_at_target), float(ranking.assessment.safety_factor_at_target[place]))
        for place, one in zip(places, found, strict=True)
    )
    return [then / now if np.isfinite(now) and np.isfinite(then) and now > 0.0 else None for then, now in ratios]
