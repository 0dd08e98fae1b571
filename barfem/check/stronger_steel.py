"""What a stronger steel would do at a place: less than one thinks under scale, and on paper even harm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from barfem.check.endurance import safety_factors
from barfem.check.ranking import Ranking
from barfem.model.bar import Bar
from barfem.strength.recover import Recovery

__all__ = ["STRONGER", "gain_of_stronger_steel"]

STRONGER = 1.05


def gain_of_stronger_steel(
    bar: Bar, recovery: Recovery, places: Sequence[tuple[int, int]], ranking: Ranking
) -> list[float | None]:
    """Safety factor at the target with 5 % more tensile and yield strength, over the one as drawn; None without one.

    At each of `places` (hole setting, region), where it breaks first: same stress, surface and process.
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
    at = tuple(np.array(places).T)
    then, now = (
        safety_factors(stronger, recovery.first_at(at), within=1e-6),
        ranking.assessment.safety_factor_at_target[at],
    )
    stated = np.isfinite(now) & np.isfinite(then) & (now > 0.0)
    return [float(a / b) if yes else None for a, b, yes in zip(then, now, stated, strict=True)]
