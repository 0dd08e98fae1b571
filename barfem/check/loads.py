"""What the solver's raw arrays mean on the car: twist, roll rate, link angles, what clamps and bolts must hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.check.setting_records import MountReaction
from barfem.model.frozen import frozen
from barfem.model.load_case import CYCLE, Instant
from barfem.solve.beam import BeamSolution
from barfem.solve.resultants import resultants, section_turns
from barfem.solve.rotations import logarithm

__all__ = [
    "STATE_NAMES",
    "Angles",
    "angles",
    "joint_angles_deg",
    "mount_reactions",
    "roll_rates_Nm_per_deg",
]

Array = NDArray[np.float64]
STATE_NAMES = tuple(state.words for state in Instant)


@frozen
class Angles:
    """Per hole setting (j): the larger of both ends of the cycle for angles, full travel for twist and torque."""

    twist_deg: Array  # (j,)
    torque_Nm: Array  # (j,)
    link_lean_deg: Array  # (j, 2) right, left
    joint_angle_deg: Array  # (j, 2)
    arm_rotation_deg: Array  # (j, 2)


def _between_deg(first: Array, second: Array) -> Array:
    """Angle between unit vectors (..., 3), deg."""
    return np.degrees(
        np.arctan2(np.linalg.norm(np.cross(first, second), axis=-1), np.einsum("...i,...i->...", first, second))
    )


def angles(solution: BeamSolution) -> Angles:
    """Twist of the bar between its outermost mounts, and how links, joints and arms turn from rest.

    The bar's axis is the line through its outermost mounts. Lean is how far a link swings from its direction at rest;
    the joint angle is how far it swings as seen from the bar's end, which is what a joint must allow; arm rotation is
    the turn of the bar's section at the hole about the bar's axis.
    """
    bar = solution.bar
    stations = sorted(mount.station_mm for mount in bar.mounts)
    outer = np.array([stations[0], stations[-1]])
    points, _ = bar.centreline.evaluate(outer)
    axis = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
    at_mounts = section_turns(solution, outer)
    twist = logarithm(at_mounts[:, :, 1] @ np.swapaxes(at_mounts[:, :, 0], -1, -2)) @ axis
    torque = resultants(solution, [bar.middle_mm])[:, Instant.TRAVEL, 0, 3]

    turned = _turned_at_holes(solution)
    link = solution.link_direction
    rest, cycle = slice(Instant.REST, Instant.REST + 1), list(CYCLE)
    lean = _between_deg(link, link[:, rest])
    arm = np.degrees(np.abs(logarithm(turned @ np.swapaxes(turned[:, rest], -1, -2)) @ axis))
    return Angles(
        twist_deg=np.degrees(np.abs(twist[:, Instant.TRAVEL] - twist[:, Instant.REST])),
        torque_Nm=np.abs(torque) / 1000.0,
        link_lean_deg=lean[:, cycle].max(axis=1),
        joint_angle_deg=joint_angles_deg(solution),
        arm_rotation_deg=arm[:, cycle].max(axis=1),
    )


def joint_angles_deg(solution: BeamSolution) -> Array:
    """How far each joint swings from rest as seen from the bar's end (j, 2), right and left: the greatest state's."""
    turned = _turned_at_holes(solution)
    seen = np.einsum("jksba,jksb->jksa", turned, solution.link_direction)
    rest = seen[:, Instant.REST : Instant.REST + 1]
    return np.asarray(_between_deg(seen, rest)[:, list(CYCLE)].max(axis=1))


def _turned_at_holes(solution: BeamSolution) -> Array:
    """Rotations (j, k, 2, 3, 3) of the bar's ends at the holes in use, right and left, in the states of the check."""
    jobs = np.arange(len(solution.settings))
    holes = np.array([[setting.right, setting.left] for setting in solution.settings])
    nodes = np.stack([solution.mesh.hole_nodes[side][holes[:, side]] for side in (0, 1)], axis=1)
    return np.asarray(solution.turned[jobs[:, None, None], np.arange(3)[None, :, None], nodes[:, None, :]])


def roll_rates_Nm_per_deg(solution: BeamSolution) -> Array:
    """Couple of the end forces over the angle of the line joining the ends, (j,); NaN where the load case has none.

    The arm is the distance y between the joint centres: k L^2 / 2, k the rate of both ends moving oppositely, of which
    one end that moves alone makes half the angle.
    """
    rolls = np.array([setting.load_case.rolls for setting in solution.settings])
    per_rad = np.where(rolls, 0.5 * solution.couple_rate_N_per_mm * solution.roll_arm_mm**2, np.nan)
    return per_rad / 1000.0 * np.pi / 180.0


def mount_reactions(solution: BeamSolution) -> tuple[tuple[MountReaction, ...], ...]:
    """For each hole setting, what each mount (counted from the right tip) must hold: the worst of all states."""
    mounts = solution.bar.mounts
    stations = np.array([mount.station_mm for mount in mounts])
    _, frames = solution.bar.centreline.evaluate(stations)
    along = frames[:, 0]
    axial = np.einsum("jkma,ma->jkm", solution.mount_force_N, along)
    radial = np.linalg.norm(solution.mount_force_N - axial[..., None] * along, axis=-1)
    moment = np.linalg.norm(solution.mount_moment_Nmm, axis=-1) / 1000.0
    axial = np.abs(axial)
    worst = [values.argmax(axis=1) for values in (radial, axial, moment)]
    order = np.argsort(stations)
    return tuple(
        tuple(
            MountReaction(
                mount=number + 1,
                from_middle_mm=mounts[m].from_middle_mm,
                radial_N=float(radial[j, worst[0][j, m], m]),
                radial_at=STATE_NAMES[worst[0][j, m]],
                axial_N=float(axial[j, worst[1][j, m], m]),
                axial_at=STATE_NAMES[worst[1][j, m]],
                moment_Nm=float(moment[j, worst[2][j, m], m]),
                moment_at=STATE_NAMES[worst[2][j, m]],
            )
            for number, m in enumerate(order)
        )
        for j in range(len(solution.settings))
    )
