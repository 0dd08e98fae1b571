"""What is judged of a received bar, each with its number, its limit and where the limit stands; what it leads to.

Limits are the drawing's; those that it does not give are the bands of [tolerances], or of the standards that
`barfem tolerance` takes. Form is judged by the profile of the tangent points and the mismatch of the tips; rows name
the fault, and are judged themselves only where the drawing gives neither.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar, Literal

from barfem.model.bar import Bar
from barfem.model.hardness import HARDNESS_SOURCE, parse_hardness, tensile_from_hardness
from barfem.model.plain import json_key
from barfem.vendor.inspect_fit import FittedPoints
from barfem.vendor.inspect_reading import Reading
from barfem.vendor.inspect_received import DrawnBands
from barfem.vendor.inspect_rows import RowDifference, RowFit
from barfem.vendor.inspect_shape import point_names
from barfem.vendor.maker_tables import drawing_of

__all__ = [
    "CLOCKING_DEG",
    "Fault",
    "JudgedNumber",
    "clocked_wrong",
    "clocking",
    "form",
    "row_faults",
    "strength",
    "worst_outcome",
]

Outcome = Literal["reject", "rework", "decide"]
CLOCKING_DEG = 1.0
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
    sentence: str = field(default="", metadata=json_key("said"))
    """The fault's own words, in place of what and number."""

    _json_also: ClassVar[Mapping[str, str]] = {"words": "words"}

    @property
    def words(self) -> str:
        """The judgement in words: what, number, limits, source."""
        unit = f" {self.unit}" if self.unit else ""
        number = "" if self.measured is None else f" {round(self.measured, 9) + 0.0:.4g}{unit}"  # rounding is no number
        low, high = self.low, self.high
        if low is not None and high is not None:
            limit = f"{low:.5g} to {high:.5g}"
        elif high is not None:
            limit = f"at most {high:.4g}"
        elif low is not None:
            limit = f"at least {low:.4g}"
        else:
            limit = ""
        limits = ", ".join(filter(None, (limit and f"limit {limit}", self.source)))
        return f"{self.sentence or self.what + number}{f' ({limits})' if limits else ''}"


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


def form(bar: Bar, fit: FittedPoints | None) -> list[JudgedNumber]:
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
    bar: Bar, limits: DrawnBands, rows: RowFit, judged: Sequence[JudgedNumber]
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


def _in_band(limits: DrawnBands, each: RowDifference) -> bool:
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


def strength(bar: Bar, limits: DrawnBands, readings: Sequence[Reading]) -> tuple[list[JudgedNumber], list[Fault]]:
    """Hardness against the drawing's window, or the strength that it stands for against the band of strength."""
    drawing, judged, faults = drawing_of(bar), [], []
    for reading in readings:
        assert reading.value is not None
        window = (drawing.ends if reading.place in ("right end", "left end") else None) or drawing.hardness
        tensile = tensile_from_hardness(reading.value, scale=reading.unit)
        given = parse_hardness(window) if window else None
        if given is not None and given.scale == reading.unit:
            value, unit, low, high, source = (
                reading.value,
                reading.unit,
                given.low,
                given.high,
                "[drawing] hardness",
            )
        elif given is not None:
            value, unit, source = tensile, "MPa", f"[drawing] hardness {given.text}, {HARDNESS_SOURCE}"
            low, high = (tensile_from_hardness(each, scale=given.scale) for each in (given.low, given.high))
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
        sentence = f"too {kind}, {where}: {reading.value:.4g} {reading.unit}, about {tensile:.0f} MPa"
        judged.append(JudgedNumber(what, value, unit, low, high, source, outcome, passes, "" if passes else sentence))
        if not passes:
            faults.append(Fault(kind, sentence, value, low if kind == "soft" else high))
    return judged, faults


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
    return replace(judged, sentence=words), Fault("clocking", words, measured, drawn)


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
