"""What is judged of a received bar, each with its number, its limit and where the limit stands; what it leads to.

Limits are the drawing's; those that it does not give are the bands of [tolerances], or of the standards that
`barfem tolerance` takes. Form is judged by the profile of the tangent points and the mismatch of the tips; rows name
the fault, and are judged themselves only where the drawing gives neither.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.hardness import HARDNESS_SOURCE, parse_hardness, tensile_from_hardness, within_table
from barfem.model.plain import NOT_IN_JSON, json_key
from barfem.vendor.inspect_fit import FittedPoints, fit_function, form_errors
from barfem.vendor.inspect_reading import Reading
from barfem.vendor.inspect_received import DrawnBands
from barfem.vendor.inspect_rows import RowDifference, RowFit
from barfem.vendor.inspect_shape import Rows, drawn_rows, point_names, walk
from barfem.vendor.maker_tables import drawing_of

__all__ = [
    "CLOCKING_DEG",
    "Fault",
    "Findings",
    "JudgedNumber",
    "cannot_be_judged",
    "clocked_wrong",
    "clocking",
    "form",
    "leaning",
    "near_limits",
    "rows_at_fault",
    "springback",
    "strength",
    "too_rough",
    "worst_outcome",
    "wrong_sign",
]

Array = NDArray[np.float64]
Outcome = Literal["reject", "rework", "decide", "note"]
"""`decide` is by the bar as received; a `note` turns no bar down, and asks a person."""
CLOCKING_DEG = 1.0
SPRUNG_DEG = 0.7  # of the greatest bend: less is no pattern
EXCHANGED_DEG = 30.0  # of a hole axis along the bar: no drill runs so
GUARD_ERRORS = 1.645  # standard errors: 95 % to one side (ISO 14253-1:2017's default guard band, from memory)
MOST_ERRORS = 10.0  # times the noise of a coordinate: farther from a limit no number of form is worth an error
SIGN_DEG = 5.0  # from the drawn rotation with its sign changed
_KEY = {"length": "straight_length", "radius": "bend_radius", "angle": "bend_angle", "rotation": "bend_rotation"}


@frozen
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
    quantity: str = field(default="", metadata=NOT_IN_JSON)
    """The quantity of the lot that this is a value of; none: it is judged bar by bar alone."""

    _json_also: ClassVar[Mapping[str, str]] = {"words": "words"}

    @classmethod
    def by_limits(
        cls,
        what: str,
        measured: float,
        unit: str,
        low: float | None,
        high: float | None,
        source: str,
        outcome: Outcome,
        quantity: str = "",
    ) -> JudgedNumber:
        """A number held against its limits, which it may reach; None is no limit."""
        inside = (low is None or measured >= low - 1e-9) and (high is None or measured <= high + 1e-9)
        passes = None if low is None and high is None else inside
        return cls(what, measured, unit, low, high, source, outcome, passes, quantity=quantity)

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


@frozen
class Fault:
    """A cause, in the bender's words. `row` counts from the right tip, None where it is of no row."""

    kind: str
    words: str
    measured: float | None = None
    nominal: float | None = None
    row: int | None = None


@dataclass
class Findings:
    """Of one bar, in the order in which they are found: what was judged, and what is at fault."""

    judged: list[JudgedNumber] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def add(
        self, one: JudgedNumber, kind: str, words: str, nominal: float | None = None, *, said: bool = False
    ) -> None:
        """A judged number and, where it lies outside, the fault of this kind; `said`: in the fault's own words."""
        outside = one.passes is False
        self.judged.append(replace(one, sentence=words) if outside and said else one)
        if outside:
            self.faults.append(Fault(kind, words, one.measured, nominal))


def form(
    bar: Bar,
    fit: FittedPoints | None,
    rows: RowFit | None = None,
    hole_from_tip_mm: tuple[float | None, float | None] = (None, None),
) -> list[JudgedNumber]:
    """Profile and mismatch of the tips, where the drawing limits them; `hole_from_tip_mm` as of `fit_function`.

    Bending again mends angles and rotations of `rows`, not lengths and radii: what these alone put out, it leaves. It
    mends no rotation of the wrong sign.
    """
    out = _form(bar, fit)
    if rows is None or all(each.passes for each in out):
        return out
    if any(wrong_sign(each) for each in rows.differences):
        return [replace(each, outcome="reject") for each in out]
    if all(each.what in ("angle", "rotation") for each in rows.differences):
        return out
    drawn = drawn_rows(bar)
    bent_right = replace(drawn, straight_mm=rows.rows.straight_mm, radius_mm=rows.rows.radius_mm)
    left = _form(bar, fit_function(bar, walk(bent_right.vector, bent_right.bends)[0], hole_from_tip_mm))
    return [
        replace(each, outcome="decide") if each.passes is False and still.passes is False else each
        for each, still in zip(out, left, strict=True)
    ]


def _form(bar: Bar, fit: FittedPoints | None) -> list[JudgedNumber]:
    if fit is None or fit.kind != "function":
        return []
    drawing, out = drawing_of(bar), []
    if drawing.profile_tolerance is not None:
        zone = 0.5 * drawing.profile_tolerance
        at = point_names(len(bar.centreline.bends))[int(fit.distance_mm.argmax())]
        source = f"half of [drawing] profile_tolerance {drawing.profile_tolerance:g}"
        largest = float(fit.distance_mm.max())
        what = f"{at} off by"
        out.append(JudgedNumber.by_limits(what, largest, "mm", None, zone, source, "rework", "largest_mm"))
    if drawing.tip_mismatch is not None and fit.tip_mismatch_mm is not None:
        off, limit = abs(fit.tip_mismatch_mm), drawing.tip_mismatch
        what, source = "tip mismatch", "[drawing] tip_mismatch"
        out.append(JudgedNumber.by_limits(what, off, "mm", None, limit, source, "rework", "tip_mismatch_mm"))
    return out


def too_rough(form: Sequence[JudgedNumber], noise_mm: float | None) -> list[str]:
    """In words, that points are measured too roughly for the narrowest limit of `form`, at twice their deviation."""
    narrow = min((each for each in form if each.high is not None), key=lambda each: each.high or 0.0, default=None)
    if narrow is None or noise_mm is None or 2.0 * noise_mm <= (narrow.high or 0.0) + 1e-9:
        return []
    return [
        f"uncertainty of the points {noise_mm:.2g} mm, two standard deviations {2.0 * noise_mm:.2g} mm: more than the "
        f"{narrow.high:g} mm that the drawing allows ({narrow.source}), within which a bar may read by chance; measure "
        "finer"
    ]


def near_limits(
    bar: Bar,
    form: Sequence[JudgedNumber],
    points: Array,
    hole_from_tip_mm: tuple[float | None, float | None],
    noise_mm: float | None,
) -> list[str]:
    """In words, numbers of `form` nearer to their limit than the file's own uncertainty lets them be told from it."""
    close = [
        each for each in form if abs((each.high or 0.0) - (each.measured or 0.0)) < MOST_ERRORS * (noise_mm or 0.0)
    ]
    if noise_mm is None or not close:
        return []
    errors = dict(
        zip(("largest_mm", "tip_mismatch_mm"), form_errors(bar, points, hole_from_tip_mm, noise_mm), strict=True)
    )
    return [
        f"{each.what} {each.measured:.2f} mm, limit {each.high:g} mm: with a standard error of "
        f"{errors[each.quantity]:.2g} mm these points prove it neither inside nor outside (95 %, ISO 14253-1, from "
        "memory); measure finer"
        for each in close
        if abs((each.high or 0.0) - (each.measured or 0.0)) < GUARD_ERRORS * errors[each.quantity]
    ]


def rows_at_fault(bar: Bar, limits: DrawnBands, rows: RowFit, form: Sequence[JudgedNumber], out: Findings) -> None:
    """Name rows, and judge them themselves where the drawing limits no `form`, neither profile nor mismatch.

    Named are rows outside their band; where form is out and none is, all that differ.
    """
    bands = {
        each: limits.of(_KEY[each.what], each.row - (2 if each.what == "rotation" else 1)) for each in rows.differences
    }

    def inside(each: RowDifference) -> bool:
        band = bands[each]
        return band is None or band[0] - 1e-9 <= each.difference <= band[1] + 1e-9

    named = [each for each in bands if not inside(each)]
    if not named and any(each.passes is False for each in form):
        named = list(bands)
    for each in named:
        kind = f"{'straight' if each.what == 'length' else 'bend'} {each.what}"
        measured = _short_turn(each.measured) if wrong_sign(each) else each.measured
        out.faults.append(Fault(kind, row_words(bar, each), measured, each.nominal, each.row))
    for each, band in bands.items():
        if band is not None and not form:
            low, high = (each.nominal + edge for edge in band)
            source = limits.sources.get(_KEY[each.what], "")
            mends = each.what in ("angle", "rotation") and not wrong_sign(each)
            outcome: Outcome = "rework" if mends else "reject" if wrong_sign(each) else "decide"
            one = JudgedNumber(row_words(bar, each), None, "", low, high, source, outcome, inside(each))
            out.judged.append(replace(one, quantity=each.quantity))


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
    if wrong_sign(each):
        found = f"({_short_turn(each.measured):.1f} instead of {each.nominal:.1f} deg)"
        return f"bend {each.row}: rotation of the wrong sign {found}"
    return f"bend {each.row}: rotation {_turned(off, each.nominal)} {instead}"


def springback(drawn: Rows, rows: RowFit) -> list[str]:
    """In words, that all bends are off by one share of their angles: how the machine was set, and no single bend."""
    angle, off = drawn.angle_deg, rows.every.angle_deg - drawn.angle_deg
    share = float(off @ angle) / max(float(angle @ angle), 1.0)
    rest = off - share * angle
    if len(angle) < 2 or abs(share) * float(angle.max()) < SPRUNG_DEG or float(rest @ rest) > 0.1 * float(off @ off):
        return []
    if share < 0.0:
        how, why = "underbent", "springback that was not allowed for?"
    else:
        how, why = "overbent", "too much allowed for springback?"
    return [f"all bends are {how} by about {abs(100.0 * share):.1f} % of their angles: {why}"]


def wrong_sign(each: RowDifference) -> bool:
    """Whether a rotation is the drawn one with its sign changed, which is another rotation and no error of it."""
    if each.what != "rotation":
        return False
    to_negated, to_drawn = (abs(_short_turn(each.measured - one)) for one in (-each.nominal, each.nominal))
    return to_negated <= SIGN_DEG < 0.5 * to_drawn


def _short_turn(angle_deg: float) -> float:
    """The same turn within (-180, 180]."""
    return 180.0 - (180.0 - angle_deg) % 360.0


def _turned(off: float, drawn: float) -> str:
    """How far an angle is off that may be drawn to either sense: "2.5 deg too far" is away from zero."""
    return f"{abs(off):.1f} deg {'too far' if off * (drawn if abs(drawn) > 0.05 else 1.0) > 0 else 'short'}"


def strength(bar: Bar, limits: DrawnBands, readings: Sequence[Reading], out: Findings) -> None:
    """Hardness against the drawing's window, or the strength that it stands for against the band of strength."""
    drawing, band = drawing_of(bar), limits.of("tensile_strength")
    for reading in readings:
        assert reading.value is not None
        of_an_end = reading.place in ("right end", "left end")
        window = (drawing.ends if of_an_end else None) or drawing.hardness
        inside = within_table(reading.value, scale=reading.unit)
        tensile, beyond = tensile_from_hardness(inside, scale=reading.unit), reading.value - inside
        value, unit, source = tensile, "MPa", HARDNESS_SOURCE
        if window:
            given = parse_hardness(window)
            low, high, source = given.low, given.high, "[drawing] hardness"
            if given.scale == reading.unit:
                value, unit = reading.value, reading.unit
            else:
                low, high = (tensile_from_hardness(each, scale=given.scale) for each in (low, high))
                source += f" {given.text}, {HARDNESS_SOURCE}"
        elif of_an_end or band is None:
            continue  # the band is the body's: ends may be drawn back
        else:
            low, high = (bar.steel.tensile_strength_MPa + each for each in band)
        where, soft = reading.place or "hardness", value < low
        what = f"strength by hardness, {where}" if unit == "MPa" else f"hardness, {where}"
        quantity = "" if of_an_end else f"strength_{unit}" if unit == "MPa" else f"hardness_{unit}"
        outcome: Outcome = "reject" if soft or beyond else "decide"
        one = JudgedNumber.by_limits(what, value, unit, low, high, source, outcome, quantity)
        how, about = "soft" if soft else "hard", "over" if beyond > 0.0 else "under" if beyond < 0.0 else "about"
        words = f"too {how}, {where}: {reading.value:.4g} {reading.unit}, {about} {tensile:.0f} MPa"
        out.add(one, "soft" if soft else "hard", words, low if soft else high, said=True)


def clocking(bar: Bar, side: str, measured: float, drawn: float, off: float) -> tuple[JudgedNumber, Fault | None]:
    """An end's hole axis against its drawn clocking; `off` in (-90, 90]."""
    given = drawing_of(bar).clocking_tolerance
    limit = CLOCKING_DEG if given is None else given
    source = "default, common practice, no source" if given is None else "[drawing] clocking_tolerance"
    passes = not clocked_wrong(bar, off)
    what, quantity = f"clocking, {side} end, off by", f"clocking {side}_deg"
    judged = JudgedNumber(what, abs(off), "deg", None, limit, source, "decide", passes, quantity=quantity)
    if passes:
        return judged, None
    words = f"{side} end: hole axis clocked {_turned(off, drawn)} ({measured:.1f} instead of {drawn:.1f})"
    return replace(judged, sentence=words), Fault("clocking", words, measured, drawn)


def leaning(bar: Bar, side: str, lean_deg: float, out: Findings) -> None:
    """An end's hole axis out of the plane across its straight: drawn square, which clocking does not see."""
    given = drawing_of(bar).clocking_tolerance
    limit, source = (CLOCKING_DEG, "default") if given is None else (given, "[drawing] clocking_tolerance")
    source += ", here for the right angle to the bar"
    what = f"hole axis, {side} end, leans along the bar by"
    one = JudgedNumber.by_limits(what, lean_deg, "deg", None, limit, source, "decide")
    exchanged = "; are its components exchanged?" if lean_deg > EXCHANGED_DEG else ""
    out.add(one, "hole axis", f"{side} end: hole axis leans {lean_deg:.1f} deg along the bar{exchanged}", said=True)


def cannot_be_judged(words: Sequence[str], out: Findings) -> None:
    """What was measured and says nothing: no fault, and not to be taken for judged and good."""
    out.judged += [JudgedNumber(each, None, "", None, None, "", "note", False) for each in words]


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
    return "rework" if "rework" in found else "note" if found else None
