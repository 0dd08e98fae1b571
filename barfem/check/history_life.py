"""A measured travel history on a bar: solved travels to damage and life at the place where it is shortest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.check.duty_life import critical_sum_of, survivals_of
from barfem.check.endurance import mean_stress_of
from barfem.check.history_cycles import HistoryCycles, cycles_with_damage
from barfem.check.lives import SurvivalLife
from barfem.check.points import checked_points, damage_lines_of, stress_at
from barfem.check.solved import recover_stress
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.nearest import did_you_mean
from barfem.solve.beam import BeamSolution, HoleSetting, all_settings, solve_bar
from barfem.strength.duty.damage import DEFAULT_HYSTERESIS_SHARE, history_damage, peak_over_history
from barfem.strength.duty.damage_result import HistoryDamage
from barfem.strength.duty.history import History
from barfem.strength.duty.interpolate import TravelResponse, travel_nodes
from barfem.strength.duty.miner import CRITICAL_SUM_SOURCE
from barfem.strength.duty.rainflow import Residue
from barfem.strength.duty.worst_places import NO_WORSE
from barfem.strength.fatigue.assess import STATUS_REASONS, LifeStatus
from barfem.strength.fatigue.factors import scatter_words
from barfem.strength.fatigue.mean_stress import MEAN_TITLES
from barfem.strength.section_map import SURFACE_NAMES

__all__ = ["HistoryLife", "chosen_hole_settings", "history_life", "history_life_and_cycles"]

Array = NDArray[np.float64]

# Above these the result says that it is not to be trusted as it stands.
OUT_OF_LINE, INTERPOLATION = 0.2, 0.02


@dataclass(frozen=True, kw_only=True)
class HistoryLife:
    """Damage and life of one hole setting under a history; the governing place. Lives are repeats of the history.

    `discarded_share`: no place that was left out can have more than this share of the governing damage (1.01 or less,
    else a warning).
    `left_out_share`: damage that the hysteresis left out there; the damage given is that of every sample.
    `largest_amplitude_MPa` is the von Mises amplitude of the largest cycle there, concentration included.
    """

    left: str
    right: str
    station_mm: float
    from_middle_mm: float
    where: str
    surface: str
    peak_MPa: float
    largest_amplitude_MPa: float | None
    cycles_counted: float
    damage_per_repeat: float | None
    damage_per_repeat_median: float | None
    life_repeats: float | None
    life_at_survival_repeats: float | None
    runout: bool
    runout_at_survival: bool
    reason: str | None
    lives: tuple[SurvivalLife, ...]
    lives_hours: tuple[SurvivalLife, ...]
    lives_km: tuple[SurvivalLife, ...]
    places_counted: int
    places: int
    discarded_share: float | None
    left_out_share: float | None
    out_of_line_share: float | None
    interpolation_share: float
    turning_points: int
    hysteresis_mm: float
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]


def chosen_hole_settings(bar: Bar, hole: str | None) -> tuple[HoleSetting, ...]:
    """The roll settings of `bar`: all, the one of holes called `hole`, or "left/right" of unequal holes.

    Raises
    ------
    InputError
        No such hole.
    """
    if hole is None:
        return all_settings(bar)
    left, _, right = hole.partition("/")
    found = []
    for side, name in ((bar.left, left), (bar.right, right or left)):
        names = [item.name for item in side.holes]
        if name not in names:
            raise InputError(
                f'the {side.side} end has no hole "{name}".{did_you_mean(name, names)}',
                where="--hole",
                expected="one of " + ", ".join(names) + '; or "left/right" for unequal holes.',
            )
        found.append(names.index(name))
    return (HoleSetting(found[0], found[1]),)


def history_life(
    bar: Bar,
    history: History,
    setting: HoleSetting,
    *,
    hysteresis_mm: float | None = None,
    residue: Residue = "half",
    distance_km: float | None = None,
    speed_km_per_h: float | None = None,
) -> HistoryLife:
    """Damage and life of one hole setting under a history: the first of `history_life_and_cycles`.

    Raises
    ------
    InputError
        As there.
    """
    return history_life_and_cycles(
        bar,
        history,
        setting,
        hysteresis_mm=hysteresis_mm,
        residue=residue,
        distance_km=distance_km,
        speed_km_per_h=speed_km_per_h,
    )[0]


def history_life_and_cycles(
    bar: Bar,
    history: History,
    setting: HoleSetting,
    *,
    hysteresis_mm: float | None = None,
    residue: Residue = "half",
    distance_km: float | None = None,
    speed_km_per_h: float | None = None,
) -> tuple[HistoryLife, HistoryCycles]:
    """Damage and life of one hole setting under a history of both pickups' travel, and the cycles behind them.

    Solved at Chebyshev's points of the history's own travel, 25 states; nothing is extrapolated. Every point of every
    checked region is screened, the worst are counted. Residual stress and peening go by the history's greatest stress.

    Raises
    ------
    InputError
        An option that cannot be.
        Travel that the bar cannot follow.
    """
    left, right = travel_nodes(history.left_mm), travel_nodes(history.right_mm)
    grid = np.stack(np.meshgrid(left, right, indexing="ij"), axis=-1).reshape(-1, 2)
    solved = recover_stress(_solved_at(bar, history, setting, grid))
    points = checked_points(solved)
    further = solved.resultants[0, :0] if solved.further is None else solved.further[0]
    stress = stress_at(solved, points, further).reshape(left.size, right.size, len(points), 3)
    response = TravelResponse(left, right, stress)
    peak = peak_over_history(response, history)
    lines = damage_lines_of(solved, 0, points, peak_MPa=peak)
    found = history_damage(
        history,
        response,
        lines,
        reference=stress_at(solved, points, solved.resultants[0, 1:2])[0],
        hysteresis_mm=hysteresis_mm,
        residue=residue,
        survivals=survivals_of(bar),
        critical_sum=critical_sum_of(bar),
    )
    km = None
    if distance_km is not None or speed_km_per_h is not None:
        km = found.life_km(distance_km=distance_km, speed_km_per_h=speed_km_per_h)
    q, median = found.governing, found.survivals.index(0.5)
    sample, point = int(points.sample[q]), int(points.point[q])
    station = float(solved.samples.station_mm[sample])
    reason = STATUS_REASONS[LifeStatus(int(found.status[0]))] or None
    if reason is None and found.runout[0, 0]:
        reason = "no cycle lies above the endurance limit: nothing more is claimed"
    cycles = found.cycles
    life = HistoryLife(
        left=bar.left.holes[setting.left].name,
        right=bar.right.holes[setting.right].name,
        station_mm=station,
        from_middle_mm=solved.from_middle(station),
        where=solved.words(sample, point),
        surface=SURFACE_NAMES[int(solved.maps.surface[point])],
        peak_MPa=float(peak[q]),
        largest_amplitude_MPa=float(cycles.amplitude_MPa.max()) if cycles.amplitude_MPa.size else None,
        cycles_counted=float(cycles.count.sum()),
        damage_per_repeat=_number(found.damage[0, 0]),
        damage_per_repeat_median=_number(found.damage[median, 0]),
        life_repeats=_number(found.repeats[median, 0]),
        life_at_survival_repeats=_number(found.repeats[0, 0]),
        runout=bool(found.runout[median, 0]),
        runout_at_survival=bool(found.runout[0, 0]),
        reason=reason,
        lives=_lives(found, found.life_repeats),
        lives_hours=_lives(found, found.life_hours),
        lives_km=() if km is None else _lives(found, km),
        places_counted=int(found.places.size),
        places=len(points),
        discarded_share=_number(found.discarded_share),
        left_out_share=_number(found.left_out_share),
        out_of_line_share=_number(found.out_of_line_share),
        interpolation_share=float(found.interpolation_share),
        turning_points=int(found.turning_points.sample.size),
        hysteresis_mm=float(found.turning_points.hysteresis_mm),
        assumptions=_assumptions(bar, found, hysteresis_given=hysteresis_mm is not None, residue=residue),
        warnings=_warnings(bar, history, found),
    )
    return life, cycles_with_damage(bar, cycles, lines.at(np.array([q])))


def _solved_at(bar: Bar, history: History, setting: HoleSetting, travel_mm: Array) -> BeamSolution:
    """The bar at pickup travels (m, 2) of (left, right) beside its own states."""
    try:
        return solve_bar(bar, (setting,), more_moves=lambda bar, setting: travel_mm[:, ::-1])
    except BarfemError as error:
        # Without the history the bar stands, or has its own error.
        solve_bar(bar, (setting,))
        sides = (("left", history.left_mm), ("right", history.right_mm))
        said = ", ".join(f"{side} {values.min():.4g} to {values.max():.4g} mm" for side, values in sides)
        side, values = max(sides, key=lambda item: np.abs(item[1]).max())
        i = int(np.argmax(np.abs(values)))
        raise InputError(
            f"the bar has no equilibrium at all of this travel ({said}): a link cannot reach its pickup there, or the "
            f"bar snaps over. The furthest is {values[i]:.4g} mm.",
            file=history.source,
            where=f"{history.place(i)}, column {side}_mm",
            expected="travel of each pickup from rest (zero where the car stands), in mm, that the links can follow.",
        ) from error


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _lives(found: HistoryDamage, lives: Array) -> tuple[SurvivalLife, ...]:
    rows = sorted(zip(found.survivals, lives, found.runout[:, 0], strict=True))
    return tuple(SurvivalLife(survival=share, life=_number(life), runout=bool(runout)) for share, life, runout in rows)


def _assumptions(bar: Bar, found: HistoryDamage, *, hysteresis_given: bool, residue: Residue) -> tuple[str, ...]:
    width = found.turning_points.hysteresis_mm
    stated = "stated" if hysteresis_given else f"default, {DEFAULT_HYSTERESIS_SHARE:.1%} of the history's span"
    counted = "one history, its residue as half cycles" if residue == "half" else "one of many repeats"
    summed = "the bar file" if bar.targets.critical_sum is not None else f"default; {CRITICAL_SUM_SOURCE}"
    return (
        "Travel of each pickup from rest, up positive. Stress at every point is a polynomial through the solved "
        f"travels, with an estimated error of {found.interpolation_share:.1g} of the peak at most.",
        f"Travel ranges below {width:.3g} mm are taken for noise ({stated}); rainflow by ASTM E1049, {counted}. The "
        "governing place is counted on every sample.",
        "Sign of the stress: that of the inner product with the tensor at full travel; amplitude and mean of a cycle "
        f"from the tensors of its two ends; mean stress by {MEAN_TITLES[mean_stress_of(bar).method]}.",
        f"Damage by Miner's rule to a sum of {found.critical_sum:g} ({summed}); cycles below the endurance limit do "
        "harm once others lie above it (exponent 2 k - 1, Haibach).",
        f"Scatter: {scatter_words(bar.steel.scatter)}.",
    )


def _warnings(bar: Bar, history: History, found: HistoryDamage) -> tuple[str, ...]:
    warnings = list(history.warnings)
    travel = bar.travel
    for side, values in (("left", history.left_mm), ("right", history.right_mm)):
        low, high = float(values.min()), float(values.max())
        if high > travel.up_mm * (1.0 + 1e-6) or low < -travel.down_mm * (1.0 + 1e-6):
            warnings.append(
                f"the {side} travel of {low:.4g} to {high:.4g} mm goes beyond the maximum articulation of the bar file "
                f"({-travel.down_mm:g} to {travel.up_mm:g} mm). It was solved as far, and its stress counts there; "
                "but barfem check judges yield, loads and links to the file's travel alone"
            )
    if found.out_of_line_share > OUT_OF_LINE:
        warnings.append(
            f"at the governing place {found.out_of_line_share:.0%} of the stress does not follow the tensor at full "
            "travel: cycles may be paired wrongly; see barfem check --critical-plane as well"
        )
    if found.discarded_share > NO_WORSE:
        warnings.append(
            f"places that were not counted may have up to {found.discarded_share:.3g} times the governing damage, and "
            "so as much less life: too many respond differently"
        )
    if found.interpolation_share > INTERPOLATION:
        warnings.append(
            f"the interpolated stress may be off by {found.interpolation_share:.1%}: the travel is far from what a "
            "quartic holds"
        )
    return tuple(warnings)
