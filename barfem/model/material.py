"""The steel of a bar: one heat-treated condition of one grade, with the source of each number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from barfem.model.frozen import frozen
from barfem.model.skin import Peening, Skin

__all__ = ["CyclicConstants", "Scatter", "Steel", "StressLifeData"]


@frozen
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


@frozen
class StressLifeData:
    """A published stress-life line: the reversed amplitude `strength_MPa` lasts `cycles`; N ~ amplitude^-`exponent`.

    `skin`, `diameter_mm` and `tensile_strength_MPa` are those of the specimens or bars tested. `knee` says that the
    tests showed an endurance limit at a million cycles.
    """

    strength_MPa: float
    cycles: float
    exponent: float
    skin: Skin
    knee: bool
    tensile_strength_MPa: float
    diameter_mm: float | None = None
    source: str = ""


@frozen
class Scatter:
    """Scatter of one condition: exactly one of both deviations.

    `strength_deviation` is a share of the mean fatigue strength (normal). `log10_life_deviation` is that of log10 life
    at one stress, on a line of the `exponent` given (lognormal); the strength behind it scatters by its share.
    """

    strength_deviation: float | None = None
    log10_life_deviation: float | None = None
    exponent: float | None = None
    source: str = ""


@frozen
class Steel:
    """A grade in one condition, as the solver and the strength modules need it.

    Strengths are the minimum of the condition's window unless `typical` says otherwise. `sources` maps each
    number's key to the text of its source; `surface` and `bore_surface` are names known to the fatigue module.
    `peening`, `decarburised_depth_mm` (None: what the finish is taken to hold) and `plating` are of the outside;
    `preset` says that the bar was overloaded on purpose.
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
    peening: Peening | None = None
    bent: str | None = None
    stress_relieved: bool | None = None
    hardness: str | None = None
    elongation_percent: float | None = None
    typical: bool = False
    cyclic: CyclicConstants | None = None
    stress_life: StressLifeData | None = None
    scatter: Scatter | None = None
    decarburised_depth_mm: float | None = None
    plating: str | None = None
    preset: bool = False
    sources: Mapping[str, str] = field(default_factory=dict)

    @property
    def G_MPa(self) -> float:
        """Shear modulus of an isotropic steel, E / (2 (1 + nu))."""
        return self.E_MPa / (2.0 * (1.0 + self.nu))

    @property
    def skin(self) -> Skin:
        """The outside as delivered."""
        return Skin(self.surface, self.peening, self.decarburised_depth_mm, self.plating)

    @property
    def bore_skin(self) -> Skin:
        """The bore: peening, plating and a stated decarburised depth are of the outside."""
        return Skin(self.bore_surface)
