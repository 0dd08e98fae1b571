"""By which method a check reached a number: what an explanation says of it, taken from the check's own record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from barfem.model.frozen import frozen
from barfem.strength.fatigue.criteria import CRITERIA, DEFAULT_CRITERION

if TYPE_CHECKING:
    from barfem.check.result import CheckResult
    from barfem.model.material import Steel

__all__ = ["METHODS", "Method", "filled"]


@frozen
class Method:
    """One of several ways to a number: `words` are when it is taken, `used` whether a check's record says so."""

    words: str
    used: Callable[[CheckResult], bool]


def _steel(result: CheckResult) -> Steel:
    steel: Steel = result.inputs["steel"]
    return steel


METHODS: Mapping[str, Method] = {
    "beam": Method("by default", lambda result: result.model == "beam"),
    "solid": Method("with --model solid", lambda result: result.model == "solid"),
    "fields": Method(
        "bends by default", lambda result: any(bend.source in ("grid", "computed") for bend in result.bends)
    ),
    "closed forms": Method(
        "bends with --quick", lambda result: any(bend.source == "closed forms" for bend in result.bends)
    ),
    "own line": Method(
        "where the steel's table has stress-life tests", lambda result: _steel(result).stress_life is not None
    ),
    "estimated line": Method("elsewhere", lambda result: _steel(result).stress_life is None),
}
"""What a [[entry.methods]] of the explanations may be `of`."""


def filled(text: str, result: CheckResult | None) -> str:
    """`text` with {rule}, the mean-stress rule, and {scatter}, both as the check took them; without one, the default's.

    {rule} has title, formula and source; {findley_k} is Findley's.
    """
    if "{" not in text:
        return text
    from barfem.strength.duty.critical_plane import FINDLEY_K
    from barfem.strength.fatigue.factors import scatter_words

    if result is None:
        rule = CRITERIA[DEFAULT_CRITERION]
        scatter = f"that of the steel's table, else {scatter_words(None)}"
    else:
        rule = CRITERIA[next((row.fatigue.mean_stress_rule for row in result.settings), DEFAULT_CRITERION)]
        scatter = scatter_words(_steel(result).scatter)
    return text.format(rule=rule, scatter=scatter, findley_k=FINDLEY_K)
