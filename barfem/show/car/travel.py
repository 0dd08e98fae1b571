"""What `barfem travel` prints."""

from __future__ import annotations

from rich.console import Console

from barfem.car.travel import AxleTravel, TravelResult
from barfem.show.car.words import CAUTION, print_head
from barfem.show.console import print_table
from barfem.show.numbers import whole
from barfem.show.parts import bullets, heading, paragraph, printing, warned_and_assumed
from barfem.show.tables import Table, column, table, words

__all__ = ["print_travel", "travel_table"]

NAMES = {"roll": "roll", "one_wheel": "one wheel", "parallel": "parallel"}


@printing
def print_travel(console: Console, found: TravelResult) -> None:
    """Print the travels."""
    print_head(console, found.car)
    for axle, each in found.axles.items():
        heading(console, f"The {axle} bar's ends" if each is not None else f"{axle}: no bar")
        if each is not None:
            print_table(console, travel_table(each))
            bullets(console, _lines(each))
    warned_and_assumed(console, found)
    paragraph(console, CAUTION)


def travel_table(each: AxleTravel) -> Table:
    """A case a row: wheel travel by each limit, and the bar end's."""

    return table(
        "travel",
        "",
        list(each.cases.items()),
        [
            words("Case", lambda row: NAMES[row[0]]),
            column("Stops", "mm", lambda row: row[1].stops_mm, show="{:z.1f}".format),
            column("Tyre lift", "mm", lambda row: row[1].lift_mm, show="{:z.1f}".format),
            column("States", "mm", lambda row: row[1].states_mm, show="{:z.1f}".format),
            words("Least", lambda row: row[1].governs),
            column("Wheel", "mm", lambda row: row[1].wheel_mm, show="{:z.1f}".format),
            column("Bar end", "mm", lambda row: row[1].bar_end_mm, show="{:z.1f}".format),
        ],
    )


def _lines(each: AxleTravel) -> list[str]:
    out = []
    roll, file = each.cases["roll"].bar_end_mm, each.file_pickup_mm
    if roll is not None and file is not None:
        own = min(file[0], file[1])
        word = "more" if roll > own else "less"
        out.append(
            f"The bar file is judged to {own:g} mm; the car reaches {roll:.1f} mm in roll, "
            f"{100.0 * abs(roll / own - 1):.0f} % {word}."
        )
    for pickup, cycles, ratio in each.blocks:
        out.append(f"Duty from [use]: {whole(cycles)} cycles of {pickup:.1f} mm, ratio {ratio:g}.")
    return out
