"""Where the strength of `barfem life` comes from: a steel's table, bare numbers, or a curve."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from barfem.model.errors import InputError
from barfem.model.material import Scatter, Steel
from barfem.model.material_table import find_table
from barfem.model.materials import steel_from_table
from barfem.model.surfaces import DEFAULT_SURFACE, surface_condition
from barfem.strength.fatigue.basquin import BasquinStrength
from barfem.strength.fatigue.by_hand import Line, bare_strength
from barfem.strength.fatigue.factors import Factor, endurance_limit_of_specimen, fraction_at_1000_cycles
from barfem.strength.fatigue.hand_inputs import LifeInputs, refuse
from barfem.strength.fatigue.residual import cyclic_yield, peak_with_residual, surface_residual
from barfem.strength.fatigue.strength import fatigue_strength

__all__ = ["HandStrength", "hand_strength"]

GIVEN = "as given"

_OF_A_STEEL = {
    "condition": "--condition",
    "surface": "--surface",
    "diameter_mm": "--diameter",
    "torsion_share": "--torsion-share",
}


@dataclass(frozen=True)
class HandStrength:
    """A line, with what the rules and checks need beside it."""

    line: Line
    factors: tuple[Factor, ...]
    endurance_MPa: float | None
    tensile_MPa: float | None = None
    yield_MPa: float | None = None
    morrow_MPa: float | None = None
    line_start_MPa: float | None = None
    residual_MPa: float = 0.0
    scatter: Scatter | None = None
    warnings: tuple[str, ...] = ()


def hand_strength(inputs: LifeInputs, *, folder: Path) -> HandStrength:
    """The strength that the options describe; `folder` is where the user's own tables are looked for.

    Raises
    ------
    InputError
        Strength is missing, or comes from two places.
    """
    if inputs.grade is not None:
        bare = {
            "tensile_MPa": "--tensile",
            "yield_MPa": "--yield",
            "endurance_MPa": "--endurance",
            "fraction": "--fraction",
            "exponent": "--fatigue-strength-exponent",
        }
        refuse(inputs, bare, "the strength comes from --grade")
        return _of_steel(inputs, folder)
    refuse(inputs, _OF_A_STEEL, "it needs --grade")
    if inputs.exponent is not None:
        refuse(inputs, {"fraction": "--fraction"}, "the line comes from --fatigue-strength-exponent")
        return _of_curve(inputs)
    if inputs.tensile_MPa is None and inputs.yield_MPa is None:
        if inputs.coefficient_MPa is not None:
            raise InputError(
                "a coefficient alone is no line.",
                where="--fatigue-strength-exponent",
                expected="--fatigue-strength-exponent with it.",
            )
        raise InputError(
            "no strength is given.",
            expected="--grade and --condition; or --tensile and --yield; or --fatigue-strength-coefficient and "
            "--fatigue-strength-exponent.",
        )
    return _bare(inputs)


def _of_steel(inputs: LifeInputs, folder: Path) -> HandStrength:
    if inputs.grade is not None and inputs.grade.lower() == "custom":
        raise InputError("custom is no table.", where="--grade", expected="--tensile and --yield instead.")
    table, _, _ = find_table(inputs.grade or "", bar_dir=folder, where="--grade")
    steel = steel_from_table(table, inputs.condition, where="--condition")
    surface = surface_condition(inputs.surface or DEFAULT_SURFACE, where="--surface").name
    share = 1.0 if inputs.torsion_share is None else inputs.torsion_share
    strength = fatigue_strength(steel, diameter_mm=inputs.diameter_mm, torsion_share=share, surface=surface)
    residual = float(surface_residual(steel, surface=surface))
    warnings = []
    if residual < 0.0:
        peak = inputs.amplitude_MPa + abs(inputs.mean_MPa)
        worst = float(peak_with_residual(max_von_mises_MPa=peak, residual_MPa=residual, torsion_share=share))
        limit = cyclic_yield(steel)
        if worst > limit:
            strength, residual = strength.without_peening(True), 0.0
            warnings.append(
                f"peening earns nothing here: peak and residual stress together, {worst:.0f} MPa, are above the cyclic "
                f"yield strength ({limit:.0f} MPa)"
            )
    if steel.typical:
        warnings.append(f"{steel.grade} {steel.condition}: typical strengths, not a guaranteed minimum")
    limit_MPa = float(strength.endurance_limit_MPa)
    return HandStrength(
        line=strength,
        factors=_named(steel, surface, residual, strength.factors, float(strength.at_1e6_cycles_MPa)),
        endurance_MPa=limit_MPa if limit_MPa > 0.0 else None,
        tensile_MPa=steel.tensile_strength_MPa,
        yield_MPa=steel.yield_strength_MPa,
        morrow_MPa=_morrow_of(inputs, steel),
        residual_MPa=residual,
        scatter=steel.scatter,
        warnings=tuple(warnings),
    )


def _named(
    steel: Steel, surface: str, residual_MPa: float, factors: tuple[Factor, ...], at_1e6_MPa: float
) -> tuple[Factor, ...]:
    """The line's factors, with the yield strength before them and the residual stress behind."""
    shown = [factor for factor in factors if factor.name != "strength scale"]
    changed = next(factor for factor in shown if factor.name == "strength at 1e6 cycles")
    if abs(float(changed.value) - at_1e6_MPa) > 1e-9:
        lost = Factor("peening, lost", np.asarray(at_1e6_MPa / float(changed.value)), "see the warning")
        at = shown.index(changed)
        shown[at : at + 1] = [lost, Factor(changed.name, np.asarray(at_1e6_MPa), changed.source, changed.unit)]
    strengths = [Factor("yield strength", np.asarray(steel.yield_strength_MPa), steel.sources["yield_strength"], "MPa")]
    if surface_condition(surface).peened:
        shown.append(
            Factor(
                "residual stress",
                np.asarray(residual_MPa),
                "500 MPa of compression from peening, at most half the tensile strength (from memory, fairly sure); it "
                "cancels the load's mean and earns no more",
                "MPa",
            )
        )
    return (*strengths, *shown)


def _morrow_of(inputs: LifeInputs, steel: Steel) -> float | None:
    if inputs.coefficient_MPa is not None:
        if inputs.method != "morrow":
            raise InputError(
                "with --grade a coefficient is only used by morrow.",
                where="--fatigue-strength-coefficient",
                expected="--method morrow with it.",
            )
        return inputs.coefficient_MPa
    return steel.cyclic.fatigue_strength_coefficient_MPa if steel.cyclic else None


def _of_curve(inputs: LifeInputs) -> HandStrength:
    if inputs.coefficient_MPa is None or inputs.exponent is None:
        raise InputError(
            "an exponent alone is no line.",
            where="--fatigue-strength-coefficient",
            expected="--fatigue-strength-coefficient with it.",
        )
    if inputs.endurance_MPa is not None and inputs.endurance_MPa >= inputs.coefficient_MPa:
        raise InputError(
            f"the endurance limit {inputs.endurance_MPa:g} MPa is not below the coefficient "
            f"{inputs.coefficient_MPa:g} MPa.",
            where="--endurance",
            expected="a limit below it.",
        )
    factors = [
        Factor("fatigue strength coefficient", np.asarray(inputs.coefficient_MPa), GIVEN, "MPa"),
        Factor("fatigue strength exponent", np.asarray(inputs.exponent), GIVEN),
    ]
    for name, value in (
        ("tensile strength", inputs.tensile_MPa),
        ("yield strength", inputs.yield_MPa),
        ("endurance limit", inputs.endurance_MPa),
    ):
        if value is not None:
            factors.append(Factor(name, np.asarray(value), GIVEN, "MPa"))
    return HandStrength(
        line=BasquinStrength(inputs.coefficient_MPa, inputs.exponent, inputs.endurance_MPa or 0.0),
        factors=tuple(factors),
        endurance_MPa=inputs.endurance_MPa,
        tensile_MPa=inputs.tensile_MPa,
        yield_MPa=inputs.yield_MPa,
        morrow_MPa=inputs.coefficient_MPa,
        line_start_MPa=inputs.coefficient_MPa,
    )


def _bare(inputs: LifeInputs) -> HandStrength:
    tensile, yield_ = inputs.tensile_MPa, inputs.yield_MPa
    if tensile is None or yield_ is None:
        missing = "--tensile" if tensile is None else "--yield"
        raise InputError(f"bare strengths need {missing} as well.", where=missing, expected="--tensile and --yield.")
    if inputs.coefficient_MPa is not None and inputs.method != "morrow":
        raise InputError(
            "a coefficient without an exponent is only used by morrow.",
            where="--fatigue-strength-coefficient",
            expected="--method morrow, or --fatigue-strength-exponent with it.",
        )
    endurance, fraction = inputs.endurance_MPa, inputs.fraction
    estimate_of = "handbook estimate: "
    limit_source, fraction_source = GIVEN, GIVEN
    if endurance is None:
        endurance = float(endurance_limit_of_specimen(tensile))
        limit_source = estimate_of + "half the tensile strength, at most 700 MPa, no factor: Shigley Eq. 6-8"
    if fraction is None:
        fraction = float(fraction_at_1000_cycles(tensile))
        fraction_source = estimate_of + "fit of Shigley Fig. 6-18, held above 1,380 MPa"
    line = bare_strength(tensile_MPa=tensile, endurance_MPa=endurance, fraction=fraction)
    factors = [
        Factor("tensile strength", np.asarray(tensile), GIVEN, "MPa"),
        Factor("yield strength", np.asarray(yield_), GIVEN, "MPa"),
        Factor("fraction f of the tensile strength at 1,000 cycles", np.asarray(fraction), fraction_source),
        Factor("strength at 1,000 cycles", line.at_1e3_cycles_MPa, "f x tensile strength", "MPa"),
        Factor("endurance limit, at 1e6 cycles", np.asarray(endurance), limit_source, "MPa"),
    ]
    if inputs.coefficient_MPa is not None:
        factors.append(Factor("fatigue strength coefficient", np.asarray(inputs.coefficient_MPa), GIVEN, "MPa"))
    return HandStrength(
        line=line,
        factors=tuple(factors),
        endurance_MPa=endurance,
        tensile_MPa=tensile,
        yield_MPa=yield_,
        morrow_MPa=inputs.coefficient_MPa,
    )
