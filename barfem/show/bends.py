"""What `barfem bends` prints: rows, points, lengths, mass, tools, clocking, and the sense of a rotation."""

from __future__ import annotations

import sys
from collections import Counter

from barfem.model.bar import Bar, drawing_words
from barfem.model.bar_geometry import mass_kg
from barfem.show.console import make_console, print_table, wrap
from barfem.show.drawing.ink import one_decimal, size
from barfem.show.numbers import printable, significant
from barfem.show.tables import Table, column, table, words
from barfem.vendor.maker_tables import clamp_length_mm, process_of
from barfem.vendor.part import NO_PLANE_DEG, Part

__all__ = ["ROTATION_PICTURE", "bend_tables", "facts", "print_bends", "rotation_words"]

ROTATION_PICTURE = r"""
   rotation +R, seen along the walking direction (start tip behind you):

            plane of the bend before
                     |     .   plane of this bend: clockwise from it
                     |   .
                     | .
                     o  walking direction goes INTO the page
"""


def rotation_words() -> tuple[str, str]:
    """Both senses in which a rotation can be read: they are one number."""
    return (
        "Rotation: from the plane of the bend before to the plane of this bend, right-handed about the walking "
        "direction, from the start tip to the other tip (clockwise when you look that way).",
        "At the machine, where the steel moves the other way and the workpiece is turned: the same number is the "
        "right-handed turn of the workpiece about the direction in which the material moves.",
    )


def bend_tables(part: Part) -> tuple[Table, Table, Table]:
    """Rows, points and holes of a part."""
    numbered = list(enumerate(part.rows, start=1))
    rows = table(
        "rows",
        f"Rows from the {part.start_tip} tip, between tangent points",
        numbered,
        [
            words("Row", lambda row: str(row[0])),
            column("Length", "mm", lambda row: row[1].length_mm, show=one_decimal),
            column(
                "Rotation",
                "deg",
                lambda row: None if row[1].angle_deg is None else row[1].rotation_deg,
                show=one_decimal,
            ),
            column("Angle", "deg", lambda row: row[1].angle_deg, show=one_decimal),
            column("Radius", "mm", lambda row: row[1].radius_mm, show=one_decimal),
        ],
    )
    kinds = {"tip": "tip", "intersection": "intersection", "tangent_in": "tangent in", "tangent_out": "tangent out"}
    points = table(
        "points",
        f"Points of the centreline from the {part.start_tip} tip, in drawing axes; bends count from there",
        enumerate(part.points, start=1),
        [
            words("Point", lambda row: str(row[0])),
            words("Kind", lambda row: kinds[row[1].kind]),
            words("Bend", lambda row: "" if row[1].bend is None else str(row[1].bend)),
            column("x", "mm", lambda row: row[1].xyz_mm[0], show=one_decimal),
            column("y", "mm", lambda row: row[1].xyz_mm[1], show=one_decimal),
            column("z", "mm", lambda row: row[1].xyz_mm[2], show=one_decimal),
            column("Radius", "mm", lambda row: row[1].radius_mm, show=one_decimal),
        ],
        "Tangent points are inspected, intersections (where the axes of two straights meet) are drawn.",
    )
    plane = any(hole.clocked_from == "hole" for hole in part.holes)
    holes = table(
        "holes",
        "Holes",
        part.holes,
        [
            words("Hole", lambda hole: hole.name),
            words("End", lambda hole: hole.end),
            column("From tip", "mm", lambda hole: hole.from_tip_mm, show=size),
            column("Diameter", "mm", lambda hole: hole.diameter_mm, show=size),
            column("Clocking", "deg", lambda hole: hole.clocking_deg, show=one_decimal),
        ],
        "Clocking: from the in-plane direction across the end straight, "
        + (
            "towards the inside of the adjacent bend, "
            if part.datum_bend is None
            else f"in the plane of bend {part.datum_bend} from the {part.start_tip} tip, "
        )
        + "to the hole axis, right-handed about the direction from the tip to its bend. 0: axis in the bend plane; 90: "
        "normal to it. The same from both start tips. None in a round end, which gives a hole no axis.",
        f"An end whose bend is below {NO_PLANE_DEG:g} deg has no bend plane: its clocking is given to the other end's "
        "hole axis, carried along the bar."
        if plane
        else "",
    )
    return rows, points, holes


def facts(bar: Bar, part: Part) -> list[str]:
    """Lengths, mass and tools, a line each."""
    shortest = part.shortest_between_bends_mm
    lines = [
        f"Developed length {one_decimal(part.developed_length_mm)} mm on the centreline; cut length "
        f"{one_decimal(part.cut_length_mm)} mm"
        + (f" ({part.end_allowance_mm:g} mm at each end, cut off after bending)" if part.end_allowance_mm else "")
        + f"; mass {printable(significant(mass_kg(bar)))} kg.",
    ]
    if shortest is not None:
        lines.append(
            f"Shortest straight between bends {shortest:.1f} mm; the clamp needs {clamp_length_mm(bar):g} mm "
            f"({process_of(bar)} bending)."
        )
    tools = Counter(round(row.radius_mm or 0.0, 6) for row in part.rows[:-1])
    for radius, count in sorted(tools.items()):
        lines.append(
            f"Tool: centreline radius {radius:g} mm ({radius / bar.section.diameter_mm:.2f} diameters), "
            f"{count} bend{'s' * (count > 1)}."
        )
    return lines


def print_bends(bar: Bar, part: Part) -> None:
    """Print both tables and everything that goes with them."""
    console = make_console(sys.stdout)
    hand = "as drawn" if part.hand == "as-drawn" else "the OTHER hand, mirrored in the car's middle plane"
    named = drawing_words(bar.drawing, bar.revision)
    print(f"{bar.name}{f' ({named})' if named else ''}: bend data, start: {part.start_tip}, hand: {hand}.")
    print("Finished part, unloaded, at 20 C. No springback is in these numbers: it is the maker's.\n")
    for line in facts(bar, part):
        print(line)
    for made in bend_tables(part):
        print(f"\n{made.title}")
        print_table(console, made)
        if made.name == "rows":
            for text in rotation_words():
                print("\n".join(wrap(text, console.width)))
            print(ROTATION_PICTURE.rstrip())
        for text in made.remarks:
            print("\n".join(wrap(text, console.width)))
