"""The skin of a place: finish, decarburised depth, shot peening and plating, each by itself.

Shot peening is residual stress on top of any finish. By default it leaves 500 MPa of compression at the surface, none
from 0.30 mm on: the low end of what is measured on spring steel peened to 0.4 to 0.5 mm A (500 to 900 MPa, 0.2 to
0.4 mm; from memory, fairly sure).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.nearest import did_you_mean
from barfem.model.surfaces import PEENED_SCALE, SURFACES, Surface, surface_condition

__all__ = ["DEEPEST_DECARBURISED_MM", "FULL_COVERAGE_PERCENT", "PEENING_KINDS", "Peening", "Skin", "read_peening"]

PEENING_KINDS = ("none", "shot")
DEFAULT_DEPTH_MM = 0.30
# What counts as fully covered (SAE J2277; from memory, sure).
FULL_COVERAGE_PERCENT = 98.0
DEEPEST_DECARBURISED_MM = 1.0
_LARGEST_RESIDUAL_MPA = 2000.0
_DEEPEST_MM = 1.0


@frozen
class Peening:
    """Shot peening of the outside.

    Attributes
    ----------
    residual_MPa
        At the surface, unrelaxed, negative in compression; None: not measured, the default holds.
    depth_mm
        Where compression ends.
    coverage_percent
        None: not stated, taken as full.
    """

    residual_MPa: float | None = None
    depth_mm: float = DEFAULT_DEPTH_MM
    coverage_percent: float | None = None

    @property
    def covers(self) -> bool:
        """Whether no spot is left without a dent; the weakest spot decides, so anything less earns nothing."""
        return self.coverage_percent is None or self.coverage_percent >= FULL_COVERAGE_PERCENT


@frozen
class Skin:
    """The skin at a place. `decarburised_mm` None: what the finish is taken to hold; 0: none."""

    finish: str
    peening: Peening | None = None
    decarburised_mm: float | None = None
    plating: str | None = None

    @classmethod
    def named(cls, name: str, *, where: str = "[material] surface") -> Skin:
        """The skin that one word means: a finish, or "shot-peened" for scaled and peened.

        Raises
        ------
        InputError
            No finish is called so.
        """
        return cls(surface_condition(name, where=where).name, Peening() if name == PEENED_SCALE else None)

    @property
    def surface(self) -> Surface:
        return SURFACES[self.finish]

    @property
    def flaw_mm(self) -> float:
        """Depth of the flaw that the skin is: grooves and pits of the finish, or the decarburised depth if deeper."""
        held = self.surface.decarburised_mm if self.decarburised_mm is None else self.decarburised_mm
        return max(self.surface.flaw_mm, held)

    @property
    def peened(self) -> bool:
        """Peened all over; a skin that is not fully covered counts as unpeened."""
        return self.peening is not None and self.peening.covers

    @property
    def title(self) -> str:
        """As a table prints it."""
        finish = self.surface.title
        if self.peening is None:
            return finish
        return finish.removesuffix(", unpeened") + ", shot-peened"

    @property
    def kind(self) -> str:
        """The kind of skin that tests are sorted by: finish, "+peened", "+decarburised"."""
        words = [self.finish]
        if self.decarburised_mm:
            words.append("decarburised")
        if self.peened:
            words.append("peened")
        return " + ".join(words)

    @property
    def better(self) -> Skin | None:
        """The same with the next better finish; None for the best."""
        name = self.surface.better
        return None if name is None else replace(self, finish=name)

    @property
    def worse(self) -> Skin | None:
        """The same unpeened; or the next worse finish; None for the worst."""
        if self.peening is not None:
            return replace(self, peening=None)
        name = self.surface.worse
        return None if name is None else replace(self, finish=name)


def read_peening(given: object, *, surface: object, where: str = "[material] peening") -> Peening | None:
    """Peening as a bar file says it: absent, "none", "shot", or a table { kind, residual, depth, coverage }.

    Raises
    ------
    InputError
        An unknown kind, a number that cannot be, or "none" beside surface = "shot-peened".
    """
    table: Mapping[str, object] = given if isinstance(given, Mapping) else {}
    kind = table.get("kind", "shot") if table else given
    if kind is None:
        return Peening() if surface == PEENED_SCALE else None
    if kind not in PEENING_KINDS:
        near = did_you_mean(str(kind), PEENING_KINDS)
        raise InputError(f"{kind!r} is no peening.{near}", where=where, expected='"none" or "shot".')
    if kind == "none":
        if surface == PEENED_SCALE:
            raise InputError(
                f'surface = "{PEENED_SCALE}" and peening = "none" contradict each other.',
                where=where,
                expected="one of them; the finish under the peening is as-hardened-scaled.",
            )
        return None
    residual = _number(table, "residual", -_LARGEST_RESIDUAL_MPA, 0.0, "MPa, negative in compression", where)
    depth = _number(table, "depth", 0.02, _DEEPEST_MM, "mm to where compression ends", where)
    coverage = _number(table, "coverage", 1.0, 2000.0, "per cent", where)
    return Peening(residual, DEFAULT_DEPTH_MM if depth is None else depth, coverage)


def _number(table: Mapping[str, object], key: str, low: float, high: float, unit: str, where: str) -> float | None:
    value = table.get(key)
    if value is None:
        return None
    number = float(value) if isinstance(value, int | float) and not isinstance(value, bool) else float("nan")
    if not low <= number <= high:
        place = f"{where}{'-' if where.startswith('--') else '.'}{key}"  # an option, or a key of the bar file
        raise InputError(f"{value!r} is out of range.", where=place, expected=f"{low:g} to {high:g} {unit}.")
    return number
