"""The handbook's line for the skin, steel and diameter that were tested, to set beside the fitted one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from barfem.model.material import Steel
from barfem.model.surfaces import DEFAULT_SURFACE
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength

__all__ = ["HandbookLine", "handbook_line"]


@dataclass(frozen=True)
class HandbookLine:
    """The estimate without any test: strength at `at_cycles` and slope, with what it is of."""

    strength: FatigueStrength
    at_cycles: float
    of: str

    @property
    def strength_MPa(self) -> float:
        return float(self.strength.strength_at(self.at_cycles))

    @property
    def exponent(self) -> float:
        return float(self.strength.exponent)

    def to_json_dict(self) -> dict[str, Any]:
        return {
            "strength_MPa": self.strength_MPa,
            "at_cycles": self.at_cycles,
            "exponent": self.exponent,
            "of": self.of,
        }


def handbook_line(
    steel: Steel,
    *,
    surface: str | None,
    peening: str | None,
    diameter_mm: float | None,
    torsion_share: float,
    at_cycles: float,
) -> HandbookLine:
    """The line of the check's own estimate, the table's tests left out; `surface` None: the default finish."""
    finish = surface or DEFAULT_SURFACE
    if peening == "shot" and finish == DEFAULT_SURFACE:
        finish = "shot-peened"
    strength = fatigue_strength(
        replace(steel, stress_life=None), diameter_mm=diameter_mm, torsion_share=torsion_share, surface=finish
    )
    size = "no size factor" if diameter_mm is None else f"diameter {diameter_mm:g} mm"
    return HandbookLine(strength, at_cycles, f"{steel.grade} {steel.condition}, {finish}, {size}")
