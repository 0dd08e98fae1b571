"""[[mounts]]: the bushings that hold the bar."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from barfem.model.bar import Mount
from barfem.model.centreline import Centreline
from barfem.model.errors import InputError
from barfem.model.notes import Notes
from barfem.model.schema import MountTable
from barfem.model.warned import Effect

__all__ = ["at_least_one", "read_mounts", "too_long"]

_LEAST_AXIAL_N_PER_MM = 1e-3  # below it nothing keeps the bar in its place


def read_mounts(tables: Sequence[MountTable], *, centreline: Centreline, notes: Notes) -> tuple[Mount, ...]:
    """The mounts, in the order of the file.

    Raises
    ------
    InputError
        Mounts off the bar, in each other's place, or which leave the bar loose.
    """
    if len(tables) < 2:
        raise InputError(
            f"{len(tables)} mount{'s' if len(tables) != 1 else ''}: a bar needs two or more.",
            where="[[mounts]]",
            expected="two [[mounts]] tables or more.",
        )
    mounts = tuple(_mount(table, number, centreline) for number, table in enumerate(tables, start=1))
    _refuse_overlap(mounts)
    if not any(mount.axial_stiffness_N_per_mm > _LEAST_AXIAL_N_PER_MM for mount in mounts):
        raise InputError(
            "no mount holds the bar along its axis: it could slide sideways freely.",
            where="[[mounts]] axial_stiffness",
            expected="axial_stiffness above 0 at one mount or more, such as 200 (N/mm).",
        )
    radial = [mount for mount in mounts if mount.radial_stiffness_N_per_mm > 0.0]
    if not radial:
        raise InputError(
            "every mount has radial_stiffness 0: nothing holds the bar.",
            where="[[mounts]] radial_stiffness",
            expected="radial_stiffness above 0, such as 5000 (N/mm), at two mounts or more.",
        )
    if len(radial) == 1 and radial[0].length_mm == 0.0 and not any(m.conical_stiffness_Nmm_per_rad for m in mounts):
        raise InputError(
            "only one mount has radial stiffness: the bar could swing about it freely.",
            where="[[mounts]] radial_stiffness",
            expected="radial_stiffness above 0 at two mounts or more.",
        )
    for number, mount in enumerate(mounts, start=1):
        if mount.radial_stiffness_N_per_mm == 0.0:
            notes.warn(
                f"[[mounts]] {number} has radial_stiffness 0: it holds nothing across the bar.", Effect.MOUNT_LOOSE
            )
    places = [mount.from_middle_mm for mount in radial]
    if len(radial) > 1 and (max(places) < 0.0 or min(places) > 0.0):
        notes.warn(
            f"All mounts that hold the bar across lie on its {'right' if max(places) < 0.0 else 'left'} side: "
            "from_middle is negative towards the right tip and positive towards the left.",
            Effect.SIGN,
        )
    if all(mount.torsional_stiffness_Nmm_per_rad == 0.0 for mount in mounts):
        notes.assume("The bar turns freely in every bushing (torsional_stiffness 0).")
    if any(mount.length_mm == 0.0 for mount in mounts):
        notes.assume("A mount without length holds the bar at a point.")
    if all(mount.bracket_stiffness_N_per_mm is None for mount in mounts):
        notes.assume("Mount brackets are rigid (no bracket_stiffness given).")
    return mounts


def too_long(what: str, length_mm: float, middle_mm: float, *, where: str) -> InputError:
    """What is longer than the bar that it sits on, whose middle is `middle_mm` from both tips."""
    return InputError(
        f"a {what} of {length_mm:g} mm is longer than the bar, {2.0 * middle_mm:.5g} mm along its centreline.",
        where=f"{where}, length",
        expected="the mm of the bar that it holds, such as 40.",
    )


def _mount(table: MountTable, number: int, centreline: Centreline) -> Mount:
    where = f"[[mounts]] {number}"
    middle = 0.5 * centreline.length_mm
    if (table.from_middle is None) == (table.y is None):
        raise InputError(
            "both from_middle and y are given." if table.y is not None else "neither from_middle nor y is given.",
            where=where,
            expected="one of them: from_middle = -380.0 (along the bar, positive to the left tip) or y = -380.0.",
        )
    if table.y is not None:
        key, given = "y", table.y
        from_middle = _station_at_y(table.y, where=f"{where}, y", centreline=centreline) - middle
    else:
        key, given = "from_middle", table.from_middle or 0.0
        from_middle = given
    half = 0.5 * table.length
    if half > middle:
        raise too_long("mount", table.length, middle, where=where)
    if abs(from_middle) + half > middle + 1e-9:
        over = f" with its length of {table.length:g} mm" if table.length and abs(from_middle) <= middle else ""
        raise InputError(
            f"a mount at {key} = {given:g} mm{over} is off the bar, whose tips lie {middle:.5g} mm from its middle.",
            where=f"{where}, {key}",
            expected=f"from_middle between {-(middle - half):.5g} and {middle - half:.5g} mm.",
        )
    return Mount(
        station_mm=middle + from_middle,
        from_middle_mm=from_middle,
        radial_stiffness_N_per_mm=table.radial_stiffness,
        axial_stiffness_N_per_mm=table.axial_stiffness,
        torsional_stiffness_Nmm_per_rad=table.torsional_stiffness,
        conical_stiffness_Nmm_per_rad=table.conical_stiffness,
        length_mm=table.length,
        bracket_stiffness_N_per_mm=table.bracket_stiffness,
        contact=table.contact,
        contact_factor=at_least_one(table.contact_factor, where=f"{where}, contact_factor"),
    )


def at_least_one(factor: float | None, *, where: str) -> float | None:
    """A factor on the stress that fatigue sees, which never earns anything.

    Raises
    ------
    InputError
        It is below 1.
    """
    if factor is not None and factor < 1.0:
        raise InputError(
            f"a factor of {factor:g} would make the contact earn strength.",
            where=where,
            expected="1 or more: the stress that fatigue sees beside the contact, over the nominal one.",
        )
    return factor


def _station_at_y(y_mm: float, *, where: str, centreline: Centreline) -> float:
    stations = centreline.stations_at_y(y_mm)
    if len(stations) == 1 and _passes_through(stations[0], y_mm, centreline):
        return stations[0]
    if len(stations) == 1:
        raise InputError(
            f"the centreline touches y = {y_mm:g} mm or runs along it, and does not pass through.",
            where=where,
            expected="from_middle instead, or a y that the centreline crosses once.",
        )
    if not stations:
        points, _ = centreline.evaluate([0.0, centreline.length_mm])
        raise InputError(
            f"the centreline does not cross y = {y_mm:g} mm.",
            where=where,
            expected=f"a y between the tips (they lie at y = {points[0, 1]:g} and {points[1, 1]:g}), or from_middle.",
        )
    places = " and ".join(f"{station - 0.5 * centreline.length_mm:.6g}" for station in stations)
    raise InputError(
        f"the centreline crosses y = {y_mm:g} mm {len(stations)} times.",
        where=where,
        expected=f"from_middle instead; the crossings lie at from_middle = {places}.",
    )


def _passes_through(station_mm: float, y_mm: float, centreline: Centreline) -> bool:
    """Whether the bar lies on both sides of y just before and just after the station (a tip needs one side)."""
    beside = np.clip([station_mm - 0.01, station_mm + 0.01], 0.0, centreline.length_mm)
    before, after = centreline.evaluate(beside)[0][:, 1] - y_mm
    if beside[0] > 0.0 and beside[1] < centreline.length_mm:
        return bool(before * after < -1e-9)  # 1e-9: even a bar at 0.2 deg to the plane is 3e-5 mm off it on both sides
    return bool(max(abs(before), abs(after)) > 3e-5)


def _refuse_overlap(mounts: Sequence[Mount]) -> None:
    order = sorted(range(len(mounts)), key=lambda i: mounts[i].station_mm)
    for i, j in itertools.pairwise(order):
        apart = mounts[j].station_mm - mounts[i].station_mm
        room = 0.5 * (mounts[i].length_mm + mounts[j].length_mm)
        if apart < 1e-6:
            raise InputError(
                f"mounts {min(i, j) + 1} and {max(i, j) + 1} are at the same place, from_middle = "
                f"{mounts[i].from_middle_mm:g} mm.",
                where=f"[[mounts]] {max(i, j) + 1}, from_middle",
                expected="each mount at its own place (negative from_middle is towards the right tip).",
            )
        if apart < room - 1e-6:
            raise InputError(
                f"mounts {min(i, j) + 1} and {max(i, j) + 1} overlap: {apart:.5g} mm apart with bushings of "
                f"{mounts[i].length_mm:g} and {mounts[j].length_mm:g} mm.",
                where=f"[[mounts]] {max(i, j) + 1}",
                expected=f"at least {room:g} mm apart, or shorter bushings.",
            )
