"""Regions in the order of their lives, and what the steel says to the worst cycle of each."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.check.endurance import (
    assessed,
    joined_stresses,
    mean_stress_of,
    skin_of,
    strength_and_stresses,
    strength_and_stresses_of_all,
)
from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.skin import Skin
from barfem.strength.cycle import Cycle
from barfem.strength.fatigue.assess import FatigueAssessment, assess, equivalent_and_factor, lives_at
from barfem.strength.fatigue.cycle_load import loaded
from barfem.strength.fatigue.strength import FatigueStrength, joined
from barfem.strength.places import KINDS
from barfem.strength.recover import Recovery

__all__ = ["Ranking", "RegionLife", "judge", "judge_each", "rank_each", "rank_regions"]

Array = NDArray[np.float64]

NEAR = 1e-3
"""A share that the load factor of bars at survival may be off: a hint of where to look."""


@frozen
class RegionLife:
    """One region's worst cycle in one hole setting, and what the steel says to it with some surface."""

    region: int
    skin: Skin
    strength: FatigueStrength
    residual_MPa: float
    assessment: FatigueAssessment
    lives: tuple[tuple[float, bool], ...] = ()
    """Life and whether it is beyond what is claimed, of bars with the shares of strength that were asked for."""
    exponent: float = float("nan")
    """k of life against strength where bars are just so weak that they last the target."""


@frozen
class Ranking:
    """Regions of each hole setting (c), the shortest life first: `order` (c, r) holds their numbers.

    `assessment` is that of each region's worst cycle, arrays (c, r); NaN where a region is not checked. Its safety
    factor is the least of the region's points: that of the one which the growing load breaks first.
    """

    order: NDArray[np.intp]
    life_at_survival_cycles: Array  # (c, r): zero where no life can be stated, infinity beyond the knee
    assessment: FatigueAssessment
    goodman_safety_factor: Array  # (c, r): the least of the region's points; NaN where one has no endurance limit
    first_elsewhere: NDArray[np.bool_]  # (c, r): the safety factor is not that of the worst cycle's point, by `MORE`
    load_factor_at_survival: Array | None = None  # (c,): as `rank_each` finds it where asked

    @cached_property
    def least_factor(self) -> tuple[Array, NDArray[np.intp]]:
        """(c,) the least safety factor at the target of all regions, and which has it; NaN where none is loaded."""
        return self._least(self.assessment.safety_factor_at_target)

    @cached_property
    def least_share(self) -> Array:
        """(c,) the least strength of bars at survival over what they feel, of all regions; NaN where none is loaded."""
        shares = self.assessment.target_share_at_survival
        least = np.min(shares, axis=1, initial=np.inf, where=np.isfinite(shares))
        return np.where(np.isfinite(least), least, np.nan)

    @cached_property
    def least_goodman(self) -> tuple[Array, NDArray[np.intp]]:
        """(c,) the least Goodman safety factor of all regions, and which has it.

        NaN, of the region that is to blame, where one that is loaded has no endurance limit, and where none is loaded.
        """
        return self._least(self.goodman_safety_factor)

    def _least(self, factors: Array) -> tuple[Array, NDArray[np.intp]]:
        """The least (c,), and which region has it: of regions alike the first in order."""
        loaded = np.isfinite(self.assessment.safety_factor_at_target)
        factor = np.where(loaded, np.where(np.isfinite(factors), factors, 0.0), np.inf)
        in_order = np.take_along_axis(factor, self.order, axis=1)
        least = in_order.min(axis=1)
        first = (in_order <= least[:, None] * (1.0 + ALIKE)).argmax(axis=1)
        region = self.order[np.arange(len(factor)), first]
        return np.where((least > 0.0) & np.isfinite(least), least, np.nan), region


def _ordered_life(found: FatigueAssessment) -> Array:
    """Life at survival for ordering: infinity beyond the knee, zero where there is none for another reason."""
    life = np.where(np.isfinite(found.life_at_survival_cycles), found.life_at_survival_cycles, 0.0)
    return np.where(found.runout_at_survival, np.inf, life)


MORE = 0.01
"""A share of a safety factor: points of a region that differ by less are one place to whoever reads it."""

ALIKE = 1e-5
"""Lives and safety factors as near as this are equal: what `recover.SAME` of a stress makes of a life."""


def _ranks(values: Array) -> NDArray[np.intp]:
    """(c, r) rank of each value in its row, the least first; one within `ALIKE` of the next lower shares its rank."""
    order = np.argsort(values, axis=1, kind="stable")
    ascending = np.take_along_axis(values, order, axis=1)
    apart = ascending[:, 1:] > ascending[:, :-1] * (1.0 + ALIKE)
    rank = np.concatenate([np.zeros((len(values), 1), np.intp), np.cumsum(apart, axis=1)], axis=1)
    out = np.empty_like(rank)
    np.put_along_axis(out, order, rank, axis=1)
    return out


def rank_regions(bar: Bar, found: Recovery, *, at_survival: bool = False) -> Ranking:
    """Order the checked regions of every hole setting by life at survival, then by safety factor at the target."""
    return rank_each([(bar, found)], at_survival=at_survival)[0]


def rank_each(recovered: Sequence[tuple[Bar, Recovery]], *, at_survival: bool = False) -> list[Ranking]:
    """`rank_regions` of many bars: what is asked of a bar's places is asked of all bars' at once.

    With `at_survival` also by how much the load may grow for bars at survival to last just the target, the least of
    all places, to `NEAR`: each relaxes what peening left as the load grows, and another place may come to be the worst.
    """
    wanted: dict[tuple[Any, ...], list[_Asked]] = {}
    for number, (bar, found) in enumerate(recovered):
        at = np.nonzero(np.broadcast_to(found.checked, found.peak_MPa.shape))
        first, goodman = (np.nonzero(found.apart(which) & found.checked) for which in ("first", "goodman"))
        others = ((found.first_at, first), (found.goodman_at, goodman))
        cycles = [found.cycle_at(at), *(cycle_at(places) for cycle_at, places in others if len(places[0]))]
        strength, stresses = strength_and_stresses_of_all(bar, Cycle.joined(cycles))
        kind = (strength.scatter, mean_stress_of(bar), bar.duty.target_cycles, bar.targets.survival)
        wanted.setdefault(kind, []).append(_Asked(number, at, first, goodman, strength, stresses))
    found_of: dict[int, Ranking] = {}
    for (_, rule, target_cycles, survival), asked in wanted.items():
        strength, stresses = (
            joined([each.strength for each in asked]),
            joined_stresses([each.stresses for each in asked]),
        )
        assessed = vars(assess(strength, **stresses, target_cycles=target_cycles, survival=survival, rule=rule))
        factors = None
        if at_survival:
            factors = equivalent_and_factor(
                strength,
                strength.strength_at(target_cycles),
                rule=rule,
                within=NEAR,
                strength_share=strength.survival_factor(survival),
                **stresses,
            )[1]
        end = 0
        for each in asked:
            rows, end = slice(end, end + each.count), end + each.count
            of_bar = {name: values[rows] for name, values in assessed.items()}
            of_survival = None if factors is None else factors[rows]
            found_of[each.bar] = _ranking(recovered[each.bar][1], each, of_bar, of_survival)
    return [found_of[number] for number in range(len(recovered))]


@frozen
class _Asked:
    """Places (hole setting, region) of a bar, by its number, and what they are to bear: the worst cycle of each
    `at`, then those points that break `first`, and those with the least `goodman` factor, where they are others.
    """

    bar: int
    at: tuple[Any, ...]
    first: tuple[Any, ...]
    goodman: tuple[Any, ...]
    strength: FatigueStrength
    stresses: dict[str, Any]

    @property
    def count(self) -> int:
        return sum(len(places[0]) for places in (self.at, self.first, self.goodman))

    def laid_out(self, values: NDArray[Any], shape: tuple[int, ...]) -> NDArray[Any]:
        """Values of the worst cycles as (c, r): nothing where a region is not checked."""
        out = np.full(shape, np.nan if values.dtype.kind == "f" else 0, values.dtype)
        out[self.at] = values[: len(self.at[0])]
        return out


def _ranking(found: Recovery, asked: _Asked, values: dict[str, Any], at_survival: Array | None) -> Ranking:
    shape, end = found.peak_MPa.shape, len(asked.at[0]) + len(asked.first[0])
    of_first, of_goodman = slice(len(asked.at[0]), end), slice(end, None)
    assessed = FatigueAssessment(**{name: asked.laid_out(each, shape) for name, each in values.items()})
    # Of the points of a region that which the growing load breaks first has the safety factor.
    least = assessed.safety_factor_at_target
    of_worst = least.copy()
    least[asked.first] = np.fmin(least[asked.first], values["safety_factor_at_target"][of_first])
    safe = assessed.safety_factor_at_target
    factor = np.where(np.isfinite(safe), safe, np.inf)
    life = np.where(found.checked, _ordered_life(assessed), np.inf)
    kinds = np.array([KINDS.index(region.kind) for region in found.regions])
    # Alike, the more telling kind of place comes first, and of one kind the one nearest the right tip.
    order = np.lexsort((np.broadcast_to(kinds, life.shape), _ranks(factor), _ranks(life)), axis=1)
    of_bars = None
    if at_survival is not None:
        each = np.fmin.reduce(asked.laid_out(at_survival, shape), axis=1)
        of_bars = np.where(np.isfinite(each), each, np.inf)
    goodman = assessed.goodman_safety_factor.copy()
    goodman[asked.goodman] = np.minimum(goodman[asked.goodman], values["goodman_safety_factor"][of_goodman])
    return Ranking(
        order=order,
        life_at_survival_cycles=life,
        assessment=assessed,
        goodman_safety_factor=goodman,
        first_elsewhere=least < of_worst * (1.0 - MORE),
        load_factor_at_survival=of_bars,
    )


def judge(bar: Bar, found: Recovery, copy: int, region: int) -> RegionLife:
    """One region's worst cycle of one hole setting."""
    return judge_each(bar, found, [(copy, region)])[0]


def judge_each(
    bar: Bar,
    found: Recovery,
    places: Sequence[tuple[int, int]],
    *,
    strength_shares: Sequence[float] = (),
    known: FatigueAssessment | None = None,
) -> list[RegionLife]:
    """The worst cycle of each (hole setting, region).

    `known` assessments (c, r), of a `Ranking`, are not made again.
    """
    alike: dict[Skin, list[int]] = {}
    for number, (copy, region) in enumerate(places):
        surface = "bore" if found.cycle_in_bore[copy, region] else "outside"
        alike.setdefault(skin_of(bar, found.regions[region], surface), []).append(number)
    judged: dict[int, RegionLife] = {}
    for skin, members in alike.items():
        at = tuple(np.array([places[number] for number in members]).T)
        if known is None:
            strength, stresses, assessment = assessed(bar, skin, found.cycle_at(at))
        else:
            strength, stresses = strength_and_stresses(bar, skin, found.cycle_at(at))
            assessment = known.at(at)
        residual = np.broadcast_to(stresses["residual_MPa"], len(members))
        rule = mean_stress_of(bar)
        lives = lives_at(strength, strength_shares, rule=rule, **stresses)
        exponents = loaded(strength, **stresses).deciding_exponent(rule, cycles=bar.duty.target_cycles)
        for i, number in enumerate(members):
            judged[number] = RegionLife(
                region=places[number][1],
                skin=skin,
                strength=strength.at(i),
                residual_MPa=float(residual[i]),
                assessment=assessment.at(i),
                lives=tuple((float(life[i]), bool(beyond[i])) for life, beyond in lives),
                exponent=float(exponents[i]),
            )
    return [judged[number] for number in range(len(places))]
