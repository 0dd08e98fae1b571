"""What would make a failing hole setting pass, or what there is to spare, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from barfem.check.hole_names import pair_name
from barfem.check.result import CheckResult
from barfem.show.numbers import significant
from barfem.study.advice import Advice

__all__ = ["nothing_else", "passes_with", "spare_words", "way_lines", "way_words"]


def spare_words(advice: Sequence[Advice]) -> str:
    """What a bar that passes has to spare."""
    return f"To spare: it passes up to {advice[0].words}."


def way_lines(result: CheckResult, advice: Sequence[Advice], *, own: bool = True) -> list[str]:
    """A sentence for each failing hole setting.

    Without `own` those for all of a load case stand for its hole settings, where there are any.
    """
    several = len({setting.case for setting in result.settings}) > 1
    if not own:
        whole = {each.case for each in advice if not each.left}
        advice = [each for each in advice if not each.left or each.case not in whole]
    lines = []
    for key in dict.fromkeys((each.left, each.right, each.case) for each in advice):
        some = [each for each in advice if (each.left, each.right, each.case) == key]
        ways = "; or ".join(way_words(each) for each in some)
        lines.append(f"{passes_with(some[0], several_cases=several)} {ways}.")
    words = nothing_else(advice)
    return [*lines, words] if words else lines


def passes_with(each: Advice, *, several_cases: bool) -> str:
    """What stands before the ways that make a hole setting, or all of them, pass."""
    case = f", {each.case}," if several_cases else ""
    return f"Hole {pair_name(each.left, each.right)}{case} passes with" if each.left else f"All holes{case} pass with"


def nothing_else(advice: Sequence[Advice]) -> str:
    """Of hole settings that pass with less travel alone: that all else was looked at; empty where there are none."""
    kinds: dict[str, list[str]] = {}
    for each in (each for each in advice if each.left):
        kinds.setdefault(pair_name(each.left, each.right), []).append(each.kind)
    holes = [hole for hole, of in kinds.items() if set(of) == {"travel"}]
    if not holes:
        return ""
    return (
        f"At hole{'s' * (len(holes) > 1)} {', '.join(holes)} no hole nearer the tip, longer arm, smaller stock size or "
        "better skin is enough alone (thicker is worse at equal travel)."
    )


def way_words(each: Advice) -> str:
    """One way that makes a hole setting pass, with the rate that it gives where that is another."""
    if each.rate_change_percent is None or abs(each.rate_change_percent) < 0.5 or each.rate_N_per_mm is None:
        return each.words
    return f"{each.words}: {significant(each.rate_N_per_mm)} N/mm, {each.rate_change_percent:+z.0f} %"
