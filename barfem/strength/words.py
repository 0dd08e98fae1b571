"""A place of the bar in words, as one says it over the drawing: "left arm, bend 2, inside, 14 mm past the tangent"."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Mount
from barfem.strength.places import Region, Samples
from barfem.strength.section_map import SURFACE_NAMES
from barfem.strength.stress_maps import StressMaps

__all__ = ["EVEN", "area_words", "place_words", "point_words"]

Array = NDArray[np.float64]

EVEN = 0.98  # round a section as even as this, no point is named

# Directions in drawing axes (x forward, y left, z up), as said of a bar lying in the car.
_SIDES = (("rear", "front"), ("right side", "left side"), ("bottom", "top"))


def place_words(bar: Bar, samples: Samples, maps: StressMaps, *, sample: int, point: int, evenness: float = 0.0) -> str:
    """Where a point is: arm or middle, region, position round the section, and how far along.

    `evenness` is least over greatest stress round the section (`Recovery.peak_evenness`); near 1 "all round" is said.
    """
    region = samples.regions[int(samples.region[sample])]
    station = float(samples.station_mm[sample])
    around = "all round" if evenness >= EVEN else point_words(samples, maps, sample=sample, point=point)
    if SURFACE_NAMES[int(maps.surface[point])] == "bore":
        around = f"in the bore, {around}"
    parts = [area_words(bar, station), *_region_words(bar, samples, region, sample), around]
    if region.kind in ("bend", "straight", "flat", "transition"):
        parts.append(_along_words(bar, region, station))
    return ", ".join(part for part in parts if part)


def area_words(bar: Bar, station_mm: float) -> str:
    """ "right arm" and "left arm" outside the outermost mounts' middles, "middle" between them."""
    stations = [mount.station_mm for mount in bar.mounts]
    if station_mm < min(stations):
        return "right arm"
    return "left arm" if station_mm > max(stations) else "middle"


def point_words(samples: Samples, maps: StressMaps, *, sample: int, point: int) -> str:
    """Where round the section: "inside" and "outside" of a bend, and the sides as the bar lies in the car.

    Eight directions: one between two is named after both, as in "inside and top".
    """
    angle = float(maps.angle_rad[maps.index[sample], point])
    along, a, b = samples.frame[sample].tolist()
    if samples.in_bend[sample]:
        inward = float(samples.inward_angle_rad[sample])
        across = _turned(a, b, inward + 0.5 * math.pi)
        axes = [(_turned(a, b, inward), "outside", "inside"), (across, *_side_names(across))]
    else:
        # The two drawing axes that lie most across the bar, made square to it.
        least = min(range(3), key=lambda axis: abs(along[axis]))
        first = [float(axis == least) - along[least] * along[axis] for axis in range(3)]
        length = math.hypot(*first)
        first = [part / length for part in first]
        across = [
            along[1] * first[2] - along[2] * first[1],
            along[2] * first[0] - along[0] * first[2],
            along[0] * first[1] - along[1] * first[0],
        ]
        axes = [(first, *_side_names(first)), (across, *_side_names(across))]
    direction = _turned(a, b, angle)
    names = []
    for axis, minus, plus in axes:
        share = sum(one * other for one, other in zip(direction, axis, strict=True))
        if abs(share) > math.sin(math.pi / 8.0):
            names.append(plus if share > 0.0 else minus)
    return " and ".join(names)


def _turned(a: list[float], b: list[float], angle_rad: float) -> list[float]:
    """`a` turned towards `b`; numpy takes ten times as long for one vector, and words are made for every place."""
    cosine, sine = math.cos(angle_rad), math.sin(angle_rad)
    return [cosine * x + sine * y for x, y in zip(a, b, strict=True)]


def _side_names(direction: list[float]) -> tuple[str, str]:
    """Names of minus and plus `direction`, after the drawing axis nearest to it."""
    nearest = max(range(3), key=lambda axis: abs(direction[axis]))
    minus, plus = _SIDES[nearest]
    return (minus, plus) if direction[nearest] > 0.0 else (plus, minus)


def _region_words(bar: Bar, samples: Samples, region: Region, sample: int) -> list[str]:
    station = float(samples.station_mm[sample])
    if region.kind == "bend":
        return [f"bend {region.index}"]
    if region.kind == "hole" and region.hole is not None:
        return [f"edge of hole {region.hole.name}" if samples.edge[sample] else f"hole {region.hole.name}"]
    if region.kind == "collar":
        return [f"at the {region.side} edge of collar {region.index}"]
    if region.kind == "mount edge":
        mounts = sorted(bar.mounts, key=lambda mount: mount.station_mm)
        name = _mount_name(region.index, len(mounts))
        inner = 1 < region.index < len(mounts)
        return [f"at the {region.side} edge of {name}" if inner else f"at the edge of {name}"]
    if region.kind in ("flat", "transition"):
        return [region.kind]
    mounts = sorted(bar.mounts, key=lambda mount: mount.station_mm)
    for number, mount in enumerate(mounts, start=1):
        if _within(mount, station):
            return [f"in {_mount_name(number, len(mounts))}"]
    return ["straight"]


def _within(mount: Mount, station: float) -> bool:
    return abs(station - mount.station_mm) <= 0.5 * mount.length_mm + 1e-6


def _mount_name(number: int, count: int) -> str:
    return "the right mount" if number == 1 else "the left mount" if number == count else f"mount {number}"


def _along_words(bar: Bar, region: Region, station: float) -> str:
    """How far along: past the nearer tangent in a bend, from the tip on an end, from the middle elsewhere."""
    if region.kind == "bend":
        from_right, from_left = station - region.start_mm, region.end_mm - station
        right_is_nearer = from_right <= from_left
        distance = min(from_right, from_left)
        area = area_words(bar, 0.5 * (region.start_mm + region.end_mm))
        if area == "middle":
            tangent = "right tangent" if right_is_nearer else "left tangent"
        else:
            tangent = "tip-side tangent" if right_is_nearer == (area == "right arm") else "mount-side tangent"
        return f"at the {tangent}" if distance < 0.5 else f"{distance:.0f} mm past the {tangent}"
    area = area_words(bar, station)
    if area == "middle":
        offset = station - bar.middle_mm
        if abs(offset) < 0.5:
            return "at mid-length"
        return f"{abs(offset):.0f} mm {'left' if offset > 0.0 else 'right'} of mid-length"
    tip = station if area == "right arm" else bar.centreline.length_mm - station
    return f"{tip:.0f} mm from the tip"
