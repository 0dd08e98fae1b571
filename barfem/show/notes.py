"""Sentences about a result: the verdict, and what misleads."""

from __future__ import annotations

import re
from collections.abc import Sequence

from barfem.check.result import CheckResult
from barfem.model.sentences import enumerated, with_capital
from barfem.show.lives import OVER
from barfem.show.numbers import whole

__all__ = ["lessons", "look_twice", "not_judged", "verdict", "verdict_line"]


def verdict(result: CheckResult) -> str:
    """One sentence: does it pass, and where not."""
    settings = result.settings
    idle = next((setting.does_nothing for setting in settings if setting.does_nothing is not None), None)
    if not settings and result.look_twice:
        idle = result.look_twice[0].rstrip("?")
    if idle is not None:  # before any number: none of them means what it seems to
        return f"VERDICT: {idle}. {with_capital(_judged(result).removeprefix('VERDICT: '))}"
    return _judged(result)


def look_twice(texts: Sequence[str]) -> list[str]:
    """The line on what may be a slip of the file; none where nothing is odd."""
    return [f"Look twice: {'; '.join(texts)}"] if texts else []


def verdict_line(result: CheckResult) -> str:
    """The verdict on one line: of a bar that roll does not work the words before the bracket."""
    return re.sub(r" \([^()]*\)(?=\. )", "", verdict(result), count=1)


def _judged(result: CheckResult) -> str:
    """How many hole settings meet their targets."""
    settings = result.rows
    failing = [setting for setting in settings if not setting.passes]
    count = len(settings)
    everywhere = "the only hole setting" if count == 1 else f"all {count} hole settings"
    if not failing:
        if not result.passes:
            return "VERDICT: fails, because a number of the result could not be computed (see Warnings)."
        # What is odd may well be meant: the numbers stand, and the last line says what they hang on.
        meant = ", if the file says what is meant (see Look twice)" if result.look_twice else ""
        return f"VERDICT: passes at {everywhere} judged{meant}."
    if len(failing) == count:
        return f"VERDICT: fails at {everywhere} judged."
    by_case: dict[str, list[str]] = {}
    for setting in failing:
        by_case.setdefault(setting.case, []).append(setting.holes)
    several = len({setting.case for setting in settings}) > 1
    names = "; ".join(_holes(holes) + (f" in {case}" if several else "") for case, holes in by_case.items())
    return f"VERDICT: fails at {len(failing)} of {count} hole settings judged: {names}."


def _holes(names: list[str]) -> str:
    """ "hole 2", "holes 1, 2 and 3", or pairs such as "holes 1 left, 3 right; 2 left, 3 right"."""
    if any(", " in name for name in names):
        return f"hole{'s' if len(names) > 1 else ''} {'; '.join(names)}"
    return f"hole{'s' if len(names) > 1 else ''} {enumerated(names)}"


def not_judged(result: CheckResult) -> list[str]:
    """The load cases that were left out, in a sentence; none where all were judged."""
    return [f"Not judged in this run: {enumerated(result.not_judged)}."] if result.not_judged else []


def lessons(result: CheckResult) -> list[str]:
    """Plain words where experience misleads, each only where it is true of this result."""
    found = [*_stiffest(result)]
    governing = result.governing_for_stress
    split = governing.compliance
    if split is not None:
        supports = split.mounts + split.links
        # At a fixed travel the force goes with the rate, 1 / rate = bar + supports, and the bar's own compliance
        # with 1 / d^4, so that d ln(force) / d ln(d) = 4 (1 - supports); stress goes with force / d^3.
        exponent = 4.0 * (1.0 - supports) - 3.0
        if exponent > 0.05:
            rise = 100.0 * (1.05**exponent - 1.0)
            found.append(
                "At equal travel a thicker bar is more stressed, not less: it takes more force to twist it as far. "
                f"Here 5 % more diameter (and wall, of a tube) raises the stress by about {rise:.0f} % at hole "
                f"{governing.holes}, more at the inside of a bend; a longer arm or less travel lowers it."
            )
        if supports > 0.10:
            found.append(
                f"Mounts and links take {100 * supports:.0f} % of the pickup travel at hole {governing.holes}. Stiffer "
                "bushings or links raise the rate and the stress in the bar alike."
            )
    fatigue = result.governing_for_life.fatigue
    worse, better = fatigue.worse_surface, fatigue.better_surface
    here = fatigue.life_cycles
    if here is not None and here > 0.0:
        if better is not None and (better.runout or (better.life_cycles or 0.0) > 3.0 * here):
            gain = f"{OVER} cycles" if better.runout else f"{(better.life_cycles or 0.0) / here:.0f} times as long"
            found.append(f"Surface decides: with the surface {better.surface} the same bar would last {gain}.")
        elif worse is not None and worse.life_cycles is not None and 0.0 < worse.life_cycles < here / 3.0:
            found.append(
                f"Surface decides: with the surface {worse.surface} the same bar would last "
                f"1/{whole(here / worse.life_cycles)} as long."
            )
    found += _stronger(result)
    return found


def _stronger(result: CheckResult) -> list[str]:
    """That a stronger steel does not make this bar last longer, where its safety factor says so."""
    governing = result.governing_for_life
    ratio = governing.fatigue.stronger_steel_ratio
    if ratio is None or ratio >= 1.002:
        return []
    why = (
        "above 1400 MPa the handbook's limit of a polished specimen rises no more, while flaws count for more. Take "
        "it as no gain. What helps is a cleaner or peened skin, or less stress."
    )
    return [
        f"A stronger steel does not help at hole {governing.holes}: 5 % more strength would change the safety factor "
        f"by {100.0 * (ratio - 1.0):.1f} %, for {why}"
    ]


def _stiffest(result: CheckResult) -> list[str]:
    """Whether the stiffest hole setting governs, where there is more than one to choose from."""
    found = []
    several = len({setting.case for setting in result.settings}) > 1
    for what, governing in (("stress", result.governing_for_stress), ("life", result.governing_for_life)):
        rates = {s.rate_N_per_mm or 0.0 for s in result.settings if s.case == governing.case}
        if len(rates) < 2 or governing.rate_N_per_mm is None:
            continue
        stiffest = governing.rate_N_per_mm >= max(rates) * (1.0 - 1e-4)
        found.append((what, stiffest, f"hole {governing.holes}" + (f" in {governing.case}" if several else "")))
    if not found:
        return []
    if len(found) == 2 and all(stiffest for _, stiffest, _ in found):
        return [
            f"The stiffest hole governs ({found[0][2]}), for stress and for life: a bar that lasts at its soft holes "
            "says nothing about the stiff ones."
        ]
    return [
        f"The stiffest hole governs for {what} ({name})."
        if stiffest
        else f"For {what} the stiffest hole does not govern here; {name} does. Look at the place, not at the rate."
        for what, stiffest, name in found
    ]
