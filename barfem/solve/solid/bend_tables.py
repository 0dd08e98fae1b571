"""The bend table of each bend of a bar: from the shipped grid inside it, else computed and kept.

Both the beam's stiffness in a tube's bends and the stress maps read them here, so that they are one section's.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from barfem.model.bar import Bar
from barfem.model.bent_wall import BentWall, bent_wall, nearly_solid, wall_by_rule
from barfem.model.centreline import Segment
from barfem.model.frozen import frozen
from barfem.solve.solid.cache import cached
from barfem.solve.solid.grid import inside_grid, interpolated, load, of_grid_nu
from barfem.solve.solid.table import FACTORS, ORDER, BendTable, half_stations

__all__ = ["STRAIGHTEST", "BendShape", "BendSource", "bend_shape", "bend_source", "grid_error"]

STRAIGHTEST = 40.0
"""R / d above which a bend is taken as straight but for its curvature: it ovalises by less than a few per cent."""

LONGEST = 130.0  # developed length of a bend, in diameters, that is still computed

# Part of the cache's key: raise it when the solid or the tables change.
VERSION = 5


@frozen
class BendShape:
    """What a bend's table depends on, without dimension.

    `wall_rule` is "thinned" for solid bars too; "measured" takes the walls over the diameter from `measured_outside`
    and `measured_inside`, which the other rules leave at zero.
    """

    radius_over_diameter: float
    angle_deg: float
    wall_over_diameter: float | None
    wall_rule: Literal["thinned", "uniform", "measured"] = "thinned"
    ovality: float = 0.0
    nu: float = 0.3
    measured_outside: float = 0.0
    measured_inside: float = 0.0

    @property
    def bent(self) -> BentWall | Literal["thinned", "uniform"]:
        """The bend's walls as `bend_field` takes them."""
        if self.wall_rule == "measured":
            return BentWall(self.measured_outside, self.measured_inside)
        return self.wall_rule

    @property
    def in_grid(self) -> bool:
        return (
            self.wall_rule == "thinned"
            and self.ovality == 0.0
            and inside_grid(
                radius_over_diameter=self.radius_over_diameter,
                angle_deg=self.angle_deg,
                wall_over_diameter=self.wall_over_diameter,
                nu=self.nu,
            )
        )


@frozen(eq=False)
class BendSource:
    """A bend's table, or None with the reason `why` there is none.

    `source` is "grid", "computed" (now, or once before and kept), or "closed forms"; `problem` is what the cache
    refused.
    """

    source: Literal["grid", "computed", "closed forms"]
    table: BendTable | None
    why: str | None = None
    problem: str | None = None


def bend_shape(bar: Bar, bend: Segment) -> BendShape:
    """The shape of a bend of `bar`. Walls measured as a rule has them are the rule's."""
    section, d = bar.section, bar.section.diameter_mm
    shape = BendShape(
        radius_over_diameter=float(bend.radius_mm or np.inf) / d,
        angle_deg=float(np.degrees(bend.bend_angle_rad)),
        wall_over_diameter=None if section.wall_mm is None else section.wall_mm / d,
        wall_rule="thinned" if section.wall_mm is None else section.bend_wall,
        ovality=section.ovality_percent / 100.0,
        nu=bar.steel.nu,
    )
    if section.wall_mm is None or bend.radius_mm is None:
        return shape
    if section.bend_wall == "thinned" and nearly_solid(section, bend):
        return replace(shape, wall_rule="uniform")
    if section.bend_wall != "measured":
        return shape
    walls = bent_wall(section, bend)
    if _alike(walls, BentWall(section.wall_mm, section.wall_mm)):
        return replace(shape, wall_rule="uniform")
    if bend.radius_mm > 0.5 * d and _alike(
        walls, wall_by_rule(wall=section.wall_mm, diameter=d, radius=bend.radius_mm)
    ):
        return replace(shape, wall_rule="thinned")
    return replace(shape, measured_outside=walls.outside / d, measured_inside=walls.inside / d)


def _alike(one: BentWall, other: BentWall) -> bool:
    """Walls that differ by less than anybody writes down."""
    return bool(np.allclose((one.outside, one.inside), (other.outside, other.inside), rtol=1e-6, atol=0.0))


def grid_error(shape: BendShape) -> float:
    """Stated error of the shipped grid for a bend like this, as a share of its greatest von Mises stress."""
    return load(tube=shape.wall_over_diameter is not None, slopes=not of_grid_nu(shape.nu)).error


def bend_source(shape: BendShape) -> BendSource:
    """The table of a bend, from the grid where it lies inside it, else computed (about half a second) and kept."""
    if shape.in_grid:
        table = interpolated(
            radius_over_diameter=shape.radius_over_diameter,
            angle_deg=shape.angle_deg,
            wall_over_diameter=shape.wall_over_diameter,
            nu=shape.nu,
        )
        return BendSource("grid", table)
    if shape.radius_over_diameter > STRAIGHTEST or shape.radius_over_diameter * np.radians(shape.angle_deg) > LONGEST:
        return BendSource("closed forms", None, f"its R/d of {shape.radius_over_diameter:.3g} makes it nearly straight")
    # Drawings agree to far less than this; rounding lets a bend be found again.
    sizes = {name: round(x, 9) for name, x in asdict(shape).items() if isinstance(x, float)}
    return _computed(replace(shape, **sizes))  # type: ignore[arg-type]


@lru_cache(maxsize=64)
def _computed(shape: BendShape) -> BendSource:
    length = shape.radius_over_diameter * np.radians(shape.angle_deg)
    size = (len(half_stations(length)), ORDER + 1, 3, 6)
    shapes: dict[str, tuple[int, ...]] = {"outside": size, "factors": (len(FACTORS),)}
    if shape.wall_over_diameter is not None:
        shapes["bore"] = size

    def make() -> dict[str, np.ndarray]:
        from barfem.solve.solid.fields import bend_field, field_density
        from barfem.solve.solid.table import tabulate

        table = tabulate(
            bend_field(
                radius_over_diameter=shape.radius_over_diameter,
                angle_deg=shape.angle_deg,
                wall_over_diameter=shape.wall_over_diameter,
                bent=shape.bent,
                ovality=shape.ovality,
                nu=shape.nu,
                density=field_density(length),
            )
        )
        made = {"outside": table.outside, "factors": table.factors}
        return made if table.bore is None else {**made, "bore": table.bore}

    try:
        found = cached(f"barfem bend table {VERSION}: {shape!r}", shapes, make, what="a bend")
    except (ValueError, np.linalg.LinAlgError) as error:
        return BendSource("closed forms", None, f"its field cannot be computed: {error}")
    table = BendTable(
        radius_over_diameter=shape.radius_over_diameter,
        angle_deg=shape.angle_deg,
        wall_over_diameter=shape.wall_over_diameter,
        outside=found.arrays["outside"],
        bore=found.arrays.get("bore"),
        factors=found.arrays["factors"],
    )
    return BendSource("computed", table, problem=found.problem)
