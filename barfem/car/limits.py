"""Where the first wheel lifts, and where no equilibrium is left, as the lateral acceleration grows at a_x = 0."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.car.car import WHEELS
from barfem.car.statics import Problem, Suspension, solve

__all__ = ["Limits", "limits_of"]

GREATEST_G, POINTS, ROUNDS = 6.0, 49, 6


@dataclass(frozen=True)
class Limits:
    """Lateral accelerations in g (their sign is that of the turn); None where there is none up to `GREATEST_G`."""

    first_wheel: str | None
    lift_a_y_g: float | None
    no_equilibrium_a_y_g: float | None


def limits_of(suspension: Suspension, *, front: int, rear: int, turn: float = 1.0) -> Limits:
    """The limits of one hole pair each in a left (`turn` = 1) or right (-1) turn, to better than 1e-6 g."""

    def tried(a_y: NDArray[np.float64]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        n = len(a_y)
        found = solve(
            suspension,
            Problem(turn * a_y, np.zeros(n), np.full(n, front, np.intp), np.full(n, rear, np.intp)),
        )
        return found.found, suspension.tyres_N(found.x)[0] <= 0.0

    def edge(good) -> tuple[float, float] | None:  # type: ignore[no-untyped-def]
        """Last acceleration that is good and first that is not."""
        low, high = 0.0, GREATEST_G
        for _ in range(ROUNDS):
            a_y = np.linspace(low, high, POINTS if high == GREATEST_G and low == 0.0 else 25)
            fine = good(*tried(a_y))
            if fine.all():
                return None
            first = int(np.argmin(fine))
            if first == 0:
                return 0.0, 0.0
            low, high = float(a_y[first - 1]), float(a_y[first])
        return low, high

    gone = edge(lambda found, lifted: found)
    lift = edge(lambda found, lifted: found & ~lifted.any(axis=1))
    wheel = None
    if lift is not None:
        found, lifted = tried(np.array([lift[1]]))
        if found[0] and lifted[0].any():
            wheel = WHEELS[int(np.argmax(lifted[0]))]
        elif gone is not None:
            # It goes over as the wheel lifts: the wheel is the lightest just before.
            n = np.array([front], np.intp), np.array([rear], np.intp)
            last = solve(suspension, Problem(turn * np.array([lift[0]]), np.zeros(1), *n))
            wheel = WHEELS[int(np.argmin(suspension.tyres_N(last.x)[0][0]))]
    return Limits(wheel, None if lift is None else turn * lift[1], None if gone is None else turn * gone[1])
