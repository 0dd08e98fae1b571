"""The bar in the car for the keyboard: what `barfem car` and `barfem balance` find, holes by their names."""

from __future__ import annotations

import os

from barfem.car.analysis import analyse_car
from barfem.car.balance import BalanceResult, balance, state_for_balance
from barfem.car.bar_reading import pair_of
from barfem.car.car import Car
from barfem.car.read import read_car
from barfem.car.result import CarResult
from barfem.model.given import measure, takes

__all__ = ["check_car", "hole_pairs"]

AnyCar = Car | str | os.PathLike[str]


def check_car(car: AnyCar, *, front: str | None = None, rear: str | None = None) -> CarResult:
    """What the bars do to a car at the holes that are fitted, as `barfem car`: loads N, roll deg, stress MPa.

    Parameters
    ----------
    car
        The path of a car file, or a car that was read.
    front, rear
        Other holes, such as "2"; "1,3" is left and right.

    Raises
    ------
    InputError
        The car file is wrong, or a bar has no such hole.
    BarfemError
        A bar has no equilibrium.
    """
    read = _read(car)
    return analyse_car(
        read, front=pair_of(read, "front", front, where="front"), rear=pair_of(read, "rear", rear, where="rear")
    )


@takes(grip=measure("side force / load, such as 1.30."))
def hole_pairs(
    car: AnyCar, *, unequal: bool = False, at: str | None = None, grip: float | None = None
) -> BalanceResult:
    """Every pair of front and rear holes, as `barfem balance`: roll deg/g, loads N, life in cycles.

    Parameters
    ----------
    car
        The path of a car file, or a car that was read.
    unequal
        Also pairs of unlike holes left and right.
    at
        Name of the state that is shown, by default "mid".
    grip
        Another grip of the tyres (side force / load); the lateral acceleration scales with it.

    Raises
    ------
    InputError
        The car file is wrong, there is no such state, or the file gives no grip.
    BarfemError
        A bar has no equilibrium.
    """
    read = _read(car)
    return balance(read, unequal=unequal, at=state_for_balance(read, at), grip=grip)


def _read(car: AnyCar) -> Car:
    return car if isinstance(car, Car) else read_car(car)
