"""Measured rates of a bar against those computed of its measured geometry, and what may explain a difference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.solve.beam import all_settings, solve_bars
from barfem.solve.solid.nearby import bends_near
from barfem.study.bands import rate_band
from barfem.vendor.held_end import right_end_rate
from barfem.vendor.inspect_judge import JudgedNumber
from barfem.vendor.inspect_reading import Reading

__all__ = ["RateJudged", "judge_rates"]

_Rates = Mapping[tuple[int, str], float]


@frozen
class RateJudged:
    """One measured rate: judged, what may explain it where it is outside, the rate itself [N/mm]."""

    judged: JudgedNumber
    explained: str
    measured: float


def judge_rates(bar: Bar, bars: Sequence[tuple[Sequence[Reading], Bar | None]]) -> list[list[RateJudged]]:
    """Of each bar's readings of rates, and of the bar as measured, all else as drawn (None: there can be no such bar).

    Preload is left out: on a bench the links are set to the bar. Both ends of a roll rate move as far.
    """
    low, high, given = rate_band(bar)
    asked = [(i, readings, made) for i, (readings, made) in enumerate(bars) if made is not None and readings]
    on_bench = [
        replace(made, right_link=bar.right_link, left_link=bar.left_link, travel=bar.travel.alike)
        for _, _, made in asked
    ]
    settings = all_settings(bar, cases=("roll", "one-wheel"))
    with bends_near(bar):
        solutions = list(solve_bars([(each, settings) for each in on_bench]))
    names = {hole.name: j for j, hole in enumerate(bar.left.holes)}
    out: list[list[RateJudged]] = [[] for _ in bars]
    for (i, readings, _), solution in zip(asked, solutions, strict=True):
        found, at_rest = (
            {(setting.left, setting.case): float(rate) for setting, rate in zip(settings, rates, strict=True)}
            for rates in (solution.rate_N_per_mm.tolist(), solution.initial.rate_N_per_mm.tolist())
        )
        for reading in readings:
            case = "roll" if reading.case == "roll" else "one-wheel"
            hole = reading.place.removeprefix("hole ")
            computed, value = found[names[hole], case], reading.value or 0.0
            inside = low <= value / computed - 1.0 <= high
            band = "[tolerances] rate_band" if given else "default band"
            one = JudgedNumber(
                f"rate, {reading.place}, {reading.case}",
                value,
                "N/mm",
                computed * (1 + low),
                computed * (1 + high),
                f"{band} about {computed:.4g} of the bar as received",
                "decide",
                inside,
            )
            others = {
                f"hole {name}": found[j, case] for name, j in names.items() if name != hole and (j, case) in found
            }
            swapped = found.get((names[hole], "one-wheel" if case == "roll" else "roll"))
            other = None if reading.case == "roll" else _other_end(found, at_rest, names[hole])
            out[i].append(RateJudged(one, "" if inside else _explained(value, computed, others, other, swapped), value))
    return out


def _other_end(found: _Rates, at_rest: _Rates, hole: int) -> float | None:
    """Rate of the right end with the left one held; None where it is that of the left.

    Told by rates at rest: those of their travels differ by more than the ends of one bar do, for one end alone goes
    farther, and to one side.
    """
    left = at_rest[hole, "one-wheel"]
    right = right_end_rate(at_rest.get((hole, "roll")), left)
    return None if right is None else right / left * found[hole, "one-wheel"]


def _explained(
    value: float, computed: float, others: Mapping[str, float], other_end: float | None, swapped: float | None
) -> str:
    """What would explain a measured rate that is not the computed one."""
    ratio = value / computed
    causes = []
    of_other_case = swapped is not None and abs(value / swapped - 1.0) < 0.5 * abs(ratio - 1.0)
    if 1.8 < ratio < 2.2 or 0.45 < ratio < 0.55:
        causes.append("a factor near 2: the other case (one_end_held is about half of roll)?")
    elif of_other_case and not 0.8 < ratio < 1.25:
        causes.append(f"the other case would be {swapped:.4g}: is it one_end_held or roll?")
    near = [name for name, rate in others.items() if abs(value / rate - 1.0) < 0.03]
    if near:
        causes.append(f"it is the rate of {' or '.join(near)}: another hole?")
    if other_end is not None:
        causes.append(
            f"computed with the right end held and the left one moved; the other way round it is about {other_end:.3g}"
        )
    if 0.8 < ratio < 1.25:
        percent = 100.0 * (ratio**0.25 - 1.0)
        causes.append(
            f"a diameter {abs(percent):.1f} % {'larger' if percent > 0 else 'smaller'} would give it (its 4th power)"
        )
    if ratio < 1.0:
        causes.append("soft clamps or fixture, or slack in the joints")
    causes = causes or [
        "no one cause known here: section, wall, hole, case, fixture and instrument are to be looked at"
    ]
    return f"{100.0 * (ratio - 1.0):+z.0f} % against the computed: " + "; ".join(causes)
