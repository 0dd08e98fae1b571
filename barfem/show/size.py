"""What `barfem size` prints: the answer, the sizes near it, the front of mass against life."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import groupby
from typing import Any

from rich.console import Console

from barfem.model.load_case import CASES
from barfem.model.sentences import with_capital
from barfem.show.console import HEAD, print_table
from barfem.show.numbers import NONE, significant, whole
from barfem.show.parts import (
    bullets,
    change_cell,
    evaluated_life,
    evaluated_life_heading,
    heading,
    last_line,
    listed,
    paragraph,
    printing,
    targets_words,
    unjudged_factors_words,
)
from barfem.show.tables import Cell, Table, column, judged, nested_columns, only_in_files, paths, table, words, yes_no
from barfem.study.json_values import LIFE_PATHS, hole_setting_json
from barfem.study.options import Option, Sizing, Window, why_not

__all__ = ["options_table", "print_sizing", "rate_to_order"]

MOST_WINDOWS = 4

AROUND = 4
"""Sizes shown to each side of the answer."""


@printing
def print_sizing(console: Console, sizing: Sizing) -> None:
    """Print the whole answer."""
    bar = sizing.bar
    paragraph(console, bar.name, style=HEAD)
    paragraph(console, f"Asked: {_asked(sizing)}. {_where(sizing)}")
    paragraph(
        console,
        "Targets at every hole: "
        + targets_words(
            bar.duty.target_cycles if bar.duty.target_cycles_given else None,
            bar.duty.repeats if bar.duty.blocks else None,
            bar.targets.survival,
            bar.targets.yield_margin,
        )
        + ".",
    )
    heading(console, _table_title(sizing))
    print_table(console, options_table(sizing, _shown(sizing)))
    front = [option for option in sizing.options if option.on_front]
    if sizing.stock is not None:
        heading(console, "Mass against life")
        _front(sizing, front, console)
    lines = [*_advice(sizing), *sizing.notes]
    paragraph(
        console,
        "Rate: at the asked hole. Stress, margin, factor and life: of the worst hole; life at survival"
        + (" to median." if bar.duty.target_cycles_given else f"; {unjudged_factors_words(bar.duty.target_cycles)}."),
    )
    if note := CASES[sizing.case].rate_note(bar.travel):
        paragraph(console, f"Bump and droop differ: {note}, what is asked too.")
    listed(console, "What to see in it", lines)
    _problems(sizing, console)
    _windows(sizing, console)
    console.print()
    _answer(sizing, console)


def _asked(sizing: Sizing) -> str:
    at = f"at hole {sizing.hole} ({sizing.case})"
    if sizing.rate_N_per_mm is None:
        return f"the sizes that pass, rate {at}" if sizing.stock else f"the most rate that meets the targets, {at}"
    return f"{significant(sizing.rate_N_per_mm, 4)} N/mm {at}"


def _where(sizing: Sizing) -> str:
    if sizing.stock is not None:
        shapes = list(dict.fromkeys(o.section.shape for o in sizing.options if o.section is not None))
        sources = "; ".join(f"{shape}: {sizing.stock.sources.get(shape, 'no source')}" for shape in shapes)
        return f"From {len(sizing.options)} stock sizes ({sizing.stock.name}; {sources})."
    return {"section": "Any size.", "arm": "By the length of both arms.", "span": "By the place of the mounts."}[
        sizing.vary
    ]


def _table_title(sizing: Sizing) -> str:
    return "Sizes near it" if sizing.stock is not None else "What was tried, and the answer"


def drawn_size(sizing: Sizing) -> Option | None:
    """The drawn bar among the sizes, where it is one of them."""
    return next((option for option in sizing.options if option.name == sizing.drawn), None)


def rate_to_order(sizing: Sizing) -> float:
    """What sizes are held against: the asked rate, or the drawn bar's, or that of the answer."""
    drawn = drawn_size(sizing)
    chosen = (drawn if drawn is not None and drawn.solved else None) or sizing.answer or sizing.nearest
    return sizing.rate_N_per_mm or (chosen.rate_N_per_mm if chosen is not None else math.nan)


def _shown(sizing: Sizing) -> list[Option]:
    """By rate: the sizes around what is asked, with the answer and its nearest."""
    chosen = [option for option in (sizing.answer, sizing.nearest) if option is not None]
    solved = [option for option in sizing.options if option.solved]
    named = {option.name for option in solved}
    solved += [option for option in chosen if option.name not in named]
    solved.sort(key=lambda option: (option.rate_N_per_mm, option.mass_kg))
    rate = rate_to_order(sizing)
    below = [option for option in solved if option.rate_N_per_mm <= rate * (1.0 + 1e-9)]
    around = [*below[-AROUND - 1 :], *solved[len(below) : len(below) + AROUND]]
    keep = {option.name for option in [*around, *chosen]}
    return [option for option in solved if option.name in keep]


def options_table(sizing: Sizing, options: Sequence[Option] | None = None) -> Table:
    """Every size, or `options`, with what it does; unsolved ones stand in files alone, with the reason."""
    reference = rate_to_order(sizing)
    answer = None if sizing.answer is None else sizing.answer.name

    def row(option: Option) -> dict[str, Any]:
        return {} if option.evaluation is None else hole_setting_json(option.evaluation, option.worst)

    return table(
        "sizes",
        _table_title(sizing),
        sizing.options if options is None else options,
        [
            words("", lambda o: "=>" if o.name == answer else "", key=""),
            words("Size", lambda o: Cell(_short(o.name), o.name), key="name"),
            column("Mass", "kg", lambda o: o.mass_kg),
            column("Rate", "N/mm", lambda o: o.rate_N_per_mm),
            column("off", "%", lambda o: change_cell(o.rate_N_per_mm, reference), key=""),
            column("Stress", "MPa", lambda o: o.evaluation and float(o.evaluation.peak_MPa.max()), show=whole, key=""),
            column("Yield\nmargin", "", lambda o: judged(_least_margin(o), sizing.bar.targets.yield_margin), key=""),
            column(
                "Safety\nfactor",
                "",
                lambda o: judged(
                    row(o).get("fatigue", {}).get("safety_factor_at_target"),
                    1.0 if sizing.bar.duty.target_cycles_given else None,
                ),
                key="",
            ),
            column(evaluated_life_heading(sizing.bar), "", _life, key=""),
            column("Passes", "", lambda o: yes_no(o.passes)),
            only_in_files("limit", lambda o: o.limit or None),
            only_in_files("answer", lambda o: o.name == answer),
            *paths("shape", "diameter_mm", "wall_mm"),
            only_in_files("peak_von_mises_MPa", lambda o: o.evaluation and float(o.evaluation.peak_MPa.max())),
            only_in_files("yield_margin", _least_margin),
            *nested_columns(row, ("fatigue.safety_factor_at_target", *LIFE_PATHS)),
            only_in_files("on_front", lambda o: o.on_front),
            only_in_files("problem", lambda o: o.problem),
        ],
    )


def _least_margin(option: Option) -> float | None:
    return None if option.evaluation is None else float(option.evaluation.yield_margin.min())


def _short(name: str) -> str:
    """A size with four figures: the bar file has them all."""
    return re.sub(r"\d+\.\d+", lambda found: f"{float(found[0]):.4g}", name)


def _life(option: Option) -> Cell:
    return Cell(NONE) if option.evaluation is None else evaluated_life(option.evaluation, option.worst)


def _front(sizing: Sizing, front: list[Option], console: Console) -> None:
    rate = significant(rate_to_order(sizing), 3)
    if not front:
        paragraph(console, f"No size of the list comes within {sizing.near_percent:g} % of {rate} N/mm.")
        return
    paragraph(
        console,
        f"Of the sizes within {sizing.near_percent:g} % of {rate} N/mm, those that live longer than any lighter one:",
    )
    front = sorted(front, key=lambda option: option.mass_kg)
    print_table(console, options_table(sizing, front))


def _advice(sizing: Sizing) -> list[str]:
    """Words about what the table shows, each only where it is true of it."""
    lines: list[str] = [with_capital(text) + "." for text in sizing.missed]
    near = [o for o in sizing.options if o.on_front and not o.limit]
    lightest = min(near, key=lambda option: option.mass_kg, default=None)
    if sizing.answer is not None and lightest is not None and lightest.mass_kg < 0.97 * sizing.answer.mass_kg:
        lines.append(
            f"Lighter by {100 * (1 - lightest.mass_kg / sizing.answer.mass_kg):.0f} % and it lasts: {lightest.name}, "
            f"{significant(lightest.mass_kg)} kg, {significant(lightest.rate_N_per_mm)} N/mm."
        )
    if sizing.answer is not None and sizing.answer.bar is not None:
        old = set(sizing.bar.warnings)
        lines += [f"New with this bar: {text}" for text in sizing.answer.bar.warnings if text not in old]
    return lines


def _problems(sizing: Sizing, console: Console) -> None:
    """What could not be made or solved or did not need to be; neighbours of one reason together."""

    def reason(option: Option) -> str:
        return re.sub(r"[\d.]+", "#", (option.problem or "").rsplit(": ", 1)[-1])

    for why, neighbours in groupby(sizing.options, key=reason):
        options = list(neighbours)
        if not why:
            continue
        names = options[0].name if len(options) == 1 else f"{options[0].name} to {options[-1].name}"
        lines = f"Left out: {names}: {(options[0].problem or '').rsplit(': ', 1)[-1]}"
        paragraph(console, lines if len(options) == 1 else f"{lines} (and the like)")


def _near(sizing: Sizing) -> str:
    return f"within {sizing.within_percent:g} % of {significant(rate_to_order(sizing))} N/mm"


def _windows(sizing: Sizing, console: Console) -> None:
    """The sizes that pass, and what ends each window; those about the drawn size first."""
    if sizing.stock is None:
        return
    heading(console, "Sizes that pass")
    if not sizing.windows:
        paragraph(console, f"None of the list {_near(sizing)}.")
    at = {option.name: option.rate_N_per_mm for option in sizing.options}
    here = rate_to_order(sizing)

    def away(window: Window) -> float:
        low, high = sorted((at[window.first], at[window.last]))
        return max(low - here, here - high, 0.0)

    ordered = sorted(sizing.windows, key=away)
    for window in ordered[:MOST_WINDOWS]:
        both = window.first if window.count == 1 else f"{window.first} to {window.last} ({window.count} sizes)"
        ends = [f"{side} {text}" for side, text in (("below,", window.below), ("above,", window.above)) if text]
        bullets(console, [f"{both}. Ends: {'; '.join(ends) if ends else 'with the list'}."])
    if len(ordered) > MOST_WINDOWS:
        rest = len(ordered) - MOST_WINDOWS
        bullets(console, [f"{rest} more, farther off in rate: --json or --csv has every size with what rules it out."])
    drawn = drawn_size(sizing)
    if drawn is not None:
        fate = f"is left out: {drawn.limit}" if drawn.limit else "is one of them"
        paragraph(console, f"As drawn: {drawn.name} {fate}.")


def _answer(sizing: Sizing, console: Console) -> None:
    """The last line of the output."""
    chosen = sizing.answer
    if chosen is None:
        # Far from the drawn bar's rate sizes may well pass.
        nothing = "nothing meets rate and targets together"
        if sizing.rate_N_per_mm is None:
            nothing = f"nothing{'' if sizing.stock is None else f' {_near(sizing)}'} meets the targets"
        text = f"ANSWER: {nothing}."
        if sizing.nearest is not None:
            fate = "which meets the targets" if sizing.nearest.passes else f"which fails: {why_not(sizing.nearest)}"
            rate = significant(sizing.nearest.rate_N_per_mm)
            text += f" Nearest possible: {sizing.nearest.name}, {rate} N/mm, {fate}."
        last_line(console, text, good=False)
        return
    off = 0.0
    if sizing.rate_N_per_mm is not None:
        off = 100.0 * (chosen.rate_N_per_mm / sizing.rate_N_per_mm - 1.0)
    if sizing.stock is not None and abs(off) >= 0.5:
        paragraph(console, "To the rate itself: --free for the exact size, --vary arm with this size, or barfem holes.")
    as_drawn = " as drawn" if chosen.name == sizing.drawn else ""
    text = f"ANSWER: {chosen.name}{as_drawn}: {significant(chosen.rate_N_per_mm, 4)} N/mm at hole {sizing.hole}"
    text += f", {abs(off):.1f} % {'above' if off > 0 else 'below'} what is asked" if abs(off) >= 0.05 else ""
    if sizing.rate_N_per_mm is None and sizing.drawn and not as_drawn:
        drawn = drawn_size(sizing)
        text += "" if drawn is None else f" (drawn {drawn.name}: {drawn.limit})"
    last_line(console, f"{text}; {significant(chosen.mass_kg)} kg; meets the targets at every hole.", good=True)
