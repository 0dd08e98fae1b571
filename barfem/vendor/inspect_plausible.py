"""Measured values that no bar of the drawing can have: another unit, or a slip of the pen."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.model.bar_geometry import mass_kg
from barfem.study.bands_dimensions import dimensions_of
from barfem.vendor.csv_reading import Line

__all__ = ["refuse_implausible"]

_LIKE_DRAWN = ("diameter", "wall", "flat thickness", "flat width", "hole diameter", "mass")


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


def _drawn(line: Line, what: str, place: str, bar: Bar) -> float | None:
    """The drawing's size; None where it does not say one."""
    if what == "mass":
        return mass_kg(bar)
    if what == "hole diameter":
        holes = {f"hole {hole.name} {end.side}": hole for end in bar.ends for hole in end.holes}
        return holes[place].diameter_mm
    side = place.partition(" ")[0] if what.startswith("flat") else ""
    sizes = (each.size for each in dimensions_of(bar, what.replace(" ", "_")) if each.where.startswith(side))
    drawn = next(sizes, None)
    if drawn is None:
        of, none = ("a round end", "flat") if side else ("a solid bar", "wall")
        raise line.error("what", f"a {what} of {of}.", f"no {none} for this drawing.")
    return drawn
