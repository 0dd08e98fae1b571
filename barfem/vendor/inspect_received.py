"""The bar as received: measured values in place of the drawing's, at the worse edge what was not measured.

What was not measured stays at the drawing's value for the rate, and at the edge of its band that is worse for stress:
thick body, thin wall, thin and narrow flats, soft, decarburised deep, arms short. What is left of the tips' mismatch
enters as an error of both links.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, replace

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End, Link
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.study.bands import Band, Variable, bands_of
from barfem.study.bands_dimensions import dimensions_of
from barfem.study.tolerance_bars import BarMaker
from barfem.vendor.inspect_shape import MIRROR, Rows, drawn_rows
from barfem.vendor.part import end_inward

__all__ = [
    "GEOMETRY",
    "WORSE_EDGE",
    "DrawnBands",
    "Given",
    "Received",
    "as_measured",
    "clocked",
    "drawn_bands",
    "made_with",
    "received",
    "with_mismatch",
    "worse_edges",
]

Array = NDArray[np.float64]
WORSE_EDGE = {
    "diameter": 1.0,  # at equal travel the thicker bar is the more stressed one: its skin is strained by its radius
    "wall": -1.0,
    "flat_thickness": -1.0,
    "flat_width": -1.0,
    "hole_position": 1.0,
    "tensile_strength": -1.0,
    "decarburised_depth": 1.0,
    "tip_straight": -1.0,
}
"""Which edge of the band of a dimension that was not measured is worse for stress: -1 the lower."""
GEOMETRY = ("straight_length", "bend_radius", "bend_angle", "bend_rotation")


@frozen
class DrawnBands:
    """The bands of the drawing by key and number: deviations (least, greatest) in mm, deg or MPa, and their source."""

    bands: Mapping[tuple[str, int], tuple[float, float]]
    sources: Mapping[str, str]
    names: Mapping[tuple[str, int], str]
    sizes: Mapping[tuple[str, int], float]
    """What the drawing says of each, in mm; those of the body, its flats and holes."""

    def of(self, key: str, index: int = 0) -> tuple[float, float] | None:
        return self.bands.get((key, index))


@frozen
class Given:
    """What was found of one bar: `deviations` by key and number, and the others as of `received`."""

    deviations: Mapping[tuple[str, int], float]
    clocking_deg: Sequence[float | None] = (None, None)
    end_tensile_MPa: Sequence[float | None] = (None, None)
    hole_diameter_mm: Mapping[tuple[str, str], float] = field(default_factory=dict)
    unpeened: bool = False


@frozen
class Received:
    """One bar as received, worse where nothing was measured (`bar`), and what that was: (key, number), `missing`."""

    bar: Bar | None
    problem: str | None
    unmeasured: tuple[tuple[str, int], ...]
    missing: tuple[str, ...]
    given: Given


def drawn_bands(bar: Bar) -> DrawnBands:
    """Bands of [tolerances] or, where it gives none, of the standards that `barfem tolerance` takes."""
    found: tuple[Band, ...] = bands_of(bar)
    return DrawnBands(
        {(v.key, v.index): (v.low, v.high) for band in found for v in band.variables},
        {band.key: band.source for band in found},
        {(v.key, v.index): v.where for band in found for v in band.variables},
        {(key, each.index): each.size for key in _SIZED for each in dimensions_of(bar, key)},
    )


def received(
    bar: Bar,
    limits: DrawnBands,
    *,
    rows: Rows | None,
    values: Mapping[tuple[str, int], float],
    clocking_deg: Sequence[float | None] = (None, None),
    end_tensile_MPa: Sequence[float | None] = (None, None),
    hole_diameter_mm: Mapping[tuple[str, str], float] | None = None,
    unpeened: bool = False,
    tip_mismatch_mm: float | None = None,
) -> Received:
    """The bar of measured values.

    Parameters
    ----------
    rows
        The bender's rows as received; None: not measured.
    values
        Deviations by (key of [tolerances], number), of what was measured.
    clocking_deg, end_tensile_MPa
        Of the right and left end: deviation of its hole axis, tensile strength where it was measured there.
    hole_diameter_mm
        By (end, hole).
    unpeened
        Its peening was recorded as failed: what is not known to be there earns nothing.
    """
    deviations = dict(values)
    if rows is not None:
        drawn = drawn_rows(bar)
        for key, off in zip(
            GEOMETRY,
            (
                rows.straight_mm - drawn.straight_mm,
                rows.radius_mm - drawn.radius_mm,
                rows.angle_deg - drawn.angle_deg,
                rows.rotation_deg - drawn.rotation_deg,
            ),
            strict=True,
        ):
            deviations |= {(key, i): float(value) for i, value in enumerate(off) if abs(value) > 1e-9}
    given = Given(dict(deviations), clocking_deg, end_tensile_MPa, hole_diameter_mm or {}, unpeened)
    unmeasured, missing = _fill(bar, limits, deviations, rows is not None)
    problem, made = None, None
    try:
        made = made_with(bar, deviations)
        made = _finished(made, given, tip_mismatch_mm)
    except InputError as error:
        problem, made = str(error), None
    return Received(made, problem, unmeasured, missing, given)


def as_measured(drawn: Bar, one: Received) -> Bar | None:
    """The bar with what was not measured as drawn, which its measured rates are held against; None: no such bar."""
    return None if one.bar is None else _finished(made_with(drawn, one.given.deviations), one.given, None)


def _fill(
    bar: Bar, limits: DrawnBands, deviations: dict[tuple[str, int], float], form: bool
) -> tuple[tuple[tuple[str, int], ...], tuple[str, ...]]:
    """Put what was not measured at its worse edge; which that was, and in words."""
    unmeasured: list[tuple[str, int]] = []
    words: list[str] = []
    last = len(bar.centreline.bends)
    for (key, index), (low, high) in limits.bands.items():
        sign = WORSE_EDGE.get(key)
        if key == "straight_length":
            if form or index not in (0, last):
                continue
            sign = WORSE_EDGE["tip_straight"]
        if sign is None or (key, index) in deviations:
            continue
        edge = low if sign < 0 else high
        if edge != 0.0:
            deviations[key, index] = edge
            unmeasured.append((key, index))
        elif low == high or (key, index) not in limits.sizes:
            continue
        size = bar.steel.tensile_strength_MPa if key == "tensile_strength" else limits.sizes.get((key, index))
        unit = "MPa" if key == "tensile_strength" else "mm"
        named = limits.names[key, index]
        named = (
            named
            if key.split("_")[-1] in named or key in ("tensile_strength", "straight_length")
            else _named(key, named)
        )
        if size is not None:
            for_stress = f", {size + edge:.5g} {unit} for stress" if edge != 0.0 else " and for stress"
            words.append(f"{named}: {size:g} {unit} for the rate{for_stress}")
    if not form:
        words.insert(0, "points: bends as drawn")
    return tuple(unmeasured), tuple(words)


_SIZED = ("diameter", "wall", "flat_thickness", "flat_width", "hole_position", "decarburised_depth", "straight_length")


def _named(key: str, where: str) -> str:
    return (
        f"{where} {key.split('_')[-1]}"
        if key.startswith("flat")
        else f"{where}, from its tip"
        if key == "hole_position"
        else where
    )


def worse_edges(limits: DrawnBands, keys: Iterable[tuple[str, int]]) -> dict[tuple[str, int], float]:
    """Deviations of dimensions that were not measured, each at the worse edge of its band."""
    return {each: limits.bands[each][0 if WORSE_EDGE.get(each[0], -1.0) < 0 else 1] for each in keys}


def made_with(bar: Bar, deviations: Mapping[tuple[str, int], float]) -> Bar:
    variables = tuple(Variable(key, "", index, 0.0, 0.0, "uniform") for key, index in deviations)
    made = BarMaker(bar, variables).made(np.array([list(deviations.values())]).reshape(1, -1))[0]
    if isinstance(made, InputError):
        raise made
    return made


def clocked(made: Bar, end: End, turn_deg: float) -> End:
    """An end whose hole axis is turned so far, as its clocking counts."""
    if end.flat is None:
        return end
    u, _ = end_inward(made, end)
    return replace(end, flat=replace(end.flat, normal=_about(np.array(end.flat.normal), u, np.radians(turn_deg))))


def _finished(made: Bar, given: Given, mismatch: float | None) -> Bar:
    ends: list[End] = []
    hole_diameter_mm = given.hole_diameter_mm
    for number, end in enumerate(made.ends):
        turn, tensile = given.clocking_deg[number], given.end_tensile_MPa[number]
        if turn:
            end = clocked(made, end, turn)
        if tensile is not None:
            end = replace(end, strength_scale=tensile / made.steel.tensile_strength_MPa)
        holes = tuple(
            replace(hole, diameter_mm=hole_diameter_mm.get((end.side, hole.name), hole.diameter_mm))
            for hole in end.holes
        )
        ends.append(replace(end, holes=holes))
    steel = replace(made.steel, peening=None) if given.unpeened else made.steel
    made = replace(made, right=ends[0], left=ends[1], steel=steel)
    return made if mismatch is None else with_mismatch(made, mismatch)


def with_mismatch(bar: Bar, mismatch_mm: float) -> Bar:
    """The bar whose tips are `mismatch_mm` apart, left higher along the travel: half of it an error of each link.

    A joint that lies too high leaves a link that hangs too short and one that stands too long; of a link that leans
    what its direction has along the travel counts.
    """
    left = np.array(bar.travel.direction)
    return replace(
        bar,
        right_link=_mismatched(bar, bar.right_link, -0.5 * mismatch_mm, left * MIRROR),
        left_link=_mismatched(bar, bar.left_link, 0.5 * mismatch_mm, left),
    )


def _mismatched(bar: Bar, link: Link, off: float, travel: Array) -> Link:
    """The link's error where its joint lies `off` along the travel from where the drawing has it."""
    if link.direction is not None:
        towards = np.array(link.direction)
    else:
        end = bar.right if link.side == "right" else bar.left
        joint = bar.centreline.evaluate([end.holes[0].station_mm])[0][0] + np.array(end.holes[0].offset_mm)
        towards = np.array(link.pickup_mm) - joint
        towards = towards / np.linalg.norm(towards)
    return replace(link, length_error_mm=link.length_error_mm + off * float(towards @ travel))


def _about(vector: Array, axis: Array, angle: float) -> tuple[float, float, float]:
    turned = (
        np.cos(angle) * vector + np.sin(angle) * np.cross(axis, vector) + (1 - np.cos(angle)) * (axis @ vector) * axis
    )
    x, y, z = turned.tolist()
    return x, y, z
