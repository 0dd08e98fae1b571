"""[section] bend_walls: measured walls of a tube's bends, and whether a tube's bends can have the walls they get."""

from __future__ import annotations

from barfem.model.bar import Section
from barfem.model.bent_wall import THICKEST, BentWall, bent_wall, nearly_solid, wall_by_rule
from barfem.model.centreline import Centreline
from barfem.model.errors import InputError
from barfem.model.notes import Notes
from barfem.model.schema import SectionTable
from barfem.model.warned import Effect

__all__ = ["check_bent_walls", "measured_walls", "refuse_a_filled_bore"]

# Of the wall as delivered; beyond them a slip of the key or the unit is likelier than the wall.
LEAST_SHARE, GREATEST_SHARE = 0.5, 2.5
# Measured walls farther than this from the rule's are told.
FAR_FROM_RULE = 0.15


def measured_walls(table: SectionTable) -> tuple[tuple[float, float], ...]:
    """(outside, inside) [mm] of each entry of bend_walls; empty where the file gives none.

    Raises
    ------
    InputError
        Given beside bend_wall, an empty list, or a wall that is none of this tube's.
    """
    if table.bend_walls is None or table.wall is None:
        return ()
    if table.bend_wall is not None:
        raise InputError(
            f'bend_walls are given beside bend_wall = "{table.bend_wall}", which is a rule for the same walls.',
            where="[section] bend_walls",
            expected="bend_walls alone for measured walls, or bend_wall alone for a rule.",
        )
    if not table.bend_walls:
        raise InputError(
            "the list is empty.",
            where="[section] bend_walls",
            expected="{ outside = 3.2, inside = 4.6 } for all bends, or a list of them, one for each.",
        )
    for number, walls in enumerate(table.bend_walls, start=1):
        for key in ("outside", "inside"):
            wall = getattr(walls, key)
            low, high = LEAST_SHARE * table.wall, min(GREATEST_SHARE * table.wall, 0.5 * THICKEST * table.diameter)
            if not low <= wall <= high:
                raise InputError(
                    f"{wall:g} mm is no wall of a bend of this tube, {table.diameter:g} x {table.wall:g} mm.",
                    where=f"[section] bend_walls {number}, {key}",
                    expected=f"{low:.4g} to {high:.4g} mm, measured square to the surface.",
                )
    return tuple((walls.outside, walls.inside) for walls in table.bend_walls)


def check_bent_walls(section: Section, centreline: Centreline, *, notes: Notes) -> None:
    """Refuse walls that this centreline's bends cannot have; add what has to be said to `notes`.

    Raises
    ------
    InputError
        As many walls as there are bends are needed, or one pair; or they leave no bore to speak of.
    """
    bends = centreline.bends
    if section.wall_mm is None or not bends:
        return
    given = len(section.bend_walls_mm)
    if given > 1 and given != len(bends):
        raise InputError(
            f"{given} pairs of walls for {len(bends)} bend{'' if len(bends) == 1 else 's'}.",
            where="[section] bend_walls",
            expected=f"one {{ outside, inside }} for all bends, or {len(bends)} of them from the right tip.",
        )
    refuse_a_filled_bore(section)
    if section.bend_wall == "thinned" and any(nearly_solid(section, bend) for bend in bends):
        notes.warn(
            f"The tube is nearly solid (bore {section.bore_mm:.3g} mm): the rule for thinned walls does not hold in "
            "its bends, which are judged with an even wall. So small a bore saves nothing; a solid bar is safer."
        )
    if section.bend_wall != "measured":
        return
    notes.assume(
        "[section] bend_walls: between outside and inside 1 / wall runs linearly with the distance across the bend, as "
        "in the rule for walls that nobody measured. Volume and mass stay those of the tube as delivered."
    )
    for bend in bends:
        walls = bent_wall(section, bend)
        if walls.outside > walls.inside:
            notes.warn(
                f"Bend {bend.bend}: the wall outside, {walls.outside:g} mm, is thicker than inside, {walls.inside:g} "
                "mm. Bending makes it the other way: are they exchanged?",
                Effect.DRAWING,
            )
            continue
        try:
            rule = wall_by_rule(wall=section.wall_mm, diameter=section.diameter_mm, radius=bend.radius_mm or 0.0)
        except ValueError:
            continue
        if _far(walls, rule):
            notes.warn(
                f"Bend {bend.bend}: measured walls of {walls.outside:g} mm outside and {walls.inside:g} mm inside are "
                f"more than {100.0 * FAR_FROM_RULE:g} % off the rule's {rule.outside:.3g} and {rule.inside:.3g} mm.",
                Effect.DRAWING,
            )


def _far(walls: BentWall, rule: BentWall) -> bool:
    pairs = ((walls.outside, rule.outside), (walls.inside, rule.inside))
    return any(abs(one / other - 1.0) > FAR_FROM_RULE for one, other in pairs)


def refuse_a_filled_bore(section: Section) -> None:
    """Refuse measured walls that leave no bore to speak of.

    Raises
    ------
    InputError
        A wall is thicker than `THICKEST` of the outside radius.
    """
    for walls in section.bend_walls_mm:
        if max(walls) > 0.5 * THICKEST * section.diameter_mm:
            raise InputError(
                f"a wall of {max(walls):.4g} mm in a bend fills a tube of {section.diameter_mm:.4g} mm.",
                where="[section] bend_walls",
                expected=f"at most {0.5 * THICKEST * section.diameter_mm:.4g} mm.",
            )
