"""Which states are solved beyond rest and both ends of the cycle: of blocks, and one wheel for critical planes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.load_case import ONE_WHEEL
from barfem.solve.beam import HoleSetting, Moves

__all__ = ["block_moves", "further_moves", "one_wheel_moves"]

Array = NDArray[np.float64]


def block_moves(bar: Bar, setting: HoleSetting) -> Array:
    """Pickup travels (2 blocks, 2) of (right, left) in mm: full travel and other end of each block in turn."""
    moves = []
    for block in bar.duty.blocks:
        full = block.pickup_mm * np.array(setting.load_case.unit)
        moves += [full, block.ratio * full]
    return np.array(moves).reshape(-1, 2)


def one_wheel_moves(bar: Bar, setting: HoleSetting) -> Array:
    """Pickup travels (2, 2) of (right, left) in mm: the left wheel alone, then the right wheel alone."""
    return np.array([full := ONE_WHEEL.full_mm(bar.travel), full[::-1]])


def further_moves(bar: Bar, *, one_wheel: bool) -> Moves | None:
    """What `solve_bar` takes as `more_moves`: blocks, then one wheel where asked for; None where there are none."""
    makers: list[Callable[[Bar, HoleSetting], Array]] = []
    if bar.duty.blocks:
        makers.append(block_moves)
    if one_wheel:
        makers.append(one_wheel_moves)
    if not makers:
        return None
    return lambda bar, setting: np.concatenate([make(bar, setting) for make in makers])
