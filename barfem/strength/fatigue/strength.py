"""The fatigue strength of a bar at its places: the handbook's line with its factors.

Why not the strain-life constants of the material tables: they are fitted to small polished specimens under axial
strain, and have no knee and no place for scale, size or a hole's wall. Used bare they would call a scaled bar many
times better than it is. The handbook line is therefore the default; the constants stand beside it.

Where a table has stress-life tests of its own (`Steel.stress_life`), they take the place of the specimen's endurance
limit and of the fraction at 1,000 cycles: the surface and size factors are then those of the bar over those of the
specimens, and a steel softer than the one tested is scaled down (never up) by its tensile strength.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.material import Scatter, Steel
from barfem.strength.fatigue.factors import (
    Factor,
    effective_diameter_mm,
    endurance_limit_of_specimen,
    fraction_at_1000_cycles,
    size_factor,
    survival_factor,
)
from barfem.strength.fatigue.sn_line import line_life, line_strength
from barfem.strength.fatigue.surface_factor import surface_effect

__all__ = ["FatigueStrength", "fatigue_strength"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class FatigueStrength:
    """Stress-life lines (median), one a place; all arrays are of one shape.

    Attributes
    ----------
    tensile_MPa
        Where the line starts, at one cycle.
    at_1e3_cycles_MPa, at_1e6_cycles_MPa
        Reversed amplitude that lasts 1,000 and 1,000,000 cycles.
    has_knee
        False where the sloping line goes on beyond a million cycles.
    peening_gain
        By how much peening has raised the strength at a million cycles; 1 where nothing was peened.
    torsion_share
        Share of torsion in the squared von Mises amplitude.
    factors
        Each number behind the line, with its source, in the order in which they are applied.
    scatter
        Of the steel's condition; None stands for the default.
    """

    tensile_MPa: Array
    at_1e3_cycles_MPa: Array
    at_1e6_cycles_MPa: Array
    has_knee: Bools
    peening_gain: Array
    torsion_share: Array
    factors: tuple[Factor, ...] = ()
    scatter: Scatter | None = None

    @property
    def exponent(self) -> Array:
        """k of the sloping line between 1,000 and 1,000,000 cycles, N ~ amplitude^-k."""
        return 3.0 / np.log10(self.at_1e3_cycles_MPa / self.at_1e6_cycles_MPa)

    def survival_factor(self, survival: float) -> float:
        """Share of this median strength that `survival` of all bars have (`survival_factor`, with the steel's scatter).

        Raises
        ------
        InputError
            `survival` is not between 0 and 1.
        """
        return survival_factor(survival, self.scatter)

    @property
    def endurance_limit_MPa(self) -> Array:
        """Reversed amplitude that lasts for ever; zero where there is no knee: no stress does."""
        return np.where(self.has_knee, self.at_1e6_cycles_MPa, 0.0)

    def strength_at(self, cycles: ArrayLike) -> Array:
        """Reversed amplitude [MPa] that lasts `cycles`."""
        return line_strength(
            cycles,
            at_1_MPa=self.tensile_MPa,
            at_1e3_MPa=self.at_1e3_cycles_MPa,
            at_1e6_MPa=self.at_1e6_cycles_MPa,
            has_knee=self.has_knee,
        )

    def life(self, reversed_amplitude_MPa: ArrayLike) -> tuple[Array, Bools]:
        """Cycles that a reversed amplitude [MPa] lasts, and where that is beyond the knee (then a lower bound)."""
        return line_life(
            reversed_amplitude_MPa,
            at_1_MPa=self.tensile_MPa,
            at_1e3_MPa=self.at_1e3_cycles_MPa,
            at_1e6_MPa=self.at_1e6_cycles_MPa,
            has_knee=self.has_knee,
        )

    def without_peening(self, where: ArrayLike) -> FatigueStrength:
        """The same, with peening earning nothing at the places `where`."""
        gain = np.where(where, 1.0, self.peening_gain)
        return replace(self, at_1e6_cycles_MPa=self.at_1e6_cycles_MPa / self.peening_gain * gain, peening_gain=gain)


def fatigue_strength(
    steel: Steel,
    *,
    diameter_mm: ArrayLike | None,
    torsion_share: ArrayLike,
    surface: str,
    strength_scale: ArrayLike = 1.0,
    equivalent_diameter_mm: ArrayLike | None = None,
    outside: bool = True,
) -> FatigueStrength:
    """The line at places of one surface condition. Arguments broadcast.

    Parameters
    ----------
    diameter_mm
        Outside diameter of a round or a tube; None leaves size out (factor 1).
    torsion_share
        Share of torsion in the squared von Mises amplitude, 0 to 1.
    surface
        A name of `barfem.model.surfaces`.
    strength_scale
        Local over nominal strength ([ends] strength_scale); it scales the line at every life, and the factors stay
        those of the nominal steel, so that a softer end never earns a better surface factor.
    equivalent_diameter_mm
        Of another section, used as it stands in place of `diameter_mm`: for a rectangle
        0.808 (width x thickness)^0.5, which has the bending that does not rotate in it (Shigley Eq. 6-25).
    outside
        False in a bore: plating and a decarburised depth are stated of the outside.

    Raises
    ------
    InputError
        Unknown surface condition.
    """
    given = diameter_mm if equivalent_diameter_mm is None else equivalent_diameter_mm
    diameter, share, scale = np.broadcast_arrays(
        np.asarray(0.0 if given is None else given, float),
        np.asarray(torsion_share, float),
        np.asarray(strength_scale, float),
    )
    tensile = steel.tensile_strength_MPa
    specimen = _specimen(steel)
    effect = surface_effect(
        surface,
        tensile_MPa=tensile,
        decarburised_mm=steel.decarburised_depth_mm if outside else None,
        plating=steel.plating if outside else None,
    )
    ka = np.minimum(effect.factor / specimen.surface_factor, 1.0)
    round_one = effective_diameter_mm(diameter_mm=diameter, torsion_share=share)
    effective = round_one if equivalent_diameter_mm is None else diameter
    kb = np.minimum(size_factor(effective) / specimen.size_factor, 1.0)
    at_1e6 = specimen.at_1e6_MPa * ka * kb * scale
    at_1e3 = np.maximum(specimen.at_1e3_MPa * scale, 1.01 * at_1e6)

    def everywhere(value: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(value, float), diameter.shape)

    factors = (
        Factor("tensile strength", everywhere(tensile), steel.sources.get("tensile_strength", ""), "MPa"),
        Factor(specimen.name, everywhere(specimen.at_1e6_MPa), specimen.source, "MPa"),
        Factor("surface factor ka", everywhere(ka), effect.source + specimen.over),
        *_size(None if given is None else effective, kb, of_a_round=equivalent_diameter_mm is None),
        Factor("load factor kc", everywhere(1.0), "1 with von Mises stress: Shigley Eq. 6-26 and 6-55"),
        Factor("strength scale", scale, "the bar file, [ends] strength_scale"),
        Factor("strength at 1e6 cycles", at_1e6, "specimen's limit x ka x kb x kc x scale", "MPa"),
        Factor(
            "fraction f of the tensile strength at 1,000 cycles",
            everywhere(specimen.at_1e3_MPa / tensile),
            specimen.fraction_source,
        ),
        Factor("strength at 1,000 cycles", at_1e3, "f x tensile strength", "MPa"),
    )
    return FatigueStrength(
        tensile_MPa=tensile * scale,
        at_1e3_cycles_MPa=at_1e3,
        at_1e6_cycles_MPa=at_1e6,
        has_knee=np.full(diameter.shape, effect.has_knee and specimen.has_knee),
        peening_gain=everywhere(effect.peening_gain),
        torsion_share=share,
        factors=factors,
        scatter=steel.scatter,
    )


@dataclass(frozen=True)
class _Specimen:
    """The line before the bar's own factors, and the factors that are in it already."""

    at_1e3_MPa: float
    at_1e6_MPa: float
    has_knee: bool
    surface_factor: float
    size_factor: float
    name: str
    source: str
    fraction_source: str
    over: str = ""


def _specimen(steel: Steel) -> _Specimen:
    tensile, found = steel.tensile_strength_MPa, steel.stress_life
    if found is None:
        return _Specimen(
            at_1e3_MPa=float(fraction_at_1000_cycles(tensile)) * tensile,
            at_1e6_MPa=float(endurance_limit_of_specimen(tensile)),
            has_knee=True,
            surface_factor=1.0,
            size_factor=1.0,
            name="endurance limit of a polished specimen",
            source="half the tensile strength, at most 700 MPa: Shigley Eq. 6-8, 10th ed.",
            fraction_source="fit of Shigley Fig. 6-18, held above 1,380 MPa",
        )
    softer = min(1.0, tensile / found.tensile_strength_MPa)
    at_1e3, at_1e6 = (
        softer * found.strength_MPa * (found.cycles / cycles) ** (1.0 / found.exponent) for cycles in (1e3, 1e6)
    )
    said = "" if softer == 1.0 else f", times {softer:.3f} for a softer steel"
    return _Specimen(
        at_1e3_MPa=min(at_1e3, 0.98 * tensile),
        at_1e6_MPa=min(at_1e6, 0.96 * tensile),
        has_knee=found.knee,
        surface_factor=float(surface_effect(found.surface, tensile_MPa=found.tensile_strength_MPa).factor),
        size_factor=1.0 if found.diameter_mm is None else float(size_factor(found.diameter_mm)),
        name="specimen's strength at 1e6 cycles, tested",
        source=f"{found.source}{said}",
        fraction_source=f"the same line, exponent {found.exponent:g}",
        over=f"; over that of the specimens ({found.surface})",
    )


def _size(effective_mm: Array | None, kb: Array, *, of_a_round: bool) -> tuple[Factor, ...]:
    if effective_mm is None:
        return (Factor("size factor kb", kb, "no diameter given: a small specimen's"),)
    return (
        Factor(
            "effective diameter",
            effective_mm,
            "d in torsion, 0.37 d in bending without rotation (Shigley Eq. 6-24), blended by torsion's share (ours)"
            if of_a_round
            else "equal highly stressed area: Shigley Eq. 6-25 and Table 6-3",
            "mm",
        ),
        Factor("size factor kb", kb, "1.24 d^-0.107, above 51 mm 1.51 d^-0.157, at most 1: Shigley Eq. 6-20"),
    )
