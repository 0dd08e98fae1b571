"""Sizes, holes and records of a received bar against the drawing: judged, at fault, and what the bar as received has.

Limits are the drawing's bands, or those of the standards that `barfem tolerance` takes; `inspect_judge` has the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from barfem.model.bar import Bar
from barfem.vendor.inspect_judge import Fault, JudgedNumber, Outcome
from barfem.vendor.inspect_reading import Reading
from barfem.vendor.inspect_received import DrawnBands

__all__ = ["skin_and_size"]

OVALITY_PERCENT = 8.0
HOLE_DIAMETER_MM = 0.2


def _key_of(bar: Bar, what: str, place: str) -> tuple[str, int] | None:
    """Key of [tolerances] and number of a measured size."""
    if what in ("diameter", "wall"):
        return what, 0
    if what in ("flat thickness", "flat width"):
        return what.replace(" ", "_"), 0 if place.startswith("right") else 1
    names = [f"hole {hole.name} {end.side}" for end in bar.ends for hole in end.holes]
    return ("hole_position", names.index(place)) if what == "hole from_tip" else None


def skin_and_size(
    bar: Bar, limits: DrawnBands, readings: Sequence[Reading]
) -> tuple[list[JudgedNumber], list[Fault], dict[tuple[str, int], float]]:
    """Sizes, holes and records; judged, at fault, and deviations by key and number for the bar as received.

    Of several readings of one size the one farthest to the thin side counts.
    """
    judged: list[JudgedNumber] = []
    faults: list[Fault] = []
    values: dict[tuple[str, int], float] = {}
    for reading in readings:
        if reading.what == "record":
            _record(bar, limits, reading, judged, faults, values)
            continue
        if reading.what == "ovality":
            _ovality(reading, judged, faults)
            continue
        if reading.what == "hole diameter":
            _hole_diameter(bar, reading, judged, faults)
            continue
        place = _key_of(bar, reading.what, reading.place)
        if place is None or place not in limits.sizes or reading.value is None:
            continue
        drawn = limits.sizes[place]
        off = reading.value - drawn
        values[place] = min(values.get(place, off), off) if reading.what != "hole from_tip" else off
        low, high = limits.of(*place) or (0.0, 0.0)
        passes = low - 1e-9 <= off <= high + 1e-9
        thin = off < low and reading.what == "wall"
        outcome: Outcome = "reject" if thin or reading.what == "hole from_tip" else "decide"
        named = reading.what.replace("from_tip", "from its tip")
        at = f"{named}, {reading.place}" if reading.place else named
        judged.append(
            JudgedNumber(
                at,
                reading.value,
                "mm",
                drawn + low,
                drawn + high,
                limits.sources.get(place[0], ""),
                outcome,
                passes,
            )
        )
        if not passes:
            kind = _size_kind(reading.what, off < low)
            words = f"{'thin wall, ' + reading.place if thin else at}: {reading.value:.2f} instead of {drawn:.2f} mm"
            judged[-1] = replace(judged[-1], sentence=words)
            faults.append(Fault(kind, words, reading.value, drawn))
    return judged, faults, values


def _size_kind(what: str, below: bool) -> str:
    if what == "wall":
        return "thin wall" if below else "thick wall"
    return "wrong hole position" if what == "hole from_tip" else what


def _ovality(reading: Reading, judged: list[JudgedNumber], faults: list[Fault]) -> None:
    value = reading.value or 0.0
    passes = value <= OVALITY_PERCENT
    judged.append(
        JudgedNumber(
            f"ovality, {reading.place}",
            value,
            "%",
            None,
            OVALITY_PERCENT,
            "common practice, no source",
            "decide",
            passes,
        )
    )
    if not passes:
        faults.append(
            Fault("ovality", f"ovality, {reading.place}: {value:.1f} %, at most {OVALITY_PERCENT:g}", value, None)
        )


def _hole_diameter(bar: Bar, reading: Reading, judged: list[JudgedNumber], faults: list[Fault]) -> None:
    for end in bar.ends:
        for hole in end.holes:
            if reading.place != f"hole {hole.name} {end.side}" or hole.diameter_mm is None or reading.value is None:
                continue
            off = reading.value - hole.diameter_mm
            passes = abs(off) <= HOLE_DIAMETER_MM + 1e-9
            drawn = hole.diameter_mm
            judged.append(
                JudgedNumber(
                    f"hole diameter, {reading.place}",
                    reading.value,
                    "mm",
                    drawn - HOLE_DIAMETER_MM,
                    drawn + HOLE_DIAMETER_MM,
                    "ISO 2768-1 m, from memory",
                    "reject",
                    passes,
                )
            )
            if not passes:
                faults.append(
                    Fault(
                        "wrong hole diameter",
                        f"{reading.place}: diameter {reading.value:.2f} mm instead of {drawn:.2f}",
                        reading.value,
                        drawn,
                    )
                )


def _record(
    bar: Bar,
    limits: DrawnBands,
    reading: Reading,
    judged: list[JudgedNumber],
    faults: list[Fault],
    values: dict[tuple[str, int], float],
) -> None:
    if reading.place == "decarburisation" and reading.value is not None:
        drawn = bar.steel.decarburised_depth_mm or 0.0
        values["decarburised_depth", 0] = reading.value - drawn
        band = limits.of("decarburised_depth")
        high = None if band is None else drawn + band[1]
        passes = None if high is None else reading.value <= high + 1e-9
        judged.append(
            JudgedNumber(
                "decarburised depth",
                reading.value,
                "mm",
                None,
                high,
                limits.sources.get("decarburised_depth", "no limit given"),
                "reject",
                passes,
            )
        )
        if passes is False:
            faults.append(
                Fault(
                    "decarburised",
                    f"decarburised {reading.value:.2f} mm deep, at most {high:.2f}",
                    reading.value,
                    drawn,
                )
            )
    elif reading.passed is False:
        outcome: Outcome = (
            "reject" if reading.place == "crack test" else "rework" if reading.place == "coating" else "decide"
        )
        judged.append(JudgedNumber(f"{reading.place}: fail", None, "", None, None, "as recorded", outcome, False))
        faults.append(Fault("crack" if reading.place == "crack test" else reading.place, f"{reading.place}: fail"))
