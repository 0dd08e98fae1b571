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

__all__ = ["Concern", "concerns", "stress_to_spare", "told_together"]

ANY = float("inf")


@frozen
class Concern:
    """A warning, or several of one kind: `text` names them all, `size` says what they may do, `share` of stress at
    most, and `turns` whether that can change the verdict.
    """

    text: str
    size: str
    share: float
    turns: bool


@frozen
class _Kind:
    """Warnings that hold `words`: what they may do in words, and at most which share they may add to a stress.

    `of_one_wheel` is said as well where one-wheel is judged.
    """

    words: str
    size: str
    share: float
    of_one_wheel: str = ""


_KINDS = (
    _Kind("not checked", "nothing is known there", ANY),
    _Kind("unsafe", "may hide any stress in the bends", ANY),
    _Kind("right wheel alone", "may fail where the left one passes", ANY),
    _Kind("breaks out", "these settings fail", ANY),
    _Kind("runs through itself", "the drawing cannot be meant", ANY),
    _Kind("is it in mm", "a slip of units changes every number", ANY),
    _Kind("side and the sign", "a slip of sign changes every number", ANY),
    _Kind("travel / wheel travel, not the", "a slip here changes the travel", ANY),
    _Kind("negative towards the right", "a slip of sign changes every number", ANY),
    _Kind("opposite ways", "the bar does not work", ANY),
    _Kind("outboard of a hole", "the mount may not be meant there", ANY),
    _Kind("holds nothing across", "the mount may not be meant so", ANY),
    _Kind("as fitted, not its length", "a slip here preloads the bar", ANY),
    _Kind("same place as another hole", "a slip of the drawing", ANY),
    _Kind("has no arm", "the rate means nothing", ANY),
    _Kind("dead centre", "the rate changes along the travel", ANY),
    _Kind("may not reach", "the travel may not be reached", ANY),
    _Kind("paired in the order", "other pairs have other rates", ANY),
    _Kind("unequal pairs are asked", "nothing is known of it here", ANY),
    _Kind("from hydrogen", "may break the bar below any stress here", ANY),
    _Kind("mounts and links take", "the rate hangs on their stiffness", ANY),
    _Kind("does not seat", "the bar may slip or fret there, uncounted", ANY),
    _Kind("diameters long", "a beam does not describe it well: some 10 % of rate and stress", 0.10),
    _Kind("may dent", "may not be made so: other walls, other stress", ANY),
    _Kind("hard to bend", "may not be made so: other radius, other stress", ANY),
    _Kind("to grip", "may not be made so: other straights, other rate", ANY),
    _Kind("below one diameter", "may not be made so: other straights, other rate", ANY),
    _Kind("may tear out", "the end's edge is not in the numbers", ANY),
    _Kind("of metal on each side", "may add 50 % at that hole (common practice, no source)", 0.5),
    _Kind("beyond the end's straight", "may add 50 % at that hole (common practice, no source)", 0.5),
    _Kind("beyond the full flat", "may add 50 % at that hole (common practice, no source)", 0.5),
    _Kind("what neighbours add", "may add 25 % to the stress at these holes", 0.25),
    _Kind("table of concentration ends", "may add 5 % at these holes (extrapolated, no source)", 0.05),
    _Kind("fretting, wear and grit", "may halve the strength at these edges (common practice, no source)", 1.0),
    _Kind("folded edges", "may add 50 % at the fold (common practice, no source)", 0.5),
    _Kind("folds of a pressed transition", "counted as half more stress; cracks in them are not", 0.0),
    _Kind("has no transition", "may double the stress at the step (common practice, no source)", 1.0),
    _Kind("scratches and laps", "may take 30 % of the strength in the bore (common practice, no source)", 0.43),
    _Kind("scales inside as well", "may take 30 % of the strength in the bore (common practice, no source)", 0.43),
    _Kind("not a guaranteed minimum", "may take 10 % of the strength (common practice, no source)", 0.11),
    _Kind("is a condition of a", "may take 10 % of the strength (common practice, no source)", 0.11),
    _Kind("from 2.1 % below the field's", "may add 0.6 % to the peak of these bends", 0.006),
    _Kind("not held against solids beside a hole", "may add 22 % to the peak of these bends", 0.22),
    _Kind("may wear oval", "the link gets play; no stress here changes", 0.0),
    _Kind("takes a set", "counted in the verdict", 0.0),
    _Kind("peening earns nothing", "counted in the verdict", 0.0),
    _Kind("strain-life is judged", "counted in the verdict", 0.0),
    _Kind("residual stress at the inside", "counted in the verdict", 0.0),
    _Kind("are unequal", "counted in the verdict", 0.0, "; one-wheel travel is that of the left wheel"),
    _Kind("has no effect", "changes nothing", 0.0),
    _Kind("read as", "changes nothing if it is meant", 0.0),
    _Kind("changes little or nothing", "changes nothing", 0.0),
    _Kind("presetting earns nothing", "changes nothing", 0.0),
)
"""In the order in which they are told, of equal size. Sizes without a source are common practice, and say so."""

_OTHER = _Kind("", "", 0.02)
"""Whatever no entry speaks of: 2 %, what barfem's own approximations come to."""

_SUBJECT = re.compile(
    r"^(?P<told>(?:NOT CHECKED|Not checked): )?"
    r"(?P<subject>Bend \d+|(?:Bends|The straight between bends) \d+ and \d+|Mount \d+"
    r'|(?:Right|Left) hole "[^"]*"'
    r'|(?:right|left) hole "[^"]*"|Hole "[^"]*" of the (?:left|right) end|Hole [^":]+(?=: )'
    r'|Holes of the (?:left|right) end|The (?:left|right) (?:end|(?:pressed |forged )?flat|link(?: at hole "[^"]*")?))'
    r"(?P<rest>.*)$",
    re.DOTALL,
)
_WITHOUT_PARTNER = re.compile(r'Hole "(?P<name>.*)" of the (?P<side>left|right) end has no hole ')
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


def _judged_all_the_same(text: str, result: CheckResult) -> bool:
    """Whether `text` says of a hole that only unequal pairs hold it, and `result` holds these."""
    match = _WITHOUT_PARTNER.match(text)
    return match is not None and any(match["name"] == getattr(row, match["side"]) for row in result.settings)


def concerns(result: CheckResult) -> tuple[Concern, ...]:
    """The warnings of `result`, the weightiest first; those that can turn the verdict before those that cannot."""
    spare = stress_to_spare(result)
    one_wheel = any(row.case == ONE_WHEEL.name for row in result.rows)
    order: dict[str, int] = {}
    found = []
    for text in told_together(
        text for text in dict.fromkeys(result.warnings) if not _judged_all_the_same(text, result)
    ):
        low = text.lower()
        at, kind = next(((i, each) for i, each in enumerate(_KINDS) if each.words in low), (len(_KINDS), _OTHER))
        turns = kind.share == ANY or (result.passes and 1.0 + kind.share >= spare and kind.share > 0.0)
        found.append(Concern(text, kind.size + (kind.of_one_wheel if one_wheel else ""), kind.share, turns))
        order[text] = at
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
        lines.append(f"{first} ({'and' if same else 'and with their own numbers'} {others}){rest}")
    return lines
