"""Stress and life of an axle's bar over many pairs of holes: at a state of the car, and at full travel."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_stress import BarStress, StressAt
from barfem.car.car import AXLES, Car
from barfem.car.missed import missed_goodman, missed_margin
from barfem.car.model import CarModel
from barfem.car.quantities import CarStates
from barfem.check.verdict import life_beside
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped

__all__ = ["BarColumns", "bar_columns", "warnings_of_blocks"]

ALIKE_MM = 1e-6


@frozen
class BarColumns:
    """One bar's stress over all pairs: at the state, and at full travel of the bar file; and what else fails it."""

    axle: str
    state: StressAt
    full: StressAt
    full_row: NDArray[np.intp]
    yield_target: float
    life_target: float | None
    goodman_target: float | None
    unfit: tuple[tuple[str, ...], ...]

    def row(self, k: int) -> dict[str, Any]:
        f = self.full_row[k]
        return {
            "margin_state": float(self.state.yield_margin[k]),
            "margin_full": float(self.full.yield_margin[f]),
            "life_state": float(self.state.life_at_survival_cycles[k]),
            "runout_state": bool(self.state.runout_at_survival[k]),
            "life_full": float(self.full.life_at_survival_cycles[f]),
            "runout_full": bool(self.full.runout_at_survival[f]),
        }

    def why(self, k: int) -> list[str]:
        row, out = self.row(k), [f"the {self.axle} bar: {text}" for text in self.unfit[k]]
        for where, key in (("at the state", "margin_state"), ("at full travel", "margin_full")):
            out += missed_margin(self.axle, row[key], self.yield_target, where=f" {where}")
        life = row["life_full"]
        if self.life_target is not None and not row["runout_full"] and not life >= self.life_target:
            shown = life_beside(life, self.life_target) if np.isfinite(life) else "none"
            target = grouped(self.life_target)
            out.append(f"the {self.axle} bar's life at full travel, {shown}, falls short of the target of {target}")
        goodman = float(self.full.goodman_safety_factor[self.full_row[k]])
        return out + missed_goodman(self.axle, goodman, self.goodman_target, where=" at full travel")


def bar_columns(
    model: CarModel, found: CarStates, mirrored: CarStates, axle: int, pair: list[int]
) -> BarColumns | None:
    """None without a bar of ours. `found` is of the state and `mirrored` of the same turn to the other side.

    What preloads a bar adds to the one and takes from the other, so that neither stands for both.
    """
    curves = model.curves[axle]
    if curves is None or curves.grid is None or curves.axle_bar.bar is None:
        return None
    bar, stress = curves.axle_bar.bar, BarStress(curves)
    q, other_way = (np.where(each.found[:, None], each.pickup_mm[axle], 0.0) for each in (found, mirrored))
    unique = sorted(set(pair))
    unfit = {number: curves.unfit(number) for number in unique}
    up, down, ratio = bar.travel.up_mm, bar.travel.down_mm, bar.duty.ratio
    offset = np.array(curves.axle_bar.offset_mm)
    full = np.tile(offset + np.array([up, -down]), (len(unique), 1))
    other = offset + (ratio * np.array([up, -down]) if ratio >= 0 else -ratio * np.array([-down, up]))
    at_state = there = stress.at(np.array(pair), q, other_end_mm=other_way, words=False)
    if np.abs(other_way - q[:, ::-1]).max() > ALIKE_MM:  # else both turns have one margin
        there = stress.at(np.array(pair), q, other_end_mm=q, words=False)
    gone = ~(found.found & mirrored.found)
    at_state = replace(
        at_state,
        yield_margin=np.where(found.found, there.yield_margin, np.nan),
        life_at_survival_cycles=np.where(gone, np.nan, at_state.life_at_survival_cycles),
        runout_at_survival=at_state.runout_at_survival & ~gone,
    )
    return BarColumns(
        AXLES[axle],
        at_state,
        stress.at(np.array(unique), full, other_end_mm=np.tile(other, (len(unique), 1)), words=False),
        np.array([unique.index(number) for number in pair]),
        bar.targets.yield_margin,
        bar.duty.target_cycles if bar.duty.target_cycles_given else None,
        bar.targets.goodman_safety_factor,
        tuple(unfit[number] for number in pair),
    )


def warnings_of_blocks(car: Car) -> list[str]:
    """Bars whose files ask for blocks of a mixed duty: those are judged by `barfem check` alone."""
    return [
        f"[{axle.name}.bar] the [duty] of {axle.bar.bar.source or axle.bar.bar.name} is blocks: no life is judged here "
        "but its yield margin alone, and the life shown is that of full travel; barfem check judges the blocks."
        for axle in car.axles
        if axle.bar is not None
        and axle.bar.bar is not None
        and axle.bar.bar.duty.blocks
        and not axle.bar.bar.duty.target_cycles_given
    ]
