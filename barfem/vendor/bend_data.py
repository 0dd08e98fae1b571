"""Bend data as CSV, written and read: rows (length, rotation, angle, radius) or points of the centreline.

Numbers are written to nine decimals: with six of an angle, the far end of a bar of 1.5 m would be off by 1e-5 mm, and
round trips are to be exact to 1e-6 mm.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.lra import BendRow, rows_from_points
from barfem.model.units import LARGEST
from barfem.vendor.csv_reading import Line, Sheet, read_sheet
from barfem.vendor.part import Part, Tip

__all__ = [
    "FORMAT",
    "GEOMETRY",
    "ROTATION",
    "BendData",
    "points_csv",
    "read_bend_data",
    "rows_csv",
]

FORMAT = "barfem bend data, format 1"
ROTATION = "right-handed about the walking direction"
GEOMETRY = "finished, no springback"
INCH = 25.4
MOST_MM = LARGEST["length"]
CLOSES_MM = 0.05  # of a printed developed length from that of the rows
_ROWS = {"mm": ("row", "length_mm", "rotation_deg", "angle_deg", "radius_mm")}
_ROWS["in"] = ("row", "length_in", "rotation_deg", "angle_deg", "radius_in")
_POINTS = {"mm": ("point", "kind", "bend", "x_mm", "y_mm", "z_mm", "radius_mm")}
_POINTS["in"] = ("point", "kind", "bend", "x_in", "y_in", "z_in", "radius_in")
_KNOWN: tuple[str, ...] = ("row", "point", "kind", "bend", "length_mm", "length_in", "rotation_deg", "angle_deg")
_KNOWN += ("x_mm", "y_mm", "z_mm", "x_in", "y_in", "z_in", "radius_mm", "radius_in")
_KINDS = ("tip", "tangent_in", "intersection", "tangent_out")
HoleTold = tuple[str, str, float | None, float | None, str | None]


@dataclass(frozen=True)
class BendData:
    """What a file of bend data says: rows in mm and deg from `start_tip`, and notes of how it was read.

    `holes` are (name, end, from_tip_mm or None, clocking_deg or None, "bend N" that it is clocked from or None) of its
    header; None is the bend beside each end, and N counts from the start tip.
    """

    file: str
    kind: str
    start_tip: Tip
    hand: str
    rows: tuple[BendRow, ...]
    holes: tuple[HoleTold, ...]
    notes: tuple[str, ...]


def number(value: float) -> str:
    """Nine decimals, without zeros at the end."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _plain(text: str) -> str:
    """Free text for a header field, which a semicolon would end."""
    return text.replace(";", ",").replace("\n", " ")


def _head(bar: Bar, part: Part) -> list[str]:
    section = f"{bar.section.shape} {bar.section.diameter_mm:g}"
    if bar.section.wall_mm is not None:
        section += f" x {bar.section.wall_mm:g}"
    named = f"drawing = {_plain(bar.drawing or '')} ; revision = {_plain(bar.revision or '')} ; "
    lines = [
        f"# {FORMAT}",
        f"# {named}name = {_plain(bar.name)} ; hand = {part.hand}",
        f"# units = mm, deg ; start_tip = {part.start_tip} ; rotation = {ROTATION} ; geometry = {GEOMETRY}",
        f"# section = {section} ; developed_length = {number(part.developed_length_mm)} ; cut_length = "
        f"{number(part.cut_length_mm)} ; end_allowance = {number(part.end_allowance_mm)} each end",
    ]
    for hole in part.holes:
        clocking = "" if hole.clocking_deg is None else number(hole.clocking_deg)
        lines.append(
            f"# hole = {_plain(hole.name)} ; end = {hole.end} ; from_tip = {number(hole.from_tip_mm)} ; "
            f"clocking = {clocking}" + (f" ; clocked_from = bend {part.datum_bend}" if part.datum_bend else "")
        )
    return lines


def rows_csv(bar: Bar, part: Part) -> str:
    """The bender's rows as bend data CSV."""
    lines = [*_head(bar, part), ",".join(_ROWS["mm"])]
    for i, row in enumerate(part.rows, start=1):
        if row.angle_deg is None:
            lines.append(f"{i},{number(row.length_mm)},,,")
        else:
            cells = (row.length_mm, row.rotation_deg, row.angle_deg, row.radius_mm or 0.0)
            lines.append(f"{i}," + ",".join(number(cell) for cell in cells))
    return "\n".join(lines) + "\n"


def points_csv(bar: Bar, part: Part) -> str:
    """Tips, tangent points and intersections as XYZ CSV; bends count from the start tip."""
    lines = [*_head(bar, part), ",".join(_POINTS["mm"])]
    for i, point in enumerate(part.points, start=1):
        radius = "" if point.radius_mm is None else number(point.radius_mm)
        xyz = ",".join(number(value) for value in point.xyz_mm)
        lines.append(f"{i},{point.kind},{'' if point.bend is None else point.bend},{xyz},{radius}")
    return "\n".join(lines) + "\n"


def read_bend_data(path: str | os.PathLike[str], *, angles_turned: bool = False) -> BendData:
    """Read bend data of either kind, with the tolerance of `csv_reading`.

    Parameters
    ----------
    path
        A file of rows or of points.
    angles_turned
        Says that angles all above 90 deg are angles turned and no included angles.

    Raises
    ------
    InputError
        Anything that could scrap a batch: see the messages.
    """
    sheet = read_sheet(path, kind="a bend data CSV file", known=_KNOWN)
    unit, start, hand = _header(sheet)
    notes = [*sheet.notes, *(["inches"] if unit == "in" else [])]
    scale = INCH if unit == "in" else 1.0
    if "kind" in sheet.columns:
        sheet.require([name for name in _POINTS[unit] if name not in ("point", "bend", "radius_" + unit)])
        rows = _rows_of_points(sheet, unit, scale)
        kind = "points"
    else:
        if "rotation" not in sheet.fields:
            raise sheet.error(
                "the header does not say the sense of rotation.", f"# rotation = {ROTATION}", where="header"
            )
        sheet.require(_ROWS[unit])
        rows = _rows(sheet, unit, scale, notes)
        kind = "rows"
    _look_at_angles(sheet, rows, angles_turned)
    _closes(sheet, rows, scale)
    return BendData(sheet.file, kind, start, hand, rows, _holes(sheet, scale), tuple(notes))


def _header(sheet: Sheet) -> tuple[str, Tip, str]:
    if not any(title.lower().startswith("barfem bend data, format") for title in sheet.title):
        raise sheet.error("the header does not name its format.", f"a first line # {FORMAT}", where="line 1")
    if not any(title.lower() == FORMAT for title in sheet.title):
        raise sheet.error(f"{sheet.title[0]!r} is not known to this barfem.", FORMAT, where="line 1")
    units = sheet.field("units", "mm, deg").lower().replace(" ", "")
    if units not in ("mm,deg", "in,deg"):
        raise sheet.error(f"units = {units!r}.", "units = mm, deg, or units = in, deg.", where="header")
    start = sheet.field("start_tip", "right").lower()
    if start not in ("right", "left"):
        raise sheet.error(f"start_tip = {start!r}.", "right or left.", where="header")
    rotation = sheet.fields.get("rotation", ROTATION).lower()
    if " ".join(rotation.split()) != ROTATION:
        raise sheet.error(
            f"rotation = {rotation!r} is another sense than the one read here.",
            f"rotation = {ROTATION}, from the start tip to the other tip; turn the signs if yours is the other.",
            where="header",
        )
    geometry = " ".join(sheet.field("geometry", GEOMETRY).lower().split())
    comments = " ".join(
        f"{key} {value}" for key, value in sheet.fields.items() if key not in ("name", "drawing", "revision")
    ).lower()
    if "springback" in comments.replace("no springback", "").replace("without springback", "") or geometry != GEOMETRY:
        raise sheet.error(
            f"geometry = {geometry!r}: springback may be in it, or it is no finished part.",
            f"geometry = {GEOMETRY}: the finished part; springback is the maker's business.",
            where="header",
        )
    hand = sheet.fields.get("hand", "as-drawn").lower()
    if hand not in ("as-drawn", "other"):
        raise sheet.error(f"hand = {hand!r}.", "as-drawn or other.", where="header")
    return units.split(",")[0], start, hand  # type: ignore[return-value]


def _rows(sheet: Sheet, unit: str, scale: float, notes: list[str]) -> tuple[BendRow, ...]:
    length_name, radius_name = f"length_{unit}", f"radius_{unit}"
    numbered = _numbered(sheet, "row", notes)
    out: list[BendRow] = []
    for i, line in enumerate(numbered):
        length = line.required(length_name, "the straight between tangent points.", most=MOST_MM / scale) * scale
        if length < -1e-9:
            raise line.error(
                length_name,
                f"{line.text(length_name)} is negative: the arcs beside it overlap, or lengths are between "
                "intersections, not tangents.",
                "the straight between the tangent points, 0 or more.",
            )
        last = i == len(numbered) - 1
        angle = line.number_in("angle_deg", "the angle turned, 0 is straight.")
        if last:
            for name in ("rotation_deg", "angle_deg", radius_name):
                if line.number_in(name) is not None:
                    raise line.error(
                        name,
                        f"the last row has {line.text(name)}: the rows do not close (the last straight is missing).",
                        "a last row with a length alone.",
                    )
            out.append(BendRow(max(length, 0.0)))
            continue
        if angle is None:
            raise line.error(
                "angle_deg",
                "the cell is empty in a row that is not the last.",
                "the angle turned; only the last row is a length alone.",
            )
        if not 0.0 <= angle < 360.0:
            raise line.error("angle_deg", f"{angle:g} deg.", "0 to below 360; to bend the other way, rotate by 180.")
        rotation = line.required(
            "rotation_deg", "the turn from the plane of the bend before, right-handed; 0 in the first row."
        )
        if i == 0 and rotation != 0.0:
            raise line.error(
                "rotation_deg",
                f"{rotation:g} deg in the first row, which has no bend before it.",
                "0 in the first row.",
            )
        if not -360.0 <= rotation <= 360.0:
            raise line.error("rotation_deg", f"{rotation:g} deg.", "-180 to 180 deg.")
        radius = line.number_in(radius_name, "the radius to the centreline.", most=MOST_MM / scale)
        if radius is None:
            raise line.error(
                radius_name, "the radius is missing.", "the radius to the centreline, in every bend's row."
            )
        if radius <= 0.0:
            raise line.error(radius_name, f"{radius:g} is not above 0.", "the radius to the centreline.")
        out.append(BendRow(max(length, 0.0), rotation, angle, radius * scale))
    return tuple(out)


def _numbered(sheet: Sheet, name: str, notes: list[str]) -> list[Line]:
    """Lines in the order of their numbers, which count 1, 2, 3 without gap or repeat."""
    if not sheet.lines:
        raise sheet.error("there are no rows.", "one line for each bend, and a last with a length alone.")
    seen: dict[int, Line] = {}
    for line in sheet.lines:
        value = line.required(name, "1, 2, 3, ...")
        if value != int(value):
            raise line.error(name, f"{line.text(name)} is no row number.", "1, 2, 3, ...")
        if int(value) in seen:
            raise line.error(
                name, f"number {int(value)} stands on line {seen[int(value)].number} already.", "each number once."
            )
        seen[int(value)] = line
    for expected in range(1, len(seen) + 1):
        if expected not in seen:
            raise sheet.error(
                f"there are {len(seen)} {name}s, and number {expected} is missing: the rows do not close.",
                f"numbers 1 to {len(seen)}, none left out.",
                where=f"column {name}",
            )
    if list(seen) != sorted(seen):
        notes.append("lines are not in the order of their numbers; their numbers count")
    return [seen[i] for i in sorted(seen)]


def _rows_of_points(sheet: Sheet, unit: str, scale: float) -> tuple[BendRow, ...]:
    lines = _numbered(sheet, "point", []) if "point" in sheet.columns else list(sheet.lines)
    corners: list[np.ndarray] = []
    radii: list[float] = []
    tangents: list[tuple[Line, np.ndarray, int]] = []
    for i, line in enumerate(lines):
        kind = line.text("kind").lower()
        if kind not in _KINDS:
            raise line.error("kind", f"{line.text('kind')!r}.", "tip, intersection, tangent_in or tangent_out.")
        xyz = np.array([line.required(f"{axis}_{unit}", most=MOST_MM / scale) for axis in "xyz"]) * scale
        if kind == "tip" and i not in (0, len(lines) - 1):
            raise line.error("kind", "a tip between other points.", "a tip first and a tip last.")
        if kind != "tip" and i in (0, len(lines) - 1):
            raise line.error("kind", f"{kind} at an end of the list: it does not close.", "a tip first and a tip last.")
        bend = len(radii) + (kind != "tangent_out")
        told = None if kind == "tip" else line.number_in("bend", "the number of the bend, from the first tip.")
        if told is not None and told != bend:
            raise line.error(
                "bend", f"bend {told:g} stands where bend {bend} is.", f"{bend}, by the order of the points."
            )
        if kind.startswith("tangent"):
            tangents.append((line, xyz, bend))
            continue
        corners.append(xyz)
        if kind == "intersection":
            radius = line.number_in(f"radius_{unit}", "the radius to the centreline.", most=MOST_MM / scale)
            if radius is None:
                raise line.error(f"radius_{unit}", "the radius is missing.", "the radius of every intersection.")
            if radius <= 0.0:
                raise line.error(f"radius_{unit}", f"{radius:g} is not above 0.", "the radius to the centreline.")
            radii.append(radius * scale)
    if len(corners) < 2:
        raise sheet.error("there are fewer than two points.", "a tip, intersections in order, and a tip.")
    try:
        rows = rows_from_points(points_mm=np.array(corners), bend_radii_mm=np.array(radii))
    except InputError as error:
        raise error.in_file(sheet.file) from error
    for i, row in enumerate(rows, start=1):
        if row.length_mm < -1e-9 * 1000.0:
            raise sheet.error(
                f"the straight before point {i + 1} of tips and intersections would be {row.length_mm:.3f} mm.",
                "intersections of the straights' axes (not tangent points), and radii whose arcs fit between them.",
            )
    _tangents_agree(corners, radii, tangents, f"radius_{unit}", scale)
    return tuple(BendRow(max(row.length_mm, 0.0), row.rotation_deg, row.angle_deg, row.radius_mm) for row in rows)


def _tangents_agree(
    corners: list[np.ndarray],
    radii: list[float],
    tangents: Sequence[tuple[Line, np.ndarray, int]],
    radius_name: str,
    scale: float,
) -> None:
    points = np.array(corners)
    along = np.diff(points, axis=0)
    u = along / np.linalg.norm(along, axis=1)[:, None]
    for line, xyz, bend in tangents:
        if not 1 <= bend <= len(radii):
            raise line.error(
                "kind", "a tangent point without its intersection.", "tangent_in, intersection, tangent_out."
            )
        told, radius = line.number_in(radius_name, "the radius to the centreline."), radii[bend - 1] / scale
        if told is not None and abs(told - radius) > CLOSES_MM:
            raise line.error(radius_name, f"{told:g}, and bend {bend} has {radius:g}.", "one radius a bend.")
        angle = np.arccos(np.clip(u[bend - 1] @ u[bend], -1.0, 1.0))
        size = radii[bend - 1] * np.tan(0.5 * angle)
        where = points[bend] + (u[bend] if line.text("kind").lower() == "tangent_out" else -u[bend - 1]) * size
        off = float(np.linalg.norm(where - xyz))
        if off > CLOSES_MM:
            raise line.error(
                "kind",
                f"this {line.text('kind')} lies {off:.3f} mm from where corner and radius of bend {bend} put it.",
                "tangent points that agree with intersections and radius, or none.",
            )


def _look_at_angles(sheet: Sheet, rows: Sequence[BendRow], angles_turned: bool) -> None:
    angles = [row.angle_deg for row in rows if row.angle_deg is not None]
    if not angles_turned and len(angles) >= 2 and all(angle > 90.0 for angle in angles) and "kind" not in sheet.columns:
        raise sheet.error(
            f"all angles are above 90 deg ({', '.join(f'{angle:g}' for angle in angles)}): are they included angles?",
            "angles turned: 0 is straight, 90 an L; --angles turned says that they are.",
            where="column angle_deg",
        )


def _closes(sheet: Sheet, rows: Sequence[BendRow], scale: float) -> None:
    """Hold the rows against the header's developed length."""
    text = sheet.fields.get("developed_length")
    if not text:
        return
    stated = sheet.header_number("developed_length", text.split()[0], most=MOST_MM / scale) * scale
    arcs = sum((row.radius_mm or 0.0) * np.radians(row.angle_deg or 0.0) for row in rows)
    takes = sum(
        2.0 * (row.radius_mm or 0.0) * np.tan(0.5 * np.radians(min(row.angle_deg or 0.0, 179.0))) for row in rows
    )
    length = sum(row.length_mm for row in rows) + arcs
    if abs(length - stated) <= CLOSES_MM:
        return
    if abs(length - takes - stated) <= CLOSES_MM:
        raise sheet.error(
            "lengths are between intersections, not tangents: they add up to the developed length only with "
            "R tan(angle / 2) taken off on both sides of each bend.",
            "straights between tangent points.",
            where=f"column length_{'in' if scale != 1.0 else 'mm'}",
        )
    raise sheet.error(
        f"rows and arcs add up to {length:.3f} mm, the header says developed_length = {stated:.3f} mm: the rows do not "
        "close.",
        "every row of the bar, and the developed length of these rows.",
        where="header",
    )


def _holes(sheet: Sheet, scale: float) -> tuple[HoleTold, ...]:
    out = []
    for number_, fields in sheet.field_lines:
        if "hole" not in fields:
            continue
        values: list[float | None] = []
        for key, factor, most in (("from_tip", scale, MOST_MM / scale), ("clocking", 1.0, LARGEST["angle"])):
            text = fields.get(key, "")
            where = f"line {number_}"
            values.append(sheet.header_number(key, text, most=most, where=where) * factor if text else None)
        out.append((fields["hole"], fields.get("end", ""), values[0], values[1], fields.get("clocked_from")))
    return tuple(out)
