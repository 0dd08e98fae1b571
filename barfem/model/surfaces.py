"""The surface conditions that a bar file may name, and which is next better or worse.

Names and descriptions only: what each does to strength stands in `barfem.strength.fatigue.surface_factor`.
"""

from __future__ import annotations

from dataclasses import dataclass

from barfem.model.errors import InputError
from barfem.model.nearest import did_you_mean

__all__ = [
    "DEFAULT_BORE_SURFACE",
    "DEFAULT_SURFACE",
    "SURFACES",
    "Surface",
    "next_better",
    "next_worse",
    "surface_condition",
]


@dataclass(frozen=True)
class Surface:
    """One surface condition.

    Attributes
    ----------
    name
        As a bar file writes it.
    title
        As a table prints it.
    description
        What the surface has been through.
    better, worse
        Names of its neighbours: never a shorter, never a longer life. None at either end.
    peened
        Shot-peened: outside only, never in a bore or on the wall of a hole.
    holds_decarburised
        What is known of it was measured with a decarburised skin on.
    """

    name: str
    title: str
    description: str
    better: str | None
    worse: str | None
    peened: bool = False
    holds_decarburised: bool = False


DEFAULT_SURFACE = "as-hardened-scaled"
DEFAULT_BORE_SURFACE = "as-drawn"

_ALL = (
    Surface(
        "corroded",
        "corroded or stone-chipped",
        "coating lost, pitted by rust or stones: no stress is safe for ever",
        better="as-hardened-scaled",
        worse=None,
        holds_decarburised=True,
    ),
    Surface(
        "as-hardened-scaled",
        "as hardened, scaled, unpeened",
        "hot-formed or furnace-hardened, scale and a thin decarburised skin left on",
        better="hot-rolled",
        worse="corroded",
        holds_decarburised=True,
    ),
    Surface(
        "hot-rolled",
        "hot-rolled skin",
        "rolling skin left on, hardened with little scale",
        better="machined",
        worse="as-hardened-scaled",
        holds_decarburised=True,
    ),
    Surface(
        "shot-peened",
        "shot-peened over scale",
        "as hardened, then shot-peened all over the outside",
        better="machined",
        worse="as-hardened-scaled",
        peened=True,
        holds_decarburised=True,
    ),
    Surface(
        "as-drawn",
        "as drawn, unpeened",
        "cold-drawn surface, as a tube's bore is left",
        better="ground",
        worse="hot-rolled",
    ),
    Surface(
        "machined",
        "turned or peeled",
        "turned or peeled after hardening, or before it under a protective atmosphere",
        better="ground",
        worse="hot-rolled",
    ),
    Surface(
        "ground",
        "ground",
        "ground after hardening, free of grinding burn",
        better="polished",
        worse="machined",
    ),
    Surface(
        "polished",
        "polished",
        "mirror-polished as a laboratory specimen; hardly ever a bar",
        better=None,
        worse="ground",
    ),
)

SURFACES: dict[str, Surface] = {surface.name: surface for surface in _ALL}


def surface_condition(name: str, *, where: str = "[material] surface") -> Surface:
    """The surface condition called `name`.

    Raises
    ------
    InputError
        No surface condition has this name; the message names the nearest and all of them.
    """
    found = SURFACES.get(name)
    if found is None:
        raise InputError(
            f'no surface condition is called "{name}".{did_you_mean(name, SURFACES)}',
            where=where,
            expected="one of " + ", ".join(SURFACES) + ".",
        )
    return found


def next_better(name: str) -> str | None:
    """Name of the next better surface; None for the best."""
    return surface_condition(name).better


def next_worse(name: str) -> str | None:
    """Name of the next worse surface; None for the worst."""
    return surface_condition(name).worse
