"""The table of a transition: stress at the places where it may be greatest, per unit resultant, dimensionless.

Eight stations, three beside either end of the transition and two amid it, and the first quarter of the points round
the section: the others are mirror images. Each column is over a nominal stress of the flat (the first four stations) or
of the body.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from barfem.solve.solid.transition import Fineness

__all__ = ["POINTS", "SHAPE", "STATIONS", "nominal", "places_along", "table", "whole_section"]

Array = NDArray[np.float64]

POINTS = 72
"""Points round the section of which the table holds a quarter."""
STATIONS = 8
SHAPE = (STATIONS, POINTS // 4 + 1, 3, 6)

_SIGMA_ODD = np.array([[0, 1, 0, 1, 0, 1], [0, 0, 1, 1, 1, 0]], dtype=bool)  # in y_1, in y_2: N, V_1, V_2, T, M_1, M_2


def places_along(fillet_share: float) -> Array:
    """Stations (8,) over the transition's length, from the flat; `fillet_share` is 0.5 for a half cosine.

    Amid a fillet, at its inner end and beyond it, and no further than half a cosine needs to turn; two amid the
    transition. Of the greatest stress in it these, with the sections' own (see `stress_maps`), miss 1.5 per cent, in
    400 mixtures of loads on each of fourteen transitions.
    """
    a = fillet_share
    first = np.array([min(0.42 * a, 0.033), min(0.85 * a, 0.07), min(1.5 * a, 0.14), 0.28])
    return np.concatenate([first, 1.0 - first[::-1]])


def nominal(width: float, thickness: float) -> Array:
    """What the columns are over, (8, 6): beam stress of the flat and of the body, sizes over its diameter."""
    area, broad = width * thickness, width * thickness**2 / 6.0
    flat = [1.0 / area, 1.0 / area, 1.0 / area, 0.5 / broad, 6.0 / (thickness * width**2), 1.0 / broad]
    round_ = np.array([4.0, 4.0, 4.0, 16.0, 32.0, 32.0]) / np.pi
    return np.repeat([flat, round_], STATIONS // 2, axis=0)


def table(
    width: float, thickness: float, length: float, fillet: float, *, nu: float, mesh: Fineness | None = None
) -> Array:
    """Solve a transition; its table, of shape `SHAPE`. Sizes over the body's diameter, `fillet` as in `Transition`."""
    from scipy.interpolate import CubicSpline

    from barfem.model.bar_geometry import fillet_share
    from barfem.solve.solid.transition import COSINE, Fineness, Transition, quarter_angles

    piece = Transition(width, thickness, length, fillet, nu, mesh or Fineness())
    found = piece.surface(quarter_angles(POINTS))
    near = (found.stations > -0.3) & (found.stations < length + 0.3)
    share = 0.5 if fillet == COSINE else fillet_share(piece.flat, diameter_mm=1.0)
    at = places_along(share) * length
    stress = CubicSpline(found.stations[near], found.values[near], axis=0)(at)
    return np.asarray(stress / nominal(width, thickness)[:, None, None])


def whole_section(quarter: Array) -> Array:
    """All `POINTS` of tables (..., points of a quarter, 3, 6), evenly from axis 1, by symmetry."""
    index = np.arange(POINTS)
    quarters = POINTS // 4
    folded = np.where(index <= 2 * quarters, index, POINTS - index)
    folded = np.where(folded <= quarters, folded, 2 * quarters - folded)
    angle = 2.0 * np.pi * index / POINTS
    mirrored = np.stack([np.cos(angle) < -1e-9, np.sin(angle) < -1e-9])  # y_1 < 0, y_2 < 0
    sign = np.ones((POINTS, 3, 6))
    for turned, odd in zip(mirrored, _SIGMA_ODD, strict=True):
        image = np.where(odd, -1.0, 1.0) * np.array([1.0, 1.0, -1.0])[:, None]
        sign = np.where(turned[:, None, None], sign * image, sign)
    # On an axis of symmetry what is odd about it is nothing; read from one cell beside it, it is nearly so.
    on_axis = np.stack([index % (2 * quarters) == quarters, index % (2 * quarters) == 0])
    for on, odd in zip(on_axis, _SIGMA_ODD, strict=True):
        none = odd ^ np.array([False, False, True])[:, None]
        sign[on] = np.where(none, 0.0, sign[on])
    return np.asarray(quarter[..., folded, :, :] * sign)
