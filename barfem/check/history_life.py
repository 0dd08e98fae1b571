"""A measured travel history on a bar: solved travels to damage and life at the place where it is shortest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.check.duty_life import critical_sum_of, survivals_of
from barfem.check.history_cycles import HistoryCycles, cycles_with_damage
from barfem.check.history_words import assumptions_of, warnings_of
from barfem.check.hole_names import pairs_named
from barfem.check.lives import SurvivalLife
from barfem.check.points import Points, checked_points, damage_lines_of, stress_at
from barfem.check.solved import Solved, recover_stress
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, Json, finite, json_as
from barfem.solve.beam import BeamSolution, HoleSetting, all_settings, solve_bar
from barfem.strength.duty.damage import history_damage, peak_over_history
from barfem.strength.duty.damage_result import HistoryDamage
from barfem.strength.duty.history import History
from barfem.strength.duty.interpolate import TravelResponse, travel_nodes
from barfem.strength.duty.miner import DamageLines, runout_words
from barfem.strength.duty.rainflow import Residue
from barfem.strength.fatigue.assess import STATUS_REASONS, LifeStatus
from barfem.strength.fatigue.life import InRepeats

__all__ = ["Asked", "HistoryLife", "HistoryLives", "chosen_hole_settings", "history_lives"]

Array = NDArray[np.float64]

_THREADS = 2
# Above, memory counts more than time.
_SAMPLES_FOR_TWO = 4_000_000


@frozen(kw_only=True)
class HistoryLife(InRepeats):
    """Damage and life of one hole setting under a history; the governing place. Lives are repeats of the history.

    `discarded_share`: no place that was left out can have more than this share of the governing damage (1.01 or less,
    else a warning).
    `left_out_share`: damage that the hysteresis left out there; the damage given is that of every sample.
    `largest_amplitude_MPa` is the von Mises amplitude of the largest cycle there, concentration included; `peak_MPa`
    the greatest von Mises stress of the hole setting anywhere, without it, as a check's.
    """

    left: str
    right: str
    station_mm: float
    from_middle_mm: float
    where: str
    surface: str
    peak_MPa: float = field(metadata=json_as(lambda value: {"von_mises_MPa": value}, key="peak"))
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
    every = all_settings(bar, mixed="/" in hole)
    names = [(bar.left.holes[each.left].name, bar.right.holes[each.right].name) for each in every]
    return tuple(every[i] for i in pairs_named(hole, names, of=bar.name, file=bar.source))


@frozen
class Asked:
    """How a history is counted and what of it is asked for."""

    hysteresis_mm: float | None = None
    residue: Residue = "half"
    distance_km: float | None = None
    speed_km_per_h: float | None = None


@frozen
class HistoryLives(Json):
    """The lives of a bar's hole settings under one history, each with the cycles behind it."""

    bar: Bar = field(metadata=NOT_IN_JSON)
    measured: History = field(metadata=NOT_IN_JSON)
    counted: tuple[tuple[HistoryLife, HistoryCycles], ...] = field(metadata=NOT_IN_JSON)

    _json_also: ClassVar[Mapping[str, str]] = {
        "name": "bar.name",
        "history": "measured.source",
        "samples": "measured.samples",
        "duration_s": "measured.duration_s",
        "survival": "bar.targets.survival",
        "settings": "lives",
    }

    @property
    def lives(self) -> list[HistoryLife]:
        return [life for life, _ in self.counted]


def history_lives(
    bar: Bar, history: History, settings: Sequence[HoleSetting], asked: Asked | None = None
) -> list[tuple[HistoryLife, HistoryCycles]]:
    """Damage and life of hole settings under a history of both pickups' travel, and the cycles behind them.

    Solved at Chebyshev's points of the history's own travel, 25 states; nothing is extrapolated. Every point of every
    checked region is screened, the worst are counted. Residual stress and peening go by the history's greatest stress
    and swing. Two hole settings at a time.

    Raises
    ------
    InputError
        An option that cannot be, or travel that the bar cannot follow.
    """
    asked = asked or Asked()
    left, right = travel_nodes(history.left_mm), travel_nodes(history.right_mm)
    grid = np.stack(np.meshgrid(left, right, indexing="ij"), axis=-1).reshape(-1, 2)
    solved = recover_stress(_solved_at(bar, history, settings, grid))
    points = checked_points(solved)
    places = [_places(solved, points, history, (left, right), j) for j in range(len(settings))]
    unconcentrated = solved.samples.edge[points.sample] == 0  # the rest are the edges of holes, mounts and collars

    def damage(of: _Places) -> HistoryDamage:
        return history_damage(
            history,
            of.response,
            of.lines,
            reference=of.reference,
            hysteresis_mm=asked.hysteresis_mm,
            residue=asked.residue,
            survivals=survivals_of(bar),
            critical_sum=critical_sum_of(bar),
        )

    with ThreadPoolExecutor(_THREADS if history.samples < _SAMPLES_FOR_TWO else 1) as pool:
        found = list(pool.map(damage, places))
    return [
        (
            _life(
                solved,
                points,
                history,
                setting,
                one,
                asked,
                peak_MPa=float(of.peak_MPa[unconcentrated].max()),
                has_knee=bool(of.lines.has_knee[one.governing]),
            ),
            cycles_with_damage(bar, one.cycles, of.lines.at(np.array([one.governing]))),
        )
        for setting, of, one in zip(settings, places, found, strict=True)
    ]


@frozen
class _Places:
    """The points of one hole setting: stress over travel, its greatest, stress-life lines, tensors at full travel."""

    response: TravelResponse
    peak_MPa: Array
    lines: DamageLines
    reference: Array


def _places(solved: Solved, points: Points, history: History, nodes: tuple[Array, Array], j: int) -> _Places:
    """Of hole setting number `j`; `Solved.further` has the states of all pairs of the travels `nodes`."""
    further = solved.resultants[j, :0] if solved.further is None else solved.further[j]
    stress = stress_at(solved, points, further).reshape(nodes[0].size, nodes[1].size, len(points), 3)
    response = TravelResponse(*nodes, stress)
    peak, amplitude = peak_over_history(response, history)
    lines = damage_lines_of(solved, j, points, peak_MPa=peak, amplitude_MPa=amplitude)
    return _Places(response, peak, lines, stress_at(solved, points, solved.resultants[j, 1:2])[0])


def _life(
    solved: Solved,
    points: Points,
    history: History,
    setting: HoleSetting,
    found: HistoryDamage,
    asked: Asked,
    *,
    peak_MPa: float,
    has_knee: bool,
) -> HistoryLife:
    """What `found` says, in words and places of the bar."""
    bar = solved.bar
    km = None
    if asked.distance_km is not None or asked.speed_km_per_h is not None:
        km = found.life_km(distance_km=asked.distance_km, speed_km_per_h=asked.speed_km_per_h)
    q, median = found.governing, found.survivals.index(0.5)
    reason = STATUS_REASONS[LifeStatus(int(found.status[0]))] or None
    if reason is None and found.runout[0, 0]:
        reason = runout_words(has_knee=has_knee)
    cycles = found.cycles
    return HistoryLife(
        left=bar.left.holes[setting.left].name,
        right=bar.right.holes[setting.right].name,
        **solved.spot(int(points.sample[q]), int(points.point[q])),
        peak_MPa=peak_MPa,
        largest_amplitude_MPa=float(cycles.amplitude_MPa.max()) if cycles.amplitude_MPa.size else None,
        cycles_counted=float(cycles.count.sum()),
        damage_per_repeat=finite(found.damage[0, 0]),
        damage_per_repeat_median=finite(found.damage[median, 0]),
        life_repeats=finite(found.repeats[median, 0]),
        life_at_survival_repeats=finite(found.repeats[0, 0]),
        runout=bool(found.runout[median, 0]),
        runout_at_survival=bool(found.runout[0, 0]),
        reason=reason,
        lives=_lives(found, found.life_repeats),
        lives_hours=_lives(found, found.life_hours),
        lives_km=() if km is None else _lives(found, km),
        places_counted=int(found.places.size),
        places=len(points),
        discarded_share=finite(found.discarded_share),
        left_out_share=finite(found.left_out_share),
        out_of_line_share=finite(found.out_of_line_share),
        interpolation_share=float(found.interpolation_share),
        turning_points=int(found.turning_points.sample.size),
        hysteresis_mm=float(found.turning_points.hysteresis_mm),
        assumptions=assumptions_of(bar, found, hysteresis_given=asked.hysteresis_mm is not None, residue=asked.residue),
        warnings=warnings_of(bar, history, found),
    )


def _solved_at(bar: Bar, history: History, settings: Sequence[HoleSetting], travel_mm: Array) -> BeamSolution:
    """The bar at pickup travels (m, 2) of (left, right) beside its own states."""
    try:
        return solve_bar(bar, tuple(settings), more_moves=lambda bar, setting: travel_mm[:, ::-1])
    except BarfemError as error:
        if len(settings) > 1:
            # The first that cannot follow is named.
            for setting in settings:
                _solved_at(bar, history, (setting,), travel_mm)
        # Without the history the bar stands, or has its own error.
        solve_bar(bar, tuple(settings))
        left, right = bar.left.holes[settings[0].left].name, bar.right.holes[settings[0].right].name
        holes = f"hole {left}" if left == right else f"holes {left} and {right}"
        sides = (("left", history.left_mm), ("right", history.right_mm))
        ranges = ", ".join(f"{side} {values.min():.4g} to {values.max():.4g} mm" for side, values in sides)
        side, values = max(sides, key=lambda item: np.abs(item[1]).max())
        i = int(np.argmax(np.abs(values)))
        raise InputError(
            f"at {holes} the bar has no equilibrium at all of this travel ({ranges}): a "
            f"link cannot reach its pickup there, or link or bar snaps over. The furthest is {values[i]:.4g} mm.",
            file=history.source,
            where=f"{history.place(i)}, column {side}_mm",
            expected="travel of each pickup from rest (zero where the car stands), in mm, that the links can follow.",
        ) from error


def _lives(found: HistoryDamage, lives: Array) -> tuple[SurvivalLife, ...]:
    rows = sorted(zip(found.survivals, lives, found.runout[:, 0], strict=True))
    return tuple(SurvivalLife(survival=share, life=finite(life), runout=bool(runout)) for share, life, runout in rows)
