"""What the page shows of a check: words and cells as `barfem check` prints them, each number with its JSON key."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from hashlib import sha256
from itertools import count
from pathlib import Path
from typing import Any

from barfem.check.hole_names import pair_name
from barfem.check.result import CheckResult, SettingResult
from barfem.model.units import number
from barfem.page.controls import fields_of
from barfem.page.session import Session
from barfem.page.sketch import sketch_of
from barfem.show import details, notes
from barfem.show.lives import NO_LIFE, life_cell, life_ends
from barfem.show.numbers import NONE, ratio, significant, spaced, whole
from barfem.show.reasons import reasons
from barfem.show.report.html_table import all_prose, prose
from barfem.show.screen import MOST_WARNINGS, turning_warnings
from barfem.show.table import head_lines, remarks, warning_lines
from barfem.show.ways import nothing_else, passes_with, way_words
from barfem.study.advice import Advice
from barfem.study.change import tables_of

__all__ = ["advice_view", "check_view", "controls_view", "file_view"]

Part = dict[str, Any]
"""A piece of a cell: its text, and of a number the JSON key and the number itself."""


def check_view(session: Session, changes: Mapping[str, Any], bar: Any, result: CheckResult) -> dict[str, Any]:
    """Everything the page draws, beside the check's JSON."""
    tables = tables_of(bar)
    verdict, twice = notes.verdict(result), notes.look_twice(result.look_twice)
    return {
        **file_view(session, changes),
        "name": result.name,
        "folder": str(session.folder),
        "controls": controls_view(session, bar),
        "sketch": sketch_of(bar, tables),
        "tables": [_table(result, case) for case in dict.fromkeys(row.case for row in result.rows)],
        "verdict": prose(verdict),
        "passes": result.passes,
        "twice": all_prose(twice),
        "why": all_prose([*reasons(result.rows), *_turning(result)]),
        "governing": all_prose(details.governing(result)),
        "lessons": all_prose(notes.lessons(result)),
        "head": all_prose([line for line in head_lines(result) if line not in twice]),
        "warnings": all_prose(warning_lines(result)),
        "assumptions": list(dict.fromkeys(result.assumptions)),
        "cautions": list(result.cautions),
    }


def controls_view(session: Session, bar: Any) -> dict[str, Any]:
    """What can be changed of a bar, and how it stands there and in the file."""
    tables = tables_of(bar)
    shape = {"now": bar.section.shape, "was": session.bar.section.shape}
    return {"fields": fields_of(session, tables), "shape": shape, "holes": _holes(tables)}


def file_view(session: Session, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The bar file, what has become of it, the newest one written from it, and commands that lead to these changes."""
    saved = session.saved()
    same = [path for path, held in saved.items() if held == changes]
    newest = next(reversed(same or list(saved)), None)
    return {
        "file": session.file,
        "base": sha256(f"{session.text}{session.steel}".encode()).hexdigest()[:16],
        "on_disk": session.on_disk,
        "written": None if newest is None else {"name": newest.name, "same": bool(same)},
        "commands": _commands(session, changes, same),
    }


def _turning(result: CheckResult) -> list[str]:
    """The warnings that can turn the verdict, as `barfem check` has them on its first screen."""
    lines = turning_warnings(result, short=True)
    more = len(lines) - MOST_WARNINGS
    return lines if more <= 0 else [*lines[:MOST_WARNINGS], f"{more} more can turn the verdict: first under Warnings."]


def _holes(tables: Mapping[str, Any]) -> dict[str, Any] | None:
    """The lists of holes with one hole more and one less, by their keys; None where the file names them otherwise."""
    ends = tables["ends"]
    lists = {f"ends.{way}holes": found for way, found in (
        ("", ends.get("holes")), *((f"{side}.", ends.get(side, {}).get("holes")) for side in ("right", "left")),
    ) if found}  # fmt: skip
    more, less = {}, {}
    for key, holes in lists.items():
        at = [number(hole["from_tip"], "length") for hole in holes]
        step = at[-1] - at[-2] if len(at) > 1 else 25.0
        place = max(at) + abs(step)
        taken = {str(hole["name"]) for hole in holes}
        name = next(str(i) for i in range(len(holes) + 1, 2 * len(holes) + 3) if str(i) not in taken)
        more[key] = [*holes, {**holes[-1], "name": name, "from_tip": round(place, 1)}]
        less[key] = holes[:-1]
    return {"more": more, "less": less if all(less.values()) else None}


def _text(text: str, key: str = "", value: Any = None) -> Part:
    # No line breaks within a number: the no-break space for what the terminal marks otherwise.
    return {"text": spaced(text), **({"key": key, "value": value} if key else {})}


def _table(result: CheckResult, case: str) -> dict[str, Any]:
    """The hole settings in one load case: safety factor first, lives as bands, two figures."""
    rows: list[dict[str, Any]] = []
    for row in result.rows:
        if row.case != case:
            continue
        name = pair_name(row.left, row.right)
        cells = (
            _cells(row, result)
            if isinstance(row, SettingResult)
            else {"passes": {"parts": [_text("NO", "passes", False)], "mood": "bad"}}
        )
        rows.append({"hole": f"{row.left}/{row.right}", "name": name, "cells": cells})
    cycles, repeats = result.target_cycles_judged, result.target_repeats is not None
    share = f"{100 * result.survival:g} % survival to median"
    columns = [
        ("passes", "Passes", "", "settings.passes"),
        ("safety", "Safety factor", "", "settings.fatigue.safety_factor_at_target"),
        *([("life", "Life, cycles", share, "settings.fatigue.life_at_survival_cycles")] if cycles else []),
        *([("repeats", "Life, repeats", share, "settings.fatigue.duty.life_at_survival_repeats")] if repeats else []),
        ("margin", "Yield margin", "", "settings.yield_margin"),
        ("stress", "Peak stress", "MPa", "settings.peak.von_mises_MPa"),
        ("rate", "Rate", "N/mm", "settings.rate_N_per_mm"),
        ("next", "Next hole", "%", "settings.step_to_next_percent"),
        ("link", "Link force", "N", "settings.link_force_left_N"),
    ]
    words = result.cases.get(case)
    return {
        "case": case,
        "title": case.capitalize(),
        "about": prose(words) if words else "",
        "columns": [{"id": one, "heading": head, "unit": unit, "why": why} for one, head, unit, why in columns],
        "rows": rows,
        "remarks": all_prose(remarks(result, case)),
    }


def _cells(row: SettingResult, result: CheckResult) -> dict[str, Any]:
    fatigue = row.fatigue
    factor, wanted = fatigue.safety_factor_at_target, 1.0 if result.target_cycles_judged else None
    left, right = row.link_force_left_N, row.link_force_right_N
    link = ("link_force_left_N", left) if abs(left) >= abs(right) else ("link_force_right_N", right)
    cells: dict[str, dict[str, Any]] = {
        "passes": {"parts": [_text("yes" if row.passes else "NO", "passes", row.passes)],
                   "mood": "good" if row.passes else "bad"},
        "safety": _number("fatigue.safety_factor_at_target", factor, ratio(factor, wanted),
                          bad=factor is not None and wanted is not None and factor < wanted),
        "life": {"parts": _life(row)},
        "margin": _number("yield_margin", row.yield_margin, ratio(row.yield_margin, result.yield_margin_target),
                          bad=row.yield_margin < result.yield_margin_target),
        "stress": _number("peak.von_mises_MPa", row.peak.von_mises_MPa, whole(row.peak.von_mises_MPa)),
        "rate": _number("rate_N_per_mm", row.rate_N_per_mm, significant(row.rate_N_per_mm)),
        "next": _number("step_to_next_percent", row.step_to_next_percent,
                        NONE if row.step_to_next_percent is None else f"{row.step_to_next_percent:+z.1f}"),
        "link": _number(link[0], link[1], whole(abs(link[1]))),
    }  # fmt: skip
    if fatigue.duty is not None:
        found = life_cell(fatigue.duty.life)
        cells["repeats"] = {"parts": [_text(found.text, "fatigue.duty.life_at_survival_repeats", found.value)]}
    return cells


def _number(key: str, value: float | None, text: str, *, bad: bool = False) -> dict[str, Any]:
    return {"parts": [_text(text, key, value)], "mood": "bad" if bad else ""}


def _life(row: SettingResult) -> list[Part]:
    """The band from the life at survival to the median, as the printed table has it."""
    fatigue = row.fatigue
    low, high = life_ends(fatigue.life)
    last = _text(high.replace("over ", ">") if low != high else high, "fatigue.life_cycles", fatigue.life_cycles)
    if low == high and fatigue.life_at_survival_cycles is None:
        return [last]
    first = _text(low, "fatigue.life_at_survival_cycles", fatigue.life_at_survival_cycles)
    return [first] if low in (high, NO_LIFE) else [first, _text(" to "), last]


def advice_view(found: Sequence[Advice], *, passes: bool, several_cases: bool) -> list[dict[str, Any]]:
    """What would make failing hole settings pass, or what there is to spare, in the words of `barfem check`."""
    out = []
    for each in found:
        sentence = f"It passes up to {each.words}." if passes else way_words(each)
        out.append(
            {
                "heading": "" if passes else passes_with(each, several_cases=several_cases),
                "left": each.left, "right": each.right, "case": each.case, "kind": each.kind,
                "words": prose(sentence), "changes": dict(each.changes),
                "rate_N_per_mm": each.rate_N_per_mm, "rate_change_percent": each.rate_change_percent,
            }
        )  # fmt: skip
    if not passes and (words := nothing_else(found)):
        nobody = {"left": "", "right": "", "case": "", "rate_N_per_mm": None, "rate_change_percent": None}
        out.append({"heading": "", "kind": "none", "words": prose(words), "changes": {}, **nobody})
    return out


def _commands(session: Session, changes: Mapping[str, Any], same: Sequence[Path]) -> list[str]:
    """Lines for a shell that lead to the same numbers; `same` are bar files that hold them."""
    checks = [f"barfem check {shlex.quote(str(path))}" for path in same]
    file = session.file
    if file is None and checks:  # the starter's name may be taken, by this very bar
        return checks
    names = (f"my-bar{'' if i == 1 else f'-{i}'}.toml" for i in count(1))
    name = shlex.quote(file or next(each for each in names if not (session.folder / each).exists()))
    lines = [] if file is not None else [f"barfem new {name} --yes"]
    if not changes:
        return [*lines, f"barfem check {name}"]
    given = " ".join(shlex.quote(f"{key}={_toml(value)}") for key, value in changes.items())
    return [*lines, f"barfem sweep {name} {given}", *checks]


def _toml(value: Any) -> str:
    """A value as `barfem sweep` takes it: numbers as they are, all else as a list of one TOML value, on one line."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return repr(value)
    return f"[{_inline(value)}]"


def _inline(value: Any) -> str:
    """A TOML value on one line: a list of tables, too, which TOML writers lay out over several."""
    import tomlkit

    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{tomlkit.key(k).as_string()} = {_inline(v)}' for k, v in value.items())}}}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_inline, value))}]"
    return str(tomlkit.item(value).as_string().strip())
