"""The record of the place that governs life, and of the same place with another surface; keys as in `result`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import field

from barfem.check.lives import DutyLife, StrainLifeCheck, SurvivalLife
from barfem.model.frozen import frozen
from barfem.strength.fatigue.life import InCycles

__all__ = ["Fatigue", "SurfaceLife"]


def factor_key(name: str) -> str:
    """The JSON key of a factor: its words without spaces, and the unit where it has one.

    >>> factor_key("strength at 1 000 cycles"), factor_key("hole's Kt in bending"), factor_key("size factor kb")
    ('strength_at_1000_cycles_MPa', 'hole_Kt_in_bending', 'size_factor_kb')
    """
    words = re.sub(r"[^A-Za-z0-9]+", "_", re.sub(r"'s|(?<=\d) (?=\d)", "", name)).strip("_")
    if "fraction" in name or "scale" in name:
        return words
    unit = "_mm" if "diameter" in name else "_MPa" if "strength" in name or "limit" in name else ""
    return words + unit


@frozen(kw_only=True)
class SurfaceLife(InCycles):
    """Life of the same place and cycle with another surface. Null lives have a `reason`, or `runout` is true."""

    surface: str
    life_cycles: float | None
    life_at_survival_cycles: float | None
    runout: bool = False
    reason: str | None = None


@frozen(kw_only=True)
class Fatigue(InCycles):
    """The place that governs life, stress concentration included.

    `amplitude_MPa` is the von Mises stress of half the difference of the stress tensors at the two ends of the
    cycle, `mean_MPa` that of their average, of the load alone; residual stress stands beside it, with its sign.
    `life_cycles` is the median, `life_at_survival_cycles` is what `passes` compares with the target. A median beyond
    the knee is null with `runout` true, and nothing more is claimed; the life at survival may still be short of the
    knee, and is then given. Where no life can be stated both are null, and `reason` says why; a reason beside a life
    qualifies it.

    `lives` are those at 50, 90 and 99 % survival. With blocks, damage and lives in repeats are those of `duty`, at its
    own governing place: `damage_per_repeat` goes with `life_at_survival_repeats`, `damage_per_repeat_median` with the
    median `life_repeats`. `stronger_steel_ratio` is what 5 % more strength would multiply `safety_factor_at_target` by.

    `safety_factor_at_target` is the least of the whole bar: by how much the load may grow until the first point, at
    `safety_factor_where`, no longer lasts the target. Mostly that is where life is shortest; but where peening relaxes
    as the load grows, another place may be the first. A target of the Goodman safety factor is held against the least
    of all places, too, `least_goodman_safety_factor` at `least_goodman_where`.
    """

    station_mm: float
    where: str
    surface: str
    amplitude_MPa: float
    mean_MPa: float
    goodman_safety_factor: float | None
    safety_factor_at_target: float | None
    life_cycles: float | None
    life_at_survival_cycles: float | None
    runout: bool
    reason: str | None = None
    from_middle_mm: float | None = None
    surface_condition: str | None = None
    residual_stress_MPa: float | None = None
    endurance_limit_MPa: float | None = None
    strength_at_target_MPa: float | None = None
    knee_cycles: float | None = None
    factors: Mapping[str, float] = field(default_factory=dict, metadata={"keys": factor_key})
    better_surface: SurfaceLife | None = None
    worse_surface: SurfaceLife | None = None
    mean_stress_rule: str = "goodman"
    lives: tuple[SurvivalLife, ...] = ()
    log10_life_deviation: float | None = None
    peening_holds_to_MPa: float | None = None
    peening_lost: bool = False
    strain_life: StrainLifeCheck | None = None
    damage_per_repeat: float | None = None
    damage_per_repeat_median: float | None = None
    life_repeats: float | None = None
    life_at_survival_repeats: float | None = None
    duty: DutyLife | None = None
    stronger_steel_ratio: float | None = None
    safety_factor_where: str | None = None
    safety_factor_station_mm: float | None = None
    least_goodman_safety_factor: float | None = None
    least_goodman_where: str | None = None

    @property
    def factor_elsewhere(self) -> str | None:
        """Where the safety factor is, if not where life is decided."""
        return None if self.safety_factor_where == self.where else self.safety_factor_where
