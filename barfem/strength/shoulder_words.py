"""What the stress at a forged transition's shoulders takes for granted, and what has to be said of it."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.solve.solid.transition_grid import GRID_NU, load
from barfem.strength.shoulder import TUBE_ABOVE, TUBE_BELOW, shoulder_sources

__all__ = ["shoulder_problems", "shoulder_words"]

OF_NU = 0.8
"""Share by which stress at a shoulder follows nu at most: torsion and bending of four ends, nu 0.27 to 0.33."""


def shoulder_problems(bar: Bar) -> tuple[str, ...]:
    """What the cache refused of transitions that were solved."""
    return tuple(dict.fromkeys(found.problem for found in shoulder_sources(bar) if found.problem))


def shoulder_words(bar: Bar) -> str:
    """A sentence to go after that on transitions, with a space before it; empty where none is forged."""
    found = {source.source for source in shoulder_sources(bar)}
    if not found:
        return ""
    of = "solved for it" if found == {"computed"} else f"shipped, interpolated within {100.0 * load().error:.2g} %"
    if "grid" in found and (off := abs(bar.steel.nu - GRID_NU)) > 1e-9:
        of += f", for a Poisson's ratio of {GRID_NU:g}: at most {100.0 * OF_NU * off:.1g} % off in torsion and bending"
    tube = (
        " On a tube its bore is taken as reaching to the flat; a solid with such a bore may have up to "
        f"{100.0 * TUBE_BELOW:.0f} % more, one whose bore ends soon up to {100.0 * TUBE_ABOVE:.0f} % less."
        if bar.section.bore_mm
        else ""
    )
    return (
        f" At the shoulders of a forged one fatigue sees the stress of a three-dimensional model of it ({of}; notch "
        f"sensitivity taken as 1).{tube}"
    )
