"""The main dimensions of a bar as someone would take them off its drawing, and in words to hold against it.

The *mount axis* is the straight line through the middles of the two outermost mounts: what the arms turn about. An
*arm* is the perpendicular distance from it to a joint centre at rest, with the direction in which it points.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End, Vector
from barfem.model.bar_geometry import mass_kg
from barfem.model.frozen import frozen
from barfem.model.links import joint_centres, lengths_mm

__all__ = ["Arm", "Dimensions", "arms_oppose", "held_words", "main_dimensions", "shape_words"]

Array = NDArray[np.float64]

_WAYS = ((("rearward", "forward"), 0), (("to the right", "to the left"), 1), (("down", "up"), 2))
_ALIKE_MM = 0.5  # sizes of right and left that are told as one
_ALIKE_DEG = 0.5
_UNEVEN_MM = 5.0  # of the middle between the mounts from that between the cut ends: from there on it is told
_TELLS = 0.1  # share of an arm's length from which a second direction is told
_LEAST_LEVER = 0.15  # of what the end reaches; holes of bars have 0.6 or more (common practice, no source)
_OPPOSITE = -0.5  # cosine between the arms below which they point opposite ways


@frozen
class Arm:
    """One end of the bar, holes in the order of the bar file; lengths in mm.

    `vector_mm` runs from the mount axis to the joint of the first hole, square to the axis, in drawing axes;
    `lengths_mm` are the arms of all holes and `holes_from_tip_mm` where they are drilled. `tip_mm` is the middle of
    the cut end, `tip_above_axis_mm` its height (z) over the mount axis at the nearest place of it. `reach_mm` is how
    far from that axis the end comes, cut end or joint.
    """

    side: str
    tip_mm: Vector
    tip_above_axis_mm: float
    vector_mm: Vector
    lengths_mm: tuple[float, ...]
    holes: tuple[str, ...]
    holes_from_tip_mm: tuple[float, ...]
    reach_mm: float

    @property
    def least_lever_mm(self) -> float:
        """Arm below which a hole lies next to the mount axis and turns nothing: its rate and stress mean little."""
        return max(_LEAST_LEVER * self.reach_mm, 1.0)

    def is_lever(self, hole: int) -> bool:
        """Whether a link at that hole, by its number, turns the bar rather than pushing it across."""
        return self.lengths_mm[hole] >= self.least_lever_mm


@frozen
class Dimensions:
    """Sizes in mm, angles in deg, (right, left) where there are two.

    `width_mm` is from cut end to cut end across the car (y); `depth_mm` and `height_mm` are what the centreline takes
    up along x and z. `mounts_y_mm` are in drawing axes, from the right; `bend_angles_deg` and `bend_radii_mm` from the
    right tip.
    """

    width_mm: float
    depth_mm: float
    height_mm: float
    developed_length_mm: float
    mass_kg: float
    bend_angles_deg: tuple[float, ...]
    bend_radii_mm: tuple[float, ...]
    mounts_y_mm: tuple[float, ...]
    arms: tuple[Arm, Arm]

    @property
    def arms_oppose(self) -> bool:
        """Whether the arms point opposite ways from the mount axis: roll then turns the bar without twisting it."""
        return arms_oppose(*(arm.vector_mm for arm in self.arms))


def arms_oppose(right_mm: Sequence[float], left_mm: Sequence[float]) -> bool:
    """Whether two arms, as vectors (3,) from the mount axis to their joints, point opposite ways (beyond 120 deg)."""
    right, left = np.asarray(right_mm, float), np.asarray(left_mm, float)
    size = float(np.linalg.norm(right) * np.linalg.norm(left))
    return size > 1e-9 and float(right @ left) < _OPPOSITE * size


def main_dimensions(bar: Bar) -> Dimensions:
    """The main dimensions of a bar."""
    line = bar.centreline
    stations = sorted(mount.station_mm for mount in bar.mounts)
    mounts, _ = line.evaluate(stations)
    origin, axis = mounts[0], mounts[-1] - mounts[0]
    size = float(np.linalg.norm(axis))
    axis = np.array([0.0, 1.0, 0.0]) if size < 1e-9 else axis / size
    path, _ = line.evaluate(np.linspace(0.0, line.length_mm, 801))
    low, high = path.min(axis=0), path.max(axis=0)
    return Dimensions(
        width_mm=float(path[-1, 1] - path[0, 1]),
        depth_mm=float(high[0] - low[0]),
        height_mm=float(high[2] - low[2]),
        developed_length_mm=line.length_mm,
        mass_kg=mass_kg(bar),
        bend_angles_deg=tuple(float(np.degrees(bend.bend_angle_rad)) for bend in line.bends),
        bend_radii_mm=tuple(float(bend.radius_mm or 0.0) for bend in line.bends),
        mounts_y_mm=tuple(float(point[1]) for point in mounts),
        arms=(
            _arm(bar, bar.right, path[0], origin, axis),
            _arm(bar, bar.left, path[-1], origin, axis),
        ),
    )


def _arm(bar: Bar, end: End, tip: Array, origin: Array, axis: Array) -> Arm:
    def across(point: Array) -> Array:
        away = point - origin
        return np.asarray(away - (away @ axis) * axis, float)

    joints = np.array(list(joint_centres(end, bar.centreline).values()))
    vectors = np.array([across(joint) for joint in joints])
    lengths = np.linalg.norm(vectors, axis=1)
    return Arm(
        side=end.side,
        tip_mm=_vector(tip),
        tip_above_axis_mm=float(across(tip)[2]),
        vector_mm=_vector(vectors[0]),
        lengths_mm=tuple(float(size) for size in lengths),
        holes=tuple(hole.name for hole in end.holes),
        holes_from_tip_mm=tuple(hole.from_tip_mm for hole in end.holes),
        reach_mm=float(max(np.linalg.norm(across(tip)), *lengths)),
    )


def _vector(point: Array) -> Vector:
    x, y, z = (float(value) for value in point)
    return x, y, z


def shape_words(found: Dimensions) -> tuple[str, ...]:
    """The shape in a few lines, to hold against paper: size and bends; arms; holes; mounts."""
    mm = _mm
    bends = _listed(found.bend_angles_deg, found.bend_radii_mm)
    size = f"{mm(found.width_mm)} mm wide between cut ends, {mm(found.depth_mm)} mm fore and aft"
    if found.height_mm >= _ALIKE_MM:
        size += f", {mm(found.height_mm)} mm high"
    sizes = f"{size}; {bends}; developed length {mm(found.developed_length_mm)} mm, mass {found.mass_kg:.3g} kg"
    mounts = f"mounts at y {', '.join(_signed(y) for y in found.mounts_y_mm)} mm"
    tips = sum(arm.tip_mm[1] for arm in found.arms)
    if abs(found.mounts_y_mm[0] + found.mounts_y_mm[-1] - tips) > 2.0 * _UNEVEN_MM:
        mounts += ", NOT midway between the cut ends"
    return (sizes, *_arm_lines(found), mounts)


def held_words(bar: Bar) -> str:
    """What holds and moves the bar, which no shape shows: stiffness of the bushings, length of the links.

    Where a pickup is fixed in the car, the shortest and the longest: a link is set to each hole's own length.
    """
    across = dict.fromkeys(f"{mount.radial_stiffness_N_per_mm:.7g}" for mount in bar.mounts)
    words = f"bushings {', '.join(across)} N/mm across"
    right, left = (
        " to ".join(dict.fromkeys(f"{round(size, 1):g}" for size in (min(sizes), max(sizes))))
        for sizes in (
            lengths_mm(link, end, centreline=bar.centreline)
            for link, end in ((bar.right_link, bar.right), (bar.left_link, bar.left))
        )
    )
    return f"{words}; links {right} mm" + ("" if right == left else f" right, {left} mm left")


def _arm_lines(found: Dimensions) -> list[str]:
    right, left = found.arms
    mirrored = np.array(left.vector_mm) * [1.0, -1.0, 1.0]
    alike = (
        left.holes == right.holes
        and _close(left.lengths_mm, right.lengths_mm)
        and _close(left.holes_from_tip_mm, right.holes_from_tip_mm)
        and _close(mirrored, right.vector_mm)
        and _close([left.tip_above_axis_mm], [right.tip_above_axis_mm])
    )
    if alike:
        return [f"both arms point {_direction(left)}, tips {_tip(left)}; {_holes(left)}"]
    opposed = ", OPPOSITE WAYS: roll turns such a bar and hardly twists it" if found.arms_oppose else ""
    lines = [f"{arm.side} arm points {_direction(arm)}, tip {_tip(arm)}; {_holes(arm)}" for arm in found.arms]
    return [lines[0], lines[1] + opposed]


def _direction(arm: Arm) -> str:
    vector = np.array(arm.vector_mm)
    size = float(np.linalg.norm(vector))
    if size < _ALIKE_MM:
        return "nowhere (its first hole lies on the mount axis)"
    order = sorted(_WAYS, key=lambda way: -abs(vector[way[1]]))
    shown = [way for number, way in enumerate(order) if number == 0 or abs(vector[way[1]]) > _TELLS * size]
    return " and ".join(names[int(vector[axis] > 0.0)] for names, axis in shown)


def _tip(arm: Arm) -> str:
    height = arm.tip_above_axis_mm
    if abs(height) < _ALIKE_MM:
        return "level with the mounts"
    return f"{_mm(abs(height))} mm {'above' if height > 0.0 else 'below'} the mounts"


def _holes(arm: Arm) -> str:
    """Holes with the arm they give; where they lie from the cut end."""
    arms = ", ".join(_mm(length) for length in arm.lengths_mm)
    places = ", ".join(_mm(place) for place in arm.holes_from_tip_mm)
    many = len(arm.holes) > 1
    return f"hole{'s' * many} {', '.join(arm.holes)}: arm{'s' * many} of {arms} mm, {places} mm from the cut end"


def _listed(angles: Sequence[float], radii: Sequence[float]) -> str:
    if not angles:
        return "no bends"
    alike = np.ptp(angles) < _ALIKE_DEG and np.ptp(radii) < _ALIKE_MM
    if alike:
        each = " each" * (len(angles) > 1)
        return f"{len(angles)} bend{'s' * (len(angles) > 1)} of {_deg(angles[0])} deg{each}, radius {_mm(radii[0])} mm"
    one_radius = np.ptp(radii) < _ALIKE_MM
    named = ", ".join(_deg(angle) for angle in angles)
    tools = f"radius {_mm(radii[0])} mm" if one_radius else f"radii {', '.join(_mm(radius) for radius in radii)} mm"
    return f"{len(angles)} bends of {named} deg, {tools}"


def _close(some: Sequence[float] | Array, others: Sequence[float] | Array) -> bool:
    return len(some) == len(others) and bool(np.allclose(some, others, rtol=0.0, atol=_ALIKE_MM))


def _mm(value: float) -> str:
    """Whole mm, with a tenth where it is one on the drawing: 375, 12.5."""
    tenths = round(value, 1) + 0.0
    return f"{tenths:g}" if abs(tenths) < 100.0 or tenths == int(tenths) else f"{value:.0f}"


def _signed(value: float) -> str:
    text = _mm(abs(value))
    return text if text == "0" else ("-" if value < 0.0 else "+") + text


def _deg(value: float) -> str:
    return f"{round(value, 1) + 0.0:g}"
