"""Where the strength of `barfem life` comes from: a steel's table, bare numbers, or a curve."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.hardness import HARDNESS_SOURCE, parse_hardness, tensile_from_hardness
from barfem.model.material import Scatter, Steel
from barfem.model.material_table import find_table
from barfem.model.materials import steel_from_table
from barfem.model.odd_steel import odd_strengths
from barfem.model.skin import Skin, read_peening
from barfem.model.surfaces import DEFAULT_SURFACE
from barfem.strength.fatigue.basquin import basquin_strength, sound_sites
from barfem.strength.fatigue.factors import Factor, endurance_limit_of_specimen, fraction_at_1000_cycles
from barfem.strength.fatigue.hand_inputs import LifeInputs, check_yield, refuse
from barfem.strength.fatigue.residual import cyclic_yield, surface_residual
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength

__all__ = ["HandStrength", "hand_strength"]

GIVEN = "as given"

# What says that the strength of a bar is asked for, with its skin, and not a book's line.
_OF_A_SKIN = {
    "surface": "--surface",
    "peening": "--peening",
    "peening_residual_MPa": "--peening-residual",
    "decarburised_mm": "--decarburised-depth",
    "diameter_mm": "--diameter",
    "torsion_share": "--torsion-share",
}
_AXIAL = 0.85
_AXIAL_SIZE = "axial load: stressed alike all through, no size factor (Shigley Eq. 6-21)"


@frozen
class HandStrength:
    """A line, with what the rules and checks need beside it."""

    line: FatigueStrength
    factors: tuple[Factor, ...]
    endurance_MPa: float | None
    tensile_MPa: float | None = None
    yield_MPa: float | None = None
    cyclic_yield_MPa: float | None = None
    morrow_MPa: float | None = None
    residual_MPa: float = 0.0
    scatter: Scatter | None = None
    skin: Skin | None = None
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
        return _of_steel(inputs, _tabled(inputs, folder))
    refuse(inputs, {"condition": "--condition"}, "it needs --grade")
    of_skin = inputs.hardness is not None or any(getattr(inputs, name) is not None for name in _OF_A_SKIN)
    if inputs.load == "axial" and (inputs.exponent is not None or not of_skin):
        raise InputError(
            "0.85 for axial load lowers an estimate of the limit, and this line is taken as it is given.",
            where="--load",
            expected="--surface polished, or another skin, with --tensile or --hardness; or the line of axial tests.",
        )
    if inputs.exponent is not None:
        refuse(inputs, {**_OF_A_SKIN, "hardness": "--hardness"}, "a curve is one of its own skin")
        refuse(inputs, {"fraction": "--fraction"}, "the line comes from --fatigue-strength-exponent")
        return _of_curve(inputs)
    if of_skin:
        book = {"endurance_MPa": "--endurance", "fraction": "--fraction"}
        refuse(inputs, book, "with a skin, a diameter or a hardness the limit is estimated")
        if inputs.tensile_MPa is not None or inputs.hardness is not None:
            return _of_steel(inputs, _unnamed(inputs))
    if inputs.tensile_MPa is None and inputs.yield_MPa is None:
        if inputs.coefficient_MPa is not None:
            raise InputError(
                "a coefficient alone is no line.",
                where="--fatigue-strength-exponent",
                expected="--fatigue-strength-exponent with it.",
            )
        raise InputError(
            "no strength is given.",
            expected="--grade and --condition; --tensile or --hardness with a --surface; --tensile and --yield; or "
            "--fatigue-strength-coefficient and "
            "--fatigue-strength-exponent.",
        )
    return _bare(inputs)


def _tabled(inputs: LifeInputs, folder: Path) -> Steel:
    if inputs.grade is not None and inputs.grade.lower() == "custom":
        raise InputError("custom is no table.", where="--grade", expected="--tensile and --yield instead.")
    table, _, _ = find_table(inputs.grade or "", bar_dir=folder, where="--grade")
    steel = steel_from_table(table, inputs.condition, where="--condition")
    if inputs.hardness is None:
        return steel
    tensile = _from_hardness(inputs.hardness)
    ratio = steel.yield_strength_MPa / steel.tensile_strength_MPa
    source = f"{ratio:.3f} x tensile strength, the ratio of the table's condition: an estimate"
    sources = {**steel.sources, "tensile_strength": HARDNESS_SOURCE, "yield_strength": source}
    return replace(
        steel, tensile_strength_MPa=tensile, yield_strength_MPa=ratio * tensile, typical=False, sources=sources
    )


def _unnamed(inputs: LifeInputs) -> Steel:
    """A steel of which no more is known than a tensile strength or a hardness."""
    if inputs.tensile_MPa is not None and inputs.hardness is not None:
        raise InputError(
            "both a hardness and a tensile strength are given.", where="--hardness", expected="one of them."
        )
    hard = inputs.hardness
    tensile = inputs.tensile_MPa if hard is None else _from_hardness(hard)
    if tensile is None:
        raise InputError("no tensile strength.", where="--tensile", expected="--tensile or --hardness.")
    if inputs.yield_MPa is not None:
        check_yield(inputs.yield_MPa, tensile_MPa=tensile)
    return Steel(
        grade="as given",
        condition="",
        E_MPa=206000.0,
        nu=0.3,
        density_kg_per_m3=7850.0,
        yield_strength_MPa=tensile if inputs.yield_MPa is None else inputs.yield_MPa,
        tensile_strength_MPa=tensile,
        sources={"tensile_strength": GIVEN if hard is None else HARDNESS_SOURCE, "yield_strength": GIVEN},
    )


def _from_hardness(text: str) -> float:
    value = parse_hardness(text, where="--hardness")
    return tensile_from_hardness(value.low, scale=value.scale, where="--hardness")


def _of_steel(inputs: LifeInputs, steel: Steel) -> HandStrength:
    name = inputs.surface or DEFAULT_SURFACE
    peening = read_peening(inputs.peening, surface=inputs.surface, where="--peening")
    if inputs.peening_residual_MPa is not None:
        if peening is None:
            raise InputError("nothing is peened.", where="--peening-residual", expected="--peening shot with it.")
        peening = read_peening({"residual": inputs.peening_residual_MPa}, surface=None, where="--peening")
    skin = Skin(Skin.named(name, where="--surface").finish, peening, inputs.decarburised_mm)
    share = 0.0 if inputs.torsion_share is None else inputs.torsion_share
    strength = fatigue_strength(
        steel,
        diameter_mm=None if inputs.load == "axial" else inputs.diameter_mm,
        torsion_share=share,
        skin=skin,
        load_factor=_AXIAL if inputs.load == "axial" else 1.0,
    )
    known_yield = inputs.grade is not None or inputs.yield_MPa is not None
    limit_MPa = float(strength.at_1e6_cycles_MPa) if bool(strength.has_knee) else None
    yield_factor = Factor(
        "yield strength", np.asarray(steel.yield_strength_MPa), steel.sources.get("yield_strength", ""), "MPa"
    )
    residual = float(surface_residual(steel, skin=skin))
    shown = [
        replace(factor, source=_AXIAL_SIZE) if factor.name == "size factor kb" and inputs.load == "axial" else factor
        for factor in strength.factors
        if factor.name != "strength scale"
    ]
    if residual < 0.0:
        peened = (
            "as stated"
            if inputs.peening_residual_MPa is not None
            else "500 MPa of compression from peening, at most half the tensile strength (from memory, fairly sure)"
        )
        shown.append(Factor("residual stress", np.asarray(residual), peened, "MPa"))
    typical = f"{steel.grade} {steel.condition}: typical strengths, not a guaranteed minimum"
    return HandStrength(
        line=strength,
        factors=(*([yield_factor] if known_yield else []), *shown),
        endurance_MPa=limit_MPa,
        tensile_MPa=steel.tensile_strength_MPa,
        yield_MPa=steel.yield_strength_MPa if known_yield else None,
        cyclic_yield_MPa=cyclic_yield(steel),
        morrow_MPa=_morrow_of(inputs, steel),
        residual_MPa=residual,
        scatter=steel.scatter,
        skin=skin,
        warnings=(
            *((typical,) if steel.typical else ()),
            *(odd_strengths(steel) if inputs.grade is not None else ()),
        ),
    )


def _morrow_of(inputs: LifeInputs, steel: Steel) -> float | None:
    if inputs.coefficient_MPa is not None:
        if inputs.method != "morrow":
            raise InputError(
                "with the strength of a steel a coefficient is only used by morrow.",
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
        line=basquin_strength(
            inputs.coefficient_MPa,
            inputs.exponent,
            endurance_limit_MPa=inputs.endurance_MPa or 0.0,
            tensile_MPa=inputs.tensile_MPa,
        ),
        factors=tuple(factors),
        endurance_MPa=inputs.endurance_MPa,
        tensile_MPa=inputs.tensile_MPa,
        yield_MPa=inputs.yield_MPa,
        morrow_MPa=inputs.coefficient_MPa,
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
        fraction_source = estimate_of + "fit of Shigley Fig. 6-18, held above 1 380 MPa"
    line = _book_line(tensile_MPa=tensile, endurance_MPa=endurance, fraction=fraction)
    factors = [
        Factor("tensile strength", np.asarray(tensile), GIVEN, "MPa"),
        Factor("yield strength", np.asarray(yield_), GIVEN, "MPa"),
        Factor("fraction f of the tensile strength at 1 000 cycles", np.asarray(fraction), fraction_source),
        Factor("strength at 1 000 cycles", line.at_1e3_cycles_MPa, "f x tensile strength", "MPa"),
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


def _book_line(*, tensile_MPa: float, endurance_MPa: float, fraction: float) -> FatigueStrength:
    """The handbook line from f x tensile strength at 1 000 cycles to the endurance limit at 1 000 000, as given.

    No factor is applied. The sloping line continues above its start, and is level beyond its end, as the book's.

    Raises
    ------
    InputError
        The line does not slope down.
    """
    start = fraction * tensile_MPa
    if endurance_MPa >= start:
        raise InputError(
            f"the endurance limit {endurance_MPa:g} MPa is not below the strength at 1 000 cycles, {fraction:g} x "
            f"{tensile_MPa:g} = {start:g} MPa.",
            where="--endurance",
            expected="a limit below it, about half the tensile strength at most.",
        )
    one = np.ones(())
    limit = one * endurance_MPa
    return FatigueStrength(
        tensile_MPa=one * tensile_MPa,
        # The same slope carried on to one cycle.
        at_1_cycle_MPa=one * start * start / endurance_MPa,
        at_1e3_cycles_MPa=one * start,
        at_1e6_cycles_MPa=limit,
        has_knee=np.array(True),
        torsion_share=0.0 * one,
        sites=sound_sites(at_1e3_MPa=one * start, at_1e6_MPa=limit),
        decline=np.inf,
    )
