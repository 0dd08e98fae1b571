"""What `barfem life` answers: every factor with its source, the rule, the life and why it may be missing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, fields
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped
from barfem.model.material import Scatter
from barfem.model.plain import NOT_IN_JSON, Json
from barfem.model.plausible import TESTED_MM, can_be_a_steels
from barfem.model.skin import Skin
from barfem.strength.fatigue.assess import (
    FatigueAssessment,
    LifeStatus,
    amplitude_lasting,
    assess,
    equivalent_and_factor,
)
from barfem.strength.fatigue.basquin import BasquinStrength
from barfem.strength.fatigue.criteria import CRITERIA, NEEDS
from barfem.strength.fatigue.cycle_load import loaded
from barfem.strength.fatigue.factors import Factor, scatter_words, strength_share
from barfem.strength.fatigue.hand_inputs import LifeInputs, check_numbers
from barfem.strength.fatigue.hand_strength import HandStrength, hand_strength
from barfem.strength.fatigue.life import InCycles
from barfem.strength.fatigue.mean_stress import MeanStress, walker_gamma
from barfem.strength.fatigue.measured import comparison_words
from barfem.strength.fatigue.sites import ROUNDING
from barfem.strength.fatigue.sn_line import BEND_CYCLES, SHORTEST_LIFE_CYCLES
from barfem.strength.fatigue.strength import FatigueStrength

__all__ = ["HandLife", "LifeEstimate", "estimate"]

# Where a bare curve's life is a number of the line, beyond any test.
_LONGEST_TESTED = 1e9


@frozen
class HandLife(InCycles):
    """What one amplitude and mean come to. None where there is no number; `reason` says why."""

    mean_used_MPa: float
    equivalent_amplitude_MPa: float | None
    safety_factor: float | None
    life_cycles: float | None
    life_at_survival_cycles: float | None
    runout: bool
    runout_at_survival: bool
    reason: str


@frozen
class LifeEstimate(Json):
    """The answer: every factor with its source, the rule, the life and why it may be missing.

    `line` is the median stress-life line used, `scatter` that about it; strengths are None where none was given.
    `sound_MPa` and `flaw_MPa` are the reversed amplitudes that do the same harm to sound steel and to the skin's flaw,
    each on its own line (None: no flaw, or a mean that leaves nothing); `residual_left_MPa` is what counts of
    `residual_MPa` after the first cycles.
    """

    inputs: LifeInputs = field(metadata=NOT_IN_JSON)
    factors: tuple[Factor, ...]
    rule: MeanStress = field(metadata=NOT_IN_JSON)
    endurance_limit_MPa: float | None
    life: HandLife = field(metadata=NOT_IN_JSON)
    warnings: tuple[str, ...]
    line: FatigueStrength = field(metadata=NOT_IN_JSON)
    scatter: Scatter | None = field(default=None, metadata=NOT_IN_JSON)
    tensile_MPa: float | None = field(default=None, metadata=NOT_IN_JSON)
    yield_MPa: float | None = field(default=None, metadata=NOT_IN_JSON)
    coefficient_MPa: float | None = field(default=None, metadata=NOT_IN_JSON)
    skin: Skin | None = field(default=None, metadata=NOT_IN_JSON)
    residual_MPa: float = field(default=0.0, metadata=NOT_IN_JSON)
    cyclic_yield_MPa: float | None = field(default=None, metadata=NOT_IN_JSON)
    sound_MPa: float | None = field(default=None, metadata=NOT_IN_JSON)
    flaw_MPa: float | None = field(default=None, metadata=NOT_IN_JSON)
    residual_left_MPa: float = field(default=0.0, metadata=NOT_IN_JSON)

    _json_also: ClassVar[Mapping[str, str]] = {
        **{name: f"inputs.{name}" for name in ("amplitude_MPa", "mean_MPa", "survival")},
        **{item.name: f"life.{item.name}" for item in fields(HandLife)},
        "method": "rule.method",
        "surface": "surface",
        "compared": "compared",
    }

    @property
    def surface(self) -> str | None:
        """The skin in words; None for a book's line or a curve."""
        return None if self.skin is None else self.skin.title

    def amplitude_lasting(self, cycles: float, mean_MPa: NDArray[np.float64]) -> NDArray[np.float64]:
        """Amplitudes [MPa] that last `cycles` at a mean of zero or more, by the engine that judges."""
        return amplitude_lasting(
            self.line,
            cycles,
            mean_MPa=mean_MPa,
            residual_MPa=self.residual_MPa,
            yield_MPa=np.inf if self.yield_MPa is None else self.yield_MPa,
            tensile_MPa=np.inf if self.tensile_MPa is None else self.tensile_MPa,
            cyclic_yield_MPa=np.inf if self.cyclic_yield_MPa is None else self.cyclic_yield_MPa,
            rule=self.rule,
        )

    @property
    def compared(self) -> str | None:
        """How well this kind of skin has been compared with tests; None for a book's line or a curve."""
        return None if self.skin is None else comparison_words(self.skin)


def estimate(inputs: LifeInputs, *, folder: Path) -> LifeEstimate:
    """Answer one question. `folder` is where the user's own material tables are looked for.

    Raises
    ------
    InputError
        Something is missing, contradicts another thing, or cannot be; names the option.
    """
    check_numbers(inputs)
    strength = hand_strength(inputs, folder=folder)
    if inputs.walker_gamma is not None and inputs.method != "walker":
        raise InputError("a gamma is only used by walker.", where="--walker-gamma", expected="--method walker with it.")
    rule = _rule(inputs, strength)
    scatter = Factor(
        f"strength at {100 * inputs.survival:g} % survival over its median",
        np.asarray(strength_share(inputs.survival, strength.scatter)),
        f"{scatter_words(strength.scatter)}; in the life at survival only",
    )
    stresses: dict[str, Any] = {
        "amplitude_MPa": inputs.amplitude_MPa,
        "mean_MPa": inputs.mean_MPa,
        "residual_MPa": strength.residual_MPa,
        "max_von_mises_MPa": inputs.amplitude_MPa + abs(inputs.mean_MPa),
        "yield_MPa": np.inf if strength.yield_MPa is None else strength.yield_MPa,
        "tensile_MPa": np.inf if strength.tensile_MPa is None else strength.tensile_MPa,
        "cyclic_yield_MPa": np.inf if strength.cyclic_yield_MPa is None else strength.cyclic_yield_MPa,
        "signed_mean": True,
    }
    found = assess(strength.line, **stresses, target_cycles=BEND_CYCLES, survival=inputs.survival, rule=rule)
    limited = strength.line.at_1e6_cycles_MPa
    equivalent, by_rule = equivalent_and_factor(strength.line, limited, rule=rule, **stresses)
    load = loaded(strength.line, **stresses)
    sound, flaw = (None if each is None or not np.isfinite(each) else float(each) for each in load.felt(rule))
    warnings = list(strength.warnings)
    if bool(found.peening_lost):
        warnings.append("peening earns nothing here: the load alone yields in every cycle")
    if strength.yield_MPa is None:
        warnings.append("no yield strength given: the stress is not held against yield")
    if inputs.tensile_MPa is not None and not can_be_a_steels("tensile_strength", inputs.tensile_MPa):
        warnings.append(f"a tensile strength of {inputs.tensile_MPa:g} MPa is no steel's: are the stresses in MPa?")
    if inputs.diameter_mm is not None and inputs.diameter_mm < TESTED_MM[0]:
        warnings.append(f"a diameter of {inputs.diameter_mm:g} mm is thinner than any bar: inches written as mm?")
    limit = float(found.endurance_limit_MPa)
    return LifeEstimate(
        inputs,
        (*strength.factors, scatter),
        rule,
        limit if limit > 0.0 else None,
        _life(inputs, strength, rule, found, float(equivalent), float(by_rule)),
        tuple(warnings),
        line=strength.line,
        scatter=strength.scatter,
        tensile_MPa=strength.tensile_MPa,
        yield_MPa=strength.yield_MPa,
        coefficient_MPa=strength.morrow_MPa,
        skin=strength.skin,
        residual_MPa=float(strength.residual_MPa),
        cyclic_yield_MPa=strength.cyclic_yield_MPa,
        sound_MPa=sound,
        flaw_MPa=flaw,
        residual_left_MPa=float(load.residual()),
    )


def _rule(inputs: LifeInputs, strength: HandStrength) -> MeanStress:
    """The rule asked for; where its mean counts as zero anyway, the strength that it lacks is not missed."""
    criterion = CRITERIA[inputs.method]
    known = {
        "tensile_MPa": strength.tensile_MPa,
        "yield_MPa": strength.yield_MPa,
        "fatigue_strength_coefficient_MPa": strength.morrow_MPa,
        "gamma": inputs.walker_gamma if strength.tensile_MPa is None else strength.tensile_MPa,
        "torsion_share": 0.0,
    }
    if inputs.mean_MPa > 0.0 or criterion.signed:
        for need in criterion.needs:
            if known[need] is None:
                what, option = NEEDS[need]
                raise InputError(
                    f"{inputs.method} needs the {what}, and none is given.",
                    where="--method",
                    expected=f"{option} with it, or another method.",
                )
    gamma = inputs.walker_gamma
    if gamma is None and "gamma" in criterion.needs:
        gamma = float(walker_gamma(strength.tensile_MPa or 0.0))
    return MeanStress(inputs.method, strength.morrow_MPa, gamma)


def _life(
    inputs: LifeInputs,
    strength: HandStrength,
    rule: MeanStress,
    found: FatigueAssessment,
    equivalent: float,
    by_rule: float,
) -> HandLife:
    """The assessment in plain numbers, with the reason why one is missing."""
    reason = _why_none(inputs, strength, rule, found, equivalent)
    if rule.method == "goodman":
        by_rule = float(found.goodman_safety_factor)
    limit = float(found.endurance_limit_MPa)
    safety = by_rule if limit > 0.0 and np.isfinite(by_rule) else None
    finite = equivalent if np.isfinite(equivalent) else None
    mean = float(found.mean_used_MPa)
    if reason:
        return HandLife(mean, finite, safety, None, None, False, False, "no life: " + reason)
    if equivalent == 0.0:
        return HandLife(mean, 0.0, safety, None, None, True, True, "this cycle does no harm by this rule")
    life, runout = float(found.life_cycles), bool(found.runout)
    if runout or life < SHORTEST_LIFE_CYCLES:
        reason = found.reason()
    elif life > _LONGEST_TESTED:
        reason = f"beyond {grouped(_LONGEST_TESTED)} cycles no test went: a number of the line, not a claim"
    return HandLife(
        mean_used_MPa=mean,
        equivalent_amplitude_MPa=finite,
        safety_factor=safety,
        life_cycles=None if runout else life,
        life_at_survival_cycles=None if bool(found.runout_at_survival) else float(found.life_at_survival_cycles),
        runout=runout,
        runout_at_survival=bool(found.runout_at_survival),
        reason=reason,
    )


def _why_none(
    inputs: LifeInputs, strength: HandStrength, rule: MeanStress, found: FatigueAssessment, equivalent: float
) -> str:
    """Why no life can be stated; empty where one can."""
    peak = inputs.amplitude_MPa + abs(inputs.mean_MPa)
    mean, status = float(found.mean_used_MPa), LifeStatus(int(found.status))
    if status is LifeStatus.ABOVE_YIELD:
        return f"amplitude and mean together, {peak:.4g} MPa, are above yield ({strength.yield_MPa:g} MPa)"
    if status is LifeStatus.MEAN_AT_TENSILE:
        return f"the mean, {mean:.4g} MPa, reaches the tensile strength ({strength.tensile_MPa:g} MPa)"
    if status is LifeStatus.MEAN_AT_LIMIT:
        need = rule.criterion.limit or ""
        ends = {"yield_MPa": strength.yield_MPa, "fatigue_strength_coefficient_MPa": strength.morrow_MPa}
        return f"the mean, {mean:.4g} MPa, reaches the {NEEDS[need][0]} ({ends.get(need, strength.tensile_MPa):g} MPa)"
    if status is LifeStatus.AMPLITUDE_AT_TENSILE:
        tensile = strength.tensile_MPa
        return f"the equivalent amplitude, {equivalent:.4g} MPa, reaches the tensile strength ({tensile:g} MPa)"
    if isinstance(strength.line, BasquinStrength) and equivalent >= strength.line.coefficient_MPa * (1.0 - ROUNDING):
        return (
            f"the equivalent amplitude reaches the fatigue strength coefficient ({strength.line.coefficient_MPa:g} MPa)"
        )
    return ""
