"""The wall of a tube in its bends: by the named rule, even, or as measured outside and inside.

By the rule each fibre is as long after bending as its own arc and keeps its volume: t R / (R + r cos(theta)), theta
from the bend's outside, r the radius to the middle of the wall; the neutral fibre does not shift and the outside
diameter is kept. 1 / t then runs linearly with cos(theta) between outside and inside. Measured walls are taken to do
the same: fibres whose lengths differ linearly across the section, wherever the neutral one lies. Walls measured as the
rule has them give the rule's wall all round.

Source: incompressibility of the fibre, from which bending handbooks derive outside thinning (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.bar import Section
from barfem.model.centreline import Segment
from barfem.model.frozen import frozen

__all__ = ["THICKEST", "BentWall", "bent_wall", "nearly_solid", "wall_by_rule"]

Array = NDArray[np.float64]

THICKEST = 0.95
"""Wall at the inside of a bend over the outside radius, above which the rule moves the bore too far to be believed."""


@frozen
class BentWall:
    """Wall of a bend at its outside and its inside, measured along the tube's radius; any one unit of length."""

    outside: float
    inside: float

    @property
    def mean(self) -> float:
        """Harmonic mean of the two: the wall at the sides, where the rule has the wall as delivered."""
        return 2.0 * self.outside * self.inside / (self.outside + self.inside)

    @property
    def slant(self) -> float:
        """(1 / outside - 1 / inside) / 2, with the sign of a wall that is thinner outside."""
        return 0.5 * (1.0 / self.outside - 1.0 / self.inside)

    def at(self, from_outside_rad: ArrayLike) -> Array:
        """Wall at angles from the bend's outside."""
        return np.asarray(1.0 / (1.0 / self.mean + self.slant * np.cos(from_outside_rad)))


def wall_by_rule(*, wall: float, diameter: float, radius: float) -> BentWall:
    """Walls by the named rule; 24 x 4 mm at R 60: 3.43 mm outside, 4.80 mm inside.

    Raises
    ------
    ValueError
        A bend so tight that its inside fibre has no length.
    """
    middle = 0.5 * (diameter - wall)
    if radius <= middle:
        raise ValueError("the bend's radius must exceed that of the wall's middle")
    return BentWall(wall * radius / (radius + middle), wall * radius / (radius - middle))


def bent_wall(section: Section, bend: Segment) -> BentWall:
    """Walls of one bend of a tube: as the bar's file has them measured, even, or by the rule.

    The bore's place is told by the wall along the radii of the tube's own middle: as the wall inside nears the outside
    radius the bore leaves that middle, and walls told so cross one another. A tube that is so nearly solid keeps its
    bore in the middle of its bends, with an even wall.
    """
    wall, radius = section.wall_mm, bend.radius_mm
    if wall is None or radius is None:
        raise ValueError("only a tube's bend has a bent wall")
    if section.bend_wall == "measured":
        return BentWall(*section.bend_walls_mm[min(bend.bend or 1, len(section.bend_walls_mm)) - 1])
    if section.bend_wall == "uniform" or nearly_solid(section, bend):
        return BentWall(wall, wall)
    return wall_by_rule(wall=wall, diameter=section.diameter_mm, radius=radius)


def nearly_solid(section: Section, bend: Segment) -> bool:
    """Whether the rule would thicken the inside of a tube's bend beyond `THICKEST` of the outside radius."""
    half, wall = 0.5 * section.diameter_mm, section.wall_mm or 0.0
    middle, radius = half - 0.5 * wall, bend.radius_mm or np.inf
    return bool(radius <= middle or wall / (1.0 - middle / radius) > THICKEST * half)
