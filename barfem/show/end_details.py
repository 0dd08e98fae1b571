"""Tables of the places that come next, for stress and for life, and of the bar's ends hole by hole."""

from __future__ import annotations

from rich.table import Table

from barfem.check.result import CheckResult, Fatigue, Place, SettingResult
from barfem.check.weak_places import HoleState, LifePlace
from barfem.show.console import plain_table
from barfem.show.numbers import life_band, ratio, whole

__all__ = ["ends", "holes", "worst_for_life", "worst_for_stress"]

Titled = tuple[str, Table, str]


def _place(where: str, surface: str) -> str:
    return where if surface in ("", "outside") else f"{where} ({surface})"


def _life(item: Fatigue | LifePlace | HoleState) -> str:
    median, survival = item.life_cycles, item.life_at_survival_cycles
    if median is not None and survival is not None:
        return life_band(survival, median)
    if survival is not None:
        return f"over {whole(float(f'{survival:.1e}'))}"
    return "past the knee" if item.runout else "none"


def worst_for_stress(result: CheckResult) -> Titled | None:
    """The places with the least yield margin at the hole setting that governs stress, and the three next."""
    setting = result.governing_for_stress
    known = [item for item in setting.places if item.yield_margin is not None]
    if not known:
        return None
    least = min(known, key=lambda item: round(item.yield_margin or 0.0, 5))
    shown: tuple[Place, ...] = (least, *setting.next_for_stress)
    table = plain_table("Place", "Von Mises\nMPa", "Yield\nMPa", "Yield\nmargin", "Station\nmm")
    for item in shown:
        table.add_row(
            _place(item.where, item.surface),
            whole(item.von_mises_MPa),
            whole(item.yield_strength_MPa),
            ratio(item.yield_margin, result.yield_margin_target),
            f"{item.station_mm:.0f}",
        )
    return f"The worst places at hole {setting.holes}, {setting.case}, by yield margin", table, ""


def worst_for_life(result: CheckResult) -> Titled | None:
    """The place with the shortest life at the hole setting that governs life, and the three next."""
    setting = result.governing_for_life
    if not setting.next_for_life:
        return None
    table = plain_table("Place", "Ampl.\nMPa", "Safety\nfactor", "Life, cycles", "Station\nmm")
    shown: tuple[Fatigue | LifePlace, ...] = (setting.fatigue, *setting.next_for_life)
    for item in shown:
        table.add_row(
            _place(item.where, item.surface),
            whole(item.amplitude_MPa),
            ratio(item.safety_factor_at_target, 1.0),
            _life(item),
            f"{item.station_mm:.0f}",
        )
    remark = (
        f"Life at {100 * result.survival:g} % survival to median; amplitudes with concentration and contact. A place "
        "and its mirror image that are stressed alike are named once."
    )
    return f"The worst places at hole {setting.holes}, {setting.case}, by life", table, remark


def ends(result: CheckResult) -> Titled | None:
    """The weakest place of the bar's ends in each hole setting."""
    shown = [setting for setting in result.settings if setting.end is not None and setting.end.for_life is not None]
    if not shown:
        return None
    several = len({setting.case for setting in result.settings}) > 1
    table = plain_table(
        "Hole",
        *(["Case"] if several else []),
        "Weakest place of the ends",
        "Yield\nmargin",
        "Safety\nfactor",
        "Life, cycles",
        first_left=3 if several else 2,
    )
    for setting in shown:
        end = setting.end
        if end is None or end.for_life is None:
            continue
        margin = None if end.for_stress is None else end.for_stress.yield_margin
        table.add_row(
            _name(setting),
            *([setting.case] if several else []),
            _place(end.for_life.where, end.for_life.surface),
            ratio(margin, result.yield_margin_target),
            ratio(end.for_life.safety_factor_at_target, 1.0),
            _life(end.for_life),
        )
    remark = (
        "Holes, flats and transitions. The place is that with the shortest life; the yield margin is the least of all."
    )
    return "The ends of the bar", table, remark


def holes(result: CheckResult) -> Titled | None:
    """Each hole of the ends, in use or not, at the hole setting whose ends are weakest in fatigue."""
    known = [setting for setting in result.settings if setting.end is not None and setting.end.for_life is not None]
    if not known:
        return None
    setting = min(known, key=_end_factor)
    if setting.end is None:
        return None
    table = plain_table(
        "Hole", "In\nuse", "Net\nMPa", "Yield\nmargin", "Ampl.\nMPa", "Safety\nfactor", "Bolt\nMPa", "Edge,\ndiam."
    )
    for hole in setting.end.holes:
        table.add_row(
            f"{hole.side} {hole.name}",
            "yes" if hole.in_use else "no",
            *(["not", "checked", "-", "-"] if not hole.checked else _numbers(hole, result)),
            "-" if hole.bearing_MPa is None else whole(hole.bearing_MPa),
            "-" if hole.edge_distance is None else f"{hole.edge_distance:.1f}",
        )
    remark = (
        "Net: von Mises stress of the net section. Amplitude: at the worse of net section and edge, concentration "
        "included. Bolt: link force over diameter times depth. Edge: hole's middle to the cut end."
    )
    return f"Holes at hole {setting.holes}, {setting.case}", table, remark


def _numbers(hole: HoleState, result: CheckResult) -> list[str]:
    return [
        "-" if hole.von_mises_MPa is None else whole(hole.von_mises_MPa),
        ratio(hole.yield_margin, result.yield_margin_target),
        "-" if hole.amplitude_MPa is None else whole(hole.amplitude_MPa),
        ratio(hole.safety_factor_at_target, 1.0),
    ]


def _name(setting: SettingResult) -> str:
    return setting.left if setting.left == setting.right else f"{setting.left}/{setting.right}"


def _end_factor(setting: SettingResult) -> float:
    place = None if setting.end is None else setting.end.for_life
    return float("inf") if place is None or place.safety_factor_at_target is None else place.safety_factor_at_target
