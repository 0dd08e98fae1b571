"""What the set-up sheet of a car says: its holes from soft to stiff, a pair to start from, the links' zero."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from typing import ClassVar

from barfem.car.balance import BalanceResult, balance
from barfem.car.bar_curves import Pair, curves_of, every_pair
from barfem.car.car import AXLES, Car
from barfem.car.links import LinksResult, links_result
from barfem.car.stiffness import axle_stiffness
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, Json

__all__ = ["HoleLine", "SetUp", "set_up"]


@frozen
class HoleLine:
    """One equal hole pair: the bar's roll stiffness at the wheels, and per cent of the softest."""

    holes: tuple[str, str]
    roll_stiffness_Nm_per_deg: float
    percent_of_softest: float


@frozen
class SetUp(Json):
    car: Car = field(metadata=NOT_IN_JSON)
    holes: Mapping[str, tuple[HoleLine, ...]]
    balance: BalanceResult
    links: LinksResult

    _json_also: ClassVar[Mapping[str, str]] = {"name": "car.name"}


def set_up(
    car: Car,
    *,
    front: Pair | None = None,
    rear: Pair | None = None,
    without: str | None = None,
) -> SetUp:
    """Everything the sheet needs; equal hole pairs only, the buyer's first steps. `front` and `rear` are as fitted.

    Raises
    ------
    InputError
        The car has no bar.
    BarfemError
        As `balance`.
    """
    for name, pair in (("front", front), ("rear", rear)):
        axle = getattr(car, name)
        if pair is not None and axle.bar is not None:
            car = replace(car, **{name: replace(axle, bar=replace(axle.bar, fitted=pair))})
    if without is not None and not car.weighed_with_bars:
        car = replace(car, **{without: replace(getattr(car, without), bar=None)})
        without = None
    if car.front.bar is None and car.rear.bar is None:
        raise InputError("the car has no bar to set up.", where="[front.bar]", expected="a bar on one axle at least.")
    holes: dict[str, tuple[HoleLine, ...]] = {}
    for name, axle in zip(AXLES, car.axles, strict=True):
        if axle.bar is None or name == without:
            holes[name] = ()
            continue
        pairs = every_pair(axle.bar, unequal=False)
        curves = curves_of(axle.bar, pairs)
        found = sorted(
            (
                (
                    axle_stiffness(axle, bar_rate_N_per_mm=curves.roll_rate_N_per_mm(k)).bar_Nm_per_deg,
                    axle.bar.names(pair),
                )
                for k, pair in enumerate(curves.pairs)
            ),
            key=lambda item: item[0],
        )
        holes[name] = tuple(HoleLine(names, value, 100.0 * value / found[0][0]) for value, names in found)
    return SetUp(car, holes, balance(car, without=without), links_result(car, without=without))
