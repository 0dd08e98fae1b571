"""Which pair of holes to begin with: nearest to the target share of those that last, by the layout of the drive."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from barfem.car.car import GRAVITY, Car, State
from barfem.car.model import CarModel
from barfem.car.statics import solve
from barfem.model.frozen import frozen
from barfem.model.grouped import counted

if TYPE_CHECKING:
    from barfem.car.balance_result import PairResult

__all__ = ["StartPair", "start_pair"]

PRACTICE = "(common practice, no source)"
UNLOADED = 0.10
"""Share of its static load below which an inside rear wheel drives nothing."""
EXIT = State("exit", 0.6, 0.3)


@frozen
class StartPair:
    """Number of the pair in the sorted list, None if none is left; and the rules that led to it."""

    number: int | None
    reasons: tuple[str, ...]


def start_pair(
    model: CarModel,
    mid: State,
    numbers: Sequence[tuple[int, int]],
    pairs: Sequence[PairResult],
    target: float,
    rears: Sequence[int],
) -> StartPair:
    """The first of `pairs`, nearest to the target share first, that no rule sets aside.

    `numbers` are the pairs' places among the model's curves, `rears` those of the rear bar, softest first.
    """
    car = model.car
    reasons = []
    lasting = [k for k, pair in enumerate(pairs) if pair.bars_pass]
    left = [k for k in lasting if pairs[k].front_transfer_share is not None]
    judged = any(axle.bar is not None and axle.bar.bar is not None for axle in car.axles)
    if judged:
        reasons.append(
            f"{len(lasting)} of {counted(len(pairs), 'pair')} pass stress and life of the bars that are ours."
        )
    else:
        reasons.append("No bar is given by its file: stress and life are not judged.")
    if len(left) < len(lasting):
        reasons.append(
            f"The car finds no equilibrium in {mid.name} (a_y {mid.a_y_g:.4g} g): "
            f"{counted(len(lasting) - len(left), 'pair')} set aside."
        )
    driven = None if car.drive is None else car.drive.driven
    exit_ = exit_state(car)
    if driven in ("rear", "all") and len(rears) > 1:
        stiffest = rears[-1]
        off = _inside_rear_share(model, exit_, [numbers[k] for k in left]) < UNLOADED
        dropped = {k for k, light in zip(left, off, strict=True) if light and numbers[k][1] == stiffest}
        reasons.append(
            f"{_layout(driven)}: not the stiffest rear where {exit_.name} ({exit_.words}) "
            f"leaves the inside rear less than {100 * UNLOADED:.0f} % of its static load {PRACTICE}; "
            f"{counted(len(dropped), 'pair')} set aside."
        )
        left = [k for k in left if k not in dropped]
    if driven in ("front", "all"):
        gone = _inside_rear_share(model, mid, [numbers[k] for k in left]) <= 0.0
        dropped = {k for k, lifts in zip(left, gone, strict=True) if lifts}
        costs = "costs no traction" if driven == "front" else "takes traction from the rear"
        reasons.append(
            f"{_layout(driven)}: a stiffer rear is allowed until the inside rear lifts in {mid.name} (a_y "
            f"{mid.a_y_g:.4g} g); lifting there {costs} {PRACTICE}; "
            f"{counted(len(dropped), 'pair')} set aside."
        )
        left = [k for k in left if k not in dropped]
    if driven is None:
        reasons.append("[drive] is not given: no rule of the drive's layout.")
    if not left:
        reasons.append("No pair is left to start from.")
        return StartPair(None, tuple(reasons))
    best = left[0]
    reasons.append(
        f"Of those left, nearest to a front transfer share of {target:.3f}: {pairs[best].front_transfer_share:.3f} "
        f"{PRACTICE}."
    )
    reasons.append(
        f"Stickier tyres scale forces by grip, and roll with it: keep the share and raise both axles {PRACTICE}. Wider "
        "tyres alone (same load, less load sensitivity): share matters less, roll stiffness stays."
    )
    return StartPair(best, tuple(reasons))


def exit_state(car: Car) -> State:
    """The car's own state of leaving a corner under power, else `EXIT`."""
    powered = [state for state in car.states if state.a_x_g > 0.0 and state.a_y_g != 0.0]
    return next((state for state in powered if state.name == "exit"), powered[0] if powered else EXIT)


def _inside_rear_share(model: CarModel, state: State, numbers: Sequence[tuple[int, int]]) -> np.ndarray:
    """(pairs,) load of the inside rear wheel over its static load; 0 where there is no equilibrium."""
    if not numbers:
        return np.zeros(0)
    found = solve(model.suspension, model.problem([state], numbers))
    wheel = 2 if state.a_y_g >= 0.0 else 3
    loads = model.suspension.tyres_N(found.x)[0][:, wheel]
    return np.where(found.found, loads / (model.car.corner_masses_kg[wheel] * GRAVITY), 0.0)


def _layout(driven: str) -> str:
    return {"rear": "Rear-wheel drive", "front": "Front-wheel drive", "all": "All-wheel drive"}[driven]
