"""The shape of the bar in a starter file: arms alike, cranked, unequal, or as the bender's rows."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from barfem.cli.values import number as typed
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.units import number

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["LaidRows", "Line", "corner_mm", "laid_rows", "read_crank", "read_rows", "refuse_two_shapes", "shape_text"]

Line = Callable[..., str]
_OF_SHAPE = ("width", "arm_length", "splay", "rise", "left_arm", "crank", "bend_radius")


def read_crank(text: str, answers: dict[str, Any]) -> tuple[float, float, float, float]:
    """Offsets x and z of the middle, and the |y| within which it is offset and where the ramp ends, mm.

    Raises
    ------
    InputError
        Not four lengths.
    """
    parts = [typed("length")(part.strip()) for part in text.split(",")]
    if len(parts) != 4 or not 0.0 <= parts[2] < parts[3]:
        raise InputError(
            f"{text!r} is no crank.",
            expected='x, z, inner, outer in mm, such as "0, -40, 250, 330", inner below outer.',
        )
    return parts[0], parts[1], parts[2], parts[3]


_ROW_KINDS = ("length", "angle", "angle", "length")


def read_rows(text: str, answers: dict[str, Any]) -> tuple[tuple[float, ...], ...]:
    """The bender's rows: straight, rotation, angle, radius of each bend, and the last straight alone; mm and deg, or
    with units.

    Raises
    ------
    InputError
        A row has another count of numbers, what is none, or the rows make no bar.
    """
    expected = 'straight/rotation/angle/radius a bend, then a straight: "202/0/90/48; 904/0/90/48; 202".'
    parts = [[cell.strip() for cell in part.split("/")] for part in text.split(";") if part.strip()]
    rows = []
    for i, part in enumerate(parts, 1):
        if len(part) != (4 if i < len(parts) else 1) or len(parts) < 2:
            raise InputError(f"row {i} of {text!r} is none.", expected=expected)
        try:
            rows.append(tuple(typed(kind)(cell) for cell, kind in zip(part, _ROW_KINDS, strict=False)))
        except InputError as error:
            raise InputError(f"row {i} of {text!r}: {error.problem}", expected=expected) from None
    if not rows:
        raise InputError(f"{text!r} has no rows.", expected=expected)
    laid_rows(tuple(rows))
    return tuple(rows)


def refuse_two_shapes(texts: Mapping[str, str]) -> None:
    """Refuse options of a shape beside the bender's rows, which have a width, arms and radii of their own.

    Raises
    ------
    InputError
        The bender's rows and another shape at once.
    """
    other = next((key for key in _OF_SHAPE if key in texts), None)
    if "rows" in texts and other is not None:
        raise InputError(
            "--rows are the whole shape: width, arms and bend radii are in them.",
            where=f"--{other.replace('_', '-')}",
            expected="one of both; [centreline] points in the file take any shape.",
        )


def shape_text(answers: dict[str, Any], line: Line) -> str:
    """The table of the centreline, as the answers have it."""
    if answers["rows"] is not None:
        return _rows(answers["rows"])
    if answers["left_arm"] is not None:
        return _unequal(answers, line)
    lines = [
        "[arms]                           # a symmetric bar; the middle axis is x = 0, z = 0",
        line("width", answers["width"], "width", "across the car, cut end to cut end"),
        line("length", answers["arm_length"], "arm_length", "rearward, middle axis to cut end"),
        line("splay", answers["splay"], "splay", "deg, tips outward"),
        line("rise", answers["rise"], "rise", "of the tips above the middle axis"),
        line("bend_radius", answers["bend_radius"], "bend_radius", "to the centreline"),
    ]
    if answers["crank"] is not None:
        x, z, inner, outer = answers["crank"]
        table = f"crank = {{ x = {x:g}, z = {z:g}, inner = {inner:g}, outer = {outer:g} }}"
        lines.append(f"{table}  # the middle lies so far forward and up, between |y| inner; its ramp ends at outer")
    return "\n".join(
        [*lines, "# Another shape? barfem new has --crank, --left-arm and --rows; [centreline] takes points.", ""]
    )


def _unequal(answers: dict[str, Any], line: Line) -> str:
    """Points of a bar whose left arm has its own length; the corners lie where the arms' splay puts them.

    A crank is that of [arms]: the middle at x, z between |y| inner, back on the axis at outer.
    """
    half = 0.5 * number(answers["width"], "length")
    rise = number(answers["rise"], "length")
    lean = math.tan(math.radians(number(answers["splay"], "angle")))
    right, left = (number(answers[key], "length") for key in ("arm_length", "left_arm"))
    points = [
        ((-right, -half, rise), "right tip"),
        ((0.0, -half + right * lean, 0.0), "corner; the middle axis is x = 0, z = 0"),
        *_cranked(answers["crank"]),
        ((0.0, half - left * lean, 0.0), "corner"),
        ((-left, half, rise), "left tip"),
    ]
    rows = [f"  [{', '.join(f'{value:.6g}' for value in point)}],  # {place}" for point, place in points]
    return "\n".join(
        [
            "[centreline]                     # arms of unequal length: x forward, y left, z up",
            "points = [",
            *rows,
            "]",
            line("bend_radius", answers["bend_radius"], "bend_radius", "to the centreline"),
            "",
        ]
    )


def _cranked(crank: tuple[float, float, float, float] | None) -> list[tuple[tuple[float, float, float], str]]:
    """Corners of a crank from right to left; none without one, and one instead of two alike in the middle."""
    if crank is None:
        return []
    x, z, inner, outer = crank
    middle = [((x, y, z), "crank") for y in (-inner, inner)]
    middle = middle[:1] if inner == 0.0 else middle
    return [((0.0, -outer, 0.0), "its ramp"), *middle, ((0.0, outer, 0.0), "its ramp")]


@frozen
class LaidRows:
    """Rows as they lie in the car: start and directions for [bends], and the corner's distance from the middle, mm."""

    start_mm: Array
    direction: Array
    towards: Array
    corner_mm: float


def laid_rows(rows: tuple[tuple[float, ...], ...]) -> LaidRows:
    """The bender's rows, laid with the corners of the first and the last bend along y, the first arm rearward.

    The middle of a plain U then lies along y whatever its bends turn, in the x-y plane.

    Raises
    ------
    InputError
        The rows make no bar.
    """
    import numpy as np

    from barfem.model.bend_rows import rows_centreline
    from barfem.model.lra import BendRow

    read = [BendRow(row[0]) if len(row) == 1 else BendRow(row[0], row[1], row[2], row[3]) for row in rows]
    ahead, left = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    line = rows_centreline(read, start_tip="right", start_mm=np.zeros(3), direction=ahead, first_bend_towards=left)
    if not line.bends:
        raise InputError("no row bends the bar: it has no arms.", expected="angles turned: 0 is straight, 90 an L.")
    corners = []
    for bend in (line.bends[0], line.bends[-1]):
        (point, _), frames = bend.evaluate(np.array([0.0, bend.length_mm]))
        reach = (bend.radius_mm or 0.0) * math.tan(0.5 * min(bend.bend_angle_rad, math.radians(170.0)))
        corners.append(point + reach * frames[0, 0])
    along = corners[1] - corners[0]
    yaw = 0.0 if math.hypot(along[0], along[1]) < 1e-6 else math.atan2(along[0], along[1])
    turn = np.array([[math.cos(yaw), -math.sin(yaw), 0.0], [math.sin(yaw), math.cos(yaw), 0.0], [0.0, 0.0, 1.0]])
    roll = -math.atan2(along[2], math.hypot(along[0], along[1]))
    level = np.array([[1.0, 0.0, 0.0], [0.0, math.cos(roll), -math.sin(roll)], [0.0, math.sin(roll), math.cos(roll)]])
    turn = level @ turn
    middle = turn @ (0.5 * (corners[0] + corners[1]))
    return LaidRows(-middle, turn @ ahead, turn @ left, 0.5 * abs(float((turn @ along)[1])))


def _rows(rows: tuple[tuple[float, ...], ...]) -> str:
    import numpy as np

    laid = laid_rows(rows)
    written = [f"  [{', '.join(f'{value:g}' for value in row)}]," for row in rows]

    def vector(name: str, values: Array) -> str:
        return f"{name} = [{', '.join(f'{value:.6g}' for value in (np.round(values, 6) + 0.0).tolist())}]"

    return "\n".join(
        [
            "[bends]                          # as the bender reads them, from the right tip",
            'start_tip = "right"',
            f"{vector('start', laid.start_mm):<32} # of that tip in the car; not from the drawing",
            f"{vector('direction', laid.direction):<32} # of the first straight: the arms' corners lie along y",
            f"{vector('first_bend_towards', laid.towards):<32} # to the left",
            "rows = [                         # straight, rotation (right-handed, walking on), angle, radius",
            *written,
            "]",
            "",
        ]
    )


def corner_mm(answers: dict[str, Any]) -> float:
    """How far from the middle the nearer arm begins, |y| of its corner."""
    if answers["rows"] is not None:
        return laid_rows(answers["rows"]).corner_mm
    lean = math.tan(math.radians(number(answers["splay"], "angle")))
    arms = [abs(number(answers[key], "length")) for key in ("arm_length", "left_arm") if answers[key] is not None]
    return min(0.5 * number(answers["width"], "length") - arm * lean for arm in arms)
