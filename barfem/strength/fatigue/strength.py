"""The fatigue strength of a bar at its places: a specimen's line, and what skin and size leave of it.

Why not the strain-life constants of the material tables: they are fitted to small polished specimens under axial
strain, and have no place for scale, size or a hole's wall. The handbook line is therefore the default, and a steel's
own constants cap it: no bar is better than its steel's polished specimens were (clean Cr-Mo steels lie below half their
tensile strength).

At a million cycles the lower of two limits holds: sound steel's (specimen x size) and that of the flaw that the skin is
(`flaws`; no size factor, the flaw is stated). At 1 000 cycles the skin does nothing (plastic strain decides); between
them the line is straight. So rough skins are steep (exponent 5 to 7) and polished ones flat (10 to 15), as tests are.

Where a table has stress-life tests of its own (`Steel.stress_life`), their line takes the place of the specimen's with
all that was in the tests: a bar of the same skin and diameter has it as it stands, slope and peening included. Another
skin or size takes the ratio of the limits, never upwards; a softer steel is scaled down (never up) by its tensile
strength.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.model.hardness import vickers_from_tensile
from barfem.model.material import Scatter, Steel
from barfem.model.skin import Skin
from barfem.strength.fatigue.factors import Factor, endurance_limit_of_specimen, strength_share
from barfem.strength.fatigue.flaws import mean_stress_exponent
from barfem.strength.fatigue.limits import Section, limits, residual_share, specimen_of
from barfem.strength.fatigue.residual import cyclic_yield, peening_residual
from barfem.strength.fatigue.sites import Sites, reversed_limit
from barfem.strength.fatigue.sn_line import DECLINE_EXPONENT, StressLifeLine
from barfem.strength.fatigue.spread import compact, spread
from barfem.strength.fatigue.strength_factors import Behind, alike

__all__ = ["FatigueStrength", "fatigue_strength", "joined"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


@frozen
class FatigueStrength:
    """Stress-life lines (median), one a place; all arrays are of one shape.

    Attributes
    ----------
    tensile_MPa
        Local tensile strength.
    at_1_cycle_MPa
        Where the line starts.
    at_1e3_cycles_MPa, at_1e6_cycles_MPa
        Reversed amplitude that lasts 1 000 and 1 000 000 cycles, without residual stress.
    has_knee
        False where the sloping line goes on beyond a million cycles.
    sites
        Where a crack may start.
    torsion_share
        Share of torsion in the squared von Mises amplitude.
    scatter
        Of the steel's condition; None stands for the default.
    decline
        Exponent of the line beyond a million cycles; infinite: level, as a book's line.
    behind
        What `factors` are made from, which most places are never asked for; None where nothing is said.
    """

    tensile_MPa: Array
    at_1_cycle_MPa: Array
    at_1e3_cycles_MPa: Array
    at_1e6_cycles_MPa: Array
    has_knee: Bools
    torsion_share: Array
    sites: Sites
    scatter: Scatter | None = None
    decline: float = DECLINE_EXPONENT
    behind: Behind | None = None

    @cached_property
    def factors(self) -> tuple[Factor, ...]:
        """Each number behind the line, with its source, in the order in which they are applied."""
        return () if self.behind is None else self.behind.factors()

    def at(self, places: Any) -> FatigueStrength:
        """The lines of some of the places."""
        arrays = {field.name: getattr(self, field.name) for field in fields(self)}
        cut: dict[str, Any] = {
            name: np.asarray(values[places]) for name, values in arrays.items() if isinstance(values, np.ndarray)
        }
        behind = None if self.behind is None else self.behind.at(places)
        return replace(self, **cut, sites=self.sites.at(places), behind=behind)

    @property
    def exponent(self) -> Array:
        """k of the sloping line between 1 000 and 1 000 000 cycles, N ~ amplitude^-k."""
        return 3.0 / np.log10(self.at_1e3_cycles_MPa / self.at_1e6_cycles_MPa)

    def survival_factor(self, survival: float) -> float:
        """Share of this median strength that `survival` of all bars have (`survival_factor`, with the steel's scatter).

        Raises
        ------
        InputError
            `survival` is not between 0 and 1.
        """
        return strength_share(survival, self.scatter)

    @property
    def endurance_limit_MPa(self) -> Array:
        """Reversed amplitude that lasts for ever; zero where there is no knee: no stress does."""
        return np.where(self.has_knee, self.at_1e6_cycles_MPa, 0.0)

    def strength_at(self, cycles: ArrayLike) -> Array:
        """Reversed amplitude [MPa] that lasts `cycles`, without residual stress."""
        return self.line.strength(cycles)

    def life(self, reversed_amplitude_MPa: ArrayLike) -> tuple[Array, Bools]:
        """Cycles that a reversed amplitude [MPa] lasts, and where that is beyond what is claimed (a lower bound)."""
        return self.line.life(reversed_amplitude_MPa)

    @cached_property
    def line(self) -> StressLifeLine:
        """The same in logarithms; axes along which nothing changes are cut to one."""
        return StressLifeLine.of(
            at_1_MPa=compact(self.at_1_cycle_MPa),
            at_1e3_MPa=compact(self.at_1e3_cycles_MPa),
            at_1e6_MPa=compact(self.at_1e6_cycles_MPa),
            has_knee=compact(self.has_knee),
            decline=self.decline,
        )


def fatigue_strength(
    steel: Steel,
    *,
    diameter_mm: ArrayLike | None,
    torsion_share: ArrayLike,
    skin: Skin,
    strength_scale: ArrayLike = 1.0,
    equivalent_diameter_mm: ArrayLike | None = None,
    outside: ArrayLike = True,
    load_factor: float = 1.0,
) -> FatigueStrength:
    """The line at places of one skin. Arguments broadcast.

    Parameters
    ----------
    diameter_mm
        Outside diameter of a round or a tube; None leaves size out (factor 1, no fall of the stress with depth).
    torsion_share
        Share of torsion in the squared von Mises amplitude, 0 to 1.
    strength_scale
        Local over nominal strength ([ends] strength_scale); it scales the line at every life, and the factors stay
        those of the nominal steel.
    equivalent_diameter_mm
        Of another section, used as it stands in place of `diameter_mm`: for a rectangle
        0.808 (width x thickness)^0.5, which has the bending that does not rotate in it (Shigley Eq. 6-25).
    outside
        False in a bore, where stress does not fall with depth.
    load_factor
        0.85 for an axial specimen, for comparison with tests alone: of sound steel by the handbook.

    Raises
    ------
    InputError
        The skin has a plating or finish that is not known.
    """
    section = Section(
        None if diameter_mm is None else np.asarray(diameter_mm, float),
        None if equivalent_diameter_mm is None else np.asarray(equivalent_diameter_mm, float),
        np.asarray(torsion_share, float),
        np.asarray(outside, bool),
    )
    scale = np.asarray(strength_scale, float)
    shape = np.broadcast_shapes(section.array_shape, scale.shape)
    tensile, found = steel.tensile_strength_MPa, steel.stress_life
    specimen, kb, counts, tested = specimen_of(steel, load_factor=load_factor), section.factor, True, None
    if found is None:
        sound, flaw = limits(specimen.at_1e6_MPa, tensile_MPa=tensile, skin=skin, section=section)
    else:
        kb = np.minimum(kb / section.of_diameter(found.diameter_mm).factor, 1.0)
        tested = alike(found.skin, skin)
        sound, flaw = _against_tests(steel, specimen.at_1e6_MPa, skin, section, kb)
        counts = not (tested and skin.peened)  # else the tests hold peening's compression already
    scale = compact(scale)
    at_1e6 = np.minimum(sound, flaw) * scale
    at_1e3, least = specimen.at_1e3_MPa * scale, 1.01 * at_1e6
    at_1e3 = np.maximum(at_1e3, least) if np.any(least > at_1e3) else at_1e3
    # A tested line keeps its slope above its start too; the handbook's begins at the tensile strength.
    at_1 = tensile * scale if found is None else at_1e3 * at_1e3 / at_1e6
    sites = _sites(steel, skin, section, at_1e3=at_1e3, sound=sound * scale, flaw=flaw * scale, shape=shape)
    return FatigueStrength(
        tensile_MPa=spread(tensile * scale, shape),
        at_1_cycle_MPa=spread(at_1, shape),
        at_1e3_cycles_MPa=sites.at_1e3_MPa,
        at_1e6_cycles_MPa=sites.at_1e6_MPa,
        has_knee=spread(not skin.surface.pits_grow and specimen.has_knee, shape),
        torsion_share=sites.torsion_share,
        sites=replace(sites, residual_counts=spread(counts, shape)),
        scatter=steel.scatter,
        behind=Behind(steel, specimen, section, skin, tested, shape, kb=kb, scale=scale, at_1e3=at_1e3, at_1e6=at_1e6),
    )


def joined(strengths: Sequence[FatigueStrength]) -> FatigueStrength:
    """Lines (p,) of many places in one: one after the other, all of one scatter. Their factors stay behind."""
    first = strengths[0]
    if len(strengths) == 1:
        return first

    def together(of: Sequence[Any]) -> dict[str, Any]:
        names = [field.name for field in fields(of[0]) if isinstance(getattr(of[0], field.name), np.ndarray)]
        return {name: np.concatenate([getattr(each, name) for each in of]) for name in names}

    sites = Sites(**together([each.sites for each in strengths]))
    return replace(first, **together(strengths), sites=sites, behind=None)


def _sites(
    steel: Steel,
    skin: Skin,
    section: Section,
    *,
    at_1e3: ArrayLike,
    sound: Array,
    flaw: Array,
    shape: tuple[int, ...],
) -> Sites:
    def everywhere(value: ArrayLike) -> Array:
        return spread(np.asarray(value, float), shape)

    return Sites(
        at_1e3_MPa=everywhere(at_1e3),
        at_1e6_MPa=everywhere(np.minimum(sound, flaw)),
        flaw_MPa=everywhere(flaw),
        sound_MPa=everywhere(sound),
        alpha=everywhere(_flaw_exponent(steel.tensile_strength_MPa)),
        torsion_share=everywhere(section.torsion_share),
        flaw_residual_share=everywhere(residual_share(skin)),
        below_share=everywhere(1.0 if skin.peening is None else section.share_at(skin.peening.depth_mm)),
        below_tension_MPa=everywhere(0.0),
        residual_counts=spread(True, shape),
    )


@lru_cache(maxsize=256)
def _flaw_exponent(tensile_MPa: float) -> float:
    return float(mean_stress_exponent(vickers_from_tensile(tensile_MPa)))


def _against_tests(steel: Steel, at_1e6: float, skin: Skin, section: Section, kb: Array) -> tuple[Array, Array]:
    """(sound, flaw) from a tested line that holds `at_1e6` MPa.

    A bar of the skin that was tested has the line as it stands. Another takes the ratio of its handbook limits to those
    of what was tested, peening included, and is not taken to have a finer finish.
    """
    found, tensile = steel.stress_life, steel.tensile_strength_MPa
    if found is None:
        raise AssertionError("no tests")
    if alike(found.skin, skin):
        plating = limits(1.0, tensile_MPa=tensile, skin=skin, section=section)[0] / section.factor
        sound = at_1e6 * kb * plating
        return sound, np.full(sound.shape, np.inf)
    book = float(endurance_limit_of_specimen(tensile))
    tested = section.of_diameter(found.diameter_mm)
    of_tests = limits(book, tensile_MPa=tensile, skin=found.skin, section=tested)
    shape = np.broadcast_shapes(of_tests[0].shape, of_tests[1].shape)
    there = _sites(steel, found.skin, tested, at_1e3=10.0 * book, sound=of_tests[0], flaw=of_tests[1], shape=shape)
    ratio = at_1e6 / reversed_limit(
        there,
        residual_MPa=peening_residual(tensile_MPa=tensile, skin=found.skin),
        tensile_MPa=tensile,
        yield_MPa=steel.yield_strength_MPa,
        cyclic_yield_MPa=cyclic_yield(steel),
    )
    sound, flaw = limits(book, tensile_MPa=tensile, skin=skin, section=section)
    finer = limits(book, tensile_MPa=tensile, skin=found.skin, section=section)[1]
    sound, flaw = sound * ratio, np.minimum(flaw, finer) * ratio
    if not skin.peened:
        sound = np.minimum(sound, at_1e6 * kb)
    return sound, flaw
