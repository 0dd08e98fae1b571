"""Each bar as received as a bar file of its own, for every other command: measured values in place of the drawing's.

What was not measured stays as drawn; the head says what was. The middle of the bar stays where the drawing has it, and
its mounts as far from that middle, as in the check of the bar as received.
"""

from __future__ import annotations

import re
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.hardness import tensile_from_hardness, within_table
from barfem.model.lra import BendRow
from barfem.study.change import change, tables_of
from barfem.study.written import bar_file_text
from barfem.vendor.bend_data import BendData
from barfem.vendor.bent_bar import bar_with_rows
from barfem.vendor.inspect import InspectedBar, Inspection
from barfem.vendor.inspect_received import GEOMETRY, Given, clocked, made_with, with_mismatch
from barfem.vendor.inspect_shape import Rows

LEFT_OUT = "not-written.txt"
__all__ = ["LEFT_OUT", "file_name", "received_files"]


def file_name(bar: str) -> str:
    """Name of a bar's file: as-received-B-017.toml."""
    return f"as-received-{re.sub(r'[^A-Za-z0-9._-]+', '-', bar)}.toml"


def received_files(drawn: Bar, found: Inspection, path: Path, *, folder: Path | None = None) -> dict[str, str]:
    """Bar files by name; `path` is the drawing's, whose text and comments they keep, `folder` where they will be.

    Bars that no bar file can hold, so far off are they, stand in `LEFT_OUT`, each with what is in the way.

    Raises
    ------
    InputError
        Two bars would have one file; the drawing was not read from a file.
    """
    out: dict[str, str] = {}
    left_out: list[str] = []
    for each in found.bars:
        name = file_name(each.bar)
        if name.lower() in {other.lower() for other in out}:
            raise InputError(
                f"bars that differ by signs or capitals alone, such as {each.bar}, would be one file.",
                where="--as-received",
                expected="bars named by letters, digits, dots and dashes.",
            )
        try:
            out[name] = _text(drawn, each, path, folder)
        except InputError as error:
            left_out.append(f"{each.bar}: {error.problem}\n")
    return out | ({LEFT_OUT: "".join(left_out)} if left_out else {})


def _text(drawn: Bar, each: InspectedBar, path: Path, folder: Path | None) -> str:
    made, measured = drawn, []
    if each.rows is not None and each.rows.differences:
        rows = {key: off for key, off in each.given.deviations.items() if key[0] in GEOMETRY}
        made = bar_with_rows(_data(path, each.rows.rows), _middle_kept(made_with(drawn, rows)))
        measured.append("bend rows")
    values: dict[str, Any] = {}
    for key in ("diameter", "wall"):
        if f"{key}_mm" in each.numbers:
            values[f"section.{key}"] = round(each.numbers[f"{key}_mm"], 4)
    measured += [key.replace(".", " ") for key in values]
    for number, side in enumerate(("right", "left")):
        of_end, names = _end_values(drawn, made, each.given, number)
        values |= of_end
        measured += [f"{side} {name}" for name in names]
    mismatch = each.numbers.get("tip_mismatch_mm")
    if mismatch is not None and each.as_received is not None:
        fitted = with_mismatch(made, mismatch)
        for link in (fitted.left_link, fitted.right_link):
            values[f"links.{link.side}.length_error"] = round(link.length_error_mm, 3)
        measured.append("links length error")
    decarburised = each.given.deviations.get(("decarburised_depth", 0))
    if decarburised is not None:
        depth = (drawn.steel.decarburised_depth_mm or 0.0) + decarburised
        values["material.decarburised_depth"] = round(depth, 4)
        measured.append("decarburised depth")
    if each.given.unpeened:
        values |= {"material.surface": drawn.steel.surface, "material.peening": "none"}
        measured.append("peening failed")
    made = change(made, values) if values else made
    # Measured on two scales, the softer counts, as in the check of the bar as received.
    scales = [name.removeprefix("hardness_") for name in each.numbers if name.startswith("hardness_")]
    if scales:
        found = {scale: within_table(each.numbers[f"hardness_{scale}"], scale=scale) for scale in scales}
        scale = min(scales, key=lambda one: tensile_from_hardness(found[one], scale=one))
        try:
            made = change(made, {"material.hardness": f"{found[scale]:g} {scale}"})
            measured.append("hardness")
        except InputError:
            # The file gives strengths: those that the hardness stands for, yield by the same ratio.
            strong, steel = each.strength_MPa or drawn.steel.tensile_strength_MPa, drawn.steel
            yielding = min(steel.yield_strength_MPa / steel.tensile_strength_MPa, 1.0) * strong
            strengths = {"tensile_strength": round(strong, 1), "yield_strength": round(yielding, 1)}
            made = change(made, {f"material.{key}": value for key, value in strengths.items()})
            measured.append("strength by hardness")
    hand = " It is of the other hand: what follows is its mirror image." if each.lie.hand == "other" else ""
    return bar_file_text(
        made,
        path,
        head=f"Bar {each.bar} as received, by barfem inspect: {each.verdict}.{hand}\n"
        f"Measured: {', '.join(measured) or 'nothing that this file holds'}; all else as drawn.\n"
        "Links: each is wrong by half of the tips' mismatch, as much of it as lies along the link.",
        folder=folder,
    )


def _middle_kept(shape: Bar) -> Bar:
    """The bar with its mounts and collars in its file's tables by their distance from the middle that it has now.

    Joints beside their holes go with the arms.
    """
    tables = tables_of(shape)
    mounts, collars = ([each.from_middle_mm for each in several] for several in (shape.mounts, shape.collars))
    for name, places in (("mounts", mounts), ("collars", collars)):
        for table, from_middle in zip(tables.get(name, []), places, strict=True):
            table.pop("y", None)
            table["from_middle"] = round(from_middle, 4)
    for end in shape.ends:
        if any(any(hole.offset_mm) for hole in end.holes):
            holes = deepcopy(tables["ends"].get(end.side, {}).get("holes") or tables["ends"]["holes"])
            for entry, hole in zip(holes, end.holes, strict=True):
                entry["offset"] = [round(each, 5) for each in hole.offset_mm]
            tables["ends"].setdefault(end.side, {})["holes"] = holes
    return replace(shape, tables=tables)


def _end_values(drawn: Bar, made: Bar, given: Given, number: int) -> tuple[dict[str, Any], list[str]]:
    """Keys and values of the bar file for what was measured at an end, and that in words."""
    end, side = drawn.ends[number], drawn.ends[number].side
    values: dict[str, Any] = {}
    words: list[str] = []
    first = 0 if number == 0 else len(drawn.right.holes)
    off = [given.deviations.get(("hole_position", first + i)) for i in range(len(end.holes))]
    wide = [given.hole_diameter_mm.get((side, hole.name)) for hole in end.holes]
    if any(each is not None for each in (*off, *wide)):
        tables = tables_of(made)["ends"]
        holes = tables.get(side, {}).get("holes", tables.get("holes"))
        for hole, entry, moved, diameter in zip(end.holes, holes, off, wide, strict=True):
            entry |= {} if moved is None else {"from_tip": round(hole.from_tip_mm + moved, 4)}
            entry |= {} if diameter is None else {"diameter": round(diameter, 4)}
        values[f"ends.{side}.holes"] = holes
        words.append("holes")
    if end.flat is not None:
        for key, drawn_mm in (("thickness", end.flat.thickness_mm), ("width", end.flat.width_mm)):
            thicker = given.deviations.get((f"flat_{key}", number))
            if thicker is not None:
                values[f"ends.{side}.flat.{key}"] = round(drawn_mm + thicker, 4)
                words.append(f"flat {key}")
        turn, flat = given.clocking_deg[number], None
        if turn:
            flat = clocked(made, made.ends[number], turn).flat
        if flat is not None:
            values[f"ends.{side}.flat.normal"] = list(flat.normal)
            words.append("clocking")
    tensile = given.end_tensile_MPa[number]
    if tensile is not None:
        body = drawn.steel.tensile_strength_MPa + given.deviations.get(("tensile_strength", 0), 0.0)
        values[f"ends.{side}.strength_scale"] = round(tensile / body, 4)
        words.append("hardness")
    return values, words


def _data(path: Path, rows: Rows) -> BendData:
    bends = tuple(
        BendRow(float(length), float(rotation), float(angle), float(radius))
        for length, rotation, angle, radius in zip(
            rows.straight_mm, [0.0, *rows.rotation_deg], rows.angle_deg, rows.radius_mm, strict=False
        )
    )
    return BendData(str(path), "rows", "right", "as-drawn", (*bends, BendRow(float(rows.straight_mm[-1]))), (), ())
