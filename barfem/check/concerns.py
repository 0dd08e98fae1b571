"""Warnings of a check by what they can do to its verdict, each with its size; those of one kind in one line.

A warning matters as far as the bar comes near to failing: what may add 5 % to a stress cannot turn the verdict of a bar
that has 14 % to spare, and nothing that adds to stress can turn that of a bar that fails already. What may be a slip of
the drawing, or stands outside the numbers altogether, can always.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from barfem.check.result import CheckResult
from barfem.model.frozen import frozen
from barfem.model.load_case import ONE_WHEEL
from barfem.model.warned import ANY, Effect, Warned

__all__ = ["Concern", "concerns", "stress_to_spare", "told_together"]


@frozen
class Concern:
    """A warning, or several of one kind: `text` names them all, `size` says what they may do, `share` of stress at
    most, and `turns` whether that can change the verdict.
    """

    text: str
    size: str
    share: float
    turns: bool


_SUBJECT = re.compile(
    r"^(?P<told>(?:NOT CHECKED|Not checked): )?"
    r"(?P<subject>Bend \d+|(?:Bends|The straight between bends) \d+ and \d+|Mount \d+"
    r'|(?:Right|Left) hole "[^"]*"'
    r'|(?:right|left) hole "[^"]*"|Hole "[^"]*" of the (?:left|right) end|Hole [^":]+(?=: )'
    r'|Holes of the (?:left|right) end|The (?:left|right) (?:end|(?:pressed |forged )?flat|link(?: at hole "[^"]*")?))'
    r"(?P<rest>.*)$",
    re.DOTALL,
)
_NUMBER = re.compile(r"-?\d+(?: \d{3}\b)*(?:\.\d+)?")


def stress_to_spare(result: CheckResult) -> float:
    """By which factor every stress may grow before the verdict turns; 1 where the bar fails.

    The least over hole settings of safety factor x strength share at survival, and of (1 + margin) / (1 + target).
    """
    if not result.passes:
        return 1.0
    factors = [(1.0 + row.yield_margin) / (1.0 + result.yield_margin_target) for row in result.settings]
    if result.target_cycles_judged:
        factors += [
            row.fatigue.safety_factor_at_target * (result.strength_share_at_survival or 1.0)
            for row in result.settings
            if row.fatigue.safety_factor_at_target is not None
        ]
    return max(min(factors, default=1.0), 1.0)


def concerns(result: CheckResult) -> tuple[Concern, ...]:
    """The warnings of `result`, the weightiest first; those that can turn the verdict before those that cannot."""
    spare = stress_to_spare(result)
    one_wheel = any(row.case == ONE_WHEEL.name for row in result.rows)
    effects = list(Effect)
    order: dict[str, int] = {}
    found = []
    for text in told_together(dict.fromkeys(result.warnings)):
        effect = text.effect if isinstance(text, Warned) else Effect.OTHER
        turns = effect.share == ANY or (result.passes and 1.0 + effect.share >= spare and effect.share > 0.0)
        found.append(Concern(text, effect.size(one_wheel=one_wheel), effect.share, turns))
        order[text] = effects.index(effect)
    return tuple(sorted(found, key=lambda each: (not each.turns, -min(each.share, 1e9), order[each.text])))


def told_together(warnings: Iterable[str]) -> list[str]:
    """Warnings that differ in their bend, hole, mount or end alone as one: "Bend 1 (and bend 2): radius ..."."""
    kinds: dict[str, list[tuple[str, str, str]]] = {}
    for text in warnings:
        match = _SUBJECT.match(text)
        subject, rest = (match["subject"], match["rest"]) if match else ("", text)
        alike = f"{subject.partition(' ')[0] if not match else ''}|{_NUMBER.sub('#', rest)}"
        kinds.setdefault(alike if match else f"|{text}", []).append((subject, rest, text))
    lines = []
    for some in kinds.values():
        if len(some) == 1:
            lines.append(some[0][2])
            continue
        first, rest, whole = some[0]
        first = whole.removesuffix(rest)  # with what stands before its subject
        others = ", ".join(subject[0].lower() + subject[1:] for subject, _, _ in some[1:])
        same = len({each[1] for each in some}) == 1
        line = f"{first} ({'and' if same else 'and with their own numbers'} {others}){rest}"
        lines.append(whole.reworded(line) if isinstance(whole, Warned) else line)
    return lines
