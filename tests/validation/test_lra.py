"""Bend rows (length, rotation, angle) of a three-dimensional bar and of a planar U, both ways."""

from __future__ import annotations

from barfem.model.lra import BendRow, rows_from_centreline, rows_from_points
from barfem.model.points import polyline_centreline
from tests.model.rows import points_from_rows

SOURCE = (
    "L = chord - R tan(A/2) on either side, A between chords, rotation atan2[(N1 x N2) . u, N1 . N2] (trade rule, from "
    "memory); worked with these points apart from barfem (computed)"
)
POINTS = [[0, 0, 0], [250, 0, 0], [300, 200, 50], [300, 800, 50], [250, 1000, 0], [0, 1000, 0]]
LENGTHS = [210.6772, 164.2306, 582.8427, 164.2306, 210.6772]
ROTATIONS = [0.0, -46.6861, 0.0, 46.6861]
ANGLES = [76.3670, 19.4712, 19.4712, 76.3670]
WHY = "half the last printed digit"


def test_points_to_rows(compare):
    line = polyline_centreline(points_mm=POINTS, bend_radii_mm=50.0)
    for how, rows in (
        ("corner points", rows_from_points(points_mm=POINTS, bend_radii_mm=50.0)),
        ("centreline", rows_from_centreline(line)),
    ):
        case = f"LRA of the three-dimensional example, from the {how}: "
        for name, ours, theirs in (
            ("lengths mm", [row.length_mm for row in rows], LENGTHS),
            ("rotations deg", [row.rotation_deg for row in rows[:-1]], ROTATIONS),
            ("angles deg", [row.angle_deg for row in rows[:-1]], ANGLES),
        ):
            compare(
                case=case + name,
                source=SOURCE,
                ours=ours,
                theirs=theirs,
                allowed=5.1e-5,
                absolute=True,
                why=WHY,
            )
    compare(
        case="developed length of the three-dimensional example, mm",
        source=SOURCE,
        ours=line.length_mm,
        theirs=1499.9275,
        allowed=5.1e-5,
        absolute=True,
        why=WHY,
    )


def test_rows_to_points(compare):
    bends = zip(LENGTHS[:-1], ROTATIONS, ANGLES, strict=True)
    rows = [BendRow(length, rotation, angle, 50.0) for length, rotation, angle in bends] + [BendRow(LENGTHS[-1])]
    points, _ = points_from_rows(rows, start_mm=POINTS[0], direction=[1, 0, 0], first_bend_towards=[0, 200, 50])
    compare(
        case="corner points of the three-dimensional example, from its printed rows, mm",
        source=SOURCE,
        ours=points,
        theirs=POINTS,
        allowed=2e-3,
        absolute=True,
        why="angles printed to 5e-5 deg turn 1 000 mm of bar by 1e-3 mm",
    )


def test_planar_u(compare):
    corners = [[250, -550, 0], [0, -550, 0], [0, 550, 0], [250, 550, 0]]
    rows = rows_from_points(points_mm=corners, bend_radii_mm=50.0)
    compare(
        case="planar U, R 50: lengths mm and angles deg",
        source="by hand: 250 - 50, 1100 - 2 x 50; 90 deg",
        ours=[row.length_mm for row in rows] + [row.angle_deg for row in rows[:-1]],
        theirs=[200, 1000, 200, 90, 90],
        allowed=1e-9,
        why="rounding",
    )
    compare(
        case="planar U, R 50: developed length mm",
        source="by hand: 1400 + 50 pi",
        ours=polyline_centreline(points_mm=corners, bend_radii_mm=50.0).length_mm,
        theirs=1557.0796,
        allowed=1e-7,
        why="eight printed digits",
    )
