"""What each surface condition does to the endurance limit.

Finish rows: ka = a Sut^b, never above 1 (Shigley Table 6-2, 8th to 10th ed., MPa; the 11th ed. changed them).

Shot-peened over scale: the limit of the scaled bar times 398/241 = 1.65, the ratio of Zimmerli's torsion amplitudes
for peened and unpeened spring wire (Shigley ch. 10; wire below 10 mm, infinite life), never above the machined row.
The ratio is measured on clean wire, where peening has less to mend than on scale. It comes with a compressive
residual stress (`residual`), and is lost where that stress does not survive (`assess`).

Corroded or stone-chipped: 0.7 of the scaled bar's strength at a million cycles (an estimate, no source), and no knee:
the sloping line continues, because pits grow at any stress.

Decarburised to a stated depth: the limit is at most that of a flaw as deep (`small_defects`), and peening earns half
(an estimate, no source). Rows measured on scaled bars hold a decarburised skin already and lie below that.

Electroplated: chromium, nickel and cadmium take "as much as 50 percent" of the endurance limit, zinc nothing (Shigley
sec. 6-9; from memory, sure). Hydrogen is another matter, and is warned of, not counted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.surfaces import surface_condition
from barfem.strength.fatigue.factors import endurance_limit_of_specimen
from barfem.strength.fatigue.small_defects import flaw_limit

__all__ = ["PLATING_FACTOR", "FinishRow", "SurfaceEffect", "finish_factor", "surface_effect"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FinishRow:
    """a and b of ka = a Sut^b, Sut in MPa."""

    name: str
    a: float
    b: float


_GROUND = FinishRow("ground", 1.58, -0.085)
_MACHINED = FinishRow("machined or cold-drawn", 4.51, -0.265)
_HOT_ROLLED = FinishRow("hot-rolled", 57.7, -0.718)
_AS_FORGED = FinishRow("as-forged", 272.0, -0.995)
_POLISHED = FinishRow("polished", 1.0, 0.0)

_ROWS = {
    "corroded": _AS_FORGED,
    "as-hardened-scaled": _AS_FORGED,
    "hot-rolled": _HOT_ROLLED,
    "shot-peened": _AS_FORGED,
    "as-drawn": _MACHINED,
    "machined": _MACHINED,
    "ground": _GROUND,
    "polished": _POLISHED,
}

PEENING_RATIO = 398.0 / 241.0
CORROSION_RATIO = 0.7
PLATING_FACTOR = {"zinc": 1.0, "chromium": 0.5, "nickel": 0.5, "cadmium": 0.5}

_TABLE = "Shigley Table 6-2 (10th ed.), row {}"
_SOURCES = {
    "shot-peened": _TABLE.format("as-forged") + ", times 398/241 (Zimmerli, Shigley ch. 10), at most the machined row",
    "corroded": _TABLE.format("as-forged") + ", times 0.7 (an estimate, no source), no knee",
    "polished": "a polished specimen is what the endurance limit is measured on",
}


@dataclass(frozen=True)
class SurfaceEffect:
    """One surface at the tensile strengths given: the factor with and without peening, and whether a knee is left."""

    factor: Array
    peening_gain: Array
    has_knee: bool
    source: str


def finish_factor(row: FinishRow, *, tensile_MPa: ArrayLike) -> Array:
    """Surface factor ka [-] of one finish row, never above 1."""
    return np.minimum(1.0, row.a * np.asarray(tensile_MPa, float) ** row.b)


def surface_effect(
    surface: str, *, tensile_MPa: ArrayLike, decarburised_mm: float | None = None, plating: str | None = None
) -> SurfaceEffect:
    """The surface factor on the endurance limit (peening and plating included), and how much of it is peening's.

    Raises
    ------
    InputError
        Unknown surface condition.
    """
    condition = surface_condition(surface)
    row = _ROWS[condition.name]
    factor = finish_factor(row, tensile_MPa=tensile_MPa)
    gain = np.ones_like(factor)
    if condition.peened:
        gain = np.minimum(PEENING_RATIO, finish_factor(_MACHINED, tensile_MPa=tensile_MPa) / factor)
    elif condition.name == "corroded":
        factor = factor * CORROSION_RATIO
    source = _SOURCES.get(condition.name, _TABLE.format(row.name))
    if decarburised_mm:
        flawed = flaw_limit(tensile_MPa=tensile_MPa, depth_mm=decarburised_mm)
        factor = np.minimum(factor, flawed / endurance_limit_of_specimen(tensile_MPa))
        gain = 1.0 + 0.5 * (gain - 1.0)
        source += f"; at most that of a skin decarburised {decarburised_mm:g} mm deep (Murakami's small defects)"
        if condition.peened:
            source += ", peening counted half (an estimate, no source)"
    if plating is not None:
        factor = factor * PLATING_FACTOR[plating]
        source += f"; times {PLATING_FACTOR[plating]:g} for {plating} plating (Shigley sec. 6-9, from memory)"
    return SurfaceEffect(
        factor=factor * gain,
        peening_gain=gain,
        has_knee=condition.name != "corroded",
        source=source,
    )
