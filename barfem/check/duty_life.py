"""Blocks of a duty in the check: the travels to solve, and damage and life in repeats of every hole setting.

One list of blocks is one repeat. Every point of every checked region is judged, at each block's own travel and ratio,
by Miner's rule; residual stress and peening go by the greatest stress of all blocks and of full travel.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.check.lives import BlockShare, DutyLife, SurvivalLife
from barfem.check.points import Points, checked_points, damage_lines_of, stress_at
from barfem.check.solved import CYCLE, Solved
from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.plain import finite
from barfem.strength.duty.blocks import BlockDamage, block_damage
from barfem.strength.duty.miner import CRITICAL_SUM, SURVIVALS, DamageLines, runout_words
from barfem.strength.duty.von_mises import amplitude_and_mean, greatest_amplitude, plane_von_mises
from barfem.strength.fatigue.assess import STATUS_REASONS, LifeStatus

__all__ = ["BlockSolution", "critical_sum_of", "damage_along", "duty_life", "solve_blocks"]

Array = NDArray[np.float64]


def critical_sum_of(bar: Bar) -> float:
    """Miner's sum at failure: the bar file's, else the default."""
    return CRITICAL_SUM if bar.targets.critical_sum is None else bar.targets.critical_sum


@frozen
class BlockSolution:
    """Damage of one hole setting's blocks at all its points, with what it was read from; stress (blocks, points)."""

    points: Points
    lines: DamageLines
    amplitude_MPa: Array
    mean_MPa: Array
    damage: BlockDamage


def survivals_of(bar: Bar) -> tuple[float, ...]:
    """The survival that is judged, then the standing ones."""
    return (bar.targets.survival, *(share for share in SURVIVALS if share != bar.targets.survival))


def solve_blocks(solved: Solved, setting: int, points: Points | None = None) -> BlockSolution:
    """Damage of the blocks at every point of hole setting number `setting`; `Solved.further` begins with their states.

    The first survival is the one judged.
    """
    bar = solved.bar
    points = checked_points(solved) if points is None else points
    blocks = bar.duty.blocks
    further = np.empty((0, 0, 6)) if solved.further is None else solved.further[setting, : 2 * len(blocks)]
    stress = stress_at(solved, points, further)
    full = stress_at(solved, points, solved.resultants[setting])
    peak = np.maximum(plane_von_mises(stress).max(axis=0), plane_von_mises(full).max(axis=0))
    amplitude, mean = amplitude_and_mean(stress[0::2], stress[1::2])
    ends = np.concatenate([stress, full[list(CYCLE)]])
    lines = damage_lines_of(solved, setting, points, peak_MPa=peak, amplitude_MPa=greatest_amplitude(ends))
    damage = block_damage(
        lines,
        amplitude_MPa=amplitude,
        mean_MPa=mean,
        cycles=[block.cycles for block in blocks],
        survivals=survivals_of(bar),
        critical_sum=critical_sum_of(bar),
    )
    return BlockSolution(points, lines, amplitude, mean, damage)


def duty_life(solved: Solved, setting: int, points: Points | None = None) -> DutyLife | None:
    """Life in repeats of hole setting number `setting` at the point where it is shortest; None without blocks."""
    bar = solved.bar
    if not bar.duty.blocks:
        return None
    found = solve_blocks(solved, setting, points)
    damage, q = found.damage, found.damage.governing(0)
    status = LifeStatus(int(damage.status[q]))
    median = damage.survivals.index(0.5)

    reason = STATUS_REASONS[status] or None
    if reason is None and damage.runout[0, q]:
        reason = runout_words(has_knee=bool(found.lines.has_knee[q]))
    return DutyLife(
        **solved.spot(int(found.points.sample[q]), int(found.points.point[q])),
        critical_sum=damage.critical_sum,
        target_repeats=bar.duty.repeats,
        damage_per_repeat=finite(float(damage.damage[0, :, q].sum())),
        damage_per_repeat_median=finite(float(damage.damage[median, :, q].sum())),
        life_repeats=finite(damage.repeats[median, q]),
        life_at_survival_repeats=finite(damage.repeats[0, q]),
        runout=bool(damage.runout[median, q]),
        runout_at_survival=bool(damage.runout[0, q]),
        # Where the governing place runs out all do.
        runout_repeats=finite(damage.shown_repeats[0].min()) if damage.runout[0, q] else None,
        reason=reason,
        lives=tuple(
            SurvivalLife(
                survival=share,
                life=finite(damage.repeats[i, q]),
                runout=bool(damage.runout[i, q]),
            )
            for i, share in sorted(enumerate(damage.survivals), key=lambda item: item[1])
        ),
        blocks=tuple(
            BlockShare(
                pickup_mm=block.pickup_mm,
                ratio=block.ratio,
                cycles=block.cycles,
                amplitude_MPa=float(found.amplitude_MPa[i, q]),
                mean_MPa=float(found.mean_MPa[i, q]),
                equivalent_amplitude_MPa=finite(damage.equivalent_amplitude_MPa[i, q]),
                damage=finite(damage.damage[0, i, q]),
            )
            for i, block in enumerate(bar.duty.blocks)
        ),
    )


def damage_along(solved: Solved, setting: int) -> tuple[Array, Array]:
    """(station [mm], damage) along the bar, for a picture: the worst point of each sampled section.

    Of one repeat of the blocks; without blocks, of `target_cycles` of full travel. At the survival judged. A section at
    which no life can be stated has infinity. Sections in order of station.
    """
    bar = solved.bar
    if bar.duty.blocks:
        found = solve_blocks(solved, setting)
        points, damage = found.points, found.damage
    else:
        points = checked_points(solved)
        stress = stress_at(solved, points, solved.resultants[setting])
        one, other = (stress[[state]] for state in CYCLE)
        amplitude, mean = amplitude_and_mean(one, other)
        peak = plane_von_mises(stress).max(axis=0)
        lines = damage_lines_of(solved, setting, points, peak_MPa=peak, amplitude_MPa=amplitude[0])
        damage = block_damage(
            lines,
            amplitude_MPa=amplitude,
            mean_MPa=mean,
            cycles=[bar.duty.target_cycles],
            survivals=survivals_of(bar),
            critical_sum=1.0,
        )
    total = damage.damage[0].sum(axis=0)
    total = np.where(np.isfinite(total), total, np.inf)
    worst = np.zeros(len(solved.samples.station_mm))
    np.maximum.at(worst, points.sample, total)
    order = np.argsort(solved.samples.station_mm, kind="stable")
    return solved.samples.station_mm[order], worst[order]
