"""A symmetric bar straight from drawing dimensions: [arms] to the points of a polyline."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import InputError
from barfem.model.frozen import frozen

__all__ = ["Crank", "arm_points"]


@frozen
class Crank:
    """Offset (x, z) in mm of the middle where |y| < `inner_mm`; it ramps to nothing at |y| = `outer_mm`."""

    x_mm: float
    z_mm: float
    inner_mm: float
    outer_mm: float


def arm_points(
    *,
    width_mm: float,
    length_mm: float,
    splay_deg: float = 0.0,
    rise_mm: float = 0.0,
    crank: Crank | None = None,
) -> NDArray[np.float64]:
    """Corner points (n, 3) of a symmetric bar, right tip first, in drawing axes.

    The middle axis is the line x = 0, z = 0 along y: the axis of the bar's straights beside the arms, where its mounts
    usually sit. A crank moves the middle off it.

    Parameters
    ----------
    width_mm
        y from cut end to cut end.
    length_mm
        x from the middle axis to the cut ends, positive rearward: the tips lie at x = -length.
    splay_deg
        Angle in plan between the arm and the x axis, tips outward positive.
    rise_mm
        z of the tips above the middle axis.

    Raises
    ------
    InputError
        Sizes with which no such bar exists.
    """
    if width_mm <= 0 or length_mm == 0 or not -85.0 <= splay_deg <= 85.0:
        name, value = (
            ("width", width_mm) if width_mm <= 0 else ("length", length_mm) if length_mm == 0 else ("splay", splay_deg)
        )
        raise InputError(
            f"{name} = {value:g} makes no arms.",
            expected="width above 0, length not 0 (positive rearward, negative forward), splay within ±85 deg.",
        )
    half = 0.5 * width_mm
    corner = half - abs(length_mm) * np.tan(np.radians(splay_deg))
    if corner <= 0.0:
        limit = np.degrees(np.arctan(half / abs(length_mm)))
        raise InputError(
            f"splay = {splay_deg:g} deg over an arm of {abs(length_mm):g} mm in x puts the arms' corners at "
            f"|y| = {corner:.4g} mm: the arms cross.",
            expected=f"splay below {limit:.3g} deg for this width and length.",
        )
    right = [[-length_mm, -half, rise_mm], [0.0, -corner, 0.0]]
    if crank is not None and (crank.x_mm != 0.0 or crank.z_mm != 0.0):
        if not 0.0 <= crank.inner_mm < crank.outer_mm < corner:
            raise InputError(
                f"crank inner = {crank.inner_mm:g} and outer = {crank.outer_mm:g} do not fit: the arms begin at "
                f"|y| = {corner:.5g} mm.",
                expected=f"0 <= inner < outer < {corner:.5g}.",
            )
        right += [[0.0, -crank.outer_mm, 0.0], [crank.x_mm, -crank.inner_mm, crank.z_mm]]
    points = np.array(right)
    left = points[::-1] * np.array([1.0, -1.0, 1.0])
    if points[-1, 1] == 0.0:  # the two ramps meet in the middle
        left = left[1:]
    return np.concatenate([points, left])
