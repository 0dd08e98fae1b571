"""[links]: the drop links between holes and pickups."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import End, Link, Side, Travel, Vector
from barfem.model.centreline import Centreline
from barfem.model.errors import InputError
from barfem.model.notes import Notes
from barfem.model.schema import LinksTable
from barfem.model.sides import Given, merged, mirrored
from barfem.model.warned import Effect

__all__ = [
    "LEANS_DEG",
    "joint_centres",
    "lean_deg",
    "lengths_mm",
    "read_link",
    "refuse_link_that_cannot_move",
    "tell_of_equal_errors",
]

_CANNOT_MOVE_DEG = 1.0  # of square to the travel
LEANS_DEG = 45.0


def read_link(table: LinksTable, *, side: Side, notes: Notes) -> Link:
    """One side's link.

    Raises
    ------
    InputError
        Neither or both of a hanging link (length and direction) and a fixed pickup.
    """
    own = table.right if side == "right" else table.left
    given = merged(table, own, name="links", side=side)
    for source in {entry.table for entry in given.values()}:
        here = {key for key, entry in given.items() if entry.table == source}
        if "pickup" in here and here & {"length", "direction"}:
            raise InputError(
                f"pickup and {' and '.join(sorted(here & {'length', 'direction'}))} are both given.",
                where=source,
                expected="either length and direction (the link hangs alike at every hole) or pickup (a fixed point).",
            )
    given = _one_form(given)
    pickup, direction = given.get("pickup"), given.get("direction")
    length = given["length"].value if "length" in given else None
    if pickup is None and (length is None or direction is None):
        missing = [key for key in ("length", "direction") if key not in given]
        raise InputError(
            f"the {side} link has no {' and no '.join(missing)}, and no pickup.",
            where=f"[links] {missing[0]}",
            expected="length = 140.0 and direction = [0, 0, -1] (from the bar to the pickup), or pickup = [x, y, z].",
        )
    error = given["length_error"].value if "length_error" in given else 0.0
    if length is not None and error <= -length:
        raise InputError(
            f"length_error {error:g} mm leaves nothing of a link of {length:g} mm.",
            where=f"{given['length_error'].table} length_error",
            expected="mm too long (+) or too short (-), small against the length.",
        )
    if length is not None and abs(error) > 0.1 * length:
        notes.warn(
            f"The {side} link's [links] length_error of {error:g} mm is {100.0 * abs(error) / length:.0f} % of its "
            "length: it is how much too long (+) or too short (-) the link is as fitted, not its length.",
            Effect.PRELOAD,
            about="length_error",
        )
    if pickup is None:
        notes.assume("Links hang alike at every hole: the pickup follows the hole (length and direction are given).")
    else:
        notes.assume("The pickups are fixed points: the link is re-adjusted to reach from each hole (pickup is given).")
    stiffness = given["axial_stiffness"].value if "axial_stiffness" in given else None
    if stiffness is None:
        notes.assume("Links are rigid (no axial_stiffness given).")
    return Link(
        side=side,
        length_mm=length,
        direction=None if direction is None else mirrored(direction.value, given=direction, side=side),
        pickup_mm=None if pickup is None else mirrored(pickup.value, given=pickup, side=side),
        axial_stiffness_N_per_mm=stiffness,
        length_error_mm=error,
    )


def _one_form(given: Mapping[str, Given]) -> dict[str, Given]:
    """A side's own pickup sets aside the common length and direction, and the other way round."""
    own = {key for key, entry in given.items() if not entry.common}
    drop: set[str] = set()
    if "pickup" in own:
        drop = {"length", "direction"}
    elif own & {"length", "direction"}:
        drop = {"pickup"}
    return {key: entry for key, entry in given.items() if key not in drop}


def tell_of_equal_errors(left: Link, right: Link, *, notes: Notes) -> None:
    """Say that links which are both wrong by the same amount put no preload into the bar."""
    error = left.length_error_mm
    if error and error == right.length_error_mm:
        notes.assume(
            f"Both links are {abs(error):g} mm too {'long' if error > 0.0 else 'short'}: with equal arms in mounts "
            "that turn freely the same on both sides gives no preload, the bar turns; preload comes from a difference."
        )


def joint_centres(end: End, centreline: Centreline) -> dict[str, Vector]:
    """Joint centre at rest for each hole of an end: the hole plus its offset, in drawing axes."""
    points, _ = centreline.evaluate([hole.station_mm for hole in end.holes])
    out: dict[str, Vector] = {}
    for hole, point in zip(end.holes, points, strict=True):
        x, y, z = (float(p + o) for p, o in zip(point, hole.offset_mm, strict=True))
        out[hole.name] = (x, y, z)
    return out


def refuse_link_that_cannot_move(
    table: LinksTable, link: Link, *, end: End, travel: Travel, centreline: Centreline, notes: Notes
) -> None:
    """Refuse a link of no length, or square to its pickup's travel: then the travel does not move the bar.

    A link that leans much, or is shorter than the travel, draws a warning; whether it reaches is for the solution.
    """
    along = _along(travel, link.side)
    own = table.right if link.side == "right" else table.left
    for name, joint in joint_centres(end, centreline).items():
        if link.pickup_mm is not None:
            vector = np.array(link.pickup_mm) - np.array(joint)
            key = "pickup"
        else:
            vector = (link.length_mm or 0.0) * np.array(link.direction)
            key = "direction"
        where = f"{'[links]' if getattr(own, key, None) is None else f'[links.{link.side}]'} {key}"
        length = float(np.linalg.norm(vector))
        if length < 1e-3:
            raise InputError(
                f'the {link.side} pickup is the joint centre of hole "{name}" itself: the link has no length.',
                where=where if link.length_mm is None else where.replace("direction", "length"),
                expected="the far end of the link, a point fixed to the suspension."
                if link.length_mm is None
                else "length = 140.0, in mm, from joint to pickup.",
            )
        if length + link.length_error_mm <= 0.0:
            raise InputError(
                f"length_error {link.length_error_mm:g} mm leaves nothing of the link of {length:.4g} mm at hole "
                f'"{name}".',
                where="[links] length_error",
                expected="mm too long (+) or too short (-), small against the length.",
            )
        lean = lean_deg(link, joint, travel=travel)
        if lean > 90.0 - _CANNOT_MOVE_DEG:
            raise InputError(
                f'the {link.side} link at hole "{name}" stands square to its pickup\'s travel ({lean:.3g} deg): the '
                "travel would not move the bar.",
                where=where,
                expected=f"a link roughly along [travel] direction (here {[round(float(v), 4) for v in along]}).",
            )
        if lean > LEANS_DEG:
            notes.warn(
                f'The {link.side} link at hole "{name}" leans {lean:.0f} deg from its pickup\'s travel at rest '
                f"({where}): check the side and the sign of its coordinates.",
                Effect.SIGN,
                about="lean of links",
            )
        if max(travel.up_mm, travel.down_mm, travel.one_wheel_mm, travel.parallel_mm or 0.0) > length:
            notes.warn(
                f'The {link.side} link at hole "{name}" is {length:.4g} mm long, shorter than the pickup travel: it '
                "will swing far, and may not reach.",
                Effect.REACH,
            )


def lengths_mm(link: Link, end: End, *, centreline: Centreline) -> tuple[float, ...]:
    """Of the link as drawn, at each hole; one length where it hangs alike at all."""
    if link.length_mm is not None:
        return (link.length_mm,)
    joints = np.array(list(joint_centres(end, centreline).values()))
    return tuple(np.linalg.norm(np.array(link.pickup_mm) - joints, axis=1).tolist())


def lean_deg(link: Link, joint: Vector, *, travel: Travel) -> float:
    """By how much a link at a joint lies across its pickup's travel at rest: 0 along it, 90 square to it."""
    vector = np.array(link.direction) if link.pickup_mm is None else np.array(link.pickup_mm) - np.array(joint)
    across = abs(float(vector @ _along(travel, link.side))) / float(np.linalg.norm(vector))
    return math.degrees(math.acos(min(1.0, across)))


def _along(travel: Travel, side: Side) -> NDArray[np.float64]:
    """The way in which the pickup of one side moves: [travel] direction is the left one's."""
    x, y, z = travel.direction
    return np.array([x, y if side == "left" else -y, z]) + 0.0
