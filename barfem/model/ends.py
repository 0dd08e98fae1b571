"""[ends]: holes and flats of both tips."""

from __future__ import annotations

import itertools
import math

import numpy as np

from barfem.model.bar import End, Flat, Hole, Section, Side, Vector
from barfem.model.centreline import Centreline
from barfem.model.errors import InputError
from barfem.model.notes import Notes
from barfem.model.schema import EndsTable, FlatTable, HoleTable
from barfem.model.sides import Given, merged, mirrored

__all__ = ["read_end"]

# Below these a slip of the unit is certain.
_LEAST_HOLE_MM = 1.0
_LEAST_SCALE = 0.1
_SHORTEST_TRANSITION_MM = 0.1
_LEAST_THICKNESS_MM = 1.0
_WIDEST = 10.0  # diameters; the solid of a hole in a far wider flat would be computed for minutes


def read_end(table: EndsTable, *, side: Side, centreline: Centreline, section: Section, notes: Notes) -> End:
    """One end, its vectors already those of its own side.

    Raises
    ------
    InputError
        Holes or flats that cannot be on this bar.
    """
    given = merged(table, table.right if side == "right" else table.left, name="ends", side=side)
    flat = _flat(table, side=side, centreline=centreline, section=section, notes=notes)
    if "holes" not in given or not given["holes"].value:
        raise InputError(
            f"the {side} end has no holes.",
            where=f"{given['holes'].table if 'holes' in given else '[ends]'} holes",
            expected='at least one, such as holes = [{ name = "1", from_tip = 20.0 }].',
        )
    holes = _holes(given["holes"], side=side, centreline=centreline, section=section, flat=flat)
    scale = given["strength_scale"].value if "strength_scale" in given else 1.0
    if not _LEAST_SCALE <= scale <= 1.5:
        raise InputError(
            f"{scale:g} would make the {side} end far {'stronger' if scale > 1.0 else 'softer'} than the middle.",
            where=f"{given['strength_scale'].table} strength_scale",
            expected="the end's strength over the middle's: 1 if alike, below 1 if softer.",
        )
    if scale != 1.0:
        over = (
            f"its flat, {flat.length_mm:g} mm from the tip" if flat else "its straight, from the tip to the first bend"
        )
        notes.assume(f"[ends] strength_scale {scale:g} of the {side} end holds over {over}.")
    return End(side=side, holes=holes, flat=flat, strength_scale=scale)


def _holes(
    given: Given, *, side: Side, centreline: Centreline, section: Section, flat: Flat | None
) -> tuple[Hole, ...]:
    length = centreline.length_mm
    holes: list[Hole] = []
    tables: list[HoleTable] = given.value
    for number, table in enumerate(tables, start=1):
        where = f"{given.table} holes {number}"
        if table.from_tip >= 0.5 * length:
            raise InputError(
                f"{table.from_tip:g} mm from the {side} tip lies beyond the middle of the bar.",
                where=f"{where}, from_tip",
                expected=f"less than half the developed length, {0.5 * length:.5g} mm.",
            )
        if table.name in (hole.name for hole in holes):
            raise InputError(
                f'two holes are called "{table.name}".', where=f"{where}, name", expected="each hole's own name."
            )
        if table.diameter is not None and table.diameter < _LEAST_HOLE_MM:
            raise InputError(
                f"diameter {table.diameter:g} mm is too small for a bolt.",
                where=f"{where}, diameter",
                expected=f"{_LEAST_HOLE_MM:g} mm or more, or no diameter (the hole is then not checked).",
            )
        across = flat.width_mm if flat and table.from_tip < flat.length_mm else section.diameter_mm
        if table.diameter is not None and table.diameter >= across:
            what = "flat" if flat and table.from_tip < flat.length_mm else "bar"
            raise InputError(
                f"diameter {table.diameter:g} mm leaves nothing of the {what}, which is {across:g} mm wide there.",
                where=f"{where}, diameter",
                expected=f"less than {across:g} mm.",
            )
        station = table.from_tip if side == "right" else length - table.from_tip
        offset: Vector = mirrored(table.offset or (0.0, 0.0, 0.0), given=given, side=side)
        holes.append(Hole(table.name, table.from_tip, station, table.diameter, offset))
    _refuse_run_together(holes, where=f"{given.table} holes", side=side)
    return tuple(holes)


def _refuse_run_together(holes: list[Hole], *, where: str, side: Side) -> None:
    drilled = sorted((h for h in holes if h.diameter_mm is not None), key=lambda hole: hole.from_tip_mm)
    for one, two in itertools.pairwise(drilled):
        apart = two.from_tip_mm - one.from_tip_mm
        if 0.0 < apart < 0.5 * ((one.diameter_mm or 0.0) + (two.diameter_mm or 0.0)):
            raise InputError(
                f'holes "{one.name}" and "{two.name}" of the {side} end, {apart:g} mm apart, run into each other.',
                where=where,
                expected=f"more than {0.5 * ((one.diameter_mm or 0.0) + (two.diameter_mm or 0.0)):g} mm apart.",
            )


def _flat(table: EndsTable, *, side: Side, centreline: Centreline, section: Section, notes: Notes) -> Flat | None:
    own_end = table.right if side == "right" else table.left
    own = own_end.flat if own_end is not None else None
    if table.flat is None and own is None:
        return None
    given = merged(table.flat or FlatTable(), own, name="ends", side=side)
    where = f"{'[ends]' if own is None else f'[ends.{side}]'} flat"
    for key, field in FlatTable.model_fields.items():
        if key not in given and key not in ("outline", "fillet"):
            raise InputError(
                f"the {side} flat has no {key}.", where=f"{where}, {key}", expected=f"{field.description}."
            )
    kind, thickness, width, length, transition = (
        given[key].value for key in ("kind", "thickness", "width", "length", "transition")
    )

    def refuse(key: str, problem: str, expected: str) -> InputError:
        return InputError(problem, where=f"{given[key].table} flat, {key}", expected=expected)

    if kind == "pressed" and section.wall_mm is None:
        raise refuse("kind", "a pressed flat is a flattened tube, and this bar is solid.", 'kind = "forged".')
    if thickness < _LEAST_THICKNESS_MM:
        raise refuse(
            "thickness",
            f"thickness {thickness:g} mm is too thin to hold a link.",
            f"{_LEAST_THICKNESS_MM:g} mm or more.",
        )
    if width > _WIDEST * section.diameter_mm:
        raise refuse(
            "width",
            f"width {width:g} mm is {width / section.diameter_mm:.3g} times the bar's diameter of "
            f"{section.diameter_mm:g} mm: no end is forged so wide.",
            f"at most {_WIDEST:g} diameters; ends have 1 to 3.",
        )
    if thickness > width:
        raise refuse(
            "thickness",
            f"thickness {thickness:g} mm is more than width {width:g} mm; thickness lies along the hole axis.",
            "thickness below width.",
        )
    if kind == "pressed" and section.wall_mm is not None and thickness < section.wall_mm:
        raise refuse(
            "thickness",
            f"thickness {thickness:g} mm is less than one wall of the tube, and a pressed end has two.",
            f"about {2 * section.wall_mm:g} mm, two walls of {section.wall_mm:g} mm.",
        )
    if 0.0 < transition < _SHORTEST_TRANSITION_MM:
        raise refuse(
            "transition",
            f"transition {transition:g} mm is shorter than any forge makes.",
            f"{_SHORTEST_TRANSITION_MM:g} mm or more; 0 for a step without one, of which a warning tells.",
        )
    if transition >= length:
        raise refuse(
            "transition",
            f"transition {transition:g} mm is as long as the flat's {length:g} mm, which includes it.",
            f"less than {length:g} mm.",
        )
    segment = centreline.segments[0] if side == "right" else centreline.segments[-1]
    straight = segment.length_mm if segment.radius_mm is None else 0.0
    if not centreline.bends:
        straight *= 0.5
    if length > straight + 1e-6:
        to = f"first bend, {straight:.5g} mm from it" if centreline.bends else f"middle, {straight:.5g} mm from it"
        raise refuse(
            "length",
            f"a flat of {length:g} mm from the {side} tip runs beyond the {to}.",
            f"at most {straight:.5g} mm.",
        )
    vector = np.array(mirrored(given["normal"].value, given=given["normal"], side=side))
    t = np.array(segment.start_frame[0])
    across = vector - (vector @ t) * t
    size = float(np.linalg.norm(across))
    if size < math.sin(math.radians(45.0)):
        raise refuse(
            "normal",
            f"the hole axis {[round(float(v), 4) for v in vector]} lies along the bar more than across it at the "
            f"{side} end, which runs along {[round(float(v), 4) for v in t]}.",
            "a vector across the bar, along the hole.",
        )
    if size < math.cos(math.radians(0.5)):
        off = math.degrees(math.acos(size))
        notes.assume(
            f"The {side} flat's normal is {off:.3g} deg off square to the bar; its part across the bar is used."
        )
    normal = across / size
    outline, fillet = (given[key].value if key in given else None for key in ("outline", "fillet"))
    if fillet is not None and (outline == "cosine" or kind == "pressed"):
        raise refuse(
            "fillet",
            "a half cosine has no fillets." if kind == "forged" else "a pressed flat's transition has no fillets.",
            'outline = "straight" with it, or no fillet.',
        )
    if outline is not None and kind == "pressed":
        raise refuse("outline", "a pressed flat's transition takes the form its tube gives it.", "no outline.")
    return Flat(
        kind,
        thickness,
        width,
        length,
        transition,
        (float(normal[0]), float(normal[1]), float(normal[2])),
        outline=outline,
        fillet_mm=fillet,
    )
