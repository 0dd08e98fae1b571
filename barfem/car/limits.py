"""Where the first wheel lifts, and where no equilibrium is left, as the lateral acceleration grows at a_x = 0."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.car.car import WHEELS
from barfem.car.statics import Problem, Suspension, solve
from barfem.model.frozen import frozen
from barfem.model.plain import json_key

__all__ = ["CorneringLimits", "limits_of"]

Array = NDArray[np.float64]
Good = Callable[[NDArray[np.bool_], NDArray[np.bool_]], NDArray[np.bool_]]

STEPS, FINER, ROUNDS = 25, 145, 3


@frozen
class CorneringLimits:
    """Lateral accelerations in g (their sign is that of the turn); None where there is none."""

    first_wheel: str | None
    lift_a_y_g: float | None = field(metadata=json_key("a_y_g"))
    no_equilibrium_a_y_g: float | None


def limits_of(suspension: Suspension, *, front: int, rear: int, turn: float = 1.0) -> CorneringLimits:
    """The limits of one hole pair each in a left (`turn` = 1) or right (-1) turn, to better than 1e-6 g.

    Beyond what tips the car as a rigid block there is no equilibrium. The way there goes in steps, from the first
    lifted wheel on each from the state before; the step in which a wheel lifts, or no state is found, is then divided.
    """

    def tried(
        a_y: Array, start: Array, *, lead_there: bool = False
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_], Array]:
        n = len(a_y)
        pair = np.full(n, front, np.intp), np.full(n, rear, np.intp)
        found = solve(
            suspension, Problem(turn * a_y, np.zeros(n), *pair), start=np.tile(start, (n, 1)), lead_there=lead_there
        )
        return found.found, suspension.tyres_N(found.x)[0] <= 0.0, found.x

    def edge(low: float, high: float, start: Array, good: Good) -> tuple[float, NDArray[Any]]:
        """The first acceleration in (low, high] that is not good, and its wheels that are lifted."""
        last = np.zeros(4, bool)
        for _ in range(ROUNDS):
            a_y = np.linspace(low, high, FINER)[1:]
            found, lifted, x = tried(a_y, start)
            fine = good(found, lifted)
            first = len(a_y) - 1 if fine.all() else int(np.argmin(fine))
            if first > 0:
                low, start = float(a_y[first - 1]), x[first - 1]
            high = float(a_y[first])
            last = np.asarray(lifted[first] if found[first] else suspension.tyres_N(start[None])[0][0])
        return high, last

    car = suspension.car
    half = 0.5 * max(axle.track_mm for axle in car.axles) + abs(car.sprung_cg_left_mm)
    way = np.linspace(0.0, 1.25 * half / car.cg_height_mm, STEPS)
    # At once as far as no wheel lifts: there the springs alone decide, and one equilibrium is reached from anywhere.
    found, lifted, x = tried(way, np.zeros(7))
    firm = found & ~lifted.any(axis=1)
    stood = STEPS if firm.all() else int(np.argmin(firm))
    state, wheel, lift, gone = x[stood - 1] if stood else np.zeros(7), None, None, None
    for step in range(stood, STEPS):
        before, a_y = float(way[max(step - 1, 0)]), float(way[step])
        found, lifted, x = tried(way[step : step + 1], state)
        last = a_y if found[0] else edge(before, a_y, state, lambda found, lifted: found)[0]
        if last == a_y and not found[0]:  # every finer step but the last one stands: try harder
            found, lifted, x = tried(way[step : step + 1], state, lead_there=True)
        if lift is None and (not found[0] or lifted[0].any()):
            lift, off = edge(before, a_y, state, lambda found, lifted: found & ~lifted.any(axis=1))
            # It may go over as the wheel lifts: then it is the wheel with the least load just before.
            wheel = WHEELS[int(np.argmax(off)) if off.dtype == bool else int(np.argmin(off))]
        if not found[0]:
            gone = last
            break
        state = x[0]
    return CorneringLimits(wheel, None if lift is None else turn * lift, None if gone is None else turn * gone)
