"""What `evaluate` finds of a bar: its numbers at every hole setting as arrays, and the places they come from."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.solve.beam import HoleSetting

__all__ = ["NOT_SOLVED", "Evaluation", "Places"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Flags = NDArray[np.bool_]

NOT_SOLVED = -1
"""Status of a hole setting that could not be solved, where others have that of their life."""


@frozen(kw_only=True)
class Places:
    """What each place of the bar says for itself, arrays (j, p) over hole settings and the places that are checked.

    `names` are (kind, index, which of those that share these), the same for every bar of one drawing. `ordered_life`
    is the life at survival, infinity beyond the knee and zero where none can be stated. The bar's numbers are the worst
    of these.
    """

    names: tuple[tuple[str, int, int], ...]
    peak_MPa: Array
    yield_margin: Array
    safety_factor_at_target: Array
    goodman_safety_factor: Array
    target_share_at_survival: Array
    ordered_life: Array


@frozen(kw_only=True)
class Evaluation:
    """One bar: arrays (j,) over its hole settings, those of each load case together.

    Attributes
    ----------
    number
        Place of the bar among those given, counted from zero.
    settings, left, right, cases
        The hole settings, and the names of their holes and load cases.
    rate_N_per_mm, rate_initial_N_per_mm, link_force_N
        As `check`: rate over the travel, at rest; the greater link force of both sides at full travel.
    side_force_N
        Link forces (j, 2) at full travel, right and left, tension positive.
    joint_angle_deg
        How far the joint of either link swings from rest as seen from the bar's end, the greater.
    peak_MPa, yield_margin
        Greatest von Mises stress over places and states; least local yield strength / von Mises stress - 1.
    safety_factor_at_target, goodman_safety_factor
        The least of all places; NaN where there is none (no load, no endurance limit).
    life_cycles, life_at_survival_cycles
        Median and at the stated survival; NaN where `runout` (`runout_at_survival`), and where `status` (a
        `LifeStatus`; `NOT_SOLVED` where it could not be solved) allows no life.
    target_share_at_survival
        Strength at the target over equivalent amplitude, at the stated survival, the least of all places: above 1 the
        target is met.
    repeats_at_survival
        Of the duty's blocks; NaN where it has none, or where none can be stated.
    peak_where, fatigue_where
        Where the peak is, and where life is shortest, in the check's words.
    passes
        Every target is met.
    unworked
        Why roll does not work the bar, of each hole setting; empty where it does (`barfem.check.worked`).
    places
        The same place by place; None where the bar could not be solved.
    load_factor_at_survival
        By how much the load may grow until of bars at the stated survival one lasts just the target, to 0.1 %; infinite
        where nothing is loaded. None unless it was asked for.
    problems
        Why each hole setting could not be solved; then its numbers are NaN and it fails. None where it was; empty where
        all were.
    """

    number: int
    bar: Bar
    settings: tuple[HoleSetting, ...]
    mass_kg: float
    rate_N_per_mm: Array
    rate_initial_N_per_mm: Array
    link_force_N: Array
    side_force_N: Array
    joint_angle_deg: Array
    peak_MPa: Array
    yield_margin: Array
    safety_factor_at_target: Array
    goodman_safety_factor: Array
    target_share_at_survival: Array
    life_cycles: Array
    life_at_survival_cycles: Array
    runout: Flags
    runout_at_survival: Flags
    status: NDArray[np.int8]
    repeats_at_survival: Array
    peak_where: NDArray[np.object_]
    fatigue_where: NDArray[np.object_]
    passes: Flags
    unworked: tuple[str, ...] = ()
    places: Places | None = None
    load_factor_at_survival: Array | None = None
    problems: tuple[str | None, ...] = ()

    @property
    def problem(self) -> str | None:
        """Why the bar could not be solved at any of its hole settings; None where it could at one."""
        return self.problems[0] if self.problems and all(self.problems) else None

    def problem_at(self, j: int) -> str | None:
        """Why hole setting `j` could not be solved; None where it was."""
        return self.problems[j] if self.problems else None

    @property
    def left(self) -> tuple[str, ...]:
        return tuple(self.bar.left.holes[setting.left].name for setting in self.settings)

    @property
    def right(self) -> tuple[str, ...]:
        return tuple(self.bar.right.holes[setting.right].name for setting in self.settings)

    @property
    def cases(self) -> tuple[str, ...]:
        return tuple(setting.case for setting in self.settings)

    @property
    def ordered_life(self) -> Array:
        """Life at survival for ordering, (j,): infinity beyond the knee, zero where no life can be stated."""
        life = np.where(np.isfinite(self.life_at_survival_cycles), self.life_at_survival_cycles, 0.0)
        return np.where(self.runout_at_survival, np.inf, life)
