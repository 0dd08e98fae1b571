"""Rate of a bar at its right end with the left one held, from that of the left end and the one in roll."""

from __future__ import annotations

__all__ = ["right_end_rate"]


def right_end_rate(roll: float | None, left: float) -> float | None:
    """Rate [N/mm] at the right pickup, the left one held; None where it is the left end's own within 1 %.

    Of a bar that turns freely, which pushes back with one force only: at the pickups it has k = (a, b)(a, b)', a^2 the
    left end's rate with the right one held, and (a + b)^2 / 2 in roll. Leaning links make it a few per cent wrong.
    """
    if roll is None or roll <= 0.0 or left <= 0.0:
        return None
    right = float(max((2.0 * roll) ** 0.5 - left**0.5, 0.0) ** 2)
    return right if abs(right / left - 1.0) > 0.01 else None
