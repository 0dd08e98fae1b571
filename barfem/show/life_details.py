"""Life in more than one number: survivals, blocks of the duty, yielding, peening, other criteria, the test to make."""

from __future__ import annotations

import math

from rich.table import Table

from barfem.check.lives import DutyLife
from barfem.check.local_yielding import yielding_words
from barfem.check.plan import plan_of, plan_words
from barfem.check.result import CheckResult, SettingResult
from barfem.show.console import plain_table
from barfem.show.numbers import life, round_down, significant, whole

__all__ = ["blocks", "lasting", "paragraphs", "planes", "shortest_duty", "survivals"]

Titled = tuple[str, Table, str]


def paragraphs(result: CheckResult) -> list[str]:
    """What else there is to say of the governing hole setting's life, in full sentences."""
    setting = result.governing_for_life
    fatigue = setting.fatigue
    lines = []
    if fatigue.mean_stress_rule != "goodman":
        lines.append(
            f"Lives and safety factors at the target are by {fatigue.mean_stress_rule}; the safety factor against the "
            "endurance limit stays Goodman's."
        )
    if fatigue.peening_holds_to_MPa is not None:
        holds = (
            f"{whole(fatigue.peening_holds_to_MPa)} MPa of load (von Mises), where load and residual stress together "
            "reach the cyclic yield"
        )
        lines.append(
            f"Peening earns nothing at this place: its residual stress relaxes above {holds}."
            if fatigue.peening_lost
            else f"Peening counts at this place: its residual stress holds up to {holds}."
        )
    local = fatigue.strain_life
    if local is not None:
        how = yielding_words(fatigue)
        lines.append(
            f"{how[0].upper()}{how[1:]} ({whole(local.elastic_max_MPa)} MPa elastic at most against a cyclic yield of "
            f"{whole(local.cyclic_yield_MPa)} MPa). Strain-life by Neuber's rule and Smith, Watson and Topper: strain "
            f"amplitude {local.strain_amplitude:.2%}, stress amplitude {whole(local.stress_amplitude_MPa)} MPa, "
            f"{life(local.life_at_survival_cycles)} to {life(local.life_cycles)} cycles; `passes` asks this of the "
            f"target too. Constants: {local.source}. Cyclic curve: {local.curve_source}."
        )
    words = _first_travels(result)
    if words:
        lines.append(words)
    if result.target_cycles_judged and (fatigue.runout or fatigue.life_cycles is not None):
        lines.append(plan_words(plan_of(result)))
    return lines


def _first_travels(result: CheckResult) -> str:
    """The worst first travel, where it is not elastic."""
    order = ("elastic", "local", "set")
    known = [setting for setting in result.settings if setting.first_travel is not None]
    if not known:
        return ""

    def rank(setting: SettingResult) -> tuple[int, float]:
        first = setting.first_travel
        return (0, 0.0) if first is None else (order.index(first.kind), first.set_mm or 0.0)

    worst = max(known, key=rank)
    first = worst.first_travel
    if first is None or first.kind == "elastic":
        return ""
    return f"First full travel, hole {worst.holes}: {first.words}."


def survivals(result: CheckResult) -> Titled | None:
    """Lives at 50, 90 and 99 % survival of every hole setting."""
    shares = next(([item.survival for item in s.fatigue.lives] for s in result.settings if s.fatigue.lives), None)
    if shares is None:
        return None
    several = len({setting.case for setting in result.settings}) > 1
    heads = [f"{100 * share:g} %\nsurvival" for share in shares]
    table = plain_table("Hole", *(["Case"] if several else []), *heads, first_left=2 if several else 1)
    for setting in result.settings:
        cells = ["beyond the knee" if item.runout else life(item.life) for item in setting.fatigue.lives]
        table.add_row(_hole(setting), *([setting.case] if several else []), *(cells or ["-"] * len(shares)))
    return "Life at several survivals, cycles of full travel", table, "50 % is the median. Rounded down."


def shortest_duty(result: CheckResult) -> tuple[SettingResult, DutyLife] | None:
    """The hole setting with the shortest life in repeats of the blocks, and that life; None without blocks."""
    known = [(setting, setting.fatigue.duty) for setting in result.settings if setting.fatigue.duty is not None]

    def order(item: tuple[SettingResult, DutyLife]) -> float:
        duty = item[1]
        if duty.life_at_survival_repeats is None:
            return math.inf if duty.runout_at_survival else -1.0
        return duty.life_at_survival_repeats

    return min(known, key=order, default=None)


def lasting(duty: DutyLife, survival: float) -> str:
    """Life in repeats, in words."""
    share = f"{100 * survival:g} %"
    if duty.runout_at_survival:
        return f"no end at {share} survival: no cycle lies above the endurance limit"
    if duty.life_at_survival_repeats is None:
        return f"none ({duty.reason})"
    median = "beyond the knee" if duty.runout else significant(duty.life_repeats, 2)
    return f"{significant(round_down(duty.life_at_survival_repeats), 2)} ({share} survival) to {median} (median)"


def blocks(result: CheckResult) -> Titled | None:
    """The duty's blocks at the hole setting with the shortest life in repeats."""
    found = shortest_duty(result)
    if found is None:
        return None
    setting, duty = found
    table = plain_table(
        "Block", "Travel\nmm", "Ratio", "Cycles", "Ampl.\nMPa", "Mean\nMPa", "Damage of\none repeat", "Share\n%"
    )
    total = duty.damage_per_repeat or 0.0
    for number, block in enumerate(duty.blocks, start=1):
        damage = block.damage
        table.add_row(
            str(number),
            significant(block.pickup_mm),
            f"{block.ratio:g}",
            whole(block.cycles),
            whole(block.amplitude_MPa),
            whole(block.mean_MPa),
            "-" if damage is None else f"{damage:.2g}",
            "-" if damage is None or total <= 0.0 else f"{100.0 * damage / total:.0f}",
        )
    remark = (
        f"Decided at {duty.where}. Life in repeats: {lasting(duty, result.survival)}; target {duty.target_repeats:g}. "
        f"Damage at {100 * result.survival:g} % survival, failure at a sum of {duty.critical_sum:g}."
    )
    return f"The duty's blocks, hole {setting.holes}, {setting.case}", table, remark


def planes(result: CheckResult) -> Titled | None:
    """Where and how long by other criteria, for every hole setting."""
    if not any(setting.critical_planes for setting in result.settings):
        return None
    table = plain_table(
        "Hole", "Criterion", "Where", "Reversed\nampl. MPa", "Plane\ndeg", "Median life\ncycles", first_left=3
    )
    for setting in result.settings:
        for item in setting.critical_planes:
            table.add_row(
                _hole(setting),
                item.criterion,
                item.where,
                whole(item.equivalent_amplitude_MPa),
                f"{item.angle_deg:.0f}/{item.tilt_deg:.0f}",
                "beyond the knee" if item.runout else life(item.life_cycles),
            )
    remark = (
        "Over rest, both ends of the cycle, and either wheel alone. Plane: its normal, from the bar's axis towards its "
        "circumference / from the surface's normal."
    )
    return "By other criteria", table, remark


def _hole(setting: SettingResult) -> str:
    return setting.left if setting.left == setting.right else f"{setting.left}/{setting.right}"
