"""What an order says of skin and sizes: the drawing's own words, else what the check counts on; never left out."""

from __future__ import annotations

from contextlib import suppress

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.study.bands import bands_of, hole_diameter_band
from barfem.vendor.maker_tables import drawing_of

__all__ = ["coating_asked", "decarburised_at_most", "peening_asked", "size_tolerances"]

_BODY, _ENDS = ("diameter", "wall"), ("flat_thickness", "flat_width", "hole_position")
_ROWS = ("straight_length", "bend_radius", "bend_angle", "bend_rotation")


def peening_asked(bar: Bar) -> str | None:
    """[drawing] peening, or the peening of [material]; None where there is neither."""
    own, peening = drawing_of(bar).peening, bar.steel.peening
    if own or peening is None:
        return own
    coverage = peening.coverage_percent
    known, open_ = (f", coverage {coverage:g} %", "") if coverage is not None else ("", " and coverage")
    return f"shot-peened outside{known}; intensity{open_} not given: to be agreed"


def coating_asked(bar: Bar) -> str | None:
    """[drawing] coating, or the plating of [material]; None where there is neither."""
    plating = bar.steel.plating
    return drawing_of(bar).coating or (f"{plating} plated; process not given: to be agreed" if plating else None)


def decarburised_at_most(bar: Bar) -> tuple[float, str] | None:
    """Greatest depth in mm and where it stands: [tolerances], or what the check counts on; None where neither says."""
    depth = bar.steel.decarburised_depth_mm
    for band in bands_of(bar, given_alone=True):
        if band.key == "decarburised_depth":
            return (depth or 0.0) + band.variables[0].high, "[tolerances] decarburised_depth"
    return None if depth is None else (depth, "[material] decarburised_depth")


def size_tolerances(bar: Bar) -> list[str]:
    """In words, the bands that a bar is judged by and no other line of the drawing says.

    Those that [tolerances] gives, and the standards' for the body; for flats and holes where there is no general
    tolerance, for rows where neither profile nor tip mismatch limits the form.
    """
    drawing = drawing_of(bar)
    general = drawing.general_tolerance not in (None, "none")
    said = {*_BODY, *(() if general else _ENDS)}
    said |= set(_ROWS if drawing.profile_tolerance is None and drawing.tip_mismatch is None else ())
    bands = bands_of(bar, given_alone=True)
    with suppress(InputError):  # a standard that does not reach this size
        bands = tuple(band for band in bands_of(bar) if band.given or band.key in said)
    made = (*_BODY, *_ENDS, *_ROWS, "tip_position")
    words = [(band.given, f"{band.title} {band.text.partition(',')[0]}") for band in bands if band.key in made]
    default = [each for given, each in words if not given]
    drilled = {hole.diameter_mm for end in bar.ends for hole in end.holes if hole.diameter_mm is not None}
    if drilled and not general:
        default.append(f"hole diameter ±{max(hole_diameter_band(bar, each)[0] for each in drilled):g} mm")
    return [*(each for given, each in words if given), *(f"by default {each}" for each in default[:1]), *default[1:]]
