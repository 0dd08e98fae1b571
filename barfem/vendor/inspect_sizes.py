"""Sizes, holes and records of a received bar against the drawing: judged, at fault, and what the bar as received has.

Limits are the drawing's bands, or those of the standards that `barfem tolerance` takes; `inspect_judge` has the rest.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from barfem.model.bar import Bar
from barfem.model.bar_geometry import mass_kg
from barfem.model.bent_wall import bent_wall
from barfem.model.hardness import tensile_from_hardness, within_table
from barfem.study.bands import hole_diameter_band
from barfem.vendor.inspect_judge import Findings, JudgedNumber, Outcome, cannot_be_judged
from barfem.vendor.inspect_reading import Reading, wall_in_bend
from barfem.vendor.inspect_received import DrawnBands
from barfem.vendor.skin_order import decarburised_at_most, peening_asked

__all__ = [
    "hole_diameters",
    "noted",
    "of_no_place",
    "outermost_holes",
    "peening_failed",
    "skin_and_size",
    "tensile_of",
]

OVALITY_PERCENT = 8.0
_ALMEN = re.compile(r"(\d*\.?\d+)(?:\s*(?:-|to)\s*(\d*\.?\d+))?\s*mm\s*([ANC])\b")


def _key_of(bar: Bar, what: str, place: str) -> tuple[str, int] | None:
    """Key of [tolerances] and number of a measured size."""
    if what in ("diameter", "wall"):
        return what, 0
    if what in ("flat thickness", "flat width"):
        return what.replace(" ", "_"), 0 if place.startswith("right") else 1
    names = [f"hole {hole.name} {end.side}" for end in bar.ends for hole in end.holes]
    return ("hole_position", names.index(place)) if what == "hole from_tip" and place in names else None


def noted(bar: Bar, readings: Sequence[Reading]) -> list[str]:
    """In words, records that nothing limits: mass, decarburisation, neither pass nor fail; what is taken otherwise."""
    notes = []
    if peening_failed(bar, readings):
        notes.append("peening recorded as failed: the bar as received is taken as unpeened")
    for each in readings:
        if each.what == "hardness" and each.value is not None:
            end = within_table(each.value, scale=each.unit)
            if end != each.value:
                notes.append(
                    f"{each.value:g} {each.unit}, {each.place or 'hardness'}, lies beyond the table of ISO 18265: "
                    f"strength of its end, {end:g} {each.unit}"
                )
        if each.what != "record":
            continue
        if each.value is None:
            if each.passed is None and _intensity(bar, each) is None:
                notes.append(f'{each.place}: "{each.unit}" as recorded, neither pass nor fail: noted, not judged')
        elif each.place == "mass":
            drawn = mass_kg(bar)
            off = 100.0 * (each.value / drawn - 1.0)
            notes.append(f"mass {each.value:.3f} kg, {off:+z.1f} % of the drawing's {drawn:.3f}: noted, not judged")
        elif each.place == "decarburisation" and decarburised_at_most(bar) is None:
            notes.append(
                f"decarburised {each.value:.2f} mm deep: in the bar as received, not judged, for [material] "
                "decarburised_depth gives no limit"
            )
    return notes


def peening_failed(bar: Bar, readings: Sequence[Reading]) -> bool:
    """Whether the drawing's peening was recorded as failed."""
    records = [each for each in readings if each.what == "record" and each.place == "peening"]
    weak = [each for each in records if (found := _intensity(bar, each)) is not None and found[0] < found[1]]
    return bar.steel.peening is not None and (bool(weak) or any(each.passed is False for each in records))


def _intensity(bar: Bar, reading: Reading) -> tuple[float, float, float, str] | None:
    """Arc height recorded of peening with the drawing's least and greatest [mm], where both name one Almen strip."""
    asked, found = (_ALMEN.search(text.replace(",", ".")) for text in (peening_asked(bar) or "", reading.unit))
    if reading.place != "peening" or asked is None or found is None or found[3] != asked[3]:
        return None
    low, high, value = float(asked[1]), float(asked[2] or asked[1]), float(found[1])
    return value, low, high, f"mm {asked[3]}"


def of_no_place(bar: Bar, limits: DrawnBands, readings: Sequence[Reading]) -> list[str]:
    """In words, sizes of holes and flats that the end has not which they turn out to be of, and axes in round ends."""
    round_ends = {end.side for end in bar.ends if end.flat is None}
    holes = {f"hole {hole.name} {end.side}" for end in bar.ends for hole in end.holes}
    return [
        f"line {each.line}: {each.what} left out: by the points it is of the end that has no such hole or flat"
        for each in readings
        if (each.what.startswith("hole ") and each.place.startswith("hole ") and each.place not in holes)
        or (each.what.startswith("flat ") and _key_of(bar, each.what, each.place) not in limits.sizes)
    ] + [
        f"line {each.line}: hole axis left out: the drawing gives the holes of a round end none"
        for each in readings
        if each.what == "hole axis" and each.place.removesuffix(" end").split()[-1] in round_ends
    ]


def skin_and_size(
    bar: Bar, limits: DrawnBands, readings: Sequence[Reading], out: Findings
) -> dict[tuple[str, int], float]:
    """Judge sizes, holes and records; deviations by key and number for the bar as received.

    Of several readings of one size the one farthest to the thin side counts.
    """
    values: dict[tuple[str, int], float] = {}
    for reading in readings:
        if reading.what == "record":
            _record(bar, reading, out, values)
        elif reading.value is None:
            continue
        elif reading.what == "ovality":
            what = f"ovality, {reading.place}"
            source = "common practice, no source"
            one = JudgedNumber.by_limits(what, reading.value, "%", None, OVALITY_PERCENT, source, "decide")
            out.add(one, "ovality", f"{what}: {reading.value:.1f} %", said=True)
        elif reading.what == "hole diameter":
            _hole_diameter(bar, reading.place, reading.value, out)
        elif (place := _key_of(bar, reading.what, reading.place)) is not None and place in limits.sizes:
            share = _share_of_wall(bar, reading.place) if reading.what == "wall" else 1.0
            _size(limits, place, reading.what, reading.place, reading.value, out, values, share=share)
    return values


def _share_of_wall(bar: Bar, place: str) -> float:
    """The drawn wall at a place over that of the straights: at the outside of a bend it is thinner, inside thicker."""
    at = wall_in_bend(place)
    bends = [segment for segment in bar.centreline.segments if segment.radius_mm is not None]
    if at is None or bar.section.wall_mm is None or at[0] > len(bends):
        return 1.0
    walls = bent_wall(bar.section, bends[at[0] - 1])
    return (walls.outside if at[1] == "outside" else walls.inside) / bar.section.wall_mm


def _size(
    limits: DrawnBands,
    key: tuple[str, int],
    what: str,
    place: str,
    value: float,
    out: Findings,
    values: dict[tuple[str, int], float],
    *,
    share: float,
) -> None:
    """`share` of the drawn size is what the place should have; the bar as received goes by the size that this makes."""
    drawn = limits.sizes[key]
    off = value / share - drawn
    values[key] = min(values.get(key, off), off) if what != "hole from_tip" else off
    low, high = limits.of(*key) or (0.0, 0.0)
    thin = off < low and what == "wall"
    at = what.replace("from_tip", "from its tip") + (f", {place}" if place else "")
    outcome: Outcome = "reject" if thin or what == "hole from_tip" else "decide"
    source, quantity = limits.sources.get(key[0], ""), f"{what}_mm" if what in ("diameter", "wall") else ""
    least, most = share * (drawn + low), share * (drawn + high)
    one = JudgedNumber.by_limits(at, value, "mm", least, most, source, outcome, quantity)
    kind = {"wall": "thin wall" if thin else "thick wall", "hole from_tip": "wrong hole position"}.get(what, what)
    words = f"{f'thin wall, {place}' if thin else at}: {_beyond(value, least, most)} instead of {share * drawn:.2f} mm"
    out.add(one, kind, words, drawn, said=True)


def _beyond(value: float, low: float, high: float) -> str:
    """To two decimals, or as many as show that it lies beyond its limits: 22.004 instead of 22.00."""
    texts = [f"{value:.{digits}f}" for digits in (2, 3, 4, 6)]
    return next((text for text in texts if not low <= float(text) <= high), texts[0])


def _hole_diameter(bar: Bar, place: str, value: float, out: Findings) -> None:
    holes = {f"hole {hole.name} {end.side}": hole for end in bar.ends for hole in end.holes}
    drawn = holes[place].diameter_mm if place in holes else None
    if drawn is None:
        return
    off, source = hole_diameter_band(bar, drawn)
    at = f"hole diameter, {place}"
    one = JudgedNumber.by_limits(at, value, "mm", drawn - off, drawn + off, source, "reject")
    words = f"{place}: diameter {_beyond(value, drawn - off, drawn + off)} instead of {drawn:.2f} mm"
    out.add(one, "wrong hole diameter", words, drawn, said=True)


def _record(bar: Bar, reading: Reading, out: Findings, values: dict[tuple[str, int], float]) -> None:
    if reading.place == "decarburisation" and reading.value is not None:
        drawn = bar.steel.decarburised_depth_mm or 0.0
        values["decarburised_depth", 0] = reading.value - drawn
        high, source = decarburised_at_most(bar) or (None, "no limit given")
        one = JudgedNumber.by_limits("decarburised depth", reading.value, "mm", None, high, source, "reject")
        out.add(one, "decarburised", f"decarburised {reading.value:.2f} mm deep", drawn, said=True)
    elif (almen := _intensity(bar, reading)) is not None:
        value, low, high, unit = almen
        one = JudgedNumber.by_limits("peening", value, unit, low, high, peening_asked(bar) or "", "decide")
        out.add(one, "peening", f"peening: {value:g} instead of {low:g} to {high:g} {unit}", said=True)
    elif reading.passed is None and reading.value is None and not re.match(r"[<>~]?\s*[\d.]", reading.unit):
        # A number is a finding that the drawing may not limit; words are for a person to read.
        cannot_be_judged([f'{reading.place} recorded as "{reading.unit}", neither pass nor fail'], out)
    elif reading.passed is False:
        outcomes: dict[str, Outcome] = {"crack test": "reject", "coating": "rework"}
        words, outcome = f"{reading.place}: fail", outcomes.get(reading.place, "decide")
        one = JudgedNumber(words, None, "", None, None, "as recorded", outcome, False)
        out.add(one, "crack" if reading.place == "crack test" else reading.place, words)


def outermost_holes(bar: Bar, readings: Sequence[Reading]) -> tuple[float | None, float | None]:
    """Where the outermost hole of the right and the left end was measured, from its tip [mm]."""
    out: list[float | None] = []
    for end in bar.ends:
        hole = min(end.holes, key=lambda each: each.from_tip_mm)
        name = f"hole {hole.name} {end.side}"
        out.append(next((r.value for r in readings if r.what == "hole from_tip" and r.place == name), None))
    return out[0], out[1]


def tensile_of(
    readings: Sequence[Reading], numbers: dict[str, float]
) -> tuple[float | None, tuple[float | None, float | None]]:
    """Strength of the body, the least of its readings, and of each end where measured there."""
    body: list[float] = []
    ends: list[float | None] = [None, None]
    for reading in readings:
        if reading.what != "hardness" or reading.value is None:
            continue
        inside = within_table(reading.value, scale=reading.unit)
        tensile = tensile_from_hardness(inside, scale=reading.unit)
        if reading.place in ("right end", "left end"):
            ends[0 if reading.place == "right end" else 1] = tensile
        else:
            body.append(tensile)
            name = f"hardness_{reading.unit}"
            numbers[name] = min(numbers.get(name, reading.value), reading.value)
    if body:
        numbers["strength_MPa"] = min(body)
    return (min(body) if body else None), (ends[0], ends[1])


def hole_diameters(bar: Bar, readings: Sequence[Reading]) -> dict[tuple[str, str], float]:
    """Diameters of holes that were measured, by end and hole."""
    return {
        (end.side, hole.name): reading.value
        for reading in readings
        if reading.what == "hole diameter" and reading.value is not None
        for end in bar.ends
        for hole in end.holes
        if reading.place == f"hole {hole.name} {end.side}"
    }
