"""Which places come next after the governing ones, and how the ends stand hole by hole."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from barfem.check.ranking import Ranking
from barfem.check.solved import Solved
from barfem.check.weak_places import EndState, HoleState, LifePlace, Place, by_margin
from barfem.model.bar import Bar, End, Hole
from barfem.model.plain import finite
from barfem.model.warned import Effect, Warned
from barfem.strength.holes import local_flat

__all__ = ["NEXT", "UNSTRESSED_MPA", "bearing_warnings", "end_state", "next_for_life", "next_for_stress"]

NEXT = 3
SAME_PLACE_MM = 1.5  # regions that share a section (a tangent, a mount's edge) are one place
UNSTRESSED_MPA = 1e-6  # below it a place is unloaded: outboard of the hole in use only rounding is left
END_KINDS = ("hole", "flat", "transition")
BEARING_LIMIT = 0.6  # of the yield strength


def _chosen(candidates: Iterable[tuple[str, float, float]], length_mm: float) -> list[int]:
    """Numbers of the first `NEXT` + 1 places of (kind, station, severity), each another one.

    Regions that share a section are one place, and so are mirror images that are stressed alike.
    """
    chosen: list[tuple[int, str, float, float]] = []
    for number, (kind, station, severity) in enumerate(candidates):
        same = any(
            abs(station - at) < SAME_PLACE_MM
            or (kind == other and abs(station + at - length_mm) < 1.0 and abs(severity - known) <= 1e-4 * abs(known))
            for _, other, at, known in chosen
        )
        if not same:
            chosen.append((number, kind, station, severity))
        if len(chosen) > NEXT:
            break
    return [number for number, *_ in chosen]


def next_for_stress(places: Iterable[Place], length_mm: float) -> tuple[Place, ...]:
    """The places after the one with the least yield margin, on a bar `length_mm` long."""
    known = by_margin(places)
    rows = [(place.kind, place.station_mm, place.von_mises_MPa) for place in known]
    return tuple(known[number] for number in _chosen(rows, length_mm)[1:])


def next_for_life(found: Solved, ranking: Ranking, setting: int) -> tuple[LifePlace, ...]:
    """The places after the one that decides the life of hole setting number `setting`."""
    recovery = found.recovery
    regions = [
        region
        for region in ranking.order[setting].tolist()
        if recovery.checked[region] and recovery.cycle_amplitude_MPa[setting, region] > UNSTRESSED_MPA
    ]
    rows = [
        (
            found.samples.regions[region].kind,
            float(found.samples.station_mm[recovery.cycle_sample[setting, region]]),
            float(recovery.cycle_amplitude_MPa[setting, region]),
        )
        for region in regions
    ]
    chosen = [regions[number] for number in _chosen(rows, found.bar.centreline.length_mm)]
    return tuple(_life_place(found, ranking, setting, region) for region in chosen[1:])


def _life_place(found: Solved, ranking: Ranking, setting: int, region: int) -> LifePlace:
    recovery, life, at = found.recovery, ranking.assessment, (setting, region)
    return LifePlace(
        kind=found.samples.regions[region].kind,
        index=found.samples.regions[region].index,
        **found.spot(int(recovery.cycle_sample[at]), int(recovery.cycle_point[at])),
        amplitude_MPa=float(recovery.cycle_amplitude_MPa[at]),
        mean_MPa=float(recovery.cycle_mean_MPa[at]),
        safety_factor_at_target=finite(life.safety_factor_at_target[at]),
        life_cycles=finite(life.life_cycles[at]),
        life_at_survival_cycles=finite(life.life_at_survival_cycles[at]),
        runout=bool(life.runout[at]),
        reason=life.reason(at) or None,
    )


def end_state(found: Solved, ranking: Ranking, setting: int, places: Iterable[Place]) -> EndState:
    """The ends in hole setting number `setting`; `places` are its worst points of every region."""
    recovery, regions = found.recovery, found.samples.regions
    loaded = recovery.cycle_amplitude_MPa[setting] > UNSTRESSED_MPA
    mine = [
        number
        for number in ranking.order[setting].tolist()
        if regions[number].kind in END_KINDS and recovery.checked[number] and loaded[number]
    ]
    weak = by_margin(place for place in places if place.kind in END_KINDS)
    return EndState(
        for_stress=weak[0] if weak else None,
        for_life=_life_place(found, ranking, setting, mine[0]) if mine else None,
        holes=tuple(_holes(found, ranking, setting)),
    )


def _holes(found: Solved, ranking: Ranking, setting: int) -> Iterable[HoleState]:
    bar, recovery, life = found.bar, found.recovery, ranking.assessment
    pair = found.solution.settings[setting]
    for number, region in enumerate(found.samples.regions):
        hole = region.hole
        if hole is None:
            continue
        side = 0 if region.side == "right" else 1
        end = bar.ends[side]
        in_use = end.holes[pair.right if side == 0 else pair.left] == hole
        at = (setting, number)
        loaded = bool(region.checked and recovery.cycle_amplitude_MPa[at] > UNSTRESSED_MPA)
        bearing = None
        if in_use and hole.diameter_mm is not None:
            force = float(np.abs(found.solution.link_force_N[setting, :, side]).max())
            bearing = force / (hole.diameter_mm * _depth_mm(bar, end, hole))
        yes = recovery.peak_MPa[at] > UNSTRESSED_MPA and region.checked
        yield HoleState(
            side=end.side,
            name=hole.name,
            in_use=in_use,
            checked=region.checked,
            von_mises_MPa=float(recovery.peak_MPa[at]) if yes else None,
            yield_margin=float(recovery.yield_margin[at]) if yes else None,
            amplitude_MPa=float(recovery.cycle_amplitude_MPa[at]) if loaded else None,
            mean_MPa=float(recovery.cycle_mean_MPa[at]) if loaded else None,
            safety_factor_at_target=finite(life.safety_factor_at_target[at]) if loaded else None,
            life_cycles=finite(life.life_cycles[at]) if loaded else None,
            life_at_survival_cycles=finite(life.life_at_survival_cycles[at]) if loaded else None,
            runout=bool(life.runout[at]) if loaded else False,
            bearing_MPa=bearing,
            edge_distance=None if hole.diameter_mm is None else hole.from_tip_mm / hole.diameter_mm,
        )


def _depth_mm(bar: Bar, end: End, hole: Hole) -> float:
    """Steel along the hole's wall at its middle."""
    body = bar.section.diameter_mm - bar.section.bore_mm
    if end.flat is None or hole.from_tip_mm >= end.flat.length_mm:
        return body
    return local_flat(end, hole, diameter_mm=bar.section.diameter_mm)[1]


def bearing_warnings(bar: Bar, ends: Iterable[EndState]) -> tuple[Warned, ...]:
    """Holes whose wall a bolt presses harder than `BEARING_LIMIT` of the end's yield strength allows.

    EN 1993-1-8 Table 3.10, bearing of a replaceable pin in service: 0.6 t d f_y (from memory).
    """
    worst: dict[tuple[str, str], float] = {}
    for end in ends:
        for hole in end.holes:
            if hole.bearing_MPa is not None:
                key = (hole.side, hole.name)
                worst[key] = max(worst.get(key, 0.0), hole.bearing_MPa)
    scale = {end.side: end.strength_scale for end in bar.ends}
    return tuple(
        Warned(
            f'The bolt in the {side} hole "{name}" presses its wall with {pressure:.0f} MPa, more than '
            f"{BEARING_LIMIT:g} of the yield strength there (EN 1993-1-8 Table 3.10, from memory): the hole may wear "
            "oval.",
            Effect.WEAR,
        )
        for (side, name), pressure in worst.items()
        if pressure > BEARING_LIMIT * bar.steel.yield_strength_MPa * scale[side]  # type: ignore[index]
    )
