"""Of the numbers of many bars: who misses what, who breaks, and how left and right differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.check.verdict import targets_met
from barfem.model.bar import Bar
from barfem.model.load_case import CASES
from barfem.study.evaluation import Evaluation
from barfem.study.tolerance_result import Mismatch
from barfem.study.tolerance_summary import Chance, chance_of, mean_chance, spread_of
from barfem.study.tolerance_work import Columns, level_mm

__all__ = ["chance_by", "drawn_numbers", "mismatch_of", "missed_by", "numbers_of"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


def numbers_of(columns: Columns, name: str) -> Array:
    """Numbers (rows, settings); of lives, infinity beyond the knee and zero where none can be stated."""
    values = columns.numbers[name]
    if name != "life_at_survival_cycles":
        return values
    solved = np.isfinite(columns.numbers["rate_N_per_mm"])
    stated = np.where(columns.numbers["runout_at_survival"] == 1.0, np.inf, np.nan_to_num(values, nan=0.0))
    return np.where(solved, stated, np.nan)


def drawn_numbers(drawn: Evaluation, name: str) -> Array:
    """The same (settings,) of the bar as drawn."""
    return drawn.ordered_life if name == "life_at_survival_cycles" else np.asarray(getattr(drawn, name))


def missed_by(
    bar: Bar,
    columns: Columns,
    drawn: Evaluation,
    limits: tuple[float, float, bool],
    off: Mapping[str, Array] | None = None,
) -> dict[str, Array]:
    """Who misses what, (rows, settings); a bar that could not be solved misses everything. "breaking" is a chance.

    `off` (settings,) is added to the numbers of these names first, to that of a life as its log10, and taken off how
    far a rate is from the drawn one: what becomes of the chances where a fit is wrong by so much.
    """
    off, numbers = off or {}, columns.numbers
    rate = numbers["rate_N_per_mm"]
    solved = np.isfinite(rate)
    given = np.where(drawn.rate_N_per_mm == 0.0, np.nan, drawn.rate_N_per_mm)  # no band stands about a rate of none
    wider = off.get("rate_N_per_mm", 0.0) / given
    margin = numbers["yield_margin"] + off.get("yield_margin", 0.0)
    longer = 10.0 ** off.get("life_at_survival_cycles", np.zeros(1))
    with np.errstate(invalid="ignore"):
        away = rate / given - 1.0
        of_rate = (away < limits[0] - wider) | (away > limits[1] + wider) | ~solved
        of_margin = ~(margin >= bar.targets.yield_margin)
        life = numbers_of(columns, "life_at_survival_cycles") * longer
        of_life = ~(life >= (bar.duty.target_cycles if bar.duty.target_cycles_given else 0.0))
        short = numbers["repeats_at_survival"] * longer < (bar.duty.repeats if bar.duty.blocks else 0.0)
    met = targets_met(
        bar,
        yield_margin=margin,
        life_at_survival_cycles=numbers["life_at_survival_cycles"] * longer,
        runout=numbers["runout_at_survival"] == 1.0,
        goodman_safety_factor=numbers["goodman_safety_factor"],
    )
    fails = ~(np.logical_and.reduce(met) & (numbers["passes"] == 1.0)) | short
    flags = {
        "rate": of_rate,
        "yield_margin": of_margin,
        "life": of_life | short | ~solved,
        "any": of_rate | fails | ~solved,
    }
    stronger = off.get("target_share_at_survival", 0.0)
    return {name: missed.astype(np.float32) for name, missed in flags.items()} | {
        "breaking": _breaking(bar, numbers, solved, stronger)
    }


def _breaking(bar: Bar, numbers: Mapping[str, Array], solved: Flags, stronger: Array | float) -> Array:
    """Chance (rows, settings) that this bar breaks before the target cycles.

    Strength at the travel as it is scatters as the lives at survival do, lognormal: bars at survival have
    `target_share_at_survival` times the strength that they need, and so weak or weaker are one less `survival` of all.
    (A safety factor would count peening as lost that only more travel takes.)
    A bar of which no life can be stated (above yield, at the tensile strength) counts as one that breaks.
    """
    from scipy.special import ndtr

    from barfem.strength.fatigue.assess import LifeStatus
    from barfem.strength.fatigue.factors import log10_strength_deviation, strength_share

    scatter = bar.steel.scatter
    share = (numbers["target_share_at_survival"] + stronger) / strength_share(bar.targets.survival, scatter)
    with np.errstate(divide="ignore", invalid="ignore"):
        chance = ndtr(-np.log10(share) / log10_strength_deviation(scatter))
    chance = np.where(np.isnan(share), 0.0, chance)  # no load
    return np.where(solved & (numbers["status"] < LifeStatus.AMPLITUDE_AT_TENSILE), chance, 1.0)


def chance_by(values: Array, name: str, ends: Sequence[Array] = ()) -> Chance:
    """Of flags or chances (n,); `ends` are the same with a fit's error one way and the other; it spans all."""

    def one(flags: Array) -> Chance:
        return mean_chance(flags) if name == "breaking" else chance_of(flags > 0.5)

    found, beside = one(values), [one(each) for each in ends]
    low = min(each.interval[0] for each in (found, *beside))
    high = max(each.interval[1] for each in (found, *beside))
    return Chance(found.misses, found.of, found.share, (low, high))


def mismatch_of(columns: Columns, drawn: Evaluation, j: int) -> Mismatch:
    """Left against right of hole setting j."""
    level = columns.numbers["level_mm"][:, j] - float(level_mm(drawn.bar, drawn.settings)[j])
    right, left = (columns.numbers[f"force_{side}_N"][:, j] for side in ("right", "left"))
    in_roll = CASES[drawn.cases[j]].exchanges
    now = np.array([*drawn.side_force_N[j]]) if in_roll else np.full(2, np.nan)
    none = np.full(len(level), np.nan)
    return Mismatch(
        level_mm=spread_of(level, 0.0),
        preload_N=spread_of(0.5 * level * columns.numbers["rate_N_per_mm"][:, j] if in_roll else none, 0.0),
        force_percent=spread_of(_percent(right, left) if in_roll else none, float(_percent(now[:1], now[1:])[0])),
    )


def _percent(right: Array, left: Array) -> Array:
    one, other = np.abs(right), np.abs(left)
    with np.errstate(invalid="ignore", divide="ignore"):
        return 200.0 * (other - one) / (other + one)
