"""The two limits of a place at a million cycles, sound steel's and the flaw's, and the specimen's line that they start
from.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.model.hardness import vickers_from_tensile
from barfem.model.material import Steel
from barfem.model.skin import Skin
from barfem.strength.fatigue.cyclic_curve import WITHIN
from barfem.strength.fatigue.factors import (
    PLATING_FACTOR,
    Factor,
    effective_diameter_mm,
    endurance_limit_of_specimen,
    fraction_at_1000_cycles,
    size_factor,
)
from barfem.strength.fatigue.flaws import FLAW_SOURCE, felt_share, flaw_limit, flaw_size_um
from barfem.strength.fatigue.residual import share_at_depth
from barfem.strength.fatigue.spread import spread

__all__ = ["Section", "Specimen", "limits", "residual_share", "skin_words", "specimen_of"]

Array = NDArray[np.float64]


@frozen
class Section:
    """What of places' sections the limits need; arrays broadcast.

    `equivalent_mm` stands for `diameter_mm` in another section than a round: NaN in rounds, None where all are.
    `diameter_mm` None: no size. `outside`: stress falls towards the middle; in a bore or a flat that is not counted.
    """

    diameter_mm: Array | None
    equivalent_mm: Array | None
    torsion_share: Array
    outside: NDArray[np.bool_]

    @property
    def array_shape(self) -> tuple[int, ...]:
        """Of all arrays together."""
        given = (self.diameter_mm, self.equivalent_mm, self.torsion_share, self.outside)
        return np.broadcast_shapes(*(values.shape for values in given if values is not None))

    def at(self, places: Any) -> Section:
        """The sections of some of the places."""
        shape = self.array_shape

        def cut(values: Any) -> Any:
            return None if values is None else np.asarray(spread(values, shape)[places])

        return Section(cut(self.diameter_mm), cut(self.equivalent_mm), cut(self.torsion_share), cut(self.outside))

    @cached_property
    def effective_mm(self) -> Array | None:
        """Diameter of the rotating bar with as much highly stressed steel; None without a size."""
        if self.diameter_mm is None:
            return self.equivalent_mm
        of_round = effective_diameter_mm(diameter_mm=self.diameter_mm, torsion_share=self.torsion_share)
        if self.equivalent_mm is None:
            return of_round
        return np.where(np.isnan(self.equivalent_mm), of_round, self.equivalent_mm)

    @cached_property
    def factor(self) -> Array:
        """Size factor kb of sound steel."""
        effective = self.effective_mm
        return np.ones(self.torsion_share.shape) if effective is None else np.asarray(size_factor(effective))

    def share_at(self, depth_mm: float) -> Array:
        """Stress at a depth over that of the skin: 1 - 2 depth / diameter, in bending and torsion alike."""
        falls = self.outside if self.equivalent_mm is None else self.outside & np.isnan(self.equivalent_mm)
        if self.diameter_mm is None or not np.any(falls):
            return np.ones(())
        return np.where(falls, np.maximum(1.0 - 2.0 * depth_mm / self.diameter_mm, 0.1), 1.0)

    def of_diameter(self, diameter_mm: float | None) -> Section:
        """A tested bar or specimen under the same kind of load."""
        return replace(self, diameter_mm=None if diameter_mm is None else np.asarray(diameter_mm), equivalent_mm=None)

    def factors(self, kb: Array) -> tuple[Factor, ...]:
        """The size factor, for printing."""
        effective = self.effective_mm
        if effective is None:
            return (Factor("size factor kb", kb, "no diameter given: a small specimen's"),)
        flat = np.zeros((), bool) if self.equivalent_mm is None else ~np.isnan(self.equivalent_mm)
        words = {
            "d in torsion, 0.37 d in bending without rotation (Shigley Eq. 6-24), blended by torsion's share (ours)": (
                not flat.all()
            ),
            "equal highly stressed area: Shigley Eq. 6-25 and Table 6-3": flat.any(),
        }
        source = "; in flats ".join(text for text, meant in words.items() if meant)
        return (
            Factor("effective diameter", np.broadcast_to(effective, kb.shape), source, "mm"),
            Factor(
                "size factor kb",
                kb,
                "1.24 d^-0.107, above 51 mm 1.51 d^-0.157, at most 1: Shigley Eq. 6-20; of sound steel, a flaw has "
                "none",
            ),
        )


def limits(sound_MPa: float, *, tensile_MPa: float, skin: Skin, section: Section) -> tuple[Array, Array]:
    """(sound, flaw): reversed von Mises amplitudes at the skin that each stands, without residual stress.

    The flaw's is infinite where the skin has none. Plating lowers both.
    """
    plating = 1.0 if skin.plating is None else PLATING_FACTOR[skin.plating]
    sound = sound_MPa * section.factor * plating
    if skin.flaw_mm <= 0.0:
        return sound, np.full(sound.shape, np.inf)
    own = _flaw_limit_MPa(tensile_MPa, skin.flaw_mm) * plating
    felt = felt_share(section.torsion_share) * section.share_at(skin.flaw_mm)
    return sound, np.broadcast_to(own / felt, np.broadcast_shapes(sound.shape, felt.shape))


@lru_cache(maxsize=256)
def _flaw_limit_MPa(tensile_MPa: float, flaw_mm: float) -> float:
    """Of one steel and skin, which every place of a bar asks for."""
    return float(flaw_limit(hardness_HV=vickers_from_tensile(tensile_MPa), size_um=flaw_size_um(flaw_mm)))


def residual_share(skin: Skin) -> float:
    """Share of the skin's residual compression that is left at the depth of its flaw."""
    if skin.peening is None:
        return 1.0
    return share_at_depth(skin.flaw_mm, end_mm=skin.peening.depth_mm)


def skin_words(skin: Skin, *, hardness_HV: float) -> str:
    """Where the surface factor comes from."""
    if skin.flaw_mm <= 0.0:
        words = "no flaw: sound steel, as a polished specimen"
    else:
        stated = skin.decarburised_mm is not None and skin.decarburised_mm >= skin.surface.flaw_mm
        depth = f"decarburised {skin.flaw_mm:g} mm deep" if stated else skin.surface.flaw_source
        words = (
            f"the skin as a flaw: {depth}; {FLAW_SOURCE} at {hardness_HV:.0f} HV and area^0.5 = 10^0.5 x "
            f"{1e3 * skin.flaw_mm:.3g} = {float(flaw_size_um(skin.flaw_mm)):.0f} micrometres, of the stress at that "
            "depth across it, sigma 1 - 0.18 sigma 2; at most sound steel's limit"
        )
    if skin.plating is not None:
        words += f"; times {PLATING_FACTOR[skin.plating]:g} for {skin.plating} plating (Shigley sec. 6-9, from memory)"
    return words


@frozen
class Specimen:
    """The line that a place's starts from: a handbook's polished specimen, or a firm's own tests with what was in
    them.
    """

    at_1e3_MPa: float
    at_1e6_MPa: float
    has_knee: bool
    name: str
    source: str
    fraction_source: str


def specimen_of(steel: Steel, *, load_factor: float = 1.0) -> Specimen:
    """The steel's own tested line if its table has one, else the handbook's, capped by its strain-life constants.

    `load_factor` is on the handbook's alone: 1 with von Mises stress, 0.85 for an axial specimen (Shigley Eq. 6-26).
    """
    tensile, found = steel.tensile_strength_MPa, steel.stress_life
    if found is None:
        return _capped(
            steel,
            Specimen(
                at_1e3_MPa=load_factor * float(fraction_at_1000_cycles(tensile)) * tensile,
                at_1e6_MPa=load_factor * float(endurance_limit_of_specimen(tensile)),
                has_knee=True,
                name="endurance limit of a polished specimen",
                source="half the tensile strength, at most 700 MPa: Shigley Eq. 6-8, 10th ed."
                + ("" if load_factor == 1.0 else f"; times {load_factor:g} for axial load (Eq. 6-26)"),
                fraction_source="fit of Shigley Fig. 6-18, held above 1 380 MPa",
            ),
        )
    softer = min(1.0, tensile / found.tensile_strength_MPa)
    at_1e3, at_1e6 = (
        softer * found.strength_MPa * (found.cycles / cycles) ** (1.0 / found.exponent) for cycles in (1e3, 1e6)
    )
    note = "" if softer == 1.0 else f", times {softer:.3f} for a softer steel"
    return Specimen(
        at_1e3_MPa=at_1e3,
        at_1e6_MPa=at_1e6,
        has_knee=found.knee,
        name="specimen's strength at 1e6 cycles, tested",
        source=f"{found.source}{note}",
        fraction_source=f"the same line, exponent {found.exponent:g}",
    )


def _capped(steel: Steel, handbook: Specimen) -> Specimen:
    """The handbook's line, never above the steel's own polished specimens: sigma_f' (2N)^b (Dowling Eq. 9.7).

    Constants of a steel more than 15 % stronger or weaker are left aside; within that they go with tensile strength.
    """
    cyclic = steel.cyclic
    if cyclic is None or not cyclic.tensile_strength_MPa:
        return handbook
    ratio = steel.tensile_strength_MPa / cyclic.tensile_strength_MPa
    if abs(ratio - 1.0) > WITHIN:
        return handbook

    def own(cycles: float) -> float:
        return ratio * cyclic.fatigue_strength_coefficient_MPa * (2.0 * cycles) ** cyclic.fatigue_strength_exponent

    at_1e3, at_1e6 = min(handbook.at_1e3_MPa, own(1e3)), min(handbook.at_1e6_MPa, own(1e6))
    note = f"at most the steel's own strain-life line ({cyclic.source})"
    return replace(
        handbook,
        at_1e3_MPa=at_1e3,
        at_1e6_MPa=at_1e6,
        source=handbook.source if at_1e6 == handbook.at_1e6_MPa else f"{handbook.source}; {note}",
        fraction_source=(
            handbook.fraction_source if at_1e3 == handbook.at_1e3_MPa else f"{handbook.fraction_source}; {note}"
        ),
    )
