"""Rules of the review that look at what drawing and order say: orientation, sideways hold, hardness, skin, fields."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.hardness import parse_hardness, tensile_from_hardness, vickers_from_tensile
from barfem.vendor.maker_tables import axis_noted, bending_of, drawing_of
from barfem.vendor.orientation import orientation_of
from barfem.vendor.rules import Finding, Rule, finding

__all__ = ["on_paper"]

Rules = Mapping[str, Rule]
STIFF_N_PER_MM = 1000.0  # axial, of a stop; rubber alone has some hundred (common practice, no source)
PICKLES = ("pickl", "plat", "galvan", "zinc", "zn", "chrom", "nickel", "cadm")
WITHOUT = ("no pickling", "without pickling", "not pickled", "zinc phosphate", "zinc flake", "zinc-flake", "bak")

# Table and key: the least and the most that is usual, mm or deg; what is said where the maker needs it and it is open.
_USUAL = {
    ("drawing", "profile_tolerance"): (
        0.3, 30.0, "no profile tolerance: nothing limits the form of the whole bar (a general tolerance does not)"),
    ("drawing", "tip_mismatch"): (
        0.2, 30.0, "no greatest tip mismatch: it is what twists the bar when it is fitted"),
    ("drawing", "clocking_tolerance"): (0.1, 15.0, None),
    ("bending", "clamp_length"): (5.0, 300.0, None),
    ("bending", "end_allowance"): (0.5, 300.0, None),
}  # fmt: skip


def on_paper(bar: Bar, rules: Rules) -> list[Finding]:
    """Findings of what the papers say or leave out."""
    parts = (_hole_axes, _orientation, _sideways, _hardness, _skin, _fields)
    return [each for part in parts for each in part(bar, rules)]


def _hole_axes(bar: Bar, rules: Rules) -> Iterator[Finding]:
    drilled = [end for end in bar.ends if end.flat is None and any(hole.diameter_mm is not None for hole in end.holes)]
    if drilled and not axis_noted(bar):
        what = (
            "holes go through a round end, which gives them no axis, and no note says along what they are drilled: a "
            'note such as "Hole axes across the arm, level as fitted"'
        )
        where = " and ".join(f"{end.side} end" for end in drilled)
        yield from finding(rules["hole_axis"], None, what, where, given="ask")


def _orientation(bar: Bar, rules: Rules) -> Iterator[Finding]:
    found, paper = orientation_of(bar), drawing_of(bar)
    rule, marked = rules["orientation"], paper.marking is not None and paper.mark_at is not None
    hand = (
        "it is handed: its mirror image is another part, and the drawing must name the hand"
        if found.handed
        else "it is its own mirror image: there is no other hand"
    )
    if found.two_fold:
        what = f"a half turn maps the bar onto itself: its ends cannot be told apart, and need not be; {hand}"
        yield from finding(rule, None, what, "whole bar", given="note")
        return
    at = f"{paper.mark_at} end marked {paper.marking!r}" if marked else "no marking is given"
    way = (
        f"turned over end for end it fits its bushings (within {found.turned_fits_mm:.1f} mm) and its holes come "
        f"within {found.turned_reach_mm:.1f} mm of the links: it can be fitted upside down"
        if found.can_be_turned
        else "turned over end for end it does not go into its bushings or reach its links"
    )
    what = (
        f"no half turn maps the bar onto itself: its ends differ; {hand}; {way}. The marking must name one end (right "
        f"or left){' and the side that is up' if found.can_be_turned else ''}; {at}"
    )
    yield from finding(rule, None, what, "whole bar", given="note" if marked else "ask")


def _sideways(bar: Bar, rules: Rules) -> Iterator[Finding]:
    stiffest = max((mount.axial_stiffness_N_per_mm for mount in bar.mounts), default=0.0)
    if stiffest <= 0.0 and not bar.collars:
        what = "nothing holds the bar sideways: no mount with axial stiffness, no collar"
        yield from finding(rules["sideways"], stiffest, what, "mounts", given="stop")
    stiff = [m.station_mm for m in bar.mounts if m.axial_stiffness_N_per_mm >= STIFF_N_PER_MM]
    if len(stiff) > 1:
        apart = max(stiff) - min(stiff)
        what = (
            f"two mounts of at least {STIFF_N_PER_MM:g} N/mm axial stiffness, {apart:.0f} mm apart, both hold the bar "
            "sideways: length tolerance and heat load them against each other"
        )
        yield from finding(rules["sideways_apart"], apart, what, "mounts")


def _hardness(bar: Bar, rules: Rules) -> Iterator[Finding]:
    paper, steel = drawing_of(bar), bar.steel
    if paper.hardness is None:
        what = "no hardness window is given: hardness is what a received bar is judged by"
        yield from finding(rules["hardness"], None, what, "[drawing] hardness", given="ask")
    ratio = steel.yield_strength_MPa / steel.tensile_strength_MPa
    scales = (("middle", paper.hardness, 1.0), *((f"{e.side} end", paper.ends, e.strength_scale) for e in bar.ends))
    for where, text, scale in scales:
        if text is None:
            continue
        window = parse_hardness(text)
        found = ratio * tensile_from_hardness(window.low, scale=window.scale)
        asked = steel.yield_strength_MPa * scale
        what = f"{window.low:g} {window.scale} makes about {found:.0f} MPa of yield; the check uses {asked:.0f} MPa"
        yield from finding(rules["hardness"], found / asked, what, where)
        if where == "middle":
            wide = _rockwell_width(window.low, window.high, window.scale)
            said = f"{window.text} is {wide:.1f} HRC wide"
            yield from finding(rules["hardness_window"], wide, said, where)
            if wide < _NARROWEST_HRC and rules["hardness_window"].ask is not None:
                said += ": no furnace holds it, and measuring alone scatters by 1 HRC; every bar is judged by it"
                yield from finding(rules["hardness_window"], None, said, where, given="ask")


_NARROWEST_HRC = 2.0  # of a window that bars can be made to (common practice, no source)


def _rockwell_width(low: float, high: float, scale: str) -> float:
    """Width of a window in HRC; of other scales by way of tensile strength and Vickers hardness, by one table."""
    if scale == "HRC":
        return high - low
    try:
        ends = [float(vickers_from_tensile(tensile_from_hardness(value, scale=scale))) for value in (low, high)]
    except InputError:
        return 0.0
    vickers, rockwell = _VICKERS_ROCKWELL
    one, other = np.interp(ends, vickers, rockwell)
    return float(other - one)


# ISO 18265 Table A.1, from memory, sure: HV and HRC.
_VICKERS_ROCKWELL = ((250.0, 300.0, 350.0, 400.0, 450.0, 500.0, 600.0), (22.2, 29.8, 35.5, 40.8, 45.3, 49.1, 55.2))


def _skin(bar: Bar, rules: Rules) -> Iterator[Finding]:
    paper, steel = drawing_of(bar), bar.steel
    if steel.peening is not None and paper.peening is None:
        what = "the skin is shot-peened in the check, and intensity and coverage are not given"
        yield from finding(rules["peening"], None, what, "[drawing] peening", given="ask")
    coating = (paper.coating or "").lower()
    plating = steel.plating or (paper.coating if any(word in coating for word in PICKLES) else None)
    if plating and not any(word in coating for word in WITHOUT):
        yield from finding(
            rules["hydrogen"],
            steel.tensile_strength_MPa,
            f"{plating!r} pickles or plates steel of {steel.tensile_strength_MPa:.0f} MPa, and baking is not asked for:"
            " hydrogen cracks it days later",
            "[drawing] coating",
        )
    limited = steel.decarburised_depth_mm is not None or any("decarb" in note.lower() for note in paper.notes)
    if not limited:
        what = "decarburisation is not limited: give [material] decarburised_depth, or a note with the greatest depth"
        yield from finding(rules["decarburisation"], None, what, "[drawing] notes", given="ask")


def _fields(bar: Bar, rules: Rules) -> Iterator[Finding]:
    paper = drawing_of(bar)
    boxes = ("company", "drawn_by", "approved_by", "date", "coating", "marking")
    empty = [name for name in boxes if getattr(paper, name) is None]
    empty += [name for name, value in (("number", bar.drawing), ("revision", bar.revision)) if value is None]
    if empty:
        what = f"fields left empty: {', '.join(empty)}"
        yield from finding(rules["drawing"], None, what, "[drawing]", given="ask")
    given = {} if bar.tables is None else bar.tables.get("tolerances", {})
    if paper.general_tolerance in (None, "none"):
        needed = {"length": "straight_length", "angle": "bend_angle", "hole": "hole_position"}
        if any(end.flat is not None for end in bar.ends):
            needed["flat"] = "flat_thickness"
        missing = [what for what, key in needed.items() if key not in given]
        if missing:
            what = f"no tolerance on {', '.join(missing)}: neither a general tolerance nor [tolerances] says one"
            yield from finding(rules["tolerances"], None, what, "[drawing] general_tolerance", given="ask")
    for (table, key), (least, most, open_) in _USUAL.items():
        value = getattr(bending_of(bar) if table == "bending" else paper, key)
        if value is None and open_:
            yield from finding(rules["tolerances"], None, open_, f"[{table}] {key}", given="ask")
        elif value and not least <= value <= most:
            what = f"{key} {value:g}: {least:g} to {most:g} is usual (common practice, no source); which unit is it in?"
            yield from finding(rules["tolerances"], value, what, f"[{table}] {key}", given="ask")
