"""What is judged of a received bar, each with its number, its limit and where the limit stands; and what it leads to.

Limits are the drawing's; those that it does not give are the bands of [tolerances], or of the standards that
`barfem tolerance` takes. Form is judged by the profile of the tangent points and the mismatch of the tips; rows name
the fault, and are judged themselves only where the drawing gives neither.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from barfem.model.bar import Bar
from barfem.model.hardness import HARDNESS_SOURCE, parse_hardness, tensile_from_hardness
from barfem.vendor.inspect_fit import Fit
from barfem.vendor.inspect_reading import Reading
from barfem.vendor.inspect_received import Limits
from barfem.vendor.inspect_rows import RowDifference, RowFit
from barfem.vendor.inspect_shape import point_names
from barfem.vendor.maker_tables import drawing_of

__all__ = ["CLOCKING_DEG", "Fault", "JudgedNumber", "form", "row_faults", "skin_and_size", "strength", "worst_outcome"]

Outcome = Literal["reject", "rework", "decide"]
CLOCKING_DEG = 1.0
OVALITY_PERCENT = 8.0
HOLE_DIAMETER_MM = 0.2
_KEY = {"length": "straight_length", "radius": "bend_radius", "angle": "bend_angle", "rotation": "bend_rotation"}


@dataclass(frozen=True)
class JudgedNumber:
    """One judged number. `outcome` is what it leads to where it lies outside; `passes` None where there is no limit."""

    what: str
    measured: float | None
    unit: str
    low: float | None
    high: float | None
    source: str
    outcome: Outcome
    passes: bool | None
    said: str = ""
    """The fault's own words, in place of what and number."""

    @property
    def words(self) -> str:
        """The judgement in words: what, number, limits, source."""
        number = "" if self.measured is None else f" {self.measured:.4g}{' ' + self.unit if self.unit else ''}"
        low, high = self.low, self.high
        if low is not None and high is not None:
            limit = f"{low:.5g} to {high:.5g}"
        elif high is not None:
            limit = f"at most {high:.4g}"
        elif low is not None:
            limit = f"at least {low:.4g}"
        else:
            limit = ""
        told = ", ".join(filter(None, (limit and f"limit {limit}", self.source)))
        return f"{self.said or self.what + number}{f' ({told})' if told else ''}"


@dataclass(frozen=True)
class Fault:
    """A cause, in the bender's words. `row` counts from the right tip, None where it is of no row."""

    kind: str
    words: str
    measured: float | None = None
    nominal: float | None = None
    row: int | None = None


def _within(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low - 1e-9) and (high is None or value <= high + 1e-9)


def form(bar: Bar, fit: Fit | None) -> list[JudgedNumber]:
    """Profile and mismatch of the tips, where the drawing limits them."""
    if fit is None or fit.kind != "function":
        return []
    drawing, out = drawing_of(bar), []
    largest = float(fit.distance_mm.max())
    if drawing.profile_tolerance is not None:
        zone = 0.5 * drawing.profile_tolerance
        at = point_names(len(bar.centreline.bends))[int(fit.distance_mm.argmax())]
        out.append(
            JudgedNumber(
                f"{at} off by",
                largest,
                "mm",
                None,
                zone,
                f"half of [drawing] profile_tolerance {drawing.profile_tolerance:g}",
                "rework",
                largest <= zone,
            )
        )
    if drawing.tip_mismatch is not None and fit.tip_mismatch_mm is not None:
        off = abs(fit.tip_mismatch_mm)
        out.append(
            JudgedNumber(
                "tip mismatch",
                off,
                "mm",
                None,
                drawing.tip_mismatch,
                "[drawing] tip_mismatch",
                "rework",
                off <= drawing.tip_mismatch,
            )
        )
    return out


def row_faults(
    bar: Bar, limits: Limits, rows: RowFit, judged: Sequence[JudgedNumber]
) -> tuple[list[Fault], list[JudgedNumber]]:
    """Rows to be named, and rows judged themselves where the drawing limits neither profile nor mismatch.

    Named are rows outside their band; where form is out and none is, all that differ.
    """
    outside = [each for each in rows.differences if not _in_band(limits, each)]
    named = outside
    if not outside and any(each.passes is False for each in judged):
        named = list(rows.differences)
    faults = [
        Fault(
            f"{'bend' if each.what != 'length' else 'straight'} {each.what}",
            row_words(bar, each),
            each.measured,
            each.nominal,
            each.row,
        )
        for each in named
    ]
    if judged:
        return faults, []
    out = []
    for each in rows.differences:
        band = limits.of(_KEY[each.what], each.row - (2 if each.what == "rotation" else 1))
        if band is not None:
            out.append(
                JudgedNumber(
                    row_words(bar, each),
                    None,
                    "",
                    each.nominal + band[0],
                    each.nominal + band[1],
                    limits.sources.get(_KEY[each.what], ""),
                    "rework",
                    _in_band(limits, each),
                )
            )
    return faults, out


def _in_band(limits: Limits, each: RowDifference) -> bool:
    band = limits.of(_KEY[each.what], each.row - (2 if each.what == "rotation" else 1))
    return band is None or band[0] - 1e-9 <= each.difference <= band[1] + 1e-9


def row_words(bar: Bar, each: RowDifference) -> str:
    """The difference as a bender reads it: "bend 3: rotation 2.5 deg too far (92.5 instead of 90.0)"."""
    off, unit = each.difference, each.unit
    instead = f"({each.measured:.1f} instead of {each.nominal:.1f} {unit})"
    if each.what == "length":
        last = len(bar.centreline.bends) + 1
        arm = ": right arm" if each.row == 1 else ": left arm" if each.row == last else ""
        return f"straight {each.row}{arm}: {abs(off):.1f} mm too {'long' if off > 0 else 'short'} {instead}"
    if each.what == "radius":
        return f"bend {each.row}: radius {abs(off):.1f} mm too {'large' if off > 0 else 'small'} {instead}"
    if each.what == "angle":
        how = "overbent" if off > 0 else "underbent"
        return f"bend {each.row}: {each.measured:.1f} instead of {each.nominal:.1f} deg, {abs(off):.1f} deg {how}"
    how = "too far" if off * (each.nominal if abs(each.nominal) > 0.05 else 1.0) > 0 else "short"
    return f"bend {each.row}: rotation {abs(off):.1f} deg {how} {instead}"


def strength(bar: Bar, limits: Limits, readings: Sequence[Reading]) -> tuple[list[JudgedNumber], list[Fault]]:
    """Hardness against the drawing's window, or the strength that it stands for against the band of strength."""
    drawing, judged, faults = drawing_of(bar), [], []
    for reading in readings:
        assert reading.value is not None
        window = (drawing.ends if reading.place in ("right end", "left end") else None) or drawing.hardness
        tensile = tensile_from_hardness(reading.value, scale=reading.unit)
        told = parse_hardness(window) if window else None
        if told is not None and told.scale == reading.unit:
            value, unit, low, high, source = reading.value, reading.unit, told.low, told.high, "[drawing] hardness"
        elif told is not None:
            value, unit, source = tensile, "MPa", f"[drawing] hardness {told.text}, {HARDNESS_SOURCE}"
            low, high = (tensile_from_hardness(each, scale=told.scale) for each in (told.low, told.high))
        else:
            if reading.place in ("right end", "left end"):
                continue  # the band is the body's: ends may be drawn back
            band = limits.of("tensile_strength")
            if band is None:
                continue
            value, unit, source = tensile, "MPa", HARDNESS_SOURCE
            low, high = (bar.steel.tensile_strength_MPa + each for each in band)
        where = reading.place or "hardness"
        what = f"hardness, {where}" if unit != "MPa" else f"strength by hardness, {where}"
        passes = _within(value, low, high)
        outcome: Outcome = "reject" if value < low else "decide"
        kind = "soft" if value < low else "hard"
        told_of = f"too {kind}, {where}: {reading.value:.4g} {reading.unit}, about {tensile:.0f} MPa"
        judged.append(JudgedNumber(what, value, unit, low, high, source, outcome, passes, "" if passes else told_of))
        if not passes:
            faults.append(Fault(kind, told_of, value, low if kind == "soft" else high))
    return judged, faults


def _key_of(bar: Bar, what: str, place: str) -> tuple[str, int] | None:
    """Key of [tolerances] and number of a measured size."""
    if what in ("diameter", "wall"):
        return what, 0
    if what in ("flat thickness", "flat width"):
        return what.replace(" ", "_"), 0 if place.startswith("right") else 1
    names = [f"hole {hole.name} {end.side}" for end in bar.ends for hole in end.holes]
    return ("hole_position", names.index(place)) if what == "hole from_tip" else None


def skin_and_size(
    bar: Bar, limits: Limits, readings: Sequence[Reading]
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
            judged[-1] = replace(judged[-1], said=words)
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
    limits: Limits,
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


def clocking(bar: Bar, side: str, measured: float, drawn: float, off: float) -> tuple[JudgedNumber, Fault | None]:
    """An end's hole axis against its drawn clocking; `off` in (-90, 90]."""
    given = drawing_of(bar).clocking_tolerance
    limit = CLOCKING_DEG if given is None else given
    source = "default, common practice, no source" if given is None else "[drawing] clocking_tolerance"
    passes = not clocked_wrong(bar, off)
    judged = JudgedNumber(f"clocking, {side} end, off by", abs(off), "deg", None, limit, source, "decide", passes)
    if passes:
        return judged, None
    how = f"{abs(off):.1f} deg {'too far' if off > 0 else 'short'}"
    words = f"{side} end: hole axis clocked {how} ({measured:.1f} instead of {drawn:.1f})"
    return replace(judged, said=words), Fault("clocking", words, measured, drawn)


def clocked_wrong(bar: Bar, off: float) -> bool:
    """Whether a hole axis off by so many degrees is beyond the drawing's clocking tolerance, or the default."""
    given = drawing_of(bar).clocking_tolerance
    return abs(off) > (CLOCKING_DEG if given is None else given) + 1e-9


def worst_outcome(judged: Sequence[JudgedNumber], *, rework: bool) -> Outcome | None:
    """What the judged numbers outside lead to together; None where all are inside."""
    found: set[str] = set()
    for each in judged:
        if each.passes is False:
            mends = each.outcome == "rework" and (rework or each.what.startswith("coating"))
            found.add(each.outcome if each.outcome != "rework" else "rework" if mends else "decide")
    if "reject" in found:
        return "reject"
    if "decide" in found:
        return "decide"
    return "rework" if found else None
