"""Why hole settings fail, in words: a line each, and many that fail alike in one line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from barfem.check.concerns import told_together
from barfem.check.result import SettingResult, UnsolvedSetting
from barfem.show.parts import stop

__all__ = ["reasons"]

MOST_LINES = 4
"""Of more hole settings that fail in one way, the span of their numbers says it shorter."""

DOES_NOTHING = "roll does not work this bar"
"""Where a bar does nothing, its stress and life say nothing: no other reason is worth a line."""

NUMBER = re.compile(r"(?<![\w.])-?(?:\d{1,3}(?: \d{3})+|\d+)(?:\.\d+)?(?![\w])")


def reasons(
    settings: Iterable[SettingResult | UnsolvedSetting], *, not_checked: bool = True, alike: int = MOST_LINES
) -> list[str]:
    """Why each failing hole setting fails, and with `not_checked` what could not be checked at any.

    More than `alike` that fail in one way are one line.
    """
    settings = sorted(settings, key=lambda row: isinstance(row, SettingResult))  # first those without any number
    several = len({setting.case for setting in settings}) > 1
    failing: list[tuple[str, Sequence[str]]] = [
        (_name(setting, several), _reasons_of(setting)) for setting in settings if not setting.passes
    ]
    failing, shared = _whole_bar(failing)
    lines = [*shared, *(f"Hole {name}: {stop('; '.join(why))}" for name, why in failing)]
    if not shared and len(failing) > alike:
        lines = _together(failing, alike)
    if not not_checked:
        return list(dict.fromkeys(lines))
    missing = dict.fromkeys(f"Not checked: {stop(text)}" for setting in settings for text in setting.not_checked)
    return list(dict.fromkeys([*lines, *told_together(missing)]))


def _whole_bar(
    failing: Sequence[tuple[str, Sequence[str]]],
) -> tuple[list[tuple[str, Sequence[str]]], list[str]]:
    """What fails every hole setting alike because the bar does nothing, once; and what fails them beside."""
    kinds = {NUMBER.sub("#", text) for _, why in failing for text in why if text.startswith(DOES_NOTHING)}
    if len(failing) < 2 or not all(any(text.startswith(DOES_NOTHING) for text in why) for _, why in failing):
        return list(failing), []
    shared = []
    for kind in sorted(kinds):
        found = [(name, text) for name, why in failing for text in why if NUMBER.sub("#", text) == kind]
        where = f"all {len(failing)} hole settings" if len(found) == len(failing) else f"{len(found)} hole settings"
        shared.append(f"At {where}: {stop(_span(found))}")
    return [], shared


def _reasons_of(setting: SettingResult | UnsolvedSetting) -> tuple[str, ...]:
    """Why it fails; what is not checked fails no hole setting, and is told of them all.

    Which hole setting of which file could not be solved stands before the reason already.
    """
    itself = f": hole setting left {setting.left}, right {setting.right} ({setting.case}): "
    why = [text.partition(itself)[2] or text for text in setting.why if not text.startswith("not checked")]
    return tuple(why) or ("no reason was recorded",)


def _name(setting: SettingResult | UnsolvedSetting, several: bool) -> str:
    return setting.holes + (f", {setting.case}" if several else "")


def _together(failing: Sequence[tuple[str, Sequence[str]]], alike: int) -> list[str]:
    """One line for each way of failing; where there are few of a kind, one for each hole setting."""
    kinds: dict[str, list[tuple[str, str]]] = {}
    for name, why in failing:
        for text in why:
            kinds.setdefault(NUMBER.sub("#", text), []).append((name, text))
    lines = []
    for found in kinds.values():
        if len(found) <= alike:
            lines += [f"Hole {name}: {stop(text)}" for name, text in found]
        else:
            count = f"all {len(found)}" if len(found) == len(failing) else f"{len(found)} of the {len(failing)}"
            lines.append(f"At {count} that fail: {stop(_span(found))}")
    return lines


def _span(found: Sequence[tuple[str, str]]) -> str:
    """Texts that differ in their numbers alone as one: "life 14 552 (hole 4) to 47 319 (hole 1), falls short"."""
    spelled = [NUMBER.findall(text) for _, text in found]
    columns = iter(zip(*spelled, strict=True))

    def put(_: re.Match[str]) -> str:
        column = next(columns)
        if len(set(column)) == 1:
            return column[0]
        values = [float(value.replace(" ", "")) for value in column]
        (low, at_low), (high, at_high) = (
            (column[i], found[i][0]) for i in (values.index(min(values)), values.index(max(values)))
        )
        return f"{low} (hole {at_low}) to {high} (hole {at_high})"

    return NUMBER.sub(put, found[0][1])
