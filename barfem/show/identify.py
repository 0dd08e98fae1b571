"""What `barfem identify` prints: rates of the curves, what was found, and what the data cannot tell."""

from __future__ import annotations

from rich.console import Console

from barfem.show.console import print_table
from barfem.show.parts import heading, listed, paragraph, printing
from barfem.show.tables import Table, column, table, words
from barfem.vendor.identify import Apart, Identified

__all__ = ["found_table", "print_identified", "rates_table"]

CAUTION = (
    "An estimate, not a release: it holds for this rig, whose own give is in the numbers unless it is free "
    "(link_stiffness_N_per_mm). Licensed practice and local rules decide."
)
MEANT = (
    "±: by the scatter of the points alone. All that is not free is taken as drawn: an E that is 2 % higher reads as "
    "about 0.5 % of diameter, and flats, arms or bushings off the drawing go the same way."
)
NAMES = {
    "diameter_mm": "diameter, mm",
    "wall_mm": "wall, mm",
    "mount_radial_stiffness_N_per_mm": "mount radial stiffness, N/mm",
    "link_stiffness_N_per_mm": "link or fixture stiffness, N/mm",
}


def rates_table(found: Identified) -> Table:
    """A curve a line."""
    return table(
        "rates",
        "Rates",
        found.rates,
        [
            words("Curve", lambda rate: rate.curve.words, key="curve"),
            column("n", "", lambda rate: len(rate.curve.x_mm), show=str, key="n"),
            column("Rate", "N/mm", "rate_N_per_mm", show="{:.2f}".format),
            column("±", "", "se_N_per_mm", show="{:.2g}".format),
            column("Drawn", "N/mm", lambda rate: rate.expected_N_per_mm, show="{:.2f}".format, key="drawn_N_per_mm"),
            column("Zero", "mm", "zero_mm", show="{:+z.2f}".format),
            column("Slack", "mm", "slack_mm", show="{:.2f}".format),
            column("Half\nloop", "N", "half_loop_N", show="{:.1f}".format),
        ],
    )


def found_table(found: Identified) -> Table:
    """A parameter a line."""
    return table(
        "identified",
        "Found",
        found.found.items(),
        [
            words("Parameter", lambda item: NAMES[item[0]], key="parameter"),
            column("Found", "", lambda item: item[1].value, show="{:.5g}".format, key="value"),
            column("±", "", lambda item: item[1].se, show="{:.2g}".format, key="se"),
            column("Drawn", "", lambda item: item[1].nominal, show="{:.5g}".format, key="nominal"),
        ],
    )


@printing
def print_identified(console: Console, found: Identified) -> None:
    """Print what was found, and what could not be told."""
    paragraph(
        console, f"{found.bar.name}: {len(found.rates)} curve{'s' * (len(found.rates) > 1)}, one standard error (±)."
    )
    for note in found.notes:
        paragraph(console, f"read: {note}.")
    console.print()
    print_table(console, rates_table(found))
    paragraph(
        console,
        "Rate: at rest, force of the moving pickup over its travel; in roll the mean of both ends', "
        "the other's share as drawn. Slack: whole free travel, 0.00 where none shows, - where the curve cannot tell "
        "it. Half loop: half the force between rising and falling travel.",
    )
    if found.found:
        heading(console, "Found")
        print_table(console, found_table(found))
        paragraph(console, MEANT)
        if len(found.free) == 2 and len(found.found) == 2:
            paragraph(console, f"Correlation of the two: {found.correlation[0][1]:+z.3f}.")
    listed(console, "Not to be told", [in_words(apart.words) + _help(apart) for apart in found.cannot_tell])
    listed(console, "Warnings", found.warnings)
    console.print()
    paragraph(console, CAUTION)
    paragraph(console, f"ANSWER: {_answer(found)}")


def _help(apart: Apart) -> str:
    """What would tell them."""
    if len(apart.names) == 1:
        return ""
    return f". With the others known, --free {apart.names[0]} alone; or measure what is stiff by itself"


def in_words(text: str) -> str:
    """Parameters by their names in words."""
    for name, in_full in NAMES.items():
        text = text.replace(name, in_full.partition(",")[0])
    return text


def _answer(found: Identified) -> str:
    if found.ask:
        return f"nothing is identified: settle the {found.ask} first"
    found_words = [
        f"{NAMES[name].partition(',')[0]} {each.value:.5g} ± {each.se:.2g} {NAMES[name].partition(', ')[2]}"
        for name, each in found.found.items()
    ]
    undecided = [" and ".join(NAMES[name].partition(",")[0] for name in apart.names) for apart in found.cannot_tell]
    return "; ".join([*found_words, *(f"not to be told: {each}" for each in undecided)]) or "nothing was free"
