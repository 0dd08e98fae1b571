"""What `barfem duty` prints: lives of each hole setting under a history, where they are decided, what was assumed."""

from __future__ import annotations

from rich.console import Console

from barfem.check.history_life import HistoryLives
from barfem.check.hole_names import pair_words
from barfem.check.lives import SurvivalLife
from barfem.model.sentences import with_capital
from barfem.show.console import HEAD, print_table
from barfem.show.lives import life_text, one_life
from barfem.show.numbers import significant, whole
from barfem.show.parts import hole_name, listed, paragraph, printing
from barfem.show.tables import Table, column, paths, table, words
from barfem.strength.fatigue.life import Life

__all__ = ["lives_table", "print_history_lives"]


def lives_table(found: HistoryLives) -> Table:
    """Lives of each hole setting under the history."""
    share = found.bar.targets.survival
    return table(
        "lives",
        "",
        found.lives,
        [
            words("Hole", hole_name, key=""),
            *paths("left", "right"),
            column("Peak", "MPa", lambda item: item.peak_MPa, show=whole, key="peak_von_mises_MPa"),
            column("Largest\nampl.", "MPa", lambda item: item.largest_amplitude_MPa, show=whole),
            column("Damage of\none repeat", "", lambda item: item.damage_per_repeat, show="{:.2g}".format),
            column("Repeats", "", lambda item: _band(item.lives, share), key=""),
            column("Hours", "", lambda item: _band(item.lives_hours, share), key=""),
            column("km", "", lambda item: _band(item.lives_km, share), key="")
            if any(item.lives_km for item in found.lives)
            else None,
            *paths("life_at_survival_repeats", "life_repeats", "runout_at_survival", "runout", "where", "reason"),
        ],
    )


@printing
def print_history_lives(console: Console, found: HistoryLives) -> None:
    """Print the lives and what they rest on."""
    bar, history = found.bar, found.measured
    paragraph(console, bar.name, style=HEAD)
    paragraph(
        console,
        f"History {history.source}: {whole(history.samples)} samples, {significant(history.duration_s)} s. Life in "
        f"repeats of it, from {100 * bar.targets.survival:g} % survival to the median, rounded down.",
    )
    console.print()
    print_table(console, lives_table(found))
    console.print()
    for item in found.lives:
        name = pair_words(item.left, item.right)
        text = f"Hole {name}: decided at {item.where}; station {item.station_mm:.0f} mm."
        if item.reason:
            text += f" {with_capital(item.reason)}."
        text += f" {whole(item.places_counted)} of {whole(item.places)} points counted"
        if item.discarded_share is not None:
            text += f", the others bounded: none has more than {item.discarded_share:.3g} times its damage"
        if item.left_out_share is not None:
            text += f"; the turning points alone would miss {100.0 * abs(item.left_out_share):.1f} % of it"
        paragraph(console, text + ".")
        row = ", ".join(f"{100 * x.survival:g} %: {_one(x)}" for x in item.lives)
        paragraph(console, f"  Repeats at survival of {row}.")
    listed(console, "Warnings", dict.fromkeys(text for item in found.lives for text in item.warnings))
    listed(console, "Assumptions", dict.fromkeys(text for item in found.lives for text in item.assumptions))


def _one(item: SurvivalLife) -> str:
    return one_life(item.life, runout=item.runout, unit="repeats")


def _band(lives: tuple[SurvivalLife, ...], survival: float) -> str | None:
    low = next((item for item in lives if item.survival == survival), None)
    median = next((item for item in lives if item.survival == 0.5), None)
    if low is None or median is None:
        return None
    return life_text(Life(low.life, median.life, median.runout, unit="repeats"))
