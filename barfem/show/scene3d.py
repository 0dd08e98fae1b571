"""The bar in three dimensions: its skin at full travel with what each patch is worth, its mounts, links and names.

One scene serves the still picture and the view that turns. A patch never hides a peak: it takes the worst of all the
points that it covers.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.check.fatigue import Fatigue
from barfem.check.result import CheckResult
from barfem.check.whole_bar import Spot
from barfem.model.frozen import frozen
from barfem.model.load_case import Instant
from barfem.show.figures.data import FigureData
from barfem.show.needed import needed_factor
from barfem.strength.section_map import OUTSIDE
from barfem.strength.words import area_words

__all__ = ["Bands", "Scene", "build_scene", "default_view", "margin_bands", "project", "safety_bands"]

Array = NDArray[np.float64]

AROUND = 24  # patches round the bar; POINTS_AROUND is a multiple of it
MOUNT_AROUND = 16
HOLE_AROUND = 16

# Warm below the target, cool from it on, lighter or darker by distance: told apart in grey and by colour-blind readers.
WARM = ("#8c1c13", "#e8853d")
COOL = ("#d5e7c9", "#8fcbd0", "#4f9dc4", "#2f6ca6", "#22406f")


@frozen
class Bands:
    """A scale in steps: `edges` (b - 1) between b `colors`, and in words what it measures."""

    name: str
    edges: tuple[float, ...]
    colors: tuple[str, ...]
    target: float

    def index(self, values: Array) -> NDArray[np.intp]:
        """Number of each value's band."""
        return np.searchsorted(np.array(self.edges), values, side="right")

    def words(self) -> tuple[str, ...]:
        """What each band spans: "below 0", "0 to 0.25", ..., "above 5"."""
        edges = [f"{edge:.3g}" for edge in self.edges]
        inner = [f"{low} to {high}" for low, high in itertools.pairwise(edges)]
        return (f"below {edges[0]}", *inner, f"above {edges[-1]}")


def margin_bands(result: CheckResult) -> Bands:
    """Steps of the yield margin: yields, misses the target, meets it by more and more."""
    target = result.yield_margin_target
    above = [edge for edge in (0.5, 1.0, 2.0, 5.0) if edge > target + 0.1]
    below = sorted({0.0, target}) if target >= 0.0 else [target]
    return _bands("Yield margin", below, above, target)


def safety_bands(result: CheckResult, strength_share: float) -> Bands:
    """Steps of the safety factor on stress amplitude at the target cycles.

    1 is the median life at the target; the target itself is what the survival asks for, of `strength_share`.
    """
    target = needed_factor(result, strength_share)
    above = [edge for edge in (1.3, 1.7, 2.5, 4.0) if edge > 1.06 * target]
    below = sorted({1.0, round(target, 2)})
    name = f"Safety factor, {100 * result.survival:g} % survival needs {target:.2f}"
    if not result.target_cycles_judged:
        name = f"Safety factor for {result.target_cycles:.0f} cycles of full travel, not judged"
    return _bands(name, below, above, target)


def _bands(name: str, below: list[float], above: list[float], target: float) -> Bands:
    warm = WARM[-len(below) :] if len(below) <= len(WARM) else WARM
    return Bands(name, (*below, *above), (*warm, *COOL[: len(above) + 1]), target)


@frozen
class Scene:
    """The skin as a grid of (s, AROUND) points joined to quadrilaterals, for j hole settings.

    Attributes
    ----------
    station_mm : (s,)
    joined : (s - 1,)
        False between the two sections of one tangent, where there is no skin.
    skin_mm : (j, s, AROUND, 3)
        At full travel, drawing axes.
    von_mises_MPa, yield_margin, safety_factor : (j, s - 1, AROUND)
        The worst in each patch over all states, holes and contacts included; margin and factor are 99 at most.
    places : (s - 1,)
        Each strip in words: "right arm, bend 1".
    rest_mm : (s, 3)
        The centreline as drawn.
    mounts_mm : tuple of (2, MOUNT_AROUND, 3)
        Rings at both ends of each mount.
    links_mm : (j, 2, 2, 3)
        Joint and pickup at full travel, right then left.
    holes_mm : (j, h, 2, HOLE_AROUND, 3)
        Rims of every hole of both ends on its two faces, at full travel.
    peaks_mm, weakest_mm : (j, 3)
        Where, on the skin, each hole setting has its peak stress and the place that decides its life.
    """

    station_mm: Array
    joined: NDArray[np.bool_]
    skin_mm: Array
    von_mises_MPa: Array
    yield_margin: Array
    safety_factor: Array
    places: tuple[str, ...]
    rest_mm: Array
    mounts_mm: tuple[Array, ...]
    links_mm: Array
    holes_mm: Array
    peaks_mm: Array
    weakest_mm: Array

    def only(self, settings: list[int]) -> Scene:
        """The same scene with some of its hole settings."""
        per_setting = (
            "skin_mm",
            "von_mises_MPa",
            "yield_margin",
            "safety_factor",
            "links_mm",
            "holes_mm",
            "peaks_mm",
            "weakest_mm",
        )
        return replace(self, **{name: getattr(self, name)[settings] for name in per_setting})

    def caps_mm(self, setting: int) -> tuple[Array, Array]:
        """The cut ends as quadrilaterals (AROUND / 2 - 1, 4, 3), right then left, seen anticlockwise from outside."""
        half = AROUND // 2
        low = np.arange(half - 1)
        corners = np.stack([low, low + 1, AROUND - 2 - low, AROUND - 1 - low], axis=1)
        return self.skin_mm[setting, 0][corners[:, ::-1]], self.skin_mm[setting, -1][corners]

    @property
    def center_mm(self) -> Array:
        """Middle of the box that holds bar and links in every hole setting."""
        return 0.5 * (self._corners[0] + self._corners[1])

    @property
    def _corners(self) -> tuple[Array, Array]:
        points = np.concatenate([self.skin_mm.reshape(-1, 3), self.links_mm.reshape(-1, 3)])
        return points.min(axis=0), points.max(axis=0)


def build_scene(data: FigureData) -> Scene:
    """The scene of a check."""
    fields, bar = data.fields, data.bar
    outside = np.flatnonzero(fields.surface == OUTSIDE)
    step = len(outside) // AROUND
    stations = fields.station_mm
    ring = _in_line(fields.at_rest_mm[:, outside])
    kept = outside[ring[:, ::step]]
    along = np.arange(len(stations))[:, None]
    points, _ = bar.centreline.evaluate(stations)
    around = along, outside[ring]
    stress = _worst(fields.von_mises_MPa.max(axis=1)[:, *around], step, np.maximum)
    # Contacts scale stress, and so what is left of strength over it; the margin is that less one.
    reserve = 1.0 + _worst(np.minimum(fields.yield_margin[:, *around], 99.0), step, np.minimum)
    safety = _worst(np.minimum(fields.safety_factor[:, *around], 99.0), step, np.minimum)
    for spot in fields.spots:
        strip = _strip(stations, spot.station_mm)
        _add_spot(stress, strip, spot.von_mises_MPa, spot, np.maximum)
        _add_spot(reserve, strip, np.minimum(1.0 + spot.yield_margin, 100.0), spot, np.minimum)
        _add_spot(safety, strip, np.minimum(spot.safety_factor, 99.0), spot, np.minimum)
    return Scene(
        station_mm=stations,
        joined=np.diff(stations) > 1e-6,
        skin_mm=fields.at_travel_mm[:, along, kept],
        von_mises_MPa=stress,
        yield_margin=reserve - 1.0,
        safety_factor=safety,
        places=_places(data),
        rest_mm=points,
        mounts_mm=_mounts(data),
        links_mm=_links(data),
        holes_mm=_holes(data, fields.at_travel_mm[:, along, kept]),
        peaks_mm=_spots(data, [s.peak.station_mm for s in data.result.settings], -fields.von_mises_MPa.max(axis=1)),
        weakest_mm=_spots(data, [_weakest_station_mm(s.fatigue) for s in data.result.settings], fields.safety_factor),
    )


def _in_line(rings_mm: Array) -> NDArray[np.intp]:
    """Numbers (s, p) of each section's points, begun so that a section's points follow on those of the one before.

    A section is numbered from its own bend's inside or its flat's face: joined as they come, the patches between two
    such would cross the bar, and be worth what lies on two sides of it.
    """
    spokes = rings_mm - rings_mm.mean(axis=1, keepdims=True)
    count = rings_mm.shape[1]
    apart = np.square(np.diff(spokes, axis=0)).sum(axis=2).max(axis=1)
    next_point = np.square(spokes - np.roll(spokes, 1, axis=1)).sum(axis=2).min(axis=1)
    turns = (np.arange(count)[:, None] + np.arange(count)) % count  # (turn, point)
    turn = np.zeros(len(rings_mm), np.intp)
    for i in np.flatnonzero(apart > 0.25 * next_point[1:]) + 1:  # most go on as they come
        alike = spokes[i] @ spokes[i - 1].T  # nearest to each other where the products' sum is greatest
        turn[i] = alike[turns, np.arange(count)].sum(axis=1).argmax()
    return turns[np.cumsum(turn) % count]


def _add_spot(values: Array, strip: int, worst: Array, spot: Spot, worse: np.ufunc) -> None:
    """Lower (or raise) `values` (j, s, p) of a strip to the worst (j,) of a hole or contact in it.

    A hole colours its whole strip: it must not be lost between two sections. A contact acts on the section's own
    stress, so that the pattern round the bar stays.
    """
    here = values[:, strip]
    if spot.region.kind != "hole":
        own = worse.reduce(here, axis=1)
        factor = np.where(own > 0.0, worst / np.where(own > 0.0, own, 1.0), 1.0)
        values[:, strip] = here * worse(factor, 1.0)[:, None]
    else:
        values[:, strip] = worse(here, worst[:, None])


def _strip(stations_mm: Array, station_mm: float) -> int:
    """The strip of skin, of some length, that holds a station."""
    around = (stations_mm[:-1] <= station_mm) & (station_mm <= stations_mm[1:]) & (np.diff(stations_mm) > 1e-6)
    return int(np.flatnonzero(around)[0])


def _worst(values: Array, step: int, worse: np.ufunc) -> Array:
    """Worst of the points (j, s, p) that each patch (j, s - 1, p / step) covers, its edges included."""
    over = [np.roll(values, -shift, axis=-1)[..., ::step] for shift in range(step + 1)]
    round_section = worse.reduce(over)
    return np.asarray(worse(round_section[:, :-1], round_section[:, 1:]))


def _places(data: FigureData) -> tuple[str, ...]:
    """Each strip in words; of a hole and a mount in one the latter."""
    fields = data.fields
    middles = (0.5 * (fields.station_mm[:-1] + fields.station_mm[1:])).tolist()
    kinds = [f"bend {region.index}" if region.kind == "bend" else region.kind for region in fields.regions]
    names = [kinds[number] for number in fields.region[:-1].tolist()]
    for spot in fields.spots:
        if spot.region.hole is not None:
            names[_strip(fields.station_mm, spot.station_mm)] = f"hole {spot.region.hole.name}"
    for mount in data.bar.mounts:
        half = 0.5 * mount.length_mm
        names = [
            "in a mount" if abs(middle - mount.station_mm) <= half else name
            for middle, name in zip(middles, names, strict=True)
        ]
    return tuple(f"{area_words(data.bar, middle)}, {name}" for middle, name in zip(middles, names, strict=True))


def _mounts(data: FigureData) -> tuple[Array, ...]:
    bar, rings = data.bar, []
    angle = np.linspace(0.0, 2.0 * np.pi, MOUNT_AROUND, endpoint=False)
    radius = 0.82 * bar.section.diameter_mm
    for mount in bar.mounts:
        half = 0.5 * max(mount.length_mm, 0.5 * bar.section.diameter_mm)
        ends = np.clip([mount.station_mm - half, mount.station_mm + half], 0.0, bar.centreline.length_mm)
        points, frames = bar.centreline.evaluate(ends)
        circle = np.cos(angle)[:, None] * frames[:, None, 1] + np.sin(angle)[:, None] * frames[:, None, 2]
        rings.append(points[:, None] + radius * circle)
    return tuple(rings)


def _holes(data: FigureData, skin: Array) -> Array:
    """Rims of the holes: across the bar where its section is thinnest, or square to the travel where it is round.

    A hole without a diameter is drawn a third as wide as the bar.
    """
    bar, stations = data.bar, data.fields.station_mm
    angle = np.linspace(0.0, 2.0 * np.pi, HOLE_AROUND, endpoint=False)
    travel = np.array(bar.travel.direction)
    made = []
    for end in bar.ends:
        for hole in end.holes:
            at = int(np.abs(stations - hole.station_mm).argmin())
            ring = skin[:, at]
            middle = ring.mean(axis=1)
            beside = max(at - 1, 0) if at == len(stations) - 1 else at + 1
            along = skin[:, beside].mean(axis=1) - middle
            along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
            spoke = ring - middle[:, None]
            extent = np.linalg.norm(spoke, axis=2)
            thin = spoke[np.arange(len(ring)), extent.argmin(axis=1)]
            if extent.min() > 0.95 * extent.max():
                thin = np.cross(along, travel)
            axis = thin - np.sum(thin * along, axis=1, keepdims=True) * along
            axis /= np.maximum(np.linalg.norm(axis, axis=1, keepdims=True), 1e-9)
            half = np.abs(np.einsum("jpk,jk->jp", spoke, axis)).max(axis=1)[:, None, None]
            across = np.cross(axis, along)
            radius = 0.5 * (hole.diameter_mm or bar.section.diameter_mm / 3.0)
            rim = radius * (np.cos(angle)[:, None] * along[:, None] + np.sin(angle)[:, None] * across[:, None])
            centre = middle[:, None] + np.array(hole.offset_mm)
            made.append(np.stack([centre + side * 1.01 * half * axis[:, None] + rim for side in (1.0, -1.0)], axis=1))
    return np.stack(made, axis=1)


def _links(data: FigureData) -> Array:
    """Joints at full travel, and pickups as far from them as the links are long (elastic stretch left out)."""
    solution, bar = data.solved.solution, data.bar
    joints = solution.joint_mm[:, Instant.TRAVEL]
    lengths = []
    for side, link in enumerate((bar.right_link, bar.left_link)):
        at_rest = solution.joint_mm[:, Instant.REST, side]
        if link.pickup_mm is not None:
            lengths.append(np.linalg.norm(np.array(link.pickup_mm) - at_rest, axis=-1))
        else:
            lengths.append(np.full(len(joints), link.length_mm or 0.0))
    away = -np.stack(lengths, axis=1)[..., None] * solution.link_direction[:, Instant.TRAVEL]
    return np.stack([joints, joints + away], axis=2)


def _spots(data: FigureData, stations_mm: list[float], values: Array) -> Array:
    """The skin's point (j, 3) of least value (j, m, p) among the sections nearest to each station."""
    fields = data.fields
    outside = np.flatnonzero(fields.surface == OUTSIDE)
    spots = []
    for j, station in enumerate(stations_mm):
        distance = np.abs(fields.station_mm - station)
        near = np.flatnonzero(distance < distance.min() + 1e-6)
        strip, point = np.unravel_index(int(values[j][np.ix_(near, outside)].argmin()), (len(near), len(outside)))
        spots.append(fields.at_travel_mm[j, near[strip], outside[point]])
    return np.array(spots)


def _weakest_station_mm(fatigue: Fatigue) -> float:
    """Where the safety factor is; where nothing is loaded there is none, and any place does."""
    found = fatigue.safety_factor_station_mm
    return fatigue.station_mm if found is None else found


def default_view() -> tuple[float, float]:
    """Azimuth and elevation of the eye, rad: from behind and above, a little to the right, as one walks up to a car."""
    return np.radians(158.0), np.radians(30.0)


def project(points_mm: Array, *, azimuth_rad: float, elevation_rad: float) -> tuple[Array, Array]:
    """Parallel projection of (..., 3): (..., 2) to the right and up, and (...) towards the eye, mm."""
    ca, sa, ce, se = np.cos(azimuth_rad), np.sin(azimuth_rad), np.cos(elevation_rad), np.sin(elevation_rad)
    right, up, eye = np.array([-sa, ca, 0.0]), np.array([-se * ca, -se * sa, ce]), np.array([ce * ca, ce * sa, se])
    return np.stack([points_mm @ right, points_mm @ up], axis=-1), points_mm @ eye
