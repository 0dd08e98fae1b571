"""The steel's answer to a cycle at every place of a bar: surface, size, residual stress and strength scale together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.surfaces import next_worse, surface_condition
from barfem.strength.cycle import Cycle, Severity
from barfem.strength.fatigue.assess import FatigueAssessment, assess
from barfem.strength.fatigue.residual import cyclic_yield, surface_residual
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength
from barfem.strength.places import KINDS, Region
from barfem.strength.recover import Recovery

__all__ = ["Judged", "Ranking", "judge", "rank_by_life", "rank_regions", "surface_of"]

Array = NDArray[np.float64]


def surface_of(bar: Bar, region: Region, surface: str) -> str:
    """Name of the surface condition at a place: the bore's, or the outside's. Peening does not reach a hole's wall."""
    if surface == "bore":
        return bar.steel.bore_surface
    name = bar.steel.surface
    return next_worse(name) or name if region.kind == "hole" and surface_condition(name).peened else name


def _equivalent_diameter(bar: Bar, region: Region) -> float | None:
    """Equivalent diameter in a flat for the size factor, None in the body.

    Rectangle: 0.808 (width x thickness)^0.5, Shigley Eq. 6-25 and Table 6-3.
    """
    end = next((end for end in bar.ends if end.side == region.side), None)
    in_flat = region.kind == "flat" or (region.kind == "hole" and end is not None and end.flat is not None)
    if in_flat and end is not None and end.flat is not None:
        return 0.808 * float(np.sqrt(end.flat.width_mm * end.flat.thickness_mm))
    return None


def _strength(bar: Bar, region: Region, condition: str, torsion_share: Array, scale: Array) -> FatigueStrength:
    return fatigue_strength(
        bar.steel,
        diameter_mm=bar.section.diameter_mm,
        torsion_share=torsion_share,
        surface=condition,
        strength_scale=scale,
        equivalent_diameter_mm=_equivalent_diameter(bar, region),
    )


def _residual(bar: Bar, region: Region, condition: str, from_inside_rad: Array, radius_mm: Array) -> Array:
    """Residual stress at places round a section, MPa; in a bend made cold it follows the distance from its middle."""
    outer = 0.5 * bar.section.diameter_mm
    return surface_residual(
        bar.steel,
        surface=condition,
        inside_of_bend=(np.cos(from_inside_rad) > 0.0) & (region.kind == "bend"),
        bore_ratio=bar.section.bore_mm / bar.section.diameter_mm,
        radius_ratio=np.clip(radius_mm / outer, 0.0, 1.0) * np.maximum(np.cos(from_inside_rad), 0.0),
    )


def _assessed(
    bar: Bar,
    region: Region,
    condition: str,
    *,
    amplitude_MPa: Array,
    mean_MPa: Array,
    max_MPa: Array,
    torsion_share: Array,
    strength_scale: Array,
    from_inside_rad: Array,
    radius_mm: Array,
) -> tuple[FatigueStrength, Array, FatigueAssessment]:
    """Strength, residual stress and assessment at places of one region with one surface condition."""
    steel = bar.steel
    strength = _strength(bar, region, condition, torsion_share, strength_scale)
    residual = _residual(bar, region, condition, from_inside_rad, radius_mm)
    found = assess(
        strength,
        amplitude_MPa=amplitude_MPa,
        mean_MPa=mean_MPa,
        residual_MPa=residual,
        max_von_mises_MPa=max_MPa,
        yield_MPa=steel.yield_strength_MPa * strength_scale,
        tensile_MPa=steel.tensile_strength_MPa * strength_scale,
        target_cycles=bar.duty.target_cycles,
        survival=bar.targets.survival,
        cyclic_yield_MPa=cyclic_yield(steel) * strength_scale,
    )
    return strength, residual, found


def rank_by_life(bar: Bar) -> Severity:
    """A severity for `recover`: one over the safety factor at the target cycles, so that the worst comes first."""

    def severity(cycle: Cycle) -> Array:
        _, _, found = _assessed(
            bar,
            cycle.region,
            surface_of(bar, cycle.region, cycle.surface),
            amplitude_MPa=cycle.amplitude_MPa,
            mean_MPa=cycle.mean_MPa,
            max_MPa=cycle.max_MPa,
            torsion_share=cycle.torsion_share,
            strength_scale=cycle.strength_scale,
            from_inside_rad=cycle.from_inside_rad,
            radius_mm=cycle.radius_mm,
        )
        factor = found.safety_factor_at_target
        return np.where(np.isfinite(factor), 1.0 / np.where(factor > 0.0, factor, 1e-9), 0.0)

    return severity


@dataclass(frozen=True)
class Judged:
    """One region's worst cycle in one hole setting, and what the steel says to it with some surface."""

    region: int
    condition: str
    strength: FatigueStrength
    residual_MPa: float
    assessment: FatigueAssessment


@dataclass(frozen=True)
class Ranking:
    """Regions of each hole setting (c), the shortest life first: `order` (c, r) holds their numbers."""

    order: NDArray[np.intp]
    life_at_survival_cycles: Array  # (c, r): zero where no life can be stated, infinity beyond the knee


def _ordered_life(found: FatigueAssessment) -> Array:
    """Life at survival for ordering: infinity beyond the knee, zero where there is none for another reason."""
    life = np.where(np.isfinite(found.life_at_survival_cycles), found.life_at_survival_cycles, 0.0)
    return np.where(found.runout_at_survival, np.inf, life)


def rank_regions(bar: Bar, found: Recovery) -> Ranking:
    """Order the checked regions of every hole setting by life at survival, then by safety factor at the target."""
    copies, count = found.peak_MPa.shape
    life = np.full((copies, count), np.inf)
    factor = np.full((copies, count), np.inf)
    for number, region in enumerate(found.regions):
        if not region.checked:
            continue
        in_bore = found.cycle_in_bore[:, number]
        for surface, here in (("outside", np.flatnonzero(~in_bore)), ("bore", np.flatnonzero(in_bore))):
            if len(here):
                _, _, assessed = _at(bar, found, (here, number), surface_of(bar, region, surface))
                life[here, number] = _ordered_life(assessed)
                safe = assessed.safety_factor_at_target
                factor[here, number] = np.where(np.isfinite(safe), safe, np.inf)
    kinds = np.array([KINDS.index(region.kind) for region in found.regions])
    # Equal to rounding, the more telling kind of place comes first.
    order = np.lexsort((np.broadcast_to(kinds, life.shape), np.round(factor, 9), np.round(life, 6)), axis=1)
    return Ranking(order=order, life_at_survival_cycles=life)


def _at(
    bar: Bar, found: Recovery, at: tuple[int | NDArray[np.intp], int], condition: str
) -> tuple[FatigueStrength, Array, FatigueAssessment]:
    return _assessed(
        bar,
        found.regions[at[1]],
        condition,
        amplitude_MPa=found.cycle_amplitude_MPa[at],
        mean_MPa=found.cycle_mean_MPa[at],
        max_MPa=found.cycle_max_MPa[at],
        torsion_share=found.cycle_torsion_share[at],
        strength_scale=found.cycle_strength_scale[at],
        from_inside_rad=found.cycle_from_inside_rad[at],
        radius_mm=found.cycle_radius_mm[at],
    )


def judge(bar: Bar, found: Recovery, copy: int, region: int, condition: str | None = None) -> Judged:
    """One region's worst cycle of one hole setting; with another surface `condition` if given."""
    surface = "bore" if found.cycle_in_bore[copy, region] else "outside"
    name = condition or surface_of(bar, found.regions[region], surface)
    strength, residual, assessment = _at(bar, found, (copy, region), name)
    return Judged(region, name, strength, float(residual), assessment)
