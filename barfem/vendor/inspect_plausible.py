"""Measured values that no bar of the drawing can have: another unit, or a slip of the pen."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Hole
from barfem.model.bar_geometry import mass_kg
from barfem.model.errors import InputError
from barfem.study.bands_dimensions import dimensions_of
from barfem.vendor.csv_reading import Line
from barfem.vendor.inspect_shape import Rows, drawn_rows

if TYPE_CHECKING:
    from barfem.vendor.inspect_reading import Reading

__all__ = ["other_rows", "refuse_exchanged_holes", "refuse_implausible", "refuse_other_rows", "refuse_shifted_cells"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
_OTHER_UNITS = ((25.4, "inches"), (10.0, "cm"), (1.0 / 25.4, "mm, not inches"))
_NEAR_SHARE = 0.03
_SAME_MM = 1.0
_LIKE_DEG, _LIKE_MM, _UNLIKE = 3.0, 3.0, 10.0  # of rows to the other convention's, and from the drawn ones
_ANGLE = "angles turned, 0 for straight"
_LENGTH = "straights from tangent point to tangent point"
_UNIT = "lengths in mm, or units = in in the header"
_LIKE_DRAWN = ("diameter", "wall", "flat thickness", "flat width", "hole diameter", "mass")


def refuse_shifted_cells(line: Line, axes: Sequence[str]) -> None:
    """Decimal commas between commas: -374,8 fills two cells, and what follows stands under value, unit and case."""
    value, unit = line.text("value"), line.text("unit")
    if value and unit.lower() not in ("mm", "in"):
        cells = ", ".join(filter(None, (value, unit, line.text("case"))))
        raise line.error(
            "value",
            f"{cells} beside the coordinates {', '.join(line.text(axis) for axis in axes)} (decimal commas and comma "
            "separators together?).",
            "decimal points, or semicolons between the columns; a point has coordinates alone.",
        )


def refuse_implausible(line: Line, what: str, place: str, value: float, bar: Bar, *, of_row: str = "") -> None:
    """Refuse a value that is another unit rather than another bar.

    A size or mass of half or twice the drawn one; anything else outside what such a bar can have. `of_row` is length,
    rotation or angle where a row was measured.

    Raises
    ------
    InputError
        The value cannot be; names line, column and value, and what would be right.
    """
    unit = "kg" if what == "mass" else "mm"
    drawn = _drawn(line, what, place, bar) if what in _LIKE_DRAWN else None
    if drawn is not None:
        if not 0.5 < value / drawn < 2.0:
            raise line.error(
                "value",
                f"{what} {value:.4g} {unit}, drawn {drawn:.4g} {unit}.",
                f"a {what} near {drawn:.4g} {unit}; is the unit right?",
            )
        return
    if what == "hole from_tip":
        _refuse_other_unit(line, value, _holes(bar)[place].from_tip_mm)
    developed = bar.centreline.length_mm
    least, most, unit = {
        "hole diameter": (1.0, 2.0 * bar.section.diameter_mm, "mm"),  # where the drawing has none
        "hole from_tip": (0.0, 0.5 * developed, "mm"),
        "length": (0.0, developed, "mm"),
        "rotation": (-360.0, 360.0, "deg"),
        "angle": (0.0, 360.0, "deg"),
        "ovality": (0.0, 100.0, "%"),
        "decarburisation": (0.0, 0.5 * bar.section.diameter_mm, "mm"),
        "rate": (1e-3, 1e5, "N/mm"),
    }.get(of_row or what, (float("-inf"), float("inf"), ""))
    if not least <= value <= most:
        raise line.error(
            "value", f"{of_row or what} {value:.4g} {unit} cannot be.", f"{least:.4g} to {most:.4g} {unit}."
        )


def refuse_exchanged_holes(who: str, readings: Sequence[Reading], bar: Bar, *, file: str) -> None:
    """Refuse places of two holes of one end that are the drawn ones under each other's name.

    Raises
    ------
    InputError
        Names both holes, their lines and places.
    """
    drawn = {place: hole.from_tip_mm for place, hole in _holes(bar).items()}
    places = [each for each in readings if each.what == "hole from_tip" and each.place in drawn]
    for one, two in combinations(places, 2):
        first, second = one.value or 0.0, two.value or 0.0
        apart = abs(drawn[one.place] - drawn[two.place])
        crossed = max(abs(first - drawn[two.place]), abs(second - drawn[one.place]))
        if one.place.split()[-1] == two.place.split()[-1] and crossed <= min(_SAME_MM, 0.25 * apart):
            raise InputError(
                f"bar {who}: {one.place} and {two.place} look exchanged: {first:.4g} and {second:.4g} mm, drawn "
                f"{drawn[one.place]:.4g} and {drawn[two.place]:.4g}.",
                where=f"lines {one.line} and {two.line}, column place",
                expected="each hole under its own name, as the drawing counts them.",
                file=file,
            )


def refuse_other_rows(who: str, readings: Sequence[Reading], bar: Bar, *, file: str) -> None:
    """Refuse measured rows that are the drawing's in another convention or unit, from either tip.

    Raises
    ------
    InputError
        Names what they look like, and the line of the first.
    """
    for what in ("angle", "length"):
        rows = [r for r in readings if r.what == "row" and r.unit == what]
        at = np.array([int(r.place.removeprefix("row ")) - 1 for r in rows], dtype=int)
        other = other_rows(drawn_rows(bar), what, at, np.array([r.value for r in rows], dtype=float))
        if other is not None:
            where = f"line {rows[0].line}, column value"
            raise InputError(f"bar {who}: {other[0]}", where=where, expected=other[1], file=file)


def other_rows(drawn: Rows, what: str, at: Index, found: Array) -> tuple[str, str] | None:
    """What these angles or lengths of rows `at` are if they are the drawn ones in another convention or unit.

    From either tip; the problem, and what would be right. None: they are no such thing.
    """
    tangent = drawn.radius_mm * np.tan(0.5 * np.radians(drawn.angle_deg))
    between = drawn.straight_mm + np.append(tangent, 0.0) + np.append(0.0, tangent)
    angle, length = drawn.angle_deg, drawn.straight_mm
    others = {
        "angle": [(angle, 180.0 - angle, _LIKE_DEG, "angles are included angles", _ANGLE)],
        "length": [
            (length, between, _LIKE_MM, "lengths are between intersections, not tangents", _LENGTH),
            *((length, length / f, _NEAR_SHARE, f"lengths are as many {unit}", _UNIT) for f, unit in _OTHER_UNITS),
        ],
    }
    for right, other, near, problem, expected in others[what]:
        for sense in (1, -1):
            as_drawn, as_other = right[::sense][at], other[::sense][at]
            band = near * as_other if expected is _UNIT else near
            if np.all(np.abs(found - as_other) <= band) and np.sum(np.abs(found - as_drawn) > _UNLIKE) > 1:
                shown, unit = ", ".join(f"{value:.4g}" for value in found), "deg" if what == "angle" else "mm"
                return f"{problem}: {shown} {unit}.", (
                    f"{expected}: {', '.join(f'{value:.4g}' for value in as_drawn)} {unit} are drawn."
                )
    return None


def _refuse_other_unit(line: Line, value: float, drawn: float) -> None:
    for factor, unit in _OTHER_UNITS:
        if drawn > 0.0 and abs(value * factor / drawn - 1.0) < _NEAR_SHARE:
            raise line.error(
                "value",
                f"hole from_tip {value:.3g} mm, drawn {drawn:.4g} mm: as many {unit}.",
                f"a hole from_tip near {drawn:.4g} mm; is the unit right?",
            )


def _holes(bar: Bar) -> dict[str, Hole]:
    return {f"hole {hole.name} {end.side}": hole for end in bar.ends for hole in end.holes}


def _drawn(line: Line, what: str, place: str, bar: Bar) -> float | None:
    """The drawing's size; None where it does not say one."""
    if what == "mass":
        return mass_kg(bar)
    if what == "hole diameter":
        return _holes(bar)[place].diameter_mm
    side = place.partition(" ")[0] if what.startswith("flat") else ""
    sizes = (each.size for each in dimensions_of(bar, what.replace(" ", "_")) if each.where.startswith(side))
    drawn = next(sizes, None)
    if drawn is None:
        of, none = ("a round end", "flat") if side else ("a solid bar", "wall")
        raise line.error("what", f"a {what} of {of}.", f"no {none} for this drawing.")
    return drawn
