"""What does not look like a car: slips of the pen and of the unit that its statics would take at their word.

Each is a warning with the number; nothing is refused, a car may be meant so. The limits lie well outside what cars
have; they are common practice, no source.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from barfem.car.car import GRAVITY, Axle, AxleBar, Drive, Tyre
from barfem.model.notes import Notes

__all__ = ["LEAST_MOTION_RATIO", "tell_of_odd_car"]

_LEAST_HZ = {"springs": 0.6, "tyres": 2.5}  # of tyres in kgf/mm 2, of tyres as they are 3.5 (lorries) to 6
_USUAL_HZ = {"springs": "1 to 6", "tyres": "3.5 to 6"}
_MOST_HZ = {"springs": 15.0, "tyres": 9.0, "bar": 15.0}  # the lightest cars have 8 on their tyres
LEAST_MOTION_RATIO = 0.1
"""Pickup over wheel travel, below which the wheels hardly move the bar."""
_LEAST_BAR_HZ = 0.1  # of the body on a bar alone: the weakest bars that anyone fits have 0.3
_LEAST_TRACK = 0.7  # of the other axle's: cars whose axles differ most have 0.8
_LEAST_CG = 0.7  # of the wheel centres' height: the lowest single-seaters have 0.75, and others more than 1
_LEAST_TIPS_G = 0.45
_LEAST_WHEELBASE = 0.7  # of the wider track: karts have 0.75
_LEFT_SHARE, _CROSS_WEIGHT = (0.38, 0.62), (0.42, 0.6)  # cars for ovals have up to 0.6 and 0.58
_LEAST_GAP_MM, _MOST_STOP_N_PER_MM = 1.0, 10_000.0


class _Usual(NamedTuple):
    """A number of a car: key, value, the least and the most that is usual, its unit, and what is asked beyond."""

    key: str
    value: float
    least: float
    most: float
    unit: str
    question: str


def tell_of_odd_car(
    axles: tuple[Axle, Axle],
    *,
    wheelbase_mm: float,
    corner_masses_kg: tuple[float, float, float, float],
    sprung_cg_height_mm: float,
    drive: Drive | None,
    tyres: tuple[Tyre, Tyre] | None,
    notes: Notes,
) -> None:
    """Warn of what no car has; front before rear."""
    _tell_of_weights(axles, corner_masses_kg, sprung_cg_height_mm, notes)
    for i, axle in enumerate(axles):
        mass = sum(corner_masses_kg[2 * i : 2 * i + 2]) - axle.unsprung_mass_kg
        _tell(f"[{axle.name}]", _of_axle(axle), notes)
        if axle.roll_centre_height_mm > sprung_cg_height_mm:
            notes.look_twice(
                f"[{axle.name}] roll_centre_height {axle.roll_centre_height_mm:g} mm lies above the sprung mass's "
                f"centre of gravity, {sprung_cg_height_mm:.0f} mm: this axle would lean the body into the turn."
            )
        held = _at_zero_N(axle)
        carried = 0.5 * mass * GRAVITY
        if held and not 0.5 * carried <= held <= 2.0 * carried:
            notes.look_twice(
                f"[{axle.name}] wheel_curve holds {held:g} N at zero, where the corners' springs carry "
                f"{carried:.0f} N on average: is it in N, of one wheel, and counted from the car as weighed?"
            )
        for what, rate in (("springs", axle.spring.wheel_rate_N_per_mm), ("tyres", axle.tyre_rate_N_per_mm)):
            hertz = _hertz(rate, mass)
            if 0.0 < hertz < math.inf and not _LEAST_HZ[what] <= hertz <= _MOST_HZ[what]:
                notes.look_twice(
                    f"[{axle.name}] on its {what} alone the body would bounce at {_short(hertz)} Hz, cars at "
                    f"{_USUAL_HZ[what]}: is the rate in N/mm, and are the masses in kg?"
                )
        if axle.bar is not None:
            _tell(f"[{axle.name}.bar]", _of_bar(axle.bar), notes)
            for number, (_, rate, _) in enumerate(axle.bar.rates, start=1):
                at_wheel = rate * axle.bar.roll_motion_ratio**2
                hertz = _hertz(at_wheel, mass)
                # A ratio that hardly moves the bar has its own question.
                weak = hertz < _LEAST_BAR_HZ and axle.bar.roll_motion_ratio >= LEAST_MOTION_RATIO
                if weak or hertz > _MOST_HZ["bar"]:
                    beside = "nothing beside a" if weak else "beyond any"
                    notes.look_twice(
                        f"[{axle.name}.bar] rates {number}: {rate:g} N/mm in roll are {at_wheel:.3g} N/mm at the "
                        f"wheel, {beside} spring's: is the rate in N/mm?"
                    )
            _tell_of_levers(axle.bar, notes)
    narrow, wide = sorted(axle.track_mm for axle in axles)
    if wheelbase_mm < _LEAST_WHEELBASE * wide:
        notes.look_twice(
            f"[car] wheelbase {wheelbase_mm:g} mm beside a track of {wide:g} mm: is one exchanged for the other?"
        )
    if narrow < _LEAST_TRACK * wide:
        both = " and ".join(f"[{axle.name}] track {axle.track_mm:g} mm" for axle in axles)
        notes.look_twice(f"{both}: is one of them half the track?")
    front = sum(corner_masses_kg[:2]) / sum(corner_masses_kg)
    if drive is not None and drive.brake_front_share < min(0.5, front):
        notes.look_twice(
            f"[drive] brake_front_share {drive.brake_front_share:g} is less than the front wheels bear at rest, "
            f"{front:.2f}: the rear wheels would lock first in any braking. Is it the rear's?"
        )
    for bias in drive.torque_bias if drive is not None else ():
        if bias < math.inf:
            _tell("[drive]", [_Usual("torque_bias", bias, 1.0, 10.0, "", 'or "locked"?')], notes)
    for load in {tyre.load_N for tyre in tyres or () if tyre.load_N is not None}:
        _tell("[tyres]", [_Usual("load", load, 300.0, 20_000.0, "N", "is it in N, of one tyre?")], notes)


def _tell_of_weights(
    axles: tuple[Axle, Axle], corners_kg: tuple[float, float, float, float], sprung_cg_mm: float, notes: Notes
) -> None:
    """Of the whole car: where its mass stands."""
    front_left, front_right, rear_left, _ = corners_kg
    total, unsprung = sum(corners_kg), sum(axle.unsprung_mass_kg for axle in axles)
    centres = sum(axle.unsprung_mass_kg * axle.unsprung_height_mm for axle in axles)
    height = ((total - unsprung) * sprung_cg_mm + centres) / total
    tips = 0.5 * min(axle.track_mm for axle in axles) / height
    if tips < _LEAST_TIPS_G:
        notes.look_twice(
            f"[car] the centre of gravity at {height:.0f} mm would tip a rigid car of this track over at {tips:.2f} g, "
            "cars above 0.9 and lorries above 0.5: is its height above the road, in mm?"
        )
    if height * unsprung < _LEAST_CG * centres:
        notes.look_twice(
            f"[car] the centre of gravity, {height:.0f} mm, lies far below the wheel centres at "
            f"{centres / unsprung:.0f} mm: is its height above the road, not above the axles?"
        )
    for name, mass, (least, most) in (
        ("left side", front_left + rear_left, _LEFT_SHARE),
        ("front right and rear left wheels together", front_right + rear_left, _CROSS_WEIGHT),
    ):
        if not least <= mass / total <= most:
            notes.look_twice(
                f"[car] corner_masses: the {name} would bear {mass / total:.3f} of the car, cars {least:g} to {most:g} "
                "(common practice, no source): is each number its own corner's, and all in one unit?"
            )


def _tell_of_levers(bar: AxleBar, notes: Notes) -> None:
    """Of rates: a longer lever makes the same bar softer."""
    known = sorted((lever, rate, hole) for hole, rate, lever in bar.rates if lever is not None)
    for (short, stiff, one), (long, soft, other) in itertools.pairwise(known):
        if long > short and soft > stiff:
            notes.look_twice(
                f'[{bar.axle}.bar] rates: hole "{other}" has a longer lever than hole "{one}", {long:g} mm beside '
                f"{short:g} mm, and the higher rate: is a lever or a rate the other hole's?"
            )
            return


def _at_zero_N(axle: Axle) -> float:
    """The force of a wheel_curve at zero travel; 0 where there is none, or where it counts from that force."""
    travel, force = zip(*axle.spring.curve, strict=True) if axle.spring.curve else ((0.0,), (0.0,))
    return float(np.interp(0.0, travel, force))


def _of_axle(axle: Axle) -> Iterator[_Usual]:
    yield _Usual("unsprung_mass", axle.unsprung_mass_kg, 15.0, 500.0, "kg", "is it of both wheels, in kg?")
    yield _Usual("anti", axle.anti, -1.0, 1.0, "", "a share, 0.3 for 30 %?")
    for camber in axle.camber_deg:
        yield _Usual("camber", camber, -8.0, 8.0, "deg", "a slipped point?")
    yield _Usual("camber_gain", axle.camber_gain_deg_per_mm, -0.1, 0.1, "deg per mm", "of bump, in mm?")
    for name in ("bump_stop", "droop_stop"):
        stop = getattr(axle, name)
        if stop is not None:
            # One that rests on its seat has 0.
            least = _LEAST_GAP_MM if stop.gap_mm > 0.0 else 0.0
            yield _Usual(f"{name} gap", stop.gap_mm, least, 400.0, "mm", "is it in mm of wheel travel?")
            yield _Usual(
                f"{name} rate", stop.rate_N_per_mm, 0.0, _MOST_STOP_N_PER_MM, "N/mm", "is it in N/mm at the wheel?"
            )


def _of_bar(bar: AxleBar) -> Iterator[_Usual]:
    if bar.mm_per_turn is not None:
        yield _Usual("link_thread", bar.mm_per_turn, 0.35, 8.0, "mm a turn", "is pitch in mm?")
    for sides, key, most in (
        (bar.ride_offset_mm, "ride_offset", 100.0),
        (bar.link_error_mm, "link_length_error", 20.0),
    ):
        for value in sides:
            yield _Usual(key, value, -most, most, "mm", "is it in mm?")
    for number, (_, _, lever) in enumerate(bar.rates, start=1):
        if lever is not None:
            yield _Usual(f"rates {number}, lever", lever, 50.0, 800.0, "mm", "is it in mm, from the bar's axis?")


def _tell(where: str, numbers: Iterable[_Usual], notes: Notes) -> None:
    for one in dict.fromkeys(numbers):
        if not one.least <= one.value <= one.most:
            notes.look_twice(
                f"{where} {one.key} {_with_unit(f'{one.value:g}', one)} is not usual for a car, which has "
                f"{_with_unit(f'{one.least:g} to {one.most:g}', one)} (common practice, no source): {one.question}"
            )


def _with_unit(text: str, of: _Usual) -> str:
    return f"{text} {of.unit}".rstrip()


def _short(value: float) -> str:
    """Two figures, and no power of ten where it is large."""
    return f"{value:.0f}" if value >= 100.0 else f"{value:.2g}"


def _hertz(rate_N_per_mm: float, mass_kg: float) -> float:
    """Of a mass [kg] on two springs of that rate, one a wheel."""
    return math.sqrt(2000.0 * rate_N_per_mm / mass_kg) / (2.0 * math.pi)
