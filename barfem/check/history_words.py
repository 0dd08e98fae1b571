"""What a history's damage assumes, and what to be wary of."""

from __future__ import annotations

import numpy as np

from barfem.check.endurance import mean_stress_of
from barfem.model.bar import Bar
from barfem.strength.duty.damage import DEFAULT_HYSTERESIS_SHARE
from barfem.strength.duty.damage_result import HistoryDamage
from barfem.strength.duty.history import History
from barfem.strength.duty.miner import CRITICAL_SUM_SOURCE
from barfem.strength.duty.rainflow import Residue
from barfem.strength.duty.worst_places import NO_WORSE
from barfem.strength.fatigue.criteria import CRITERIA as MEAN_STRESS
from barfem.strength.fatigue.factors import scatter_words

__all__ = ["assumptions_of", "warnings_of"]

# Above these the result says that it is not to be trusted as it stands.
OUT_OF_LINE, INTERPOLATION = 0.2, 0.02
NOTHING_MPA = 1.0  # stress of a bar that only turns along: rounding, whatever share of it
LEAST_SPAN = 0.04  # of the bar file's travel up and down; an inch for a mm is 0.039


def assumptions_of(bar: Bar, found: HistoryDamage, *, hysteresis_given: bool, residue: Residue) -> tuple[str, ...]:
    """How the history was counted, with sources."""
    width = found.turning_points.hysteresis_mm
    stated = (
        "stated" if hysteresis_given else f"default, {100.0 * DEFAULT_HYSTERESIS_SHARE:.1f} % of the history's span"
    )
    counted = "one history, its residue as half cycles" if residue == "half" else "one of many repeats"
    summed = "the bar file" if bar.targets.critical_sum is not None else f"default; {CRITICAL_SUM_SOURCE}"
    error = max(found.interpolation_share, 0.001)
    return (
        "Travel of each pickup from rest, up positive. Stress at every point is a polynomial through the solved "
        f"travels, with an estimated error of {error:.2g} of the peak at most.",
        f"Travel ranges below {width:.3g} mm are taken for noise ({stated}); rainflow by ASTM E1049, {counted}. The "
        "governing place is counted on every sample.",
        "Sign of the stress: that of the inner product with the tensor at full travel; amplitude and mean of a cycle "
        f"from the tensors of its two ends; mean stress by {MEAN_STRESS[mean_stress_of(bar).method].title}.",
        f"Damage by Miner's rule to a sum of {found.critical_sum:g} ({summed}); cycles below the endurance limit do "
        "harm once others lie above it (exponent 2 k - 1, Haibach).",
        f"Scatter: {scatter_words(bar.steel.scatter)}.",
    )


def warnings_of(bar: Bar, history: History, found: HistoryDamage) -> tuple[str, ...]:
    """Why the damage may not be trusted as it stands."""
    warnings = list(history.warnings)
    travel = bar.travel
    beyond = [
        f"{side} {values.min():.4g} to {values.max():.4g} mm"
        for side, values in (("left", history.left_mm), ("right", history.right_mm))
        if values.max() > travel.up_mm * (1.0 + 1e-6) or values.min() < -travel.down_mm * (1.0 + 1e-6)
    ]
    if beyond:
        warnings.append(
            f"the travel ({', '.join(beyond)}) goes beyond the maximum articulation of the bar file "
            f"({-travel.down_mm:g} to {travel.up_mm:g} mm). The bar was solved as far, and its stress there counts; "
            "but barfem check judges yield, loads and links to the file's travel alone"
        )
    spans = max(float(np.ptp(values)) for values in (history.left_mm, history.right_mm))
    if spans < LEAST_SPAN * (travel.up_mm + travel.down_mm):
        warnings.append(
            f"the travel spans {spans:.3g} mm, and the bar file's {travel.up_mm + travel.down_mm:g} mm: metres or "
            "inches written as mm?"
        )
    if found.out_of_line_share > OUT_OF_LINE:
        warnings.append(
            f"at the governing place {100.0 * found.out_of_line_share:.0f} % of the stress does not follow the tensor "
            "at full travel: cycles may be paired wrongly; see barfem check --critical-plane as well"
        )
    if found.discarded_share > NO_WORSE:
        warnings.append(
            f"places that were not counted may have up to {found.discarded_share:.3g} times the governing damage, and "
            "so as much less life: too many respond differently"
        )
    if found.interpolation_share > INTERPOLATION and found.largest_equivalent_MPa.max() > NOTHING_MPA:
        warnings.append(
            f"the interpolated stress may be off by {100.0 * found.interpolation_share:.1f} %: the travel is far from "
            "what a quartic holds"
        )
    return tuple(warnings)
