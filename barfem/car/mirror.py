"""Whether a bar is its own mirror image, so that an unequal hole pair is that of the exchanged holes, mirrored."""

from __future__ import annotations

import numpy as np

from barfem.model.bar import Bar

__all__ = ["is_mirrored"]

SAME_MM = 1e-6


def is_mirrored(bar: Bar) -> bool:
    """True where centreline, ends, mounts and links are alike on both sides."""
    length = bar.centreline.length_mm
    stations = np.linspace(0.0, length, 41)
    points, _ = bar.centreline.evaluate(stations)
    if not np.allclose(points, points[::-1] * [1, -1, 1], atol=SAME_MM, rtol=0.0):
        return False
    left, right = bar.left, bar.right
    if len(left.holes) != len(right.holes) or left.strength_scale != right.strength_scale:
        return False
    for one, two in zip(left.holes, right.holes, strict=True):
        if one.name != two.name or one.diameter_mm != two.diameter_mm:
            return False
        if not np.allclose([one.from_tip_mm, *one.offset_mm], [two.from_tip_mm, *_across(two.offset_mm)], atol=SAME_MM):
            return False
    if (left.flat is None) != (right.flat is None):
        return False
    if left.flat is not None and right.flat is not None:
        sizes = ("kind", "thickness_mm", "width_mm", "length_mm", "transition_mm", "outline", "fillet_mm")
        if any(getattr(left.flat, key) != getattr(right.flat, key) for key in sizes):
            return False
        if abs(abs(float(np.dot(left.flat.normal, _across(right.flat.normal)))) - 1.0) > 1e-9:
            return False
    for key in ("direction", "pickup_mm"):
        one, two = getattr(bar.left_link, key), getattr(bar.right_link, key)
        if (one is None) != (two is None) or (one is not None and not np.allclose(one, _across(two), atol=SAME_MM)):
            return False
    for key in ("length_mm", "axial_stiffness_N_per_mm", "length_error_mm"):
        if getattr(bar.left_link, key) != getattr(bar.right_link, key):
            return False
    mounts = sorted(bar.mounts, key=lambda mount: mount.station_mm)
    return all(
        abs(one.station_mm + two.station_mm - length) < SAME_MM
        and all(
            getattr(one, key) == getattr(two, key)
            for key in (
                "radial_total_N_per_mm",
                "axial_stiffness_N_per_mm",
                "torsional_stiffness_Nmm_per_rad",
                "conical_stiffness_Nmm_per_rad",
                "length_mm",
            )
        )
        for one, two in zip(mounts, reversed(mounts), strict=True)
    )


def _across(vector: tuple[float, float, float]) -> tuple[float, float, float]:
    x, y, z = vector
    return x, -y, z
