"""Bend data as CSV, written and read: rows (length, rotation, angle, radius) or points of the centreline.

Numbers are written to nine decimals: with six of an angle, the far end of a bar of 1.5 m would be off by 1e-5 mm, and
round trips are to be exact to 1e-6 mm.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.lra import BendRow
from barfem.model.units import LARGEST
from barfem.vendor.bend_points import CLOSES_MM, MOST_MM, rows_of_points
from barfem.vendor.csv_reading import Sheet, numbered, read_sheet
from barfem.vendor.part import Part, Tip

__all__ = [
    "FORMAT",
    "GEOMETRY",
    "ROTATION",
    "BendData",
    "points_csv",
    "read_bend_data",
    "rows_csv",
    "section_of",
    "section_words",
]

FORMAT = "barfem bend data, format 1"
ROTATION = "right-handed about the walking direction"
GEOMETRY = "finished, no springback"
INCH = 25.4
_ROWS = {"mm": ("row", "length_mm", "rotation_deg", "angle_deg", "radius_mm")}
_ROWS["in"] = ("row", "length_in", "rotation_deg", "angle_deg", "radius_in")
_POINTS = {"mm": ("point", "kind", "bend", "x_mm", "y_mm", "z_mm", "radius_mm")}
_POINTS["in"] = ("point", "kind", "bend", "x_in", "y_in", "z_in", "radius_in")
_KNOWN: tuple[str, ...] = ("row", "point", "kind", "bend", "length_mm", "length_in", "rotation_deg", "angle_deg")
_KNOWN += ("x_mm", "y_mm", "z_mm", "x_in", "y_in", "z_in", "radius_mm", "radius_in")
HoleTold = tuple[str, str, float | None, float | None, str | None]


@frozen
class BendData:
    """What a file of bend data says: rows in mm and deg from `start_tip`, and notes of how it was read.

    `holes` are (name, end, from_tip_mm or None, clocking_deg or None, what it is clocked from or None) of its header:
    "bend N", which counts from the start tip, or "hole of the other end"; None is the bend beside each end. `section`
    is shape and sizes in mm, None where the header says none; `told` its drawing and revision.
    """

    file: str
    kind: str
    start_tip: Tip
    hand: str
    rows: tuple[BendRow, ...]
    holes: tuple[HoleTold, ...]
    notes: tuple[str, ...]
    section: tuple[str, tuple[float, ...]] | None = None
    told: Mapping[str, str] = field(default_factory=dict)


def number(value: float) -> str:
    """Nine decimals, without zeros at the end."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _plain(text: str) -> str:
    """Free text for a header field, which a semicolon would end."""
    return text.replace(";", ",").replace("\n", " ")


def section_of(bar: Bar) -> tuple[str, tuple[float, ...]]:
    """Shape, and diameter and wall [mm]."""
    wall = bar.section.wall_mm
    return bar.section.shape, (bar.section.diameter_mm, *(() if wall is None else (wall,)))


def section_words(shape: str, sizes: Sequence[float]) -> str:
    """As in the header: tube 26 x 4."""
    return f"{shape} {' x '.join(f'{size:g}' for size in sizes)}"


def _head(bar: Bar, part: Part) -> list[str]:
    named = f"drawing = {_plain(bar.drawing or '')} ; revision = {_plain(bar.revision or '')} ; "
    lines = [
        f"# {FORMAT}",
        f"# {named}name = {_plain(bar.name)} ; hand = {part.hand}",
        f"# units = mm, deg ; start_tip = {part.start_tip} ; rotation = {ROTATION} ; geometry = {GEOMETRY}",
        f"# section = {section_words(*section_of(bar))} ; developed_length = {number(part.developed_length_mm)} ; "
        f"cut_length = {number(part.cut_length_mm)} ; end_allowance = {number(part.end_allowance_mm)} each end",
    ]
    for hole in part.holes:
        clocking = "" if hole.clocking_deg is None else number(hole.clocking_deg)
        lines.append(
            f"# hole = {_plain(hole.name)} ; end = {hole.end} ; from_tip = {number(hole.from_tip_mm)} ; "
            f"clocking = {clocking}" + (f" ; clocked_from = {source}" if (source := part.clocked_from(hole)) else "")
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
        rows = rows_of_points(sheet, unit, scale)
        kind = "points"
    else:
        if not sheet.told("rotation"):
            raise sheet.error(
                "the header does not say the sense of rotation.", f"# rotation = {ROTATION}", where="header"
            )
        sheet.require(_ROWS[unit])
        rows = _rows(sheet, unit, scale, notes)
        kind = "rows"
    _look_at_angles(sheet, rows, angles_turned)
    _closes(sheet, rows, scale)
    told = {key: sheet.told(key) for key in ("drawing", "revision")}
    holes, section = _holes(sheet, scale), _section(sheet, scale)
    return BendData(sheet.file, kind, start, hand, rows, holes, tuple(notes), section, told)


def _section(sheet: Sheet, scale: float) -> tuple[str, tuple[float, ...]] | None:
    size = r"(\d+(?:\.\d+)?)"
    match = re.fullmatch(rf"(\w+) {size}(?: x {size})?", sheet.told("section").lower().replace(",", "."))
    if match is None:
        return None
    return match[1], tuple(float(text) * scale for text in match.groups()[1:] if text)


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
    rotation = (sheet.told("rotation") or ROTATION).lower()
    if " ".join(rotation.split()) != ROTATION:
        raise sheet.error(
            f"rotation = {rotation!r} is another sense than the one read here.",
            f"rotation = {ROTATION}, from the start tip to the other tip; turn the signs if yours is the other.",
            where="header",
        )
    geometry = " ".join(sheet.field("geometry", GEOMETRY).lower().split())
    right = f"geometry = {GEOMETRY}: the finished part; springback is the maker's business."
    if geometry != GEOMETRY:
        raise sheet.error(
            f"geometry = {geometry!r}: springback may be in it, or it is no finished part.", right, where="header"
        )
    for words in (*sheet.title, *(f"{key} = {value}" for _, here in sheet.field_lines for key, value in here.items())):
        named = words.partition(" = ")[0] in ("name", "drawing", "revision")
        if not named and "springback" in re.sub("(no|without) springback", "", words.lower()):
            raise sheet.error(f"the header says {words!r}: springback may be in it.", right, where="header")
    hand = (sheet.told("hand") or "as-drawn").lower()
    if hand not in ("as-drawn", "other"):
        raise sheet.error(f"hand = {hand!r}.", "as-drawn or other.", where="header")
    return units.split(",")[0], start, hand  # type: ignore[return-value]


def _rows(sheet: Sheet, unit: str, scale: float, notes: list[str]) -> tuple[BendRow, ...]:
    length_name, radius_name = f"length_{unit}", f"radius_{unit}"
    lines = numbered(sheet, "row", notes)
    out: list[BendRow] = []
    for i, line in enumerate(lines):
        length = line.required(length_name, "the straight between tangent points.", most=MOST_MM / scale) * scale
        if length < -1e-9:
            raise line.error(
                length_name,
                f"{line.text(length_name)} is negative: the arcs beside it overlap, or lengths are between "
                "intersections, not tangents.",
                "the straight between the tangent points, 0 or more.",
            )
        last = i == len(lines) - 1
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
    text = sheet.told("developed_length")
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
