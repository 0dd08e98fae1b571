"""How many bars to test, and to what life, to show that a share of all bars reaches a target."""

from __future__ import annotations

from dataclasses import dataclass

from barfem.check.result import CheckResult
from barfem.model.errors import InputError
from barfem.strength.duty.scatter import LifeScatter, bars_to_test, chance_to_pass, required_life_ratio

__all__ = ["DEFAULT_DEVIATION", "DEFAULT_SOURCE", "PlanRow", "ProofPlan", "plan_of", "plan_tests", "plan_words"]

DEFAULT_DEVIATION = 0.2
DEFAULT_SOURCE = "standard deviation 0.2 of log10 life (common practice for spring steel, no source)"
_NUMBERS = (1, 2, 3, 4, 6, 8, 12)


@dataclass(frozen=True, kw_only=True)
class PlanRow:
    """`bars` that all last `cycles` (`ratio` times the target) without failure show the target.

    `chance` is the probability that they do, if the median life is the one estimated; None where that is not known.
    """

    bars: int
    ratio: float
    cycles: float
    chance: float | None = None


@dataclass(frozen=True, kw_only=True)
class ProofPlan:
    """Zero-failure tests, each row as good as the other, and what they rest on."""

    target_cycles: float
    survival: float
    confidence: float
    scatter: str
    rows: tuple[PlanRow, ...]


def plan_tests(
    *,
    target_cycles: float,
    survival: float,
    confidence: float,
    scatter: LifeScatter,
    said: str,
    median_cycles: float | None = None,
    bars: int | None = None,
) -> ProofPlan:
    """Rows for a few numbers of bars (or for `bars` alone), the last with a test to the target itself.

    Raises
    ------
    InputError
        A target, share or number that cannot be.
    """
    if not 0.0 < target_cycles < float("inf"):
        raise InputError(f"a target of {target_cycles:g} cycles cannot be.", where="--target", expected="above 0.")
    whole = bars_to_test(reliability=survival, confidence=confidence)
    numbers = (bars,) if bars is not None else (*(n for n in _NUMBERS if n < whole), whole)

    def row(number: int) -> PlanRow:
        ratio = required_life_ratio(bars=number, reliability=survival, confidence=confidence, scatter=scatter)
        if number == whole and bars is None:
            ratio = 1.0
        over = None if median_cycles is None else median_cycles / target_cycles
        chance = (
            None
            if over is None
            else chance_to_pass(bars=number, median_over_target=over, life_ratio=ratio, scatter=scatter)
        )
        return PlanRow(bars=number, ratio=ratio, cycles=ratio * target_cycles, chance=chance)

    return ProofPlan(
        target_cycles=target_cycles,
        survival=survival,
        confidence=confidence,
        scatter=said,
        rows=tuple(row(number) for number in numbers),
    )


def plan_of(result: CheckResult, *, confidence: float = 0.90) -> ProofPlan:
    """The plan for a checked bar: its target, survival and scatter, at the hole setting with the shortest life."""
    fatigue = result.governing_for_life.fatigue
    deviation = fatigue.log10_life_deviation
    said = DEFAULT_SOURCE
    if deviation is not None and deviation > 0.0:
        said = (
            f"standard deviation {deviation:.2f} of log10 life, from the scatter of strength on the sloping line of "
            "the governing place"
        )
    return plan_tests(
        target_cycles=result.target_cycles,
        survival=result.survival,
        confidence=confidence,
        scatter=LifeScatter(log10_life_deviation=deviation or DEFAULT_DEVIATION),
        said=said,
        median_cycles=fatigue.life_cycles,
    )


def plan_words(plan: ProofPlan) -> str:
    """The plan in one sentence."""
    several = [row for row in plan.rows if row.bars in (2, 4)] + [plan.rows[-1]]
    ways = ", or ".join(
        f"{row.bars} bars to {row.cycles:,.0f} cycles ({row.ratio:.2g} times the target)" for row in several
    )
    return (
        f"To show by test that {100 * plan.survival:g} % of bars reach {plan.target_cycles:,.0f} cycles, at "
        f"{100 * plan.confidence:g} % confidence and without a failure: {ways}. Scatter: {plan.scatter}."
    )
