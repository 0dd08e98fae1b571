"""The finishes that a bar file may name: how deep a flaw each leaves in the skin, and which is next better or worse.

A finish is a fact of the skin and knows no strength: `barfem.strength.fatigue.flaws` says what a flaw of that depth
does.
"""

from __future__ import annotations

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.nearest import did_you_mean

__all__ = [
    "DEFAULT_BORE_SURFACE",
    "DEFAULT_SURFACE",
    "PEENED_SCALE",
    "SURFACES",
    "SURFACE_NAMES",
    "Surface",
    "surface_condition",
]


@frozen
class Surface:
    """One surface condition.

    Attributes
    ----------
    name
        As a bar file writes it.
    title
        As a table prints it.
    description
        What the surface has been through.
    better, worse
        Names of its neighbours: never a shorter, never a longer life. None at either end.
    flaw_mm
        Depth of the grooves, seams or pits of the finish itself; 0: none that matters.
    flaw_source
        Where that depth comes from.
    decarburised_mm
        Depth of the decarburised skin that it is taken to hold, unless a bar file says otherwise.
    pits_grow
        Rust goes on: no stress is safe for ever.
    """

    name: str
    title: str
    description: str
    better: str | None
    worse: str | None
    flaw_mm: float = 0.0
    flaw_source: str = ""
    decarburised_mm: float = 0.0
    pits_grow: bool = False

    @property
    def depth_mm(self) -> float:
        """Depth of the flaw it is judged by: its own, or the decarburised skin that it is taken to hold."""
        return max(self.flaw_mm, self.decarburised_mm)


DEFAULT_SURFACE = "as-hardened-scaled"
DEFAULT_BORE_SURFACE = "as-drawn"

_ALL = (
    Surface(
        "corroded",
        "corroded or stone-chipped",
        "coating lost, pitted by rust or stones: no stress is safe for ever",
        better="as-hardened-scaled",
        worse=None,
        flaw_mm=0.20,
        flaw_source="pits 0.20 mm deep (an estimate, no source)",
        pits_grow=True,
    ),
    Surface(
        "as-hardened-scaled",
        "as hardened, scaled, unpeened",
        "hot-formed or furnace-hardened, scale and a thin decarburised skin left on",
        better="hot-rolled",
        worse="corroded",
        flaw_mm=0.05,
        flaw_source="roughness and pits under the scale 0.05 mm, decarburised 0.10 mm (an estimate; makers of "
        "torsion bars "
        "allow 0.10 mm)",
        decarburised_mm=0.10,
    ),
    Surface(
        "hot-rolled",
        "hot-rolled skin",
        "rolling skin left on, hardened with little scale",
        better="machined",
        worse="as-hardened-scaled",
        flaw_mm=0.05,
        flaw_source="rolling marks and a thin decarburised skin, 0.05 mm (an estimate, no source)",
    ),
    Surface(
        "as-drawn",
        "as drawn, unpeened",
        "cold-drawn surface, as a tube's bore is left",
        better="ground",
        worse="hot-rolled",
        flaw_mm=0.03,
        flaw_source="drawing marks and seams 0.03 mm deep (an estimate, no source)",
    ),
    Surface(
        "machined",
        "turned or peeled",
        "turned or peeled after hardening, or before it under a protective atmosphere",
        better="ground",
        worse="hot-rolled",
        flaw_mm=0.0125,
        flaw_source="grooves of Rz 12.5 micrometres (usual for turned and peeled bars; common practice, no source)",
    ),
    Surface(
        "ground",
        "ground",
        "ground after hardening, free of grinding burn",
        better="polished",
        worse="machined",
        flaw_mm=0.003,
        flaw_source="grooves of Rz 3 micrometres (usual for ground bars; common practice, no source)",
    ),
    Surface(
        "polished",
        "polished",
        "mirror-polished as a laboratory specimen; hardly ever a bar",
        better=None,
        worse="ground",
    ),
)

SURFACES: dict[str, Surface] = {surface.name: surface for surface in _ALL}

# Another name for a finish together with a treatment: peening is a treatment on top of any finish, not a finish.
PEENED_SCALE = "shot-peened"
SURFACE_NAMES = (*SURFACES, PEENED_SCALE)


def surface_condition(name: str, *, where: str = "[material] surface") -> Surface:
    """The finish called `name`; "shot-peened" is read as scaled, and peened on top (`barfem.model.skin`).

    Raises
    ------
    InputError
        No surface condition has this name; the message names the nearest and all of them.
    """
    found = SURFACES.get(DEFAULT_SURFACE if name == PEENED_SCALE else name)
    if found is None:
        raise InputError(
            f'no surface condition is called "{name}".{did_you_mean(name, SURFACE_NAMES)}',
            where=where,
            expected="one of " + ", ".join(SURFACE_NAMES) + ".",
        )
    return found
