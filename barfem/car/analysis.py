"""`barfem car`: the car at the holes that are fitted, in every state, judged against its targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_stress import BarStress, StressAt
from barfem.car.car import AXLES, LINK_ASSUMPTION, Car, State
from barfem.car.limits import CorneringLimits, limits_of
from barfem.car.missed import missed_at_rest, missed_in_state, missed_margin
from barfem.car.model import CarModel, car_model
from barfem.car.quantities import CarStates, states_of
from barfem.car.result import CarResult, Understeer
from barfem.car.statics import Problem
from barfem.car.stiffness import roll_gradients_deg_per_g
from barfem.model.plain import finite

__all__ = ["MODEL_ASSUMPTIONS", "analyse_car", "no_equilibrium_reason", "understeer_of"]

Array = NDArray[np.float64]
UNDERSTEER_A_Y_G = tuple(round(0.1 * i, 1) for i in range(1, 10))
SMALL_G = 1e-3
FREE_TRAVEL_MM = 50.0
WORSE = 1.1
"""Stress of the other turns over that of the states given, above which it is told."""

MODEL_ASSUMPTIONS = (
    "Not in the model: jacking, side deflection of tyres, twist of the chassis, aerodynamics, gyroscopic and driveline "
    "torque, yaw acceleration; roll centres keep their height.",
    "Camber, roll steer, compliance steer, aligning torque are not in slip and understeer: differences between holes "
    "are their use, not their level.",
    "Tyres deflect under the whole transfer, that past the springs too; the roll gradients by hand leave that out.",
    "A spring takes up what its corner's scales say, less half of the unsprung mass; weight of bars and links counts "
    "where the scales found it.",
    LINK_ASSUMPTION,
    "Bar rates are those at the drawing's rest position; bar forces follow the bar's curve in travel.",
    "Pitch, unlike roll, gains no moment from the weight of the pitched body.",
)


def analyse_car(
    car: Car,
    *,
    front: tuple[int, int] | None = None,
    rear: tuple[int, int] | None = None,
    states: Sequence[State] | None = None,
    without: str | None = None,
    stress: bool = True,
) -> CarResult:
    """The car in `states` (default: the file's) with hole pairs `front` and `rear` (default: those fitted).

    `without` names an axle whose bar is taken off.

    Raises
    ------
    InputError
        Unequal holes without levers; a car that falls over before it leans.
    BarfemError
        A bar without equilibrium.
    """
    model = car_model(
        car, front=None if front is None else [front], rear=None if rear is None else [rear], without=without
    )
    return analyse_model(model, states=car.states if states is None else tuple(states), stress=stress)


def analyse_model(model: CarModel, *, states: Sequence[State], stress: bool = True) -> CarResult:
    """As `analyse_car`, of the first hole pair of a car whose curves are solved."""
    car = model.car
    found = model.states(model.problem(states))
    limits = limits_of(model.suspension, front=0, rear=0)
    right = limits_of(model.suspension, front=0, rear=0, turn=-1.0)
    names = tuple(state.name for state in states)
    reasons = tuple(
        None if here else no_equilibrium_reason(state, limits if state.a_y_g >= 0.0 else right)
        for here, state in zip(found.found, states, strict=True)
    )
    stiffness = model.stiffness()
    bars = _stress(model, found) if stress else (None, None)
    whole = finite(model.whole_gradient_deg_per_g([0], [0])[0])
    why = _why(car, found, names, reasons, bars, whole)
    other_turns = _worse_to_the_other_side(model, states, names, bars)
    return CarResult(
        car=car,
        holes={
            axle: None if curves is None else curves.axle_bar.names(curves.pairs[0])
            for axle, curves in zip(AXLES, model.curves, strict=True)
        },
        stiffness=stiffness,
        whole_deg_per_g=whole,
        by_hand_deg_per_g=roll_gradients_deg_per_g(car, *stiffness),
        states=found,
        names=names,
        reasons=reasons,
        stress=bars,
        understeer=understeer_of(model, 0, 0),
        limits=limits,
        right_limits=right,
        passes=not why,
        why=why,
        assumptions=(*car.assumptions, *model.sentences(), *MODEL_ASSUMPTIONS),
        warnings=(*car.warnings, *_unfit(model), *model.warnings, *other_turns, *_warnings(car, found, names)),
    )


def no_equilibrium_reason(state: State, limits: CorneringLimits) -> str:
    """Why a state has no equilibrium, and where the limits lie."""
    edge, lift = limits.no_equilibrium_a_y_g, limits.lift_a_y_g
    parts = [f"the car finds no equilibrium at a_y = {state.a_y_g:.4g} g, a_x = {state.a_x_g:.4g} g: it rolls over or "
             "pitches until wheels of a side or an axle are off"]  # fmt: skip
    if lift is not None and limits.first_wheel is not None:
        parts.append(f"the first wheel to lift at a_x = 0 is {limits.first_wheel.replace('_', ' ')}, at {lift:.3f} g")
    if edge is not None:
        parts.append(f"no equilibrium is left from {edge:.3f} g on")
    return "; ".join(parts)


def _stress(model: CarModel, found: CarStates) -> tuple[StressAt | None, StressAt | None]:
    out: list[StressAt | None] = []
    for i, curves in enumerate(model.curves):
        if curves is None or curves.grid is None:
            out.append(None)
            continue
        q = np.where(found.found[:, None], found.pickup_mm[i], 0.0)
        out.append(BarStress(curves).at(found.problem.front if i == 0 else found.problem.rear, q, other_end_mm=q))
    return out[0], out[1]


def _worse_to_the_other_side(
    model: CarModel, states: Sequence[State], names: tuple[str, ...], bars: tuple[StressAt | None, StressAt | None]
) -> list[str]:
    """Told where preload makes a turn that is not among the states, their mirror image, the one that stresses a bar."""
    twisted = [
        bar is not None and found is not None and bar.offset_mm[0] != bar.offset_mm[1]
        for bar, found in zip((model.car.front.bar, model.car.rear.bar), bars, strict=True)
    ]
    if not any(twisted):
        return []
    mirrored = model.states(model.problem([replace(state, a_y_g=-state.a_y_g) for state in states]))
    out = []
    for axle, here, there in zip(AXLES, bars, _stress(model, mirrored), strict=True):
        if here is None or there is None or not twisted[AXLES.index(axle)]:
            continue
        k = int(np.argmax(there.peak_von_mises_MPa))
        greatest = float(here.peak_von_mises_MPa.max())
        if there.peak_von_mises_MPa[k] > WORSE * greatest:
            out.append(
                f"[{axle}.bar] turns to the other side stress this bar more, for ride_offset or links twist it as the "
                f"car stands: in {names[k]} to the other side {there.peak_von_mises_MPa[k]:.0f} MPa, yield margin "
                f"{there.yield_margin[k]:.2f}, where the states given have {greatest:.0f} MPa at most. Give states to "
                "both sides, or set the bar forceless (barfem links)."
            )
    return out


def understeer_of(model: CarModel, front: int, rear: int) -> tuple[Understeer, ...]:
    """Understeer angle (front slip less rear) and its local slope over a_y, at a_x = 0."""
    at = np.array(UNDERSTEER_A_Y_G)
    every = np.concatenate([at, at - SMALL_G, at + SMALL_G])
    n = len(every)
    found = states_of(
        model.suspension,
        Problem(every, np.zeros(n), np.full(n, front, np.intp), np.full(n, rear, np.intp)),
    )
    angle = (found.slip_deg[:, 0] - found.slip_deg[:, 1]).reshape(3, -1)
    slope = (angle[2] - angle[1]) / (2.0 * SMALL_G)
    return tuple(Understeer(float(a), finite(angle[0, i]), finite(slope[i])) for i, a in enumerate(at))


def _why(
    car: Car,
    found: CarStates,
    names: tuple[str, ...],
    reasons: tuple[str | None, ...],
    stress: tuple[StressAt | None, StressAt | None],
    whole: float | None,
) -> tuple[str, ...]:
    """What the car does not meet, in sentences."""
    why = [f"{name}: {reason}" for name, reason in zip(names, reasons, strict=True) if reason is not None]
    why += missed_at_rest(car.targets, float("nan") if whole is None else whole)
    for i, name in enumerate(names):
        if not found.found[i]:
            continue
        straight = found.problem.a_y_g[i] == 0.0
        missed = missed_in_state(
            car.targets,
            share=float(found.front_transfer_share[i]),
            cross_weight=float(found.cross_weight[i]) if straight else None,
            least_N=float(found.loads_N[i].min()),
        )
        for axle, curves, bar in zip(AXLES, stress, (car.front.bar, car.rear.bar), strict=True):
            if curves is not None and bar is not None and bar.bar is not None:
                missed += missed_margin(axle, float(curves.yield_margin[i]), bar.bar.targets.yield_margin)
        why += [f"{name}: {text}" for text in missed]
    return tuple(why)


def _unfit(model: CarModel) -> list[str]:
    """What is wrong with the bars in the holes fitted, whatever their stress."""
    return [
        f"[{curves.axle_bar.axle}.bar] {text}"
        for curves in model.curves
        if curves is not None
        for text in curves.unfit(0)
    ]


def _warnings(car: Car, found: CarStates, names: tuple[str, ...]) -> list[str]:
    out = []
    for i, axle in enumerate(car.axles):
        if axle.bump_stop is None:
            for n, name in enumerate(names):
                travel = found.travel_mm[n, 2 * i : 2 * i + 2]
                if found.found[n] and travel.max() > FREE_TRAVEL_MM:
                    out.append(
                        f"[{axle.name}] no bump_stop is given, and in {name} a wheel goes {travel.max():.0f} mm into "
                        "bump."
                    )
                    break
    return out
