"""The bar as received: measured values in place of the drawing's, and the whole check of that bar.

What was not measured stays at the drawing's value for the rate, and at the edge of its band that is worse for stress:
thin, narrow, soft, decarburised deep, arms short. What is left of the tips' mismatch enters as an error of both links.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar, End, Link
from barfem.model.errors import BarfemError, InputError
from barfem.model.hardness import tensile_from_hardness
from barfem.solve.beam import all_settings, solve_bars
from barfem.solve.solid.nearby import bends_near
from barfem.study.bands import Band, Variable, bands_of
from barfem.study.bands_dimensions import dimensions_of
from barfem.study.evaluate import evaluate
from barfem.study.evaluation import Evaluation
from barfem.study.tolerance_bars import BarMaker
from barfem.study.workers import run_chunks
from barfem.vendor.inspect_shape import MIRROR, Rows, drawn_rows

__all__ = ["AsReceived", "Limits", "Received", "check_received", "limits_of", "received"]

Array = NDArray[np.float64]
_WORSE = {
    "diameter": -1.0,
    "wall": -1.0,
    "flat_thickness": -1.0,
    "flat_width": -1.0,
    "hole_position": 1.0,
    "tensile_strength": -1.0,
    "decarburised_depth": 1.0,
    "tip_straight": -1.0,
}
"""Which edge of the band of a dimension that was not measured is worse for stress: -1 the lower."""
_GEOMETRY = ("straight_length", "bend_radius", "bend_angle", "bend_rotation")
_MOVES_RATE = ("diameter", "wall", "flat_thickness", "flat_width", "hole_position", "straight_length")


@dataclass(frozen=True)
class Limits:
    """The bands of the drawing by key and number: deviations (least, greatest) in mm, deg or MPa, and their source."""

    bands: Mapping[tuple[str, int], tuple[float, float]]
    sources: Mapping[str, str]
    names: Mapping[tuple[str, int], str]
    sizes: Mapping[tuple[str, int], float]
    """What the drawing says of each, in mm; those of the body, its flats and holes."""

    def of(self, key: str, index: int = 0) -> tuple[float, float] | None:
        return self.bands.get((key, index))


@dataclass(frozen=True)
class Received:
    """One bar as received, worse where nothing was measured (`bar`), and what that was: (key, number), `missing`."""

    bar: Bar | None
    problem: str | None
    unmeasured: tuple[tuple[str, int], ...]
    missing: tuple[str, ...]
    measured: bool


@dataclass(frozen=True)
class AsReceived:
    """The whole check of a bar as received: the hole setting that governs, and all of them.

    `rate_N_per_mm` with what was not measured as drawn; `preload_N` of a link at rest, from the mismatch of the tips.
    """

    holes: str
    case: str
    rate_N_per_mm: float | None
    yield_margin: float | None
    safety_factor_at_target: float | None
    life_at_survival_cycles: float | None
    runout: bool
    passes: bool
    preload_N: float | None
    settings: tuple[Mapping[str, Any], ...]
    problem: str | None = None


def limits_of(bar: Bar) -> Limits:
    """Bands of [tolerances] or, where it gives none, of the standards that `barfem tolerance` takes."""
    found: tuple[Band, ...] = bands_of(bar)
    return Limits(
        {(v.key, v.index): (v.low, v.high) for band in found for v in band.variables},
        {band.key: band.source for band in found},
        {(v.key, v.index): v.where for band in found for v in band.variables},
        {(key, each.index): each.size for key in _SIZED for each in dimensions_of(bar, key)},
    )


def received(
    bar: Bar,
    limits: Limits,
    *,
    rows: Rows | None,
    values: Mapping[tuple[str, int], float],
    clocking_deg: Sequence[float | None] = (None, None),
    end_tensile_MPa: Sequence[float | None] = (None, None),
    hole_diameter_mm: Mapping[tuple[str, str], float] | None = None,
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
    """
    deviations = dict(values)
    if rows is not None:
        drawn = drawn_rows(bar)
        for key, off in zip(
            _GEOMETRY,
            (
                rows.straight_mm - drawn.straight_mm,
                rows.radius_mm - drawn.radius_mm,
                rows.angle_deg - drawn.angle_deg,
                rows.rotation_deg - drawn.rotation_deg,
            ),
            strict=True,
        ):
            deviations |= {(key, i): float(value) for i, value in enumerate(off) if abs(value) > 1e-9}
    unmeasured, missing = _fill(bar, limits, deviations, rows is not None)
    problem, made = None, None
    try:
        made = _made(bar, deviations)
        made = _finished(made, bar, deviations, clocking_deg, end_tensile_MPa, hole_diameter_mm or {}, tip_mismatch_mm)
    except InputError as error:
        problem, made = str(error), None
    return Received(made, problem, unmeasured, missing, bool(values) or rows is not None)


def _fill(
    bar: Bar, limits: Limits, deviations: dict[tuple[str, int], float], form: bool
) -> tuple[tuple[tuple[str, int], ...], tuple[str, ...]]:
    """Put what was not measured at its worse edge; which that was, and in words."""
    unmeasured: list[tuple[str, int]] = []
    words: list[str] = []
    last = len(bar.centreline.bends)
    for (key, index), (low, high) in limits.bands.items():
        sign = _WORSE.get(key)
        if key == "straight_length":
            if form or index not in (0, last):
                continue
            sign = _WORSE["tip_straight"]
        if sign is None or (key, index) in deviations:
            continue
        edge = low if sign < 0 else high
        if edge == 0.0:
            continue
        deviations[key, index] = edge
        unmeasured.append((key, index))
        size = bar.steel.tensile_strength_MPa if key == "tensile_strength" else limits.sizes.get((key, index))
        unit = "MPa" if key == "tensile_strength" else "mm"
        named = limits.names[key, index]
        named = (
            named
            if key.split("_")[-1] in named or key in ("tensile_strength", "straight_length")
            else _named(key, named)
        )
        if size is not None:
            words.append(f"{named}: {size:g} {unit} for the rate, {size + edge:.5g} {unit} for stress")
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


def _made(bar: Bar, deviations: Mapping[tuple[str, int], float]) -> Bar:
    variables = tuple(Variable(key, "", index, 0.0, 0.0, "uniform") for key, index in deviations)
    made = BarMaker(bar, variables).made(np.array([list(deviations.values())]).reshape(1, -1))[0]
    if isinstance(made, InputError):
        raise made
    return made


def _finished(
    made: Bar,
    drawn: Bar,
    deviations: Mapping[tuple[str, int], float],
    clocking_deg: Sequence[float | None],
    end_tensile_MPa: Sequence[float | None],
    hole_diameter_mm: Mapping[tuple[str, str], float],
    mismatch: float | None,
) -> Bar:
    ends: list[End] = []
    for number, end in enumerate(made.ends):
        turn, tensile = clocking_deg[number], end_tensile_MPa[number]
        if turn and end.flat is not None:
            _, frames = made.centreline.evaluate(0.0 if end.side == "right" else made.centreline.length_mm)
            u = frames[0, 0] if end.side == "right" else -frames[0, 0]
            end = replace(end, flat=replace(end.flat, normal=_about(np.array(end.flat.normal), u, np.radians(turn))))
        if tensile is not None:
            end = replace(end, strength_scale=tensile / made.steel.tensile_strength_MPa)
        holes = tuple(
            replace(hole, diameter_mm=hole_diameter_mm.get((end.side, hole.name), hole.diameter_mm))
            for hole in end.holes
        )
        ends.append(replace(end, holes=holes))
    made = replace(made, right=ends[0], left=ends[1])
    if mismatch is None:
        return made
    left = np.array(drawn.travel.direction)
    return replace(
        made,
        right_link=_mismatched(made, made.right_link, -0.5 * mismatch, left * MIRROR),
        left_link=_mismatched(made, made.left_link, 0.5 * mismatch, left),
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


_A_CHUNK = 3


@dataclass(frozen=True)
class _Chunks:
    """Bars as received, a few a chunk: what a worker process is given."""

    drawn: Bar
    bars: tuple[Bar, ...]

    @property
    def count(self) -> int:
        return -(-len(self.bars) // _A_CHUNK)

    def __call__(self, number: int) -> list[Evaluation]:
        with bends_near(self.drawn):
            return list(evaluate(self.bars[_A_CHUNK * number : _A_CHUNK * (number + 1)]))


def check_received(
    drawn: Bar,
    bars: Sequence[Received],
    mismatch_mm: Sequence[float | None],
    *,
    progress: Callable[[int], None] | None = None,
    workers: int = 1,
) -> list[AsReceived | None]:
    """The whole check of each bar as received, in batches, on so many processes."""
    made = tuple(each.bar for each in bars if each.bar is not None)
    chunks = _Chunks(drawn, made)
    evaluated: dict[int, list[Evaluation]] = {}
    for number, several in run_chunks(chunks, range(chunks.count), workers=workers):
        evaluated[number] = several
        if progress:
            progress(len(several))
    found = iter([one for number in range(chunks.count) for one in evaluated[number]])
    with bends_near(drawn):
        as_drawn = _Softer(drawn)
        out: list[AsReceived | None] = []
        for each, mismatch in zip(bars, mismatch_mm, strict=True):
            if each.bar is None:
                out.append(_impossible(each.problem or "there can be no such bar"))
                continue
            one = next(found)
            out.append(_summary(one, as_drawn.ratio(each.unmeasured), mismatch))
    return out


class _Softer:
    """Rates with what was not measured at its worse edge over those of the drawing, by hole setting; each set once.

    Taken on the drawn bar: the product of two small changes, a ten-thousandth or so, is left out.
    """

    def __init__(self, drawn: Bar) -> None:
        self._drawn, self._limits = drawn, limits_of(drawn)
        self._known: dict[tuple[tuple[str, int], ...], dict[tuple[int, int, str], float]] = {}
        self._base: dict[tuple[int, int, str], float] = {}

    def ratio(self, unmeasured: tuple[tuple[str, int], ...]) -> Mapping[tuple[int, int, str], float]:
        wanted = tuple(key for key in unmeasured if key[0] in _MOVES_RATE)
        if not wanted:
            return {}
        if wanted not in self._known:
            edges = {}
            for key, index in wanted:
                low, high = self._limits.bands[key, index]
                edges[key, index] = low if _WORSE.get(key, -1.0) < 0 else high
            if not self._base:
                self._base = self._rates(self._drawn)
            worse = self._rates(_made(self._drawn, edges))
            self._known[wanted] = {setting: worse[setting] / rate for setting, rate in self._base.items()}
        return self._known[wanted]

    def _rates(self, bar: Bar) -> dict[tuple[int, int, str], float]:
        settings = all_settings(bar, cases=("roll", "one-wheel"))
        try:
            solution = next(solve_bars([(bar, settings)]))
        except BarfemError:
            return {}
        return {
            (s.left, s.right, s.case): float(rate) for s, rate in zip(settings, solution.rate_N_per_mm, strict=True)
        }


def _impossible(problem: str) -> AsReceived:
    return AsReceived("", "", None, None, None, None, False, False, None, (), problem)


def _summary(one: Evaluation, ratio: Mapping[tuple[int, int, str], float], mismatch: float | None) -> AsReceived:
    if (problem := next(filter(None, one.problems), None)) is not None:  # at one hole is enough to hold the bar back
        return _impossible(problem)
    settings: list[dict[str, Any]] = []
    for j, setting in enumerate(one.settings):
        rate = float(one.rate_N_per_mm[j]) / ratio.get((setting.left, setting.right, setting.case), 1.0)
        each: dict[str, Any] = {
            "left": one.left[j],
            "right": one.right[j],
            "case": setting.case,
            "rate_N_per_mm": _finite(rate),
            "yield_margin": _finite(one.yield_margin[j]),
            "safety_factor_at_target": _finite(one.safety_factor_at_target[j]),
            "life_at_survival_cycles": _finite(one.life_at_survival_cycles[j]),
            "runout": bool(one.runout_at_survival[j]),
            "passes": bool(one.passes[j]),
        }
        settings.append(each)
    # The one that fails, then the shortest life, then the least margin.
    order = sorted(range(len(settings)), key=lambda j: (one.passes[j], one.ordered_life[j], _high(one.yield_margin[j])))
    worst = settings[order[0]]
    holes = pair_name(worst["left"], worst["right"])
    at_rest = float(one.rate_initial_N_per_mm[order[0]])
    preload = None if mismatch is None or one.settings[order[0]].case != "roll" else abs(0.5 * mismatch * at_rest)
    if mismatch is not None and preload is None:
        roll = [j for j, s in enumerate(one.settings) if s.case == "roll"]
        preload = abs(0.5 * mismatch * float(one.rate_initial_N_per_mm[roll].max())) if roll else None
    return AsReceived(
        str(holes),
        str(worst["case"]),
        worst["rate_N_per_mm"],
        worst["yield_margin"],
        worst["safety_factor_at_target"],
        worst["life_at_survival_cycles"],
        bool(worst["runout"]),
        bool(one.passes.all()),
        preload,
        tuple(settings),
    )


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _high(value: Any) -> float:
    return float(value) if np.isfinite(value) else np.inf


def tensile_of(value: float, scale: str) -> float:
    """Tensile strength [MPa] of a hardness, by ISO 18265."""
    return tensile_from_hardness(value, scale=scale)
