"""A car file, or the same data as a dict, into a validated `Car`; its bar files are read with it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from barfem.car.bar_reading import read_axle_bar
from barfem.car.car import AXLES, Axle, Car, Drive, Spring, State, Stop, Targets, Use
from barfem.car.odd_car import tell_of_odd_car
from barfem.car.schema import AxleTable, CarFile, CarTable, DriveTable, StateTable, TargetsTable
from barfem.car.tyre_reading import read_tyres
from barfem.model.errors import InputError
from barfem.model.notes import Notes
from barfem.model.schema_errors import input_error
from barfem.model.toml_file import read_toml

__all__ = ["DEFAULT_STATES", "car_from_dict", "read_car"]

DEFAULT_STATES = (
    State("rest", 0.0, 0.0),
    State("entry", 0.7, -0.4),
    State("mid", 0.9, 0.0),
    State("exit", 0.6, 0.3),
    State("straight braking", 0.0, -0.8),
)
UNSPRUNG_HEIGHT_MM, BRAKE_FRONT_SHARE = 300.0, 0.65
# Outside these a number is a power of ten off what cars have: a slip of the unit.
_PLAUSIBLE_MM = {
    "wheelbase": (900.0, 8000.0),
    "cg_height": (100.0, 2500.0),
    "sprung_cg_height": (100.0, 2500.0),
    "track": (500.0, 3200.0),
    "unsprung_height": (60.0, 1200.0),
    "roll_centre_height": (-1200.0, 1500.0),
    "spring_base": (200.0, 3200.0),
}


def read_car(path: str | os.PathLike[str]) -> Car:
    """The car that a file describes, with the bars that it names.

    Raises
    ------
    InputError
        No such file, not a car file, or a car that cannot be; the message names file, table, key and value, and
        says what would be right.
    """
    return car_from_dict(read_toml(path, kind="car file"), source=str(path))


def car_from_dict(data: Mapping[str, Any], *, source: str | None = None) -> Car:
    """The car that the tables of a car file describe; `source` is the file's path, if there is one.

    Raises
    ------
    InputError
        As `read_car`.
    """
    try:
        return _car(data, source)
    except InputError as error:
        raise (error.in_file(source) if source else error) from error.__cause__


def _car(data: Mapping[str, Any], source: str | None) -> Car:
    if "section" in data and "car" not in data:
        raise InputError(
            "this is a bar file.",
            where="[section]",
            expected="a car file, with [car], [front] and [rear]; a bar file goes to barfem check.",
        )
    try:
        file = CarFile.model_validate(data)
    except ValidationError as error:
        raise input_error(error, CarFile) from None
    notes = Notes()
    table = file.car
    _plausible(table.wheelbase, "wheelbase", "[car]")
    masses = _masses(table, notes)
    folder = Path(source).resolve().parent if source else Path.cwd()
    if not any(_has_spring(axle) for axle in (file.front, file.rear)):
        raise InputError(
            "both axles are without springs.",
            where="[front] spring_rate",
            expected="spring_rate with spring_motion_ratio, wheel_rate or wheel_curve on each axle.",
        )
    front, rear = (
        _axle(getattr(file, name), name, min(masses[2 * i : 2 * i + 2]), folder, notes) for i, name in enumerate(AXLES)
    )
    total = sum(masses)
    unsprung = sum(axle.unsprung_mass_kg for axle in (front, rear))
    moment = sum(axle.unsprung_mass_kg * axle.unsprung_height_mm for axle in (front, rear))
    height = table.sprung_cg_height
    if height is None:
        height = (total * (table.cg_height or 0.0) - moment) / (total - unsprung)
        if height <= 0.0:
            raise InputError(
                f"cg_height {table.cg_height:g} mm puts the sprung mass below the road, with the unsprung masses at "
                f"{front.unsprung_height_mm:g} and {rear.unsprung_height_mm:g} mm.",
                where="[car] cg_height",
                expected="the height of the whole car's centre of gravity above the road, mm.",
            )
    drive, tyres = _drive(file.drive, notes), read_tyres(file.tyres, masses, notes)
    tell_of_odd_car(
        (front, rear),
        wheelbase_mm=table.wheelbase,
        corner_masses_kg=masses,
        sprung_cg_height_mm=height,
        drive=drive,
        tyres=tyres,
        notes=notes,
    )
    return Car(
        name=file.name,
        wheelbase_mm=table.wheelbase,
        corner_masses_kg=masses,
        sprung_cg_height_mm=height,
        front=front,
        rear=rear,
        states=_states(file.states, notes),
        weighed_with_bars=table.weighed_with_bars == "connected",
        drive=drive,
        tyres=tyres,
        targets=_targets(file.targets),
        use=None if file.use is None else Use(file.use.laps, file.use.corners_per_lap, file.use.kerbs_per_lap),
        source=source,
        warnings=tuple(notes.warnings),
        assumptions=tuple(notes.assumptions),
        odd=tuple(notes.odd),
    )


def _plausible(value: float | None, key: str, table: str) -> None:
    least, greatest = _PLAUSIBLE_MM[key]
    if value is not None and not least <= value <= greatest:
        raise InputError(
            f"{key} = {value:g} mm is far from any car's: which unit is it in?",
            where=f"{table} {key}",
            expected=f'{least:g} to {greatest:g} mm; another unit as a string, such as "58.5 in" or "1.49 m".',
        )


def _masses(table: CarTable, notes: Notes) -> tuple[float, float, float, float]:
    where = "[car] corner_masses"
    if table.corner_masses is not None and (table.total_mass is not None or table.front_share is not None):
        other = "total_mass" if table.total_mass is not None else "front_share"
        raise InputError(
            f"corner_masses and {other} are both given.",
            where=where,
            expected="corner_masses off the scales, or total_mass and front_share.",
        )
    if table.cg_height is not None and table.sprung_cg_height is not None:
        raise InputError(
            "cg_height and sprung_cg_height are both given.", where="[car] cg_height", expected="one of the two."
        )
    if table.cg_height is None and table.sprung_cg_height is None:
        raise InputError(
            "the height of the centre of gravity is missing.",
            where="[car] cg_height",
            expected="cg_height = 480.0 (mm above the road, whole car), or sprung_cg_height.",
        )
    _plausible(table.cg_height, "cg_height", "[car]")
    _plausible(table.sprung_cg_height, "sprung_cg_height", "[car]")
    if table.corner_masses is not None:
        corners = table.corner_masses
        return corners.front_left, corners.front_right, corners.rear_left, corners.rear_right
    if table.total_mass is None or table.front_share is None:
        missing = "corner_masses" if table.total_mass is None and table.front_share is None else None
        missing = missing or ("total_mass" if table.total_mass is None else "front_share")
        raise InputError(
            f"{missing} is missing.",
            where=f"[car] {missing}",
            expected="corner_masses = { front_left = 290.0, ... } in kg, or total_mass and front_share = 0.51.",
        )
    notes.assume("[car] corner_masses are not given: left and right wheels are taken as equally loaded.")
    front, rear = 0.5 * table.total_mass * table.front_share, 0.5 * table.total_mass * (1.0 - table.front_share)
    return front, front, rear, rear


def _has_spring(table: AxleTable) -> bool:
    return any(x is not None for x in (table.spring_rate, table.wheel_rate, table.wheel_curve))


def _axle(table: AxleTable, name: str, lightest_kg: float, folder: Path, notes: Notes) -> Axle:
    where = f"[{name}]"
    for key in ("track", "unsprung_height", "roll_centre_height", "spring_base"):
        _plausible(getattr(table, key), key, where)
    if table.unsprung_mass >= 2.0 * lightest_kg:
        raise InputError(
            f"unsprung_mass {table.unsprung_mass:g} kg (both wheels) is not below twice the lighter corner's "
            f"{lightest_kg:g} kg: no mass is left on the springs.",
            where=f"{where} unsprung_mass",
            expected="the mass of both wheels, hubs and half of the links of this axle, kg.",
        )
    height = table.unsprung_height
    if height is None:
        height = UNSPRUNG_HEIGHT_MM
        notes.assume(f"{where} unsprung_height is not given: {height:g} mm.")
    if table.tyre_rate == float("inf"):
        notes.warn(f'{where} tyre_rate = "rigid" is a limit case: real tyres take a good share of the roll.')
    if table.camber is None:
        notes.assume(f"{where} camber is not given: 0 deg at zero, so that camber is its change.")
    if table.camber_gain is None and table.suspension == "independent":
        notes.assume(f"{where} camber_gain is not given: 0 deg per mm.")
    if table.suspension == "beam" and table.camber_gain:
        notes.warn(f"{where} camber_gain has no effect on a beam axle: its wheels lean with the axle.")
    if table.bar is None:
        notes.assume(f"{where} has no bar.")
    if not -1.0 <= table.anti <= 2.0:
        raise InputError(
            f"anti {table.anti:g} is no share.", where=f"{where} anti", expected="a share such as 0.3 for 30 %."
        )
    stops = {
        key: None if stop is None else Stop(stop.gap, stop.rate)
        for key, stop in (("bump_stop", table.bump_stop), ("droop_stop", table.droop_stop))
    }
    return Axle(
        name=name,
        track_mm=table.track,
        suspension=table.suspension,
        unsprung_mass_kg=table.unsprung_mass,
        unsprung_height_mm=height,
        roll_centre_height_mm=table.roll_centre_height,
        spring=_spring(table, where, notes),
        tyre_rate_N_per_mm=table.tyre_rate,
        anti=table.anti,
        camber_deg=table.camber or (0.0, 0.0),
        camber_gain_deg_per_mm=table.camber_gain or 0.0,
        bar=None if table.bar is None else read_axle_bar(table.bar, name, table.suspension, folder, notes),
        **stops,
    )


def _spring(table: AxleTable, where: str, notes: Notes) -> Spring:
    by_spring = table.spring_rate is not None or table.spring_motion_ratio is not None
    forms = [
        key
        for key, there in (
            ("spring_rate", by_spring),
            ("wheel_rate", table.wheel_rate is not None),
            ("wheel_curve", table.wheel_curve is not None),
        )
        if there
    ]
    expected = "spring_rate with spring_motion_ratio, or wheel_rate, or wheel_curve."
    if len(forms) != 1:
        raise InputError(
            f"{' and '.join(forms)} are given." if forms else "no spring is given.",
            where=f"{where} spring_rate",
            expected=expected,
        )
    if by_spring and (table.spring_rate is None or table.spring_motion_ratio is None):
        missing = "spring_rate" if table.spring_rate is None else "spring_motion_ratio"
        raise InputError(f"{missing} is missing.", where=f"{where} {missing}", expected=expected)
    heave = table.spring_motion_ratio if table.spring_motion_ratio is not None else 1.0
    if heave > 1.5:
        notes.look_twice(
            f"{where} spring_motion_ratio {heave:g} is above 1.5: it is spring travel / wheel travel, not the other "
            "way round."
        )
    roll = heave
    if table.suspension == "beam":
        if table.spring_base is None:
            raise InputError(
                "a beam axle needs its spring_base.",
                where=f"{where} spring_base",
                expected="spring_base = 1050.0 (mm between the springs).",
            )
        if table.spring_base > table.track:
            raise InputError(
                f"spring_base {table.spring_base:g} mm is wider than the track of {table.track:g} mm.",
                where=f"{where} spring_base",
                expected="the distance between the springs, at most the track.",
            )
        roll = table.spring_base / table.track
        notes.assume(
            f"{where} in roll the springs work at spring_base with their own rate, in heave at the motion ratio."
        )
    elif table.spring_base is not None:
        raise InputError(
            "spring_base is given for independent suspension.",
            where=f"{where} spring_base",
            expected='suspension = "beam", or no spring_base.',
        )
    if table.wheel_curve is not None:
        notes.assume(
            f"{where} wheel_curve: straight lines between its points and beyond its ends; what counts is its force "
            "less that at zero, for the corner masses say what the springs carry there. At a point of it a rate is the "
            "mean of both slopes."
        )
        return Spring(heave, roll, curve=table.wheel_curve)
    return Spring(heave, roll, rate_N_per_mm=table.wheel_rate if table.spring_rate is None else table.spring_rate)


def _states(tables: list[StateTable] | None, notes: Notes) -> tuple[State, ...]:
    if tables is None:
        notes.assume("[[states]] are not given: rest, entry, mid, exit, straight braking (common practice, editable).")
        return DEFAULT_STATES
    if not tables:
        raise InputError("the list is empty.", where="[[states]]", expected="at least one [[states]], or none at all.")
    names = [table.name for table in tables]
    for name in names:
        if names.count(name) > 1:
            raise InputError(f'two states are called "{name}".', where="[[states]]", expected="each its own name.")
    return tuple(State(table.name, table.a_y, table.a_x) for table in tables)


def _drive(table: DriveTable | None, notes: Notes) -> Drive | None:
    if table is None:
        notes.assume("[drive] is not given: no limit of traction, no grip used while braking or driving.")
        return None
    share = {"front": 1.0, "rear": 0.0, "all": table.front_torque_share}[table.driven]
    if share is None:
        raise InputError(
            "all wheels are driven, and front_torque_share is missing.",
            where="[drive] front_torque_share",
            expected="front_torque_share = 0.4, the front axle's share of the torque.",
        )
    if table.driven != "all" and table.front_torque_share not in (None, share):
        raise InputError(
            f'front_torque_share {table.front_torque_share:g} with driven = "{table.driven}".',
            where="[drive] front_torque_share",
            expected=f'no front_torque_share (it is {share:g}), or driven = "all".',
        )
    brake = table.brake_front_share
    if brake is None:
        brake = BRAKE_FRONT_SHARE
        notes.assume(f"[drive] brake_front_share is not given: {brake:g} (common practice, no source).")
    driven: Literal["front", "rear", "all"] = table.driven
    for axle in AXLES:
        if driven not in (axle, "all") and getattr(table, f"{axle}_differential") != 1.0:
            notes.warn(f'[drive] {axle}_differential has no effect: driven = "{driven}".')
    return Drive(driven, share, (table.front_differential, table.rear_differential), brake)


def _targets(table: TargetsTable) -> Targets:
    return Targets(table.roll_gradient, table.front_transfer_share, table.cross_weight, table.lift_margin)
