"""What the commands on a car file share: its path, holes, states, and an axle's bar taken off."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.nearest import did_you_mean

if TYPE_CHECKING:
    from barfem.car.car import Car, State

__all__ = ["CarQuestion", "add_car_options", "read_question"]


@frozen
class CarQuestion:
    """A car file with the holes and states that the command line asks for."""

    path: Path
    car: Car
    front: tuple[int, int] | None
    rear: tuple[int, int] | None
    without: str | None
    states: tuple[State, ...]

    @property
    def fitted(self) -> dict[str, Any]:
        """The holes and the axle without a bar, as every question to a car takes them."""
        return {"front": self.front, "rear": self.rear, "without": self.without}

    @property
    def inputs(self) -> list[Path]:
        """The files that were read."""
        bars = [axle.bar.bar.source for axle in self.car.axles if axle.bar is not None and axle.bar.bar is not None]
        return [self.path, *(Path(source) for source in bars if source is not None)]


def add_car_options(parser: argparse.ArgumentParser, *, standing: bool = False) -> None:
    """The options of every command on a car file; `standing` where the answer is that of the car at rest alone."""
    parser.add_argument("car", metavar="CAR.toml", help="the car file")
    parser.add_argument("--front", metavar="A[,B]", help="hole of the front bar; left and right hole if unequal")
    parser.add_argument("--rear", metavar="A[,B]", help="of the rear bar")
    parser.add_argument("--without", choices=("front", "rear"), help="that axle's bar off")
    idle = " (changes nothing here: the car stands)" if standing else ""
    parser.add_argument("--states", metavar="NAME,...", help=f"these states of the file alone{idle}")
    parser.add_argument("--state", metavar="a_y=0.9,a_x=0", help=f"one of your own, in g, alone{idle}")


def read_question(args: argparse.Namespace) -> CarQuestion:
    """Read the car file and find the holes and states that are asked for.

    Raises
    ------
    InputError
        The file is wrong, or names no such hole or state.
    """
    from dataclasses import replace

    from barfem.car.bar_reading import pair_of
    from barfem.car.read import read_car
    from barfem.cli.bar_file import bar_path

    path = bar_path(args.car, kind="car file")
    car = read_car(path)
    states = _states(args, car)
    if args.without is not None and getattr(car, args.without).bar is None:
        raise InputError(
            f"the {args.without} axle has no bar to take off.", where="--without", expected="an axle with a bar."
        )
    return CarQuestion(
        path,
        replace(car, states=states),
        pair_of(car, "front", args.front, where="--front", without=args.without),
        pair_of(car, "rear", args.rear, where="--rear", without=args.without),
        args.without,
        states,
    )


def _states(args: argparse.Namespace, car: Car) -> tuple[State, ...]:
    names, own = getattr(args, "states", None), getattr(args, "state", None)
    if names is not None and own is not None:
        raise InputError("--states and --state are both given.", where="--state", expected="one of the two.")
    if own is not None:
        return (_own_state(own),)
    if names is None:
        return car.states
    known = {state.name: state for state in car.states}
    out = []
    for name in (part.strip() for part in names.split(",")):
        if name not in known:
            raise InputError(
                f'there is no state "{name}".{did_you_mean(name, known)}',
                where="--states",
                expected="one of " + ", ".join(known) + ".",
            )
        if known[name] in out:
            raise InputError(f'state "{name}" is named twice.', where="--states", expected="each state once.")
        out.append(known[name])
    return tuple(out)


def _own_state(text: str) -> State:
    from barfem.car.car import State
    from barfem.cli.values import number

    convert = number("acceleration")
    expected = 'a_y=0.9,a_x=0 (g, or "8.8 m/s2"; left turn and forward > 0).'
    given = {"a_y": 0.0, "a_x": 0.0}
    seen: set[str] = set()
    for part in text.split(","):
        key, sign, value = (piece.strip() for piece in part.partition("="))
        try:
            found = convert(value)
        except InputError:
            found = float("nan")
        if key not in given or not sign or not abs(found) <= 5.0:
            raise InputError(f"{part.strip()!r} is no acceleration.", where="--state", expected=expected)
        if key in seen:
            raise InputError(f"{key} is given twice.", where="--state", expected=expected)
        seen.add(key)
        given[key] = found
    return State(text.replace(" ", ""), given["a_y"], given["a_x"])
