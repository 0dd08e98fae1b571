"""`barfem links`: what makes each bar forceless as the car stands, and what is left after the nearest half turn."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field, replace
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_curves import BarCurves
from barfem.car.bar_reading import hole_of
from barfem.car.car import AXLES, LINK_ASSUMPTION, AxleBar, Car
from barfem.car.car_json import CarJson, by_side, by_wheel
from barfem.car.model import CarModel, car_model
from barfem.car.statics import Problem, Suspension, solve
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.links import joint_centres
from barfem.model.plain import NOT_IN_JSON, json_as, json_key

__all__ = ["AxleLinks", "LinksResult", "MovedHole", "links_result"]

Array = NDArray[np.float64]
Sides = tuple[float, float]
ASSUMPTIONS = (
    "A bar is forceless where its ends need no force at the weighed height; where its bushings wind up with both arms "
    "turning alike, where both ends need the same: that is not the links' to mend.",
    "Forces and cross-weight are those of the car at rest with both bars fitted: its springs and tyres give way to the "
    "preload.",
    LINK_ASSUMPTION,
    "Length changes and turns > 0 make the link longer. Cross-weight is (front right + rear left) / total.",
    "After the turns both bars count as zeroed: what is left is that of both together.",
    "Cross-weight of both bars forceless is that of the car on its springs as they are.",
)


_AT_REST = Problem(np.zeros(1), np.zeros(1), np.zeros(1, np.intp), np.zeros(1, np.intp))
MOST_CHANGE_MM = 25.0
"""What the threads of a link's two ends give, together (common practice, no source)."""
SETTLES_MM = 0.05
"""Of a link's length: less than this nobody turns."""


@frozen
class AxleLinks:
    """One axle's links. Forces (left, right), tension > 0; turns None where the file gives no thread."""

    axle: str = field(metadata=NOT_IN_JSON)
    side: str
    holes: tuple[str, str]
    offset_left_less_right_mm: float = field(metadata=json_key("bar_end_offset_left_less_right_mm"))
    forces_now_N: Sides = field(metadata=json_as(by_side))
    link_change_mm: float
    mm_per_turn: float | None
    turns: float | None
    nearest_half_turn: float | None
    left_over_mm: float | None
    forces_left_over_N: Sides | None = field(metadata=json_as(by_side))


@frozen
class MovedHole:
    """One link moved to another hole, both bars zeroed before, its length kept."""

    axle: str
    side: str
    hole: str
    link_error_mm: float
    forces_N: Sides = field(metadata=json_as(by_side))
    cross_weight: float


@frozen
class LinksResult(CarJson):
    car: Car = field(metadata=NOT_IN_JSON)
    axles: Mapping[str, AxleLinks | None] = field(metadata=NOT_IN_JSON)
    loads_now_N: Array = field(metadata=json_as(by_wheel, key="wheel_loads_now_N"))
    loads_zeroed_N: Array = field(metadata=json_as(by_wheel, key="wheel_loads_zeroed_N"))
    loads_left_over_N: Array | None = field(metadata=json_as(by_wheel, key="wheel_loads_left_over_N"))
    moved: MovedHole | None = field(metadata=json_key("moved_hole"))
    corner_heights_mm: tuple[float, ...] = field(metadata=json_as(by_wheel))
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    _json_also: ClassVar[Mapping[str, str]] = {
        **CarJson._json_also,
        **{name: name for name in (*AXLES, "cross_weight_now", "cross_weight_zeroed", "cross_weight_left_over")},
    }

    @property
    def front(self) -> AxleLinks | None:
        return self.axles["front"]

    @property
    def rear(self) -> AxleLinks | None:
        return self.axles["rear"]

    @property
    def cross_weight_now(self) -> float:
        return _cross(self.loads_now_N)

    @property
    def cross_weight_zeroed(self) -> float:
        return _cross(self.loads_zeroed_N)

    @property
    def cross_weight_left_over(self) -> float | None:
        return None if self.loads_left_over_N is None else _cross(self.loads_left_over_N)


def _cross(loads: Array) -> float:
    return float((loads[1] + loads[2]) / loads.sum())


def _beyond_threads(axles: Mapping[str, AxleLinks | None]) -> list[str]:
    return [
        f"[{each.axle}.bar] the {each.side} link would have to change by {abs(each.link_change_mm):.0f} mm, and "
        f"threads give some {MOST_CHANGE_MM:g} mm (common practice, no source): are corner heights and ride_offset "
        "wheel travel in mm from the car as weighed?"
        for each in axles.values()
        if each is not None and abs(each.link_change_mm) > MOST_CHANGE_MM
    ]


def _settled(model: CarModel, axles: Mapping[str, AxleLinks | None], rises_mm: list[float], side: int) -> list[str]:
    """Told where a car weighed with loaded bars leaves its weighed height as they are set forceless."""
    out = []
    for curves, each, rise in zip(model.curves, axles.values(), rises_mm, strict=True):
        if curves is None or each is None:
            continue
        change = rise * curves.axle_bar.sense[side]
        if abs(change - each.link_change_mm) > SETTLES_MM:
            out.append(
                f"[{each.axle}.bar] bars carried load while the car was weighed: without it the car leaves its weighed "
                f"height, so that the {each.side} link's change of {each.link_change_mm:+z.2f} mm makes this bar "
                f"forceless only with the springs reset to that height. On the springs as they are it takes "
                f"{change:+z.2f} mm" + (f", {change / each.mm_per_turn:+z.2f} turns." if each.mm_per_turn else ".")
            )
    return out


def links_result(
    car: Car,
    *,
    front: tuple[int, int] | None = None,
    rear: tuple[int, int] | None = None,
    without: str | None = None,
    side: str = "left",
    corner_heights_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0),
    hole: str | None = None,
) -> LinksResult:
    """The links at the holes that are fitted.

    Parameters
    ----------
    side
        Whose link is turned.
    corner_heights_mm
        Wheel travel against zero at which the car stands now, as measured.
    hole
        "front:NAME" or "rear:NAME": moves that side's link there without zeroing.

    Raises
    ------
    InputError
        No bar at all, a hole that cannot be moved to without zeroing, or a car that does not stand on its wheels.
    """
    model = car_model(
        car, front=None if front is None else [front], rear=None if rear is None else [rear], without=without
    )
    if all(curves is None for curves in model.curves):
        raise InputError("the car has no bar.", where="[front.bar]", expected="a bar, whose links can be set.")
    k = 0 if side == "left" else 1
    before = [None if curves is None else _offset(curves.axle_bar, corner_heights_mm, i) for i, curves in
              enumerate(model.curves)]  # fmt: skip
    raise_mm = [
        0.0 if curves is None or offset is None else _forceless(curves, offset, k)
        for curves, offset in zip(model.curves, before, strict=True)
    ]
    now = _rest(model, before)
    unit = np.eye(2)[k]
    zeroed_at = [None if q is None else q + up * unit for q, up in zip(before, raise_mm, strict=True)]
    settled_at, settled_mm = _forceless_on_its_springs(model, zeroed_at, raise_mm, k)
    zeroed = _rest(model, settled_at)
    axles: dict[str, AxleLinks | None] = {}
    left_at: list[Array | None] = []
    threads = False
    for i, curves in enumerate(model.curves):
        q, target = before[i], zeroed_at[i]
        if curves is None or q is None or target is None:
            axles[AXLES[i]] = None
            left_at.append(None)
            continue
        bar = curves.axle_bar
        change = raise_mm[i] * bar.sense[k]
        turns = half = over = None
        if bar.mm_per_turn is not None:
            threads = True
            turns = change / bar.mm_per_turn
            half = math.floor(2.0 * turns + 0.5) / 2.0
            over = (half - turns) * bar.mm_per_turn
        left_at.append(target + (over or 0.0) * bar.sense[k] * unit)
        axles[AXLES[i]] = AxleLinks(
            AXLES[i], side, bar.names(curves.pairs[0]), float(q[0] - q[1]), _pair(now[1][i]), change, bar.mm_per_turn,
            turns, half, over, None,
        )  # fmt: skip
    left = _rest(model, left_at) if threads else None
    for i, name in enumerate(AXLES):
        found = axles[name]
        if left is not None and found is not None and found.turns is not None:
            axles[name] = replace(found, forces_left_over_N=_pair(left[1][i]))
    return LinksResult(
        car=model.car,
        axles=axles,
        loads_now_N=now[0],
        loads_zeroed_N=zeroed[0],
        loads_left_over_N=None if left is None else left[0],
        moved=None if hole is None else _moved(model, hole, side, settled_at),
        corner_heights_mm=corner_heights_mm,
        assumptions=(
            *car.assumptions,
            *model.sentences(),
            *ASSUMPTIONS,
            *(
                ("Corner heights: the car stands there now, its springs reset; they count as ride offsets.",)
                if any(corner_heights_mm)
                else ()
            ),
        ),
        warnings=(*car.warnings, *model.warnings, *_settled(model, axles, settled_mm, k), *_beyond_threads(axles)),
    )


def _pair(values: Array) -> Sides:
    return float(values[0]), float(values[1])


def _offset(bar: AxleBar, heights_mm: tuple[float, ...], axle: int) -> Array:
    """Pickup travels (left, right) where the car stands: of the file's offsets, the links and the corner heights."""
    left, right = heights_mm[2 * axle : 2 * axle + 2]
    return np.array(bar.offset_mm) + np.array(bar.pickups_mm((left, right)))


def _forceless(curves: BarCurves, offset: Array, side: int) -> float:
    """How far the bar's end on `side` must rise (mm) for its ends to need no unlike forces, at the weighed height."""
    unit, pair = np.eye(2)[side], np.zeros(1, np.intp)
    rise = 0.0
    for _ in range(50):
        found = curves.forces(pair, (offset + rise * unit)[None])
        unlike = float(found.force_N[0, 0] - found.force_N[0, 1])
        slope = float((found.slope_N_per_mm[0, 0] - found.slope_N_per_mm[0, 1]) @ unit)
        step = -unlike / slope
        rise += step
        if abs(step) < 1e-10:
            return rise
    raise BarfemError("the length at which the bar is forceless was not found.")


def _forceless_on_its_springs(
    model: CarModel, start: list[Array | None], rises_mm: list[float], side: int
) -> tuple[list[Array | None], list[float]]:
    """Pickup travels at zero, and rises of the bars' ends on `side`, at which the standing car loads no bar.

    They are those at the weighed height unless bars took part in the weighing: what they carried the springs then
    carry, and the car settles. `start`, `rises_mm`: those at the weighed height.
    """
    unit, rises, offsets = np.eye(2)[side], list(rises_mm), list(start)
    for _ in range(200):
        suspension, x = _standing(model, offsets)
        travel = suspension.travel_mm(x)
        steps = [
            0.0 if curves is None else _forceless(curves, suspension.pickup_mm(i, travel)[0], side)
            for i, curves in enumerate(model.curves)
        ]
        offsets = [None if q is None else q + step * unit for q, step in zip(offsets, steps, strict=True)]
        rises = [rise + step for rise, step in zip(rises, steps, strict=True)]
        if max(map(abs, steps)) < 1e-8:
            return offsets, rises
    raise BarfemError("the lengths at which the car stands with forceless bars were not found.")


def _standing(
    model: CarModel, offsets: list[Array | None], *, moved_by: str = "--corner-heights"
) -> tuple[Suspension, Array]:
    """The car at rest, and its unknowns (1, 7), with these pickup travels at zero.

    Raises
    ------
    InputError
        It does not stand; the message names the key that twists a bar most, or `moved_by` if none of the file's does.
    """
    suspension = Suspension(model.car, model.curves, offsets_mm=(offsets[0], offsets[1]), weighed_N=model.weighed_N)
    found = solve(suspension, _AT_REST)
    if not found.found[0]:
        raise _no_rest(model, offsets, moved_by)
    return suspension, found.x


def _no_rest(model: CarModel, offsets: list[Array | None], moved_by: str) -> InputError:
    car, level = model.car, np.zeros(2)
    if not solve(Suspension(car, model.curves, offsets_mm=(level, level)), _AT_REST).found[0]:
        softest = min(car.axles, key=lambda axle: axle.tyre_rate_N_per_mm)
        return InputError(
            f"the car finds no equilibrium at rest, not even with forceless bars, on tyres of "
            f"{softest.tyre_rate_N_per_mm:g} N/mm.",
            where=f"[{softest.name}] tyre_rate",
            expected="springs and tyres that hold the car, each rate in N/mm.",
            file=car.source,
        )
    twists = []
    for axle, at in zip(car.axles, offsets, strict=True):
        if axle.bar is None or at is None:
            continue
        ride, filed = (
            left - right for left, right in (axle.bar.pickups_mm(axle.bar.ride_offset_mm), axle.bar.offset_mm)
        )
        parts = {
            f"[{axle.name}.bar] ride_offset": ride,
            f"[{axle.name}.bar] link_length_error": filed - ride,
            moved_by: float(at[0] - at[1]) - filed,
        }
        twists.append((abs(float(at[0] - at[1])), axle.name, max(parts, key=lambda key: abs(parts[key]))))
    twist, name, key = max(twists)
    return InputError(
        f"the car finds no equilibrium at rest with the {name} bar's ends {twist:.3g} mm apart: so twisted it lifts "
        "the car off its wheels.",
        where=key,
        expected="mm from the car as weighed, with which its wheels stay on the ground.",
        file=None if key == moved_by else car.source,
    )


def _rest(
    model: CarModel, offsets: list[Array | None], *, moved_by: str = "--corner-heights"
) -> tuple[Array, tuple[Array, Array]]:
    """Wheel loads (4,) and link forces of both axles (left, right) at rest with these pickup travels at zero."""
    suspension, x = _standing(model, offsets, moved_by=moved_by)
    travel, first = suspension.travel_mm(x), np.zeros(1, np.intp)
    links = [
        np.zeros(2) if curves is None else curves.forces(first, suspension.pickup_mm(i, travel)).link_N[0]
        for i, curves in enumerate(model.curves)
    ]
    return suspension.tyres_N(x)[0][0], (links[0], links[1])


def _moved(model: CarModel, text: str, side: str, zeroed_at: list[Array | None]) -> MovedHole:
    """One link moved to another hole with its length kept, from where both bars are zeroed."""
    axle, _, name = text.partition(":")
    if axle not in AXLES or not name:
        raise InputError(f"{text!r} names no hole.", where="--hole", expected="front:NAME or rear:NAME.")
    i, k = AXLES.index(axle), 0 if side == "left" else 1
    curves, start = model.curves[i], zeroed_at[i]
    if curves is None or start is None:
        raise InputError(f"the {axle} axle has no bar.", where="--hole", expected="an axle with a bar.")
    bar = curves.axle_bar
    ours = bar.bar
    link = None if ours is None else (ours.left_link if k == 0 else ours.right_link)
    if ours is None or link is None or link.pickup_mm is None:
        why = (
            "a bar given by its rates says nothing of where its links are fixed"
            if ours is None
            else "with [links] length and direction the pickup follows the hole by assumption, so that nothing is "
            "preloaded"
        )
        raise InputError(
            f"moving a link of the {axle} bar adds nothing that could be said: {why}.",
            where="--hole",
            expected="a bar file whose [links] give pickup, a point fixed in the car.",
        )
    pair = curves.pairs[0]
    number = hole_of(bar, side, name, where="--hole")
    moved_to = (number, pair[1]) if k == 0 else (pair[0], number)
    end = ours.left if k == 0 else ours.right
    joints = joint_centres(end, ours.centreline)
    lengths = [
        float(np.linalg.norm(np.array(link.pickup_mm) - np.array(joints[end.holes[at].name])))
        for at in (pair[k], number)
    ]
    error = lengths[0] - lengths[1]
    both = car_model(
        model.car,
        front=[moved_to] if i == 0 else _first(model.curves[0]),
        rear=[moved_to] if i == 1 else _first(model.curves[1]),
    )
    both.weighed_N = model.weighed_N
    offsets = list(zeroed_at)
    offsets[i] = start + error * bar.sense[k] * np.eye(2)[k]
    loads, forces = _rest(both, offsets, moved_by="--hole")
    return MovedHole(axle, side, name, error, _pair(forces[i]), _cross(loads))


def _first(curves: BarCurves | None) -> list[tuple[int, int]] | None:
    return None if curves is None else [curves.pairs[0]]
