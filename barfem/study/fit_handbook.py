"""The handbook's line for the skin, steel and diameter that were tested, to set beside the fitted one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from math import log
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.model.material import Steel
from barfem.model.plain import NOT_IN_JSON
from barfem.model.skin import Skin
from barfem.strength.fatigue.assess import amplitude_lasting
from barfem.strength.fatigue.residual import cyclic_yield, surface_residual
from barfem.strength.fatigue.strength import fatigue_strength

__all__ = ["HandbookLine", "handbook_line"]

# The slope is stated between these lives: below, plastic strain decides; beyond, the line declines.
_SLOPE_BETWEEN = (1e4, 1e6)


@frozen
class HandbookLine:
    """The check's own estimate without any test, peening's residual stress included: with what it is of."""

    steel: Steel = field(metadata=NOT_IN_JSON)
    skin: Skin = field(metadata=NOT_IN_JSON)
    diameter_mm: float | None = field(metadata=NOT_IN_JSON)
    torsion_share: float = field(metadata=NOT_IN_JSON)
    at_cycles: float

    _json_also: ClassVar[Mapping[str, str]] = {name: name for name in ("strength_MPa", "exponent", "of")}

    def strength_at(self, cycles: ArrayLike, *, share: float = 1.0) -> NDArray[np.float64]:
        """Reversed amplitudes [MPa] that last so long; of bars with a share of the median strength."""
        strength = fatigue_strength(
            self.steel, diameter_mm=self.diameter_mm, torsion_share=self.torsion_share, skin=self.skin
        )
        return amplitude_lasting(
            strength,
            cycles,
            residual_MPa=surface_residual(self.steel, skin=self.skin),
            yield_MPa=self.steel.yield_strength_MPa,
            tensile_MPa=self.steel.tensile_strength_MPa,
            cyclic_yield_MPa=cyclic_yield(self.steel),
            share=share,
        )

    @property
    def strength_MPa(self) -> float:
        return float(self.strength_at(self.at_cycles))

    @property
    def exponent(self) -> float:
        """k of the slope between the lives of `_SLOPE_BETWEEN`."""
        short, long = (float(self.strength_at(cycles)) for cycles in _SLOPE_BETWEEN)
        return log(_SLOPE_BETWEEN[1] / _SLOPE_BETWEEN[0]) / log(short / long)

    @property
    def of(self) -> str:
        size = "no size factor" if self.diameter_mm is None else f"diameter {self.diameter_mm:g} mm"
        share = 100.0 * self.torsion_share
        load = "in bending" if share < 0.5 else f"torsion's share of the stress squared {share:.0f} %"
        return f"{self.steel.grade} {self.steel.condition}, {self.skin.title}, {size}, {load}"


def handbook_line(
    steel: Steel, *, skin: Skin, diameter_mm: float | None, torsion_share: float, at_cycles: float
) -> HandbookLine:
    """The line of the check's own estimate, the table's tests left out."""
    return HandbookLine(replace(steel, stress_life=None), skin, diameter_mm, torsion_share, at_cycles)
