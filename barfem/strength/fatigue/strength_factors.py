"""The numbers behind a line, each with its source, as `explain` and the tables print them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.model.hardness import vickers_from_tensile
from barfem.model.material import Steel
from barfem.model.skin import Skin
from barfem.strength.fatigue.factors import Factor
from barfem.strength.fatigue.limits import Section, Specimen, skin_words
from barfem.strength.fatigue.spread import spread

__all__ = ["Behind", "alike"]

Array = NDArray[np.float64]


def alike(one: Skin, other: Skin) -> bool:
    """Whether tests of bars of one skin stand for bars of another as they are."""
    return (one.finish, one.flaw_mm, one.peened) == (other.finish, other.flaw_mm, other.peened)


@frozen(kw_only=True)
class _Arrays:
    kb: Array
    scale: Array
    at_1e3: Array
    at_1e6: Array


@frozen
class Behind(_Arrays):
    """What lines at places of a `shape` were made from; arrays broadcast to it.

    `tested`: whether this very skin was, None where there are no tests.
    """

    steel: Steel
    specimen: Specimen
    section: Section
    skin: Skin
    tested: bool | None
    shape: tuple[int, ...]

    def at(self, places: Any) -> Behind:
        """Of some of the places."""
        cut: dict[str, Any] = {
            name: np.asarray(spread(getattr(self, name), self.shape)[places]) for name in _Arrays.__annotations__
        }
        section = replace(self.section, torsion_share=spread(self.section.torsion_share, self.shape)).at(places)
        return replace(self, **cut, section=section, shape=cut["kb"].shape)

    def factors(self) -> tuple[Factor, ...]:
        """In the order in which they are applied."""

        def everywhere(value: ArrayLike) -> Array:
            return np.broadcast_to(np.asarray(value, float), self.shape)

        steel, specimen, tensile = self.steel, self.specimen, self.steel.tensile_strength_MPa
        ka_source = "the skin that was tested: 1"
        if not self.tested:
            ka_source = skin_words(self.skin, hardness_HV=float(vickers_from_tensile(tensile)))
        if self.tested is False and steel.stress_life is not None:
            ka_source += f"; over the skin tested ({steel.stress_life.skin.title})"
        ka = self.at_1e6 / (specimen.at_1e6_MPa * self.kb * self.scale)
        return (
            Factor("tensile strength", everywhere(tensile), steel.sources.get("tensile_strength", ""), "MPa"),
            Factor(specimen.name, everywhere(specimen.at_1e6_MPa), specimen.source, "MPa"),
            Factor("surface factor ka", everywhere(ka), ka_source),
            *self.section.factors(everywhere(self.kb)),
            Factor("load factor kc", everywhere(1.0), "1 with von Mises stress: Shigley Eq. 6-26 and 6-55"),
            Factor("strength scale", everywhere(self.scale), "the bar file, [ends] strength_scale"),
            Factor("strength at 1e6 cycles", everywhere(self.at_1e6), "specimen's limit x ka x kb x kc x scale", "MPa"),
            Factor(
                "fraction f of the tensile strength at 1 000 cycles",
                everywhere(specimen.at_1e3_MPa / tensile),
                specimen.fraction_source,
            ),
            Factor("strength at 1 000 cycles", everywhere(self.at_1e3), "f x tensile strength", "MPa"),
        )
