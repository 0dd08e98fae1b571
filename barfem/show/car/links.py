"""What `barfem links` prints."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console

from barfem.car.car import WHEELS
from barfem.car.links import AxleLinks, LinksResult
from barfem.show.car.words import CAUTION, bar_holes, print_head
from barfem.show.console import print_table
from barfem.show.parts import heading, listed, paragraph, printing, warned_and_assumed
from barfem.show.tables import Table, column, table, words

__all__ = ["links_table", "print_links", "zeroing_words"]


@printing
def print_links(console: Console, found: LinksResult) -> None:
    """Print the links."""
    print_head(console, found.car)
    paragraph(console, "Longer > 0, bar end up > 0; the car standing, driver in.")
    heading(console, "Links")
    print_table(console, links_table(found))
    listed(console, "What to do", zeroing_words(found))
    heading(console, "Cross-weight (front right + rear left) / total")
    rows = [("as it is", found.loads_now_N, found.cross_weight_now),
            ("both bars forceless", found.loads_zeroed_N, found.cross_weight_zeroed)]  # fmt: skip
    if found.loads_left_over_N is not None and found.cross_weight_left_over is not None:
        rows.append(("after the nearest half turns", found.loads_left_over_N, found.cross_weight_left_over))
    print_table(
        console,
        table(
            "cross-weight",
            "",
            rows,
            [
                words("", lambda row: row[0], key="when"),
                column("Cross-\nweight", "", lambda row: row[2], show="{:.4f}".format),
                *(
                    column(name.replace("_", "\n"), "N", lambda row, k=k: float(row[1][k]), show="{:.0f}".format)  # type: ignore[misc]
                    for k, name in enumerate(WHEELS)
                ),
            ],
        ),
    )
    moved = found.moved
    if moved is not None:
        heading(console, f"The {moved.side} {moved.axle} link moved to hole {moved.hole}, not zeroed")
        paragraph(
            console,
            f"It is then {moved.link_error_mm:+z.2f} mm from the right length: {moved.forces_N[0]:+z.0f} N left, "
            f"{moved.forces_N[1]:+z.0f} N right, cross-weight {moved.cross_weight:.4f}.",
        )
    warned_and_assumed(console, found)
    paragraph(console, CAUTION)


def _axles(found: LinksResult) -> list[AxleLinks]:
    return [each for each in found.axles.values() if each is not None]


def _signed(digits: int) -> Callable[[float], str]:
    """A number with its sign; what rounds to nothing is no less than nothing."""
    return lambda value: f"{round(value, digits) + 0.0:+.{digits}f}"


def links_table(found: LinksResult) -> Table:
    """An axle a row."""
    return table(
        "links",
        "",
        _axles(found),
        [
            words("Axle", lambda a: a.axle),
            words("Holes", lambda a: bar_holes(a.holes)),
            column("Twist\nl - r", "mm", lambda a: a.offset_left_less_right_mm, show=_signed(2)),
            column("Left\nlink", "N", lambda a: a.forces_now_N[0], show=_signed(0)),
            column("Right\nlink", "N", lambda a: a.forces_now_N[1], show=_signed(0)),
            column("Change", "mm", lambda a: a.link_change_mm, show=_signed(2)),
            column("Turns", "", lambda a: a.turns, show=_signed(2), optional=True),
            column("Nearest\nhalf", "", lambda a: a.nearest_half_turn, show=_signed(1), optional=True),
            column("Left\nover", "mm", lambda a: a.left_over_mm, show=_signed(2), optional=True),
            column(
                "Force\nleft",
                "N",
                lambda a: None if a.forces_left_over_N is None else a.forces_left_over_N[0],
                show=_signed(0),
                optional=True,
            ),
        ],
    )


def zeroing_words(found: LinksResult) -> list[str]:
    """What to turn, in sentences."""
    out = []
    for each in _axles(found):
        if abs(each.link_change_mm) < 0.005:
            out.append(f"{each.axle} bar: forceless as it is.")
            continue
        way = "longer" if each.link_change_mm > 0.0 else "shorter"
        text = f"{each.axle} bar, {each.side} link: {abs(each.link_change_mm):.2f} mm {way}"
        if each.nearest_half_turn is not None:
            text += f"; the nearest half turn is {abs(each.nearest_half_turn):.1f}"
            text += f" turns {'longer' if each.nearest_half_turn > 0 else 'shorter'}" if each.nearest_half_turn else ""
        out.append(text + ".")
    return out
