"""Where the fatigue strength comes from, in sentences: the assumptions that a check prints, each with its source."""

from __future__ import annotations

import numpy as np

from barfem.model.bar import Bar
from barfem.model.surfaces import surface_condition
from barfem.strength.fatigue.cyclic_curve import cyclic_curve
from barfem.strength.fatigue.residual import bend_inside_residual, peening_profile, surface_residual
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength

__all__ = ["strength_assumptions"]


def strength_assumptions(bar: Bar) -> tuple[str, ...]:
    """Line, surface, size and residual stress of the steel as delivered, for the result's assumptions."""
    steel, section = bar.steel, bar.section
    outside = _strength(bar, steel.surface, outside=True)
    told = {factor.name: factor for factor in outside.factors}
    line = outside.factors[1]  # after the tensile strength: the specimen's strength, by handbook or by test
    fraction = next(factor for factor in outside.factors if factor.name.startswith("fraction f"))
    words = [
        (
            "Fatigue strength is a handbook estimate from the tensile strength, not a test of this steel"
            if steel.stress_life is None
            else "Fatigue strength is that of tests of this steel"
        )
        + f": {line.name} {float(line.value):.0f} MPa ({line.source}); at 1,000 cycles {float(fraction.value):.3g} of "
        f"the tensile strength ({fraction.source}); a straight line in logarithms between (Shigley Eq. 6-14 to 6-16).",
        f"Surface, {surface_condition(steel.surface).title}: factor {float(told['surface factor ka'].value):.3g} "
        f"({told['surface factor ka'].source}).",
    ]
    if section.wall_mm is not None:
        bore = {factor.name: factor for factor in _strength(bar, steel.bore_surface, outside=False).factors}
        words.append(
            f"Bore, {surface_condition(steel.bore_surface).title}: factor {float(bore['surface factor ka'].value):.3g} "
            f"({bore['surface factor ka'].source})."
        )
    words.append(
        f"Size: factor for the effective diameter, {told['effective diameter'].source}; "
        f"{told['size factor kb'].source}. Load factor {told['load factor kc'].source}."
    )
    if surface_condition(steel.surface).peened:
        pressed = -float(surface_residual(steel, surface=steel.surface))
        depth = np.linspace(0.0, 0.5, 501)
        profile = -peening_profile(
            depth,
            tensile_MPa=steel.tensile_strength_MPa,
            decarburised=steel.decarburised_depth_mm is not None,
        )
        deepest, end = depth[np.argmax(profile)], depth[np.flatnonzero(profile > 1e-9)[-1] + 1]
        words.append(
            f"Shot peening leaves {pressed:.0f} MPa of compression in the skin, {profile.max():.0f} MPa at "
            f"{deepest:.2f} mm and none from {end:.2f} mm on; it reaches neither bores nor walls of holes (500 MPa, "
            "at most half the tensile strength, half of it in a decarburised skin: the low end of what is measured on "
            "spring steel; from memory, fairly sure). Only the value in the skin is counted. It cancels mean stress "
            "and earns no more; where load and residual stress together pass the cyclic yield strength it counts for "
            f"nothing (curve: {cyclic_curve(steel).source})."
        )
    elif steel.bent == "after-hardening" and not steel.stress_relieved:
        kept = float(
            bend_inside_residual(
                yield_MPa=steel.yield_strength_MPa, bore_ratio=section.bore_mm / section.diameter_mm, radius_ratio=1.0
            )
        )
        words.append(
            f"Cold bends keep up to {kept:.0f} MPa of tension at their inside: (plastic over elastic section modulus "
            "- 1) x yield strength, the springback of a section bent far past yield, an upper bound (plastic bending "
            "of a beam; from memory, sure); less as far as the load itself yields it away."
        )
    return tuple(words)


def _strength(bar: Bar, surface: str, *, outside: bool) -> FatigueStrength:
    return fatigue_strength(
        bar.steel, diameter_mm=bar.section.diameter_mm, torsion_share=1.0, surface=surface, outside=outside
    )
