"""Goodman's safety factor against the endurance limit: how far amplitude and load mean may grow together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.strength.fatigue.cycle_load import Load
from barfem.strength.fatigue.sites import reversed_limit

__all__ = ["NO_LIMIT", "endurance_limit_of", "goodman_factor", "goodman_use"]

Array = NDArray[np.float64]

NO_LIMIT = 1e9
"""`goodman_use` of what is loaded and has no endurance limit."""


def endurance_limit_of(load: Load, *, within: float = 1e-13) -> Array:
    """Reversed amplitude [MPa] that lasts a million cycles, what peening earns included; zero where pits grow.

    `within` is what it may be off, as a share.
    """
    strength = load.strength
    found = reversed_limit(
        strength.sites,
        residual_MPa=load.unrelaxed,
        tensile_MPa=load.tensile,
        yield_MPa=load.yield_,
        cyclic_yield_MPa=load.cyclic,
        within=within,
    )
    return np.where(strength.has_knee, found, 0.0)


def goodman_factor(limit: Array, load: Load, tension: Array) -> Array:
    """Load factor n at which n sigma_a / S + max(0, n sigma_m + tension) / Sut = 1; NaN without a limit or load.

    Without residual stress this is Goodman's 1 / (sigma_a / S + sigma_m / Sut), Shigley Eq. 6-46.
    """
    usable = limit > 0.0
    amplitude_share = load.amplitude / np.where(usable, limit, 1.0)
    both = amplitude_share + np.maximum(load.mean, 0.0) / load.tensile
    usable = usable & (both > 0.0)
    with_mean = np.maximum(1.0 - tension / load.tensile, 0.0) / np.where(both > 0.0, both, 1.0)
    return np.where(usable, with_mean, np.nan)


def goodman_use(limit: Array, load: Load) -> Array:
    """One over the factor, at most `NO_LIMIT`: the greater the worse; zero without load."""
    factor = goodman_factor(limit, load, np.maximum(load.residual(), 0.0))
    loaded = (load.amplitude > 0.0) | (load.mean > 0.0)
    return np.where(loaded, 1.0 / np.maximum(np.nan_to_num(factor), 1.0 / NO_LIMIT), 0.0)
