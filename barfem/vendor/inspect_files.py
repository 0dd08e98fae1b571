"""Each bar as received as a bar file of its own, for every other command: measured values in place of the drawing's.

What was not measured, and what a bar file has no key for on one end alone (hole places, clocking), stays as drawn; the
head says so.
"""

from __future__ import annotations

import re
from pathlib import Path

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.lra import BendRow
from barfem.study.change import change
from barfem.study.written import bar_file_text
from barfem.vendor.bend_data import BendData
from barfem.vendor.bent_bar import bar_with_rows
from barfem.vendor.inspect import InspectedBar, Inspection
from barfem.vendor.inspect_received import with_mismatch
from barfem.vendor.inspect_shape import Rows

__all__ = ["file_name", "received_files"]


def file_name(bar: str) -> str:
    """Name of a bar's file: as-received-B-017.toml."""
    return f"as-received-{re.sub(r'[^A-Za-z0-9._-]+', '-', bar)}.toml"


def received_files(drawn: Bar, found: Inspection, path: Path) -> dict[str, str]:
    """Bar files by name; `path` is the drawing's, whose text and comments they keep.

    Raises
    ------
    InputError
        Two bars would have one file; the drawing was not read from a file.
    """
    out: dict[str, str] = {}
    for each in found.bars:
        name = file_name(each.bar)
        if name in out:
            raise InputError(
                f"bars that differ by signs alone, such as {each.bar}, would be one file.",
                where="--as-received",
                expected="bars named by letters, digits, dots and dashes.",
            )
        out[name] = _text(drawn, each, path)
    return out


def _text(drawn: Bar, each: InspectedBar, path: Path) -> str:
    made, measured = drawn, []
    if each.rows is not None and each.rows.differences:
        made = bar_with_rows(_data(path, each.rows.rows), made)
        measured.append("bend rows")
    values: dict[str, float | str] = {}
    for key in ("diameter", "wall"):
        if f"{key}_mm" in each.numbers:
            values[f"section.{key}"] = round(each.numbers[f"{key}_mm"], 4)
    mismatch = each.numbers.get("tip_mismatch_mm")
    if mismatch is not None and each.as_received is not None:
        fitted = with_mismatch(made, mismatch)
        for link in (fitted.left_link, fitted.right_link):
            values[f"links.{link.side}.length_error"] = round(link.length_error_mm, 3)
    made = change(made, values) if values else made
    measured += [key.replace(".", " ").replace("_", " ") for key in values]
    hardness = next((name for name in each.numbers if name.startswith("hardness_")), None)
    if hardness is not None:
        scale = hardness.removeprefix("hardness_")
        try:
            made = change(made, {"material.hardness": f"{each.numbers[hardness]:g} {scale}"})
            measured.append("hardness")
        except InputError:
            measured.append("not its hardness, which this file gives as strength")
    hand = " It is of the other hand: what follows is its mirror image." if each.lie.hand == "other" else ""
    return bar_file_text(
        made,
        path,
        head=f"Bar {each.bar} as received, by barfem inspect: {each.verdict}.{hand}\n"
        f"Measured: {', '.join(measured) or 'nothing that this file holds'}; all else, hole places and clocking too, "
        "as drawn.\n"
        "Links: each is wrong by half of the tips' mismatch, as much of it as lies along the link.",
    )


def _data(path: Path, rows: Rows) -> BendData:
    bends = tuple(
        BendRow(float(length), float(rotation), float(angle), float(radius))
        for length, rotation, angle, radius in zip(
            rows.straight_mm, [0.0, *rows.rotation_deg], rows.angle_deg, rows.radius_mm, strict=False
        )
    )
    return BendData(str(path), "rows", "right", "as-drawn", (*bends, BendRow(float(rows.straight_mm[-1]))), (), ())
