"""Made-up histories, responses and strengths for the tests of duty."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from barfem.strength.duty.history import History, history_of
from barfem.strength.duty.interpolate import TravelResponse, travel_nodes
from barfem.strength.duty.miner import DamageLines, damage_lines
from barfem.strength.fatigue.basquin import sound_sites
from barfem.strength.fatigue.strength import FatigueStrength


def noise(samples: int, seed: int, *, width: int = 9) -> np.ndarray:
    """Smoothed noise of unit standard deviation."""
    rng = np.random.default_rng(seed)
    signal = np.convolve(rng.normal(size=samples + width - 1), np.hanning(width + 2)[1:-1], "valid")
    return signal / signal.std()


def history_from_arrays(*, time_s: ArrayLike, left_mm: ArrayLike, right_mm: ArrayLike) -> History:
    """A history as a file would give it."""
    time, left, right = (np.array(values, float) for values in (time_s, left_mm, right_mm))
    return history_of(time, left, right, "history", None)


def history(samples: int = 4_000, *, roll_mm: float = 10.0, heave_mm: float = 5.0, seed: int = 1) -> History:
    roll, heave = roll_mm * noise(samples, seed), heave_mm * noise(samples, seed + 1000)
    return history_from_arrays(time_s=0.002 * np.arange(samples), left_mm=heave + roll, right_mm=heave - roll)


def linear_response(given: History, slope: np.ndarray) -> TravelResponse:
    """Stress = slope (places, 3, 2) . (left, right), known at the corners of the history's box and between."""
    left, right = travel_nodes(given.left_mm, count=3), travel_nodes(given.right_mm, count=3)
    stress = slope[None, None, :, :, 0] * left[:, None, None, None] + slope[None, None, :, :, 1] * right[:, None, None]
    return TravelResponse(left, right, stress)


def roll_response(given: History, along: np.ndarray, shear: np.ndarray) -> TravelResponse:
    """Stress in proportion to roll, (left - right) / 2: `along` and `shear` (places,) in MPa/mm."""
    slope = np.zeros((len(along), 3, 2))
    slope[:, 0, :] = 0.5 * np.asarray(along)[:, None] * [1.0, -1.0]
    slope[:, 2, :] = 0.5 * np.asarray(shear)[:, None] * [1.0, -1.0]
    return linear_response(given, slope)


def strength(
    places: int = 1, *, tensile: float = 1450.0, at_1e3: float = 1116.0, at_1e6: float = 300.0, knee: bool = True
) -> FatigueStrength:
    one = np.ones(places)
    return FatigueStrength(
        tensile_MPa=tensile * one,
        at_1_cycle_MPa=tensile * one,
        at_1e3_cycles_MPa=at_1e3 * one,
        at_1e6_cycles_MPa=at_1e6 * one,
        has_knee=np.full(places, knee),
        torsion_share=0.5 * one,
        sites=sound_sites(at_1e3_MPa=at_1e3 * one, at_1e6_MPa=at_1e6 * one),
    )


def lines(places: int = 1, *, peak: np.ndarray | float = 0.0, **options: object) -> DamageLines:
    """Lines of `strength`; options of both."""
    of_strength = {key: options.pop(key) for key in ("at_1e3", "at_1e6", "knee") if key in options}
    return damage_lines(
        strength(places, **of_strength),  # type: ignore[arg-type]
        tensile_MPa=1450.0,
        yield_MPa=1300.0,
        peak_MPa=peak,
        **options,  # type: ignore[arg-type]
    )
