"""The field of bends that see each other: one solid of them all and of the straights between, as a table.

As a bend's own table it holds stress per unit local resultant: the group carries nothing between its ends, so the
six resultants at any of its sections are those at every other, carried there by equilibrium.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.table import (
    END_FOR_END,
    ORDER,
    REACH_DIAMETERS,
    STUB_OFFSETS,
    half_stations,
    harmonics,
    lagrange_weights,
    nominal_stress,
    to_bend,
)

__all__ = ["GroupBend", "GroupShape", "GroupTable", "table_stations"]

Array = NDArray[np.float64]

# Mirrored in the plane of the first bend: angle to minus angle, N, V_a, M_b even, V_b, T, M_a odd, shear odd.
MIRROR = np.outer([1.0, 1.0, -1.0], [1.0, 1.0, -1.0, -1.0, -1.0, 1.0])
# Seen from the other end: station to the rest of the length, angle to minus angle, shear even.
REVERSE = np.outer([1.0, 1.0, 1.0], END_FOR_END)


@dataclass(frozen=True, order=True)
class GroupBend:
    """A bend of a group: lengths in diameters, walls zero where even; `inward_deg` from a first axis towards b."""

    radius: float
    angle_deg: float
    inward_deg: float
    wall_outside: float = 0.0
    wall_inside: float = 0.0


@frozen
class GroupShape:
    """What a group's table depends on, without dimension: its bends in order and the straights `gaps` between them."""

    bends: tuple[GroupBend, ...]
    gaps: tuple[float, ...]
    wall_over_diameter: float | None
    ovality: float = 0.0
    nu: float = 0.3

    @property
    def length(self) -> float:
        """From the first tangent to the last, diameters."""
        return sum(self.gaps) + sum(bend.radius * float(np.radians(bend.angle_deg)) for bend in self.bends)

    @property
    def turned(self) -> GroupShape:
        """With its first bend's centre towards the first axis."""
        first = self.bends[0].inward_deg
        return replace(self, bends=tuple(replace(b, inward_deg=_half_turn(b.inward_deg - first)) for b in self.bends))

    @property
    def mirrored(self) -> GroupShape:
        return replace(self, bends=tuple(replace(b, inward_deg=_half_turn(-b.inward_deg)) for b in self.bends))

    @property
    def reversed(self) -> GroupShape:
        """The same from its other end: there the frame is (-t, a, -b)."""
        bends = tuple(replace(b, inward_deg=_half_turn(-b.inward_deg)) for b in self.bends[::-1])
        return replace(self, bends=bends, gaps=self.gaps[::-1])

    @property
    def tangents(self) -> Array:
        """Stations (2 n_bends,) of the tangents, diameters."""
        lengths = []
        for bend, gap in zip(self.bends, (*self.gaps, 0.0), strict=True):
            lengths += [bend.radius * float(np.radians(bend.angle_deg)), gap]
        return np.concatenate([[0.0], np.cumsum(lengths[:-1])])

    @property
    def variants(self) -> tuple[tuple[GroupShape, bool, bool], ...]:
        """The group, its mirror image, and both from the other end; and whether reversed, mirrored."""
        found = []
        for backwards in (False, True):
            seen = (self.reversed if backwards else self).turned
            found += [(seen, backwards, False), (seen.mirrored, backwards, True)]
        return tuple(found)

    @property
    def canonical(self) -> tuple[GroupShape, bool, bool]:
        """The one of `variants` that stands for all."""
        return min(self.variants, key=lambda one: (one[0].bends, one[0].gaps))


def _half_turn(degrees: float) -> float:
    """In (-180, 180], to what drawings agree to."""
    turned = round((degrees + 180.0) % 360.0 - 180.0, 6)
    return 180.0 if turned == -180.0 else turned + 0.0


def table_stations(shape: GroupShape) -> Array:
    """Stations (S,) of a group's table, from its first tangent, in diameters."""
    stub = np.array(STUB_OFFSETS)
    out, at = [-stub[::-1]], 0.0
    for bend, gap in zip(shape.bends, (*shape.gaps, None), strict=True):
        length = bend.radius * float(np.radians(bend.angle_deg))
        half = half_stations(length)[len(STUB_OFFSETS) :]
        out.append(at + np.concatenate([half, length - half[-2::-1]]))
        at += length
        if gap is not None:
            beside = stub[stub < 0.45 * gap]
            amid = (
                np.linspace(beside[-1], gap - beside[-1], 2 + int((gap - 2.0 * beside[-1]) / 0.35))[1:-1]
                if len(beside)
                else np.zeros(0)
            )
            out.append(at + np.concatenate([beside, amid, gap - beside[::-1]]))
            at += gap
    out.append(at + stub)
    stations = np.concatenate(out)
    return stations[np.concatenate([[True], np.diff(stations) > 1e-6])]


@frozen(eq=False)
class GroupTable:
    """Stress and stiffness of a group, ready for any diameter.

    Attributes
    ----------
    shape
        As solved (see `GroupShape.canonical`).
    stations : (S,)
        From the first tangent, in diameters.
    outside, bore : (S, 2 ORDER + 1, 3, 6)
        Coefficients (1, cosines, sines) at `stations` of stress along, round and in shear per unit local
        resultant over `nominal_stress`, angles from the first bend's inside. Bore None for a solid bar.
    factors : (n_bends, 3)
        Flexibility of the bends of `shape` over the beam's, in the order of `FACTORS`; what straights between bends
        yield beyond the beam's is counted to the nearer bend.
    reversed_, mirrored
        How the bar's group stands to `shape`.
    """

    shape: GroupShape
    stations: Array
    outside: Array
    bore: Array | None
    factors: Array
    reversed_: bool = False
    mirrored: bool = False

    @property
    def bend_factors(self) -> Array:
        """`factors` in the order of the bar's bends."""
        return self.factors[::-1] if self.reversed_ else self.factors

    def maps(
        self,
        stations: Array,
        angles: Array,
        diameter: float,
        *,
        surface: Literal["outside", "bore"] = "outside",
        inward_angle_rad: float = 0.0,
    ) -> Array:
        """Stress per unit local resultant (n_stations, n_points, 3, 6), as `BendTable.maps`; mm, N, N·mm, MPa.

        `stations` from the first tangent as the bar runs. `inward_angle_rad` of the bend that `shape` begins with: the
        first one, the last one where `reversed_`.
        """
        series = self.outside if surface == "outside" else self.bore
        if series is None:
            raise ValueError("a solid bar has no bore")
        x, length = np.asarray(stations, float) / diameter, self.shape.length
        if np.any(np.abs(x - 0.5 * length) > 0.5 * length + REACH_DIAMETERS + 1e-6):
            raise ValueError(
                f"stations must lie within the group and {REACH_DIAMETERS:g} diameters beyond its tangents"
            )
        theta = np.asarray(angles, float) - inward_angle_rad
        sign = np.ones((3, 6))
        if self.reversed_:
            x, theta, sign = length - x, -theta, sign * REVERSE
        if self.mirrored:
            theta, sign = -theta, sign * MIRROR
        weights = lagrange_weights(self.stations, x)
        scale = nominal_stress(self.shape.wall_over_diameter) / diameter**2 * np.repeat([1.0, 1.0 / diameter], 3)
        local = (np.tensordot(weights, series, axes=1) * (scale * sign)) @ to_bend(inward_angle_rad)
        shapes = harmonics(theta, ORDER)
        return (shapes @ local.reshape(len(x), 2 * ORDER + 1, 18)).reshape(len(x), len(shapes), 3, 6)
