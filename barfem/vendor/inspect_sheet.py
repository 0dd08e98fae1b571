"""What is to be measured of a bar, in order: the sheet to fill in, and the same as inspection CSV."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.study.bands import hole_diameter_band
from barfem.vendor.inspect_reading import COLUMNS, FORMAT
from barfem.vendor.inspect_received import drawn_bands
from barfem.vendor.inspect_shape import drawn_points, point_names
from barfem.vendor.maker_tables import drawing_of
from barfem.vendor.part import clocking_deg
from barfem.vendor.skin_order import coating_asked, decarburised_at_most, peening_asked
from barfem.vendor.views import datum_of

__all__ = ["Asked", "asked_of", "sheet_csv"]


@frozen
class Asked:
    """One line of the sheet: what and where, nominal and limits in words, unit; of points `in_datum_mm`, A-B-C."""

    what: str
    place: str
    nominal: str
    limits: str
    unit: str
    case: str = ""
    in_datum_mm: tuple[float, float, float] | None = None


def asked_of(bar: Bar) -> tuple[Asked, ...]:
    """Everything that the drawing lets be judged."""
    drawing, bands = drawing_of(bar), drawn_bands(bar)
    zone = drawing.profile_tolerance
    profile = "" if zone is None else f"within {0.5 * zone:g} mm"
    out = []
    # In the datum in which the profile is judged, as on the drawing: nobody sets a bar up on the drawing's own axes.
    points = datum_of(bar).points(drawn_points(bar)).tolist()
    for name, (a, b, c) in zip(point_names(len(bar.centreline.bends)), points, strict=True):
        out.append(Asked("point", name, "", profile, "mm", in_datum_mm=(a, b, c)))

    def size(what: str, place: str, key: str, index: int) -> None:
        nominal, band = bands.sizes.get((key, index)), bands.of(key, index)
        if nominal is not None:
            limits = "" if band is None else f"{nominal + band[0]:.2f} to {nominal + band[1]:.2f}"
            out.append(Asked(what, place, f"{nominal:g}", limits, "mm"))

    plane = "" if drawing.datum_bend is None else f" from bend {drawing.datum_bend}'s plane"
    size("diameter", "middle", "diameter", 0)
    size("wall", "middle", "wall", 0)
    number = 0
    for i, end in enumerate(bar.ends):
        if end.flat is not None:
            size("flat thickness", f"{end.side} end", "flat_thickness", i)
            size("flat width", f"{end.side} end", "flat_width", i)
            angle, source = clocking_deg(bar, end)
            limit = drawing.clocking_tolerance or 1.0
            told = " from the other end's hole" if source == "hole" else plane
            clocked = "" if angle is None else f"clocked {angle:.1f} deg{told}"
            out.append(Asked("hole axis", f"{end.side} end", clocked, f"within {limit:g} deg", "unit vector"))
        for hole in end.holes:
            place = f"hole {hole.name} {end.side}"
            size("hole from_tip", place, "hole_position", number)
            if hole.diameter_mm is not None:
                wide, off = hole.diameter_mm, hole_diameter_band(bar, hole.diameter_mm)[0]
                out.append(Asked("hole diameter", place, f"{wide:g}", f"{wide - off:.2f} to {wide + off:.2f}", "mm"))
            number += 1
    scale = "HRC"
    if drawing.hardness is not None:
        scale = drawing.hardness.split()[-1]
    for place, window in (("right end", drawing.ends), ("middle", drawing.hardness), ("left end", drawing.ends)):
        out.append(Asked("hardness", place, "", window or drawing.hardness or "", scale))
    for hole in bar.left.holes:
        out.append(Asked("rate", f"hole {hole.name}", "", "", "N/mm", "one_end_held"))
    out.append(Asked("record", "crack test", "pass", "", ""))
    for place, given in (("coating", coating_asked(bar)), ("peening", peening_asked(bar))):
        if given:
            out.append(Asked("record", place, given, "", ""))
    if (deepest := decarburised_at_most(bar)) is not None:
        out.append(Asked("record", "decarburisation", "", f"at most {deepest[0]:g}", "mm"))
    out.append(Asked("record", "mass", "", "", "kg"))
    return tuple(out)


def sheet_csv(bar: Bar) -> str:
    """The sheet as inspection CSV without values: lines that stay empty are taken out before it is read."""
    lines = [
        f"# {FORMAT}",
        f"# drawing = {bar.drawing or ''} ; revision = {bar.revision or ''} ; units = mm, N, deg, HRC",
        "# date = ; inspector = ; instrument = ; uncertainty = 0.1 mm",
        "# Points in any measuring frame, a hole axis as unit vector in the same. Take out lines without a value.",
        ",".join(COLUMNS),
    ]
    for each in asked_of(bar):
        unit = "" if each.what in ("point", "hole axis", "record") and each.unit not in ("mm", "kg") else each.unit
        unit = "" if each.what == "point" else unit
        lines.append(f",{each.what},{each.place},,,,,{unit},{each.case},")
    return "\n".join(lines) + "\n"
