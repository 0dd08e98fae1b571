"""The review of a bar before it goes to a maker: findings by severity, each with number, limit and source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import ClassVar

from barfem.check.api import check_bar
from barfem.check.result import CheckResult
from barfem.check.solved import NothingSolved, solve_what_can_be
from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.load_case import CASES
from barfem.model.plain import NOT_IN_JSON, Json
from barfem.solve.beam import all_settings, solve_bar
from barfem.study.bands import bands_of
from barfem.vendor.review_making import making
from barfem.vendor.review_paper import on_paper
from barfem.vendor.review_use import in_use
from barfem.vendor.rules import RULES, Finding, rules_of

__all__ = ["ORDER", "Review", "review_bar"]

ORDER = ("stop", "ask", "note")


@frozen
class Review(Json):
    """Findings, the worst first; `rules` are the keys of all rules that were gone through."""

    name: str
    drawing: str | None
    revision: str | None
    findings: tuple[Finding, ...]
    rules: tuple[str, ...]
    checked: CheckResult = field(metadata=NOT_IN_JSON)

    _json_also: ClassVar[Mapping[str, str]] = {"stops": "stop_count"}

    @property
    def stops(self) -> tuple[Finding, ...]:
        return tuple(each for each in self.findings if each.severity == "stop")

    @property
    def stop_count(self) -> int:
        return len(self.stops)

    def count(self, severity: str) -> int:
        return sum(each.severity == severity for each in self.findings)


def review_bar(bar: Bar) -> Review:
    """Go through every rule. A hole setting that cannot follow its travel is a finding, and hides no other.

    Raises
    ------
    InputError
        [review] limits, or bands of [tolerances], that are none.
    """
    rules = rules_of(bar)
    bands_of(bar, given_alone=True)  # the maker gets them too
    checked = check_bar(bar)
    try:
        solution, stuck = solve_what_can_be(all_settings(bar, cases=tuple(CASES)), lambda some: solve_bar(bar, some))
    except NothingSolved as error:
        solution, stuck = None, error.unsolved
    used = in_use(bar, rules, solution=solution, stuck=stuck, checked=checked)
    found = [*making(bar, rules), *on_paper(bar, rules), *used]
    order = {key: i for i, key in enumerate(RULES)}
    found.sort(key=lambda each: (ORDER.index(each.severity), order[each.rule]))
    return Review(bar.name, bar.drawing, bar.revision, tuple(found), tuple(RULES), checked)
