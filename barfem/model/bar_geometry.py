"""What follows from a bar's geometry alone: section properties along it, local strength, volume and mass."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model import sections
from barfem.model.bar import Bar, End, Flat
from barfem.model.frozen import frozen

__all__ = [
    "SectionProperties",
    "end_straight_mm",
    "fillet_share",
    "flat_axis_angle_rad",
    "mass_kg",
    "outer_mounts",
    "outline_share",
    "section_properties",
    "strength_scale",
    "volume_mm3",
]

Array = NDArray[np.float64]


@frozen
class SectionProperties:
    """Section properties at n stations, each (n,), in the section's principal axes.

    `axis_angle_rad` turns the frame's a into principal axis a, from a towards b, about t. In a flat a lies along the
    width and b across the thickness (along the hole axis); in the round body the angle is zero. I_a is for bending
    about a (the integral of y_b^2); shear areas a and b are for shear along a and b.
    """

    area_mm2: Array
    shear_area_a_mm2: Array
    shear_area_b_mm2: Array
    I_a_mm4: Array
    I_b_mm4: Array
    J_mm4: Array
    axis_angle_rad: Array


def body_properties(bar: Bar) -> sections.Properties:
    """Properties of the body, round or tube."""
    return sections.round_or_tube(diameter_mm=bar.section.diameter_mm, bore_mm=bar.section.bore_mm, nu=bar.steel.nu)


def flat_properties(flat: Flat, *, nu: float) -> sections.Properties:
    """Properties of the full flat: a rectangle if forged, two unbonded leaves if pressed."""
    section = sections.rectangle if flat.kind == "forged" else sections.pressed_pair
    return section(width_mm=flat.width_mm, thickness_mm=flat.thickness_mm, nu=nu)


def flat_axis_angle_rad(bar: Bar, end: End) -> float:
    """Angle from frame axis a to the flat's width axis, in (-pi/2, pi/2]; zero for a round end.

    The flat lies on the end's straight, along which the frame is constant.
    """
    if end.flat is None:
        return 0.0
    tip = 0.0 if end.side == "right" else bar.centreline.length_mm
    _, a, b = bar.centreline.evaluate(tip)[1][0]
    normal = np.array(end.flat.normal)
    angle = float(np.arctan2(-normal @ a, normal @ b))
    half = np.pi / 2.0
    return angle - np.pi if angle > half else angle + np.pi if angle <= -half else angle


def section_properties(bar: Bar, stations_mm: ArrayLike) -> SectionProperties:
    """Section properties at stations (n,). In a flat's transition they are blended as `sections.blend` does."""
    stations = np.atleast_1d(np.asarray(stations_mm, float))
    body = body_properties(bar)
    out = {name: np.full(stations.shape, value) for name, value in vars(body).items()}
    angle = np.zeros(stations.shape)
    for end in bar.ends:
        if end.flat is None:
            continue
        from_tip = stations if end.side == "right" else bar.centreline.length_mm - stations
        inside = from_tip < end.flat.length_mm
        blended = sections.blend(
            flat_properties(end.flat, nu=bar.steel.nu), body, transition_fraction(end.flat, from_tip[inside])
        )
        for name, values in blended.items():
            out[name][inside] = values
        angle[inside] = flat_axis_angle_rad(bar, end)
    return SectionProperties(**out, axis_angle_rad=angle)


def transition_fraction(flat: Flat, from_tip_mm: Array) -> Array:
    """0 in the full flat, 1 in the body, linear over the transition; (n,) like `from_tip_mm`."""
    full = flat.length_mm - flat.transition_mm
    if flat.transition_mm == 0.0:
        return (from_tip_mm >= full).astype(float)
    return np.clip((from_tip_mm - full) / flat.transition_mm, 0.0, 1.0)


def outline_share(flat: Flat, x: ArrayLike, *, diameter_mm: float) -> Array:
    """How far the outline of a flat's transition has gone from the flat's to the body's, 0 to 1, at `x` of its length.

    A half cosine, or straight sides tangent to the fillets at both ends; a half cosine too where the outline is not
    given.
    """
    on = np.clip(np.asarray(x, float), 0.0, 1.0)
    if flat.outline != "straight":
        return np.asarray(0.5 - 0.5 * np.cos(np.pi * on))
    a = fillet_share(flat, diameter_mm=diameter_mm)
    if a <= 0.0:
        return on
    steep = 1.0 / (1.0 - a)
    ends = np.where(on < 0.5, steep * on**2 / (2.0 * a), 1.0 - steep * (1.0 - on) ** 2 / (2.0 * a))
    return np.where((on < a) | (on > 1.0 - a), ends, steep * (on - 0.5 * a))


def fillet_share(flat: Flat, *, diameter_mm: float) -> float:
    """Length of each fillet of a straight transition over the transition's, at most a half; none given: zero.

    Tangent to the flat, the straight side and the body: with R the fillet, h what the side moves in by, L the length
    and a L that of a fillet, slopes being small, a (1 - a) = R h / L^2. h is that of the steeper of width and
    thickness.
    """
    if flat.fillet_mm is None or flat.transition_mm == 0.0:
        return 0.0
    inwards = 0.5 * max(abs(flat.width_mm - diameter_mm), abs(diameter_mm - flat.thickness_mm))
    square = 1.0 - 4.0 * flat.fillet_mm * inwards / flat.transition_mm**2
    return 0.5 * (1.0 - float(np.sqrt(max(square, 0.0))))


def outer_mounts(bar: Bar) -> tuple[Array, Array]:
    """Middles (3,) of the two outermost mounts, the right one first, in drawing axes: the ends of the mount axis."""
    stations = sorted(mount.station_mm for mount in bar.mounts)
    points, _ = bar.centreline.evaluate([stations[0], stations[-1]])
    return points[0], points[1]


def end_straight_mm(bar: Bar, end: End) -> float:
    """Length of the straight at that tip, up to the first bend; zero where a bend begins at the tip."""
    segments = bar.centreline.segments
    first = segments[0] if end.side == "right" else segments[-1]
    return first.length_mm if first.radius_mm is None else 0.0


def strength_scale(bar: Bar, stations_mm: ArrayLike) -> Array:
    """Factor (n,) on the steel's strength at stations (n,).

    An end's strength_scale holds over its flat, transition included; on a round end, over its straight up to the
    first bend (half the bar if it has none). One elsewhere.
    """
    stations = np.atleast_1d(np.asarray(stations_mm, float))
    out = np.ones(stations.shape)
    for end in bar.ends:
        from_tip = stations if end.side == "right" else bar.centreline.length_mm - stations
        out[from_tip <= softened_length_mm(bar, end)] = end.strength_scale
    return out


def softened_length_mm(bar: Bar, end: End) -> float:
    """Length from the tip over which an end's strength_scale holds."""
    return end.flat.length_mm if end.flat is not None else min(end_straight_mm(bar, end), bar.middle_mm)


def volume_mm3(bar: Bar) -> float:
    """Volume of the bar, holes of known diameter taken out.

    Exact for the body (an arc's volume is area times developed length, by Pappus; bending a tube moves wall, it
    makes none), the flats, and transitions as blended: L/3 (A1 + sqrt(A1 A2) + A2).
    """
    body = body_properties(bar).area_mm2
    volume = body * bar.centreline.length_mm
    for end in bar.ends:
        if end.flat is not None:
            flat = flat_properties(end.flat, nu=bar.steel.nu).area_mm2
            volume += (flat - body) * (end.flat.length_mm - end.flat.transition_mm)
            volume += end.flat.transition_mm * ((flat + np.sqrt(flat * body) + body) / 3.0 - body)
        # One bore may serve two holes of the file (another offset, say): the widest at each place is drilled once.
        drilled: dict[float, float] = {}
        for hole in end.holes:
            drilled[hole.from_tip_mm] = max(hole.diameter_mm or 0.0, drilled.get(hole.from_tip_mm, 0.0))
        volume -= sum(_hole_volume_mm3(bar, end, place, diameter) for place, diameter in drilled.items())
    return float(volume)


def mass_kg(bar: Bar) -> float:
    """Mass, from the exact volume and the steel's density."""
    return volume_mm3(bar) * 1e-9 * bar.steel.density_kg_per_m3


def _hole_volume_mm3(bar: Bar, end: End, from_tip_mm: float, diameter_mm: float) -> float:
    """Metal that a drilled hole takes out; a hole whose diameter is not given takes none.

    Quadrature over the hole's disc: x along the bar (beyond the cut end there is no metal), y across it.
    """
    radius = 0.5 * diameter_mm
    nodes, weights = _gauss_48()
    half_x = radius * np.cos(0.5 * np.pi * nodes)  # half width of the disc along the bar where y = radius sin(...)
    y = radius * np.sin(0.5 * np.pi * nodes)
    along = half_x + np.minimum(half_x, from_tip_mm)
    depth = _depth_mm(bar, end, from_tip_mm, y)
    return float(np.sum(weights * along * depth * 0.5 * np.pi * half_x))


@lru_cache(maxsize=1)
def _gauss_48() -> tuple[Array, Array]:
    """Nodes and weights on (-1, 1): dear to make, and every hole needs them."""
    return np.polynomial.legendre.leggauss(48)


def _depth_mm(bar: Bar, end: End, from_tip_mm: float, y_mm: Array) -> Array:
    """Metal that a hole at `from_tip_mm` goes through, at distances `y_mm` beside the axis."""
    outer, bore = 0.5 * bar.section.diameter_mm, 0.5 * bar.section.bore_mm
    body = 2.0 * (np.sqrt(np.maximum(outer**2 - y_mm**2, 0.0)) - np.sqrt(np.maximum(bore**2 - y_mm**2, 0.0)))
    if end.flat is None:
        return body
    fraction = transition_fraction(end.flat, np.array([from_tip_mm]))[0]
    return (1.0 - fraction) * end.flat.thickness_mm + fraction * body
