"""[front.bar] and [rear.bar]: our bar by its file, or another's by its rates."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barfem.car.car import AxleBar, Car
from barfem.car.odd_car import LEAST_MOTION_RATIO
from barfem.car.schema import AxleBarTable, RateTable
from barfem.model.bar import Bar, End, Link
from barfem.model.dimensions import main_dimensions
from barfem.model.errors import InputError
from barfem.model.links import joint_centres
from barfem.model.nearest import did_you_mean
from barfem.model.notes import Notes
from barfem.model.odd_shape import MOST_MOTION_RATIO, odd_words
from barfem.model.read import read_bar

__all__ = ["hole_of", "read_axle_bar"]

Array = NDArray[np.float64]

_AGREE = 1e-6
_LEANING = 1.03  # mm that the bar's end moves for a mm of link, above which it is told: some 14 deg


def read_axle_bar(table: AxleBarTable, axle: str, suspension: str, folder: Path, notes: Notes) -> AxleBar:
    """The bar of an axle.

    Raises
    ------
    InputError
        Neither or both of file and rates, no motion ratio, a hole that is not there, unequal holes without levers.
    """
    where = f"[{axle}.bar]"
    if (table.file is None) == (table.rates is None):
        raise InputError(
            "file and rates are both given." if table.file is not None else "neither file nor rates is given.",
            where=f"{where} file",
            expected='file = "bar.toml" (ours), or rates = [{ hole = "1", one_end_held = 19.0, lever = 230.0 }], or '
            'bar = "none" in the axle.',
        )
    found = _ours(table, where, folder, notes) if table.file is not None else _rates(table, where, notes)
    roll = table.roll_motion_ratio
    if suspension != "beam" and roll is not None:
        raise InputError(
            "roll_motion_ratio is given for independent suspension.",
            where=f"{where} roll_motion_ratio",
            expected="motion_ratio alone; in roll of a beam axle the two differ.",
        )
    if suspension == "beam" and roll is None:
        roll = found.motion_ratio
        notes.assume(f"{where} roll_motion_ratio is not given: {roll:g}, the motion_ratio.")
    for key, ratio in (("motion_ratio", found.motion_ratio), ("roll_motion_ratio", roll)):
        if ratio is not None and ratio > MOST_MOTION_RATIO:
            notes.look_twice(
                f"{where} {key} {ratio:g} is above {MOST_MOTION_RATIO:g}: it is pickup travel / wheel travel, not the "
                "other way round."
            )
        if ratio is not None and ratio < LEAST_MOTION_RATIO:
            notes.look_twice(
                f"{where} {key} {ratio:g} is below {LEAST_MOTION_RATIO:g}: the wheels hardly move this bar."
            )
    left = _fitted(found.left_holes, table.left, "left", where)
    right = _fitted(found.right_holes, table.right, "right", where)
    if (table.left is None) != (table.right is None):
        known, given = ("left", table.left) if table.right is None else ("right", table.right)
        raise InputError(
            f'{known} = "{given}" is given alone.', where=f"{where} {known}", expected="left and right, or neither."
        )
    if table.left is None:
        left, right = _softest(found)
        names = found.names((left, right))
        notes.assume(f"{where} left and right are not given: holes {names[0]} and {names[1]}, the softest pair.")
    thread = table.link_thread
    bar = replace(
        found,
        axle=axle,
        fitted=(left, right),
        roll_motion_ratio=found.motion_ratio if roll is None else roll,
        ride_offset_mm=table.ride_offset,
        mm_per_turn=None if thread is None else thread.pitch * (2.0 if thread.hands == "opposite" else 1.0),
        mounted_on=table.mounted_on,
    )
    refuse_unequal_without_levers(bar, bar.fitted, where=f"{where} rates")
    return bar


def hole_of(bar: AxleBar, side: str, name: str, *, where: str) -> int:
    """Number of a hole by its name.

    Raises
    ------
    InputError
        The bar has no such hole on that side.
    """
    holes = bar.left_holes if side == "left" else bar.right_holes
    if name not in holes:
        raise InputError(
            f'the {bar.axle} bar has no {side} hole "{name}".{did_you_mean(name, holes)}',
            where=where,
            expected="one of " + ", ".join(holes) + ".",
        )
    return holes.index(name)


def pair_of(car: Car, axle: str, text: str | None, *, where: str, without: str | None = None) -> tuple[int, int] | None:
    """Numbers of a hole pair as it is written: "2", or "1,3" for left and right; None where nothing is.

    Raises
    ------
    InputError
        The axle has no bar (or `without` takes it off), the bar no such hole, or it is no pair.
    """
    if text is None:
        return None
    bar = getattr(car, axle).bar
    if bar is None or without == axle:
        raise InputError(f"the {axle} axle has no bar.", where=where, expected=f"no {where}.")
    names = [name.strip() for name in text.split(",")] if isinstance(text, str) else []
    if not 1 <= len(names) <= 2 or not all(names):
        raise InputError(f"{text!r} is no hole pair.", where=where, expected="a hole, or LEFT,RIGHT, as text.")
    return hole_of(bar, "left", names[0], where=where), hole_of(bar, "right", names[-1], where=where)


def refuse_unequal_without_levers(bar: AxleBar, pair: tuple[int, int], *, where: str) -> None:
    """Rates of equal holes say nothing of unequal ones unless their levers are known."""
    if bar.bar is not None or pair[0] == pair[1]:
        return
    missing = [bar.rates[i][0] for i in pair if bar.rates[i][2] is None]
    if missing:
        raise InputError(
            f"unequal holes {bar.rates[pair[0]][0]} and {bar.rates[pair[1]][0]} of a bar given by its rates, and hole "
            f"{missing[0]} has no lever.",
            where=where,
            expected="lever = 230.0 (mm, from the bar's axis to the hole) beside each rate, or equal holes.",
        )


def _ours(table: AxleBarTable, where: str, folder: Path, notes: Notes) -> AxleBar:
    path = Path(table.file or "")
    path = path if path.is_absolute() else folder / path
    if table.links is not None:
        raise InputError(
            "links is given beside a bar file, which has its links' direction.",
            where=f"{where} links",
            expected="links with rates only.",
        )
    if not os.path.exists(path):
        raise InputError(
            f'file = "{table.file}": there is no such file, {path}.',
            where=f"{where} file",
            expected="the path of a bar file, from the folder of the car file.",
        )
    try:
        bar = read_bar(path)
    except InputError as error:
        named = f"{error.file} (named by {where} file)"
        raise InputError(error.problem, where=error.where, expected=error.expected, file=named) from error
    own, given = bar.travel.motion_ratio, table.motion_ratio
    if given is None and own is None:
        raise InputError(
            "the motion ratio is missing here and in the bar file.",
            where=f"{where} motion_ratio",
            expected="motion_ratio = 0.62 (pickup travel / wheel travel).",
        )
    if given is not None and own is not None and abs(given - own) > _AGREE:
        raise InputError(
            f"motion_ratio {given:g} is not that of the bar file, {own:g}.",
            where=f"{where} motion_ratio",
            expected="the same in both, or in one of them alone.",
        )
    errors = table.link_length_error
    if errors is None:
        errors = (bar.left_link.length_error_mm, bar.right_link.length_error_mm)
        if any(errors):
            notes.assume(f"{where} link_length_error is the bar file's: {errors[0]:g} mm left, {errors[1]:g} mm right.")
    for text in bar.warnings:
        notes.warn(f"{where} {bar.name}: {text}")
    for text in odd_words(bar, main_dimensions(bar)):
        notes.look_twice(f"{where} {bar.name}: {text}")
    sides = tuple(_along(bar, end, link) for end, link in ((bar.left, bar.left_link), (bar.right, bar.right_link)))
    _warn_of_lean(sides, where, notes)
    return AxleBar(
        axle="",
        left_holes=tuple(hole.name for hole in bar.left.holes),
        right_holes=tuple(hole.name for hole in bar.right.holes),
        fitted=(0, 0),
        motion_ratio=given if given is not None else own or 0.0,
        roll_motion_ratio=0.0,
        sense=(_sense(sides[0]), _sense(sides[1])),
        link_error_mm=errors,
        bar=bar,
    )


def _along(bar: Bar, end: End, link: Link) -> Array:
    """(holes,) cosines of the link at rest, from the bar to the pickup, with the pickup's travel."""
    if link.direction is not None:
        towards = np.array([link.direction])
    else:
        joints = np.array(list(joint_centres(end, bar.centreline).values()))
        towards = np.array(link.pickup_mm) - joints
    along = np.array(bar.travel.direction) * ([1, -1, 1] if end.side == "right" else [1, 1, 1])
    cosines: Array = towards @ along / np.linalg.norm(towards, axis=1) / np.linalg.norm(along)
    return cosines


def _sense(along: Array) -> float:
    """+1 where the link hangs from the bar to the pickup below, -1 where it stands; of several holes, at the first."""
    return 1.0 if float(along[0]) < 0.0 else -1.0


def _warn_of_lean(sides: tuple[Array, ...], where: str, notes: Notes) -> None:
    """A link that leans moves its end by length / cosine; the car takes a mm for a mm."""
    least = min(float(np.abs(along).min()) for along in sides)
    if least * _LEANING < 1.0:
        lean, percent = np.degrees(np.arccos(least)), 100.0 * (1.0 / max(least, 0.01) - 1.0)
        notes.warn(
            f"{where} a link leans {lean:.0f} deg off its pickup's travel: a mm of its length is taken as a mm of the "
            f"bar's end, and moves it by up to {percent:.0f} % more. By so much the preload of a length error is "
            "greater, and the turns that zero the bar are fewer."
        )


def _rates(table: AxleBarTable, where: str, notes: Notes) -> AxleBar:
    if not table.rates:
        raise InputError("the list is empty.", where=f"{where} rates", expected="one entry for each hole.")
    rates: list[tuple[str, float, float | None]] = []
    for number, entry in enumerate(table.rates, start=1):
        rates.append((entry.hole, _roll_rate(entry, f"{where} rates {number}"), entry.lever))
    names = [entry[0] for entry in rates]
    for name in names:
        if names.count(name) > 1:
            raise InputError(
                f'two holes are called "{name}".', where=f"{where} rates", expected="each hole its own name."
            )
    if table.motion_ratio is None:
        raise InputError(
            "the motion ratio is missing.",
            where=f"{where} motion_ratio",
            expected="motion_ratio = 0.62 (pickup travel / wheel travel).",
        )
    sense = -1.0 if table.links == "stand" else 1.0
    if table.links is None:
        notes.assume(f'{where} links is not given: "hang", from the bar down to the pickup.')
    notes.assume(f"{where} is given by its rates: the same at any travel, no stress and no life.")
    return AxleBar(
        axle="",
        left_holes=tuple(names),
        right_holes=tuple(names),
        fitted=(0, 0),
        motion_ratio=table.motion_ratio,
        roll_motion_ratio=0.0,
        sense=(sense, sense),
        link_error_mm=table.link_length_error or (0.0, 0.0),
        rates=tuple(rates),
    )


def _roll_rate(entry: RateTable, where: str) -> float:
    if (entry.one_end_held is None) == (entry.roll is None):
        both = entry.roll is not None
        raise InputError(
            "one_end_held and roll are both given."
            if both
            else f'hole "{entry.hole}" has no rate with its convention.',
            where=where,
            expected="one_end_held = 19.0 (one end moves, the other is held) or roll = 38.0 (both move, opposite), "
            "N/mm at the bar's end.",
        )
    return entry.roll if entry.roll is not None else 2.0 * (entry.one_end_held or 0.0)


def _fitted(holes: tuple[str, ...], name: str | None, side: str, where: str) -> int:
    if name is None:
        return 0
    if name not in holes:
        raise InputError(
            f'{side} = "{name}" is no hole of the bar.{did_you_mean(name, holes)}',
            where=f"{where} {side}",
            expected="one of " + ", ".join(holes) + ".",
        )
    return holes.index(name)


def _softest(bar: AxleBar) -> tuple[int, int]:
    """The equal pair with the longest arm (nearest the tips), or of the least rate."""
    if bar.bar is not None:
        left = min(range(len(bar.left_holes)), key=lambda i: bar.bar.left.holes[i].from_tip_mm)  # type: ignore[union-attr]
        right = min(range(len(bar.right_holes)), key=lambda i: bar.bar.right.holes[i].from_tip_mm)  # type: ignore[union-attr]
        same = bar.left_holes[left]
        return left, bar.right_holes.index(same) if same in bar.right_holes else right
    softest = min(range(len(bar.rates)), key=lambda i: bar.rates[i][1])
    return softest, softest
