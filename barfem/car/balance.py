"""`barfem balance`: every pair of front and rear holes, what each does to the car, and a pair to start from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.car.balance_bars import bar_columns, warnings_of_blocks
from barfem.car.balance_result import BalanceResult, PairResult
from barfem.car.bar_curves import BarCurves, Pair, every_pair
from barfem.car.car import Car, State
from barfem.car.grip import slip_rad
from barfem.car.missed import missed_at_rest, missed_in_state
from barfem.car.model import CarModel, car_model
from barfem.car.quantities import CarStates
from barfem.car.schema import LEAST_GRIP, MOST_GRIP
from barfem.car.start_pair import start_pair
from barfem.car.statics import solve
from barfem.model.errors import InputError
from barfem.model.plain import finite

__all__ = ["BalanceResult", "PairResult", "balance", "state_for_balance"]

Array = NDArray[np.float64]
SMALL_G = 1e-3
STARTING_POINT = 0.05
"""Front transfer share less static front share to begin with (Milliken, from memory)."""
STARTING_WORDS = (
    "Target of the front transfer share: {:.3f}, the static front share and "
    f"{STARTING_POINT:g} (Milliken, from memory: a starting point, not truth)."
)

ASSUMPTIONS = (
    "Unequal holes left and right give a rate between those of the equal ones (the mean of 1 / rate) and, in a linear "
    "car, no difference between left and right turns; they twist the bar in dive and heave.",
    "Preload gives cross-weight, not a stiffness that differs from side to side.",
    "The transfer share of a linear car depends on neither a_y nor a_x until a wheel lifts or a stop engages: judge "
    "entry, middle and exit by grip used, lift and traction.",
    "Balance is grip used front less rear: above 0 the front gives up first. Differences between holes are its use, "
    "not its level.",
    "Yield margin is judged at full travel of the bar file and at the state; life at full travel. A state's life is "
    "that of a turn to the left and one to the right in turns.",
)


def state_for_balance(car: Car, name: str | None) -> State:
    """The state called `name`; by default "mid", else the one with the greatest lateral acceleration.

    Raises
    ------
    InputError
        There is no such state.
    """
    if name is not None:
        for state in car.states:
            if state.name == name:
                return state
        raise InputError(
            f'there is no state "{name}".',
            where="--at",
            expected="one of " + ", ".join(s.name for s in car.states) + ".",
        )
    return next((s for s in car.states if s.name == "mid"), max(car.states, key=lambda s: abs(s.a_y_g)))


def balance(
    car: Car,
    *,
    front: Pair | None = None,
    rear: Pair | None = None,
    without: str | None = None,
    unequal: bool = False,
    at: State | None = None,
    grip: float | None = None,
) -> BalanceResult:
    """Every pair of hole pairs, or those with `front` or `rear` alone.

    Parameters
    ----------
    unequal
        Also pairs of unlike holes left and right.
    at
        The state whose grip, loads, stress and life are shown (default as `state_for_balance`).
    grip
        Another grip of the tyres: the lateral acceleration of every state scales with it.

    Raises
    ------
    InputError
        A state without lateral acceleration; a grip that no tyre has; a new grip of unknown tyres; unequal holes
        without levers; a car that falls over.
    BarfemError
        A bar without equilibrium.
    """
    state = state_for_balance(car, None) if at is None else at
    if state.a_y_g == 0.0:
        raise InputError(
            "the car goes straight: no load is transferred from side to side that front and rear could share.",
            where=f'state "{state.name}"',
            expected="a state with a_y; barfem car answers for any.",
        )
    if grip is not None and not LEAST_GRIP <= grip <= MOST_GRIP:
        raise InputError(f"{grip:g} is no grip.", where="--grip", expected="side force / load, such as 1.30.")
    old_roll: float | None = None
    wanted = [
        None if axle.bar is None else [chosen] if chosen is not None else list(every_pair(axle.bar, unequal=unequal))
        for axle, chosen in zip(car.axles, (front, rear), strict=True)
    ]
    notes: list[str] = []
    for i, axle in enumerate(car.axles):
        pairs = wanted[i]
        if axle.bar is not None and axle.bar.bar is None and pairs is not None and unequal:
            wanted[i] = kept = [
                pair for pair in pairs if pair[0] == pair[1] or all(axle.bar.rates[k][2] is not None for k in pair)
            ]
            if len(kept) < len(pairs):
                notes.append(f"[{axle.name}.bar] unequal holes are left out: not every rate has its lever.")
    model = car_model(car, front=wanted[0], rear=wanted[1], without=without)
    if grip is not None:
        model, state, old_roll = _at_new_grip(model, state, grip)
    car = model.car
    fronts, rears = (_by_rate(curves, pairs) for curves, pairs in zip(model.curves, wanted, strict=True))
    numbers = [(i, j) for i in fronts for j in rears]
    rows = _rows(model, state, numbers)
    band = car.targets.front_transfer_share
    target = 0.5 * (band[0] + band[1]) if band is not None else car.front_share + STARTING_POINT
    results = [
        replace(
            row,
            distance_from_target=None if row.front_transfer_share is None else abs(row.front_transfer_share - target),
            roll_not_above_old=None
            if old_roll is None or row.roll_deg is None
            else abs(row.roll_deg) <= abs(old_roll) + 1e-12,
        )
        for row in _with_steps(rows, _next_stiffer(model.curves[0], fronts), _next_stiffer(model.curves[1], rears))
    ]
    order = sorted(range(len(results)), key=lambda k: _far(results[k].distance_from_target))
    start = start_pair(model, state, [numbers[k] for k in order], [results[k] for k in order], target, rears)
    return BalanceResult(
        car=car,
        at=state,
        target_share=target,
        target_given=band is not None,
        fitted=(
            None if car.front.bar is None else car.front.bar.names(car.front.bar.fitted),
            None if car.rear.bar is None else car.rear.bar.names(car.rear.bar.fitted),
        ),
        pairs=tuple(results[k] for k in order),
        start=start,
        grip=grip,
        old_roll_deg=old_roll,
        assumptions=(
            *car.assumptions,
            *model.sentences(),
            *ASSUMPTIONS,
            *notes,
            *(() if band is not None else (STARTING_WORDS.format(target),)),
        ),
        warnings=(*car.warnings, *model.warnings, *warnings_of_blocks(car)),
    )


def _far(distance: float | None) -> float:
    return np.inf if distance is None else distance


def _by_rate(curves: BarCurves | None, wanted: Sequence[Pair] | None) -> list[int]:
    """Numbers of an axle's wanted hole pairs, softest first."""
    if curves is None or wanted is None:
        return [0]
    numbers = [curves.index_of(pair) for pair in wanted]
    return sorted(numbers, key=curves.roll_rate_N_per_mm)


def _at_new_grip(model: CarModel, state: State, grip: float) -> tuple[CarModel, State, float]:
    """The same car on tyres of another grip: every state's a_y scales with it; and the fitted pair's roll before."""
    car = model.car
    if car.tyres is None or car.tyres[0].grip is None or car.tyres[1].grip is None:
        raise InputError(
            "the car file gives no grip to compare with.", where="--grip", expected="[tyres] grip and load."
        )
    at = [
        0 if curves is None or axle.bar is None or axle.bar.fitted not in curves.pairs
        else curves.index_of(axle.bar.fitted)
        for axle, curves in zip(car.axles, model.curves, strict=True)
    ]  # fmt: skip
    old = model.states(model.problem([state], [(at[0], at[1])]))
    ratio = grip / car.tyres[0].grip
    tyres = tuple(replace(tyre, grip=(tyre.grip or 0.0) * ratio) for tyre in car.tyres)
    states = tuple(replace(each, a_y_g=each.a_y_g * ratio) for each in car.states)
    changed = replace(car, tyres=(tyres[0], tyres[1]), states=states)
    model.car = changed
    model.__post_init__()
    return model, replace(state, a_y_g=state.a_y_g * ratio), float(old.roll_deg[0])


def _rows(model: CarModel, state: State, numbers: list[tuple[int, int]]) -> list[PairResult]:
    car = model.car
    # The other turn first: where it takes the curves further, the state's own are theirs too.
    mirrored = model.states(model.problem([replace(state, a_y_g=-state.a_y_g)], numbers))
    found = model.states(model.problem([state], numbers))
    fronts, rears = ([pair[k] for pair in numbers] for k in (0, 1))
    gradient = model.whole_gradient_deg_per_g(fronts, rears)
    understeer = _understeer_gradient(model, state, numbers)
    every = solve(model.suspension, model.problem(car.states, numbers))
    loads = np.where(every.found[:, None], model.suspension.tyres_N(every.x)[0], np.nan).reshape(len(numbers), -1, 4)
    least_any = loads.min(axis=(1, 2))
    stood = every.found.reshape(len(numbers), -1)
    bars = [bar_columns(model, found, mirrored, i, [pair[i] for pair in numbers]) for i in (0, 1)]
    rows = []
    for k, (i, j) in enumerate(numbers):
        own = [columns.row(k) for columns in bars if columns is not None]
        names = [
            None if curves is None else curves.axle_bar.names(curves.pairs[number])
            for curves, number in zip(model.curves, (i, j), strict=True)
        ]
        why = _why(car, found, k, gradient[k], loads[k], stood[k])
        bar_why = [text for columns in bars if columns is not None for text in columns.why(k)]
        lives = [(row["life_state"], row["runout_state"]) for row in own]
        full = [(row["life_full"], row["runout_full"]) for row in own]
        life_state, life_full = _shortest(lives), _shortest(full)
        rows.append(
            PairResult(
                front=names[0],
                rear=names[1],
                roll_gradient_deg_per_g=finite(gradient[k]),
                front_transfer_share=finite(found.front_transfer_share[k]),
                roll_deg=finite(found.roll_deg[k]),
                grip_used_front=finite(found.grip_used[k, 0]),
                grip_used_rear=finite(found.grip_used[k, 1]),
                balance=finite(found.grip_used[k, 0] - found.grip_used[k, 1]),
                understeer_gradient_deg_per_g=finite(understeer[k]),
                least_wheel_load_N=finite(found.loads_N[k].min()),
                least_wheel_load_any_state_N=finite(least_any[k]),
                yield_margin_state=_least([row["margin_state"] for row in own]),
                yield_margin_full=_least([row["margin_full"] for row in own]),
                life_state_cycles=life_state[0],
                life_state_runout=life_state[1],
                life_full_cycles=life_full[0],
                life_full_runout=life_full[1],
                distance_from_target=None,
                passes=not why and not bar_why,
                bars_pass=not bar_why,
                why=(*why, *bar_why),
            )
        )
    return rows


def _least(values: list[float]) -> float | None:
    known = [value for value in values if np.isfinite(value)]
    return min(known) if known else None


def _shortest(lives: list[tuple[float, bool]]) -> tuple[float | None, bool]:
    """The shortest life of the bars, and whether it is beyond the knee for all of them."""
    known = [life for life, runout in lives if not runout]
    if not lives:
        return None, False
    if not known:
        return None, True
    return finite(min(known)), False


def _understeer_gradient(model: CarModel, state: State, numbers: list[tuple[int, int]]) -> Array:
    """(pairs,) slope of the understeer angle over a_y at the state's a_y, a_x = 0."""
    both = [replace(state, a_y_g=state.a_y_g + step, a_x_g=0.0) for step in (-SMALL_G, SMALL_G)]
    problem = model.problem(both, numbers)
    found = solve(model.suspension, problem)
    loads = np.where(found.found[:, None], model.suspension.tyres_N(found.x)[0], np.nan)
    slip = np.degrees(slip_rad(model.car, loads, problem.a_y_g))
    angle = (slip[:, 0] - slip[:, 1]).reshape(-1, 2)
    return np.asarray((angle[:, 1] - angle[:, 0]) / (2.0 * SMALL_G))


def _why(car: Car, found: CarStates, k: int, gradient: float, loads: Array, stood: NDArray[np.bool_]) -> list[str]:
    """What pair `k` misses; `loads` (states, 4) and `stood` (states,) are of all of the car's states, share of the one
    that is shown."""
    why = []
    for state, there in zip(car.states, stood, strict=True):
        if not there:
            why.append(f"no equilibrium in state {state.name}")
    if not found.found[k]:
        return why or ["no equilibrium in the state shown"]
    why += missed_at_rest(car.targets, gradient)
    share = float(found.front_transfer_share[k])
    why += missed_in_state(car.targets, share=share, cross_weight=None, least_N=float(np.min(loads)))
    for state, (_, right, left, _), total in zip(car.states, loads, loads.sum(axis=1), strict=True):
        if state.a_y_g == 0.0:
            cross = float((right + left) / total)
            missed = missed_in_state(car.targets, share=math.nan, cross_weight=cross, least_N=math.inf)
            why += [f"{state.name}: {text}" for text in missed]
    return why


def _next_stiffer(curves: BarCurves | None, numbers: list[int]) -> list[int | None]:
    """For each of the hole pairs, softest first, the place of the next that is stiffer by more than 0.1 %."""
    if curves is None:
        return [None] * len(numbers)
    rates = [curves.roll_rate_N_per_mm(number) for number in numbers]
    return [next((j for j in range(i + 1, len(rates)) if rates[j] > 1.001 * rates[i]), None) for i in range(len(rates))]


def _with_steps(rows: list[PairResult], front: list[int | None], rear: list[int | None]) -> list[PairResult]:
    """Rows of front x rear (softest first, rear fastest) with the steps to the next stiffer holes of each bar."""

    def less(one: float | None, two: float | None, scale: float) -> float | None:
        return None if one is None or two is None else scale * (two - one)

    out = []
    for k, row in enumerate(rows):
        i, j = divmod(k, len(rear))
        up, beside = front[i], rear[j]
        steps: dict[str, float | None] = {}
        for name, other in (
            ("front", None if up is None else rows[up * len(rear) + j]),
            ("rear", None if beside is None else rows[i * len(rear) + beside]),
        ):
            if other is not None:
                steps[f"step_{name}_share_points"] = less(row.front_transfer_share, other.front_transfer_share, 100.0)
                steps[f"step_{name}_roll_deg_per_g"] = less(
                    row.roll_gradient_deg_per_g, other.roll_gradient_deg_per_g, 1.0
                )
        out.append(replace(row, **steps))  # type: ignore[arg-type]
    return out
