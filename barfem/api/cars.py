"""The bar in the car for the keyboard: what `barfem car` and `barfem balance` find, with rows and printed text."""

from __future__ import annotations

import io
import os
from typing import Any

from barfem.api.plots import Plot
from barfem.api.studies import _Printed, _values, flat
from barfem.car.analysis import analyse_car
from barfem.car.balance import BalanceResult, balance, state_for_balance
from barfem.car.bar_reading import hole_of
from barfem.car.car import Car
from barfem.car.read import read_car
from barfem.car.result import CarResult

__all__ = ["CarCheck", "HolePairs", "check_car", "hole_pairs"]

AnyCar = Car | str | os.PathLike[str]


class CarCheck(_Printed, CarResult):
    """A car at one pair of holes: stiffness, states, limits; units stand in the keys of its rows (N, deg, mm, g)."""

    def records(self) -> list[dict[str, Any]]:
        """A row a state, flat: loads [N], roll [deg], shares, travels [mm], link forces [N], stress [MPa]."""
        return [dict(flat(self.state(i))) for i in range(len(self.names))]

    def _print(self, stream: io.StringIO) -> None:
        from barfem.show.car.tables import print_car

        print_car(self, stream)


class HolePairs(_Printed, BalanceResult):
    """Every pair of front and rear holes, nearest to the target share first; `start` is where to begin, and why."""

    def records(self) -> list[dict[str, Any]]:
        """A row a pair: roll gradient [deg/g], front share, grip used, least load [N], margin, life [cycles], steps."""
        return list(self.to_json_dict()["pairs"])

    def plot(self) -> Plot:
        """The map of all pairs: front share of the load transfer over roll gradient [deg/g]."""
        from barfem.show.car.balance_map import balance_map

        return Plot(balance_map(self))

    def _print(self, stream: io.StringIO) -> None:
        from barfem.show.car.balance import print_balance

        print_balance(self, stream)


def check_car(car: AnyCar, *, front: str | None = None, rear: str | None = None) -> CarCheck:
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
    return CarCheck(**_values(analyse_car(read, front=_pair(read, "front", front), rear=_pair(read, "rear", rear))))


def hole_pairs(car: AnyCar, *, unequal: bool = False, at: str | None = None, grip: float | None = None) -> HolePairs:
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
    return HolePairs(**_values(balance(read, unequal=unequal, at=state_for_balance(read, at), grip=grip)))


def _read(car: AnyCar) -> Car:
    return car if isinstance(car, Car) else read_car(car)


def _pair(car: Car, axle: str, text: str | None) -> tuple[int, int] | None:
    from barfem.model.errors import InputError

    if text is None:
        return None
    bar = getattr(car, axle).bar
    if bar is None:
        raise InputError(f"the {axle} axle has no bar.", where=axle, expected=f"no {axle} hole.")
    left, _, right = (part.strip() for part in text.partition(","))
    return hole_of(bar, "left", left, where=axle), hole_of(bar, "right", right or left, where=axle)
