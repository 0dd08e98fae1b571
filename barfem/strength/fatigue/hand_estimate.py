"""What `barfem life` answers: every factor with its source, the rule, the life and why it may be missing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from barfem.model.errors import InputError
from barfem.model.material import Scatter
from barfem.strength.fatigue.by_hand import HandLife, Line, MeanStressRule, life_by_hand, mean_stress_rule
from barfem.strength.fatigue.factors import Factor, scatter_words, survival_factor
from barfem.strength.fatigue.hand_inputs import LifeInputs, check_numbers
from barfem.strength.fatigue.hand_strength import HandStrength, hand_strength

__all__ = ["LifeEstimate", "estimate"]


@dataclass(frozen=True)
class LifeEstimate:
    """The answer: every factor with its source, the rule, the life and why it may be missing.

    `line` is the median stress-life line used, `scatter` that about it; strengths are None where none was given.
    """

    inputs: LifeInputs
    factors: tuple[Factor, ...]
    rule: MeanStressRule
    endurance_limit_MPa: float | None
    life: HandLife
    warnings: tuple[str, ...]
    line: Line
    scatter: Scatter | None = None
    tensile_MPa: float | None = None
    yield_MPa: float | None = None
    coefficient_MPa: float | None = None

    def to_json_dict(self) -> dict[str, object]:
        """Plain numbers, strings and None, ready for json.dumps; nothing that is not finite."""
        life = self.life
        return {
            "amplitude_MPa": self.inputs.amplitude_MPa,
            "mean_MPa": self.inputs.mean_MPa,
            "mean_used_MPa": life.mean_used_MPa,
            "method": self.rule.method,
            "factors": [
                {"name": f.name, "value": float(f.value), "unit": f.unit, "source": f.source} for f in self.factors
            ],
            "endurance_limit_MPa": self.endurance_limit_MPa,
            "equivalent_amplitude_MPa": life.equivalent_amplitude_MPa,
            "safety_factor": life.safety_factor,
            "life_cycles": life.life_cycles,
            "survival": self.inputs.survival,
            "life_at_survival_cycles": life.life_at_survival_cycles,
            "runout": life.runout,
            "runout_at_survival": life.runout_at_survival,
            "reason": life.reason,
            "warnings": list(self.warnings),
        }


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
        np.asarray(survival_factor(inputs.survival, strength.scatter)),
        "1 - 0.08 z, normal scatter: Shigley Eq. 6-29; in the life at survival only"
        if strength.scatter is None
        else scatter_words(strength.scatter),
    )
    life = life_by_hand(
        strength.line,
        rule,
        amplitude_MPa=inputs.amplitude_MPa,
        mean_MPa=inputs.mean_MPa,
        survival=inputs.survival,
        endurance_limit_MPa=strength.endurance_MPa,
        tensile_MPa=strength.tensile_MPa,
        yield_MPa=strength.yield_MPa,
        residual_MPa=strength.residual_MPa,
        coefficient_MPa=strength.line_start_MPa,
        scatter=strength.scatter,
    )
    warnings = list(strength.warnings)
    if strength.yield_MPa is None:
        warnings.append("no yield strength given: the stress is not held against yield")
    if inputs.tensile_MPa is not None and inputs.tensile_MPa < 200.0:
        warnings.append(f"a tensile strength of {inputs.tensile_MPa:g} MPa is no steel's: are the stresses in MPa?")
    return LifeEstimate(
        inputs,
        (*strength.factors, scatter),
        rule,
        strength.endurance_MPa,
        life,
        tuple(warnings),
        line=strength.line,
        scatter=strength.scatter,
        tensile_MPa=strength.tensile_MPa,
        yield_MPa=strength.yield_MPa,
        coefficient_MPa=strength.morrow_MPa,
    )


def _rule(inputs: LifeInputs, strength: HandStrength) -> MeanStressRule:
    """The rule asked for; where its mean counts as zero anyway, the strength that it lacks is not missed."""
    unneeded = {"goodman": strength.tensile_MPa, "gerber": strength.tensile_MPa, "soderberg": strength.yield_MPa}
    if inputs.mean_MPa <= 0.0 and unneeded.get(inputs.method, 1.0) is None:
        formula = "amplitude (a mean of zero or below counts as zero)"
        return MeanStressRule(inputs.method, formula, "any rule", lambda amplitude, mean: amplitude)
    return mean_stress_rule(
        inputs.method,
        tensile_MPa=strength.tensile_MPa,
        yield_MPa=strength.yield_MPa,
        coefficient_MPa=strength.morrow_MPa,
        gamma=inputs.walker_gamma,
    )
