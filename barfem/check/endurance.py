"""The steel's answer to a cycle at every place of a bar: surface, size, residual stress and strength scale together."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Flat
from barfem.model.frozen import frozen
from barfem.model.material import Steel
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
from barfem.strength.fatigue.residual import (
    bending_leaves_tension,
    cyclic_yield,
    surface_residual,
    tension_under_peening,
)
from barfem.strength.fatigue.spread import spread
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength, joined
from barfem.strength.places import Region

__all__ = [
    "assess_at",
    "assessed",
    "equivalent_diameters_mm",
    "joined_stresses",
    "life_asked_of",
    "lines_at",
    "mean_stress_of",
    "rank_by_life",
    "rank_each_by_life",
    "safety_factors",
    "skin_of",
    "strength_and_stresses",
    "strength_and_stresses_of_all",
    "strength_and_stresses_of_bars",
]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_SHARES = np.concatenate([np.linspace(-3.0, 0.0, 48, endpoint=False), np.linspace(0.0, 1.0, 65)])
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
    if bending_leaves_tension(steel):
        # In a bend made cold the residual stress follows the distance from its middle, under a mount's edge too.
        inwards = np.cos(cycle.from_inside_rad)
        radius_ratio = np.clip(cycle.radius_mm / (0.5 * bar.section.diameter_mm), 0.0, 1.0)
        bending = {
            "inside_of_bend": (inwards > 0.0) & np.array([one.kind in _BENT for one in cycle.regions])[cycle.region],
            "bore_ratio": bar.section.bore_mm / bar.section.diameter_mm,
            "radius_ratio": radius_ratio * np.maximum(inwards, 0.0),
        }
        below = tension_under_peening(steel, skin=skin, diameter_mm=bar.section.diameter_mm, **bending)
        if below.any():
            below = spread(below, strength.at_1e6_cycles_MPa.shape)
            strength = replace(strength, sites=replace(strength.sites, below_tension_MPa=below))
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
    return strength_and_stresses_of_bars([(bar, slice(None), cycle)])


def strength_and_stresses_of_bars(
    parts: Sequence[tuple[Bar, Any, Cycle]],
) -> tuple[FatigueStrength, dict[str, Any]]:
    """The same of the places of several bars: of each which of all the places are its own (an index), and its cycle."""
    some = [
        (bar, skin, here[at] if isinstance(here, np.ndarray) else at, cycle if isinstance(at, slice) else cycle.at(at))
        for bar, here, cycle in parts
        for skin, at in _by_skin(bar, cycle)
    ]
    if not some:  # none of no places
        bar, _, cycle = parts[0]
        return strength_and_stresses(bar, bar.steel.skin, cycle)
    strengths, found = zip(*(strength_and_stresses(bar, skin, cycle) for bar, skin, _, cycle in some), strict=True)
    if len(some) == 1:
        return strengths[0], found[0]
    order = np.argsort(np.concatenate([here for _, _, here, _ in some]))
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


def life_asked_of(bar: Bar) -> tuple[Any, ...]:
    """What bars must have in common for their places to be ranked together."""
    return bar.steel.scatter, mean_stress_of(bar), bar.duty.target_cycles, bar.targets.survival


def rank_by_life(bar: Bar) -> Severity:
    """A severity for `recover` by life at survival, whatever the target: the shortest comes first (`life_rank`).

    Where none ends, the least safety factor at the target comes first.
    """
    return rank_each_by_life([bar])(np.zeros(1, np.intp))


def rank_each_by_life(bars: Sequence[Bar], *, lives_alone: bool = False) -> Callable[[Index], Severity]:
    """`rank_by_life` for `recover_each`: of points of any of several bars, by the number (r,) of each region's bar.

    They are alike in `life_asked_of`. With `lives_alone` points are not asked which breaks first as the load grows, nor
    which has the least Goodman factor where that is no target: what passes is the same.
    """
    _, rule, cycles, survival = life_asked_of(bars[0])
    with_goodman = not lives_alone or any(bar.targets.goodman_safety_factor is not None for bar in bars)
    tables = [_tables_of(bar) for bar in bars]

    def severity(bar_of_region: Index) -> Severity:
        first = np.append(np.flatnonzero(np.diff(bar_of_region, prepend=-1)), len(bar_of_region)).tolist()

        def parts(cycle: Cycle) -> list[tuple[int, Any, Cycle]]:
            if len(first) == 2:
                return [(int(bar_of_region[0]), slice(None), cycle)]
            found = []
            for start, end in pairwise(first):
                here = np.flatnonzero((cycle.region >= start) & (cycle.region < end))
                if len(here):
                    found.append((int(bar_of_region[start]), here, cycle.of_regions(here, slice(start, end))))
            return found

        def judged(cycle: Cycle) -> Severities:
            of_bars = parts(cycle) or [(int(bar_of_region[0]), slice(None), cycle)]
            strength, stresses = strength_and_stresses_of_bars([(bars[i], here, of) for i, here, of in of_bars])
            return of(cycle, loaded(strength, **stresses))

        def of(cycle: Cycle, load: Load) -> Severities:
            def rank() -> Array:
                found = life_rank(load, target_cycles=cycles, survival=survival, rule=rule)
                # Where the mean leaves no amplitude the greater amplitude is the worse.
                beyond = np.where(found >= 1e9, 1e9 * load.amplitude / load.tensile, 0.0)
                return np.asarray(found + beyond)

            def limits() -> Array:
                return _endurance_limits([(bars[i], here, of, tables[i]) for i, here, of in parts(cycle)], load)

            return Severities(
                rank,
                ENDLESS_RANK,
                None if lives_alone else use_of(load, target_cycles=cycles, rule=rule),
                goodman=(lambda: goodman_use(limits(), load)) if with_goodman else None,
                at=lambda places: of(cycle.at(places), load.at((places,))),
            )

        return judged

    return severity


def _endurance_limits(parts: Sequence[tuple[Bar, Any, Cycle, _Tables]], load: Load) -> Array:
    """Endurance limits at points of several bars; of peened ones by a table over the share of torsion for each kind of
    place of a bar, within 0.1 %, which is kept.
    """
    if not np.any(load.unrelaxed < 0.0):
        return endurance_limit_of(load)
    out = np.empty(load.unrelaxed.shape)
    by_table: list[_Kinds] = []
    for bar, here, cycle, tables in parts:
        pulled = bool(load.strength.sites.below_tension_MPa[here].any())  # goes from point to point: no table holds it
        if np.any(load.unrelaxed[here] < 0.0) and not pulled:
            by_table.append(_Kinds.of(bar, here, cycle, tables))
        else:
            out[here] = endurance_limit_of(load.at((here,)), within=1e-6 if pulled else 1e-13)
    new: list[tuple[_Kinds, list[int], Cycle]] = []
    asked: set[tuple[int, tuple[float, ...]]] = set()  # bars alike share what is known of them
    for each in by_table:
        kinds = [
            i for i, name in enumerate(each.names) if name not in each.tables and (id(each.tables), name) not in asked
        ]
        if kinds:
            asked |= {(id(each.tables), each.names[i]) for i in kinds}
            new.append((each, kinds, each.nodes(kinds)))
    if new:
        strengths, stresses = zip(
            *(strength_and_stresses_of_all(each.bar, nodes) for each, _, nodes in new), strict=True
        )
        limits = endurance_limit_of(loaded(joined(strengths), **joined_stresses(stresses)), within=1e-6)
        found = iter(limits.reshape(-1, len(_SHARES)))
        for each, kinds, _ in new:
            each.tables.update({each.names[i]: next(found) for i in kinds})
    for each in by_table:
        out[each.here] = each.limits()
    return out


_Tables = dict[tuple[float, ...], Array]


_KNOWN: deque[tuple[tuple[Steel, float, float], _Tables]] = deque(maxlen=16)


def _tables_of(bar: Bar) -> _Tables:
    """What is known of bars of a steel and section: a bar whose hole or travel moves has been asked before."""
    alike = (bar.steel, bar.section.diameter_mm, bar.section.bore_mm)
    for known, tables in tuple(_KNOWN):
        if known == alike:
            return tables
    new: _Tables = {}
    _KNOWN.append((alike, new))
    return new


@frozen(eq=False)
class _Kinds:
    """The kinds of place among a bar's points `here`: what their endurance limit depends on, but for torsion's share.

    `names` and `first` of each kind, `kind` of each point, and what is known of kinds, `tables`.
    """

    bar: Bar
    here: Any
    cycle: Cycle
    names: list[tuple[float, ...]]
    first: Index
    kind: Index
    tables: _Tables

    @staticmethod
    def of(bar: Bar, here: Any, cycle: Cycle, tables: _Tables) -> _Kinds:
        equivalent = np.nan_to_num(equivalent_diameters_mm(bar, cycle.regions))
        kinds = np.column_stack([equivalent, [region.kind == "hole" for region in cycle.regions]])
        of_region = np.unique(kinds, axis=0, return_inverse=True)[1].ravel()
        scales, scale = np.unique(cycle.strength_scale, return_inverse=True)
        number = (2 * of_region[cycle.region] + cycle.in_bore) * len(scales) + scale
        _, first, kind = np.unique(number, return_index=True, return_inverse=True)
        one = cycle.at(first)
        rows = np.column_stack([kinds[one.region], one.in_bore, one.strength_scale])
        return _Kinds(bar, here, cycle, [tuple(row) for row in rows.tolist()], first, kind, tables)

    def nodes(self, kinds: Sequence[int]) -> Cycle:
        """Cycles of every share of torsion for each of some kinds."""
        one = self.cycle.at(np.repeat(self.first[list(kinds)], len(_SHARES)))
        return replace(one, torsion_share=np.tile(_SHARES, len(kinds)))

    def limits(self) -> Array:
        """Of each point."""
        out = np.empty(len(self.kind))
        for i, name in enumerate(self.names):
            at = np.flatnonzero(self.kind == i)
            out[at] = np.interp(self.cycle.torsion_share[at], _SHARES, self.tables[name])
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
