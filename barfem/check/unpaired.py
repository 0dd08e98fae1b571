"""Holes that no judged hole setting holds."""

from __future__ import annotations

from collections.abc import Iterable

from barfem.model.bar import Bar
from barfem.model.warned import Effect, Warned
from barfem.solve.beam import HoleSetting

__all__ = ["unpaired_warnings"]


def unpaired_warnings(bar: Bar, judged: Iterable[HoleSetting]) -> tuple[Warned, ...]:
    """Of each hole without one to pair with on the other side, unless an unequal pair holds it."""
    pairs = [(one.right, one.left) for one in judged]
    held = {"right": {right for right, _ in pairs}, "left": {left for _, left in pairs}}
    by_name = not {hole.name for hole in bar.right.holes}.isdisjoint(hole.name for hole in bar.left.holes)
    partner = "of its name" if by_name else "to pair with"
    return tuple(
        Warned(
            f'Hole "{hole.name}" of the {end.side} end has no hole {partner} on the other side: it is judged only '
            "where unequal pairs are asked for.",
            Effect.UNPAIRED,
        )
        for end in bar.ends
        for number, hole in enumerate(end.holes)
        if number not in held[end.side]
    )
