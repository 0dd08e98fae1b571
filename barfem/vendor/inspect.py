"""Received bars, judged: which hand and order the points follow, what is at fault, and the bar as it came.

Form and numbers of the whole lot are worked out at once; then every bar as received goes through the whole check.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from functools import partial
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, Json, json_key, plain
from barfem.model.shown import Shown
from barfem.vendor import inspect_judge as judge
from barfem.vendor.inspect_check import AsReceived, DrawnPasses, check_received
from barfem.vendor.inspect_fit import FittedPoints, Lie, fit_function, fit_points
from barfem.vendor.inspect_laid import Laid, axes_unread, hole_axes, laid_out
from barfem.vendor.inspect_lie import holes_tell_ends, readings_alike, undecided
from barfem.vendor.inspect_lot import Lot, lot_of
from barfem.vendor.inspect_rates import RateJudged, judge_rates
from barfem.vendor.inspect_reading import InspectionFile
from barfem.vendor.inspect_received import DrawnBands, Given, Received, as_measured, drawn_bands, received
from barfem.vendor.inspect_rows import RowDifference, RowFit, explain_rows, unexplained
from barfem.vendor.inspect_shape import drawn_points, drawn_rows, point_names
from barfem.vendor.inspect_sizes import (
    hole_diameters,
    noted,
    of_no_place,
    outermost_holes,
    peening_failed,
    skin_and_size,
    tensile_of,
)
from barfem.vendor.maker_tables import inspection_of
from barfem.vendor.orientation import Orientation, orientation_of
from barfem.vendor.sampling import Plan

__all__ = ["CAUTION", "InspectedBar", "Inspection", "inspect_bars"]

Array = NDArray[np.float64]
CAUTION = (
    "An estimate, not a release: measured values are as good as the measuring, what was not measured was not judged. "
    "Validate by test; licensed practice and local rules decide."
)


_OF_A_ROW = (
    "preload_N",
    "rate_N_per_mm",
    "yield_margin",
    "safety_factor_at_target",
    "life_at_survival_cycles",
    "passes",
)


@frozen
class InspectedBar:
    """One bar's verdict: accept, accept with note, rework or reject, with the reasons, and what they rest on."""

    bar: str
    verdict: str
    why: tuple[str, ...]
    lie: Lie = field(metadata=NOT_IN_JSON)
    fit: FittedPoints | None
    by_points: FittedPoints | None = field(metadata=NOT_IN_JSON)
    rows: RowFit | None = field(metadata=NOT_IN_JSON)
    judged: tuple[judge.JudgedNumber, ...]
    faults: tuple[judge.Fault, ...]
    strength_MPa: float | None
    as_received: AsReceived | None
    missing: tuple[str, ...]
    notes: tuple[str, ...]
    numbers: Mapping[str, float] = field(metadata=NOT_IN_JSON)
    given: Given = field(metadata=NOT_IN_JSON)

    _json_also: ClassVar[Mapping[str, str]] = {
        "hand": "lie.hand",
        "list_order": "lie.order",
        "tip_mismatch_mm": "tip_mismatch_mm",
        "rows_difference": "row_differences",
    }

    @property
    def tip_mismatch_mm(self) -> float | None:
        return self.numbers.get("tip_mismatch_mm")

    @property
    def row_differences(self) -> tuple[RowDifference, ...]:
        return () if self.rows is None else self.rows.differences

    @property
    def record(self) -> dict[str, Any]:
        """It as a flat row."""
        came, fit = self.as_received, self.fit
        return {
            "bar": self.bar,
            "verdict": self.verdict,
            "faults": "; ".join(fault.words for fault in self.faults),
            "largest_mm": None if fit is None else plain(fit.largest_mm),
            "tip_mismatch_mm": plain(self.tip_mismatch_mm),
            "strength_MPa": plain(self.strength_MPa),
            **{key: None if came is None else plain(getattr(came, key)) for key in _OF_A_ROW},
        }


@frozen(repr=False)
class Inspection(Shown, Json):
    """A lot: its bars in the order of the files, the drawing, notes of how the files were read; `lot` is it in numbers.

    Units stand in the names: mm, deg, MPa, N/mm.
    """

    name: str
    drawing: str | None
    revision: str | None
    point_names: tuple[str, ...] = field(metadata=json_key("points"))
    two_fold: bool = field(metadata=json_key("ends_cannot_be_told_apart"))
    bars: tuple[InspectedBar, ...]
    limits: DrawnBands = field(metadata=NOT_IN_JSON)
    notes: tuple[str, ...]
    lot: Lot

    _json_also: ClassVar[Mapping[str, str]] = {"cautions": "cautions"}
    cautions: ClassVar[tuple[str, ...]] = (CAUTION,)

    def records(self) -> list[dict[str, Any]]:
        """A row a bar: verdict, faults, deviations [mm], strength [MPa], rate [N/mm], margin, life [cycles]."""
        return [each.record for each in self.bars]

    @property
    def accepted(self) -> bool:
        """Every bar is accepted without a note."""
        return all(bar.verdict == "accept" for bar in self.bars)


def inspect_bars(
    bar: Bar,
    files: Sequence[InspectionFile],
    *,
    fit: str = "function",
    plan: Plan | None = None,
    progress: Callable[[int], None] | None = None,
    workers: int = 1,
) -> Inspection:
    """Judge every bar of the files against `bar`.

    Parameters
    ----------
    fit
        "function" (datums from the mounts) or "points" (least squares of all points); which deviations are reported.
        Form is judged in function.
    plan
        Of samples, which the lot is then judged by.
    progress
        Called with the number of bars just checked as received.
    workers
        Processes for the whole checks; the numbers are the same.

    Raises
    ------
    InputError
        A bar of one name stands in two files.
    """
    limits, nominal, drawn = drawn_bands(bar), drawn_points(bar), drawn_rows(bar)
    part, alike = orientation_of(bar), readings_alike(nominal)
    work: list[Laid] = []
    seen: dict[str, str] = {}
    for file in files:
        for measured in file.bars:
            if measured.name in seen:
                raise InputError(
                    f"bar {measured.name} stands in {seen[measured.name]} already.",
                    where=f"line {measured.line}, column bar",
                    expected="each bar once.",
                    file=file.file,
                )
            seen[measured.name] = file.file
            work.append(laid_out(bar, measured, nominal, drawn, alike, part))
    with_points = [i for i, each in enumerate(work) if each.points is not None]
    explained: dict[int, RowFit] = {}
    for noise in dict.fromkeys(work[i].measured.noise_mm for i in with_points):
        alike_noise = [i for i in with_points if work[i].measured.noise_mm == noise]
        fits = explain_rows(drawn, [work[i].points for i in alike_noise], noise_mm=noise)  # type: ignore[misc]
        explained |= dict(zip(alike_noise, fits, strict=True))
    first = [_judged(bar, limits, nominal, each, explained.get(i), fit, alike, part) for i, each in enumerate(work)]
    checked = check_received(
        bar,
        [made for _, made in first],
        [one.numbers.get("tip_mismatch_mm") for one, _ in first],
        progress=progress,
        workers=workers,
    )
    measured_rates = [[r for r in each.readings if r.what == "rate"] for each in work]
    rates = judge_rates(
        bar,
        [
            (readings, as_measured(bar, made) if readings else None)
            for readings, (_, made) in zip(measured_rates, first, strict=True)
        ],
    )
    drawn_passes = DrawnPasses(bar)
    done = tuple(
        _verdict(bar, one, found, rate, partial(drawn_passes, made.unmeasured))
        for (one, made), found, rate in zip(first, checked, rates, strict=True)
    )
    notes = tuple(f"{file.file}: {note}" for file in files for note in file.notes)
    names, lot = point_names(drawn.bends), lot_of(bar, done, limits, plan)
    return Inspection(bar.name, bar.drawing, bar.revision, names, part.two_fold, done, limits, notes, lot)


def _judged(
    bar: Bar,
    limits: DrawnBands,
    nominal: Array,
    work: Laid,
    rows: RowFit | None,
    kind: str,
    alike: Sequence[tuple[bool, bool]],
    part: Orientation,
) -> tuple[InspectedBar, Received]:
    readings = work.readings
    found, notes, missing = judge.Findings(), [], []
    numbers: dict[str, float] = {}
    function = by_points = None
    outermost = outermost_holes(bar, readings)
    axes = hole_axes(bar, work)
    if work.lie.hand == "other":
        one = judge.JudgedNumber(
            "of the other hand", None, "", None, None, "mirror image of the drawing", "reject", False
        )
        unless = "its rotations are counted left-handed about the walking direction"
        unless = unless if work.of_rows else "the measuring frame is left-handed"
        words = f"of the other hand: the mirror image of the drawing, unless {unless}"
        found.add(one, "other hand", words)
        if work.lie.order == "ends exchanged":
            notes.append("points are listed from the other tip")
    elif work.lie.order == "ends exchanged" and not part.two_fold:
        words = "ends exchanged: the points are listed, or the bar is marked, from the other tip"
        found.faults.append(judge.Fault("ends exchanged", words))
    if work.points is not None:
        whole = bool(np.all(np.isfinite(work.points))) and not work.as_drawn
        by_points = fit_points(work.points, nominal)
        if whole:
            function = fit_function(bar, work.points, outermost)
            numbers["tip_mismatch_mm"] = function.tip_mismatch_mm or 0.0
            numbers["largest_mm"] = float(function.distance_mm.max())
        elif work.as_drawn:
            missing.append(f"points {', '.join(work.as_drawn)}: taken as drawn, profile and tip mismatch not judged")
        else:
            names = point_names(len(bar.centreline.bends))
            gone = [name for name, point in zip(names, work.points, strict=True) if not np.isfinite(point[0])]
            missing.append(f"points {', '.join(gone)}: profile and tip mismatch not judged")
            notes.append("points are missing: how far the others are off is by least squares, not in function")
        if work.of_rows:
            notes.append("points are laid out from measured rows")
        elif any(r.what == "row" for r in readings):
            notes.append("rows were measured beside points: the points count, the rows are left out")
        told = axes or (holes_tell_ends(bar) and any(r.what == "hole from_tip" for r in readings))
        notes += undecided(alike, part, axes=bool(told))
        shape = judge.form(bar, function, rows, outermost)
        found.judged += shape
        notes += judge.too_rough(shape, work.measured.noise_mm)
        notes += judge.near_limits(bar, shape, work.points, outermost, work.measured.noise_mm)
        if rows is not None:
            judge.rows_at_fault(bar, limits, rows, shape, found)
            notes += judge.springback(drawn_rows(bar), rows)
            # With points missing every row is hardly known, and belongs in no statistics.
            numbers |= rows.numbers if whole else {}
            strange = unexplained(rows, point_names(len(bar.centreline.bends)), noise_mm=work.measured.noise_mm)
            # Without limits of form the bands of rows are all that judges it, and say nothing of no rows.
            judge.cannot_be_judged([] if shape else strange, found)
            notes += strange
    else:
        missing.append("points: form not judged")
    judge.strength(bar, limits, [r for r in readings if r.what == "hardness"], found)
    values = skin_and_size(bar, limits, readings, found)
    notes += of_no_place(bar, limits, readings)
    for (key, _), off in values.items():
        if key in ("diameter", "wall"):
            numbers[f"{key}_mm"] = limits.sizes[key, 0] + off
    judge.cannot_be_judged(axes_unread(bar, work, axes), found)
    turned: dict[str, float] = {}
    for axis in axes:
        judge.leaning(bar, axis.side, axis.lean_deg, found)
        found_deg = axis.drawn_deg + axis.off_deg
        clocked, fault = judge.clocking(bar, axis.side, found_deg, axis.drawn_deg, axis.off_deg)
        found.judged.append(clocked)
        # Off from the named bend alone: the rows name what turned the bends between.
        found.faults += [] if fault is None or not judge.clocked_wrong(bar, axis.own_off_deg) else [fault]
        turned[axis.side] = axis.own_off_deg
        numbers[f"clocking {axis.side}_deg"] = found_deg
    tensile, ends = tensile_of(readings, numbers)
    if tensile is not None:
        values["tensile_strength", 0] = tensile - bar.steel.tensile_strength_MPa
    else:
        missing.append("hardness: not judged")
    if not any(r.what == "record" and r.place == "crack test" for r in readings):
        missing.append("crack test: not judged")
    notes += noted(bar, readings)
    made = received(
        bar,
        limits,
        rows=None if rows is None else rows.rows,
        values=values,
        clocking_deg=(turned.get("right"), turned.get("left")),
        end_tensile_MPa=ends,
        hole_diameter_mm=hole_diameters(bar, readings),
        unpeened=peening_failed(bar, readings),
        tip_mismatch_mm=numbers.get("tip_mismatch_mm"),
    )
    return (
        InspectedBar(
            work.measured.name,
            "",
            (),
            work.lie,
            function if kind == "function" and function is not None else by_points,
            by_points,
            rows,
            tuple(found.judged),
            tuple(found.faults),
            tensile,
            None,
            (*missing, *made.missing),
            tuple(notes),
            numbers,
            made.given,
        ),
        made,
    )


def _verdict(
    bar: Bar,
    one: InspectedBar,
    found: AsReceived | None,
    rates: Sequence[RateJudged],
    drawn_passes: Callable[[], bool],
) -> InspectedBar:
    """`drawn_passes` where what was not measured of it alone lies at the worse edge."""
    judged = (*one.judged, *(each.judged for each in rates))
    notes = (*one.notes, *(f"{each.judged.what}: {each.explained}" for each in rates if each.explained))
    numbers = {**one.numbers, **{f"{each.judged.what}_N_per_mm": each.measured for each in rates}}
    outcome = judge.worst_outcome(judged, rework=inspection_of(bar).rework)
    passes = found is not None and found.passes
    outside = [each.words for each in judged if each.passes is False]
    why = list(outside)
    if outcome is None:
        verdict = "accept"
        why = ["all that was measured is within the drawing"]
        if found is not None and not found.passes:
            # As the drawing allows and yet not good enough: no fault of the maker's. Where it is what was measured that
            # takes the bar below its targets, and no guess, a person decides.
            measured = drawn_passes()
            cause = "by what was measured" if measured else "what was not measured being at the worse edge of its band"
            why.append("yet as received it does not pass every target" + (f", {cause}" if one.missing else ""))
            verdict = "accept with note" if measured or not one.missing else "accept"
    elif outcome == "decide":
        verdict = "accept with note" if passes else "reject"
        reason = (
            "the bar as received passes every target: a person decides"
            if passes
            else "the bar as received does not pass every target"
        )
        if found is not None and found.problem:
            reason = f"the bar as received cannot be checked: {found.problem}"
        why.append(reason)
    elif outcome == "note":
        verdict = "accept with note"
        why.append("all else that was measured is within the drawing: a person decides")
    else:
        verdict = outcome
    return replace(one, verdict=verdict, why=tuple(why), judged=judged, notes=notes, numbers=numbers, as_received=found)
