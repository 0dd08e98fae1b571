"""Findings of the review by its rules (`barfem.model.review_rules`)."""

from __future__ import annotations

from collections.abc import Mapping

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.review_rules import PRACTICE, RULES, Rule, Severity, rules_with
from barfem.vendor.maker_tables import review_of

__all__ = ["PRACTICE", "RULES", "Finding", "Rule", "Severity", "finding", "rules_of", "rules_with"]


@frozen
class Finding:
    """One line of the review. `number` and `limit` are None where the rule is yes or no."""

    severity: Severity
    rule: str
    what: str
    number: float | None
    limit: float | None
    unit: str
    source: str
    where: str


def finding(rule: Rule, value: float | None, what: str, where: str, *, given: Severity | None = None) -> list[Finding]:
    """A finding, if the rule has one. `given` is the severity of a yes-or-no rule."""
    severity = given if value is None or given is not None else rule.severity(value)
    if severity is None:
        return []
    limit = {"stop": rule.stop, "ask": rule.ask, "note": rule.ask if rule.ask is not None else rule.stop}[severity]
    return [Finding(severity, rule.key, what, value, limit, rule.unit, rule.source, where)]


def rules_of(bar: Bar) -> Mapping[str, Rule]:
    """The rules with the limits that the bar's file gives."""
    return rules_with(review_of(bar).limits)
