"""A bar file with the maker's rows: placed where another bar lies, flats and holes at the clocking they had."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from barfem.model.bar import Bar, End
from barfem.model.bend_rows import rows_centreline
from barfem.model.errors import InputError
from barfem.study.change import rebuilt, tables_of
from barfem.vendor.bend_data import BendData, section_of, section_words
from barfem.vendor.inspect_plausible import other_rows
from barfem.vendor.inspect_shape import drawn_rows
from barfem.vendor.part import clocking_deg, datum_bend_of, end_inward, part_of

__all__ = ["bar_with_rows", "head_differences", "hole_differences", "refuse_other_convention"]

_ALIKE_MM = 0.05
_ALIKE_DEG = 0.05


def refuse_other_convention(data: BendData, like: Bar, *, angles_turned: bool = False) -> None:
    """Refuse a file of rows that are `like`'s own, counted otherwise; its header need not say the developed length.

    Raises
    ------
    InputError
        Included angles (unless `angles_turned`), lengths between intersections, or those of another unit.
    """
    drawn = drawn_rows(like)
    if data.kind != "rows" or len(data.rows) != drawn.bends + 1:
        return
    columns = {"angle": "angle_deg", "length": "length_in" if "inches" in data.notes else "length_mm"}
    found = {"length": [row.length_mm for row in data.rows]}
    if not angles_turned:
        found["angle"] = [row.angle_deg or 0.0 for row in data.rows[:-1]]
    for what, values in found.items():
        other = other_rows(drawn, what, np.arange(len(values)), np.array(values))
        if other is not None:
            raise InputError(other[0], where=f"column {columns[what]}", expected=other[1], file=data.file)


def bar_with_rows(data: BendData, like: Bar) -> Bar:
    """`like` with its centreline replaced by the rows of `data`.

    Start tip, first direction and first bend plane are those of `like` at the file's start tip; flats and holes keep
    their clocking; everything else is `like`'s.

    Raises
    ------
    InputError
        The rows make no bar that its other tables fit.
    """
    end = like.right if data.start_tip == "right" else like.left
    line = like.centreline
    at = 0.0 if end.side == "right" else line.length_mm
    points, _ = line.evaluate(at)
    u, _ = end_inward(like, end)
    towards = _inward(like, end)
    tables = tables_of(like)
    for key in ("centreline", "arms", "bends"):
        tables.pop(key, None)
    rows: list[list[float]] = [
        [row.length_mm]
        if row.angle_deg is None
        else [row.length_mm, row.rotation_deg, row.angle_deg, row.radius_mm or 0.0]
        for row in data.rows
    ]
    tables["bends"] = {
        "start_tip": data.start_tip,
        "start": [float(value) for value in points[0]],
        "direction": [float(value) for value in u],
        "first_bend_towards": [float(value) for value in towards],
        "rows": rows,
    }
    # A flat's normal lies across its end: while the shape changes, a direction that surely fits stands in for it.
    flats = [each for each in like.ends if each.flat is not None]
    for each in flats:
        _set_normal(tables, each.side, [0.123, 0.456, 0.789])
    if not flats:
        return rebuilt(like, tables)
    shape = rows_centreline(
        data.rows, start_tip=data.start_tip, start_mm=points[0], direction=u, first_bend_towards=towards
    )
    moved = replace(like, centreline=shape)
    for each in flats:
        _set_normal(tables, each.side, _normal(like, moved, each))
    return rebuilt(like, tables)


def _inward(bar: Bar, end: End) -> np.ndarray:
    """Across the end's straight, towards its first bend, however small; any direction across where there is none."""
    line = bar.centreline
    at = 0.0 if end.side == "right" else line.length_mm
    _, a, b = line.evaluate(at)[1][0]
    if not line.bends:
        return np.asarray(a)
    angle = (line.bends[0] if end.side == "right" else line.bends[-1]).inward_angle_rad
    return np.asarray(np.cos(angle) * a + np.sin(angle) * b)


def _normal(like: Bar, moved: Bar, end: End) -> list[float]:
    """The hole axis on the moved bar that has the clocking it had on `like`."""
    angle, kind = clocking_deg(like, end)
    u, inward = end_inward(moved, end, datum_bend_of(moved))
    if kind not in ("bend", "named bend") or angle is None or inward is None:
        # No bend plane to keep it to: the hole axis as drawn, its part across the end straight.
        axis = np.array(end.flat.normal) if end.flat is not None else u
        across = axis - (axis @ u) * u
        return [float(value) for value in across / np.linalg.norm(across) + 0.0]
    turn = np.radians(angle)
    axis = np.cos(turn) * inward + np.sin(turn) * np.cross(u, inward)
    # A hole axis is a line: the sense that is nearer to the drawn one, so that files differ as little as can be.
    if end.flat is not None and float(axis @ np.array(end.flat.normal)) < 0.0:
        axis = -axis
    return [float(value) + 0.0 for value in axis]


def _set_normal(tables: dict[str, Any], side: str, normal: list[float]) -> None:
    tables["ends"].setdefault(side, {}).setdefault("flat", {})["normal"] = normal


def head_differences(data: BendData, bar: Bar) -> list[str]:
    """Where drawing, revision and section of the file's header are not the bar's, which stand."""
    ours = {"drawing": bar.drawing, "revision": bar.revision}
    out = [
        f"{key} {told} in the file, {ours[key]} kept"
        for key, told in data.told.items()
        if told and ours[key] and told != ours[key]
    ]
    if data.section is not None:
        (shape, sizes), (own, own_sizes) = data.section, section_of(bar)
        if shape != own or len(sizes) != len(own_sizes) or np.abs(np.subtract(sizes, own_sizes)).max() > _ALIKE_MM:
            out.append(f"section {section_words(shape, sizes)} in the file, {section_words(own, own_sizes)} kept")
    return out


def hole_differences(data: BendData, bar: Bar) -> list[str]:
    """Where the holes of the file's header are not the bar's, which stand."""
    part = part_of(bar, start_tip=data.start_tip)
    known = {(hole.name, str(hole.end)): hole for hole in part.holes}
    out = []
    for name, end, from_tip, clocking, source in data.holes:
        hole = known.get((name, end))
        if hole is None:
            at = f"at the {end} end" if end else "of no end"
            out.append(f'the file has a hole "{name}" {at}, the bar file has none of that name')
            continue
        if from_tip is not None and abs(from_tip - hole.from_tip_mm) > _ALIKE_MM:
            out.append(f'hole "{name}" {end}: {from_tip:g} mm from the tip in the file, {hole.from_tip_mm:g} mm kept')
        own = part.clocked_from(hole)
        if clocking is not None and source != own:
            theirs, ours = (each or "the bend beside each end" for each in (source, own))
            out.append(f'hole "{name}" {end}: clocked from {theirs} in the file, from {ours} here: not compared')
        elif clocking is not None and hole.clocking_deg is not None:
            off = abs((clocking - hole.clocking_deg + 90.0) % 180.0 - 90.0)
            if off > _ALIKE_DEG:
                out.append(f'hole "{name}" {end}: clocked {clocking:g} deg in the file, {hole.clocking_deg:.3g} kept')
    return out
