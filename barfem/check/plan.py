"""How many bars to test, and to what life, to show that a share of all bars reaches a target."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable
from statistics import NormalDist
from typing import Literal

from barfem.check.lives import DutyLife, SurvivalLife
from barfem.check.result import CheckResult, SettingResult
from barfem.model.bar import Bar, drawing_words
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import counted, grouped, percent
from barfem.model.load_case import CYCLE, End, case_named
from barfem.model.survival import checked_survival
from barfem.strength.duty.scatter import (
    LifeScatter,
    bars_to_test,
    chance_to_pass,
    failed_mean_ratio,
    required_life_ratio,
)

__all__ = [
    "DEFAULT_DEVIATION",
    "DEFAULT_SOURCE",
    "LifeToShow",
    "PlanRow",
    "ProofPlan",
    "TestedPair",
    "life_to_show",
    "plan_of",
    "plan_tests",
    "plan_words",
    "rounded_up",
    "tested_pair",
]

Unit = Literal["cycles", "repeats"]

DEFAULT_DEVIATION = 0.2
DEFAULT_SOURCE = "standard deviation 0.2 of log10 life (common practice for spring steel, no source)"
_NUMBERS = (1, 2, 3, 4, 6, 8, 12)
_MOST_BLOCKS = 12  # that a sentence lists


@frozen(kw_only=True)
class PlanRow:
    """`bars` that all last `life` (`ratio` times the target) without failure show the target.

    So do as many bars, all run until they fail, whose mean life is `mean_life_if_failed` or more
    (`failed_mean_ratio`). `chance` is the probability that none fails before `life`, if lives are those
    estimated; None where that is not known. Lives are in the plan's unit.
    """

    bars: int
    ratio: float
    life: float
    mean_life_if_failed: float
    chance: float | None = None


@frozen(kw_only=True)
class TestedPair:
    """What is tested: the bar and the hole pair whose life is shortest, its stroke, force and the place to look at.

    `stroke_mm` is the travel of the left pickup from rest, up at full travel and down at the cycle's other end; `moves`
    says that of both in words; `link_force_N` is the greater of both sides at full travel. `one_repeat` are the duty's
    blocks in words, where lives are in repeats of them; else None.
    """

    bar: str
    drawing: str | None
    revision: str | None
    holes: str
    case: str
    stroke_mm: tuple[float, float]
    moves: str
    link_force_N: float
    rate_N_per_mm: float | None
    place: str
    one_repeat: str | None = None

    @property
    def words(self) -> str:
        """As a test is ordered."""
        moves = f": {self.moves}"
        if self.one_repeat is not None:
            moves = f". One repeat of the duty is {self.one_repeat}. Full travel: {self.moves}"
        return (
            f"Test {self.bar}, hole {self.holes}, {self.case}{moves}. Expect about "
            f"{grouped(round(self.link_force_N))} N in the link at full travel, and the first crack at {self.place}."
        )


@frozen(kw_only=True)
class ProofPlan:
    """Tests, each row as good as the other, and what they rest on; `unit` is that of target and lives."""

    target: float
    unit: Unit
    survival: float
    confidence: float
    scatter: str
    rows: tuple[PlanRow, ...]
    tested: TestedPair | None = None


@frozen(kw_only=True)
class LifeToShow:
    """What of a checked bar a test is to show: its target, and the life and scatter estimated for it.

    Cycles of full articulation, or repeats of the duty's blocks where only they are judged. None where not known.
    `lives` are those at several survivals, which need not be lognormal together.
    """

    target: float
    unit: Unit
    survival: float
    median_life: float | None
    log10_life_deviation: float | None
    lives: tuple[SurvivalLife, ...] = ()

    def share_that_lasts(self, life: float) -> float | None:
        """Share of bars that last a life, between and beyond those stated in proportion to log10 life; None where that
        is not known: beyond all of them, where more bars run out.
        """
        known = sorted({each.life: each.survival for each in self.lives if each.life}.items())
        if len(known) < 2 or (life > known[-1][0] and any(each.runout for each in self.lives)):
            return None
        logs = [math.log10(each) for each, _ in known]
        normal = [NormalDist().inv_cdf(share) for _, share in known]
        at = min(max(bisect_left(logs, math.log10(life)), 1), len(logs) - 1)
        slope = (normal[at] - normal[at - 1]) / (logs[at] - logs[at - 1])
        return NormalDist().cdf(normal[at] + slope * (math.log10(life) - logs[at]))

    @property
    def scatter_words(self) -> str:
        if not self.log10_life_deviation:
            return DEFAULT_SOURCE
        of = "on the sloping line" if self.unit == "cycles" else "in damage of the blocks"
        return (
            f"standard deviation {self.log10_life_deviation:.2f} of log10 life, from the scatter of strength {of} at "
            "the governing place"
        )


def tested_pair(result: CheckResult, bar: Bar) -> TestedPair:
    """The hole pair that a test of a checked bar is to be run on."""
    worst, place, repeat = result.governing_for_life, None, None
    if not result.target_cycles_judged:
        worst, duty = _worst_duty(result)
        place, repeat = duty.where, _one_repeat(bar)
    case = case_named(worst.case)
    up, other = case.moves_mm(bar.travel, bar.duty.ratio)[list(CYCLE), End.LEFT].tolist()
    named = f"{result.name} {drawing_words(result.drawing, result.revision)}".strip()
    return TestedPair(
        bar=named,
        drawing=result.drawing,
        revision=result.revision,
        holes=worst.holes,
        case=worst.case,
        stroke_mm=(up, 0.0 - other),
        moves=case.describe(bar.travel, bar.duty.ratio),
        link_force_N=max(abs(worst.link_force_left_N), abs(worst.link_force_right_N)),
        rate_N_per_mm=worst.rate_N_per_mm,
        place=worst.fatigue.where if place is None else place,
        one_repeat=repeat,
    )


def _one_repeat(bar: Bar) -> str:
    """The duty's blocks, as a test is run by them."""
    blocks = [
        f"{grouped(block.cycles)} cycles of {block.pickup_mm:g} mm "
        + {-1.0: "up and down", 0.0: "and back to rest"}.get(block.ratio, f"and {block.ratio:g} times that")
        for block in bar.duty.blocks
    ]
    if len(blocks) > _MOST_BLOCKS:
        return f"the {len(blocks)} blocks that the bar file lists under [duty]"
    mixed = ", in mixed order where the rig can" if len(blocks) > 1 else ""
    return f"{', '.join(blocks)}{mixed}"


def _worst_duty(result: CheckResult) -> tuple[SettingResult, DutyLife]:
    """The hole setting whose blocks last the fewest repeats, none at all first; of run-outs the most stressed."""
    found = [(setting, duty) for setting in result.settings if (duty := setting.fatigue.duty) is not None]
    return min(found, key=lambda each: (each[1].life.order, each[0].fatigue.safety_factor_at_target or math.inf))


def plan_tests(
    *,
    target: float,
    survival: float,
    confidence: float,
    scatter: LifeScatter,
    scatter_words: str,
    median_life: float | None = None,
    lasts: Callable[[float], float | None] | None = None,
    bars: int | None = None,
    unit: Unit = "cycles",
) -> ProofPlan:
    """Rows for a few numbers of bars (or for `bars` alone), the last with a test to the target itself, unless that
    needs more bars than anybody tests.

    The chance that none fails goes by `lasts`, the share of bars that last a life; without it by a median life and the
    scatter.

    Raises
    ------
    InputError
        A target, share or number that cannot be.
    """
    if not 0.0 < target < float("inf"):
        raise InputError(f"a target of {target:g} {unit} is not possible.", where="--target", expected="above 0.")
    checked_survival(survival, where="--survival")
    try:
        whole = bars_to_test(reliability=survival, confidence=confidence)
    except InputError:  # too many, where one bar of a million may fail; a confidence that is none fails below
        whole = None
    few = _NUMBERS if whole is None else (*(n for n in _NUMBERS if n < whole), whole)
    numbers = few if bars is None else (bars,)

    def row(number: int) -> PlanRow:
        ratio = required_life_ratio(bars=number, reliability=survival, confidence=confidence, scatter=scatter)
        if number == whole and bars is None:
            ratio = 1.0
        mean = failed_mean_ratio(bars=number, reliability=survival, confidence=confidence, scatter=scatter)
        chance = None
        if lasts is not None:
            share = lasts(ratio * target)
            chance = None if share is None else share**number
        elif median_life is not None:
            chance = chance_to_pass(
                bars=number, median_over_target=median_life / target, life_ratio=ratio, scatter=scatter
            )
        return PlanRow(bars=number, ratio=ratio, life=ratio * target, mean_life_if_failed=mean * target, chance=chance)

    return ProofPlan(
        target=target,
        unit=unit,
        survival=survival,
        confidence=confidence,
        scatter=scatter_words,
        rows=tuple(row(number) for number in numbers),
    )


def life_to_show(result: CheckResult) -> LifeToShow:
    """What a test of a checked bar is to show, at the hole setting with the shortest life."""
    if result.target_cycles_judged:
        fatigue = result.governing_for_life.fatigue
        return LifeToShow(
            target=result.target_cycles,
            unit="cycles",
            survival=result.survival,
            median_life=fatigue.life_cycles,
            log10_life_deviation=fatigue.log10_life_deviation,
            lives=fatigue.lives,
        )
    _, worst = _worst_duty(result)
    return LifeToShow(
        target=worst.target_repeats,
        unit="repeats",
        survival=result.survival,
        median_life=worst.life_repeats,
        log10_life_deviation=_deviation(worst, result.survival),
        lives=worst.lives,
    )


def _deviation(duty: DutyLife, survival: float) -> float | None:
    """Standard deviation of log10 life between the median and the survival judged."""
    z = NormalDist().inv_cdf(survival)
    if duty.life_repeats is None or duty.life_at_survival_repeats is None or z <= 0.0:
        return None
    return math.log10(duty.life_repeats / duty.life_at_survival_repeats) / z


def plan_of(result: CheckResult, *, confidence: float = 0.90) -> ProofPlan:
    """The plan for a checked bar."""
    judged = life_to_show(result)
    return plan_tests(
        target=judged.target,
        unit=judged.unit,
        survival=judged.survival,
        confidence=confidence,
        scatter=LifeScatter(log10_life_deviation=judged.log10_life_deviation or DEFAULT_DEVIATION),
        scatter_words=judged.scatter_words,
        median_life=judged.median_life,
        lasts=judged.share_that_lasts if judged.lives else None,
    )


def plan_words(plan: ProofPlan) -> str:
    """The plan in one sentence."""
    several = [row for row in plan.rows if row.bars in (2, 4)] + [plan.rows[-1]]
    ways = ", or ".join(
        f"{counted(row.bars, 'bar')} to {grouped(rounded_up(row.life))} {plan.unit} ({row.ratio:.2g} times the target)"
        for row in several
    )
    return (
        f"To show by test that {percent(plan.survival)} of bars reach {grouped(plan.target)} {plan.unit}, at "
        f"{percent(plan.confidence)} confidence and without a failure: {ways}. Scatter: {plan.scatter}."
    )


def rounded_up(life: float, digits: int = 3) -> float:
    """A life to test to, with so many digits; never less than needed."""
    step = 10.0 ** (math.floor(math.log10(life)) - digits + 1)
    return math.ceil(life / step - 1e-9) * step
