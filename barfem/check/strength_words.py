"""Where the fatigue strength comes from, in sentences: the assumptions that a check prints, each with its source."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.model.skin import Skin
from barfem.strength.fatigue.cyclic_curve import cyclic_curve
from barfem.strength.fatigue.measured import comparison_words
from barfem.strength.fatigue.residual import bend_inside_residual, bending_leaves_tension, peening_residual
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength

__all__ = ["strength_assumptions"]


def strength_assumptions(bar: Bar) -> tuple[str, ...]:
    """Line, surface, size and residual stress of the steel as delivered, for the result's assumptions."""
    steel, section = bar.steel, bar.section
    outside = _strength(bar, steel.skin, outside=True)
    by_name = {factor.name: factor for factor in outside.factors}
    line = outside.factors[1]  # after the tensile strength: the specimen's strength, by handbook or by test
    bent = next(
        factor for factor in _strength(bar, steel.skin, outside=True, torsion_share=0.0).factors if "ka" in factor.name
    )
    fraction = next(factor for factor in outside.factors if factor.name.startswith("fraction f"))
    words = [
        (
            "Fatigue strength is a handbook estimate from the tensile strength, not a test of this steel"
            if steel.stress_life is None
            else "Fatigue strength is that of tests of this steel"
        )
        + f": {line.name} {float(line.value):.0f} MPa ({line.source}); at 1 000 cycles {float(fraction.value):.3g} of "
        f"the tensile strength ({fraction.source}); a straight line in logarithms between (Shigley Eq. 6-14 to "
        "6-16). Beyond a million cycles it falls by 5 % to 10 000 000 "
        "(Sonsino 2007; hard spring steel has no true knee), and beyond that nothing is claimed.",
        f"Surface, {steel.skin.title}: factor {float(by_name['surface factor ka'].value):.3g} in "
        f"torsion, {float(bent.value):.3g} in bending ({by_name['surface factor ka'].source}).",
        "Mean stress at a flaw by its own term, ((1 - R) / 2)^(0.226 + HV / 10 000), R of the stress across it with "
        "residual stress at its depth (Murakami; from memory, sure); in torsion a flaw feels 0.68 of the von Mises "
        "stress, in tension both ways, as beside an ovalising bend, up to 1.07 (sigma 1 - 0.18 sigma 2; Endo).",
    ]
    if bar.targets.mean_stress == "goodman" and bar.duty.ratio > -1.0:
        words.append(
            "Goodman takes the mean of a one-sided torsion for tension, on the safe side: of peened spring wire it "
            "predicts 0.72 of the measured strength, --mean-stress sines 0.85 (Zimmerli 1957)."
        )
    if steel.stress_life is None:
        words.append(
            f"Strengths of this skin ({steel.skin.title}) held against tests: {comparison_words(steel.skin)} "
            '(materials/measured; barfem explain "measured and predicted").'
        )
    if section.wall_mm is not None:
        bore = {factor.name: factor for factor in _strength(bar, steel.bore_skin, outside=False).factors}
        words.append(
            f"Bore, {steel.bore_skin.title}: factor {float(bore['surface factor ka'].value):.3g} "
            f"({bore['surface factor ka'].source})."
        )
    words.append(
        f"Size: factor for the effective diameter, {by_name['effective diameter'].source}; "
        f"{by_name['size factor kb'].source}. Load factor {by_name['load factor kc'].source}."
    )
    peening = steel.skin.peening
    if peening is not None and peening.covers:
        pressed = abs(float(peening_residual(tensile_MPa=steel.tensile_strength_MPa, skin=steel.skin)))
        known = "as stated"
        if peening.residual_MPa is None:
            known = "default, the low end of what is measured on spring steel; from memory, fairly sure"
        words.append(
            f"Shot peening leaves {pressed:.0f} MPa of compression in the skin and none from {peening.depth_mm:g} mm "
            f"on ({known}); it reaches neither bores nor walls of holes. It counts as mean stress, at a flaw at the "
            "flaw's depth; under it sound steel stands alone. Load takes away in the first cycles what does not fit "
            f"under the cyclic yield strength (curve: {cyclic_curve(steel).source}); what many cycles take away slowly "
            "is not counted."
        )
    if bending_leaves_tension(steel):
        kept = float(
            bend_inside_residual(
                yield_MPa=steel.yield_strength_MPa, bore_ratio=section.bore_mm / section.diameter_mm, radius_ratio=1.0
            )
        )
        under = " Peening covers it and leaves it below, where its compression ends." if steel.skin.peened else ""
        words.append(
            f"Cold bends keep up to {kept:.0f} MPa of tension at their inside: (plastic over elastic section modulus "
            "- 1) x yield strength, the springback of a section bent far past yield, an upper bound (plastic bending "
            f"of a beam; from memory, sure); less as far as the load itself yields it away.{under}"
        )
    return tuple(words)


def _strength(bar: Bar, skin: Skin, *, outside: bool, torsion_share: float = 1.0) -> FatigueStrength:
    return fatigue_strength(
        bar.steel, diameter_mm=bar.section.diameter_mm, torsion_share=torsion_share, skin=skin, outside=outside
    )
