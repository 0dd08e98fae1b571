"""The cycles of one place along a row of travels, and their damage."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.strength.duty.damage_result import PlaceCycles
from barfem.strength.duty.interpolate import TravelResponse, Weights
from barfem.strength.duty.miner import DamageLines, damage_per_cycle, equivalent_amplitude
from barfem.strength.duty.rainflow import Residue, count_cycles
from barfem.strength.duty.reversals import filtered_turning_points
from barfem.strength.duty.von_mises import amplitude_and_mean, signed_von_mises

__all__ = ["cycles_at", "damage_of"]

Array = NDArray[np.float64]


def cycles_at(
    response: TravelResponse,
    place: int,
    reference: Array,
    *,
    left_mm: Array,
    right_mm: Array,
    residue: Residue = "half",
    weights: Weights | None = None,
) -> PlaceCycles:
    """The cycles at one place along a row of travels (points,); `reference` (3,) is its tensor at full travel.

    `weights` are `TravelResponse.weights` of the travels, where they are known.
    """
    signed_parts, tensor_parts = [], []
    for _, stress in response.at(np.array([place])).pieces(left_mm, right_mm, weights=weights):
        tensor = stress[:, 0]
        signed = signed_von_mises(tensor, reference)
        # Of each piece its turning points and ends are all that counting can use: it keeps a long history small.
        turning = filtered_turning_points(signed)
        signed_parts.append(signed[turning])
        tensor_parts.append(tensor[turning])
    tensors = np.concatenate(tensor_parts)
    cycles = count_cycles(np.concatenate(signed_parts), residue=residue)
    amplitude, mean = amplitude_and_mean(tensors[cycles.first], tensors[cycles.second])
    return PlaceCycles(amplitude, mean, cycles.count)


def damage_of(cycles: PlaceCycles, line: DamageLines, factors: tuple[float, ...]) -> Array:
    """(survivals + 1,): damage with each share of the strength, infinite where a mean reaches it; largest equivalent.

    `line` is that of the one place.
    """
    out = np.zeros(len(factors) + 1)
    if cycles.count.size == 0:
        return out
    load: dict[str, Any] = {"amplitude_MPa": cycles.amplitude_MPa, "mean_MPa": cycles.mean_MPa}
    out[-1] = equivalent_amplitude(line, **load).max()
    for i, factor in enumerate(factors):
        above = out[-1] / factor > line.limit_MPa
        weaker = equivalent_amplitude(line, **load, strength_share=factor)
        out[i] = cycles.count @ damage_per_cycle(line, weaker, ever_above_limit=above)
    return out
