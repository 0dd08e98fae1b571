"""The steel's answer to a cycle at every place of a bar: surface, size, residual stress and strength scale together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Flat
from barfem.model.skin import Skin
from barfem.strength.cycle import Cycle, Severities, Severity
from barfem.strength.duty.miner import DamageLines, damage_lines
from barfem.strength.fatigue.assess import (
    ENDLESS_RANK,
    FatigueAssessment,
    assess,
    equivalent_and_factor,
    life_rank,
    use_of,
)
from barfem.strength.fatigue.cycle_load import Load, loaded
from barfem.strength.fatigue.goodman import endurance_limit_of, goodman_use
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import bending_leaves_tension, cyclic_yield, surface_residual
from barfem.strength.fatigue.spread import spread
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength, joined
from barfem.strength.places import Region

__all__ = [
    "assess_at",
    "assessed",
    "equivalent_diameters_mm",
    "joined_stresses",
    "lines_at",
    "mean_stress_of",
    "rank_by_life",
    "safety_factors",
    "skin_of",
    "strength_and_stresses",
    "strength_and_stresses_of_all",
]

Array = NDArray[np.float64]

_SHARES = np.linspace(0.0, 1.0, 65)
_BENT = ("bend", "mount edge", "collar")  # where a bend's inside may be


def _skins(bar: Bar) -> tuple[Skin, Skin, Skin]:
    """Of the outside, of the walls of holes, which peening does not reach, and of the bore."""
    skin = bar.steel.skin
    return skin, skin if skin.peening is None else replace(skin, peening=None), bar.steel.bore_skin


def skin_of(bar: Bar, region: Region, surface: str) -> Skin:
    """The skin of a place: the bore's, a hole's wall's or the outside's."""
    return _skins(bar)[2 if surface == "bore" else int(region.kind == "hole")]


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


def _by_skin(bar: Bar, cycle: Cycle) -> list[tuple[Skin, Any]]:
    """The skins of a cycle's places, and which places (an index) have each."""
    skins = _skins(bar)
    first = np.array([skins.index(skin) for skin in skins])  # alike ones go together
    if not first.any():
        return [(skins[0], slice(None))]
    hole = np.array([region.kind == "hole" for region in cycle.regions], np.intp)
    number = first[np.where(cycle.in_bore, 2, hole[cycle.region])]
    found = [(skin, np.flatnonzero(number == i)) for i, skin in enumerate(skins)]
    return [(skin, here) for skin, here in found if len(here)]


def strength_and_stresses(bar: Bar, skin: Skin, cycle: Cycle) -> tuple[FatigueStrength, dict[str, Any]]:
    """The strength at places of one skin, and the stresses that `assess` holds against it."""
    steel, scale = bar.steel, _one_if_alike(cycle.strength_scale)
    equivalent_mm = equivalent_diameters_mm(bar, cycle.regions)
    strength = fatigue_strength(
        steel,
        diameter_mm=bar.section.diameter_mm,
        torsion_share=cycle.torsion_share,
        skin=skin,
        strength_scale=scale,
        equivalent_diameter_mm=equivalent_mm[cycle.region] if np.isfinite(equivalent_mm).any() else None,
        outside=~cycle.in_bore,
    )
    bending: dict[str, Any] = {}
    if bending_leaves_tension(steel, skin=skin):
        # In a bend made cold the residual stress follows the distance from its middle, under a mount's edge too.
        inwards = np.cos(cycle.from_inside_rad)
        radius_ratio = np.clip(cycle.radius_mm / (0.5 * bar.section.diameter_mm), 0.0, 1.0)
        bending = {
            "inside_of_bend": (inwards > 0.0) & np.array([one.kind in _BENT for one in cycle.regions])[cycle.region],
            "bore_ratio": bar.section.bore_mm / bar.section.diameter_mm,
            "radius_ratio": radius_ratio * np.maximum(inwards, 0.0),
        }
    return strength, {
        "amplitude_MPa": cycle.amplitude_MPa,
        "mean_MPa": cycle.mean_MPa,
        "residual_MPa": surface_residual(steel, skin=skin, **bending),
        "max_von_mises_MPa": cycle.max_MPa,
        "yield_MPa": steel.yield_strength_MPa * scale,
        "tensile_MPa": steel.tensile_strength_MPa * scale,
        "cyclic_yield_MPa": cyclic_yield(steel) * scale,
    }


def strength_and_stresses_of_all(bar: Bar, cycle: Cycle) -> tuple[FatigueStrength, dict[str, Any]]:
    """`strength_and_stresses` of places of whatever skin, in order."""
    parts = _by_skin(bar, cycle)
    if len(parts) < 2:  # none of no places
        return strength_and_stresses(bar, parts[0][0] if parts else bar.steel.skin, cycle)
    strengths, found = zip(*(strength_and_stresses(bar, skin, cycle.at(here)) for skin, here in parts), strict=True)
    order = np.argsort(np.concatenate([here for _, here in parts]))
    return joined(strengths).at(order), {name: values[order] for name, values in joined_stresses(found).items()}


def joined_stresses(found: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Stresses of many places as `strength_and_stresses` gives them, one after the other."""
    counts = [len(each["amplitude_MPa"]) for each in found]
    return {
        name: np.concatenate([spread(each[name], (count,)) for each, count in zip(found, counts, strict=True)])
        for name in found[0]
    }


def _one_if_alike(values: Array) -> Array:
    """One number where all are the same: what follows from it is worked out once."""
    return values[0] if values.size and (values == values[0]).all() else values


def assessed(bar: Bar, skin: Skin, cycle: Cycle) -> tuple[FatigueStrength, dict[str, Any], FatigueAssessment]:
    """Strength, stresses as `assess` takes them, and assessment at places of one skin."""
    strength, stresses = strength_and_stresses(bar, skin, cycle)
    return strength, stresses, _assessed(bar, strength, stresses)


def _assessed(bar: Bar, strength: FatigueStrength, stresses: dict[str, Any]) -> FatigueAssessment:
    return assess(
        strength,
        **stresses,
        target_cycles=bar.duty.target_cycles,
        survival=bar.targets.survival,
        rule=mean_stress_of(bar),
    )


def rank_by_life(bar: Bar) -> Severity:
    """A severity for `recover` by life at survival, whatever the target: the shortest comes first (`life_rank`).

    Where none ends, the least safety factor at the target comes first.
    """
    rule, cycles, survival = mean_stress_of(bar), bar.duty.target_cycles, bar.targets.survival
    tables: dict[tuple[float, ...], Array] = {}

    def judged(cycle: Cycle) -> Severities:
        strength, stresses = strength_and_stresses_of_all(bar, cycle)
        return of(cycle, loaded(strength, **stresses))

    def of(cycle: Cycle, load: Load) -> Severities:
        def rank() -> Array:
            found = life_rank(load, target_cycles=cycles, survival=survival, rule=rule)
            # Where the mean leaves no amplitude the greater amplitude is the worse.
            beyond = np.where(found >= 1e9, 1e9 * load.amplitude / load.tensile, 0.0)
            return np.asarray(found + beyond)

        return Severities(
            rank,
            ENDLESS_RANK,
            use_of(load, target_cycles=cycles, rule=rule),
            goodman=lambda: goodman_use(_endurance_limits(bar, cycle, load, tables), load),
            at=lambda places: of(cycle.at(places), load.at((places,))),
        )

    return judged


def _endurance_limits(bar: Bar, cycle: Cycle, load: Load, tables: dict[tuple[float, ...], Array]) -> Array:
    """Endurance limits at points of a bar; of peened ones by a table over the share of torsion for each kind of
    place, within 0.1 %, which is kept in `tables`.
    """
    if not np.any(load.unrelaxed < 0.0):
        return endurance_limit_of(load)
    equivalent = np.nan_to_num(equivalent_diameters_mm(bar, cycle.regions))
    kinds = np.column_stack([equivalent, [region.kind == "hole" for region in cycle.regions]])
    of_region = np.unique(kinds, axis=0, return_inverse=True)[1].ravel()
    scales, scale = np.unique(cycle.strength_scale, return_inverse=True)
    number = (2 * of_region[cycle.region] + cycle.in_bore) * len(scales) + scale
    _, first, kind = np.unique(number, return_index=True, return_inverse=True)
    one = cycle.at(first)
    rows = np.column_stack([kinds[one.region], one.in_bore, one.strength_scale])
    names = [tuple(row) for row in rows.tolist()]
    new = np.array([i for i, name in enumerate(names) if name not in tables], np.intp)
    if len(new):
        nodes = replace(one.at(np.repeat(new, len(_SHARES))), torsion_share=np.tile(_SHARES, len(new)))
        strength, stresses = strength_and_stresses_of_all(bar, nodes)
        limits = endurance_limit_of(loaded(strength, **stresses)).reshape(len(new), -1)
        tables |= {names[i]: limit for i, limit in zip(new.tolist(), limits, strict=True)}
    out = np.empty(len(number))
    for i, name in enumerate(names):
        here = np.flatnonzero(kind == i)
        out[here] = np.interp(cycle.torsion_share[here], _SHARES, tables[name])
    return out


def safety_factors(bar: Bar, cycle: Cycle, *, within: float = 1e-13) -> Array:
    """The safety factor at the target cycles at every point of a cycle, as the check states it; infinite unloaded.

    `within` is what it may be off, as a share.
    """
    strength, stresses = strength_and_stresses_of_all(bar, cycle)
    factor = equivalent_and_factor(
        strength,
        strength.strength_at(bar.duty.target_cycles),
        rule=mean_stress_of(bar),
        within=within,
        **stresses,
    )[1]
    return np.where(np.isfinite(factor), factor, np.inf)


def lines_at(bar: Bar, cycle: Cycle, *, amplitude_MPa: Array) -> DamageLines:
    """Stress-life lines for a duty at points (q,), where `max_MPa` of the cycle is the greatest stress of the duty and
    `amplitude_MPa` its greatest amplitude.
    """
    strength, stresses = strength_and_stresses_of_all(bar, cycle)
    needed = {name: stresses[name] for name in ("tensile_MPa", "yield_MPa", "residual_MPa", "cyclic_yield_MPa")}
    needed |= {"peak_MPa": cycle.max_MPa, "amplitude_MPa": amplitude_MPa}
    return damage_lines(strength, rule=mean_stress_of(bar), **needed)


def assess_at(bar: Bar, cycle: Cycle) -> FatigueAssessment:
    """Safety factors and lives of the cycles at any points (q,)."""
    return _assessed(bar, *strength_and_stresses_of_all(bar, cycle))
