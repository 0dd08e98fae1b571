"""One-wheel travel moves the left wheel: what the right wheel alone would do to a bar whose ends differ."""

from __future__ import annotations

import numpy as np

from barfem.model.load_case import ONE_WHEEL, End, Instant
from barfem.model.warned import Effect, Warned
from barfem.solve.beam import BeamSolution

__all__ = ["right_wheel_warnings"]

TOLD_FROM = 1.01


def right_wheel_warnings(solution: BeamSolution) -> tuple[Warned, ...]:
    """Where the right wheel alone loads the bar more than the left one, which is judged, by how much.

    A bar between two mounts is one spring in v . q, v the force at each end and q its travel: one wheel alone loads it
    as v of its own end, which the forces at both ends of the left wheel's travel tell. Bushings that wind up add to
    that, so that it is an estimate. Pairs of unequal holes are left out: each is judged with its holes exchanged too.
    """
    pairs = [j for j, one in enumerate(solution.settings) if one.case == ONE_WHEEL.name and one.left == one.right]
    force = solution.pickup_force_N[pairs, Instant.TRAVEL] - solution.pickup_force_N[pairs, Instant.REST]
    felt = np.abs(force[np.abs(force[:, End.LEFT]) > 0.0])
    more = float((felt[:, End.RIGHT] / felt[:, End.LEFT]).max(initial=0.0))
    if more <= TOLD_FROM:
        return ()
    return (
        Warned(
            f"The right wheel alone loads this bar about {100.0 * (more - 1.0):.0f} % more than the left one, which "
            "one-wheel travel is judged with, as its arm is shorter. Judge the bar with left and right exchanged as "
            "well.",
            Effect.RIGHT_WHEEL,
        ),
    )
