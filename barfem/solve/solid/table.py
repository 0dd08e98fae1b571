"""A bend's stress per unit local resultant as a small table: what the shipped grid holds and what is interpolated.

A `BendField` is sampled at stations that stand alike in every bend, as Fourier series round the section, over the
straight section's nominal stress, so that tables of neighbouring bends differ little. Two symmetries halve it twice:
in the bend's plane each series has cosines or sines alone, and a bend turned end for end is itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

if TYPE_CHECKING:
    from barfem.solve.solid.fields import BendField

__all__ = [
    "FACTORS",
    "ORDER",
    "REACH_DIAMETERS",
    "BendTable",
    "decay_length",
    "half_stations",
    "harmonics",
    "lagrange_weights",
    "nominal_stress",
    "tabulate",
    "to_bend",
]

Array = NDArray[np.float64]

ORDER = 8
"""Harmonics kept; what the fields have beyond them is below 0.05 % of the greatest stress."""

FACTORS = ("in_plane", "out_of_plane", "torsion")

STUB_OFFSETS = (0.06, 0.13, 0.2, 0.28, 0.38, 0.5, 0.7, 0.95, 1.25)
REACH_DIAMETERS = STUB_OFFSETS[-1]
BEND_STATIONS = 15  # from a tangent to the middle, closer at the tangent
# Near a tangent stations stand at the same distances in every bend longer than about this: what happens there depends
# on the distance from it, and neighbouring bends are then alike station by station.
ALIKE_DIAMETERS = 0.8

# N, V_a, M_b are even in the bend's plane, V_b, T, M_a odd. Stress along and round the bar is even, shear odd.
EVEN_RESULTANT = np.array([True, True, False, False, False, True])
IS_COSINE = np.array([True, True, False])[:, None] == EVEN_RESULTANT
# Half a turn about the line from the bend's centre to its middle: s to L - s, psi to -psi, and these signs.
END_FOR_END = np.array([1.0, -1.0, 1.0, 1.0, -1.0, 1.0])


def half_stations(length: float) -> Array:
    """Stations of a table (S,) of a stub and half a bend `length` long, from the first tangent; in diameters."""
    u = np.arange(BEND_STATIONS) / (BEND_STATIONS - 1)
    near = 1.0 / (1.0 / ALIKE_DIAMETERS + 2.0 / length)
    return np.concatenate([-np.array(STUB_OFFSETS[::-1]), near * u + (0.5 * length - near) * u**4])


def nominal_stress(wall_over_diameter: float | None) -> Array:
    """Greatest stress (6,) of the straight section of unit diameter for unit N, V_a, V_b, T, M_a, M_b; V / A for V."""
    bore = 0.0 if wall_over_diameter is None else 1.0 - 2.0 * wall_over_diameter
    area, second = np.pi / 4.0 * (1.0 - bore**2), np.pi / 64.0 * (1.0 - bore**4)
    return np.array([1.0 / area, 1.0 / area, 1.0 / area, 0.25 / second, 0.5 / second, 0.5 / second])


def decay_length(wall_over_diameter: float) -> float:
    """Straight, in diameters, along which a tube's ovalising falls to 1 / e.

    Vlasov's semi-membrane shell for two waves round: 4 beta^4 = n^4 (n^2 - 1)^2 t^2 / (12 (1 - nu^2) r^6), n = 2, r to
    the middle of the wall, so 1 / beta = 0.742 r (r / t)^0.5.
    """
    r = 0.5 * (1.0 - wall_over_diameter)
    return float(0.742 * r * np.sqrt(r / wall_over_diameter))


def harmonics(angles: Array, order: int) -> Array:
    """(n, 2 order + 1): one, cosines and sines of angles (n,) up to `order`."""
    phase = angles[:, None] * np.arange(1, order + 1)
    return np.concatenate([np.ones((len(angles), 1)), np.cos(phase), np.sin(phase)], axis=1)


def to_bend(inward_angle_rad: float) -> Array:
    """(6, 6): what of a frame's resultants acts about a bend whose centre lies at that angle, from a towards b."""
    cos, sin = np.cos(inward_angle_rad), np.sin(inward_angle_rad)
    turn = np.eye(6)
    for i in (1, 4):
        turn[i : i + 2, i : i + 2] = [[cos, sin], [-sin, cos]]
    return turn


def lagrange_weights(nodes: Array, x: Array) -> Array:
    """Weights (n, len(nodes)) of cubic Lagrange interpolation at x (n,) among the four nodes round it, ascending.

    Of three nodes, quadratic.
    """
    nodes, x = np.asarray(nodes, float), np.atleast_1d(np.asarray(x, float))
    count = min(4, len(nodes))
    first = np.clip(np.searchsorted(nodes, x) - 2, 0, len(nodes) - count)
    columns = first[:, None] + np.arange(count)
    near = nodes[columns]
    over = x[:, None, None] - near[:, None, :]
    under = near[:, :, None] - near[:, None, :]
    own = np.eye(count, dtype=bool)
    weights = np.prod(np.where(own, 1.0, over) / np.where(own, 1.0, under), axis=-1)
    out = np.zeros((len(x), len(nodes)))
    np.put_along_axis(out, columns, weights, axis=1)
    return out


@frozen(eq=False)
class BendTable:
    """Stress and stiffness of one bend, ready for any diameter.

    Attributes
    ----------
    radius_over_diameter, angle_deg, wall_over_diameter
        Its size; wall None for a solid bar.
    outside, bore : (S, ORDER + 1, 3, 6)
        Fourier coefficients at `half_stations`, cosines or sines by `IS_COSINE`, of stress along, round and in shear
        per unit local resultant over `nominal_stress`. Bore None for a solid bar.
    factors : (3,)
        Flexibility over the beam's, in the order of `FACTORS`.
    """

    radius_over_diameter: float
    angle_deg: float
    wall_over_diameter: float | None
    outside: Array
    bore: Array | None
    factors: Array

    @property
    def length_over_diameter(self) -> float:
        return float(self.radius_over_diameter * np.radians(self.angle_deg))

    def maps(
        self,
        stations: Array,
        angles: Array,
        diameter: float,
        *,
        surface: Literal["outside", "bore"] = "outside",
        inward_angle_rad: float = 0.0,
    ) -> Array:
        """Stress per unit local resultant (n_stations, n_points, 3, 6), as `BendField.maps`; mm, N, N·mm, MPa."""
        half = self.outside if surface == "outside" else self.bore
        if half is None:
            raise ValueError("a solid bar has no bore")
        length = self.length_over_diameter
        x = np.asarray(stations, float) / diameter
        if np.any(np.abs(x - 0.5 * length) > 0.5 * length + REACH_DIAMETERS + 1e-9):
            raise ValueError(f"stations must lie within the bend and {REACH_DIAMETERS:g} diameters beyond its tangents")
        nodes = half_stations(length)
        other = half[-2::-1] * END_FOR_END * np.where(IS_COSINE, 1.0, -1.0)
        weights = lagrange_weights(np.concatenate([nodes, length - nodes[-2::-1]]), x)
        series = np.tensordot(weights, np.concatenate([half, other]), axes=1)  # (n, K, 3, 6)
        scale = nominal_stress(self.wall_over_diameter) / diameter**2 * np.repeat([1.0, 1.0 / diameter], 3)
        turn = to_bend(inward_angle_rad)
        # Few coefficients are turned and not many points: each with its cosines and sines, one of which is zero.
        both = np.stack([series * (scale * IS_COSINE), series * (scale * ~IS_COSINE)], axis=1) @ turn
        phase = (np.asarray(angles, float) - inward_angle_rad)[:, None] * np.arange(ORDER + 1)
        shapes = np.concatenate([np.cos(phase), np.sin(phase)], axis=1)  # (o, 2 K)
        return (shapes @ both.reshape(len(x), 2 * (ORDER + 1), 18)).reshape(len(x), len(phase), 3, 6)


def tabulate(field: BendField) -> BendTable:
    """The table of a computed field; both of its halves are averaged."""
    count = 4 * (ORDER + 3)
    angles = 2.0 * np.pi * np.arange(count) / count
    phase = angles * np.arange(ORDER + 1)[:, None]
    weight = np.full((ORDER + 1, 1), 2.0 / count)
    weight[0] = 1.0 / count
    nodes = half_stations(field.length_over_diameter)
    found: list[Array | None] = []
    surfaces: tuple[Literal["outside", "bore"], ...] = ("outside", "bore")
    for surface in surfaces:
        if surface == "bore" and field.bore is None:
            found.append(None)
            continue
        ends = []
        for x, turned in ((nodes, False), (field.length_over_diameter - nodes, True)):
            maps = field.maps(x, angles, 1.0, surface=surface)
            cosines = np.einsum("ko,socr->skcr", weight * np.cos(phase), maps)
            sines = np.einsum("ko,socr->skcr", weight * np.sin(phase), maps)
            series = np.where(IS_COSINE, cosines, -sines if turned else sines)
            ends.append(series * (END_FOR_END if turned else 1.0))
        found.append(0.5 * (ends[0] + ends[1]) / nominal_stress(field.wall_over_diameter))
    outside = found[0]
    if outside is None:
        raise ValueError("a field has an outside")
    return BendTable(
        radius_over_diameter=field.radius_over_diameter,
        angle_deg=field.angle_deg,
        wall_over_diameter=field.wall_over_diameter,
        outside=outside,
        bore=found[1],
        factors=np.array([field.factors[name] for name in FACTORS]),
    )
