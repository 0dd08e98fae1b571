"""Records of a check's result that say more of life than one number: survivals, blocks, strain-life, first travel.

As in `result`: a field's name is its key in the JSON, its unit is part of the name. Where there is no number it is
null, and `runout` or a `reason` says why.
"""

from __future__ import annotations

from barfem.model.frozen import frozen
from barfem.strength.fatigue.life import InCycles, InRepeats

__all__ = ["BlockShare", "CriticalPlaneLife", "DutyLife", "FirstTravel", "StrainLifeCheck", "SurvivalLife"]


@frozen(kw_only=True)
class SurvivalLife:
    """Life (cycles of full travel, or repeats of a duty) that a share `survival` of bars reaches; 0.5 is the median.

    `runout`: over the last life that is claimed.
    """

    survival: float
    life: float | None
    runout: bool = False


@frozen(kw_only=True)
class BlockShare:
    """One block at the place that governs the duty: its stress, concentration included, and its damage in one repeat.

    `damage` is that at the survival judged.
    """

    pickup_mm: float
    ratio: float
    cycles: float
    amplitude_MPa: float
    mean_MPa: float
    equivalent_amplitude_MPa: float | None
    damage: float | None


@frozen(kw_only=True)
class DutyLife(InRepeats):
    """Life in repeats of the duty's blocks, at the place where it is shortest (not always that of full travel).

    `life_repeats` is the median, `life_at_survival_repeats` is what `passes` compares with `target_repeats`; both are
    `critical_sum` over the damage of one repeat. Damage without `_median` is that at the survival judged.
    """

    station_mm: float
    from_middle_mm: float
    where: str
    surface: str
    critical_sum: float
    target_repeats: float
    damage_per_repeat: float | None
    damage_per_repeat_median: float | None
    life_repeats: float | None
    life_at_survival_repeats: float | None
    runout: bool
    runout_at_survival: bool
    runout_repeats: float | None = None
    reason: str | None = None
    lives: tuple[SurvivalLife, ...] = ()
    blocks: tuple[BlockShare, ...] = ()

    @property
    def reaches_target(self) -> bool:
        """Life at survival is at least the target, or a run-out is shown so far (without end where that is None)."""
        if self.life_at_survival_repeats is not None:
            return self.life_at_survival_repeats >= self.target_repeats
        return self.runout_at_survival and self.target_repeats <= (self.runout_repeats or float("inf"))


@frozen(kw_only=True)
class StrainLifeCheck(InCycles):
    """Strain-life at the governing place, given where its elastic stress exceeds the cyclic yield strength.

    Neuber's rule on the cyclic curve, Smith, Watson and Topper. `passes` asks it to reach the target as well.
    """

    elastic_max_MPa: float
    cyclic_yield_MPa: float
    stress_amplitude_MPa: float
    strain_amplitude: float
    max_MPa: float
    life_cycles: float
    life_at_survival_cycles: float
    source: str
    curve_source: str


@frozen(kw_only=True)
class FirstTravel:
    """What the first full travel does: "elastic"; "local" (a notch yields and then stays elastic); "set".

    With a set, estimates: `set_mm` is the travel at which the links carry nothing once it is over (each pickup's), and
    `force_lost_percent` what the link force at full travel falls short of the elastic one, which is the loss of rate on
    that travel; afterwards the rate is the elastic one again. `shakes_down`: the place of the peak stays elastic from
    then on; false: it yields in every cycle.
    """

    kind: str
    words: str
    set_mm: float | None = None
    force_lost_percent: float | None = None
    shakes_down: bool | None = None


@frozen(kw_only=True)
class CriticalPlaneLife(InCycles):
    """The governing place by another criterion over rest, both ends of the cycle and the one-wheel states.

    `parameter_MPa` is what the criterion maximises, `equivalent_amplitude_MPa` the reversed uniaxial amplitude of the
    same harm, with which the life (median) is read. `angle_deg` turns from the bar's axis towards its circumference;
    `tilt_deg` is 90 where the plane stands upright on the surface.
    """

    criterion: str
    station_mm: float
    from_middle_mm: float
    where: str
    surface: str
    parameter_MPa: float
    equivalent_amplitude_MPa: float
    angle_deg: float
    tilt_deg: float
    life_cycles: float | None
    runout: bool
    reason: str | None = None
