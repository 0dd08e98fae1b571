"""Damage of cycles and blocks by the Palmgren-Miner rule.

Defaults, with their sources:

- Critical sum 0.5. In a broad survey of variable-amplitude tests about 90 % of the real damage sums lay below Miner's 1
  (Sonsino, Int. J. Fatigue 29 (2007) 1080); 0.5 is what is recommended there for a constant mean (from memory, fairly
  sure; 0.2 where the mean wanders). Miner's own tests: 0.61 to 1.45.
- Cycles below the endurance limit do harm once others lie above it: the line goes on with exponent 2 k - 1 (Haibach
  1970, the "modified" Miner rule). "original" lets them do none, "elementary" lets the line go on at k.
- Where no cycle lies above the strength at 1e7 cycles, where all claims end (without a knee: at 1e9), nothing is
  claimed: `runout`.
- Mean and residual stress count as for a single cycle (`fatigue.sites`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.material import Scatter
from barfem.strength.fatigue.assess import GOODMAN, LifeStatus
from barfem.strength.fatigue.factors import strength_share
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import Relaxation, cyclic_yield_estimate, surviving_tension
from barfem.strength.fatigue.sites import ROUNDING, Sites, harm
from barfem.strength.fatigue.sn_line import DECLINE_EXPONENT
from barfem.strength.fatigue.strength import FatigueStrength

__all__ = [
    "CRITICAL_SUM",
    "CRITICAL_SUM_SOURCE",
    "SURVIVALS",
    "BelowLimit",
    "DamageLines",
    "checked_critical_sum",
    "checked_survivals",
    "damage_lines",
    "damage_per_cycle",
    "equivalent_amplitude",
    "runout_words",
    "static_status",
]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]

BelowLimit = Literal["haibach", "original", "elementary"]

CRITICAL_SUM = 0.5
CRITICAL_SUM_SOURCE = (
    "0.5: about 90 % of measured damage sums lie below 1 (Sonsino, Int. J. Fatigue 29 (2007) 1080); the value itself "
    "from memory"
)
SURVIVALS = (0.5, 0.9, 0.99)

_LN_1E3, _LN_1E6 = np.log(1e3), np.log(1e6)
_TINY = 1e-12


@frozen
class DamageLines:
    """The stress-life lines (median) that damage is read from, one a place; arrays (places,), MPa.

    `residual_MPa` is what survives at the surface, `peak_MPa` the greatest von Mises stress of the duty.
    `tensile_MPa` and `yield_MPa` are the local strengths, `scatter` that of the steel (None: the default).
    """

    at_1_MPa: Array
    at_1e3_MPa: Array
    at_1e6_MPa: Array
    has_knee: Bools
    tensile_MPa: Array
    yield_MPa: Array
    residual_MPa: Array
    peak_MPa: Array
    sites: Sites
    below_limit: BelowLimit = "haibach"
    rule: MeanStress = GOODMAN
    scatter: Scatter | None = None

    @property
    def places(self) -> int:
        return self.at_1_MPa.size

    @property
    def limit_MPa(self) -> Array:
        """Amplitude below which a duty runs out: the strength at 1e7 cycles; where pits grow, that at 1e9.

        There the sloping line goes on as far from 1e6 to 1e9 cycles as it came from 1e3.
        """
        declined = self.at_1e6_MPa * 10.0 ** (-1.0 / DECLINE_EXPONENT)
        return np.where(self.has_knee, declined, self.at_1e6_MPa**2 / self.at_1e3_MPa)

    def cycles_shown(self, equivalent_MPa: Array) -> Array:
        """Cycles (..., places) to which reversed amplitudes below `limit_MPa` are shown to last: never fewer than 1e7.

        The slow decline goes on beyond 1e7 cycles as it is before; where pits grow the sloping line, beyond 1e9.
        """
        slope = 3.0 / np.log10(self.at_1e3_MPa / self.at_1e6_MPa)
        last, exponent = np.where(self.has_knee, 1e7, 1e9), np.where(self.has_knee, DECLINE_EXPONENT, slope)
        decades = exponent * np.log10(self.limit_MPa / np.maximum(equivalent_MPa, _TINY))
        return np.asarray(last * 10.0 ** np.clip(decades, 0.0, 250.0))

    def at(self, places: Index) -> DamageLines:
        """The lines of some of the places."""
        arrays = {
            field.name: getattr(self, field.name)[places]
            for field in fields(self)
            if field.name not in ("sites", "below_limit", "rule", "scatter")
        }
        return replace(self, sites=self.sites.at(places), **arrays)


def damage_lines(
    strength: FatigueStrength,
    *,
    tensile_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    peak_MPa: ArrayLike,
    amplitude_MPa: ArrayLike | None = None,
    residual_MPa: ArrayLike = 0.0,
    cyclic_yield_MPa: ArrayLike | None = None,
    below_limit: BelowLimit = "haibach",
    rule: MeanStress = GOODMAN,
) -> DamageLines:
    """Lines for a duty whose greatest von Mises stress is `peak_MPa`; residual stress and peening as far as they last.

    One peak and one amplitude decide once for the whole duty: the residual stress of every cycle is what the greatest
    travel and the greatest swing (`amplitude_MPa`; None: as great as the peak) leave of it, as of a single cycle.

    Raises
    ------
    InputError
        Unknown `below_limit`.
    BarfemError
        A stress or strength that is not a positive finite number (residual: not finite).
    """
    if below_limit not in get_args(BelowLimit):
        raise InputError(f"below_limit {below_limit!r} is not known.", expected=", ".join(get_args(BelowLimit)) + ".")
    shape = np.broadcast_shapes(
        strength.at_1e6_cycles_MPa.shape, *(np.shape(x) for x in (tensile_MPa, yield_MPa, peak_MPa, residual_MPa))
    )
    if len(shape) != 1:
        raise BarfemError(f"damage: strengths of shape {shape}, not (places,)")

    def everywhere(value: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(value, float), shape)

    tensile, yield_, peak, residual = (everywhere(x) for x in (tensile_MPa, yield_MPa, peak_MPa, residual_MPa))
    cyclic = np.minimum(yield_, cyclic_yield_estimate(tensile) if cyclic_yield_MPa is None else cyclic_yield_MPa)
    relaxation = Relaxation(residual, strength.torsion_share, yield_, cyclic)
    lines = DamageLines(
        at_1_MPa=everywhere(strength.at_1_cycle_MPa),
        at_1e3_MPa=everywhere(strength.at_1e3_cycles_MPa),
        at_1e6_MPa=everywhere(strength.at_1e6_cycles_MPa),
        has_knee=np.broadcast_to(np.asarray(strength.has_knee, bool), shape),
        tensile_MPa=tensile,
        yield_MPa=yield_,
        residual_MPa=relaxation.left(
            max_von_mises_MPa=peak, amplitude_MPa=peak if amplitude_MPa is None else everywhere(amplitude_MPa)
        ),
        peak_MPa=peak,
        sites=replace(
            strength.sites,
            below_tension_MPa=surviving_tension(
                residual_MPa=strength.sites.below_tension_MPa, max_von_mises_MPa=peak, yield_MPa=yield_
            ),
        ),
        below_limit=below_limit,
        rule=rule,
        scatter=strength.scatter,
    )
    for name in ("at_1_MPa", "at_1e3_MPa", "at_1e6_MPa", "tensile_MPa", "yield_MPa"):
        if not np.all(np.isfinite(getattr(lines, name)) & (getattr(lines, name) > 0.0)):
            raise BarfemError(f"damage: {name} is not a positive finite number everywhere")
    if not (np.all(lines.at_1_MPa > lines.at_1e3_MPa) and np.all(lines.at_1e3_MPa > lines.at_1e6_MPa)):
        raise BarfemError("damage: a stress-life line does not fall from 1 to 1e3 to 1e6 cycles")
    if not (np.all(np.isfinite(peak)) and np.all(np.isfinite(residual))):
        raise BarfemError("damage: the peak or the residual stress is not a finite number everywhere")
    return lines


def equivalent_amplitude(
    lines: DamageLines, *, amplitude_MPa: ArrayLike, mean_MPa: ArrayLike, strength_share: float = 1.0
) -> Array:
    """Reversed amplitude [MPa] of the same harm; arguments broadcast with (places,).

    `strength_share`: for bars with that share of the median strength.

    Infinity where load mean and residual stress reach the tensile strength, or the
    strength at which the rule ends.
    """
    amplitude, mean = np.asarray(amplitude_MPa, float), np.asarray(mean_MPa, float)
    found = harm(
        lines.sites,
        lines.rule,
        amplitude_MPa=amplitude,
        mean_MPa=mean,
        residual_MPa=lines.residual_MPa,
        tensile_MPa=lines.tensile_MPa,
        yield_MPa=lines.yield_MPa,
        strength_share=strength_share,
    )
    found = np.where((amplitude > 0.0) | ~np.isfinite(found), found, 0.0)
    return np.where(np.maximum(mean + lines.residual_MPa, 0.0) >= lines.tensile_MPa, np.inf, found)


def damage_per_cycle(lines: DamageLines, equivalent_MPa: ArrayLike, *, ever_above_limit: ArrayLike = True) -> Array:
    """1 / N of reversed amplitudes [MPa] (broadcast with (places,)); infinity for an infinite amplitude.

    Down to the strength at a million cycles it is one over the life of the stress-life line. Below, the line goes on
    as `below_limit` says where there is a knee, and at its own slope where there is none.

    Parameters
    ----------
    ever_above_limit
        Where false (no cycle of the duty lies above `DamageLines.limit_MPa`), there is no damage.
    """
    s = np.maximum(np.asarray(equivalent_MPa, float), _TINY)
    log_s = np.log(s)
    s1, s3, s6 = np.log(lines.at_1_MPa), np.log(lines.at_1e3_MPa), np.log(lines.at_1e6_MPa)
    k_low, k = _LN_1E3 / (s1 - s3), _LN_1E3 / (s3 - s6)
    k_beyond = np.where(lines.has_knee & (lines.below_limit == "haibach"), 2.0 * k - 1.0, k)
    log_damage = np.where(log_s < s6, k_beyond, k) * (log_s - s6) - _LN_1E6
    high = log_s > s3
    if np.any(high):
        log_damage = np.where(high, k_low * (log_s - s3) - _LN_1E3, log_damage)
    damage = np.exp(log_damage)
    silent = ~np.asarray(ever_above_limit, bool)
    if lines.below_limit == "original":
        damage = np.where((log_s <= s6) & lines.has_knee, 0.0, damage)
    return np.where(silent, 0.0, damage) if np.any(silent) else damage


def runout_words(*, has_knee: bool) -> str:
    """Why nothing is claimed of a duty that runs out."""
    if has_knee:
        return "no cycle lies above the strength at 1e7 cycles: nothing more is claimed"
    return "no cycle lies above the strength at 1e9 cycles: nothing more is claimed; there is no endurance limit"


def static_status(lines: DamageLines, largest_equivalent_MPa: Array) -> NDArray[np.int8]:
    """`LifeStatus` of each place (places,) as far as it forbids a life; STANDS elsewhere."""
    sooner = lines.rule.criterion.limit not in (None, "tensile_MPa")
    return np.select(
        [
            lines.peak_MPa > lines.yield_MPa,
            ~np.isfinite(largest_equivalent_MPa),
            largest_equivalent_MPa >= lines.tensile_MPa * (1.0 - ROUNDING),
        ],
        [
            LifeStatus.ABOVE_YIELD,
            LifeStatus.MEAN_AT_LIMIT if sooner else LifeStatus.MEAN_AT_TENSILE,
            LifeStatus.AMPLITUDE_AT_TENSILE,
        ],
        default=LifeStatus.STANDS,
    ).astype(np.int8)


def checked_critical_sum(critical_sum: float) -> float:
    """`critical_sum` if it can be one; InputError otherwise."""
    if not np.isfinite(critical_sum) or critical_sum <= 0.0:
        raise InputError(
            f"a critical damage sum of {critical_sum} is not possible.", expected=f"above 0, such as {CRITICAL_SUM}."
        )
    return float(critical_sum)


def checked_survivals(
    survivals: Sequence[float], scatter: Scatter | None
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """(survivals, the share of the median strength that each leaves); InputError for what is no share of bars."""
    if not len(survivals):
        raise InputError("no survival is asked for.", expected="shares of bars, such as 0.5 and 0.9.")
    return tuple(survivals), tuple(strength_share(survival, scatter) for survival in survivals)
