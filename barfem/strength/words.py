"""A place of the bar in words, as one says it over the drawing: "left arm, bend 2, inside, 14 mm past the tangent"."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Mount
from barfem.strength.places import Region, Samples
from barfem.strength.section_map import SURFACE_NAMES
from barfem.strength.stress_maps import StressMaps

__all__ = ["area_words", "place_words", "point_words"]

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
    around = "all round" if evenness >= EVEN else point_words(bar, samples, maps, sample=sample, point=point)
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


def point_words(bar: Bar, samples: Samples, maps: StressMaps, *, sample: int, point: int) -> str:
    """Where round the section: "inside" and "outside" of a bend, and the sides as the bar lies in the car.

    Eight directions: one between two is named after both, as in "inside and top".
    """
    index = maps.index[sample]
    angle = float(maps.angle_rad[index, point])
    frame = samples.frame[sample]
    axes: list[tuple[Array, str, str]]
    if samples.in_bend[sample]:
        inward = float(samples.inward_angle_rad[sample])
        first = np.cos(inward) * frame[1] + np.sin(inward) * frame[2]
        across = -np.sin(inward) * frame[1] + np.cos(inward) * frame[2]
        axes = [(first, "outside", "inside"), (across, *_side_names(across))]
    else:
        # The two drawing axes that lie most across the bar, made square to it.
        along = np.argsort(np.abs(frame[0]))
        first = np.eye(3)[along[0]] - frame[0, along[0]] * frame[0]
        first /= np.linalg.norm(first)
        across = _across(frame[0].tolist(), first.tolist())
        axes = [(first, *_side_names(first)), (across, *_side_names(across))]
    direction = np.cos(angle) * frame[1] + np.sin(angle) * frame[2]
    names = []
    for axis, minus, plus in axes:
        share = float(direction @ axis)
        if abs(share) > np.sin(np.pi / 8.0):
            names.append(plus if share > 0.0 else minus)
    return " and ".join(names)


def _across(u: list[float], v: list[float]) -> Array:
    """u x v; `np.cross` takes ten times as long for one pair, and words are made for every place."""
    return np.array([u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]])


def _side_names(direction: Array) -> tuple[str, str]:
    """Names of minus and plus `direction`, after the drawing axis nearest to it."""
    nearest = int(np.argmax(np.abs(direction)))
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
