"""Points of bend data (tips, intersections, tangent points) into rows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from barfem.model.errors import InputError
from barfem.model.lra import BendRow, rows_from_points
from barfem.model.units import LARGEST
from barfem.vendor.csv_reading import Line, Sheet, numbered

__all__ = ["CLOSES_MM", "MOST_MM", "rows_of_points"]

MOST_MM = LARGEST["length"]
CLOSES_MM = 0.05  # of a printed developed length from that of the rows, of a point from where the others put it
_KINDS = ("tip", "tangent_in", "intersection", "tangent_out")


def rows_of_points(sheet: Sheet, unit: str, scale: float) -> tuple[BendRow, ...]:
    """Rows in mm and deg between tangent points, which are held against corners and radii where they are given.

    Raises
    ------
    InputError
        Points that make no bar, or contradict each other.
    """
    lines = numbered(sheet, "point", []) if "point" in sheet.columns else list(sheet.lines)
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
        if kind == "tangent_out" and i > 0 and lines[i - 1].text("kind").lower() == "tangent_in":
            raise line.error(
                "kind",
                "no intersection stands between this bend's tangent points: it was left out, or the bend turns 180 deg "
                "or more and has none.",
                "the intersection between them; bends of 180 deg or more as rows (barfem bends --csv).",
            )
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
