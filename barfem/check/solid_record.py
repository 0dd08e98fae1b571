"""The record of a swept solid in a check."""

from __future__ import annotations

from barfem.model.frozen import frozen

__all__ = ["SolidRecord"]


@frozen(kw_only=True)
class SolidRecord:
    """Size and quality of the solid.

    `estimated_error` is of the peaks of its regions, as a share, from a coarser mesh: the worst over hole settings, of
    peaks of half the greatest or more, outside; `estimated_error_bore` the same in the bore (None without one),
    `estimated_error_rate` that of the rate at rest. `held_N` is the greatest force
    in the springs that hold rigid motions which the mounts leave free. `places_of_solid` of the sampled sections have
    the solid's stress, `places_of_beam` (flats, holes, near the joints) the beam's.
    """

    unknowns: int
    slices: int
    refinement: float
    estimated_error: float
    estimated_error_bore: float | None
    estimated_error_rate: float
    held_N: float
    places_of_solid: int
    places_of_beam: int
