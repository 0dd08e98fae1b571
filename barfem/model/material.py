"""The steel of a bar: one heat-treated condition of one grade, with the source of each number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["CyclicConstants", "Steel"]


@dataclass(frozen=True)
class CyclicConstants:
    """Strain-life and cyclic stress-strain constants, with the E they were fitted with (never used for stiffness)."""

    E_MPa: float
    fatigue_strength_coefficient_MPa: float
    fatigue_strength_exponent: float
    fatigue_ductility_coefficient: float
    fatigue_ductility_exponent: float
    cyclic_strength_coefficient_MPa: float | None = None
    cyclic_hardening_exponent: float | None = None
    tensile_strength_MPa: float | None = None
    source: str = ""


@dataclass(frozen=True)
class Steel:
    """A grade in one condition, as the solver and the strength modules need it.

    Strengths are the minimum of the condition's window unless `typical` says otherwise. `sources` maps each
    number's key to the text of its source; `surface` and `bore_surface` are names known to the fatigue module.
    """

    grade: str
    condition: str
    E_MPa: float
    nu: float
    density_kg_per_m3: float
    yield_strength_MPa: float
    tensile_strength_MPa: float
    surface: str = "as-hardened-scaled"
    bore_surface: str = "as-drawn"
    bent: str | None = None
    stress_relieved: bool | None = None
    hardness: str | None = None
    elongation_percent: float | None = None
    typical: bool = False
    cyclic: CyclicConstants | None = None
    sources: Mapping[str, str] = field(default_factory=dict)

    @property
    def G_MPa(self) -> float:
        """Shear modulus of an isotropic steel, E / (2 (1 + nu))."""
        return self.E_MPa / (2.0 * (1.0 + self.nu))
