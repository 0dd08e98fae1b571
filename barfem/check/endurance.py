"""The steel's answer to a cycle at every place of a bar: surface, size, residual stress and strength scale together."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Flat
from barfem.model.skin import Skin
from barfem.strength.cycle import Cycle, Severity
from barfem.strength.duty.miner import DamageLines, damage_lines
from barfem.strength.fatigue.assess import FatigueAssessment, assess, equivalent_and_factor, life_rank
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import cyclic_yield, surface_residual
from barfem.strength.fatigue.sites import Sites
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength
from barfem.strength.places import Region

__all__ = [
    "Alike",
    "PlaceLoad",
    "alike_regions",
    "assess_at",
    "assessed_alike",
    "equivalent_diameters_mm",
    "lines_at",
    "mean_stress_of",
    "rank_by_life",
    "safety_factors",
    "skin_of",
    "strength_and_stresses",
]

Array = NDArray[np.float64]


def skin_of(bar: Bar, region: Region, surface: str) -> Skin:
    """The skin of a place: the bore's, or the outside's. Peening does not reach a hole's wall."""
    if surface == "bore":
        return bar.steel.bore_skin
    skin = bar.steel.skin
    return replace(skin, peening=None) if region.kind == "hole" else skin


def mean_stress_of(bar: Bar) -> MeanStress:
    """The mean-stress rule that the bar's targets ask for, with the steel's constants.

    Raises
    ------
    InputError
        Unknown rule, or Morrow for a steel without strain-life constants.
    """
    cyclic = bar.steel.cyclic
    return MeanStress(bar.targets.mean_stress, None if cyclic is None else cyclic.fatigue_strength_coefficient_MPa)


def equivalent_diameters_mm(bar: Bar, regions: tuple[Region, ...]) -> Array:
    """(r,) equivalent diameter of each flat for the size factor, and of its holes; NaN in the body.

    Rectangle: 0.808 (width x thickness)^0.5, Shigley Eq. 6-25 and Table 6-3.
    """
    flats: dict[str | None, Flat | None] = {end.side: end.flat for end in bar.ends}
    found = [flats.get(region.side) if region.kind in ("flat", "hole") else None for region in regions]
    return np.array(
        [np.nan if flat is None else 0.808 * math.sqrt(flat.width_mm * flat.thickness_mm) for flat in found]
    )


@dataclass(frozen=True)
class Alike:
    """Places whose lines are found together: their skin, whether they have a flat's section, and which surface."""

    skin: Skin
    in_flat: bool
    outside: bool


@dataclass(frozen=True)
class PlaceLoad:
    """Cycles at places; all arrays broadcast. `equivalent_diameter_mm` is that of places in flats, else unused."""

    in_bend: NDArray[np.bool_]
    equivalent_diameter_mm: Array
    amplitude_MPa: Array
    mean_MPa: Array
    max_MPa: Array
    torsion_share: Array
    strength_scale: Array
    from_inside_rad: Array
    radius_mm: Array

    @staticmethod
    def of(bar: Bar, regions: tuple[Region, ...], region: NDArray[np.intp], **cycle: Array) -> PlaceLoad:
        """With what follows from the places' regions, `region` of `regions`; `cycle` are the other arrays by name."""
        diameter = equivalent_diameters_mm(bar, regions)[region]
        in_bend = np.array([each.kind == "bend" for each in regions])[region]
        return PlaceLoad(in_bend=in_bend, equivalent_diameter_mm=diameter, **cycle)


def alike_regions(bar: Bar, regions: tuple[Region, ...], surface: str) -> dict[Alike, NDArray[np.bool_]]:
    """Which regions (r,) are alike at their outside or bore."""
    in_flat = np.isfinite(equivalent_diameters_mm(bar, regions))
    holes = np.array([region.kind == "hole" for region in regions])
    found: dict[Alike, NDArray[np.bool_]] = {}
    for flat, hole in ((False, False), (False, True), (True, False), (True, True)):
        members = (in_flat == flat) & (holes == hole)
        if members.any():
            alike = Alike(skin_of(bar, regions[int(members.argmax())], surface), flat, surface == "outside")
            found[alike] = found.get(alike, False) | members
    return found


def strength_and_stresses(bar: Bar, alike: Alike, load: PlaceLoad) -> tuple[FatigueStrength, dict[str, Any]]:
    """The strength at places that are alike, and the stresses that `assess` holds against it."""
    steel = bar.steel
    strength = fatigue_strength(
        steel,
        diameter_mm=bar.section.diameter_mm,
        torsion_share=load.torsion_share,
        skin=alike.skin,
        strength_scale=load.strength_scale,
        equivalent_diameter_mm=load.equivalent_diameter_mm if alike.in_flat else None,
        outside=alike.outside,
    )
    # In a bend made cold the residual stress follows the distance from its middle.
    inwards = np.cos(load.from_inside_rad)
    residual = surface_residual(
        steel,
        skin=alike.skin,
        inside_of_bend=(inwards > 0.0) & load.in_bend,
        bore_ratio=bar.section.bore_mm / bar.section.diameter_mm,
        radius_ratio=np.clip(load.radius_mm / (0.5 * bar.section.diameter_mm), 0.0, 1.0) * np.maximum(inwards, 0.0),
    )
    return strength, {
        "amplitude_MPa": load.amplitude_MPa,
        "mean_MPa": load.mean_MPa,
        "residual_MPa": residual,
        "max_von_mises_MPa": load.max_MPa,
        "yield_MPa": steel.yield_strength_MPa * load.strength_scale,
        "tensile_MPa": steel.tensile_strength_MPa * load.strength_scale,
        "cyclic_yield_MPa": cyclic_yield(steel) * load.strength_scale,
    }


def assessed_alike(
    bar: Bar, alike: Alike, load: PlaceLoad
) -> tuple[FatigueStrength, dict[str, Any], FatigueAssessment]:
    """Strength, stresses as `assess` takes them, and assessment at places that are alike."""
    strength, stresses = strength_and_stresses(bar, alike, load)
    found = assess(
        strength,
        **stresses,
        target_cycles=bar.duty.target_cycles,
        survival=bar.targets.survival,
        rule=mean_stress_of(bar),
    )
    return strength, stresses, found


def rank_by_life(bar: Bar) -> Severity:
    """A severity for `recover` by life at survival, whatever the target: the shortest comes first (`life_rank`)."""
    rule = mean_stress_of(bar)

    def of_load(strength: FatigueStrength, stresses: Mapping[str, Any]) -> Array:
        rank = life_rank(
            strength, target_cycles=bar.duty.target_cycles, survival=bar.targets.survival, rule=rule, **stresses
        )
        # Where the mean leaves no amplitude the greater amplitude is the worse.
        return rank + np.where(rank >= 1e9, 1e9 * stresses["amplitude_MPa"] / stresses["tensile_MPa"], 0.0)

    return _everywhere(bar, of_load)


_COLOURS = 3e-4  # a share of the safety factor that no colour shows


def safety_factors(bar: Bar) -> Severity:
    """The safety factor at the target cycles at every point of a cycle, as the check states it; infinite unloaded."""
    rule, cycles = mean_stress_of(bar), bar.duty.target_cycles

    def of_load(strength: FatigueStrength, stresses: Mapping[str, Any]) -> Array:
        factor = equivalent_and_factor(strength, strength.strength_at(cycles), rule=rule, within=_COLOURS, **stresses)[
            1
        ]
        return np.where(np.isfinite(factor), factor, np.inf)

    return _everywhere(bar, of_load)


def _everywhere(bar: Bar, of_load: Callable[[FatigueStrength, Mapping[str, Any]], Array]) -> Severity:
    """`of_load` at every point of a cycle, by the line that serves each."""

    def found(cycle: Cycle) -> Array:
        out = np.empty_like(cycle.amplitude_MPa)
        for alike, members in alike_regions(bar, cycle.regions, cycle.surface).items():
            here: Any = slice(None) if members.all() else members[cycle.region]
            load = PlaceLoad.of(
                bar,
                cycle.regions,
                cycle.region[here, None, None],
                amplitude_MPa=cycle.amplitude_MPa[here],
                mean_MPa=cycle.mean_MPa[here],
                max_MPa=cycle.max_MPa[here],
                torsion_share=cycle.torsion_share[here],
                strength_scale=cycle.strength_scale[here],
                from_inside_rad=cycle.from_inside_rad[here],
                radius_mm=cycle.radius_mm[here],
            )
            out[here] = of_load(*strength_and_stresses(bar, alike, load))
        return out

    return found


def lines_at(
    bar: Bar,
    regions: tuple[Region, ...],
    *,
    region: NDArray[np.intp],
    in_bore: NDArray[np.bool_],
    strength_scale: Array,
    from_inside_rad: Array,
    radius_mm: Array,
    torsion_share: Array,
    peak_MPa: Array,
) -> DamageLines:
    """Stress-life lines for a duty at points (q,); `region` indexes `regions`, `peak_MPa` is that of the duty."""
    rows: dict[str, Any] = {}
    sites: dict[str, Any] = {}
    zero = np.zeros(len(region))
    rule = mean_stress_of(bar)
    for surface, side in (("outside", ~in_bore), ("bore", in_bore)):
        for alike, members in alike_regions(bar, regions, surface).items():
            here = side & members[region]
            if not here.any():
                continue
            load = PlaceLoad.of(
                bar,
                regions,
                region[here],
                amplitude_MPa=zero[here],
                mean_MPa=zero[here],
                max_MPa=peak_MPa[here],
                torsion_share=torsion_share[here],
                strength_scale=strength_scale[here],
                from_inside_rad=from_inside_rad[here],
                radius_mm=radius_mm[here],
            )
            strength, stresses = strength_and_stresses(bar, alike, load)
            lines = damage_lines(
                strength,
                tensile_MPa=stresses["tensile_MPa"],
                yield_MPa=stresses["yield_MPa"],
                peak_MPa=peak_MPa[here],
                residual_MPa=stresses["residual_MPa"],
                cyclic_yield_MPa=stresses["cyclic_yield_MPa"],
                rule=rule,
            )
            for into, of, names in ((rows, lines, _LINE_ARRAYS), (sites, lines.sites, _SITE_ARRAYS)):
                for name in names:
                    values = getattr(of, name)
                    into.setdefault(name, np.empty(len(region), values.dtype))[here] = values
    return DamageLines(**rows, sites=Sites(**sites), peak_MPa=peak_MPa, rule=rule, scatter=bar.steel.scatter)


def assess_at(
    bar: Bar,
    regions: tuple[Region, ...],
    *,
    region: NDArray[np.intp],
    in_bore: NDArray[np.bool_],
    strength_scale: Array,
    from_inside_rad: Array,
    radius_mm: Array,
    torsion_share: Array,
    amplitude_MPa: Array,
    mean_MPa: Array,
    max_MPa: Array,
) -> FatigueAssessment:
    """Safety factors and lives of the cycles at any points (q,); `region` indexes `regions`.

    `max_MPa` is the greatest von Mises stress over all states, `from_inside_rad` the angle from the inside of a bend.
    """
    whole: dict[str, Any] = {}
    for surface, side in (("outside", ~in_bore), ("bore", in_bore)):
        for alike, members in alike_regions(bar, regions, surface).items():
            here = side & members[region]
            if not here.any():
                continue
            load = PlaceLoad.of(
                bar,
                regions,
                region[here],
                amplitude_MPa=amplitude_MPa[here],
                mean_MPa=mean_MPa[here],
                max_MPa=max_MPa[here],
                torsion_share=torsion_share[here],
                strength_scale=strength_scale[here],
                from_inside_rad=from_inside_rad[here],
                radius_mm=radius_mm[here],
            )
            for name, values in vars(assessed_alike(bar, alike, load)[2]).items():
                whole.setdefault(name, np.empty(len(region), values.dtype))[here] = values
    return FatigueAssessment(**whole)


_LINE_ARRAYS = ("at_1_MPa", "at_1e3_MPa", "at_1e6_MPa", "has_knee", "tensile_MPa", "yield_MPa", "residual_MPa")
_SITE_ARRAYS = tuple(field.name for field in fields(Sites))
