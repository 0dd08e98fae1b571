"""`barfem travel`: how far the car can really move a bar's ends, and the bar file's [travel] and [duty] from it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import field
from pathlib import Path
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.car.car import AXLES, Axle, AxleBar, Car, Use
from barfem.car.car_json import CarJson
from barfem.car.limits import limits_of
from barfem.car.model import CarModel, car_model
from barfem.car.quantities import CarStates
from barfem.car.statics import Problem, solve
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, finite, json_as

__all__ = ["CASES", "AxleTravel", "Reach", "TravelResult", "bar_text_with_travel", "travel_result"]

Array = NDArray[np.float64]
CASES = ("roll", "one_wheel", "parallel")
ASSUMPTIONS = (
    "Roll: both wheels move equal and opposite; the least of the nearer stop, the wheels' travel where the first tyre "
    "of the axle lifts in a turn at a_x = 0, and the greatest of the states given.",
    "One wheel: a kerb lifts one wheel from rest to its bump stop, the other stays. The states have no kerb in them: "
    "they count only where no bump_stop is given. A kerb lifts no tyre off.",
    "Parallel: both wheels in bump; the least of the bump stop and the greatest of the states given.",
    "A stop is taken to end the travel where it is touched; it is not rigid, so that a hard landing goes further.",
    "A cycle of the duty is a left and a right turn at the roll travel; a kerb goes from rest to the one-wheel travel, "
    "which twists the bar as half of that wheel travel does in roll.",
)

_PRELOAD = 0.05  # of the travel in roll, below which it is not told
_ENDS = {"stops": "the stop is touched", "lift": "the first tyre lifts"}


@frozen
class Reach:
    """One case: wheel travel by each limit, None where it sets none; what governs; and the bar end's travel."""

    stops_mm: float | None
    lift_mm: float | None
    states_mm: float | None
    governs: str | None
    wheel_mm: float | None
    bar_end_mm: float | None


def _of_file(travels: tuple[float, float, float] | None) -> dict[str, float] | None:
    return None if travels is None else dict(zip(("up_mm", "down_mm", "one_wheel_mm"), travels, strict=True))


def _of_blocks(blocks: tuple[tuple[float, float, float], ...]) -> list[dict[str, float]]:
    return [dict(zip(("pickup_mm", "cycles", "ratio"), block, strict=True)) for block in blocks]


@frozen
class AxleTravel:
    """One axle's bar: what it can be moved, what its file says, and the duty that `[use]` makes of it."""

    axle: str = field(metadata=NOT_IN_JSON)
    cases: Mapping[str, Reach] = field(metadata=NOT_IN_JSON)
    file_pickup_mm: tuple[float, float, float] | None = field(metadata=json_as(_of_file, key="bar_file"))
    blocks: tuple[tuple[float, float, float], ...] = field(default=(), metadata=json_as(_of_blocks))

    _json_also: ClassVar[Mapping[str, str]] = {name: name for name in CASES}

    @property
    def roll(self) -> Reach:
        return self.cases["roll"]

    @property
    def one_wheel(self) -> Reach:
        return self.cases["one_wheel"]

    @property
    def parallel(self) -> Reach:
        return self.cases["parallel"]


@frozen
class TravelResult(CarJson):
    car: Car = field(metadata=NOT_IN_JSON)
    axles: Mapping[str, AxleTravel | None] = field(metadata=NOT_IN_JSON)
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    _json_also: ClassVar[Mapping[str, str]] = {**CarJson._json_also, "front": "front", "rear": "rear", "use": "car.use"}

    @property
    def front(self) -> AxleTravel | None:
        return self.axles["front"]

    @property
    def rear(self) -> AxleTravel | None:
        return self.axles["rear"]


def travel_result(
    car: Car,
    *,
    front: tuple[int, int] | None = None,
    rear: tuple[int, int] | None = None,
    without: str | None = None,
) -> TravelResult:
    """What the car at the fitted holes can do to its bars.

    Raises
    ------
    InputError, BarfemError
        As `barfem.car.model.car_model`.
    """
    model = car_model(
        car, front=None if front is None else [front], rear=None if rear is None else [rear], without=without
    )
    found = model.states(model.problem(car.states))
    lift = _lift_travel(model)
    axles: dict[str, AxleTravel | None] = {}
    for i, name in enumerate(AXLES):
        axle = model.car.axles[i]
        axles[name] = None if axle.bar is None else _axle_travel(axle, i, found, lift[i], car.use)
    of_use = (
        [] if car.use is None else ["[use] laps, corners and kerbs are the file's: an estimate of use, to be edited."]
    )
    return TravelResult(
        model.car,
        axles,
        (*car.assumptions, *model.sentences(), *ASSUMPTIONS, *of_use),
        (
            *car.warnings,
            *model.warnings,
            *(
                f'"{state.name}": no equilibrium is left at {state.words}; it says nothing of travel.'
                for state, stands in zip(car.states, found.found, strict=True)
                if not stands
            ),
            *(told for axle in axles.values() if axle is not None for told in _beyond(axle)),
            *(
                told
                for axle, found_axle in zip(model.car.axles, axles.values(), strict=True)
                if axle.bar is not None and found_axle is not None
                for told in _preloaded(axle.bar, found_axle)
            ),
        ),
    )


def _preloaded(bar: AxleBar, found: AxleTravel) -> list[str]:
    """Told where a bar is twisted as the car stands, by more than its own file says: a check begins at its rest."""
    roll = found.roll.bar_end_mm
    left, right = bar.offset_mm
    if bar.bar is not None:  # a check has the links of the bar file as long as that says
        errors = bar.bar.left_link.length_error_mm, bar.bar.right_link.length_error_mm
        left, right = (at - sense * error for at, sense, error in zip((left, right), bar.sense, errors, strict=True))
    twist = abs(left - right)
    if not roll or twist <= 2.0 * _PRELOAD * roll:
        return []
    beside = ", of which the bar file says nothing" if bar.bar is not None else ""
    return [
        f"[{bar.axle}.bar] at the weighed height ride_offset and links hold the bar's ends {twist:.3g} mm apart"
        f"{beside}: turns one way twist it by up to {2.0 * roll + twist:.3g} mm, the other way by "
        f"{abs(2.0 * roll - twist):.3g} mm, in place of {2.0 * roll:.3g} mm. The travels here leave that out, and so "
        "does a bar file that is written: set the bar forceless first (barfem links), or judge it by barfem car with "
        "turns to both sides."
    ]


def _beyond(axle: AxleTravel) -> list[str]:
    """Of the cases in which the states given move the bar further than the limit that ends its travel."""
    return [
        f"[{axle.axle}] {case}: the states given move the wheels {reach.states_mm:.3g} mm, the bar's ends "
        f"{reach.bar_end_mm / reach.wheel_mm * reach.states_mm:.3g} mm: further than {reach.wheel_mm:.3g} mm of wheel, "
        f"where {_ENDS[reach.governs]}, but a stop gives and the other wheel goes on. This travel is for the duty; "
        "judge yield by that of the states, or by barfem car."
        for case, reach in axle.cases.items()
        if reach.governs and reach.wheel_mm and reach.bar_end_mm and reach.states_mm
        if reach.states_mm > 1.01 * reach.wheel_mm
    ]


def _lift_travel(model: CarModel) -> list[float | None]:
    """Of each axle, half the difference of its wheels' travels where its first tyre lifts in a turn; None if none."""
    limits = [limits_of(model.suspension, front=0, rear=0, turn=turn) for turn in (1.0, -1.0)]
    edges = [limit.no_equilibrium_a_y_g for limit in limits]
    out: list[list[float]] = [[], []]
    for edge in edges:
        if edge is None:
            continue
        a_y = np.linspace(0.0, edge, 400)[1:]
        n = len(a_y)
        first = np.zeros(n, np.intp)
        found = solve(model.suspension, Problem(a_y, np.zeros(n), first, first))
        travel = model.suspension.travel_mm(found.x)
        lifted = model.suspension.tyres_N(found.x)[0] <= 0.0
        for i in (0, 1):
            own = found.found & lifted[:, 2 * i : 2 * i + 2].any(axis=1)
            if own.any():
                k = int(np.argmax(own))
                out[i].append(0.5 * abs(float(travel[k, 2 * i] - travel[k, 2 * i + 1])))
    return [min(values) if values else None for values in out]


def _axle_travel(axle: Axle, i: int, found: CarStates, lift: float | None, use: Use | None) -> AxleTravel:
    bar = axle.bar
    if bar is None:
        raise InputError(f"the {axle.name} axle has no bar.", where=f"[{axle.name}.bar]", expected="a bar.")
    own = found.travel_mm[found.found][:, 2 * i : 2 * i + 2]
    bump = None if axle.bump_stop is None else axle.bump_stop.gap_mm
    gaps = [stop.gap_mm for stop in (axle.bump_stop, axle.droop_stop) if stop is not None]
    rolling = float(np.abs(own[:, 0] - own[:, 1]).max() / 2) if len(own) else None
    single = float(max(own.max(), 0.0)) if len(own) else None
    both = float(max(own.mean(axis=1).max(), 0.0)) if len(own) else None
    cases = {
        "roll": _least(min(gaps) if gaps else None, lift, rolling, bar.roll_motion_ratio),
        # One wheel alone is half heave and half roll of the axle: of a beam axle their ratios differ.
        "one_wheel": _least(
            bump, None, single if bump is None else None, 0.5 * (bar.motion_ratio + bar.roll_motion_ratio)
        ),
        "parallel": _least(bump, None, both, bar.motion_ratio),
    }
    file = None if bar.bar is None else (bar.bar.travel.up_mm, bar.bar.travel.down_mm, bar.bar.travel.one_wheel_mm)
    return AxleTravel(axle.name, cases, file, _blocks(cases, use, bar.roll_motion_ratio))


def _least(stops: float | None, lift: float | None, states: float | None, ratio: float) -> Reach:
    given = {"stops": stops, "lift": lift, "states": states}
    known = {name: value for name, value in given.items() if value is not None}
    governs = min(known, key=lambda name: known[name]) if known else None
    wheel = None if governs is None else known[governs]
    return Reach(stops, lift, states, governs, wheel, None if wheel is None else finite(ratio * wheel))


def _blocks(cases: Mapping[str, Reach], use: Use | None, roll_ratio: float) -> tuple[tuple[float, float, float], ...]:
    if use is None:
        return ()
    blocks = []
    roll, wheel = cases["roll"].bar_end_mm, cases["one_wheel"].wheel_mm
    if roll and use.corners_per_lap > 0.0:
        blocks.append((roll, 0.5 * use.laps * use.corners_per_lap, -1.0))
    if wheel and use.kerbs_per_lap > 0.0:
        blocks.append((0.5 * roll_ratio * wheel, use.laps * use.kerbs_per_lap, 0.0))
    return tuple(blocks)


_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]#]+?)\s*\]\]?\s*(#.*)?$")


def bar_text_with_travel(path: Path, found: AxleTravel, *, car: Car) -> str:
    """The bar file at `path` with [travel], and with [use] also [duty], from the car; old values stay as comments.

    Raises
    ------
    InputError
        The file has no [travel] under a heading of its own, or the car moves the bar nowhere.
    """
    import tomllib

    from barfem.model.read import bar_from_dict

    text = path.read_text(encoding="utf-8-sig").replace("\r\n", "\n")
    old = tomllib.loads(text)
    roll, kerb, parallel = (found.cases[name].bar_end_mm for name in CASES)
    if not roll:
        raise InputError(
            f"the car moves the ends of the {found.axle} bar nowhere in roll.",
            where=f"--write-{found.axle}",
            expected="a car with stops, or with a state in a turn.",
        )
    travel: list[str] = [f"pickup = {roll:.6g}"]
    if "direction" in old["travel"]:
        travel.append(f"direction = {list(old['travel']['direction'])}")
    if "motion_ratio" in old["travel"]:
        travel.append(f"motion_ratio = {old['travel']['motion_ratio']}")
    if kerb:
        travel.append(f"one_wheel = {kerb:.6g}")
    if parallel and _reads("parallel"):
        travel.append(f"parallel = {parallel:.6g}")
    source = f"from barfem travel, car {car.name}"
    text = _replaced(text, "travel", travel, source, path)
    if found.blocks:
        rows = ", ".join(
            f"{{ pickup = {pickup:.6g}, cycles = {cycles:.6g}, ratio = {ratio:g} }}"
            for pickup, cycles, ratio in found.blocks
        )
        text = _replaced(text, "duty", [f"blocks = [{rows}]"], source, path)
    bar_from_dict(tomllib.loads(text), source=str(path))
    return text


def _reads(key: str) -> bool:
    """Whether the bar file knows a key of [travel]."""
    from barfem.model.schema import TravelTable

    return key in TravelTable.model_fields


def _replaced(text: str, table: str, lines: list[str], source: str, path: Path) -> str:
    """`text` with the lines of [table], and of the tables in it, made comments and `lines` in their place.

    Raises
    ------
    InputError
        The table stands in the file without a heading of its own, as `table = { ... }` or `table.key = ...`.
    """
    import tomllib

    out: list[str] = []
    inside = placed = False
    for row in text.split("\n"):
        heading = _HEADER.match(row)
        if heading:
            name = [part.strip(" \t\"'") for part in heading[2].split(".")]
            inside = name[0] == table
            if inside and len(name) == 1 and heading[1] == "[":
                placed = True
                out += [row, f"# {source}", *lines]
                continue
        out.append(f"# was: {row}" if inside and row.strip() and not row.lstrip().startswith("#") else row)
    if not placed:
        while out and not out[-1].strip():
            out.pop()
        out += ["", f"[{table}]", f"# {source}", *lines, ""]
    new = "\n".join(out)
    try:
        tomllib.loads(new)
    except tomllib.TOMLDecodeError:
        raise InputError(
            f"there is no heading [{table}] to write under.",
            where=f"[{table}]",
            expected=f"a bar file with [{table}] on a line of its own, its keys below it.",
            file=str(path),
        ) from None
    return new
