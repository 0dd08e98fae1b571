"""The sizes that a search tries, what each does, and which of them are worth a look."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from typing import Any, ClassVar

import numpy as np

from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar, Section
from barfem.model.frozen import frozen
from barfem.model.grouped import grouped, round_down, two_decimals
from barfem.model.plain import NOT_IN_JSON, Json, json_as
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES
from barfem.study.evaluation import Evaluation
from barfem.study.json_values import hole_setting_json
from barfem.study.stock import Stock

__all__ = ["WITHIN_PERCENT", "Option", "Sizing", "Window", "why_not", "with_front"]


WITHIN_PERCENT = 15.0
"""How far a stock size's rate may be off what was asked: sizes stand about 20 % of rate apart (d^4)."""

NOTICEABLE = 0.01
"""A life or a safety factor that is greater by less than this share is the same: no reason to take more steel."""


@frozen
class Option:
    """One size and what it does; the rate and life numbers are those of the asked hole and of the worst one.

    `evaluation` covers every hole setting that `check` judges; `at` is the number of the asked one in it. Both are None
    where there is no such bar, and `problem` says why. `on_front`: of the sizes near the rate, it lives longer than
    every lighter one. `limit` is what rules it out in words, empty where nothing does.
    """

    name: str
    section: Section | None = field(default=None, metadata=NOT_IN_JSON)
    bar: Bar | None = field(default=None, metadata=NOT_IN_JSON)
    evaluation: Evaluation | None = field(default=None, metadata=NOT_IN_JSON)
    at: int = field(default=0, metadata=NOT_IN_JSON)
    problem: str | None = None
    on_front: bool = False
    notes: tuple[str, ...] = ()
    limit: str = field(default="", metadata=json_as(lambda limit: limit or None))

    _json_also: ClassVar[Mapping[str, str]] = {
        name: name for name in ("shape", "diameter_mm", "wall_mm", "mass_kg", "rate_N_per_mm", "passes", "settings")
    }

    @property
    def shape(self) -> str | None:
        return None if self.section is None else self.section.shape

    @property
    def diameter_mm(self) -> float | None:
        return None if self.section is None else self.section.diameter_mm

    @property
    def wall_mm(self) -> float | None:
        return None if self.section is None else self.section.wall_mm

    @property
    def settings(self) -> list[dict[str, Any]]:
        """The check's numbers of every hole setting."""
        found = self.evaluation
        return [] if found is None else [hole_setting_json(found, j) for j in range(len(found.settings))]

    @property
    def solved(self) -> bool:
        return self.evaluation is not None and self.evaluation.problem_at(self.at) is None

    @property
    def passes(self) -> bool:
        return self.evaluation is not None and bool(self.evaluation.passes.all())

    @property
    def rate_N_per_mm(self) -> float:
        return math.nan if self.evaluation is None else float(self.evaluation.rate_N_per_mm[self.at])

    @property
    def mass_kg(self) -> float:
        return math.nan if self.evaluation is None else self.evaluation.mass_kg

    @property
    def worst(self) -> int:
        """Hole setting with the shortest life, then the least safety factor."""
        if self.evaluation is None:
            return 0
        factor = np.nan_to_num(self.evaluation.safety_factor_at_target, nan=np.inf)
        return int(np.lexsort((factor, self.evaluation.ordered_life))[0])

    @property
    def life_rank(self) -> tuple[float, float]:
        """To order by life: at survival (infinity beyond the knee), then safety factor, of the worst hole setting."""
        if self.evaluation is None:
            return 0.0, 0.0
        factor = float(self.evaluation.safety_factor_at_target[self.worst])
        return float(self.evaluation.ordered_life[self.worst]), 0.0 if math.isnan(factor) else factor


@frozen
class Window:
    """Sizes next to each other, `first` to `last` in the order of stiffness, that pass and that nothing else rules out.

    `below` and `above` are what rules out the size before and the one after, with its name; empty where the list ends.
    """

    first: str
    last: str
    count: int
    below: str
    above: str


@frozen
class Asked:
    """What was asked of a size: the rate (None: the most that meets the targets) at which hole, varying what."""

    rate_N_per_mm: float | None
    hole: str
    case: str
    vary: str
    within_percent: float
    stock: str | None


@frozen(kw_only=True)
class Sizing(Json):
    """What was asked and what was found.

    Attributes
    ----------
    rate_N_per_mm, hole, case
        The asked rate (None: the most that meets the targets), at which hole setting.
    answer
        What to make; None where nothing meets rate and targets.
    nearest
        What comes nearest where there is no answer.
    missed
        Why there is no answer, or why a nearer size was passed over.
    options
        Everything tried, in the order of the list.
    exact
        The answer need not be a size of a list.
    windows
        Of a stock list: the sizes that pass, each window with what ends it.
    drawn
        Name of the drawn section among the options of a stock list.
    """

    bar: Bar = field(metadata=NOT_IN_JSON)
    rate_N_per_mm: float | None = field(metadata=NOT_IN_JSON)
    hole: str = field(metadata=NOT_IN_JSON)
    case: str = field(metadata=NOT_IN_JSON)
    vary: str = field(metadata=NOT_IN_JSON)
    exact: bool = field(metadata=NOT_IN_JSON)
    within_percent: float = field(metadata=NOT_IN_JSON)
    answer: Option | None
    nearest: Option | None
    options: tuple[Option, ...]
    missed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    stock: Stock | None = field(default=None, metadata=NOT_IN_JSON)
    windows: tuple[Window, ...] = ()
    drawn: str = ""

    _json_also: ClassVar[Mapping[str, str]] = {"name": "bar.name", "source": "bar.source", "asked": "asked"}

    @property
    def asked(self) -> Asked:
        stock = None if self.stock is None else self.stock.file
        return Asked(self.rate_N_per_mm, self.hole, self.case, self.vary, self.within_percent, stock)

    @property
    def near_percent(self) -> float:
        """How far a rate may be off for a size to take another's place: never more than `WITHIN_PERCENT`."""
        return min(self.within_percent, WITHIN_PERCENT)


def why_not(option: Option) -> str:
    """Why a size does not meet its targets, in short."""
    if option.evaluation is None or not option.solved:
        return option.problem or "it cannot be solved"
    found, bar = option.evaluation, option.evaluation.bar
    bad = [j for j in range(len(found.passes)) if not found.passes[j]]
    if not bad:
        return "nothing"
    j = min(bad, key=lambda j: (float(found.ordered_life[j]), np.nan_to_num(found.yield_margin[j], nan=-1.0)))
    hole = pair_name(found.left[j], found.right[j])
    if (problem := found.problem_at(j)) is not None:
        return problem
    if found.yield_margin[j] < bar.targets.yield_margin:
        margin, target = float(found.yield_margin[j]), bar.targets.yield_margin
        return f"yield margin {two_decimals(margin, target):.2f} at hole {hole} (target {target:g})"
    if found.unworked and found.unworked[j]:
        return f"{found.unworked[j]} at hole {hole}"
    repeats = found.repeats_at_survival[j]
    life = found.life_at_survival_cycles[j]
    if bar.duty.target_cycles_given and np.isfinite(life) and life < bar.duty.target_cycles:
        return f"life {grouped(round_down(life))} cycles at hole {hole} (target {grouped(bar.duty.target_cycles)})"
    if np.isfinite(repeats) and repeats < bar.duty.repeats:
        return f"life {round_down(repeats):.2g} repeats of the blocks at hole {hole} (target {bar.duty.repeats:g})"
    if not np.isfinite(life) and not found.runout_at_survival[j]:
        return f"no life can be stated at hole {hole}"
    return f"a target at hole {hole} is missed"


def with_front(options: Sequence[Option], rate: float, within_percent: float) -> list[Option]:
    """Mark those near the rate that live noticeably longer than every lighter one (`NOTICEABLE`)."""
    near = [
        option
        for option in options
        if option.solved and abs(option.rate_N_per_mm / rate - 1.0) <= within_percent / 100.0
    ]
    near.sort(key=lambda option: (option.mass_kg, tuple(-x for x in option.life_rank)))
    front: set[str] = set()
    best = (0.0, 0.0)
    for option in near:
        life = (min(option.life_rank[0], LONGEST_LIFE_CYCLES), option.life_rank[1])
        if life[0] > best[0] * (1.0 + NOTICEABLE) or (life[0] >= best[0] and life[1] > best[1] * (1.0 + NOTICEABLE)):
            front.add(option.name)
            best = life
    return [replace(option, on_front=option.name in front) for option in options]
