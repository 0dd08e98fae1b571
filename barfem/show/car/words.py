"""Words that every view of the car shares."""

from __future__ import annotations

from collections.abc import Mapping

from rich.console import Console

from barfem.car.car import Car
from barfem.show.console import HEAD
from barfem.show.notes import look_twice
from barfem.show.parts import paragraph, printing

__all__ = ["CAUTION", "CONVENTION_LINE", "bar_holes", "holes_words", "print_asked", "print_head"]

CONVENTION_LINE = (
    "ISO 8855 axes; a_y > 0 left turn, a_x < 0 braking, in g; roll > 0 right side down; bump, tension > 0; all from "
    "the car as weighed; roll stiffness per axle about the road; bar rates at wheels, both ends moving opposite"
)
CAUTION = (
    "An estimate for setting up, not a release: proven on the car, step by step, by who may; licensed practice and "
    "local rules decide."
)


def bar_holes(pair: tuple[str, str] | None) -> str:
    """A hole pair in short: "2", "1/3" (left first), "no bar"."""
    if pair is None:
        return "no bar"
    return pair[0] if pair[0] == pair[1] else "/".join(pair)


def holes_words(holes: Mapping[str, tuple[str, str] | None]) -> str:
    """The holes of both axles."""
    return ", ".join(f"{axle} {bar_holes(pair)}" for axle, pair in holes.items())


def print_head(console: Console, car: Car) -> None:
    """The first lines of every command on a car: its name, what may be a slip of its file, and the conventions."""
    paragraph(console, car.name, style=HEAD)
    _ask(console, car)
    paragraph(console, f"Conventions: {CONVENTION_LINE}.")


@printing
def print_asked(console: Console, car: Car) -> None:
    """What may be a slip of the file, alone: for what is sent on, where no question can stand."""
    _ask(console, car)


def _ask(console: Console, car: Car) -> None:
    for text in car.odd:
        paragraph(console, *look_twice([text]))
